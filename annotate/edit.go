package annotate

import (
	"fmt"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/simplify"

	"sectionary/slices/geom"
)

// MovePoint returns p with point i of ring n at q.
func (p Polygon) MovePoint(n, i int, q geom.Px) (Polygon, error) {
	return p.editRing(n, i, false, func(r []geom.Px) []geom.Px { r[i] = q; return r })
}

// InsertPoint returns p with q put before point i of ring n; i may equal the number of points.
func (p Polygon) InsertPoint(n, i int, q geom.Px) (Polygon, error) {
	return p.editRing(n, i, true, func(r []geom.Px) []geom.Px {
		r = append(r, q)
		copy(r[i+1:], r[i:])
		r[i] = q
		return r
	})
}

// RemovePoint returns p without point i of ring n. A ring keeps at least three points: ErrTooSmall.
func (p Polygon) RemovePoint(n, i int) (Polygon, error) {
	if len(p.Ring(n)) <= 3 && i >= 0 && i < len(p.Ring(n)) {
		return p, fmt.Errorf("%w: a ring needs three points", ErrTooSmall)
	}
	return p.editRing(n, i, false, func(r []geom.Px) []geom.Px { return append(r[:i], r[i+1:]...) })
}

// editRing copies the one ring that changes and shares the rest.
func (p Polygon) editRing(n, i int, end bool, edit func([]geom.Px) []geom.Px) (Polygon, error) {
	old := p.Ring(n)
	if i < 0 || i > len(old) || (i == len(old) && !end) || n < 0 || n > len(p.Holes) {
		return p, fmt.Errorf("%w: point %d of ring %d", ErrNoPoint, i, n)
	}
	ring := edit(append(make([]geom.Px, 0, len(old)+1), old...))
	if n == 0 {
		p.Outer = ring
		return p, nil
	}
	holes := append([][]geom.Px(nil), p.Holes...)
	holes[n-1] = ring
	p.Holes = holes
	return p, nil
}

// AddHole returns p with one more hole. It fails as Check does.
func (p Polygon) AddHole(ring []geom.Px) (Polygon, error) {
	q := p
	q.Holes = append(slices.Clip(slices.Clone(p.Holes)), slices.Clone(ring))
	if err := q.Check(); err != nil {
		return p, err
	}
	return q, nil
}

// RemoveHole returns p without hole n, counted from 0.
func (p Polygon) RemoveHole(n int) (Polygon, error) {
	if n < 0 || n >= len(p.Holes) {
		return p, fmt.Errorf("%w: hole %d", ErrNoPoint, n)
	}
	p.Holes = slices.Concat(p.Holes[:n], p.Holes[n+1:])
	if len(p.Holes) == 0 {
		p.Holes = nil
	}
	return p, nil
}

// NearestPoint returns the ring and index of the point nearest q and its distance; ring -1 without points.
func (p Polygon) NearestPoint(q geom.Px) (ring, i int, dist float64) {
	ring = -1
	for n := range p.Rings() {
		for k, at := range p.Ring(n) {
			if d := at.Dist(q); ring < 0 || d < dist {
				ring, i, dist = n, k, d
			}
		}
	}
	return ring, i, dist
}

// NearestEdge returns the ring and the index after which a point at q would be inserted (the argument of
// InsertPoint), the foot of q on that edge and its distance; ring -1 without points.
func (p Polygon) NearestEdge(q geom.Px) (ring, before int, foot geom.Px, dist float64) {
	ring = -1
	for n := range p.Rings() {
		r := p.Ring(n)
		for k := range r {
			f := footOn(q, r[k], r[(k+1)%len(r)])
			if d := f.Dist(q); ring < 0 || d < dist {
				ring, before, foot, dist = n, k+1, f, d
			}
		}
	}
	return ring, before, foot, dist
}

// Simplify returns p with fewer points, no edge farther than tolerance pixels from the old one
// (Douglas and Peucker 1973). The result is sound when p is: where thinning would make the outline
// cross itself the tolerance is halved until it does not.
func (p Polygon) Simplify(tolerance float64) Polygon {
	for range 20 {
		if !(tolerance > 0) {
			break
		}
		q := Polygon{Outer: simplifyRing(p.Outer, tolerance)}
		for _, h := range p.Holes {
			q.Holes = append(q.Holes, simplifyRing(h, tolerance))
		}
		if q.Check() == nil {
			return q
		}
		tolerance /= 2
	}
	return p
}

// simplifyRing thins the two halves of a ring between its first point and the one farthest from it.
func simplifyRing(r []geom.Px, tolerance float64) []geom.Px {
	if len(r) < 4 {
		return r
	}
	far := 0
	for i := range r {
		if r[i].Dist(r[0]) > r[far].Dist(r[0]) {
			far = i
		}
	}
	out := SimplifyLine(r[:far+1], tolerance)
	back := SimplifyLine(append(slices.Clone(r[far:]), r[0]), tolerance)
	return slices.Concat(out, back[1:len(back)-1])
}

// SimplifyLine thins an open line, keeping its ends, with no edge farther than tolerance from the old line.
// It is what a freehand stroke goes through.
func SimplifyLine(line []geom.Px, tolerance float64) []geom.Px {
	if len(line) < 3 {
		return slices.Clone(line)
	}
	ls := make(orb.LineString, len(line))
	for i, q := range line {
		ls[i] = orb.Point{q.X, q.Y}
	}
	ls = simplify.DouglasPeucker(tolerance).LineString(ls)
	out := make([]geom.Px, len(ls))
	for i, q := range ls {
		out[i] = geom.Px{X: q[0], Y: q[1]}
	}
	return out
}
