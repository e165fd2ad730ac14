package practice

import (
	"math"

	"sectionary/slices/geom"
)

// shape is a solid of the practice body in LPS mm.
type shape interface {
	inside(p geom.LPS) bool
	box() (lo, hi geom.LPS) // every inside point lies within
}

// ring is one level of a stack: an oval about (X, Y) with half axes RX and RY in mm.
type ring struct{ Z, X, Y, RX, RY float64 }

// stack is a solid built of ovals that change smoothly along the body. Power 2 is an ellipse, above 2 squarer.
type stack struct {
	rings []ring // rising Z
	power float64
	lo    geom.LPS
	hi    geom.LPS
	table []ring // every tableStep mm from lo.Z, since the curve is asked for millions of times
}

const tableStep = 0.5

func newStack(power float64, rings ...ring) *stack {
	s := &stack{rings: rings, power: power}
	s.lo = geom.LPS{X: math.Inf(1), Y: math.Inf(1), Z: rings[0].Z}
	s.hi = geom.LPS{X: math.Inf(-1), Y: math.Inf(-1), Z: rings[len(rings)-1].Z}
	for z := s.lo.Z; z < s.hi.Z+tableStep; z += tableStep {
		r := s.curve(z)
		s.table = append(s.table, r)
		// Smooth interpolation may swing past its rings, so the box is measured along the curve.
		s.lo.X, s.hi.X = math.Min(s.lo.X, r.X-r.RX), math.Max(s.hi.X, r.X+r.RX)
		s.lo.Y, s.hi.Y = math.Min(s.lo.Y, r.Y-r.RY), math.Max(s.hi.Y, r.Y+r.RY)
	}
	return s
}

// at returns the oval at height z from the table.
func (s *stack) at(z float64) ring {
	f := math.Max(0, z-s.lo.Z) / tableStep
	i := min(int(f), len(s.table)-2)
	t := math.Min(1, f-float64(i))
	a, b := &s.table[i], &s.table[i+1]
	return ring{z, a.X + t*(b.X-a.X), a.Y + t*(b.Y-a.Y), a.RX + t*(b.RX-a.RX), a.RY + t*(b.RY-a.RY)}
}

// curve returns the oval at height z by Catmull-Rom interpolation between the rings.
func (s *stack) curve(z float64) ring {
	r := s.rings
	i := 0
	for i < len(r)-2 && z > r[i+1].Z {
		i++
	}
	a, b := r[i], r[i+1]
	p, q := a, b
	if i > 0 {
		p = r[i-1]
	}
	if i+2 < len(r) {
		q = r[i+2]
	}
	t := (z - a.Z) / (b.Z - a.Z)
	t = math.Max(0, math.Min(1, t))
	blend := func(p, a, b, q float64) float64 {
		return 0.5 * (2*a + t*(b-p) + t*t*(2*p-5*a+4*b-q) + t*t*t*(3*a-p-3*b+q))
	}
	return ring{z, blend(p.X, a.X, b.X, q.X), blend(p.Y, a.Y, b.Y, q.Y),
		math.Max(0.1, blend(p.RX, a.RX, b.RX, q.RX)), math.Max(0.1, blend(p.RY, a.RY, b.RY, q.RY))}
}

func (s *stack) inside(p geom.LPS) bool {
	if p.Z < s.lo.Z || p.Z > s.hi.Z {
		return false
	}
	r := s.at(p.Z)
	u, v := math.Abs(p.X-r.X)/r.RX, math.Abs(p.Y-r.Y)/r.RY
	if u >= 1 || v >= 1 {
		return false
	}
	if u*u+v*v < 1 { // the ellipse lies within every squarer oval, and is quickly tried
		return true
	}
	return s.power > 2 && math.Pow(u, s.power)+math.Pow(v, s.power) < 1
}

func (s *stack) box() (geom.LPS, geom.LPS) { return s.lo, s.hi }

// shrunk is the stack with its half axes smaller by the given mm; back adds to the shrinking behind the
// middle only, by moving the oval forward.
func (s *stack) shrunk(side, depth, back float64) *stack {
	out := make([]ring, len(s.rings))
	for i, r := range s.rings {
		out[i] = ring{r.Z, r.X, r.Y - back/2, math.Max(1, r.RX-side), math.Max(1, r.RY-depth-back/2)}
	}
	return newStack(s.power, out...)
}

// cut keeps the part of a stack between two heights.
func (s *stack) cut(lo, hi float64) shape { return clip{s, lo, hi} }

type clip struct {
	shape
	zlo, zhi float64
}

func (c clip) inside(p geom.LPS) bool { return p.Z >= c.zlo && p.Z <= c.zhi && c.shape.inside(p) }
func (c clip) box() (geom.LPS, geom.LPS) {
	lo, hi := c.shape.box()
	lo.Z, hi.Z = math.Max(lo.Z, c.zlo), math.Min(hi.Z, c.zhi)
	return lo, hi
}

