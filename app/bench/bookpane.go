package bench

import (
	"image"
	"image/color"
	"math"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/section"
)

// bookPane shows the two faces of a cut: side by side about the kerf as the spine, or laid on each other.
type bookPane struct {
	b     *Bench
	w, h  int
	scale float64
	zoom  float64 // further than fitting
	pan   geom.MM // of the first page's middle
	press press
	slide bool // the held button moves the slider
	over  *image.RGBA
	here  *geom.Px
	track image.Rectangle // of the slider
	leafs []leaf
}

// leaf is a page as it lies on the pane: body mm (as the first page's outline counts them) to device pixels.
type leaf struct {
	rect image.Rectangle
	page int
	to   [6]float64
}

// BookPane is the cut opened like a book.
func (b *Bench) BookPane() Pane { return b.leaves }

// Resize tells the size in device pixels and how many of them make one unit.
func (k *bookPane) Resize(w, h int, scale float64) {
	if scale <= 0 {
		scale = 1
	}
	k.w, k.h, k.scale = w, h, scale
}

// Wants reports whether the book must be painted again.
func (k *bookPane) Wants(c Change) bool {
	return c&(ScreenChanged|PlateChanged|ViewChanged|RunChanged) != 0
}

// spine is the width of the kerf between the pages in units.
const spine = 74

// Paint fills dst.
func (k *bookPane) Paint(dst *image.RGBA) {
	if k.w != dst.Rect.Dx() || k.h != dst.Rect.Dy() {
		k.Resize(dst.Rect.Dx(), dst.Rect.Dy(), k.scale)
	}
	b := k.b
	ink.Bands(dst, func(part *image.RGBA) { ink.FillRect(part, part.Rect, b.pal.Surround) })
	k.leafs, k.track = k.leafs[:0], image.Rectangle{}
	if b.blank {
		return
	}
	r := b.brush(dst, k.scale)
	if _, _, ok := b.cutFaces(); !ok {
		r.block(r.font, dst.Rect, 15, b.pal.OnDark, Word("book.end"))
		return
	}
	b.wantBook()
	if !b.book.made {
		r.block(r.font, dst.Rect, 15, b.pal.OnDark, Word("book.reading"))
		return
	}
	if b.book.way == BookOpen || !b.book.match {
		k.paintOpen(r)
		return
	}
	k.paintOver(r)
}

// frameRoom is the room round a page for its letters and its name, in units.
const frameRoom = 30

// paintOpen lays both pages side by side about the spine.
func (k *bookPane) paintOpen(r brush) {
	m, s := r.n(frameRoom), r.n(spine)
	wide := (k.w - 4*m - s) / 2
	left := image.Rect(m, m+r.n(12), m+wide, k.h-m)
	right := left.Add(image.Pt(k.w-2*m-wide, 0))
	for i, in := range []image.Rectangle{left, right} {
		if in.Dx() < 16 || in.Dy() < 16 {
			return
		}
		k.paintPage(r, in, i)
	}
	k.paintSpine(r, image.Rect(left.Max.X+m, left.Min.Y, right.Min.X-m, left.Max.Y))
}

// paintPage draws one face in bench view in its frame.
func (k *bookPane) paintPage(r brush, in image.Rectangle, i int) {
	p := &k.b.book.pages[i]
	part := part(r.dst, in)
	r.title(in, k.b.Run(), p.face)
	if p.picture == nil || p.why != "" {
		r.on(&part).block(r.font, in, 14, r.pal.OnDark, p.why)
		r.pageFrame(in, section.UnknownEdges)
		return
	}
	to := k.lay(in, i)
	k.leafs = append(k.leafs, leaf{in, i, to})
	p.draw(&part, to, func(m geom.MM) geom.MM { return k.common(i, m) })
	k.paintBorder(r.on(&part), i, to, r.pal.ChosenOnDark, nil)
	r.on(&part).scaleBar(in, math.Hypot(to[0], to[3]))
	if p.plate.Synthetic {
		r.on(&part).note(in, in.Min.Y+r.n(8), r.pal.OnDark, Word("synthetic"))
	}
	r.pageFrame(in, p.plate.Edges(section.Bench))
}

