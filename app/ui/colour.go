package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
)

// colourPart corrects the colour of a face by a grey patch or by the 24-patch card.
type colourPart struct {
	w                   *Window
	box                 *fyne.Container
	mode, edition       *options
	editionBox          *fyne.Container
	force, fit, problem *words
	accept, clear, bare *button
}

func newColourPart(w *Window) *colourPart {
	p := &colourPart{w: w, force: newWords(strong, ""), fit: newWords(body, ""), problem: newWords(body, "").colored(theme.ColorNameWarning)}
	d := w.desk
	p.mode = w.options("colour:mode", []string{say("colour.grey"), say("colour.card")}, 0, func(i int) { d.SetColourMode(bench.ColourMode(i)) })
	p.edition = w.options("colour:edition", []string{say("colour.after2014"), say("colour.before2014")}, 0, func(i int) { d.SetCardEdition(i == 1) })
	p.editionBox = captioned(say("colour.edition"), p.edition.box)
	p.accept = w.button("colour:accept", "check", say("colour.accept"), primary, func() { w.report(d.AcceptColour()) })
	p.clear = w.button("colour:clear", "remove", say("colour.clear"), edged, d.ClearColour)
	p.bare = w.button("colour:bare", "photo", say("colour.bare"), edged, func() { d.SetAsPhotographed(!d.AsPhotographed()) }).tipped(say("colour.bare.tip"))
	p.box = newColumn(8, p.force, p.mode.box, p.editionBox, p.fit, p.problem, newFlow(6, p.accept, p.bare, p.clear), newWords(caption, say("colour.note")))
	return p
}

func (p *colourPart) object() *fyne.Container { return p.box }

func (p *colourPart) refresh() {
	d := p.w.desk
	c := d.Colour()
	p.mode.show(int(c.Mode))
	p.edition.show(int(c.Edition))
	p.editionBox.Hidden = c.Mode != bench.ColourCard
	p.force.set(d.ColourInForce())
	p.fit.set(c.Fit)
	p.problem.set(c.Problem)
	p.accept.setOff(!c.Ready)
	plate, ok := d.Plate()
	kept := ok && plate.Colour != nil
	p.clear.Hidden = !kept
	p.bare.Hidden = !kept && !c.Ready
	p.bare.setOn(d.AsPhotographed())
}
