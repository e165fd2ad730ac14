package ui

import (
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
)

// book shows both faces of one cut, opened like a book about the kerf.
type book struct {
	w     *Window
	pane  *pane
	where *words
	agree *words
	order *words
	way   *options
	panel *roll
	box   *fyne.Container
}

func newBook(w *Window) *book {
	d := w.desk
	k := &book{w: w, pane: w.newPane("book", d.BookPane()), where: newWords(body, ""), agree: newWords(body, ""), order: newWords(body, "")}
	k.way = w.options("book:way", []string{say("book.way.0"), say("book.way.1"), say("book.way.2")}, 0, func(i int) { d.SetBookWay(bench.BookWay(i)) })
	earlier := w.button("book:earlier", "earlier", say("book.earlier"), edged, func() { d.StepCut(-1) })
	later := w.button("book:later", "later", say("book.later"), edged, func() { d.StepCut(1) })
	pair := w.button("book:pair", "pairing", say("book.pair"), edged, func() { d.Show(bench.PairingScreen) })
	r, sheet := w.panel(
		headless(newWords(title, say("book.title")), k.where, newFlow(6, earlier, later)),
		captioned(say("book.way"), k.way.box),
		part(say("book.agree"), k.agree),
		part(say("book.order"), k.order),
		newFlow(6, pair), newWords(caption, say("book.how")), newWords(caption, say("diagnosis")))
	k.panel = r
	k.box = (&table{middle: k.pane, right: sheet, rightW: panelWidth(), gap: 1}).object()
	return k
}

func (k *book) object() fyne.CanvasObject { return k.box }
func (k *book) picture() *pane            { return k.pane }

func (k *book) refresh(c bench.Change) {
	if c&^(bench.PointerChanged|bench.JobsChanged|bench.SavedChanged) == 0 {
		return
	}
	d := k.w.desk
	kerf, first, second := d.BookKerf()
	k.where.set("")
	if first != "" {
		k.where.set(say("book.words", strings.ToUpper(first[:1])+first[1:], second, kerf))
	}
	cut, order, warn := d.BookWords()
	color := theme.ColorNameForeground
	if warn {
		color = theme.ColorNameWarning
	}
	k.agree.set(cut)
	k.order.setColored(order, color)
	k.way.show(int(d.BookWay()))
	k.panel.relay()
	relaid(k.box)
}
