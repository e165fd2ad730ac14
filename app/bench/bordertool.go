package bench

import (
	"context"
	"errors"
	"image/color"
	"slices"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
)

// BorderInfo tells about the face's own outer border.
type BorderInfo struct {
	Drawn    bool // the face has one
	Proposed bool // one that was found lies on the picture, dashed
	Seeking  bool
	Words    string
}

// borderRoom is what is in hand of the border of one face.
type borderRoom struct {
	found   []annotate.Polygon // proposed, nil without a proposal
	seeking bool
	sought  bool // unasked
	point   pointRef
	stroke  []geom.Px // a piece being drawn by hand
}

// Border tells what is known of the face's border, and of one that is proposed.
func (b *Bench) Border() (out BorderInfo) {
	p, there := b.Plate()
	if !there {
		return out
	}
	r := &b.doc.edge
	out = BorderInfo{Drawn: len(p.Border) > 0, Proposed: len(r.found) > 0, Seeking: r.seeking}
	switch {
	case out.Proposed:
		out.Words = count("border.found", len(r.found))
	case out.Drawn:
		out.Words = count("border.drawn", len(p.Border))
	default:
		out.Words = Word("border.none")
	}
	return out
}

// FindBorder looks for the border against the tray, as a job, and lays it on the picture as a proposal.
func (b *Bench) FindBorder() {
	d := b.doc
	switch {
	case d == nil:
		b.Report(ErrNoPhoto)
		return
	case !d.whole:
		b.hint(Word("face.reading"), false)
		return
	case d.edge.seeking:
		return
	}
	d.edge.seeking = true
	m, p := d.picture, d.plate()
	b.start(Word("job.border"), func(context.Context, func(done, total int)) (func(), error) {
		found := mendable(foundBorder(m, p), p)
		return func() {
			d.edge.seeking = false
			if len(found) == 0 && b.doc == d {
				b.hint(Word("border.notfound"), true)
			}
			d.edge.found, d.edge.point = found, noPoint
			b.changed(SelectionChanged | ViewChanged)
		}, nil
	})
	b.changed(SelectionChanged)
}

// borderHint says what to do with the border tool.
func (b *Bench) borderHint() string {
	switch i := b.Border(); {
	case i.Seeking:
		return Word("hint.border.seeking")
	case i.Proposed:
		return Word("hint.border.found")
	}
	return Word("hint.border")
}

// mendable thins rings to as many points as a hand can mend.
func mendable(rings []annotate.Polygon, p atlas.Plate) (out []annotate.Polygon) {
	tolerance := float64(max(p.Photo.Size.X, p.Photo.Size.Y)) / 1000
	for _, x := range rings {
		if x = x.Simplify(tolerance); x.Check() == nil {
			out = append(out, x)
		}
	}
	return out
}

// wantBorder looks for a border unasked where the face has none and its tool is taken.
func (b *Bench) wantBorder() {
	d := b.doc
	if d == nil || !d.whole || d.edge.sought || b.screen != FaceScreen || b.draw.tool != ToolBorder || len(d.plate().Border) > 0 {
		return
	}
	d.edge.sought = true
	b.FindBorder()
}

// AcceptBorder makes the proposal the border of the face, one undo step.
func (b *Bench) AcceptBorder() {
	if b.doc == nil || len(b.doc.edge.found) == 0 {
		b.hint(Word("border.nothing"), true)
		return
	}
	found := b.doc.edge.found
	if b.setBorder(Word("step.border"), "", found) {
		b.doc.edge.found = nil
		b.recheck()
	}
}

// ClearBorder leaves a proposal, or takes the border of the face away.
func (b *Bench) ClearBorder() {
	if b.doc == nil {
		return
	}
	if e := &b.doc.edge; len(e.found) > 0 {
		e.found, e.point = nil, noPoint
		b.changed(SelectionChanged | ViewChanged)
		return
	}
	if b.setBorder(Word("step.noborder"), "", nil) {
		b.recheck()
	}
}

func (b *Bench) setBorder(step, merge string, rings []annotate.Polygon) bool {
	err := b.edit(step, merge, func(p atlas.Plate) (atlas.Plate, error) {
		p.Border = slices.Clone(rings)
		return b.relaid(p)
	})
	b.Report(err)
	b.changed(SelectionChanged | ViewChanged)
	return err == nil
}

