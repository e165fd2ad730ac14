package bench

import (
	"math"

	"sectionary/annotate"
	"sectionary/slices/geom"
)

// press is what a held button is doing.
type press struct {
	down   bool
	button Button
	from   geom.Px // device
	last   geom.Px
	moved  bool // beyond a tremor
	what   pressing
	point  pointRef        // being moved
	labels annotate.Labels // as they were when it was taken hold of
	held   geom.Px         // where it was then
	index  int             // scale point being moved
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
	pressEdge  // a point of the face's border
	pressPiece // a piece of it, drawn by hand
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
	if d == nil || b.blank || b.sheetShown() != nil {
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
	case ToolBorder:
		f.downBorder(d, at, px, m)
	case ToolMeasure:
		if b.draw.measure.kind == MeasureLength {
			b.draw.measure.at, b.draw.measure.whole = []geom.Px{px}, false
			p.what = pressMeasure
			b.changed(SelectionChanged)
		}
	case ToolMask:
		if b.writable() == nil && !f.overMask(d, px) {
			b.draw.box = []geom.Px{px, px}
			p.what = pressBox
		}
	case ToolOutline:
		if b.draw.manner == ByFreehand && len(b.draw.outline) == 0 && !f.takePoint(d, at) {
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
	if b.sheetShown() != nil {
		f.panSheet(at.X-p.last.X, at.Y-p.last.Y)
		p.last = at
		return
	}
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
		b.draw.measure.at, b.draw.measure.whole = []geom.Px{b.draw.measure.at[0], px}, true
		b.changed(SelectionChanged)
	case pressTick:
		b.moveScalePoint(p.index, px)
	case pressRing:
		f.tellUp(at)
	case pressEdge, pressPiece:
		f.dragBorder(d, at, px)
	}
	p.last = at
}

func (f *facePane) scanToo() Change {
	if f.b.screen == PairingScreen {
		return ScanChanged
	}
	return 0
}

// Up ends a press.
func (f *facePane) Up(at geom.Px) {
	b, d, p := f.b, f.b.doc, f.press
	f.press = press{point: noPoint, index: -1}
	if d == nil || !p.down || b.blank || b.sheetShown() != nil {
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
	case pressEdge, pressPiece:
		f.upBorder(d, p.what, p.moved)
	case pressMeasure:
		if !p.moved {
			b.draw.measure.drop()
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
	case ToolColour:
		b.colourPoint(px)
	case ToolMeasure:
		f.measurePoint(px)
	case ToolAxes:
		b.tellSide(px)
	case ToolMask:
		b.removeMask(px)
	case ToolOutline:
		if b.draw.manner != ByFreehand {
			f.setPoint(px)
		}
	default:
		id := ""
		if under := d.plate().Labels.Under(px); len(under) > 0 {
			id = under[0].ID
		}
		b.ChooseLabel(id)
	}
}

// Hover follows the pointer with no button held.
func (f *facePane) Hover(at geom.Px) {
	b, d := f.b, f.b.doc
	was := f.overSmall(f.here)
	f.here = &at
	if f.overSmall(&at) != was {
		b.changed(ViewChanged)
	}
	b.draw.cursor = nil
	if d == nil || b.blank {
		return
	}
	f.lay(d)
	px := d.view.Picture(at)
	if b.screen == PairingScreen {
		b.pointFace(px)
		if b.held["Space"] || b.held["D"] {
			b.changed(ViewChanged)
		}
		return
	}
	if b.draw.measure.open() {
		b.changed(SelectionChanged)
		return
	}
	if len(b.draw.outline) > 0 && b.draw.manner != ByFreehand {
		b.lookAhead(px)
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
	if f.b.sheetShown() != nil {
		f.zoomSheet(at, math.Pow(1.25, notches))
		return
	}
	if f.b.held["D"] {
		f.b.TurnSeam(seamStep * notches)
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
