package bench

import (
	"image"
	"image/color"
	"math"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/section"
)

// scanPane is the cut of the scan beside the face, shown at the same turn, mirror and scale.
type scanPane struct {
	b      *Bench
	w, h   int
	scale  float64
	in     image.Rectangle
	part   image.RGBA
	cut    cutter
	press  press
	window bool // the held button changes the window

	ring    []geom.Px // of an outline carried from the face
	carries bool      // outlines are shown
}

// ScanPane is the cut of the scan beside the face.
func (b *Bench) ScanPane() Pane { return b.scan }

// Resize tells the size in device pixels and how many of them make one unit.
func (s *scanPane) Resize(w, h int, scale float64) {
	if scale <= 0 {
		scale = 1
	}
	s.w, s.h, s.scale = w, h, scale
	s.in = frameOf(w, h, scale)
}

// Wants reports whether the scan must be painted again.
func (s *scanPane) Wants(c Change) bool {
	return c&(ScreenChanged|ScanChanged|PlateChanged|ViewChanged) != 0
}

// mmView is the view of a document as a map from mm of the honest face to device pixels of rect, at the same scale
// and about the same place as the face pane shows it. ok is false without a scale or without letters.
func (b *Bench) mmView(d *faceDoc, rect image.Rectangle) (v Viewport, ok bool) {
	if d == nil || b.face.w == 0 || !lettersKnown(d.plate()) {
		return v, false
	}
	h, ok := faceMM(d.plate())
	if !ok {
		return v, false
	}
	b.face.lay(d)
	v = Viewport{X: rect.Min.X, Y: rect.Min.Y, W: rect.Dx(), H: rect.Dy()}
	v.Turns, v.Mirror, _ = section.Turn(d.plate().Face.Facing, d.plate().PhotoUp, b.draw.view)
	m := h.MM(d.view.Centre)
	v.Centre = geom.Px{X: m.X, Y: m.Y}
	j := h.Jacobian(d.view.Centre)
	size := math.Sqrt(math.Abs(j[0]*j[3] - j[1]*j[2]))
	v.Zoom = d.view.Zoom / size
	return v, size > 0 && !math.IsInf(v.Zoom, 0)
}

// viewport is how the cut is shown: with the face when both have one scale, else by itself.
func (s *scanPane) viewport(pose geom.Pose) (v Viewport, linked bool) {
	b := s.b
	if v, ok := b.mmView(b.doc, s.in); ok {
		return v, true
	}
	v = b.pair.view
	v.X, v.Y, v.W, v.H = s.in.Min.X, s.in.Min.Y, s.in.Dx(), s.in.Dy()
	f := b.Face().Facing
	p, _ := b.Plate()
	_, up := honestFacing(p)
	if up == section.UnknownFacing {
		up = usualUp(f)
	}
	v.Turns, v.Mirror, _ = section.Turn(f, up, b.draw.view)
	if !b.pair.moved || v.Zoom == 0 {
		lo, hi := b.extent(pose)
		v = v.Fit(hi.X-lo.X, hi.Y-lo.Y)
		v.Centre = geom.Px{X: (lo.X + hi.X) / 2, Y: (lo.Y + hi.Y) / 2}
	}
	b.pair.view = v
	return v, false
}

// extent is the box of the scan seen along the pose, in mm of the face.
func (b *Bench) extent(pose geom.Pose) (lo, hi geom.MM) {
	s, _ := b.series()
	lo, hi = geom.MM{X: math.Inf(1), Y: math.Inf(1)}, geom.MM{X: math.Inf(-1), Y: math.Inf(-1)}
	for i := range 8 {
		at := geom.IJK{I: float64(i&1) * float64(s.Size[0]-1), J: float64(i>>1&1) * float64(s.Size[1]-1), K: float64(i>>2) * float64(s.Size[2]-1)}
		m, _ := pose.Project(s.ToLPS.LPS(at))
		lo = geom.MM{X: math.Min(lo.X, m.X), Y: math.Min(lo.Y, m.Y)}
		hi = geom.MM{X: math.Max(hi.X, m.X), Y: math.Max(hi.Y, m.Y)}
	}
	return lo, hi
}

