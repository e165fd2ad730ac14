package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
)

// ledgerScreen is the running page of all moves, and beside it the state of the chain and the chosen line.
type ledgerScreen struct {
	w     *Window
	pane  *pane
	box   *fyne.Container
	title *words
	chain *words
	said  *words
	facts *words
	undo  *button
	whole *button
	item  *button
	print *button
	slip  *fyne.Container
	form  *rackForm
	panel *roll
}

func newLedgerScreen(w *Window) *ledgerScreen {
	s := &ledgerScreen{w: w, pane: w.newPane("ledger", w.desk.LedgerPane()), title: newWords(title, ""), chain: newWords(body, ""), said: newWords(body, ""), facts: newWords(body, "")}
	d := w.desk
	s.undo = w.button("ledger:undo", "undo", say("ledger.undo"), edged, func() { d.BeginDeed("undo") })
	s.whole = w.button("ledger:whole", "ledger", say("ledger.whole"), choice, d.ShowWholeLedger)
	s.item = w.button("ledger:item", "rack", say("ledger.item"), choice, d.ShowHistory)
	s.print = w.button("ledger:print", "slip", say("ledger.print"), edged, func() { d.BeginDeed("history") })
	s.slip = newColumn(18,
		newColumn(8, s.title, s.said, newFlow(6, s.whole, s.item, s.print)),
		part(say("ledger.line"), s.facts, newFlow(6, s.undo)),
		part(say("ledger.chain"), s.chain, newFlow(6, w.button("ledger:check", "check", say("ledger.check"), edged, d.CheckChain))),
		part(say("rack.cautions"), w.card("fixatives")))
	s.form = newRackForm(w)
	s.panel = w.roll(14, newColumn(18, s.form.box, s.slip))
	s.box = (&table{middle: s.pane, right: bar(0, 0, s.panel.Container), rightW: rackWidth(), gap: 1}).object()
	return s
}

func (s *ledgerScreen) object() fyne.CanvasObject { return s.box }
func (s *ledgerScreen) picture() *pane            { return s.pane }

func (s *ledgerScreen) refresh(c bench.Change) {
	if c&^(bench.PointerChanged|bench.ViewChanged|bench.JobsChanged|bench.SavedChanged) == 0 {
		return
	}
	i := s.w.desk.Ledger()
	s.title.set(i.Title)
	color := fyne.ThemeColorName(theme.ColorNameForeground)
	if i.Broken {
		color = theme.ColorNameWarning
	}
	s.chain.setColored(i.Chain, color)
	s.said.setColored(i.Said, outcome(i.Refuse))
	s.said.Hidden = i.Said == ""
	s.facts.set(lines(i.Facts))
	if i.Line == 0 {
		s.facts.set(say("ledger.noline"))
	}
	s.undo.tip = i.CanUndo
	s.undo.setOff(i.CanUndo != "" || i.Line == 0)
	s.whole.setOn(i.Whole)
	s.item.Hidden, s.print.Hidden = i.Item == "", i.Item == ""
	s.item.setOn(!i.Whole)
	form := s.w.desk.RackForm()
	s.form.show(form)
	s.slip.Hidden = form != nil
	relayDeep(s.box)
	s.panel.relay()
}
