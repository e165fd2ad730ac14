package ui

import (
	"fyne.io/fyne/v2"

	"sectionary/app/bench"
)

// outlinePart draws outlines: the way to outline, and what becomes of the next one.
type outlinePart struct {
	w        *Window
	box      *fyne.Container
	manner   *options
	into     *options
	intoBox  *fyne.Container
	fillBox  *fyne.Container
	apart    *button
	shut     *button
	smooth   *button
	join     *button
	editHead *words
}

func newOutlinePart(w *Window) *outlinePart {
	p := &outlinePart{w: w}
	d := w.desk
	p.manner = w.options("outline:manner", []string{say("outline.points"), say("outline.freehand"), say("outline.follow"), say("outline.fill"), say("outline.round")}, 0,
		func(i int) { d.SetManner(bench.Manner(i)); w.keyboardToPicture() })
	p.into = w.options("outline:into", []string{say("outline.own"), say("outline.part"), say("outline.hole"), say("outline.joined"), say("outline.takenoff"), say("outline.cut")}, 0,
		func(i int) { d.SetInto(bench.Into(i)); w.keyboardToPicture() })
	p.intoBox = captioned(say("outline.into"), p.into.box)
	p.apart = w.button("outline:apart", "", say("outline.apart"), choice, nil).tipped(say("outline.apart.tip"))
	p.apart.tapped = func() { d.SetApart(!d.Apart()) }
	p.fillBox = newFlow(6,
		w.button("outline:less", "", say("outline.less"), edged, func() { d.FillMore(0.8) }).tipped(say("outline.less.tip")),
		w.button("outline:more", "", say("outline.more"), edged, func() { d.FillMore(1.25) }).tipped(say("outline.more.tip")))
	p.shut = w.button("outline:close", "check", say("outline.close"), edged, d.CloseOutline).tipped(say("outline.close.tip"))
	p.smooth = w.button("outline:smooth", "", say("outline.smooth"), edged, func() { d.Do("smooth") }).tipped(say("outline.smooth.tip"))
	p.join = w.button("outline:join", "", say("outline.join"), edged, func() { d.Do("join") }).tipped(say("outline.join.tip"))
	p.editHead = newWords(caption, say("tool.outline.how"))
	p.box = newColumn(8, p.manner.box, p.fillBox, newFlow(6, p.shut), p.intoBox, newFlow(6, p.apart), newFlow(6, p.smooth, p.join), p.editHead)
	return p
}

func (p *outlinePart) object() *fyne.Container { return p.box }

func (p *outlinePart) refresh() {
	d := p.w.desk
	p.manner.show(int(d.Manner()))
	p.into.show(int(d.Into()))
	none := d.Chosen() == ""
	p.intoBox.Hidden, p.smooth.Hidden, p.join.Hidden = none, none, none
	p.apart.setOn(d.Apart())
	p.fillBox.Hidden = d.Manner() != bench.ByFilling
}