// common carries mm of a page's own outline to those of the first page.
func (k *bookPane) common(i int, m geom.MM) geom.MM {
	if i == 1 && k.b.book.match {
		return k.b.book.laid.At(m)
	}
	return m
}

// lay is the map from common mm to device pixels for page i shown in in, in bench view.
func (k *bookPane) lay(in image.Rectangle, i int) [6]float64 {
	face := k.b.book.pages[i].face
	side := 1.0
	if face.Facing != face.Facing.Plane().Faces()[1] {
		side = -1 // outlines are counted as seen from the other side
	}
	far := 0.0
	for n := range k.b.book.pages {
		far = math.Max(far, k.b.book.pages[n].outline.Reach())
	}
	if far == 0 {
		far = 200
	}
	w, h := k.b.book.pages[0].outline.Extent()
	w2, h2 := k.b.book.pages[1].outline.Extent()
	z := math.Min(float64(in.Dx())/math.Max(1, math.Max(w, w2)), float64(in.Dy())/math.Max(1, math.Max(h, h2))) * 0.92
	if !(z > 0) || math.IsInf(z, 0) {
		z = float64(min(in.Dx(), in.Dy())) / (2 * far)
	}
	z *= math.Max(1, k.zoom)
	cx, cy := float64(in.Min.X+in.Max.X-1)/2, float64(in.Min.Y+in.Max.Y-1)/2
	return [6]float64{side * z, 0, cx - side*z*k.pan.X, 0, z, cy - z*k.pan.Y}
}

