package annotate

import (
	"math"

	"sectionary/slices/geom"
)

// Round returns an ellipse about c with half-axes a and b pixels, a turned by turn radians clockwise as seen; a circle
// when a and b are equal. It has as many points as keep its edge within a fifth of a pixel of the true one.
func Round(c geom.Px, a, b, turn float64) (Polygon, error) {
	r := math.Max(math.Abs(a), math.Abs(b))
	if !(math.Min(math.Abs(a), math.Abs(b)) > 0) || r > maxCoord {
		return Polygon{}, ErrTooSmall
	}
	n := 12
	if r > 0.2 {
		n = max(n, int(math.Ceil(math.Pi/math.Acos(1-0.2/r)))) // sagitta of a chord
	}
	n = min(n, 720)
	sin, cos := math.Sincos(turn)
	p := Polygon{Outer: make([]geom.Px, n)}
	for i := range p.Outer {
		s, k := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		p.Outer[i] = geom.Px{X: c.X + a*k*cos - b*s*sin, Y: c.Y + a*k*sin + b*s*cos}
	}
	return p, p.Check()
}

// Freehand closes a stroke into an outline, thinned to within tolerance pixels. It fails as Check does when the stroke
// crosses itself.
func Freehand(stroke []geom.Px, tolerance float64) (Polygon, error) {
	p := Polygon{Outer: openRing(stroke)}
	if len(p.Outer) > maxPoints/4 { // Check's bound is for what is kept, a stroke may have more before it is thinned
		p.Outer = simplifyRing(p.Outer, math.Max(tolerance, 0.5))
	}
	if err := p.Check(); err != nil {
		return p, err
	}
	return p.Simplify(tolerance), nil
}

// Smooth rounds the corners of p by one turn of corner cutting and a slight thinning (Chaikin 1974); the area changes little. The
// result is sound when p is, or p itself where smoothing would make it cross itself.
func (p Polygon) Smooth() Polygon {
	cut := func(r []geom.Px) []geom.Px {
		out := make([]geom.Px, 0, 2*len(r))
		for i := range r {
			a, b := r[i], r[(i+1)%len(r)]
			out = append(out, geom.Px{X: 0.75*a.X + 0.25*b.X, Y: 0.75*a.Y + 0.25*b.Y}, geom.Px{X: 0.25*a.X + 0.75*b.X, Y: 0.25*a.Y + 0.75*b.Y})
		}
		return out
	}
	q := Polygon{Outer: cut(p.Outer)}
	for _, h := range p.Holes {
		q.Holes = append(q.Holes, cut(h))
	}
	if q.Check() != nil {
		return p
	}
	return q.Simplify(0.25)
}

// Snap returns the point of the labels' outlines nearest q: a corner within reach pixels before the middle of an edge
// within reach. skip is the label being drawn, or empty.
func (l Labels) Snap(q geom.Px, reach float64, skip string) (geom.Px, bool) {
	corner, edge := q, q
	dCorner, dEdge := math.Inf(1), math.Inf(1)
	near := Box{geom.Px{X: q.X - reach, Y: q.Y - reach}, geom.Px{X: q.X + reach, Y: q.Y + reach}}
	for x := range l.All() {
		if x.ID == skip {
			continue
		}
		for _, p := range x.Regions {
			if b := p.Bounds(); !b.Overlaps(near) {
				continue
			}
			if n, i, d := p.NearestPoint(q); n >= 0 && d < dCorner {
				corner, dCorner = p.Ring(n)[i], d
			}
			if n, _, f, d := p.NearestEdge(q); n >= 0 && d < dEdge {
				edge, dEdge = f, d
			}
		}
	}
	switch {
	case dCorner <= reach:
		return corner, true
	case dEdge <= reach:
		return edge, true
	}
	return q, false
}

// MoveShared returns l with every point that lies exactly at from, in whichever labels, moved to to: neighbours that
// share a border follow together, so no gap or sliver opens. Neighbours get a point of their own first where from lies on
// one of their edges. It fails as Check does, naming the label. by becomes the author of each label that changed.
func (l Labels) MoveShared(by Stamp, from, to geom.Px) (Labels, error) {
	next := l
	for x := range l.All() {
		regions, changed := x.sharedMove(from, to)
		if !changed {
			continue
		}
		var err error
		if next, err = next.Reshape(x.ID, by, regions...); err != nil {
			return l, err
		}
	}
	return next, nil
}

// onEdge is how near an edge a point must lie to be on it, in pixels: rounding of a point put there by Snap.
const onEdge = 1e-6

func (x Label) sharedMove(from, to geom.Px) (regions []Polygon, changed bool) {
	regions = make([]Polygon, len(x.Regions))
	for i, p := range x.Regions {
		regions[i] = p
		if n, k, d := p.NearestPoint(from); n >= 0 && d <= onEdge {
			if q, err := p.MovePoint(n, k, to); err == nil {
				regions[i], changed = q, true
			}
		} else if n, before, _, d := p.NearestEdge(from); n >= 0 && d <= onEdge {
			if q, err := p.InsertPoint(n, before, to); err == nil {
				regions[i], changed = q, true
			}
		}
	}
	return regions, changed
}
