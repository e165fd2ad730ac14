package bench

import (
	"sectionary/annotate"
	"sectionary/slices/geom"
)

// The way the arrows point, on screen.
var arrows = map[string]geom.Px{"Up": {Y: -1}, "Down": {Y: 1}, "Left": {X: -1}, "Right": {X: 1}}

// cursorStep is how far, in units, an arrow moves the keyboard's cross; with Shift held it moves one unit.
const cursorStep = 10

// arrowKey takes an arrow on the bench: with a drawing tool in hand it moves the keyboard's cross, a chosen point it
// nudges, and with Ctrl the whole chosen outline.
func (b *Bench) arrowKey(name string, m Mods) bool {
	way, ok := arrows[name]
	if !ok || b.screen != FaceScreen || b.doc == nil || b.face.w == 0 {
		return false
	}
	by := b.face.scale
	if !m.Ctrl {
		step := by
		if m.Shift {
			step *= cursorStep
		}
		if b.nudgeEdge(geom.Px{X: way.X * step, Y: way.Y * step}) {
			return true
		}
	}
	switch {
	case m.Ctrl && len(b.draw.outline) == 0:
		if m.Shift {
			by *= cursorStep
		}
		b.nudgeOutline(geom.Px{X: way.X * by, Y: way.Y * by})
	case b.draw.point != noPoint && b.draw.chosen != "" && len(b.draw.outline) == 0:
		if m.Shift {
			by *= cursorStep
		}
		b.nudgePoint(geom.Px{X: way.X * by, Y: way.Y * by})
	case b.draw.tool == ToolOutline || b.draw.tool == ToolScale || b.draw.tool == ToolColour || b.draw.tool == ToolMeasure:
		if !m.Shift {
			by *= cursorStep
		}
		b.face.moveCursor(geom.Px{X: way.X * by, Y: way.Y * by})
	default:
		return false
	}
	return true
}

// moveCursor moves the keyboard's cross by device pixels, beginning where the hand or the middle of the face is. It stays
// on the picture, and the picture follows it.
func (f *facePane) moveCursor(by geom.Px) {
	b, d := f.b, f.b.doc
	f.lay(d)
	at := d.view.middle()
	if b.draw.cursor != nil {
		at = d.view.Device(*b.draw.cursor)
	} else if f.here != nil {
		at = *f.here
	}
	px := d.view.Picture(geom.Px{X: at.X + by.X, Y: at.Y + by.Y})
	size := d.plate().Photo.Size
	px.X, px.Y = min(max(px.X, 0), float64(size.X-1)), min(max(px.Y, 0), float64(size.Y-1))
	b.draw.cursor, b.draw.fresh = &px, true
	edge := 24 * f.scale
	at = d.view.Device(px)
	dx := max(float64(f.in.Min.X)+edge-at.X, 0) + min(float64(f.in.Max.X)-edge-at.X, 0)
	dy := max(float64(f.in.Min.Y)+edge-at.Y, 0) + min(float64(f.in.Max.Y)-edge-at.Y, 0)
	if dx != 0 || dy != 0 {
		d.view = d.view.Pan(dx, dy).Within(float64(size.X), float64(size.Y))
		d.moved = true
		b.changed(ViewChanged)
	}
	b.lookAhead(px)
	b.changed(SelectionChanged)
}

// enterAtCursor is a click at the keyboard's cross, if it was moved since the last one.
func (b *Bench) enterAtCursor() bool {
	if b.draw.cursor == nil || !b.draw.fresh || b.doc == nil {
		return false
	}
	b.draw.fresh = false
	px := *b.draw.cursor
	switch b.draw.tool {
	case ToolOutline:
		b.draw.crossing = nil
		b.hint("", false)
		b.face.setPoint(px)
	case ToolScale:
		b.scalePoint(px)
	case ToolColour:
		b.colourPoint(px)
	case ToolMeasure:
		b.face.measurePoint(px)
	default:
		return false
	}
	return true
}

// hand is where the pointer or the keyboard's cross is, in device pixels; nil for neither.
func (f *facePane) hand() *geom.Px {
	if c := f.b.draw.cursor; c != nil && f.b.doc != nil {
		at := f.b.doc.view.Device(*c)
		return &at
	}
	return f.here
}

// NextPoint chooses the next point of the chosen outline, or with -1 the one before.
func (b *Bench) NextPoint(by int) {
	_, x, err := b.chosenLabel()
	if err != nil {
		b.Report(err)
		return
	}
	if next := nextRef(x.Regions, b.draw.point, by); next != noPoint {
		b.draw.point = next
		b.changed(SelectionChanged)
	}
}

// nextRef is the point by steps after ref, going round all rings, the first or the last where ref is none of theirs; noPoint without points.
func nextRef(regions []annotate.Polygon, ref pointRef, by int) pointRef {
	var all []pointRef
	now := -1
	for i, p := range regions {
		for n := range p.Rings() {
			for k := range p.Ring(n) {
				if ref == (pointRef{i, n, k}) {
					now = len(all)
				}
				all = append(all, pointRef{i, n, k})
			}
		}
	}
	if len(all) == 0 {
		return noPoint
	}
	if now < 0 && by < 0 {
		now = 0
	}
	return all[((now+by)%len(all)+len(all))%len(all)]
}

// nudged is a picture place moved by device pixels.
func (d *faceDoc) nudged(px, by geom.Px) geom.Px {
	at := d.view.Device(px)
	return d.view.Picture(geom.Px{X: at.X + by.X, Y: at.Y + by.Y})
}

// nudgePoint moves the chosen point, and with it the border of neighbours that share it.
func (b *Bench) nudgePoint(by geom.Px) {
	_, x, err := b.chosenLabel()
	ref := b.draw.point
	if err != nil || ref.region >= len(x.Regions) || ref.i >= len(x.Regions[ref.region].Ring(ref.ring)) {
		return
	}
	from := x.Regions[ref.region].Ring(ref.ring)[ref.i]
	b.refuse(b.editLabels(Word("step.point.move"), "nudge "+x.ID, func(l annotate.Labels) (annotate.Labels, error) {
		return l.MoveShared(b.stamp(), from, b.doc.nudged(from, by))
	}))
}

// nudgeOutline moves the chosen outline as a whole.
func (b *Bench) nudgeOutline(by geom.Px) {
	_, x, err := b.chosenLabel()
	if err != nil {
		b.hint(Explain(err).Title, true)
		return
	}
	regions := make([]annotate.Polygon, len(x.Regions))
	for i, p := range x.Regions {
		regions[i] = p.Map(func(q geom.Px) geom.Px { return b.doc.nudged(q, by) })
	}
	b.refuse(b.editLabels(Word("step.nudge"), "nudge all "+x.ID, func(l annotate.Labels) (annotate.Labels, error) {
		return l.Reshape(x.ID, b.stamp(), regions...)
	}))
}
