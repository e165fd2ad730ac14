// Package ink draws into pictures: fills, hatches, lines and text, anti-aliased, clipped to the
// picture and safe on any coordinates.
//
// Points are pixels of the picture; the centre of pixel (0, 0) is the point (0, 0), so its square runs from -0.5 to
// 0.5. Colours are color.RGBA as Go defines it, multiplied by their alpha; Fade makes a see-through one. What is drawn
// does not depend on how the picture is cut: a part of a picture (SubImage) gets exactly its part of the drawing, so
// Bands may spread a drawing over the cores. Calls allocate nothing once warm.
package ink

import (
	"image"
	"image/color"
	"math"

	"sectionary/slices/geom"
)

// Fade returns c with its opacity multiplied: 0 is invisible, 1 leaves it as it is.
func Fade(c color.RGBA, opacity float64) color.RGBA {
	if !(opacity > 0) {
		return color.RGBA{}
	}
	o := math.Min(opacity, 1)
	part := func(v uint8) uint8 { return uint8(float64(v)*o + 0.5) }
	return color.RGBA{part(c.R), part(c.G), part(c.B), part(c.A)}
}

// Fill paints the inside of rings by the even-odd rule: a ring within a ring is a hole. Rings close themselves.
func Fill(dst *image.RGBA, rings [][]geom.Px, c color.RGBA) {
	r := newRaster(dst, bounds(rings, 0))
	if r == nil {
		return
	}
	for _, ring := range rings {
		r.ring(ring)
	}
	r.paint(dst, evenOdd, c)
	r.free()
}

// Hatch paints a pattern inside rings (even-odd), spacing pixels from line to line. The pattern keeps its place
// relative to the first point, so that it moves with its outline.
func Hatch(dst *image.RGBA, rings [][]geom.Px, p Pattern, spacing float64, c color.RGBA) {
	r := newRaster(dst, bounds(rings, 0))
	if r == nil {
		return
	}
	for _, ring := range rings {
		r.ring(ring)
	}
	r.paintHatch(dst, p.at(spacing, first(rings)), c)
	r.free()
}

// FillHatched is Fill and then Hatch of the same rings, for little more than the work of one.
func FillHatched(dst *image.RGBA, rings [][]geom.Px, fill color.RGBA, p Pattern, spacing float64, hatch color.RGBA) {
	r := newRaster(dst, bounds(rings, 0))
	if r == nil {
		return
	}
	for _, ring := range rings {
		r.ring(ring)
	}
	r.keep = true
	r.paint(dst, evenOdd, fill)
	r.keep = false
	r.paintHatch(dst, p.at(spacing, first(rings)), hatch)
	r.free()
}

func first(rings [][]geom.Px) geom.Px {
	for _, ring := range rings {
		for _, p := range ring {
			if sane(p) {
				return p
			}
		}
	}
	return geom.Px{}
}

// Stroke draws the line through pts, width pixels wide with round joins and flat ends, closed back to the first
// point if asked. dash holds lengths in pixels drawn and left out by turns; nil draws all.
func Stroke(dst *image.RGBA, pts []geom.Px, closed bool, width float64, c color.RGBA, dash []float64) {
	if !(width > 0) || len(pts) == 0 {
		return
	}
	width = math.Min(width, maxWidth)
	r := newRaster(dst, boundsOf(pts, width/2+1))
	if r == nil {
		return
	}
	s := stroker{r: r, half: width / 2}
	s.path(pts, closed, dash)
	r.paint(dst, union, c)
	r.free()
}

// Line draws a straight line with flat ends.
func Line(dst *image.RGBA, a, b geom.Px, width float64, c color.RGBA) {
	pts := [2]geom.Px{a, b}
	Stroke(dst, pts[:], false, width, c, nil)
}

// Disc fills a circle.
func Disc(dst *image.RGBA, centre geom.Px, radius float64, c color.RGBA) {
	circle(dst, centre, radius, 0, c)
}

// Ring draws a circle whose line of the given width lies half inside and half outside radius.
func Ring(dst *image.RGBA, centre geom.Px, radius, width float64, c color.RGBA) {
	if width > 0 {
		circle(dst, centre, radius+width/2, radius-width/2, c)
	}
}

func circle(dst *image.RGBA, centre geom.Px, outer, inner float64, c color.RGBA) {
	if !(outer > 0) || outer > maxWidth || !sane(centre) {
		return
	}
	at := [1]geom.Px{centre}
	r := newRaster(dst, boundsOf(at[:], outer+1))
	if r == nil {
		return
	}
	r.arc(centre, outer, 0, 2*math.Pi)
	if inner > 0 {
		r.arc(centre, inner, 0, 2*math.Pi)
	}
	r.paint(dst, evenOdd, c)
	r.free()
}

