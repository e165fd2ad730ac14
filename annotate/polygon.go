// Package annotate holds what a person draws and names on a cut face: outlines in pixels of the upright
// original, labels that tie an outline to a structure of the term list, and the measuring, matching,
// placing and exchange of both.
//
// Polygon, Label and Labels are values: an edit returns a new one and leaves the old as it was, so keeping
// an old value is all that undo needs.
package annotate

import (
	"errors"
	"math"

	"sectionary/slices/geom"
)

var (
	// ErrCrossing says that an outline meets itself; a *CrossingError gives the place.
	ErrCrossing = errors.New("annotate: the outline crosses itself")
	// ErrTooSmall says that a ring encloses nothing: fewer than three different points, or no area.
	ErrTooSmall = errors.New("annotate: the outline encloses nothing")
	// ErrHole says that a hole lies outside its outline or inside another hole.
	ErrHole = errors.New("annotate: a hole lies outside its outline or inside another hole")
	// ErrNoPoint says that a ring or point index lies outside the outline.
	ErrNoPoint = errors.New("annotate: no such point")
)

// Polygon is one closed part of an outline, in pixels of the upright original. No ring repeats its first
// point; either direction is allowed. Holes lie inside Outer and do not overlap.
type Polygon struct {
	Outer []geom.Px
	Holes [][]geom.Px
}

// Box is an upright rectangle, in the units of the points it holds.
type Box struct{ Min, Max geom.Px }

// W and H return the width and height of b.
func (b Box) W() float64 { return b.Max.X - b.Min.X }

// H returns the height of b.
func (b Box) H() float64 { return b.Max.Y - b.Min.Y }

// Contains reports whether q lies in b or on its edge.
func (b Box) Contains(q geom.Px) bool {
	return q.X >= b.Min.X && q.X <= b.Max.X && q.Y >= b.Min.Y && q.Y <= b.Max.Y
}

// Overlaps reports whether b and c share more than an edge.
func (b Box) Overlaps(c Box) bool {
	return b.Min.X < c.Max.X && c.Min.X < b.Max.X && b.Min.Y < c.Max.Y && c.Min.Y < b.Max.Y
}

// Union returns the smallest box around b and c.
func (b Box) Union(c Box) Box {
	return Box{
		geom.Px{X: math.Min(b.Min.X, c.Min.X), Y: math.Min(b.Min.Y, c.Min.Y)},
		geom.Px{X: math.Max(b.Max.X, c.Max.X), Y: math.Max(b.Max.Y, c.Max.Y)},
	}
}

// Ring returns ring n: 0 is the outer ring, 1 and above are the holes; nil when there is none.
func (p Polygon) Ring(n int) []geom.Px {
	switch {
	case n == 0:
		return p.Outer
	case n > 0 && n <= len(p.Holes):
		return p.Holes[n-1]
	}
	return nil
}

// Rings returns the number of rings, the outer one included.
func (p Polygon) Rings() int { return 1 + len(p.Holes) }

// Bounds returns the smallest upright box around the outer ring, the zero box when it has no points.
func (p Polygon) Bounds() Box {
	if len(p.Outer) == 0 {
		return Box{}
	}
	b := Box{p.Outer[0], p.Outer[0]}
	for _, q := range p.Outer[1:] {
		b.Min.X, b.Max.X = math.Min(b.Min.X, q.X), math.Max(b.Max.X, q.X)
		b.Min.Y, b.Max.Y = math.Min(b.Min.Y, q.Y), math.Max(b.Max.Y, q.Y)
	}
	return b
}

// Map returns p with every point carried through f.
func (p Polygon) Map(f func(geom.Px) geom.Px) Polygon {
	ring := func(in []geom.Px) []geom.Px {
		out := make([]geom.Px, len(in))
		for i, q := range in {
			out[i] = f(q)
		}
		return out
	}
	m := Polygon{Outer: ring(p.Outer)}
	for _, h := range p.Holes {
		m.Holes = append(m.Holes, ring(h))
	}
	return m
}

// Equal reports whether p and q have the same points in the same order.
func (p Polygon) Equal(q Polygon) bool {
	if p.Rings() != q.Rings() {
		return false
	}
	for n := range p.Rings() {
		a, b := p.Ring(n), q.Ring(n)
		if len(a) != len(b) {
			return false
		}
		for i := range a {
			if a[i] != b[i] {
				return false
			}
		}
	}
	return true
}