// scanEdges are the letters round the cut: from the directions of the pose as shown, "?" for a scan without sides.
func (s *scanPane) scanEdges(pose geom.Pose, v Viewport) section.Edges {
	if s.b.pair.volume == nil || s.b.pair.volume.Unoriented {
		return section.UnknownEdges
	}
	k := displayPose(pose, v, s.in)
	return section.EdgesOf(k.pose.X, k.pose.Y)
}

// Paint fills dst.
func (s *scanPane) Paint(dst *image.RGBA) {
	if s.w != dst.Rect.Dx() || s.h != dst.Rect.Dy() {
		s.Resize(dst.Rect.Dx(), dst.Rect.Dy(), s.scale)
	}
	b := s.b
	ink.FillRect(dst, dst.Rect, b.pal.Surround)
	if b.blank {
		return
	}
	r := b.brush(dst, s.scale)
	pose, _, ok := b.cutPose()
	if !ok || b.pair.volume == nil {
		words := Word("pair.noscan")
		if ok {
			words = Word("scan.reading")
		}
		r.block(r.font, s.in, 15, b.pal.OnDark, words)
		r.frame(s.in, section.UnknownEdges)
		return
	}
	v, _ := s.viewport(pose)
	s.part = image.RGBA{Pix: dst.Pix[dst.PixOffset(s.in.Min.X, s.in.Min.Y):], Stride: dst.Stride, Rect: s.in}
	s.cut.paint(&s.part, b.pair.volume, pose, v, b.pair.window, rgb(0x1b1a19))
	s.paintSigns(r.on(&s.part), pose, v)
	e := s.scanEdges(pose, v)
	r.frame(s.in, e)
	r.directions(s.in, b.Run(), e)
}

// paintSigns draws landmarks, scale bar and words over the cut.
func (s *scanPane) paintSigns(r brush, pose geom.Pose, v Viewport) {
	b := s.b
	s.carries = false
	s.paintCarried(r, v)
	suspects := map[int]bool{}
	for _, row := range b.TieRows() {
		suspects[row.N] = row.Suspect
	}
	ties := b.ties()
	for i, t := range ties {
		if b.pair.step != 0 {
			break // off the face its landmarks lie elsewhere
		}
		m, _ := pose.Project(t.Scan)
		r.tie(v.Device(geom.Px{X: m.X, Y: m.Y}), i+1, suspects[i+1])
	}
	if h := b.pair.half.scan; h != nil {
		m, _ := pose.Project(*h)
		r.tie(v.Device(geom.Px{X: m.X, Y: m.Y}), len(ties)+1, false)
	}
	s.paintMeasure(r, pose, v)
	s.paintNotes(r, r.scaleBar(s.in, v.Zoom/pose.Scale))
}

// paintNotes writes what the cut is above it, like words on a line, and how it is shown below it beside the bar: a low pane keeps its
// middle free.
func (s *scanPane) paintNotes(r brush, bar image.Rectangle) {
	b := s.b
	left := s.in.Min.X + r.n(8)
	x, y := left, s.in.Min.Y+r.n(8)
	note := func(c color.RGBA, words string) {
		w, h := r.plateSize(words)
		if x > left && x+w > s.in.Max.X-r.n(8) {
			x, y = left, y+h+r.n(4)
		}
		x = r.plate(x, y, c, dark(), words).Max.X + r.n(4)
	}
	if b.lab.donors[b.Run().Donor].Synthetic {
		note(r.pal.OnDark, Word("synthetic.scan"))
	}
	if b.pair.step != 0 {
		note(r.pal.OnDark, b.offFaceWords())
		if words := b.unseenHere(); words != "" {
			note(r.pal.OnDark, words)
		}
	}
	if s.carries {
		note(r.pal.OnDarkLo, Word("carry.oncut"))
	}
	caution := Word("caution")
	w, h := r.plateSize(caution)
	low := s.in.Max.Y - r.n(8) - h
	if left+w+r.n(4) > bar.Min.X {
		low = bar.Min.Y - r.n(4) - h // beside the bar there is no room
	}
	r.plate(left, low, r.pal.OnDark, dark(), caution)
	window := Word("scan.window", b.pair.window.Width, b.pair.window.Centre)
	if w, _ := r.plateSize(window); x+w > s.in.Max.X-r.n(8) {
		x, y = left, low-r.n(4)-h // no room left on the line above
	}
	r.plate(x, y, r.pal.OnDarkLo, dark(), window)
}

