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

// ask asks where the second picture is: a print of the tray, where there are any, or a file.
func (p *glarePart) ask() {
	w := p.w
	file := func() {
		w.pick(pick{title: say("glare.title"), endings: photoEndings, done: func(f []string) { w.desk.TakeLampFile(f[0]) }})
	}
	tray := w.desk.Tray()
	if len(tray) == 0 {
		file()
		return
	}
	var s *sheet
	rows := newColumn(8)
	for _, t := range tray[:min(len(tray), mostNewPrints)] {
		rows.Add(newFlow(6, w.button("glare:print", "photo", fitted(t.Words, grown(420)), edged, func() { s.close(); w.desk.TakeLampPrint(t.ID) })))
	}
	from := w.button("glare:file", "plus", say("anew.file"), edged, func() { s.close(); file() })
	stay := w.button("glare:stay", "", say("cancel"), edged, func() { s.close() })
	s = w.sheet(560, newColumn(12, newWords(title, say("glare.title")), newWords(body, say("glare.lead")), rows), from, stay)
	s.open(from)
}