// toDevice is the map from device pixels to pixels of the page's photograph: the flat map that fits best over the face, whose
// own may be in perspective.
func (p *bookPage) toDevice(to [6]float64, common func(geom.MM) geom.MM) (inverse [6]float64, ok bool) {
	lo, hi := geom.Px{X: math.Inf(1), Y: math.Inf(1)}, geom.Px{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, x := range p.border {
		box := x.Bounds()
		lo = geom.Px{X: math.Min(lo.X, box.Min.X), Y: math.Min(lo.Y, box.Min.Y)}
		hi = geom.Px{X: math.Max(hi.X, box.Max.X), Y: math.Max(hi.Y, box.Max.Y)}
	}
	c, u, v := geom.Px{X: (lo.X + hi.X) / 2, Y: (lo.Y + hi.Y) / 2}, 0.4*(hi.X-lo.X), 0.4*(hi.Y-lo.Y)
	at := func(q geom.Px) geom.Px {
		m := common(p.outline.To(q))
		return geom.Px{X: to[0]*m.X + to[1]*m.Y + to[2], Y: to[3]*m.X + to[4]*m.Y + to[5]}
	}
	x0, x1 := at(geom.Px{X: c.X - u, Y: c.Y}), at(geom.Px{X: c.X + u, Y: c.Y})
	y0, y1 := at(geom.Px{X: c.X, Y: c.Y - v}), at(geom.Px{X: c.X, Y: c.Y + v})
	o := geom.Px{X: (x0.X + x1.X + y0.X + y1.X) / 4, Y: (x0.Y + x1.Y + y0.Y + y1.Y) / 4}
	a, b := (x1.X-x0.X)/(2*u), (y1.X-y0.X)/(2*v)
	e, f := (x1.Y-x0.Y)/(2*u), (y1.Y-y0.Y)/(2*v)
	det := a*f - b*e
	if !(math.Abs(det) > 1e-12) || math.IsInf(det, 0) {
		return inverse, false
	}
	inverse = [6]float64{f / det, -b / det, 0, -e / det, a / det, 0}
	inverse[2] = c.X - inverse[0]*o.X - inverse[1]*o.Y
	inverse[5] = c.Y - inverse[3]*o.X - inverse[4]*o.Y
	return inverse, true
}

// paintBorder draws the border of a page's face.
func (k *bookPane) paintBorder(r brush, i int, to [6]float64, c color.RGBA, dash []float64) {
	p := &k.b.book.pages[i]
	var ring []geom.Px
	for _, x := range p.border {
		ring = ring[:0]
		for _, q := range x.Outer {
			m := k.common(i, p.outline.To(q))
			ring = append(ring, geom.Px{X: to[0]*m.X + to[2], Y: to[4]*m.Y + to[5]})
		}
		ink.Stroke(r.dst, ring, true, r.u(2.6), ink.Fade(color.RGBA{0, 0, 0, 255}, 0.45), dash)
		ink.Stroke(r.dst, ring, true, r.u(1.3), c, dash)
	}
}

// paintSpine draws the kerf between the pages with its width.
func (k *bookPane) paintSpine(r brush, in image.Rectangle) {
	kerf, _, _ := k.b.BookKerf()
	x0, y0, x1, y1 := float64(in.Min.X), float64(in.Min.Y), float64(in.Max.X), float64(in.Max.Y)
	ring := []geom.Px{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
	ink.FillHatched(r.dst, [][]geom.Px{ring}, rgb(0x1b1a19), ink.Rising, r.u(7), ink.Fade(r.pal.OnDarkLo, 0.3))
	lines := append([]string{Word("mm.fine", kerf)}, r.wrap(r.font, smallText, x1-x0-r.u(8), Word("book.kerf"))...)
	h := r.lineHeight(bodyText)
	y := (y0+y1)/2 - h*float64(len(lines)-1)/2
	ink.FillRect(r.dst, image.Rect(in.Min.X+r.n(2), round(y-h*0.8), in.Max.X-r.n(2), round(y+h*(float64(len(lines))-0.2))), rgb(0x1b1a19))
	for i, l := range lines {
		f, size, c := r.font, float64(smallText), r.pal.OnDarkLo
		if i == 0 {
			f, size, c = r.bold, bodyText, r.pal.OnDark
		}
		r.centred(f, (x0+x1)/2, y, size, c, l)
		y += h
	}
}

// paintOver lays the second face, mirrored, on the first, or shows only where the two differ.
func (k *bookPane) paintOver(r brush) {
	b := k.b
	m := r.n(frameRoom)
	in := image.Rect(m, m+r.n(12), k.w-m, k.h-m)
	if b.book.way == BookOver {
		in.Max.Y -= r.n(52)
	}
	if in.Dx() < 16 || in.Dy() < 16 {
		return
	}
	p := &b.book.pages[0]
	to := k.lay(in, 0)
	k.leafs = append(k.leafs, leaf{in, 0, to})
	base := part(r.dst, in)
	if k.over == nil || k.over.Rect != in {
		k.over = image.NewRGBA(in)
	}
	ink.FillRect(k.over, in, r.pal.Surround)
	for i, dst := range []*image.RGBA{&base, k.over} {
		x := &b.book.pages[i]
		x.draw(dst, to, func(m geom.MM) geom.MM { return k.common(i, m) })
	}
	if b.book.way == BookDifference {
		differ(&base, k.over)
	} else {
		blend(&base, k.over, b.book.mix)
	}
	k.paintBorder(r.on(&base), 0, to, r.pal.ChosenOnDark, nil)
	k.paintBorder(r.on(&base), 1, to, rgb(0xffc48f), []float64{r.u(6), r.u(4)})
	r.on(&base).scaleBar(in, math.Hypot(to[0], to[3]))
	y := in.Min.Y + r.n(8)
	for _, words := range []string{Word("book.over", b.FaceName(b.book.pages[1].face)), Word("book.dash", b.FaceName(p.face), b.FaceName(b.book.pages[1].face))} {
		if r.width(r.font, smallText, words) > 0.5*float64(in.Dx()) {
			continue // it would hide the picture; the panel beside names both
		}
		y = r.on(&base).note(in, y, rgb(0xffc48f), words)
	}
	if p.plate.Synthetic {
		r.on(&base).note(in, y, r.pal.OnDark, Word("synthetic"))
	}
	r.title(in, b.Run(), p.face)
	r.pageFrame(in, p.plate.Edges(section.Bench))
	if b.book.way == BookOver {
		k.paintSlider(r, image.Rect(in.Min.X, in.Max.Y+m, in.Max.X, k.h))
	}
}

// paintSlider draws how much of the second face shows.
func (k *bookPane) paintSlider(r brush, in image.Rectangle) {
	_, first, second := k.b.BookKerf()
	y := float64(in.Min.Y+in.Max.Y) / 2
	wide := math.Max(r.width(r.font, smallText, first), r.width(r.font, smallText, second)) + r.u(14)
	x0, x1 := float64(in.Min.X)+wide, float64(in.Max.X)-wide
	if x1-x0 < r.u(60) {
		x0, x1 = float64(in.Min.X)+r.u(20), float64(in.Max.X)-r.u(20)
	} else {
		r.ending(r.font, x0-r.u(12), y, smallText, r.pal.OnDark, first)
		r.text(r.font, x1+r.u(12), y, smallText, r.pal.OnDark, second)
	}
	k.track = image.Rect(round(x0), in.Min.Y, round(x1), in.Max.Y)
	ink.Line(r.dst, geom.Px{X: x0, Y: y}, geom.Px{X: x1, Y: y}, r.u(3), r.pal.OnDarkLo)
	at := geom.Px{X: x0 + k.b.book.mix*(x1-x0), Y: y}
	ink.Disc(r.dst, at, r.u(11), r.pal.ChosenOnDark)
	ink.Ring(r.dst, at, r.u(11), r.u(2), rgb(0x141312))
}

// part is the part of a picture within in.
func part(dst *image.RGBA, in image.Rectangle) image.RGBA {
	return image.RGBA{Pix: dst.Pix[dst.PixOffset(in.Min.X, in.Min.Y):], Stride: dst.Stride, Rect: in}
}

// title writes the name of a face above its page, and from where it is seen where there is room.
func (r brush) title(in image.Rectangle, run section.Run, f section.Face) {
	words := upperFirst(run.Name(f)) + ", " + run.SeenFrom(f.Facing)
	if r.width(r.bold, bodyText, words) > float64(in.Dx())+r.u(frameRoom) {
		words = upperFirst(run.Name(f))
	}
	r.text(r.bold, float64(in.Min.X), float64(in.Min.Y)-r.u(28), bodyText, r.pal.OnDark, words)
}

// pageFrame draws the frame of one page and the letters at its four sides.
func (r brush) pageFrame(in image.Rectangle, e section.Edges) {
	ink.Rect(r.dst, in.Inset(-r.n(1)), r.n(1), ink.Fade(r.pal.OnDarkLo, 0.55))
	cx, cy, d := float64(in.Min.X+in.Max.X)/2, float64(in.Min.Y+in.Max.Y)/2, r.u(14)
	const size = 18
	r.centred(r.bold, float64(in.Min.X)-d, cy, size, r.pal.OnDark, e.Left)
	r.centred(r.bold, float64(in.Max.X)+d, cy, size, r.pal.OnDark, e.Right)
	r.centred(r.bold, cx, float64(in.Min.Y)-r.u(11), size, r.pal.OnDark, e.Up)
	r.centred(r.bold, cx, float64(in.Max.Y)+d, size, r.pal.OnDark, e.Down)
}

// blend puts share of over into base.
func blend(base, over *image.RGBA, share float64) {
	w := int(math.Round(256 * share))
	eachRow(base, over, func(p, q []byte) {
		for i := range p {
			p[i] = byte((int(p[i])*(256-w) + int(q[i])*w) >> 8)
		}
	})
}

// differ leaves of base only how much lighter or darker over is there, as grey: black where both look the same.
func differ(base, over *image.RGBA) {
	eachRow(base, over, func(p, q []byte) {
		for i := 0; i+3 < len(p); i += 4 {
			grey := func(c []byte) int { return (299*int(c[0]) + 587*int(c[1]) + 114*int(c[2])) / 1000 } // Rec. 601 luma
			d := grey(p[i:]) - grey(q[i:])
			g := byte(min(2*max(d, -d), 255))
			p[i], p[i+1], p[i+2], p[i+3] = g, g, g, 255
		}
	})
}

func eachRow(base, over *image.RGBA, do func(p, q []byte)) {
	ink.Bands(base, func(x *image.RGBA) {
		n := 4 * x.Rect.Dx()
		for y := x.Rect.Min.Y; y < x.Rect.Max.Y; y++ {
			do(x.Pix[x.PixOffset(x.Rect.Min.X, y):][:n], over.Pix[over.PixOffset(x.Rect.Min.X, y):][:n])
		}
	})
}
