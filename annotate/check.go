package annotate

import (
	"cmp"
	"fmt"
	"math"
	"math/big"
	"slices"

	"sectionary/slices/geom"
)

// maxPoints bounds the points of one outline, so that a hostile file cannot keep Check busy for minutes. A
// freehand stroke round a 50-megapixel face has fewer before it is thinned.
const maxPoints = 20_000

// maxCoord bounds coordinates: a hundred times the widest photograph, far inside exact arithmetic.
const maxCoord = 1e7

// minArea is the least area of a ring in square pixels; less cannot be seen or clicked.
const minArea = 1e-3

// CrossingError gives the place where an outline meets itself, in pixels. It is an ErrCrossing.
type CrossingError struct{ At geom.Px }

// Error says where, to a tenth of a pixel.
func (e *CrossingError) Error() string {
	return fmt.Sprintf("%v at pixel %.1f, %.1f", ErrCrossing, e.At.X, e.At.Y)
}

// Unwrap returns ErrCrossing.
func (e *CrossingError) Unwrap() error { return ErrCrossing }

// Check reports whether p is a sound outline: finite points, every ring enclosing an area, no ring touching
// itself or another ring, every hole inside the outer ring and outside the other holes. Errors: ErrTooSmall, a
// *CrossingError (ErrCrossing) with the place, ErrHole. A point drawn twice in a row is allowed.
func (p Polygon) Check() error {
	total := 0
	for n := range p.Rings() {
		total += len(p.Ring(n))
	}
	if total > maxPoints {
		return fmt.Errorf("annotate: the outline has %d points, more than %d: simplify it", total, maxPoints)
	}
	var edges []edge
	for n := range p.Rings() {
		ring, err := cleanRing(p.Ring(n))
		if err != nil {
			return err
		}
		for i := range ring {
			edges = append(edges, newEdge(ring[i], ring[(i+1)%len(ring)], n, i, len(ring)))
		}
	}
	if at, found := firstCrossing(edges); found {
		return &CrossingError{at}
	}
	for n := range p.Rings() {
		if math.Abs(signedArea(p.Ring(n))) < minArea {
			return ErrTooSmall
		}
	}
	return p.checkHoles()
}

// checkHoles needs rings that do not meet: then one point of a hole tells for the whole hole.
func (p Polygon) checkHoles() error {
	for i, h := range p.Holes {
		if !inRing(p.Outer, h[0]) {
			return fmt.Errorf("%w: hole %d", ErrHole, i+1)
		}
		for j, other := range p.Holes {
			if i != j && inRing(other, h[0]) {
				return fmt.Errorf("%w: hole %d", ErrHole, i+1)
			}
		}
	}
	return nil
}

// cleanRing drops points repeated in a row, whose edges have no direction.
func cleanRing(r []geom.Px) ([]geom.Px, error) {
	for _, q := range r {
		if !(math.Abs(q.X) <= maxCoord && math.Abs(q.Y) <= maxCoord) {
			return nil, fmt.Errorf("annotate: point %g, %g lies outside any picture", q.X, q.Y)
		}
	}
	out := slices.Compact(slices.Clone(r))
	for len(out) > 1 && out[0] == out[len(out)-1] {
		out = out[:len(out)-1]
	}
	if len(out) < 3 {
		return nil, ErrTooSmall
	}
	return out, nil
}

// edge is one side of a ring, with what tells whether two of them are neighbours.
type edge struct {
	a, b           geom.Px
	lox, hix       float64
	loy, hiy       float64
	ring, at, many int
}

func newEdge(a, b geom.Px, ring, at, many int) edge {
	return edge{a, b, min(a.X, b.X), max(a.X, b.X), min(a.Y, b.Y), max(a.Y, b.Y), ring, at, many}
}

