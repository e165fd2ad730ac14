package bench

import (
	"image"
	"image/color"
	"math"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// facePane is the face on its frame: photograph, outlines, drafts, signs.
type facePane struct {
	b     *Bench
	w, h  int
	scale float64

	in     image.Rectangle // inside the frame
	part   image.RGBA      // that part of the picture being painted
	points []geom.Px       // of all shapes, one after another
	rings  [][]geom.Px
	shapes []shape
	over   func(*image.RGBA)
	dash   [2]float64 // of outlines that were carried over and not yet checked
	dots   [2]float64 // of a second reader's
	names  nameSpots
	tags   []nameTag
	scan   cutter      // for lens and blink
	beside *image.RGBA // the cut beyond the seam

	press press
	here  *geom.Px        // the pointer, device
	small image.Rectangle // where the small body stands
}

// shape is one part of a label ready to be drawn: rings in device pixels.
type shape struct {
	rings   [][]geom.Px
	fill    color.RGBA
	hatch   ink.Pattern
	wide    float64 // how many times as wide as usual it is set
	carried bool
	second  bool // by a second reader, while both are compared
	chosen  bool
	hovered bool
	top     float64 // device rows it reaches from and to
	low     float64
}

// FacePane is the face on its frame.
func (b *Bench) FacePane() Pane { return b.face }

// Resize tells the size in device pixels and how many of them make one unit.
func (f *facePane) Resize(w, h int, scale float64) {
	if scale <= 0 {
		scale = 1
	}
	f.w, f.h, f.scale = w, h, scale
	f.in = frameOf(w, h, scale)
	f.dash = [2]float64{7 * scale, 5 * scale}
	f.dots = [2]float64{2 * scale, 4 * scale}
}

// Wants reports whether the face must be painted again.
func (f *facePane) Wants(c Change) bool {
	return c&(ScreenChanged|LabChanged|PlateChanged|ViewChanged|SelectionChanged) != 0 || (f.b.screen == PairingScreen && c&ScanChanged != 0)
}

// lay brings the viewport of a document up to date with pane, turn and fit.
func (f *facePane) lay(d *faceDoc) {
	v := &d.view
	v.X, v.Y, v.W, v.H = f.in.Min.X, f.in.Min.Y, f.in.Dx(), f.in.Dy()
	v.Turns, v.Mirror = f.b.turn(d.plate())
	if f.b.draw.tool == ToolAxes {
		v.Turns, v.Mirror = 0, false // as taken, so that it does not spin while its top is being told
	}
	if !d.moved || v.Zoom == 0 {
		size := d.plate().Photo.Size
		*v = v.Fit(float64(size.X), float64(size.Y))
	}
}

// leastZoom lets the picture become half as large as it fits.
func (f *facePane) leastZoom(d *faceDoc) float64 {
	size := d.plate().Photo.Size
	return d.view.Fit(float64(size.X), float64(size.Y)).Zoom / 2
}

const mostZoom = 32

// Paint fills dst.
func (f *facePane) Paint(dst *image.RGBA) {
	if f.w != dst.Rect.Dx() || f.h != dst.Rect.Dy() {
		f.Resize(dst.Rect.Dx(), dst.Rect.Dy(), f.scale)
	}
	b := f.b
	ink.Bands(dst, func(part *image.RGBA) { ink.FillRect(part, part.Rect, b.pal.Surround) })
	if b.blank {
		return
	}
	r := b.brush(dst, f.scale)
	d := b.doc
	if d == nil {
		f.paintEmpty(r)
		return
	}
	if x := b.sheetShown(); x != nil {
		f.paintSheet(r, x)
		return
	}
	f.lay(d)
	f.part = image.RGBA{Pix: dst.Pix[dst.PixOffset(f.in.Min.X, f.in.Min.Y):], Stride: dst.Stride, Rect: f.in}
	f.paintPhoto(&f.part, d)
	if !(b.held["B"] && f.paintScan(&f.part, d)) {
		f.shape(d)
		f.setNames(r, d)
		if f.over == nil {
			f.over = f.paintOver
		}
		ink.Bands(&f.part, f.over)
		f.paintSeam(r, d)
		f.paintLens(r, d)
	}
	if b.offFace() && !b.held["B"] {
		f.paintFaded(r.on(&f.part))
	}
	f.paintSigns(r.on(&f.part), d)
	e := b.Edges()
	if b.draw.tool == ToolAxes {
		e = b.photoEdges()
	}
	r.frame(f.in, e)
	r.directions(f.in, b.Run(), e)
}

// paintEmpty draws the dotted frame of a face without a photograph.
func (f *facePane) paintEmpty(r brush) {
	b := f.b
	if m := b.arriving(); m != nil {
		f.paintArriving(r, m)
		return
	}
	words := Word("face.none")
	if face := b.Face(); face.Slab != 0 {
		words = Word("face.empty", upperFirst(b.FaceName(face))) + "\n" + Word("face.empty.hint")
	}
	in := f.in.Inset(r.n(10))
	ring := []geom.Px{{X: float64(in.Min.X), Y: float64(in.Min.Y)}, {X: float64(in.Max.X), Y: float64(in.Min.Y)},
		{X: float64(in.Max.X), Y: float64(in.Max.Y)}, {X: float64(in.Min.X), Y: float64(in.Max.Y)}}
	ink.Stroke(r.dst, ring, true, r.u(1.5), b.pal.OnDarkLo, []float64{r.u(3), r.u(6)})
	r.block(r.font, in, 15, b.pal.OnDark, words)
	r.frame(f.in, b.Edges())
}

// paintArriving draws the small copy that a camera laid into its file, as taken, while the photograph is being taken in.
// Nothing is known of its sides yet.
func (f *facePane) paintArriving(r brush, m *image.RGBA) {
	v := Viewport{X: f.in.Min.X, Y: f.in.Min.Y, W: f.in.Dx(), H: f.in.Dy()}.Fit(float64(m.Rect.Dx()), float64(m.Rect.Dy()))
	part := image.RGBA{Pix: r.dst.Pix[r.dst.PixOffset(f.in.Min.X, f.in.Min.Y):], Stride: r.dst.Stride, Rect: f.in}
	photo.NewImage(m).Draw(&part, v.Inverse())
	r.plate(f.in.Min.X+r.n(8), f.in.Min.Y+r.n(8), r.pal.OnDarkLo, dark(), Word("face.reading"))
	r.frame(f.in, section.UnknownEdges)
}

// paintPhoto draws the photograph, or its preview blown up while the whole is being read.
func (f *facePane) paintPhoto(dst *image.RGBA, d *faceDoc) {
	m := f.b.shownPicture(d)
	if m == nil {
		return
	}
	m.Draw(dst, toStored(d.view.Inverse(), d.plate().Photo.Size, m.Size()))
	f.correct(dst, d)
}

// toStored carries a map to pixels of the original over to a smaller copy of it.
func toStored(m [6]float64, size, stored image.Point) [6]float64 {
	if size == stored || size.X == 0 || size.Y == 0 {
		return m
	}
	kx, ky := float64(stored.X)/float64(size.X), float64(stored.Y)/float64(size.Y)
	return [6]float64{kx * m[0], kx * m[1], kx*(m[2]+0.5) - 0.5, ky * m[3], ky * m[4], ky*(m[5]+0.5) - 0.5}
}

// shape brings the labels to device pixels, leaving out those that cannot be seen.
func (f *facePane) shape(d *faceDoc) {
	f.points, f.rings, f.shapes = f.points[:0], f.rings[:0], f.shapes[:0]
	labels := d.plate().Labels
	total, count := 0, 0
	for x := range labels.All() {
		for _, p := range x.Regions {
			for n := range p.Rings() {
				total, count = total+len(p.Ring(n)), count+1
			}
		}
	}
	if cap(f.points) < total { // once grown, slices into it stay good
		f.points = make([]geom.Px, 0, total+total/4)
	}
	if cap(f.rings) < count {
		f.rings = make([][]geom.Px, 0, count+count/4)
	}
	for x := range labels.All() {
		t, known := f.b.term(x.Term)
		fill, hatch, wide := lookOf(t, known)
		chosen := x.ID == f.b.draw.chosen
		for i, p := range x.Regions {
			if chosen && f.b.draw.loose != nil && f.b.draw.point.region == i {
				p = *f.b.draw.loose
			}
			f.addShape(d.view, p, shape{fill: fill, hatch: hatch, wide: wide, carried: x.Carried, chosen: chosen, hovered: x.ID == f.b.draw.hovered})
		}
	}
	if f.b.draw.compared == nil || d.plate().Second == nil {
		return
	}
	row, _ := f.b.comparedRow()
	for x := range d.plate().Second.Labels.All() {
		for _, p := range x.Regions {
			f.addShape(d.view, p, shape{second: true, chosen: x.ID == row.Second})
		}
	}
}

func (f *facePane) addShape(v Viewport, p annotate.Polygon, s shape) {
	from := len(f.rings)
	start := len(f.points)
	m := v.Forward()
	minX, minY, maxX, maxY := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for n := range p.Rings() {
		at := len(f.points)
		for _, q := range p.Ring(n) {
			g := geom.Px{X: m[0]*q.X + m[1]*q.Y + m[2], Y: m[3]*q.X + m[4]*q.Y + m[5]}
			minX, maxX = math.Min(minX, g.X), math.Max(maxX, g.X)
			minY, maxY = math.Min(minY, g.Y), math.Max(maxY, g.Y)
			f.points = append(f.points, g)
		}
		f.rings = append(f.rings, f.points[at:len(f.points):len(f.points)])
	}
	if maxX < float64(f.in.Min.X-4) || minX > float64(f.in.Max.X+4) || maxY < float64(f.in.Min.Y-4) || minY > float64(f.in.Max.Y+4) {
		f.points, f.rings = f.points[:start], f.rings[:from]
		return
	}
	s.rings, s.top, s.low = f.rings[from:len(f.rings):len(f.rings)], minY-4*f.scale, maxY+4*f.scale
	f.shapes = append(f.shapes, s)
}

// paintOver draws the labels onto one band of the picture.
func (f *facePane) paintOver(dst *image.RGBA) {
	b, s := f.b, f.scale
	halo := ink.Fade(color.RGBA{0, 0, 0, 255}, 0.5)
	for i := range f.shapes {
		x := &f.shapes[i]
		if x.low < float64(dst.Rect.Min.Y) || x.top > float64(dst.Rect.Max.Y) {
			continue
		}
		switch {
		case x.second: // its line alone, so that the first reader's hatch stays to be seen
		case x.hatch == ink.Solid:
			ink.Fill(dst, x.rings, ink.Fade(x.fill, 0.16))
		default:
			ink.FillHatched(dst, x.rings, ink.Fade(x.fill, 0.16), x.hatch, hatchStep*x.wide*s, ink.Fade(x.fill, hatchInk))
		}
		line, width, dash := b.pal.Outline, 1.5*s, []float64(nil)
		if x.hovered {
			width = 2.2 * s
		}
		if x.chosen {
			line, width = b.pal.ChosenOnDark, 2.4*s
		}
		if x.carried {
			dash = f.dash[:]
		}
		if x.second {
			dash = f.dots[:]
		}
		for _, ring := range x.rings {
			if x.chosen || x.hovered {
				ink.Stroke(dst, ring, true, width+2*s, halo, dash)
			}
			ink.Stroke(dst, ring, true, width, line, dash)
		}
	}
	r := b.brush(dst, s)
	if len(b.doc.plate().Mask)+len(b.draw.box) > 0 {
		f.paintMasks(r, b.doc)
	}
	if b.draw.grid {
		f.paintGrid(r, b.doc)
	}
	if b.screen != FaceScreen || b.draw.tool != ToolBorder { // its line runs where names stand
		f.paintNames(r)
	}
}

// perMM is how many device pixels a mm of the face takes in the middle of what is shown, 0 without a scale.
func (f *facePane) perMM(d *faceDoc) float64 {
	c := d.plate().Calibration
	if c.Status == photo.Nominal {
		return 0
	}
	x, y := c.PerPixel(d.view.Centre)
	if mm := math.Sqrt(x * y); mm > 0 {
		return d.view.Zoom / mm
	}
	return 0
}

// photoEdges are the letters round the photograph as taken.
func (b *Bench) photoEdges() section.Edges {
	p, ok := b.Plate()
	if !ok {
		return section.UnknownEdges
	}
	return p.PhotoEdges()
}