// at returns the face mm under device point p.
func (s *scanPane) at(p geom.Px) (geom.MM, geom.Pose, bool) {
	pose, _, ok := s.b.cutPose()
	if !ok || s.b.pair.volume == nil || s.w == 0 {
		return geom.MM{}, pose, false
	}
	v, _ := s.viewport(pose)
	q := v.Picture(p)
	return geom.MM{X: q.X, Y: q.Y}, pose, true
}

// Down begins a press.
func (s *scanPane) Down(at geom.Px, button Button, m Mods) {
	s.press = press{down: true, button: button, from: at, last: at, what: pressClick}
	s.window = s.b.held["W"] || button == Secondary
}

// Drag follows a held button: it pans, or with W held changes the window: across its width, up and down its level.
func (s *scanPane) Drag(at geom.Px) {
	b, p := s.b, &s.press
	if !p.down || (!p.moved && at.Dist(p.from) < s.scale*tremor) {
		return
	}
	p.moved = true
	dx, dy := at.X-p.last.X, at.Y-p.last.Y
	p.last = at
	if s.window {
		w := b.pair.window
		w.Centre += dy / s.scale * math.Max(w.Width, 1) / 300
		w.Width *= math.Exp(dx / s.scale / 200)
		b.SetWindow(w)
		return
	}
	_, pose, ok := s.at(at)
	if !ok {
		return
	}
	v, linked := s.viewport(pose)
	if linked {
		b.doc.view, b.doc.moved = b.doc.view.Pan(dx, dy), true
	} else {
		b.pair.view, b.pair.moved = v.Pan(dx, dy), true
	}
	b.changed(ScanChanged | ViewChanged)
}

// Up ends a press; one that did not move is a landmark.
func (s *scanPane) Up(at geom.Px) {
	p := s.press
	s.press, s.window = press{}, false
	if !p.down || p.moved || p.button != Primary || s.b.blank {
		return
	}
	m, pose, ok := s.at(at)
	if !ok || !image.Pt(int(at.X), int(at.Y)).In(s.in) {
		return
	}
	where := pose.At(m)
	if v := s.b.pair.volume.Sample(where); math.IsNaN(v) {
		s.b.hint(Word("scan.outside"), true)
		return
	}
	if s.b.pair.measure.on {
		s.measurePoint(m, pose)
		return
	}
	s.b.pickScan(where)
}

// Hover follows the pointer.
func (s *scanPane) Hover(at geom.Px) {
	if m, _, ok := s.at(at); ok && !s.b.blank {
		m = s.b.bentHere().back(m)
		s.b.pointAt(&m, true)
	}
}

// Leave follows the pointer out of the pane.
func (s *scanPane) Leave() { s.b.pointNowhere() }

