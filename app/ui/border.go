package ui

import (
	"fyne.io/fyne/v2"

	"sectionary/app/bench"
)

// borderDesk is what the border of a face needs of a bench.
type borderDesk interface {
	Border() bench.BorderInfo
	FindBorder()
	AcceptBorder()
	ClearBorder()
}

// borderPart finds the outer border of the face, and keeps it once it was looked at and mended.
type borderPart struct {
	w                   *Window
	box                 *fyne.Container
	words               *words
	find, accept, clear *button
}

func newBorderPart(w *Window) *borderPart {
	p := &borderPart{w: w, words: newWords(body, "")}
	d := w.desk
	p.find = w.button("border:find", "border", say("border.find"), edged, d.FindBorder).tipped(say("border.find.tip"))
	p.accept = w.button("border:accept", "check", say("border.accept"), primary, d.AcceptBorder)
	p.clear = w.button("border:clear", "remove", say("border.clear"), edged, d.ClearBorder)
	p.box = newColumn(8, p.words, newFlow(6, p.accept, p.find, p.clear), newWords(caption, say("border.how")))
	return p
}

func (p *borderPart) object() *fyne.Container { return p.box }

func (p *borderPart) refresh() {
	i := p.w.desk.Border()
	p.words.set(i.Words)
	p.accept.Hidden = !i.Proposed
	p.clear.Hidden = !i.Proposed && !i.Drawn
	p.find.setOff(i.Seeking)
}
