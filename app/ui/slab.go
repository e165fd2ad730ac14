package ui

import (
	"fyne.io/fyne/v2"

	"sectionary/slices/section"
)

// slabForm holds the measures of the slab of the chosen face: thickness at up to three points and the kerf after
// it. What is written counts as soon as the field is left.
type slabForm struct {
	w          *Window
	box        *fyne.Container
	head       *words
	thickness  [3]*field
	kerf       *field
	fields     *fyne.Container
	note       *words
	insert     *button
	split, cut *button
	up, down   *button // along the run
	slab       section.Slab
}

func newSlabForm(w *Window) *slabForm {
	s := &slabForm{w: w, head: newWords(title, ""), note: newWords(caption, "")}
	make1 := func(id string) *field {
		f := w.field(id, "")
		f.onEnter = func() { s.write(); w.keyboardToPicture() }
		f.onLeave = s.write
		return f
	}
	for i, id := range []string{"slab:1", "slab:2", "slab:3"} {
		s.thickness[i] = make1(id)
	}
	s.kerf = make1("slab:kerf")
	s.fields = newColumn(8,
		captioned(say("slab.thickness"), newShelf(grown(64), 6, s.thickness[0], s.thickness[1], s.thickness[2])),
		captioned(say("slab.kerf"), newRow(0, -1, newLineHolder(s.kerf, 84))))
	d := w.desk
	s.insert = w.button("slab:insert", "insert", say("slab.insert"), edged, func() { w.report(d.InsertSlab(s.slab.Number)) }).tipped(say("slab.insert.tip"))
	s.split = w.button("slab:split", "split", say("slab.split"), edged, func() { w.report(d.SplitSlab(s.slab.Number)) }).tipped(say("slab.split.tip"))
	s.cut = w.button("slab:remove", "remove", say("slab.remove"), edged, func() { w.report(d.RemoveSlab(s.slab.Number)) }).tipped(say("slab.remove.tip"))
	s.up = w.button("slab:earlier", "earlier", say("slab.earlier"), edged, func() { w.report(d.MoveSlab(s.slab.Number, -1)) }).tipped(say("slab.earlier.tip"))
	s.down = w.button("slab:later", "later", say("slab.later"), edged, func() { w.report(d.MoveSlab(s.slab.Number, 1)) }).tipped(say("slab.later.tip"))
	s.box = part("", s.fields, s.note, newFlow(6, s.insert, s.split, s.cut, s.up, s.down))
	s.box.Objects[1] = s.head
	return s
}

func (s *slabForm) refresh() {
	d := s.w.desk
	r, f := d.Run(), d.Face()
	s.slab = section.Slab{}
	for _, x := range r.Slabs {
		if x.Number == f.Slab {
			s.slab = x
		}
	}
	has := s.slab.Number != 0
	s.fields.Hidden = !has
	s.split.Hidden, s.cut.Hidden, s.up.Hidden, s.down.Hidden = !has, !has, !has, !has
	readOnly := d.Lab().ReadOnly
	s.insert.setOff(readOnly || r.ID == "")
	s.split.setOff(readOnly)
	s.cut.setOff(readOnly)
	if n := len(r.Slabs); n > 0 {
		s.up.setOff(readOnly || r.Slabs[0].Number == s.slab.Number)
		s.down.setOff(readOnly || r.Slabs[n-1].Number == s.slab.Number)
	}
	if !has {
		s.head.set(say("slab.none"))
		s.note.set("")
		if len(r.Slabs) == 0 {
			s.note.set(say("run.empty"))
		}
		return
	}
	s.head.set(say("slab.head", s.slab.Number))
	for i, t := range s.slab.Thickness {
		planned := ""
		if s.slab.Planned {
			planned, t = mm(t), 0
		}
		s.thickness[i].SetPlaceHolder(planned)
		s.thickness[i].show(mm(t))
	}
	s.kerf.show(mm(s.slab.Kerf))
	if s.slab.Planned {
		s.note.set(say("slab.planned", s.slab.Mean()))
		return
	}
	note := say("slab.mean", s.slab.Mean())
	if w := s.slab.Wedge(); w > 0 {
		note += " " + say("slab.wedge", w)
	}
	s.note.set(note)
}

// write hands the measures to the bench when they are new and can be read.
func (s *slabForm) write() {
	if s.slab.Number == 0 {
		return
	}
	next := s.slab
	if next.Planned {
		next.Thickness = [3]float64{}
	}
	was, ok := next, true
	for i, f := range s.thickness {
		v, good := number(f.Text)
		next.Thickness[i], ok = v, ok && good && v >= 0
	}
	v, good := number(s.kerf.Text)
	next.Kerf, ok = v, ok && good && v >= 0
	if !ok {
		s.note.setColored(say("slab.unreadable"), "warning")
		return
	}
	switch {
	case next.Planned && next.Thickness == was.Thickness && next.Kerf != was.Kerf:
		s.w.report(s.w.desk.SetKerf(next.Number, next.Kerf))
	case next != was:
		s.w.report(s.w.desk.SetSlab(next.Number, next.Thickness, next.Kerf))
	}
}
