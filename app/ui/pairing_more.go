package ui

import (
	"fyne.io/fyne/v2"

	"sectionary/app/bench"
)

// pairingMore is what the pairing offers beside landmarks.
type pairingMore struct {
	w        *Window
	fitRow   *fyne.Container
	content  *button
	outlines *button
	sag      *button
	stretch  *button
	book     *button
	how, run *words
	whole    *button
}

func newPairingMore(w *Window) *pairingMore {
	m := &pairingMore{w: w, how: newWords(caption, "")}
	m.content = w.button("pairing:content", "pairing", say("pairing.content"), edged, func() { w.desk.Do("fit.content") }).tipped(say("pairing.content.tip"))
	m.sag = w.button("pairing:sag", "pairing", say("pairing.sag"), edged, func() { w.desk.Do("fit.sag") }).tipped(say("pairing.sag.tip"))
	m.outlines = w.button("pairing:outlines", "outline", say("pairing.outlines"), choice, func() { w.desk.Do("outlines") }).tipped(say("pairing.outlines.tip"))
	m.book = w.button("pairing:book", "across", say("head.book"), edged, func() { w.desk.Do("book") }).tipped(say("head.book.tip"))
	m.stretch = w.button("pairing:stretch", "measure", say("pairing.stretch"), edged, w.measureStretch).tipped(say("pairing.stretch.tip"))
	m.whole = w.button("pairing:whole", "run", say("pairing.whole"), edged, func() { w.desk.Do("whole") }).tipped(say("pairing.whole.tip"))
	m.run = newWords(body, "")
	m.fitRow = newColumn(4, newFlow(6, m.content, m.sag, m.outlines), m.how, newFlow(6, m.whole, m.book, m.stretch), m.run)
	return m
}

func (m *pairingMore) refresh() {
	m.outlines.setOn(m.w.desk.OutlinesOnScan())
	m.run.set(m.w.desk.WholeWords())
	m.how.set("")
	m.sag.Hidden = !m.w.desk.Fitted()
	if m.w.desk.Fitted() {
		m.how.set(say("pairing.content.how"))
	}
}

// tieNote is the line below a landmark: what was picked, and whether it should be looked at again. The table says the rest.
func tieNote(x bench.TieRow) string {
	switch {
	case x.Suspect && x.Note != "":
		return x.Note + "  ·  " + say("tie.again")
	case x.Suspect:
		return say("tie.again")
	}
	return x.Note
}