// recheck looks at the picture again, for the check counts what lies within the border.
func (b *Bench) recheck() {
	delete(b.rule.checks, b.doc.plate().ID)
	b.wantCheck(b.doc)
}

// edgeRings are the rings that the border tool changes: those proposed, else the face's own.
func (d *faceDoc) edgeRings() []annotate.Polygon {
	if len(d.edge.found) > 0 {
		return d.edge.found
	}
	return d.plate().Border
}

// changeEdge replaces ring n of the proposal or of the face's own border; a shape that cannot stand is refused.
func (b *Bench) changeEdge(step, merge string, n int, p annotate.Polygon) bool {
	if err := p.Check(); err != nil {
		b.refuse(err)
		return false
	}
	b.hint("", false)
	rings := slices.Clone(b.doc.edgeRings())
	rings[n] = p
	return b.layEdge(step, merge, rings)
}

// layEdge puts rings in place of those that the border tool changes.
func (b *Bench) layEdge(step, merge string, rings []annotate.Polygon) bool {
	if e := &b.doc.edge; len(e.found) > 0 {
		e.found = rings
		b.changed(SelectionChanged | ViewChanged)
		return true
	}
	return b.setBorder(step, merge, rings)
}

// downBorder begins a press with the border tool: on a point takes hold of it, twice on the line sets a new one, elsewhere draws a
// piece by hand.
func (f *facePane) downBorder(d *faceDoc, at, px geom.Px, m Mods) {
	b := f.b
	if b.writable() != nil {
		return
	}
	best := f.scale * reach * 0.6
	d.edge.point = noPoint
	for i, p := range d.edgeRings() {
		if ring, k, dist := p.NearestPoint(px); ring >= 0 && dist*d.view.Zoom < best {
			best, d.edge.point = dist*d.view.Zoom, pointRef{i, ring, k}
		}
	}
	if d.edge.point != noPoint {
		f.press.what = pressEdge
		b.changed(SelectionChanged)
		return
	}
	for i, p := range d.edgeRings() {
		ring, before, foot, dist := p.NearestEdge(px)
		if ring < 0 || dist*d.view.Zoom > f.scale*reach*0.6 {
			continue
		}
		f.press.what = pressNothing // a press on the line begins no new piece
		if m.Clicks == 2 {
			if q, err := p.InsertPoint(ring, before, foot); err == nil && b.changeEdge(Word("step.border"), "", i, q) {
				d.edge.point = pointRef{i, ring, before}
				f.press.what = pressEdge
			}
		}
		return
	}
	d.edge.stroke = []geom.Px{px}
	f.press.what = pressPiece
}

// dragBorder follows a press with the border tool.
func (f *facePane) dragBorder(d *faceDoc, at, px geom.Px) {
	switch f.press.what {
	case pressEdge:
		f.b.moveEdgePoint(px)
	case pressPiece:
		if s := d.edge.stroke; d.view.Device(s[len(s)-1]).Dist(at) >= f.scale*2.5 && len(s) < 20000 {
			d.edge.stroke = append(s, px)
			f.b.changed(SelectionChanged)
		}
	}
}

// upBorder ends it: a piece drawn by hand is closed and becomes part of the border.
func (f *facePane) upBorder(d *faceDoc, what pressing, moved bool) {
	b := f.b
	if what == pressEdge {
		d.hist.Seal()
		if moved && len(d.edge.found) == 0 {
			b.recheck()
		}
		return
	}
	ring := annotate.SimplifyLine(d.edge.stroke, 1.2*f.scale/d.view.Zoom)
	d.edge.stroke = nil
	if !moved || len(ring) < 3 {
		b.changed(SelectionChanged)
		return
	}
	piece := annotate.Polygon{Outer: ring}
	if err := piece.Check(); err != nil {
		b.refuse(err)
		return
	}
	if proposed := len(d.edge.found) > 0; b.layEdge(Word("step.border"), "", append(slices.Clone(d.edgeRings()), piece)) && !proposed {
		b.recheck()
	}
}

