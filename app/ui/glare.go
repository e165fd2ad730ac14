package ui

import (
	"fyne.io/fyne/v2"

	"sectionary/app/bench"
)

// glareDesk is what freeing a picture from glare needs of a bench.
type glareDesk interface {
	Glare() bench.GlareInfo
	TakeLampFile(path string)
	TakeLampPrint(id string)
	AcceptGlare()
	DropGlare()
}

// glarePart takes a second picture with the lamp moved, and keeps or leaves what was made of both.
type glarePart struct {
	w                  *Window
	box                *fyne.Container
	words, hold        *words
	take, accept, drop *button
}

func newGlarePart(w *Window) *glarePart {
	p := &glarePart{w: w, words: newWords(body, ""), hold: newWords(caption, say("glare.hold"))}
	d := w.desk
	p.take = w.button("glare:take", "lamp", say("glare.take"), edged, p.ask).tipped(say("glare.take.tip"))
	p.accept = w.button("glare:accept", "check", say("glare.accept"), primary, d.AcceptGlare).tipped(say("glare.accept.tip"))
	p.drop = w.button("glare:drop", "remove", say("glare.drop"), edged, d.DropGlare)
	p.box = newColumn(8, p.words, p.hold, newFlow(6, p.take, p.accept, p.drop))
	return p
}

func (p *glarePart) refresh() {
	i := p.w.desk.Glare()
	p.box.Hidden = !i.Offered && !i.Made && i.Words == ""
	p.words.set(i.Words)
	p.words.Hidden = i.Words == ""
	p.hold.Hidden, p.accept.Hidden, p.drop.Hidden = !i.Made, !i.Made, !i.Made
	p.take.Hidden = i.Made || !i.Offered
	p.take.setOff(i.Seeking || p.w.desk.Lab().ReadOnly)
	p.accept.setOff(i.Seeking)
}

// ask asks where the second picture is.
func (p *glarePart) ask() {
	d := p.w.desk
	p.w.askPicture("glare", say("glare.title"), say("glare.lead"), d.TakeLampFile, d.TakeLampPrint)
}
