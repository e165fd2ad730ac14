package bench

import (
	"image"
	"math"
	"slices"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// packPane shows one picture of a study pack: alone, with names, or with what a question marks and asks for.
type packPane struct {
	b       *Bench
	content func() packContent
	click   func(at geom.Px) // a place of the picture was clicked; nil takes no clicks

	w, h  int
	scale float64
	of    string
	view  Viewport
	moved bool
	press press
}

// packContent is what a pane of a study pack shows now.
type packContent struct {
	picture string // file of the pack; "" shows nothing
	nothing string // said then
	edges   section.Edges
	drawn   []drawnStructure
	marker  *geom.Px // a marker's tip
	placed  *geom.Px // where a person pointed
	banner  string   // what the picture is, when it is no photograph of a face
}

// drawnStructure is an outline with the word or number that stands at its deepest place.
type drawnStructure struct {
	regions []annotate.Polygon
	tip     geom.Px
	word    string
	strong  bool
}

// Resize tells the size in device pixels and how many of them make one unit.
func (p *packPane) Resize(w, h int, scale float64) {
	if scale <= 0 {
		scale = 1
	}
	p.w, p.h, p.scale = w, h, scale
}

// Wants reports whether the picture must be painted again.
func (p *packPane) Wants(c Change) bool { return c&(ScreenChanged|ExamChanged) != 0 }

// lay fits the picture into its frame until a person moves it; another picture of the same size stays where it is.
func (p *packPane) lay(name string, size image.Point) image.Rectangle {
	in := frameOf(p.w, p.h, p.scale)
	v := &p.view
	v.X, v.Y, v.W, v.H = in.Min.X, in.Min.Y, max(1, in.Dx()), max(1, in.Dy())
	if name != p.of {
		p.of, p.moved = name, false
	}
	if !p.moved || v.Zoom == 0 {
		*v = v.Fit(float64(size.X), float64(size.Y))
	}
	return in
}

// Paint fills dst.
func (p *packPane) Paint(dst *image.RGBA) {
	if p.w != dst.Rect.Dx() || p.h != dst.Rect.Dy() {
		p.Resize(dst.Rect.Dx(), dst.Rect.Dy(), p.scale)
	}
	b := p.b
	ink.FillRect(dst, dst.Rect, b.pal.Surround)
	if b.blank {
		return
	}
	r := b.brush(dst, p.scale)
	c := p.content()
	m, why := b.packPicture(c.picture)
	if m == nil {
		if why == "" {
			why = c.nothing
		}
		r.block(r.font, dst.Rect, 15, b.pal.OnDark, why)
		return
	}
	in := p.lay(c.picture, m.Size())
	m.Draw(dst.SubImage(in).(*image.RGBA), p.view.Inverse())
	on := r.on(dst.SubImage(in).(*image.RGBA))
	for _, d := range c.drawn {
		p.outline(on, d)
	}
	var taken []image.Rectangle
	for _, d := range c.drawn {
		if d.word != "" {
			taken = append(taken, p.word(on, in, d, taken))
		}
	}
	if c.marker != nil {
		on.pin(p.view.Device(*c.marker), in)
	}
	if c.placed != nil {
		on.cross(p.view.Device(*c.placed), b.pal.ChosenOnDark)
	}
	r.frame(in, c.edges)
	if c.banner != "" {
		w, h := r.plateSize(c.banner)
		r.plate(in.Max.X-w-r.n(6), in.Max.Y-h-r.n(6), b.pal.OnDark, dark(), c.banner)
	}
}

func (p *packPane) outline(r brush, d drawnStructure) {
	width := 1.6
	if d.strong {
		width = 2.6
	}
	for _, region := range d.regions {
		for n := range region.Rings() {
			pts := p.view.devices(region.Ring(n))
			ink.Stroke(r.dst, pts, true, r.u(width+1.6), dark(), nil)
			ink.Stroke(r.dst, pts, true, r.u(width), r.pal.Outline, nil)
		}
	}
}

// word writes a word at the deepest place of an outline, kept inside the picture; where other words stand it steps aside,
// with a line back to its place.
func (p *packPane) word(r brush, in image.Rectangle, d drawnStructure, taken []image.Rectangle) image.Rectangle {
	at := p.view.Device(d.tip)
	w, h := r.plateSize(d.word)
	place := func(dx, dy int) image.Rectangle {
		x := min(max(int(at.X)-w/2+dx, in.Min.X), max(in.Min.X, in.Max.X-w))
		y := min(max(int(at.Y)-h/2+dy, in.Min.Y), max(in.Min.Y, in.Max.Y-h))
		return image.Rect(x, y, x+w, y+h)
	}
	box := place(0, 0)
search:
	for ring := range 6 {
		for _, way := range [8]image.Point{{0, -1}, {1, 0}, {-1, 0}, {0, 1}, {1, -1}, {-1, -1}, {1, 1}, {-1, 1}} {
			try := place(ring*way.X*(w+2), ring*way.Y*(h+2))
			if !slices.ContainsFunc(taken, try.Overlaps) {
				box = try
				break search
			}
		}
	}
	if mid := (geom.Px{X: float64(box.Min.X+box.Max.X) / 2, Y: float64(box.Min.Y+box.Max.Y) / 2}); mid.Dist(at) > float64(h) {
		ink.Line(r.dst, mid, at, r.u(2.6), dark())
		ink.Line(r.dst, mid, at, r.u(1), r.pal.OnDark)
		ink.Disc(r.dst, at, r.u(2), r.pal.OnDark)
	}
	c := r.pal.OnDark
	if d.strong {
		c = r.pal.ChosenOnDark
	}
	return r.plate(box.Min.X, box.Min.Y, c, dark(), d.word)
}

// pin draws a marker whose tip is at at: a line from a head outside the nearer side of the picture's middle.
func (r brush) pin(at geom.Px, in image.Rectangle) {
	way := 1.0
	if at.X > float64(in.Min.X+in.Max.X)/2 {
		way = -1
	}
	head := geom.Px{X: at.X - way*r.u(64), Y: at.Y - r.u(44)}
	head.X = math.Min(math.Max(head.X, float64(in.Min.X)+r.u(12)), float64(in.Max.X)-r.u(12))
	head.Y = math.Max(head.Y, float64(in.Min.Y)+r.u(12))
	ink.Line(r.dst, head, at, r.u(4.4), dark())
	ink.Line(r.dst, head, at, r.u(2), r.pal.Outline)
	ink.Disc(r.dst, at, r.u(4.5), dark())
	ink.Disc(r.dst, at, r.u(2.6), r.pal.Outline)
	ink.Disc(r.dst, head, r.u(11), dark())
	ink.Disc(r.dst, head, r.u(9), r.pal.Outline)
	r.centred(r.bold, head.X, head.Y, 13, dark(), "?")
}

// packPicture is a picture of the open pack, or why there is none.
func (b *Bench) packPicture(name string) (m *photo.Image, why string) {
	s := &b.study
	if name == "" || s.pack == nil {
		return nil, ""
	}
	if m = s.pictures[name]; m != nil {
		return m, ""
	}
	src, err := s.pack.Picture(name)
	if err != nil {
		return nil, Explain(err).Title
	}
	if len(s.pictures) >= 6 {
		clear(s.pictures)
	}
	m = photo.NewImage(src)
	s.pictures[name] = m
	return m, ""
}

// Down begins a click or a pan.
func (p *packPane) Down(at geom.Px, _ Button, m Mods) {
	p.press = press{down: true, from: at, last: at}
	if m.Clicks == 2 && p.click == nil {
		p.moved = false
		p.b.changed(ExamChanged)
	}
}

// Drag pans.
func (p *packPane) Drag(at geom.Px) {
	m, _ := p.b.packPicture(p.of)
	if !p.press.down || m == nil || (!p.press.moved && at.Dist(p.press.from) < p.scale*tremor) {
		return
	}
	s := m.Size()
	p.view = p.view.Pan(at.X-p.press.last.X, at.Y-p.press.last.Y).Within(float64(s.X), float64(s.Y))
	p.moved, p.press.moved, p.press.last = true, true, at
	p.b.changed(ExamChanged)
}

// Up ends a pan, or is a click.
func (p *packPane) Up(at geom.Px) {
	if p.press.down && !p.press.moved && p.click != nil {
		p.click(p.view.Picture(at))
	}
	p.press = press{}
}

// Hover has nothing to show.
func (p *packPane) Hover(geom.Px) {}

// Leave has nothing to take away.
func (p *packPane) Leave() {}

// Wheel comes nearer or goes further about the pointer.
func (p *packPane) Wheel(at geom.Px, notches float64, _ Mods) {
	m, _ := p.b.packPicture(p.of)
	if m == nil {
		return
	}
	s := m.Size()
	least := p.view.Fit(float64(s.X), float64(s.Y)).Zoom
	p.view = p.view.ZoomAt(at, math.Pow(1.25, notches), least, 16)
	p.moved = p.view.Zoom > least
	p.b.changed(ExamChanged)
}

// Cursor is the shape of the pointer.
func (p *packPane) Cursor() Cursor {
	switch {
	case p.press.moved:
		return Grab
	case p.click != nil && p.b.pointing():
		return Cross
	}
	return Default
}

// Pointer is none.
func (p *packPane) Pointer() (at geom.Px, radius float64, ok bool) { return }
