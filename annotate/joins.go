package annotate

import (
	"fmt"
	"math"
	"slices"

	sf "github.com/peterstace/simplefeatures/geom"

	"sectionary/slices/geom"
)

// Join returns a and b as one, their common area counted once.
func Join(a, b []Polygon) ([]Polygon, error) { return overlay(a, b, sf.Union) }

// Minus returns a without what b covers: a new outline takes over the border of its neighbour, point for point.
func Minus(a, b []Polygon) ([]Polygon, error) { return overlay(a, b, sf.Difference) }

// Common returns what a and b share.
func Common(a, b []Polygon) ([]Polygon, error) { return overlay(a, b, sf.Intersection) }

// overlay checks first: a union of an outline that crosses itself would silently drop a lobe.
func overlay(a, b []Polygon, op func(a, b sf.Geometry) (sf.Geometry, error)) ([]Polygon, error) {
	ga, err := toGeometry(a)
	if err != nil {
		return nil, err
	}
	gb, err := toGeometry(b)
	if err != nil {
		return nil, err
	}
	g, err := op(ga, gb)
	if err != nil {
		return nil, fmt.Errorf("annotate: joining outlines: %w", err)
	}
	return fromGeometry(g), nil
}

func toGeometry(regions []Polygon) (sf.Geometry, error) {
	all := make([]sf.Geometry, 0, len(regions))
	for i, p := range regions {
		if err := p.Check(); err != nil {
			return sf.Geometry{}, fmt.Errorf("part %d: %w", i+1, err)
		}
		rings := make([]sf.LineString, p.Rings())
		for n := range rings {
			r := p.Ring(n)
			flat := make([]float64, 0, 2*len(r)+2)
			for k := range len(r) + 1 {
				flat = append(flat, r[k%len(r)].X, r[k%len(r)].Y)
			}
			rings[n] = sf.NewLineString(sf.NewSequence(flat, sf.DimXY))
		}
		all = append(all, sf.NewPolygon(rings).AsGeometry())
	}
	g, err := sf.UnionMany(all)
	if err != nil {
		return sf.Geometry{}, fmt.Errorf("annotate: joining outlines: %w", err)
	}
	return g, nil
}

// fromGeometry keeps the areas of g that can be drawn and drops lines, points and slivers.
func fromGeometry(g sf.Geometry) []Polygon {
	var out []Polygon
	keep := func(p sf.Polygon) {
		var q Polygon
		for n, r := range p.DumpRings() {
			s := r.Coordinates()
			ring := make([]geom.Px, 0, s.Length())
			for i := range s.Length() {
				xy := s.GetXY(i)
				ring = append(ring, geom.Px{X: xy.X, Y: xy.Y})
			}
			ring = openRing(ring)
			switch {
			case n == 0:
				q.Outer = ring
			case math.Abs(signedArea(ring)) >= minArea:
				q.Holes = append(q.Holes, ring)
			}
		}
		if q = q.parted(); q.Check() == nil {
			out = append(out, q)
		}
	}
	switch {
	case g.IsPolygon():
		keep(g.MustAsPolygon())
	case g.IsMultiPolygon():
		m := g.MustAsMultiPolygon()
		for i := range m.NumPolygons() {
			keep(m.PolygonN(i))
		}
	case g.IsGeometryCollection():
		c := g.MustAsGeometryCollection()
		for i := range c.NumGeometries() {
			out = append(out, fromGeometry(c.GeometryN(i))...)
		}
	}
	return out
}

// parted pulls holes that touch another ring in one point, which the overlay may make and Check refuses, a thousandth of a
// pixel inward.
func (p Polygon) parted() Polygon {
	if p.Check() == nil {
		return p
	}
	q := p
	q.Holes = slices.Clone(p.Holes)
	for i, h := range q.Holes {
		c := Polygon{Outer: h}.Inside()
		ring := make([]geom.Px, len(h))
		for k, at := range h {
			d := math.Max(at.Dist(c), 1e-9)
			ring[k] = geom.Px{X: at.X + (c.X-at.X)/d*1e-3, Y: at.Y + (c.Y-at.Y)/d*1e-3}
		}
		q.Holes[i] = ring
	}
	return q
}

// Cut parts p along a stroke of two points or more that runs right across it. The ends are drawn out straight until they
// leave p, so a stroke that stops just short still cuts. It fails when the stroke crosses itself or leaves p whole.
func Cut(p Polygon, stroke []geom.Px) ([]Polygon, error) {
	if len(stroke) < 2 || stroke[0] == stroke[1] || stroke[len(stroke)-1] == stroke[len(stroke)-2] {
		return nil, fmt.Errorf("%w: a cut needs a stroke of two different points", ErrTooSmall)
	}
	b := p.Bounds()
	for _, q := range stroke {
		b = b.Union(Box{q, q})
	}
	far := 2*(b.W()+b.H()) + 10
	line := slices.Clone(stroke)
	line = append([]geom.Px{drawnOut(stroke[1], stroke[0], far)}, line...)
	line = append(line, drawnOut(stroke[len(stroke)-2], stroke[len(stroke)-1], far))
	side := Polygon{Outer: closeAround(line, b, far)}
	if err := side.Check(); err != nil {
		return nil, fmt.Errorf("annotate: the cut: %w", err)
	}
	one, err := Minus([]Polygon{p}, []Polygon{side})
	if err != nil {
		return nil, err
	}
	other, err := Common([]Polygon{p}, []Polygon{side})
	if err != nil {
		return nil, err
	}
	parts := append(one, other...)
	if len(one) == 0 || len(other) == 0 {
		return nil, fmt.Errorf("%w: the cut does not run across the outline", ErrTooSmall)
	}
	return parts, nil
}

func drawnOut(from, to geom.Px, far float64) geom.Px {
	d := from.Dist(to)
	return geom.Px{X: to.X + (to.X-from.X)/d*far, Y: to.Y + (to.Y-from.Y)/d*far}
}

// closeAround closes a line whose ends lie far outside b into the region on its right, by an arc round b.
func closeAround(line []geom.Px, b Box, far float64) []geom.Px {
	c := geom.Px{X: (b.Min.X + b.Max.X) / 2, Y: (b.Min.Y + b.Max.Y) / 2}
	start, end := line[0], line[len(line)-1]
	a, z := math.Atan2(end.Y-c.Y, end.X-c.X), math.Atan2(start.Y-c.Y, start.X-c.X)
	if z <= a {
		z += 2 * math.Pi
	}
	const steps = 24
	for i := range steps + 1 {
		sin, cos := math.Sincos(a + (z-a)*float64(i)/steps)
		line = append(line, geom.Px{X: c.X + 3*far*cos, Y: c.Y + 3*far*sin})
	}
	return line
}