// firstCrossing sweeps along x and tests only edges whose boxes meet. With several crossings it returns the leftmost
// it comes upon.
func firstCrossing(edges []edge) (geom.Px, bool) {
	edges = slices.Clone(edges)
	slices.SortFunc(edges, func(e, f edge) int { return cmp.Compare(e.lox, f.lox) })
	var open []int
	for i := range edges {
		e := &edges[i]
		open = slices.DeleteFunc(open, func(j int) bool { return edges[j].hix < e.lox })
		for _, j := range open {
			if f := &edges[j]; f.loy <= e.hiy && e.loy <= f.hiy {
				if at, meet := edgesMeet(e, f); meet {
					return at, true
				}
			}
		}
		open = append(open, i)
	}
	return geom.Px{}, false
}

// edgesMeet reports whether two edges share a point they should not: neighbours may share their common end only.
func edgesMeet(e, f *edge) (geom.Px, bool) {
	if e.ring == f.ring {
		switch {
		case (e.at+1)%e.many == f.at:
			return foldsBack(e.a, e.b, f.b)
		case (f.at+1)%f.many == e.at:
			return foldsBack(f.a, f.b, e.b)
		}
	}
	return segmentsMeet(e.a, e.b, f.a, f.b)
}

// foldsBack reports whether the path a, b, c turns straight back on itself at b.
func foldsBack(a, b, c geom.Px) (geom.Px, bool) {
	back := orientation(a, b, c) == 0 && (b.X-a.X)*(c.X-b.X)+(b.Y-a.Y)*(c.Y-b.Y) < 0
	return b, back
}

// segmentsMeet reports whether ab and cd share a point, and one they share.
func segmentsMeet(a, b, c, d geom.Px) (geom.Px, bool) {
	abc, abd := orientation(a, b, c), orientation(a, b, d)
	cda, cdb := orientation(c, d, a), orientation(c, d, b)
	if abc*abd < 0 && cda*cdb < 0 {
		return lineMeet(a, b, c, d), true
	}
	for _, t := range []struct {
		side    int
		q, s, e geom.Px
	}{{abc, c, a, b}, {abd, d, a, b}, {cda, a, c, d}, {cdb, b, c, d}} {
		if t.side == 0 && newEdge(t.s, t.e, 0, 0, 0).box().Contains(t.q) {
			return t.q, true
		}
	}
	return geom.Px{}, false
}

func (e edge) box() Box {
	return Box{geom.Px{X: e.lox, Y: e.loy}, geom.Px{X: e.hix, Y: e.hiy}}
}

// lineMeet is where two lines that are not parallel meet.
func lineMeet(a, b, c, d geom.Px) geom.Px {
	rx, ry, sx, sy := b.X-a.X, b.Y-a.Y, d.X-c.X, d.Y-c.Y
	den := rx*sy - ry*sx
	if den == 0 {
		return b
	}
	t := ((c.X-a.X)*sy - (c.Y-a.Y)*sx) / den
	return geom.Px{X: a.X + t*rx, Y: a.Y + t*ry}
}

// orientation is 1 when c lies to one side of ab, -1 on the other, 0 exactly on the line. Rounding is bounded
// (Shewchuk 1997, the first stage of orient2d); only when the bound cannot decide are the numbers multiplied out
// exactly.
func orientation(a, b, c geom.Px) int {
	l, r := (a.X-c.X)*(b.Y-c.Y), (a.Y-c.Y)*(b.X-c.X)
	det := l - r
	if bound := 3.4e-16 * (math.Abs(l) + math.Abs(r)); det > bound || -det > bound {
		return sign(det)
	}
	return exactOrientation(a, b, c)
}

func exactOrientation(a, b, c geom.Px) int {
	x := func(v float64) *big.Rat { return new(big.Rat).SetFloat64(v) }
	sub := func(p, q float64) *big.Rat { return new(big.Rat).Sub(x(p), x(q)) }
	l := new(big.Rat).Mul(sub(a.X, c.X), sub(b.Y, c.Y))
	return l.Cmp(new(big.Rat).Mul(sub(a.Y, c.Y), sub(b.X, c.X)))
}

func sign(v float64) int {
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}
