package annotate

import (
	"math"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// Area returns the area in square millimetres on the face, holes taken off, and its standard uncertainty from the scale
// and from the drawing of every point. Without a scale both are NaN, so nothing can be dressed up as millimetres.
func (p Polygon) Area(c photo.Calibration) (mm2, sd float64) {
	if c.Status == photo.Nominal {
		return math.NaN(), math.NaN()
	}
	spread := c.ScaleSpread(p.Centroid())
	var drawing float64
	for n := range p.Rings() {
		a, s, err := c.RingArea(p.Ring(n))
		if err != nil {
			return math.NaN(), math.NaN()
		}
		own := 2 * a * c.ScaleSpread(ringCentre(p.Ring(n))) // the scale's share is common to all rings
		drawing += math.Max(0, s*s-own*own)
		if n > 0 {
			a = -a
		}
		mm2 += a
	}
	return mm2, math.Hypot(math.Sqrt(drawing), 2*mm2*spread)
}

func ringCentre(r []geom.Px) geom.Px {
	var c geom.Px
	for _, q := range r {
		c.X, c.Y = c.X+q.X/float64(len(r)), c.Y+q.Y/float64(len(r))
	}
	return c
}

// Perimeter returns the length of all rings in millimetres on the face and its standard uncertainty. Without a
// scale both are NaN.
func (p Polygon) Perimeter(c photo.Calibration) (mm, sd float64) {
	if c.Status == photo.Nominal {
		return math.NaN(), math.NaN()
	}
	var drawing float64
	to := c.Map()
	for n := range p.Rings() {
		r := p.Ring(n)
		for i := range r {
			edge := to.Path(r[i], r[(i+1)%len(r)])
			for k := range edge[1:] {
				mm += edge[k].Dist(edge[k+1])
			}
			a, b, d := edge[0], edge[len(edge)-1], to.MM(r[(i+len(r)-1)%len(r)])
			// A point moved by a click lengthens one side as it shortens the other: only the bend there counts.
			ux, uy := unit(a, b)
			vx, vy := unit(a, d)
			step := photo.ClickSpread * c.PixelSize(r[i]) * math.Hypot(ux+vx, uy+vy)
			drawing += step * step
		}
	}
	return mm, math.Hypot(math.Sqrt(drawing), mm*c.ScaleSpread(p.Centroid()))
}

func unit(from, to geom.MM) (x, y float64) {
	d := from.Dist(to)
	if d == 0 {
		return 0, 0
	}
	return (to.X - from.X) / d, (to.Y - from.Y) / d
}

// Angle returns the angle at corner between the directions to a and b in radians, 0 to pi, on the face, and its
// standard uncertainty from the three clicks; a common scale does not change an angle. Without a scale the picture's own
// angle would mean something only for a camera standing square, so both are NaN.
func Angle(c photo.Calibration, a, corner, b geom.Px) (radians, sd float64) {
	if c.Status == photo.Nominal {
		return math.NaN(), math.NaN()
	}
	at := func(p geom.Px) float64 { return photo.ClickSpread * c.PixelSize(p) }
	return AngleAt(c.MM(a), c.MM(corner), c.MM(b), at(a), at(corner), at(b))
}

// Measured is one row of a table of measures.
type Measured struct {
	ID        string   `json:"id"`
	Term      TermID   `json:"term"`
	Side      Side     `json:"side"`
	AreaPx    float64  `json:"area_px"`
	Area      *float64 `json:"area_mm2"` // nil without a scale
	AreaSD    *float64 `json:"area_sd_mm2"`
	Perimeter *float64 `json:"perimeter_mm"`
	PerimSD   *float64 `json:"perimeter_sd_mm"`
	Centroid  geom.Px  `json:"-"`
}

// Measure returns a row for every label that counts, in order. Measures are taken on the pixels of the upright original,
// so turning, mirroring or zooming the picture shown cannot change them.
func (l Labels) Measure(c photo.Calibration) []Measured {
	var out []Measured
	for x := range l.All() {
		if !x.Counts() {
			continue
		}
		m := Measured{ID: x.ID, Term: x.Term, Side: x.Side, AreaPx: x.AreaPx(), Centroid: x.Centroid()}
		if c.Status != photo.Nominal {
			var v [4]float64
			for _, p := range x.Regions {
				a, as := p.Area(c)
				l, ls := p.Perimeter(c)
				v = [4]float64{v[0] + a, math.Hypot(v[1], as), v[2] + l, math.Hypot(v[3], ls)}
			}
			m.Area, m.AreaSD, m.Perimeter, m.PerimSD = &v[0], &v[1], &v[2], &v[3]
		}
		out = append(out, m)
	}
	return out
}

// Centroid returns the centre of gravity of all parts together.
func (x Label) Centroid() geom.Px {
	var area float64
	var sum geom.Px
	for _, p := range x.Regions {
		a, c := p.AreaPx(), p.Centroid()
		area, sum.X, sum.Y = area+a, sum.X+a*c.X, sum.Y+a*c.Y
	}
	if area > 0 {
		return geom.Px{X: sum.X / area, Y: sum.Y / area}
	}
	if len(x.Regions) > 0 {
		return x.Regions[0].Centroid()
	}
	return geom.Px{}
}