// ball is an ellipsoid, turned by Turn radians about the body axis.
type ball struct {
	c    geom.LPS
	r    geom.Vec
	turn float64
}

func (b ball) inside(p geom.LPS) bool {
	d := p.Sub(b.c)
	s, c := math.Sincos(b.turn)
	u, v, w := (c*d.X+s*d.Y)/b.r.X, (c*d.Y-s*d.X)/b.r.Y, d.Z/b.r.Z
	return u*u+v*v+w*w < 1
}

func (b ball) box() (geom.LPS, geom.LPS) {
	m := math.Max(b.r.X, b.r.Y)
	v := geom.Vec{X: m, Y: m, Z: b.r.Z}
	return b.c.Add(v.Neg()), b.c.Add(v)
}

// node is one bead of a chain: centre and radius in mm.
type node struct{ X, Y, Z, R float64 }

// chain is a row of beads joined by cones, as a vessel or a rib.
type chain []node

func (c chain) inside(p geom.LPS) bool {
	for i := range c[1:] {
		a, b := c[i], c[i+1]
		d := geom.Vec{X: b.X - a.X, Y: b.Y - a.Y, Z: b.Z - a.Z}
		e := p.Sub(geom.LPS{X: a.X, Y: a.Y, Z: a.Z})
		t := math.Max(0, math.Min(1, e.Dot(d)/math.Max(1e-9, d.Dot(d))))
		off := e.Sub(d.Mul(t))
		r := a.R + t*(b.R-a.R)
		if off.Dot(off) < r*r {
			return true
		}
	}
	return false
}

func (c chain) box() (lo, hi geom.LPS) {
	lo = geom.LPS{X: math.Inf(1), Y: math.Inf(1), Z: math.Inf(1)}
	hi = geom.LPS{X: math.Inf(-1), Y: math.Inf(-1), Z: math.Inf(-1)}
	for _, n := range c {
		lo = geom.LPS{X: math.Min(lo.X, n.X-n.R), Y: math.Min(lo.Y, n.Y-n.R), Z: math.Min(lo.Z, n.Z-n.R)}
		hi = geom.LPS{X: math.Max(hi.X, n.X+n.R), Y: math.Max(hi.Y, n.Y+n.R), Z: math.Max(hi.Z, n.Z+n.R)}
	}
	return lo, hi
}

// thinner is the chain with every radius smaller by d: the bore of a vessel.
func (c chain) thinner(d float64) chain {
	out := make(chain, len(c))
	for i, n := range c {
		n.R = math.Max(0.5, n.R-d)
		out[i] = n
	}
	return out
}

// both lists of solids as one, and solids less others.
type union []shape

func (u union) inside(p geom.LPS) bool {
	for _, s := range u {
		if s.inside(p) {
			return true
		}
	}
	return false
}

func (u union) box() (lo, hi geom.LPS) {
	lo, hi = u[0].box()
	for _, s := range u[1:] {
		l, h := s.box()
		lo = geom.LPS{X: math.Min(lo.X, l.X), Y: math.Min(lo.Y, l.Y), Z: math.Min(lo.Z, l.Z)}
		hi = geom.LPS{X: math.Max(hi.X, h.X), Y: math.Max(hi.Y, h.Y), Z: math.Max(hi.Z, h.Z)}
	}
	return lo, hi
}

type less struct {
	shape
	without shape
}

func (l less) inside(p geom.LPS) bool { return l.shape.inside(p) && !l.without.inside(p) }

type within struct {
	shape
	other shape
}

func (w within) inside(p geom.LPS) bool { return w.shape.inside(p) && w.other.inside(p) }

// halfSpace keeps one side of the body: +1 the donor's left, -1 the right.
type halfSpace struct {
	shape
	side float64
	gap  float64
}

func (h halfSpace) inside(p geom.LPS) bool { return p.X*h.side > h.gap && h.shape.inside(p) }

// folded is a solid whose surface is thrown into folds: amp mm deep, about period mm apart per radian.
type folded struct {
	shape
	amp, period float64
}

func (f folded) inside(p geom.LPS) bool {
	x, y, z := p.X/f.period, p.Y/f.period, p.Z/f.period
	a := f.amp * (math.Sin(x+1.7*math.Sin(y*0.6)) + math.Sin(y+1.3*math.Sin(z*0.7)) + math.Sin(z+1.5*math.Sin(x*0.5))) / 3
	c := geom.LPS{Y: -10, Z: 462} // folds move points to and from the middle of the head
	return f.shape.inside(p.Add(p.Sub(c).Unit().Mul(a)))
}