// Arrow draws a line from tail to tip with a filled head at the tip, four widths long and at least eight pixels.
func Arrow(dst *image.RGBA, tail, tip geom.Px, width float64, c color.RGBA) {
	length := tail.Dist(tip)
	if !(width > 0) || !(length > 0) || math.IsInf(length, 0) {
		return
	}
	width = math.Min(width, maxWidth)
	head := math.Min(length, math.Max(8, 4*width))
	ux, uy := (tip.X-tail.X)/length, (tip.Y-tail.Y)/length
	neck := geom.Px{X: tip.X - head*ux, Y: tip.Y - head*uy}
	pts := [3]geom.Px{tail, tip, neck}
	r := newRaster(dst, boundsOf(pts[:], math.Max(width, head)))
	if r == nil {
		return
	}
	s := stroker{r: r, half: width / 2}
	s.segment(tail, geom.Px{X: neck.X + ux, Y: neck.Y + uy}) // one pixel into the head
	wing := head * 0.4
	r.triangle(tip, geom.Px{X: neck.X + wing*uy, Y: neck.Y - wing*ux}, geom.Px{X: neck.X - wing*uy, Y: neck.Y + wing*ux})
	r.paint(dst, union, c)
	r.free()
}

// Rect draws the edge of r, width pixels wide, inside r.
func Rect(dst *image.RGBA, r image.Rectangle, width int, c color.RGBA) {
	if r.Empty() || width <= 0 {
		return
	}
	if 2*width >= min(r.Dx(), r.Dy()) {
		FillRect(dst, r, c)
		return
	}
	in := r.Inset(width)
	FillRect(dst, image.Rect(r.Min.X, r.Min.Y, r.Max.X, in.Min.Y), c)
	FillRect(dst, image.Rect(r.Min.X, in.Max.Y, r.Max.X, r.Max.Y), c)
	FillRect(dst, image.Rect(r.Min.X, in.Min.Y, in.Min.X, in.Max.Y), c)
	FillRect(dst, image.Rect(in.Max.X, in.Min.Y, r.Max.X, in.Max.Y), c)
}

// FillRect fills r, whose Max lies outside as everywhere in package image.
func FillRect(dst *image.RGBA, r image.Rectangle, c color.RGBA) {
	if r = r.Intersect(dst.Rect); r.Empty() {
		return
	}
	b := newBrush(c)
	row := func(y int) []byte {
		o := dst.PixOffset(r.Min.X, y)
		return dst.Pix[o : o+4*r.Dx()]
	}
	first := row(r.Min.Y)
	b.run(first, 255)
	for y := r.Min.Y + 1; y < r.Max.Y; y++ {
		if c.A == 255 { // nothing shows through, so every row is the first
			copy(row(y), first)
		} else {
			b.run(row(y), 255)
		}
	}
}

// RoundRect fills r with corners rounded by radius.
func RoundRect(dst *image.RGBA, rect image.Rectangle, radius float64, c color.RGBA) {
	radius = math.Min(radius, float64(min(rect.Dx(), rect.Dy()))/2)
	if !(radius > 0) {
		FillRect(dst, rect, c)
		return
	}
	r := newRaster(dst, rect)
	if r == nil {
		return
	}
	left, top := float64(rect.Min.X)-0.5+radius, float64(rect.Min.Y)-0.5+radius
	right, low := float64(rect.Max.X)-0.5-radius, float64(rect.Max.Y)-0.5-radius
	corners := [4]geom.Px{{X: right, Y: low}, {X: left, Y: low}, {X: left, Y: top}, {X: right, Y: top}}
	p := pen{r: r}
	for i, at := range corners {
		p.arcTo(at, radius, float64(i)*math.Pi/2, float64(i+1)*math.Pi/2)
	}
	p.close()
	r.paint(dst, evenOdd, c)
	r.free()
}

// Blit lays src over dst with its upper left corner at p.
func Blit(dst, src *image.RGBA, p image.Point) {
	r := image.Rectangle{Min: p, Max: p.Add(src.Rect.Size())}.Intersect(dst.Rect)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		from := src.PixOffset(r.Min.X-p.X+src.Rect.Min.X, y-p.Y+src.Rect.Min.Y)
		to := dst.PixOffset(r.Min.X, y)
		overRow(dst.Pix[to:to+4*r.Dx()], src.Pix[from:from+4*r.Dx()])
	}
}

func overRow(dst, src []byte) {
	for i := 0; i+4 <= len(src) && i+4 <= len(dst); i += 4 {
		s, d := src[i:i+4], dst[i:i+4]
		switch s[3] {
		case 0:
		case 255:
			copy(d, s)
		default:
			rest := 255 - uint32(s[3])
			for k := range 4 {
				d[k] = uint8(min(255, uint32(s[k])+(uint32(d[k])*rest+127)/255))
			}
		}
	}
}
