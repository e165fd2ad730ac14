package ui

import (
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
)

// rackScreen shows the shelves, and beside them one slip of paper: what is chosen, or the form that is being filled in.
type rackScreen struct {
	w     *Window
	pane  *pane
	box   *fyne.Container
	find  *field
	said  *words
	warn  *words
	title *words
	facts *words
	clock *words
	out   *fyne.Container // what came of the last search or deed
	hits  *fyne.Container
	rows  []*button
	due   *fyne.Container
	dues  []*dueRow
	none  *words
	deeds map[string]*deedRow
	slip  *fyne.Container // everything but the form
	form  *rackForm
	panel *roll
	back  *words
	fault *words
	chose string
}

// deedRow are the deeds of one group, with a heading of their own.
type deedRow struct {
	box  *fyne.Container
	flow *fyne.Container
	rows []*button
}

func newRackScreen(w *Window) *rackScreen {
	s := &rackScreen{w: w, pane: w.newPane("rack", w.desk.RackPane()), deeds: map[string]*deedRow{}}
	s.find = w.field("rack:find", "")
	s.find.SetPlaceHolder(say("rack.find.hint"))
	s.find.onEnter = func() {
		typed := s.find.Text
		s.find.SetText("")
		w.desk.FindItem(typed)
		if w.desk.RackForm() == nil {
			w.keyboardToPicture()
		}
	}
	s.said, s.warn = newWords(body, ""), newWords(strong, "").colored(theme.ColorNameWarning)
	s.title, s.facts, s.clock = newWords(title, ""), newWords(body, ""), newWords(body, "").colored(theme.ColorNameWarning)
	s.hits, s.due = newColumn(0), newColumn(6)
	s.none = newWords(body, say("rack.due.nothing")).colored(colorMuted)
	s.back, s.fault = newWords(body, ""), newWords(body, "")
	thing, donor, lab := s.group("thing"), s.group("donor"), s.group("lab")
	s.slip = newColumn(18,
		newColumn(8, s.title, s.warn, s.facts, thing.box, donor.box, newFlow(6, w.button("rack:ledger", "ledger", say("rack.ledger"), edged, w.desk.ShowHistory).tipped(say("rack.ledger.tip")))),
		part(say("rack.due"), s.clock, s.due, s.none),
		part(say("rack.lab"), s.back, s.fault, lab.box),
		part(say("rack.cautions"), w.card("fixatives"), w.card("lifting"), w.card("mould")))
	s.form = newRackForm(w)
	s.out = newColumn(4, s.said, s.hits)
	s.panel = w.roll(14, newColumn(18, s.out, s.form.box, s.slip))
	top := bar(14, 8, captioned(say("rack.find"), s.find))
	sheet := (&table{top: top, middle: bar(0, 0, s.panel.Container), gap: 1}).object()
	s.box = (&table{middle: s.pane, right: sheet, rightW: rackWidth(), gap: 1}).object()
	return s
}

// rackWidth is the width of the slip beside the rack and the ledger.
func rackWidth() float32 { return panelWidth() * 1.15 }

func (s *rackScreen) group(id string) *deedRow {
	r := &deedRow{flow: newFlow(6)}
	r.box = newColumn(6, r.flow)
	s.deeds[id] = r
	return r
}

func (s *rackScreen) object() fyne.CanvasObject { return s.box }
func (s *rackScreen) picture() *pane            { return s.pane }

// typed gives a character to the field for codes, so that a scanner or a hand finds from anywhere on the screen.
func (s *rackScreen) typed(r rune) {
	s.w.focusOn(s.find)
	s.find.TypedRune(r)
}

func (s *rackScreen) refresh(c bench.Change) {
	if c&^(bench.PointerChanged|bench.ViewChanged|bench.JobsChanged|bench.SavedChanged) == 0 {
		return
	}
	i := s.w.desk.Rack()
	s.title.set(i.Title)
	s.warn.set(i.Warn)
	s.warn.Hidden = i.Warn == ""
	s.facts.set(lines(i.Facts))
	s.clock.set(i.Clock)
	s.clock.Hidden = i.Clock == ""
	s.said.setColored(i.Said, outcome(i.Refuse))
	s.said.Hidden = i.Said == ""
	s.showHits(i.Hits)
	s.out.Hidden = i.Said == "" && len(i.Hits) == 0
	s.showDue(i.Due)
	s.back.set(i.Backup)
	s.fault.set(lines(i.Faults))
	s.fault.Hidden = len(i.Faults) == 0
	for id, row := range s.deeds {
		s.showDeeds(row, id, i.Deeds)
	}
	form := s.w.desk.RackForm()
	s.form.show(form)
	s.slip.Hidden = form != nil
	relayDeep(s.box)
	s.panel.relay()
	if key := i.Chosen + i.Said; key != s.chose {
		s.chose = key
		s.panel.scroll.ScrollToTop()
	}
}

// outcome is the colour of what came of a deed; its words tell it too.
func outcome(refused bool) fyne.ThemeColorName {
	if refused {
		return theme.ColorNameWarning
	}
	return theme.ColorNameForeground
}

func (s *rackScreen) showHits(hits []bench.RackHit) {
	s.rows = syncRows(s.hits, s.rows, len(hits), func(int) *button { return s.w.button("rack:hit", "", "", lined, nil) })
	for i, h := range hits {
		s.rows[i].tapped = func() { s.w.desk.FindItem(h.Code) }
		s.rows[i].tip = h.Words
		s.rows[i].state(fitted(h.Words, rackWidth()-2*14-20), false, false)
	}
	s.hits.Hidden = len(hits) == 0
}

// mostDue bounds the reminders in sight; what is overdue comes first.
const mostDue = 8

// dueRow is one reminder, whole, and the way to the thing it speaks of.
type dueRow struct {
	box   *fyne.Container
	words *words
	to    *button
}

func (s *rackScreen) showDue(due []bench.DueRow) {
	s.none.Hidden = len(due) > 0
	due = due[:min(len(due), mostDue)]
	for len(s.dues) < len(due) {
		r := &dueRow{words: newWords(body, ""), to: s.w.button("rack:due", "rack", "", edged, nil).tipped(say("rack.due.to"))}
		r.box = newRow(8, 0, r.words, r.to)
		s.dues = append(s.dues, r)
		s.due.Objects = append(s.due.Objects, r.box)
	}
	for i, r := range s.dues {
		r.box.Hidden = i >= len(due)
		if r.box.Hidden {
			continue
		}
		d := due[i]
		r.words.setColored(d.Words+".", outcome(d.Overdue))
		r.to.tapped = func() { s.w.desk.ChooseItem(d.Code) }
	}
}

func (s *rackScreen) showDeeds(row *deedRow, group string, all []bench.RackDeed) {
	var mine []bench.RackDeed
	for _, d := range all {
		if d.Group == group {
			mine = append(mine, d)
		}
	}
	row.rows = syncRows(row.flow, row.rows, len(mine), func(int) *button { return s.w.button("", "", "", edged, nil) })
	for i, d := range mine {
		row.rows[i].id = "deed:" + d.ID
		row.rows[i].tip = d.Why
		row.rows[i].tapped = func() { s.w.desk.BeginDeed(d.ID) }
		row.rows[i].state(d.Label, false, d.Why != "")
	}
	row.box.Hidden = len(mine) == 0
}

// lines puts sentences one below the other.
func lines(list []string) string { return strings.Join(list, "\n") }
