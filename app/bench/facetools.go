package bench

import (
	"math"
	"slices"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// endStroke thins a freehand line and closes it.
func (f *facePane) endStroke(d *faceDoc) {
	b := f.b
	b.draw.stroking = false
	ring := annotate.SimplifyLine(b.draw.outline, 1.2*f.scale/d.view.Zoom)
	if n := len(ring); n > 3 && b.draw.into != CutAcross && ring[0].Dist(ring[n-1])*d.view.Zoom < f.scale*tremor {
		ring = ring[:n-1]
	}
	if len(ring) < 3 && b.draw.into != CutAcross {
		b.draw.outline = nil
		b.changed(SelectionChanged)
		return
	}
	b.draw.outline = ring
	b.CloseOutline()
	if len(b.draw.outline) > 0 { // refused: it can be drawn anew, the mark stays
		b.draw.outline = nil
		b.changed(SelectionChanged)
	}
}

// endBox keeps a tag mask.
func (f *facePane) endBox(p press) {
	b := f.b
	box := b.draw.box
	b.draw.box = nil
	if m, proposed := b.ProposedMask(); !p.moved && proposed && len(box) > 0 && slices.ContainsFunc(m.Boxes, func(x annotate.Polygon) bool { return x.Contains(box[0]) }) {
		b.AcceptMask()
		return
	}
	if p.moved && len(box) == 2 {
		poly := boxPolygon(box[0], box[1])
		if poly.Check() == nil {
			b.Report(b.edit(Word("step.mask"), "", func(pl atlas.Plate) (atlas.Plate, error) {
				pl.Mask = append(pl.Mask[:len(pl.Mask):len(pl.Mask)], poly)
				return pl, nil
			}))
		}
	}
	b.changed(SelectionChanged)
}

// removeMask takes away the tag mask under px.
func (b *Bench) removeMask(px geom.Px) {
	p, ok := b.Plate()
	if !ok {
		return
	}
	for i := len(p.Mask) - 1; i >= 0; i-- {
		if p.Mask[i].Contains(px) {
			b.doc.untagged = true // it is not proposed again
			b.Report(b.edit(Word("step.unmask"), "", func(p atlas.Plate) (atlas.Plate, error) {
				p.Mask = append(append([]annotate.Polygon(nil), p.Mask[:i]...), p.Mask[i+1:]...)
				return p, nil
			}))
			return
		}
	}
}

// tellSide answers a click on the face while its top is being told: "Click something you know is on the left."
func (b *Bench) tellSide(px geom.Px) {
	p, ok := b.Plate()
	if !ok || !lettersKnown(p) {
		return
	}
	spot := annotate.Label{Regions: []annotate.Polygon{{Outer: []geom.Px{{X: px.X - 1, Y: px.Y - 1}, {X: px.X + 1, Y: px.Y - 1}, {X: px.X, Y: px.Y + 1}}}}}
	side, clear := sideOf(p, spot)
	switch {
	case side == annotate.NoSide:
		b.hint(Word("side.none"), false)
	case !clear:
		b.hint(Word("side.middle"), false)
	default:
		b.hint(Word("side.is", side), false)
	}
}

// tellUp points the ring's main letter to where the hand is.
func (f *facePane) tellUp(at geom.Px) {
	p, ok := f.b.Plate()
	if !ok {
		return
	}
	c, _ := f.ringAt()
	dx, dy := at.X-c.X, at.Y-c.Y
	quarters := 0 // that the main letter lies clockwise from the top
	switch {
	case math.Abs(dx) > math.Abs(dy) && dx > 0:
		quarters = 1
	case math.Abs(dx) > math.Abs(dy):
		quarters = 3
	case dy > 0:
		quarters = 2
	}
	if p.Mirrored == atlas.Yes {
		quarters = -quarters & 3 // the ring is shown on the photograph as taken
	}
	up := usualUp(p.Face.Facing)
	for range quarters {
		right, _, err := section.Axes(p.Face.Facing.Plane(), p.Face.Facing, up)
		if err != nil {
			return
		}
		up = section.FacingOf(right.Neg())
	}
	if up != p.PhotoUp {
		f.b.SetPhotoUp(up)
	}
}

// movePoint moves the held point, and with it the border of neighbours that share it; while a shape cannot stand it
// follows the hand but is not kept.
func (f *facePane) movePoint(px geom.Px) {
	b, ref := f.b, f.press.point
	_, x, err := b.chosenLabel()
	if err != nil || ref.region >= len(x.Regions) {
		return
	}
	px = f.snapped(px, x.ID)
	poly, err := x.Regions[ref.region].MovePoint(ref.ring, ref.i, px)
	if err != nil {
		return
	}
	// Always from where the point was taken hold of: passing over another border must not take that one along.
	err = b.editLabels(Word("step.point.move"), "move "+x.ID, func(annotate.Labels) (annotate.Labels, error) {
		return f.press.labels.MoveShared(b.stamp(), f.press.held, px)
	})
	if err != nil {
		b.draw.loose = &poly
		b.refuse(err)
		return
	}
	b.draw.loose, b.draw.crossing = nil, nil
	b.hint("", false)
}

// insertPoint puts a point on the edge of the chosen outline under a double click.
func (f *facePane) insertPoint(d *faceDoc, at geom.Px) bool {
	b := f.b
	_, x, err := b.chosenLabel()
	if err != nil || b.writable() != nil {
		return false
	}
	for i, p := range x.Regions {
		ring, before, foot, dist := p.NearestEdge(d.view.Picture(at))
		if ring < 0 || dist*d.view.Zoom > f.scale*reach*0.6 {
			continue
		}
		if _, _, near := p.NearestPoint(foot); near*d.view.Zoom < 3*f.scale {
			continue // a point is there already
		}
		poly, err := p.InsertPoint(ring, before, foot)
		if err == nil {
			err = b.reshape(Word("step.point.insert"), "", x, i, poly)
		}
		if err != nil {
			b.refuse(err)
			return true
		}
		b.draw.point = pointRef{i, ring, before}
		f.hold(b.draw.point)
		b.changed(SelectionChanged)
		return true
	}
	return false
}

// takePoint takes hold of the point of the chosen outline nearest to at, if one is within reach.
func (f *facePane) takePoint(d *faceDoc, at geom.Px) bool {
	b := f.b
	x, ok := d.plate().Labels.Find(b.draw.chosen)
	if !ok || b.writable() != nil {
		return false
	}
	best, ref := f.scale*reach*0.6, noPoint
	for i, p := range x.Regions {
		if ring, k, dist := p.NearestPoint(d.view.Picture(at)); ring >= 0 && dist*d.view.Zoom < best {
			best, ref = dist*d.view.Zoom, pointRef{i, ring, k}
		}
	}
	if b.draw.point != ref {
		b.draw.point = ref
		b.changed(SelectionChanged)
	}
	if ref == noPoint {
		return false
	}
	f.hold(ref)
	return true
}

// hold takes a point of the chosen outline in hand.
func (f *facePane) hold(ref pointRef) {
	_, x, err := f.b.chosenLabel()
	if err == nil {
		f.press.what, f.press.point = pressPoint, ref
		f.press.labels, f.press.held = f.b.doc.plate().Labels, x.Regions[ref.region].Ring(ref.ring)[ref.i]
	}
}

// nearTick is the index of the draft's scale point within reach, -1 when none.
func (f *facePane) nearTick(d *faceDoc, at geom.Px) int {
	best, i := f.scale*reach*0.6, -1
	for k, p := range f.b.draw.scale.Points {
		if dist := d.view.Device(p).Dist(at); dist < best {
			best, i = dist, k
		}
	}
	return i
}

// overMask removes nothing; it reports whether a mask lies under px.
func (f *facePane) overMask(d *faceDoc, px geom.Px) bool {
	for _, m := range d.plate().Mask {
		if m.Contains(px) {
			return true
		}
	}
	return false
}
