package bench

import (
	"math"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// press is what a held button is doing.
type press struct {
	down   bool
	button Button
	from   geom.Px // device
	last   geom.Px
	moved  bool // beyond a tremor
	what   pressing
	point  pointRef // being moved
	index  int      // scale point being moved
}

type pressing uint8

const (
	pressNothing pressing = iota
	pressClick            // a click when let go without moving, a pan otherwise
	pressPan
	pressPoint
	pressStroke
	pressBox
	pressMeasure
	pressTick
	pressRing
)

// tremor is how far, in units, a click may move; reach is how near a point must be to be taken hold of.
const (
	tremor = 4
	reach  = 22
)

// Down begins a press.
func (f *facePane) Down(at geom.Px, button Button, m Mods) {
	b, d := f.b, f.b.doc
	f.press = press{down: true, button: button, from: at, last: at, point: noPoint, index: -1}
	if d == nil || b.blank {
		return
	}
	f.lay(d)
	px := d.view.Picture(at)
	p := &f.press
	if button != Primary {
		p.what = pressPan
		return
	}
	p.what = pressClick
	if b.screen == PairingScreen {
		return
	}
	b.hint("", false)
	b.draw.crossing = nil
	switch b.draw.tool {
	case ToolScale:
		if i := f.nearTick(d, at); i >= 0 {
			p.what, p.index = pressTick, i
		}
	case ToolAxes:
		c, radius := f.ringAt()
		if math.Abs(at.Dist(c)-radius) < f.scale*reach {
			p.what = pressRing
		}
	case ToolMeasure:
		b.draw.measure = []geom.Px{px}
		p.what = pressMeasure
		b.changed(SelectionChanged)
	case ToolMask:
		if b.writable() == nil && !f.overMask(d, px) {
			b.draw.box = []geom.Px{px, px}
			p.what = pressBox
		}
	case ToolOutline:
		if b.draw.freehand && len(b.draw.outline) == 0 && !f.takePoint(d, at) {
			b.draw.outline, b.draw.stroking = []geom.Px{px}, true
			p.what = pressStroke
		} else if len(b.draw.outline) == 0 {
			f.takePoint(d, at)
		}
	case ToolPan, ToolName:
		if m.Clicks == 2 && f.insertPoint(d, at) {
			return
		}
		f.takePoint(d, at)
	}
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
	f.press.what, f.press.point = pressPoint, ref
	return true
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
		f.press.what, f.press.point = pressPoint, b.draw.point
		b.changed(SelectionChanged)
		return true
	}
	return false
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

// Drag follows a held button.
func (f *facePane) Drag(at geom.Px) {
	b, d, p := f.b, f.b.doc, &f.press
	if d == nil || !p.down {
		return
	}
	if !p.moved && at.Dist(p.from) < f.scale*tremor {
		return
	}
	p.moved = true
	px := d.view.Picture(at)
	switch p.what {
	case pressClick, pressPan:
		d.view = d.view.Pan(at.X-p.last.X, at.Y-p.last.Y)
		size := d.plate().Photo.Size
		d.view = d.view.Within(float64(size.X), float64(size.Y))
		d.moved = true
		b.changed(ViewChanged | f.scanToo())
	case pressPoint:
		f.movePoint(px)
	case pressStroke:
		o := b.draw.outline
		if d.view.Device(o[len(o)-1]).Dist(at) >= f.scale*2.5 && len(o) < 20000 {
			b.draw.outline = append(o, px)
			b.changed(SelectionChanged)
		}
	case pressBox:
		b.draw.box = []geom.Px{b.draw.box[0], px}
		b.changed(SelectionChanged)
	case pressMeasure:
		b.draw.measure = []geom.Px{b.draw.measure[0], px}
		b.changed(SelectionChanged)
	case pressTick:
		b.moveScalePoint(p.index, px)
	case pressRing:
		f.tellUp(at)
	}
	p.last = at
}

func (f *facePane) scanToo() Change {
	if f.b.screen == PairingScreen {
		return ScanChanged
	}
	return 0
}

// movePoint moves the held point; while the shape cannot stand it follows the hand but is not kept.
func (f *facePane) movePoint(px geom.Px) {
	b, ref := f.b, f.press.point
	_, x, err := b.chosenLabel()
	if err != nil || ref.region >= len(x.Regions) {
		return
	}
	poly, err := x.Regions[ref.region].MovePoint(ref.ring, ref.i, px)
	if err != nil {
		return
	}
	key := "move " + x.ID
	if err = b.reshape(Word("step.point.move"), key, x, ref.region, poly); err != nil {
		b.draw.loose = &poly
		b.refuse(err)
		return
	}
	b.draw.loose, b.draw.crossing = nil, nil
	b.hint("", false)
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

// Up ends a press.
func (f *facePane) Up(at geom.Px) {
	b, d, p := f.b, f.b.doc, f.press
	f.press = press{point: noPoint, index: -1}
	if d == nil || !p.down || b.blank {
		return
	}
	px := d.view.Picture(at)
	switch p.what {
	case pressPoint:
		d.hist.Seal()
		if b.draw.loose != nil {
			b.draw.loose = nil // back to the last shape that stands; the mark stays
			b.changed(SelectionChanged)
		}
	case pressStroke:
		f.endStroke(d)
	case pressBox:
		f.endBox(p)
	case pressMeasure:
		if !p.moved {
			b.draw.measure = nil
		}
		b.changed(SelectionChanged)
	case pressRing:
		if !p.moved {
			f.tellUp(at)
		}
		d.hist.Seal()
	case pressClick:
		if !p.moved {
			f.click(d, at, px)
		}
	}
}

// click is a press let go where it began.
func (f *facePane) click(d *faceDoc, at, px geom.Px) {
	b := f.b
	size := d.plate().Photo.Size
	onPicture := px.X >= -0.5 && px.Y >= -0.5 && px.X <= float64(size.X)-0.5 && px.Y <= float64(size.Y)-0.5
	if !onPicture {
		return
	}
	if b.screen == PairingScreen {
		b.pickFace(px)
		return
	}
	switch b.draw.tool {
	case ToolScale:
		b.scalePoint(px)
	case ToolAxes:
		b.tellSide(px)
	case ToolMask:
		b.removeMask(px)
	case ToolOutline:
		if b.draw.freehand {
			return
		}
		if o := b.draw.outline; len(o) > 2 && d.view.Device(o[0]).Dist(at) < f.scale*reach*0.6 {
			b.CloseOutline()
			return
		}
		if o := b.draw.outline; len(o) > 0 && d.view.Device(o[len(o)-1]).Dist(at) < 1 {
			return // the second half of a double click
		}
		b.draw.outline = append(b.draw.outline, px)
		b.changed(SelectionChanged)
	default:
		id := ""
		if under := d.plate().Labels.Under(px); len(under) > 0 {
			id = under[0].ID
		}
		b.ChooseLabel(id)
	}
}

// endStroke thins a freehand line and closes it.
func (f *facePane) endStroke(d *faceDoc) {
	b := f.b
	b.draw.stroking = false
	ring := annotate.SimplifyLine(b.draw.outline, 1.2*f.scale/d.view.Zoom)
	if n := len(ring); n > 3 && ring[0].Dist(ring[n-1])*d.view.Zoom < f.scale*tremor {
		ring = ring[:n-1]
	}
	if len(ring) < 3 {
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

// Hover follows the pointer with no button held.
func (f *facePane) Hover(at geom.Px) {
	b, d := f.b, f.b.doc
	f.here = &at
	if d == nil || b.blank {
		return
	}
	f.lay(d)
	px := d.view.Picture(at)
	if b.screen == PairingScreen {
		b.pointFace(px)
		if b.held["Space"] {
			b.changed(ViewChanged)
		}
		return
	}
	if len(b.draw.outline) > 0 && !b.draw.freehand {
		b.changed(SelectionChanged)
		return
	}
	id := ""
	if b.draw.tool == ToolPan || b.draw.tool == ToolName {
		if under := d.plate().Labels.Under(px); len(under) > 0 {
			id = under[0].ID
		}
	}
	if id != b.draw.hovered {
		b.draw.hovered = id
		b.changed(SelectionChanged)
	}
}

// Leave follows the pointer out of the pane.
func (f *facePane) Leave() {
	f.here = nil
	if f.b.draw.hovered != "" {
		f.b.draw.hovered = ""
		f.b.changed(SelectionChanged)
	}
	f.b.pointNowhere()
}

// Wheel comes nearer or goes further, about the pointer.
func (f *facePane) Wheel(at geom.Px, notches float64, m Mods) {
	d := f.b.doc
	if d == nil || f.b.blank {
		return
	}
	f.lay(d)
	d.view = d.view.ZoomAt(at, math.Pow(1.25, notches), f.leastZoom(d), mostZoom)
	d.moved = true
	f.b.changed(ViewChanged | f.scanToo())
}

// Cursor is the shape of the pointer.
func (f *facePane) Cursor() Cursor {
	b := f.b
	switch {
	case b.doc == nil || b.blank:
		return Default
	case f.press.down && (f.press.what == pressPan || f.press.what == pressClick && f.press.moved):
		return Grab
	case b.screen == PairingScreen:
		return Cross
	}
	switch b.draw.tool {
	case ToolPan, ToolName:
		return Default
	case ToolAxes:
		return Hand
	}
	return Cross
}

// FitView lets the whole face be seen again.
func (b *Bench) FitView() {
	if b.doc != nil {
		b.doc.moved = false
	}
	b.pair.moved = false
	b.changed(ViewChanged | ScanChanged)
}

// ZoomBy comes nearer (above 1) or goes further about the middle of the face.
func (b *Bench) ZoomBy(factor float64) {
	f, d := b.face, b.doc
	if d == nil || f.w == 0 {
		return
	}
	f.lay(d)
	d.view = d.view.ZoomAt(d.view.middle(), factor, f.leastZoom(d), mostZoom)
	d.moved = true
	b.changed(ViewChanged | ScanChanged)
}
