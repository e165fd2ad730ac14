package bench

import (
	"image"
	"image/color"
	"math"
	"strconv"
	"strings"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// paintSigns draws all that lies over photograph and outlines, inside the frame.
func (f *facePane) paintSigns(r brush, d *faceDoc) {
	b := f.b
	v := d.view
	f.paintHandles(r, d)
	f.paintDraft(r, v)
	f.paintProposed(r, d)
	f.paintEdge(r, d)
	f.paintGlare(r, d)
	if b.draw.tool == ToolScale && b.screen == FaceScreen {
		f.paintTicks(r, v, d.plate().Calibration)
	}
	if b.draw.tool == ToolColour && b.screen == FaceScreen {
		f.paintPatches(r, v)
	}
	if b.screen == PairingScreen && !b.offFace() { // off the face its landmarks lie elsewhere
		f.paintTies(r, v, b.ties())
	}
	if b.draw.marks && b.draw.tool == ToolPan && b.screen == FaceScreen {
		f.paintMarks(r, d)
	}
	f.paintMeasure(r, v)
	f.paintCursor(r, v)
	if at := b.draw.crossing; at != nil {
		p := v.Device(*at)
		ink.Ring(r.dst, p, r.u(13), r.u(5), ink.Fade(color.RGBA{0, 0, 0, 255}, 0.6))
		ink.Ring(r.dst, p, r.u(13), r.u(2.5), rgb(0xff8a5c))
	}
	if b.draw.tool == ToolAxes && b.screen == FaceScreen {
		f.paintRing(r, d)
	}
	bar := r.scaleBar(f.in, f.perMM(d))
	if box, ok := f.sketchBox(r, d, bar); ok {
		r.sketch(box, b.Run(), b.Face())
	}
	y := f.in.Min.Y + r.n(8)
	note := func(c color.RGBA, s string) {
		y = r.plate(f.in.Min.X+r.n(8), y, c, dark(), s).Max.Y + r.n(4)
	}
	if d.plate().Synthetic {
		note(r.pal.OnDark, Word("synthetic"))
	}
	if b.correction(d.plate()) != nil {
		note(r.pal.OnDark, Word("band.colour"))
	}
	if n := d.plate().Photo.Pages; n > 1 && b.screen == FaceScreen {
		note(r.pal.OnDarkLo, Word("band.pages", n))
	}
	if name := d.plate().Photo.Unused; name != "" && b.screen == FaceScreen {
		note(r.pal.OnDarkLo, Word("band.unused", name))
	}
	if b.draw.tool != ToolAxes && b.MirroredShown() {
		note(rgb(0xffc48f), Word("band.mirrored"))
	}
	if d.picture == nil || !d.whole {
		note(r.pal.OnDarkLo, Word("face.reading"))
	}
}

// sketchBox is where the small body stands: nowhere while a scale, a card, a tag or the border is in hand, for it would hide what is looked
// for; else in the lower left corner, or above the scale bar where the lower left would hide a tick of the scale or a landmark, or nowhere. It steps
// aside for the pointer, for what lies beneath may be what is being read.
func (f *facePane) sketchBox(r brush, d *faceDoc, bar image.Rectangle) (image.Rectangle, bool) {
	f.small = image.Rectangle{}
	if t := f.b.draw.tool; f.b.screen == FaceScreen && (t == ToolScale || t == ToolColour || t == ToolMask || t == ToolBorder) {
		return f.small, false
	}
	w, h := r.sketchSize(f.in)
	left := image.Rect(f.in.Min.X+r.n(8), f.in.Max.Y-h-r.n(8), f.in.Min.X+r.n(8)+w, f.in.Max.Y-r.n(8))
	right := image.Rect(f.in.Max.X-w-r.n(8), bar.Min.Y-h-r.n(8), f.in.Max.X-r.n(8), bar.Min.Y-r.n(8))
	for _, box := range []image.Rectangle{left, right} {
		if (box == left || !bar.Empty()) && !f.hides(box, r.n(30), d) {
			f.small = box
			return box, !f.overSmall(f.here)
		}
	}
	return f.small, false
}

// hides reports whether a tick of the scale, or a landmark where landmarks are shown, lies in box.
// A landmark has its number beside it, within reach pixels.
func (f *facePane) hides(box image.Rectangle, reach int, d *faceDoc) bool {
	in := func(box image.Rectangle, p geom.Px) bool {
		at := d.view.Device(p)
		return image.Pt(int(at.X), int(at.Y)).In(box)
	}
	for _, t := range d.plate().Calibration.Ties {
		if in(box, t.Px) {
			return true
		}
	}
	if f.b.screen == PairingScreen {
		for _, t := range f.b.ties() {
			if in(box.Inset(-reach), t.Face) {
				return true
			}
		}
	}
	return false
}

// overSmall tells whether a point of the pane lies over the small body.
func (f *facePane) overSmall(at *geom.Px) bool {
	return at != nil && (image.Point{X: int(at.X), Y: int(at.Y)}).In(f.small)
}

// paintMasks covers tags as they will be covered in every hand-out; with the mask tool in hand one can see beneath.
func (f *facePane) paintMasks(r brush, d *faceDoc) {
	opacity := 1.0
	if f.b.draw.tool == ToolMask {
		opacity = 0.55
	}
	draw := func(p annotate.Polygon) {
		ring := d.view.devices(p.Outer)
		rings := [][]geom.Px{ring}
		ink.Fill(r.dst, rings, ink.Fade(rgb(0x3a3835), opacity))
		ink.Hatch(r.dst, rings, ink.Rising, r.u(12), ink.Fade(r.pal.OnDarkLo, 0.25))
		ink.Stroke(r.dst, ring, true, r.u(1), r.pal.OnDarkLo, nil)
	}
	for _, p := range d.plate().Mask {
		draw(p)
	}
	if box := f.b.draw.box; len(box) == 2 {
		draw(boxPolygon(box[0], box[1]))
	}
}

// boxPolygon is the upright box between two corners.
func boxPolygon(a, z geom.Px) annotate.Polygon {
	return annotate.Polygon{Outer: []geom.Px{a, {X: z.X, Y: a.Y}, z, {X: a.X, Y: z.Y}}}
}

// mostGrid bounds the lines of the grid, so that a tiny scale cannot freeze the pane.
const mostGrid = 200

// paintGrid draws a line every 10 mm of the face.
func (f *facePane) paintGrid(r brush, d *faceDoc) {
	c := d.plate().Calibration
	if c.Status == photo.Nominal {
		return
	}
	size := d.plate().Photo.Size
	var x0, x1, y0, y1 = math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, p := range [4]geom.Px{{}, {X: float64(size.X)}, {X: float64(size.X), Y: float64(size.Y)}, {Y: float64(size.Y)}} {
		m := c.MM(p)
		x0, x1, y0, y1 = math.Min(x0, m.X), math.Max(x1, m.X), math.Min(y0, m.Y), math.Max(y1, m.Y)
	}
	const step = 10
	x0, y0 = math.Ceil(x0/step)*step, math.Ceil(y0/step)*step
	if !((x1-x0)/step < mostGrid && (y1-y0)/step < mostGrid) {
		return
	}
	pieces := 1
	if c.Lens != nil {
		pieces = 24
	}
	between := func(a, z geom.MM, f float64) geom.MM { return geom.MM{X: a.X + f*(z.X-a.X), Y: a.Y + f*(z.Y-a.Y)} }
	line := func(a, z geom.MM, at float64) {
		w, o := r.u(1), 0.32
		if math.Mod(math.Abs(at), 50) < 1e-6 {
			w, o = r.u(1.4), 0.6
		}
		paper := ink.Fade(r.pal.OnDark, o)
		for k := range pieces { // straight on the face, bent in the picture by its lens
			from, to := between(a, z, float64(k)/float64(pieces)), between(a, z, float64(k+1)/float64(pieces))
			if p, q := c.Px(from), c.Px(to); !math.IsNaN(p.X + q.X) {
				ink.Line(r.dst, d.view.Device(p), d.view.Device(q), w, paper)
			}
		}
	}
	for x := x0; x <= x1; x += step {
		line(geom.MM{X: x, Y: y0 - step}, geom.MM{X: x, Y: y1}, x)
	}
	for y := y0; y <= y1; y += step {
		line(geom.MM{X: x0 - step, Y: y}, geom.MM{X: x1, Y: y}, y)
	}
}

// paintHandles draws the points of the chosen outline.
func (f *facePane) paintHandles(r brush, d *faceDoc) {
	if f.b.screen != FaceScreen || f.b.draw.compared != nil {
		return
	}
	x, ok := d.plate().Labels.Find(f.b.draw.chosen)
	if !ok {
		return
	}
	for i, p := range x.Regions {
		if f.b.draw.loose != nil && f.b.draw.point.region == i {
			p = *f.b.draw.loose
		}
		for n := range p.Rings() {
			r.handles(d.view.devices(p.Ring(n)), f.b.draw.point.in(i, n))
		}
	}
}

// paintDraft draws the outline under the hand, with a line to the pointer.
func (f *facePane) paintDraft(r brush, v Viewport) {
	draft := f.b.draw.outline
	if len(draft) == 0 {
		return
	}
	line := v.devices(draft)
	draw, hand := &f.b.draw, f.hand()
	switch {
	case draw.manner == ByRound:
		f.paintRound(r, v, draft, hand)
		return
	case draw.manner == ByFilling:
		ink.Stroke(r.dst, line, true, r.u(4), ink.Fade(color.RGBA{0, 0, 0, 255}, 0.5), nil)
		ink.Stroke(r.dst, line, true, r.u(1.8), r.pal.ChosenOnDark, nil)
		return
	case hand != nil && (draw.manner == ByPoints || draw.manner == ByFollowing) && !draw.closing:
		line = append(append(line, v.devices(draw.live)...), *hand)
	}
	ink.Stroke(r.dst, line, false, r.u(4), ink.Fade(color.RGBA{0, 0, 0, 255}, 0.5), nil)
	ink.Stroke(r.dst, line, false, r.u(1.8), r.pal.ChosenOnDark, nil)
	if f.b.draw.stroking {
		return
	}
	for i := range draft {
		if draw.manner != ByFollowing {
			ink.Disc(r.dst, line[i], r.u(3.2), r.pal.ChosenOnDark)
		}
	}
	for _, i := range draw.knots {
		ink.Disc(r.dst, line[i], r.u(3.2), r.pal.ChosenOnDark)
	}
	if len(draft) > 2 { // closing takes a click near the first point
		ink.Ring(r.dst, line[0], r.u(9), r.u(1.6), r.pal.ChosenOnDark)
	}
}

// paintRound draws the circle or ellipse that the points and the hand would make.
func (f *facePane) paintRound(r brush, v Viewport, pts []geom.Px, hand *geom.Px) {
	if hand != nil && len(pts) < 3 {
		pts = append(pts[:len(pts):len(pts)], v.Picture(*hand))
	}
	for _, q := range pts {
		ink.Disc(r.dst, v.Device(q), r.u(3.2), r.pal.ChosenOnDark)
	}
	p, err := roundOf(pts)
	if err != nil {
		return
	}
	ring := v.devices(p.Outer)
	ink.Stroke(r.dst, ring, true, r.u(4), ink.Fade(color.RGBA{0, 0, 0, 255}, 0.5), nil)
	ink.Stroke(r.dst, ring, true, r.u(1.8), r.pal.ChosenOnDark, nil)
}

// paintCursor draws the keyboard's cross.
func (f *facePane) paintCursor(r brush, v Viewport) {
	if c := f.b.draw.cursor; c != nil && f.b.screen == FaceScreen {
		at := v.Device(*c)
		r.cross(at, r.pal.OnDark)
		ink.Ring(r.dst, at, r.u(15), r.u(1.4), r.pal.OnDark)
	}
}

// paintTicks draws the points of the scale being laid, else those of the scale in force.
func (f *facePane) paintTicks(r brush, v Viewport, c photo.Calibration) {
	s := f.b.draw.scale
	pts, colour := s.Points, r.pal.ChosenOnDark
	if s.Mode == ChequerSheet && len(s.Sheet) > 0 {
		r.sheet(s.Sheet, f.b.stand.sheet.Columns, v)
		return
	}
	if _, carried := c.CarriedFrom(); len(pts) == 0 && !carried { // a carried scale lies on another picture
		colour = r.pal.OnDark
		for _, t := range c.Ties {
			pts = append(pts, t.Px)
		}
	}
	f.paintRuler(r, v)
	line := v.devices(pts)
	ink.Stroke(r.dst, line, len(line) == 4, r.u(3.5), ink.Fade(color.RGBA{0, 0, 0, 255}, 0.5), nil)
	ink.Stroke(r.dst, line, len(line) == 4, r.u(1.4), colour, nil)
	for i, p := range line {
		r.cross(p, colour)
		r.tag(p, strconv.Itoa(i+1), colour)
	}
}

// cross marks one exact place without covering it.
func (r brush) cross(p geom.Px, c color.RGBA) {
	for _, w := range [2]struct {
		width float64
		c     color.RGBA
	}{{3.4, ink.Fade(color.RGBA{0, 0, 0, 255}, 0.55)}, {1.4, c}} {
		for _, d := range [4]geom.Px{{X: 1}, {X: -1}, {Y: 1}, {Y: -1}} {
			a := geom.Px{X: p.X + r.u(3)*d.X, Y: p.Y + r.u(3)*d.Y}
			z := geom.Px{X: p.X + r.u(11)*d.X, Y: p.Y + r.u(11)*d.Y}
			ink.Line(r.dst, a, z, r.u(w.width), w.c)
		}
	}
}

// tag writes a short word beside a place: to its right and below, or on the other side where it would be cut off.
func (r brush) tag(p geom.Px, s string, c color.RGBA) {
	w, h := r.plateSize(s)
	x, y := int(p.X+r.u(10)), int(p.Y+r.u(8))
	if x+w > r.dst.Rect.Max.X {
		x = int(p.X-r.u(10)) - w
	}
	if y+h > r.dst.Rect.Max.Y {
		y = int(p.Y-r.u(8)) - h
	}
	r.plate(x, y, c, dark(), s)
}

// paintTies draws the landmarks on the face.
func (f *facePane) paintTies(r brush, v Viewport, ties []register.Tie) {
	suspects := map[int]bool{}
	for _, row := range f.b.TieRows() {
		if row.Suspect {
			suspects[row.N] = true
		}
	}
	for i, t := range ties {
		r.tie(v.Device(t.Face), i+1, suspects[i+1])
	}
	if h := f.b.pair.half.face; h != nil {
		r.tie(v.Device(*h), len(ties)+1, false)
	}
}

// tie draws landmark n; a suspect one has a second ring.
func (r brush) tie(p geom.Px, n int, suspect bool) {
	c := r.pal.ChosenOnDark
	if suspect {
		c = rgb(0xff9d6e)
		ink.Ring(r.dst, p, r.u(16), r.u(1.6), c)
	}
	r.cross(p, c)
	r.tag(p, strconv.Itoa(n), c)
}

// paintMeasure draws what is being measured.
func (f *facePane) paintMeasure(r brush, v Viewport) {
	hand := f.hand()
	if f.press.what == pressMeasure {
		hand = nil
	}
	r.measure(f.b.draw.measure, v, hand, f.b.MeasureWords())
}

// measure draws a measure: the places set, the pointer (device pixels) while it is open, and in words what it came to.
func (r brush) measure(m measureDraft, v Viewport, hand *geom.Px, words string) {
	if len(m.at) == 0 {
		return
	}
	line := v.devices(m.at)
	var sum geom.Px
	for _, at := range line {
		sum.X, sum.Y = sum.X+at.X, sum.Y+at.Y
	}
	n := len(line)
	if hand != nil && !m.whole {
		line = append(line, *hand)
	}
	shut := m.whole && m.kind == MeasureArea
	ink.Stroke(r.dst, line, shut, r.u(3.6), ink.Fade(color.RGBA{0, 0, 0, 255}, 0.5), nil)
	ink.Stroke(r.dst, line, shut, r.u(1.5), r.pal.ChosenOnDark, nil)
	for _, q := range line[:n] {
		r.cross(q, r.pal.ChosenOnDark)
	}
	if m.whole && words != "" {
		first, _, _ := strings.Cut(words, "\n")
		r.tag(geom.Px{X: sum.X / float64(n), Y: sum.Y / float64(n)}, first, r.pal.OnDark)
	}
}

// ringAt is the ring of letters by which the top of the photograph is told: its middle and radius.
func (f *facePane) ringAt() (c geom.Px, radius float64) {
	return geom.Px{X: float64(f.in.Min.X+f.in.Max.X) / 2, Y: float64(f.in.Min.Y+f.in.Max.Y) / 2},
		0.3 * float64(min(f.in.Dx(), f.in.Dy()))
}

// paintRing draws the ring with its four letters; what is not told yet reads "?".
func (f *facePane) paintRing(r brush, d *faceDoc) {
	c, radius := f.ringAt()
	ink.Ring(r.dst, c, radius, r.u(7), ink.Fade(color.RGBA{0, 0, 0, 255}, 0.45))
	ink.Ring(r.dst, c, radius, r.u(2), r.pal.ChosenOnDark)
	e := f.b.photoEdges()
	main := usualUp(d.plate().Face.Facing).Letter()
	proposed := section.UnknownEdges
	if e == section.UnknownEdges {
		proposed = f.b.proposedEdges()
	}
	shown := func(told, proposed string) string {
		if told == "?" && proposed != "?" {
			return proposed + "?"
		}
		return told
	}
	at := map[geom.Px]string{{X: -1}: shown(e.Left, proposed.Left), {X: 1}: shown(e.Right, proposed.Right),
		{Y: -1}: shown(e.Up, proposed.Up), {Y: 1}: shown(e.Down, proposed.Down)}
	for dir, s := range at {
		p := geom.Px{X: c.X + radius*dir.X, Y: c.Y + radius*dir.Y}
		ground, ink1 := rgb(0x1d1c1a), r.pal.OnDark
		if s == main {
			ground, ink1 = r.pal.ChosenOnDark, rgb(0x10201f)
		}
		ink.Disc(r.dst, p, r.u(17), ground)
		ink.Ring(r.dst, p, r.u(17), r.u(1.5), r.pal.ChosenOnDark)
		r.centred(r.bold, p.X, p.Y, 17, ink1, s)
	}
	if e == section.UnknownEdges && proposed == e {
		r.block(r.font, image.Rect(int(c.X-radius*0.8), int(c.Y-radius*0.7), int(c.X+radius*0.8), int(c.Y+radius*0.7)), 14, r.pal.OnDark,
			Word("ring.ask."+usualUp(d.plate().Face.Facing).String()))
	}
}