// Wheel comes nearer or goes further, about the pointer.
func (s *scanPane) Wheel(at geom.Px, notches float64, m Mods) {
	_, pose, ok := s.at(at)
	if !ok || s.b.blank {
		return
	}
	b := s.b
	v, linked := s.viewport(pose)
	if linked { // the same step from the middle, on the face
		c, o := v.middle(), b.doc.view.middle()
		b.face.Wheel(geom.Px{X: o.X + at.X - c.X, Y: o.Y + at.Y - c.Y}, notches, m)
		return
	}
	b.pair.view, b.pair.moved = v.ZoomAt(at, math.Pow(1.25, notches), v.Zoom/4, 64), true
	b.changed(ScanChanged)
}

// Cursor is the shape of the pointer.
func (s *scanPane) Cursor() Cursor {
	switch {
	case s.b.pair.volume == nil || s.b.blank:
		return Default
	case s.press.down && s.press.moved:
		return Grab
	}
	return Cross
}

// Pointer is the place on the scan of the pointer over the face.
func (s *scanPane) Pointer() (at geom.Px, radius float64, ok bool) {
	b := s.b
	if b.pair.where == nil || b.pair.fromScan {
		return
	}
	pose, _, has := b.cutPose()
	if !has || b.pair.volume == nil || s.w == 0 {
		return
	}
	v, linked := s.viewport(pose)
	if !linked {
		return
	}
	face := *b.pair.where
	m := b.bentHere().flat(face)
	at = v.Device(geom.Px{X: m.X, Y: m.Y})
	if !image.Pt(int(math.Round(at.X)), int(math.Round(at.Y))).In(s.in) || math.IsNaN(b.pair.volume.Sample(pose.At(m))) {
		return at, 0, false
	}
	return at, b.errorRadius(face, v.Zoom/pose.Scale), true
}

// Pointer is the place on the face of the pointer over the scan.
func (f *facePane) Pointer() (at geom.Px, radius float64, ok bool) {
	b := f.b
	if b.pair.where == nil || !b.pair.fromScan || b.doc == nil || b.screen != PairingScreen {
		return
	}
	h, has := faceMM(b.doc.plate())
	if _, linked := b.mmView(b.doc, f.in); !has || !linked {
		return
	}
	px := h.Px(*b.pair.where)
	size := b.doc.plate().Photo.Size
	if !(px.X >= 0 && px.Y >= 0 && px.X <= float64(size.X) && px.Y <= float64(size.Y)) {
		return
	}
	at = b.doc.view.Device(px)
	if !image.Pt(int(math.Round(at.X)), int(math.Round(at.Y))).In(f.in) {
		return at, 0, false
	}
	return at, b.errorRadius(*b.pair.where, f.perMM(b.doc)), true
}

// errorRadius is the expected error at a place of the face in device pixels, 0 where the landmarks cannot tell.
func (b *Bench) errorRadius(m geom.MM, perMM float64) float64 {
	r := b.kept()
	if r == nil {
		return 0
	}
	p, _ := b.Plate()
	f, ok := frameOfFace(p)
	if !ok {
		return 0
	}
	if e := r.ErrorAt(f.face(m)); !math.IsNaN(e) {
		return e * perMM
	}
	return 0
}

// pointFace notes where the pointer is on the face.
func (b *Bench) pointFace(px geom.Px) {
	p, _ := b.Plate()
	if h, ok := faceMM(p); ok {
		m := h.MM(px)
		b.pointAt(&m, false)
	}
}

func (b *Bench) pointAt(m *geom.MM, fromScan bool) {
	b.pair.where, b.pair.fromScan = m, fromScan
	b.changed(PointerChanged)
}

func (b *Bench) pointNowhere() {
	if b.pair.where != nil {
		b.pair.where = nil
		b.changed(PointerChanged)
	}
}

// askSameBody asks whose scan was taken in.
func (b *Bench) askSameBody() {
	if b.pair.series == "" || b.pair.tied.SameBody {
		return
	}
	b.say(Message{Title: Word("body.ask"), Hint: Word("body.ask.hint"), Choices: []Choice{
		{Word("body.same"), func() { b.SetSameBody(true) }},
		{Word("body.other"), func() { b.SetSameBody(false) }},
	}})
}