// moveEdgePoint moves the chosen point of the border.
func (b *Bench) moveEdgePoint(px geom.Px) {
	d := b.doc
	ref, rings := d.edge.point, d.edgeRings()
	if ref == noPoint || ref.region >= len(rings) {
		return
	}
	size := d.plate().Photo.Size
	px = geom.Px{X: max(-0.5, min(px.X, float64(size.X)-0.5)), Y: max(-0.5, min(px.Y, float64(size.Y)-0.5))}
	if q, err := rings[ref.region].MovePoint(ref.ring, ref.i, px); err == nil {
		b.changeEdge(Word("step.border"), "border", ref.region, q)
	}
}

// nextEdge chooses the next point of the border, or with -1 the one before.
func (b *Bench) nextEdge(by int) {
	d := b.doc
	if next := nextRef(d.edgeRings(), d.edge.point, by); next != noPoint {
		d.edge.point = next
		b.changed(SelectionChanged)
	}
}

// nudgeEdge moves the chosen point by device pixels and reports whether there was one.
func (b *Bench) nudgeEdge(by geom.Px) bool {
	d := b.doc
	ref, rings := d.edge.point, d.edgeRings()
	if b.draw.tool != ToolBorder || ref == noPoint || ref.region >= len(rings) || ref.i >= len(rings[ref.region].Ring(ref.ring)) {
		return false
	}
	b.moveEdgePoint(d.nudged(rings[ref.region].Ring(ref.ring)[ref.i], by))
	return true
}

// removeEdgePoint takes the chosen point out, and a piece with its last three.
func (b *Bench) removeEdgePoint() {
	d := b.doc
	ref, rings := d.edge.point, d.edgeRings()
	if ref == noPoint || ref.region >= len(rings) {
		b.hint(Word("border.choose"), true)
		return
	}
	proposed, done := len(d.edge.found) > 0, false
	switch q, err := rings[ref.region].RemovePoint(ref.ring, ref.i); {
	case err == nil:
		done = b.changeEdge(Word("step.border"), "", ref.region, q) // where the ring would cross itself the point stays
	case errors.Is(err, annotate.ErrTooSmall):
		done = b.layEdge(Word("step.noborder"), "", slices.Delete(slices.Clone(rings), ref.region, ref.region+1))
	default:
		b.refuse(err)
	}
	if !done {
		return
	}
	if d.edge.point = noPoint; !proposed {
		b.recheck()
	}
}

// paintEdge draws the border with its points while its tool is in hand: dashed as long as it is only proposed.
func (f *facePane) paintEdge(r brush, d *faceDoc) {
	if f.b.screen != FaceScreen || f.b.draw.tool != ToolBorder {
		return
	}
	var dash []float64
	if len(d.edge.found) > 0 {
		dash = []float64{r.u(7), r.u(5)}
	}
	line := func(at []geom.Px, closed bool, dash []float64) {
		ink.Stroke(r.dst, at, closed, r.u(4), ink.Fade(color.RGBA{0, 0, 0, 255}, 0.5), nil)
		ink.Stroke(r.dst, at, closed, r.u(2), r.pal.ChosenOnDark, dash)
	}
	for i, p := range d.edgeRings() {
		for n := range p.Rings() {
			at := d.view.devices(p.Ring(n))
			line(at, true, dash)
			r.handles(at, d.edge.point.in(i, n))
		}
	}
	line(d.view.devices(d.edge.stroke), false, nil)
}

// cutBy tells which sides of the frame a border reaches, within a fiftieth of a percent of the picture's longer side or a pixel: left,
// top, right, bottom.
func cutBy(rings [][]geom.Px, m *photo.Image) (cut [4]bool) {
	size := m.Size()
	near := max(1, float64(max(size.X, size.Y))/5000)
	for _, ring := range rings {
		for _, p := range ring {
			cut[0] = cut[0] || p.X <= -0.5+near
			cut[1] = cut[1] || p.Y <= -0.5+near
			cut[2] = cut[2] || p.X >= float64(size.X)-0.5-near
			cut[3] = cut[3] || p.Y >= float64(size.Y)-0.5-near
		}
	}
	return cut
}