// AreaPx returns the area enclosed by the outer ring less its holes, in square pixels (shoelace formula).
func (p Polygon) AreaPx() float64 {
	a := math.Abs(signedArea(p.Outer))
	for _, h := range p.Holes {
		a -= math.Abs(signedArea(h))
	}
	return a
}

// PerimeterPx returns the length of all rings together, in pixels.
func (p Polygon) PerimeterPx() float64 {
	var sum float64
	for n := range p.Rings() {
		r := p.Ring(n)
		for i := range r {
			sum += r[i].Dist(r[(i+1)%len(r)])
		}
	}
	return sum
}

// Centroid returns the centre of gravity of the enclosed area; it may lie outside a bent outline. An outline
// without area gives the mean of its points.
func (p Polygon) Centroid() geom.Px {
	a, sum := ringMoment(p.Outer)
	for _, h := range p.Holes {
		ha, hm := ringMoment(h)
		a, sum.X, sum.Y = a-ha, sum.X-hm.X, sum.Y-hm.Y
	}
	if a > 0 {
		return geom.Px{X: sum.X / a, Y: sum.Y / a}
	}
	var mean geom.Px
	for _, q := range p.Outer {
		mean.X, mean.Y = mean.X+q.X/float64(len(p.Outer)), mean.Y+q.Y/float64(len(p.Outer))
	}
	return mean
}

// Contains reports whether q lies inside the outer ring and in no hole (crossing number; a point exactly on
// an edge may go either way, so that neighbours sharing a border never both claim it).
func (p Polygon) Contains(q geom.Px) bool {
	if !inRing(p.Outer, q) {
		return false
	}
	for _, h := range p.Holes {
		if inRing(h, q) {
			return false
		}
	}
	return true
}

// EdgeDistance returns how far q lies from the nearest edge in pixels, infinity when there is no edge.
func (p Polygon) EdgeDistance(q geom.Px) float64 {
	d := math.Inf(1)
	for n := range p.Rings() {
		r := p.Ring(n)
		for i := range r {
			d = math.Min(d, segmentDistance2(q, r[i], r[(i+1)%len(r)]))
		}
	}
	return math.Sqrt(d)
}

// signedArea is positive when the ring runs clockwise as seen on the screen (y down).
func signedArea(r []geom.Px) float64 {
	var sum float64
	if len(r) == 0 {
		return 0
	}
	o := r[0] // measured from the first point: small outlines far from the origin keep their digits
	for i := range r {
		a, b := r[i], r[(i+1)%len(r)]
		sum += (a.X-o.X)*(b.Y-o.Y) - (b.X-o.X)*(a.Y-o.Y)
	}
	return sum / 2
}

// ringMoment returns the area of a ring without sign and its first moments.
func ringMoment(r []geom.Px) (area float64, m geom.Px) {
	if len(r) == 0 {
		return 0, geom.Px{}
	}
	o := r[0]
	var a, mx, my float64
	for i := range r {
		p, q := r[i], r[(i+1)%len(r)]
		px, py, qx, qy := p.X-o.X, p.Y-o.Y, q.X-o.X, q.Y-o.Y
		c := px*qy - qx*py
		a, mx, my = a+c/2, mx+(px+qx)*c/6, my+(py+qy)*c/6
	}
	if a < 0 {
		a, mx, my = -a, -mx, -my
	}
	return a, geom.Px{X: mx + a*o.X, Y: my + a*o.Y}
}

func inRing(r []geom.Px, q geom.Px) bool {
	in := false
	for i, j := 0, len(r)-1; i < len(r); j, i = i, i+1 {
		a, b := r[i], r[j]
		if (a.Y > q.Y) != (b.Y > q.Y) && q.X < a.X+(q.Y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
			in = !in
		}
	}
	return in
}

// footOn is the point of the segment ab nearest q.
func footOn(q, a, b geom.Px) geom.Px {
	dx, dy := b.X-a.X, b.Y-a.Y
	t := 0.0
	if l := dx*dx + dy*dy; l > 0 {
		t = math.Max(0, math.Min(1, ((q.X-a.X)*dx+(q.Y-a.Y)*dy)/l))
	}
	return geom.Px{X: a.X + t*dx, Y: a.Y + t*dy}
}

// segmentDistance2 is the squared distance from q to the segment ab.
func segmentDistance2(q, a, b geom.Px) float64 {
	f := footOn(q, a, b)
	return (q.X-f.X)*(q.X-f.X) + (q.Y-f.Y)*(q.Y-f.Y)
}
