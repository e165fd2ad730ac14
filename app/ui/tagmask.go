package ui

import "fyne.io/fyne/v2"

// maskProposal takes or leaves the tag mask of an earlier picture of the run, of which the hint tells; it is hidden where none
// is proposed.
type maskProposal struct {
	w   *Window
	box *fyne.Container
}

func newMaskProposal(w *Window, id string) *maskProposal {
	p := &maskProposal{w: w}
	d := w.desk
	accept := w.button(id+":accept", "mask", say("mask.accept"), primary, d.AcceptMask).tipped(say("mask.accept.tip"))
	decline := w.button(id+":decline", "", say("mask.decline"), edged, d.DeclineMask)
	p.box = newColumn(8, newFlow(6, accept, decline))
	return p
}

func (p *maskProposal) refresh() {
	_, there := p.w.desk.ProposedMask()
	p.box.Hidden = !there
}

// maskPart lays filled boxes over tags.
type maskPart struct {
	box      *fyne.Container
	proposal *maskProposal
}

func newMaskPart(w *Window) *maskPart {
	p := &maskPart{proposal: newMaskProposal(w, "mask")}
	p.box = newColumn(8, p.proposal.box, newWords(caption, say("tool.mask.how")))
	return p
}

func (p *maskPart) object() *fyne.Container { return p.box }
func (p *maskPart) refresh()                { p.proposal.refresh() }
