package bench

import (
	"image"
	"image/color"
	"math"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// againPane is one of two pictures of a face side by side: the earlier on the left, the later on the right.
type againPane struct {
	b     *Bench
	old   bool
	w, h  int
	scale float64
	in    image.Rectangle

	view  Viewport
	moved bool
	press press
	tie   int // the tie whose mark is held, -1 for none
}

// AgainOldPane is the earlier picture.
func (b *Bench) AgainOldPane() Pane { return b.againOld }

// AgainNowPane is the later picture.
func (b *Bench) AgainNowPane() Pane { return b.againNow }

func (f *againPane) reset() { f.view, f.moved, f.press, f.tie = Viewport{}, false, press{}, -1 }

// Resize tells the size in device pixels and how many of them make one unit.
func (f *againPane) Resize(w, h int, scale float64) {
	if scale <= 0 {
		scale = 1
	}
	f.w, f.h, f.scale, f.in = w, h, scale, frameOf(w, h, scale)
}

// Wants reports whether the picture must be painted again.
func (f *againPane) Wants(c Change) bool {
	return c&(ScreenChanged|PlateChanged|ViewChanged|SelectionChanged) != 0
}

// shown is the plate on this side as its outlines are drawn, and its picture; preview says that they only would come over.
func (f *againPane) shown() (p atlas.Plate, m *photo.Image, preview bool) {
	a := &f.b.again
	switch {
	case f.old:
		return a.old, a.was, false
	case a.laying && a.fault == nil:
		return a.found.New, a.is, true
	}
	return a.next, a.is, false
}

func (f *againPane) size() image.Point {
	p, _, _ := f.shown()
	return p.Photo.Size
}

func (f *againPane) lay() {
	v := &f.view
	v.X, v.Y, v.W, v.H = f.in.Min.X, f.in.Min.Y, f.in.Dx(), f.in.Dy()
	if s := f.size(); (!f.moved || v.Zoom == 0) && s.X > 0 {
		*v = v.Fit(float64(s.X), float64(s.Y))
	}
}

// Paint fills dst.
func (f *againPane) Paint(dst *image.RGBA) {
	if f.w != dst.Rect.Dx() || f.h != dst.Rect.Dy() {
		f.Resize(dst.Rect.Dx(), dst.Rect.Dy(), f.scale)
	}
	b := f.b
	ink.FillRect(dst, dst.Rect, b.pal.Surround)
	if b.blank {
		return
	}
	r := b.brush(dst, f.scale)
	p, m, preview := f.shown()
	if p.Photo.Size.X == 0 {
		return
	}
	f.lay()
	part := &image.RGBA{Pix: dst.Pix[dst.PixOffset(f.in.Min.X, f.in.Min.Y):], Stride: dst.Stride, Rect: f.in}
	in := r.on(part)
	if m != nil {
		m.Draw(part, toStored(f.view.Inverse(), p.Photo.Size, m.Size()))
	}
	if !b.again.hidden && (f.old || preview || !b.again.laying) {
		f.outlines(in, p)
	}
	f.marks(in)
	f.captions(in, p, m)
	e := p.PhotoEdges()
	if f.view.Turns&3 != 0 {
		e = turnedEdges(e, f.view.Turns)
	}
	r.frame(f.in, e)
}

// turnedEdges are the letters round a picture turned by quarters clockwise.
func turnedEdges(e section.Edges, turns int) section.Edges {
	for range turns & 3 {
		e.Up, e.Right, e.Down, e.Left = e.Left, e.Up, e.Right, e.Down
	}
	return e
}

// outlines draws border, labels and tag masks; what is to be looked at is dashed and in the colour of what needs attention.
func (f *againPane) outlines(r brush, p atlas.Plate) {
	doubt := map[string]bool{}
	for _, x := range p.LookAgain() {
		doubt[string(x.Part)+x.Label] = true
	}
	warn := rgb(0xff9d6e)
	stroke := func(x annotate.Polygon, c color.RGBA, width float64, dash []float64) {
		for n := range x.Rings() {
			ring := f.view.devices(x.Ring(n))
			ink.Stroke(r.dst, ring, true, r.u(width+2), ink.Fade(color.RGBA{0, 0, 0, 255}, 0.4), dash)
			ink.Stroke(r.dst, ring, true, r.u(width), c, dash)
		}
	}
	dashes := []float64{r.u(7), r.u(5)}
	for _, x := range p.Border {
		c, dash := r.pal.OnDarkLo, []float64{r.u(2), r.u(4)}
		if doubt[string(atlas.OnBorder)] {
			c, dash = warn, dashes
		}
		stroke(x, c, 1.2, dash)
	}
	for x := range p.Labels.All() {
		c, dash := r.pal.Outline, []float64(nil)
		if doubt[string(atlas.OnLabel)+x.ID] {
			c, dash = warn, dashes
		}
		for _, region := range x.Regions {
			stroke(region, c, 1.4, dash)
		}
	}
	for _, x := range p.Mask {
		ring := f.view.devices(x.Outer)
		ink.Fill(r.dst, [][]geom.Px{ring}, ink.Fade(rgb(0x3a3835), 0.6))
		ink.Hatch(r.dst, [][]geom.Px{ring}, ink.Rising, r.u(12), ink.Fade(r.pal.OnDarkLo, 0.3))
		stroke(x, r.pal.OnDarkLo, 1, nil)
	}
}

// marks draws the ties with their numbers, the half of one, where its other half would lie, and proposed ties.
func (f *againPane) marks(r brush) {
	a := &f.b.again
	off := map[int]bool{}
	for _, row := range a.rows() {
		off[row.N] = row.LeftOut || row.MM > annotate.LookAgainMM
	}
	for i, t := range a.ties {
		r.tie(f.view.Device(f.end(t)), i+1, off[i+1])
	}
	mine, other := a.half.old, a.half.now
	if !f.old {
		mine, other = other, mine
	}
	if mine != nil {
		r.tie(f.view.Device(*mine), len(a.ties)+1, false)
	} else if other != nil && a.laying && a.fault == nil {
		there := a.found.Fit.At(*other)
		if f.old {
			there = geom.Px(a.found.Fit.Map.Inverse().MM(*other))
		}
		ink.Ring(r.dst, f.view.Device(there), r.u(18), r.u(1.4), r.pal.ChosenOnDark)
	}
	for _, o := range a.offers {
		q := o.New
		if f.old {
			q = o.Old
		}
		at := f.view.Device(q)
		ink.Ring(r.dst, at, r.u(9), r.u(3.4), ink.Fade(color.RGBA{0, 0, 0, 255}, 0.55))
		ink.Ring(r.dst, at, r.u(9), r.u(1.6), r.pal.OnDark)
		r.tag(at, "?", r.pal.OnDark)
	}
}

// end is the end of a tie on this side.
func (f *againPane) end(t annotate.PictureTie) geom.Px {
	if f.old {
		return t.Old
	}
	return t.New
}

func (f *againPane) captions(r brush, p atlas.Plate, m *photo.Image) {
	a := &f.b.again
	head := Word("again.pane.now")
	switch {
	case f.old && a.laying:
		head = Word("again.pane.old")
	case f.old:
		head = Word("again.pane.earlier")
	case a.laying:
		head = Word("again.pane.new")
	}
	y := r.note(f.in, f.in.Min.Y+r.n(8), r.pal.OnDark, head+"  "+photographed(p))
	if p.Synthetic || a.old.Synthetic {
		y = r.note(f.in, y, r.pal.OnDark, Word("synthetic"))
	}
	if m == nil || m.Size() != p.Photo.Size {
		r.note(f.in, y, r.pal.OnDarkLo, Word("face.reading"))
	}
	r.scaleBar(f.in, f.perMM(p))
}

func (f *againPane) perMM(p atlas.Plate) float64 {
	if p.Calibration.Status == photo.Nominal {
		return 0
	}
	x, y := p.Calibration.PerPixel(f.view.Centre)
	if mm := math.Sqrt(x * y); mm > 0 {
		return f.view.Zoom / mm
	}
	return 0
}

// Down begins a press: on the mark of a tie it takes hold of it.
func (f *againPane) Down(at geom.Px, button Button, m Mods) {
	f.press, f.tie = press{down: true, button: button, from: at, last: at, what: pressPan}, -1
	if f.b.blank || f.size().X == 0 {
		return
	}
	f.lay()
	if button != Primary || !f.b.again.laying {
		return
	}
	f.press.what = pressClick
	for i, t := range f.b.again.ties {
		if f.view.Device(f.end(t)).Dist(at) < f.scale*reach/2 {
			f.tie = i
		}
	}
}

// Drag pans, or moves a tie.
func (f *againPane) Drag(at geom.Px) {
	p := &f.press
	s := f.size()
	if !p.down || s.X == 0 || (!p.moved && at.Dist(p.from) < f.scale*tremor) {
		return
	}
	p.moved = true
	if f.tie >= 0 {
		if px := f.view.Picture(at); f.on(px) {
			f.b.moveAgain(f.tie, f.old, px)
		}
	} else {
		f.view = f.view.Pan(at.X-p.last.X, at.Y-p.last.Y).Within(float64(s.X), float64(s.Y))
		f.moved = true
		f.b.changed(ViewChanged)
	}
	p.last = at
}

// Up ends a press; one that did not move makes half a tie.
func (f *againPane) Up(at geom.Px) {
	p := f.press
	f.press = press{}
	if !p.down || p.moved || p.what != pressClick || f.tie >= 0 || f.b.blank {
		return
	}
	if px := f.view.Picture(at); f.on(px) {
		f.b.pickAgain(f.old, px)
	}
}

// on reports whether a place lies on the picture.
func (f *againPane) on(px geom.Px) bool {
	s := f.size()
	return px.X >= -0.5 && px.Y >= -0.5 && px.X <= float64(s.X)-0.5 && px.Y <= float64(s.Y)-0.5
}

// Hover has nothing to show.
func (f *againPane) Hover(at geom.Px) {}

// Leave has nothing to take away.
func (f *againPane) Leave() {}

// Wheel comes nearer or goes further about the pointer.
func (f *againPane) Wheel(at geom.Px, notches float64, m Mods) {
	s := f.size()
	if s.X == 0 {
		return
	}
	f.lay()
	least := f.view.Fit(float64(s.X), float64(s.Y)).Zoom / 2
	f.view = f.view.ZoomAt(at, math.Pow(1.25, notches), least, mostZoom)
	f.moved = true
	f.b.changed(ViewChanged)
}

// Cursor is the shape of the pointer.
func (f *againPane) Cursor() Cursor {
	switch {
	case f.press.down && f.press.moved:
		return Grab
	case f.b.again.laying:
		return Cross
	}
	return Default
}

// Pointer is none.
func (f *againPane) Pointer() (at geom.Px, radius float64, ok bool) { return }
