package bench

import (
	"image/color"
	"slices"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/section"
)

// MaskProposal is the tag mask of an earlier picture of the run, proposed for the picture on the bench.
type MaskProposal struct {
	From  section.Face
	Boxes []annotate.Polygon
	Words string
}

// proposedMask is a mask read from another plate, kept with the document it is proposed for.
type proposedMask struct {
	plate string
	rev   int
	boxes []annotate.Polygon
}

// ProposedMask tells which mask is proposed: that of the nearest earlier face of the run that has one, where the picture on
// the bench has none, is as large, and nobody said that no tag lies here.
func (b *Bench) ProposedMask() (MaskProposal, bool) {
	d := b.doc
	if d == nil || d.untagged || len(d.plate().Mask) > 0 || b.writable() != nil {
		return MaskProposal{}, false
	}
	from, there := b.nearestFace(b.Face(), func(x fact) bool { return x.masked })
	if !there {
		return MaskProposal{}, false
	}
	x := b.rule.facts[from]
	if d.tags.plate != x.plate || d.tags.rev != x.rev {
		d.tags = proposedMask{plate: x.plate, rev: x.rev}
		if p, ok := b.plateOn(from); ok && p.Photo.Size == d.plate().Photo.Size {
			d.tags.boxes = p.Mask
		}
	}
	if len(d.tags.boxes) == 0 {
		return MaskProposal{}, false
	}
	return MaskProposal{from, d.tags.boxes, Word("mask.proposed", b.FaceName(from))}, true
}

// nearestFace is the nearest face before f in the order of the run of which something is known, else the nearest after it.
func (b *Bench) nearestFace(f section.Face, known func(fact) bool) (section.Face, bool) {
	faces := b.Run().Faces()
	i := slices.Index(faces, f)
	if i < 0 {
		return section.Face{}, false
	}
	for k := i - 1; k >= 0; k-- {
		if known(b.rule.facts[faces[k]]) {
			return faces[k], true
		}
	}
	for _, x := range faces[i+1:] {
		if known(b.rule.facts[x]) {
			return x, true
		}
	}
	return section.Face{}, false
}

// AcceptMask covers what is proposed, one undo step.
func (b *Bench) AcceptMask() {
	m, ok := b.ProposedMask()
	if !ok {
		b.hint(Word("mask.noproposal"), true)
		return
	}
	b.Report(b.edit(Word("step.mask"), "", func(p atlas.Plate) (atlas.Plate, error) {
		p.Mask = slices.Clone(m.Boxes)
		return p, nil
	}))
	b.changed(SelectionChanged)
}

// DeclineMask says that no tag lies on this picture where one is proposed.
func (b *Bench) DeclineMask() {
	if b.doc != nil {
		b.doc.untagged = true
		b.changed(SelectionChanged | ViewChanged)
	}
}

// paintProposed draws the boxes proposed: dashed, and one can see beneath, for nothing is covered yet.
func (f *facePane) paintProposed(r brush, d *faceDoc) {
	if f.b.screen != FaceScreen || f.b.draw.tool != ToolMask && f.b.draw.tool != ToolPan {
		return
	}
	m, ok := f.b.ProposedMask()
	if !ok {
		return
	}
	for i, p := range m.Boxes {
		ring := d.view.devices(p.Outer)
		ink.Hatch(r.dst, [][]geom.Px{ring}, ink.Rising, r.u(12), ink.Fade(r.pal.OnDarkLo, 0.5))
		ink.Stroke(r.dst, ring, true, r.u(4), ink.Fade(color.RGBA{0, 0, 0, 255}, 0.6), nil)
		ink.Stroke(r.dst, ring, true, r.u(2), r.pal.ChosenOnDark, []float64{r.u(6), r.u(4)})
		if i == 0 {
			at := ring[0]
			for _, q := range ring {
				at.X, at.Y = min(at.X, q.X), max(at.Y, q.Y)
			}
			r.tag(at, Word("mask.sign"), r.pal.ChosenOnDark)
		}
	}
}
