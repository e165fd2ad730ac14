package ui

import (
	"fyne.io/fyne/v2"
)

// checkPart tells what the picture check has to say of the face: each thing with what to change at the stand.
type checkPart struct {
	w     *Window
	box   *fyne.Container
	words *words
	rows  *fyne.Container
	marks *button
	glare *glarePart
}

func newCheckPart(w *Window) *checkPart {
	p := &checkPart{w: w, glare: newGlarePart(w), words: newWords(body, ""), rows: newColumn(6)}
	d := w.desk
	p.marks = w.button("check:marks", "mask", say("check.marks"), edged, func() { d.SetMarks(!d.Marks()) }).tipped(say("check.marks.tip"))
	all := w.button("check:run", "run", say("check.run"), edged, d.CheckRun).tipped(say("check.run.tip"))
	p.box = part(say("check.head"), p.words, p.rows, p.glare.box, newFlow(6, p.marks, all))
	return p
}

func (p *checkPart) refresh() {
	d := p.w.desk
	_, there := d.Plate()
	p.box.Hidden = !there
	c := d.PictureCheck()
	p.words.set(c.Words)
	if !c.Known {
		p.words.set(say("check.waits"))
	}
	marked := false
	p.rows.Objects = nil
	for _, r := range c.Rows {
		head := r.Words
		if r.Mark > 0 {
			marked = true
			head = say("check.row", r.Mark, r.Words)
		}
		p.rows.Add(newColumn(2, newWords(strong, head), newWords(caption, r.Advice)))
	}
	p.marks.Hidden = !marked
	p.marks.setOn(d.Marks())
	p.glare.refresh()
}
