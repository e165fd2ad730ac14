package ink

import (
	"image"
	"math"

	"sectionary/slices/geom"
)

// stroker turns lines into outlines that all wind the same way, so that their union is the line. Pieces that bend gently
// share their ends: what one adds there the next would take away, so only the two long sides are added.
type stroker struct {
	r    *raster
	half float64
}

// piece is a straight part of a line; nx, ny is half the width at a right angle to it, toward its left side.
type piece struct {
	a, b   geom.Px
	nx, ny float64
	length float64
}

func (s *stroker) piece(a, b geom.Px) piece {
	dx, dy := b.X-a.X, b.Y-a.Y
	n := math.Sqrt(dx*dx + dy*dy)
	return piece{a, b, -dy / n * s.half, dx / n * s.half, n}
}

// path strokes pts. Points closer than a fifth of a pixel to the last one are passed over.
func (s *stroker) path(pts []geom.Px, closed bool, dash []float64) {
	if d := newDasher(s, dash); d.total > 0 {
		d.path(pts, closed)
		return
	}
	var first, last piece
	var at geom.Px
	n := 0
	var left, right geom.Px // where the sides of the last piece begin
	step := func(to geom.Px) {
		p := s.piece(at, to)
		if n == 1 {
			first = p
			left, right = s.begin(p)
		} else {
			left, right = s.bend(last, p, left, right)
		}
		last, at = p, to
		n++
	}
	for _, p := range s.r.thinned(pts) {
		if n == 0 {
			at, n = p, 1
		} else if !near(p, at) {
			step(p)
		}
	}
	if n == 0 {
		return
	}
	if n == 1 {
		s.r.arc(at, s.half, 0, 2*math.Pi) // a point is a dot
		return
	}
	if closed && n > 2 {
		if !near(first.a, at) {
			step(first.a)
		}
		s.join(last, first)
	}
	s.end(last, left, right)
}

func near(a, b geom.Px) bool {
	dx, dy := a.X-b.X, a.Y-b.Y
	return dx*dx+dy*dy < 0.04
}

// begin adds the flat start of p and returns where its sides begin.
func (s *stroker) begin(p piece) (left, right geom.Px) {
	left, right = geom.Px{X: p.a.X + p.nx, Y: p.a.Y + p.ny}, geom.Px{X: p.a.X - p.nx, Y: p.a.Y - p.ny}
	s.r.edge(left, right)
	return left, right
}

// end adds the sides of p, which begin at left and right, and its flat end.
func (s *stroker) end(p piece, left, right geom.Px) {
	l, r := geom.Px{X: p.b.X + p.nx, Y: p.b.Y + p.ny}, geom.Px{X: p.b.X - p.nx, Y: p.b.Y - p.ny}
	s.r.edge(right, r)
	s.r.edge(r, l)
	s.r.edge(l, left)
}

// bend adds the sides of p up to where q goes on and returns where the sides of q begin.
func (s *stroker) bend(p, q piece, left, right geom.Px) (geom.Px, geom.Px) {
	hh := s.half * s.half
	dot, cross := (p.nx*q.nx+p.ny*q.ny)/hh, (p.nx*q.ny-p.ny*q.nx)/hh
	if dot < 0.6 || s.half*math.Abs(cross) > 0.8*(1+dot)*min(p.length, q.length) { // sharp, or too short to share
		s.end(p, left, right)
		s.join(p, q)
		return s.begin(q)
	}
	mx, my := (p.nx+q.nx)/(1+dot), (p.ny+q.ny)/(1+dot) // to where the sides of both cross
	l, r := geom.Px{X: p.b.X + mx, Y: p.b.Y + my}, geom.Px{X: p.b.X - mx, Y: p.b.Y - my}
	s.r.edge(right, r)
	s.r.edge(l, left)
	return l, r
}

// segment adds one straight piece by itself.
func (s *stroker) segment(a, b geom.Px) {
	if a != b {
		s.whole(s.piece(a, b))
	}
}

func (s *stroker) whole(p piece) {
	left, right := s.begin(p)
	s.end(p, left, right)
}

// join fills the wedge on the outside of the bend from p to q: round for wide lines, cut straight for thin ones.
func (s *stroker) join(p, q piece) {
	at := p.b
	ax, ay, bx, by := p.nx, p.ny, q.nx, q.ny
	if ax*by-ay*bx > 0 { // bends toward the left: the gap is on the right
		ax, ay, bx, by = -ax, -ay, -bx, -by
	}
	turn := math.Atan2(ax*by-ay*bx, ax*bx+ay*by)
	if math.Abs(turn)*s.half < 0.2 {
		return
	}
	n := 1 + int(math.Abs(turn)*math.Sqrt(s.half)*0.9)
	if s.half < 1.3 {
		n = 1
	}
	from := math.Atan2(ay, ax)
	last := geom.Px{X: at.X + ax, Y: at.Y + ay}
	for i := 1; i <= n; i++ {
		next := geom.Px{X: at.X + bx, Y: at.Y + by}
		if i < n {
			sin, cos := math.Sincos(from + turn*float64(i)/float64(n))
			next = geom.Px{X: at.X + s.half*cos, Y: at.Y + s.half*sin}
		}
		s.r.triangle(at, last, next)
		last = next
	}
}

// dasher walks along a path and strokes every other length.
type dasher struct {
	s     *stroker
	dash  []float64
	total float64 // of one repetition, px; 0: no dashes
	at    float64 // where in the repetition the next piece begins
}

const finestDash = 0.5 // px; a pattern that repeats faster is drawn solid

func newDasher(s *stroker, dash []float64) dasher {
	d := dasher{s: s, dash: dash}
	for _, v := range dash {
		if !(v >= 0) || v > maxCoord {
			return dasher{}
		}
		d.total += v
	}
	if d.total < finestDash || len(dash)%2 != 0 {
		return dasher{}
	}
	return d
}

func (d *dasher) path(pts []geom.Px, closed bool) {
	var first, last geom.Px
	n := 0
	for _, p := range pts {
		if !sane(p) {
			continue
		}
		if n == 0 {
			first = p
		} else {
			d.piece(last, p)
		}
		last = p
		n++
	}
	if closed && n > 2 {
		d.piece(last, first)
	}
}

// piece strokes those dashes of one straight piece that lie near the picture. Each is placed by its number, not by
// walking there, so that a part of the picture shows the same dashes as the whole.
func (d *dasher) piece(a, b geom.Px) {
	p := d.s.piece(a, b)
	if p.length == 0 {
		return
	}
	at := func(t float64) geom.Px { return geom.Px{X: a.X + t*(b.X-a.X)/p.length, Y: a.Y + t*(b.Y-a.Y)/p.length} }
	t0, t1 := visible(a, b, d.s.r.clip, d.s.half+1)
	t0, t1 = t0*p.length, t1*p.length
	for n := math.Floor((t0 + d.at) / d.total); n*d.total-d.at < t1; n++ {
		start := n*d.total - d.at
		for i := 0; i < len(d.dash); i += 2 {
			if from, to := max(0, start), min(p.length, start+d.dash[i]); from < to {
				p.a, p.b = at(from), at(to)
				d.s.whole(p)
			}
			start += d.dash[i] + d.dash[i+1]
		}
	}
	d.at = math.Mod(d.at+p.length, d.total)
}

// visible returns the stretch of a to b, as fractions, that lies within margin of r (Liang and Barsky 1984); none when t0 >= t1.
func visible(a, b geom.Px, r image.Rectangle, margin float64) (t0, t1 float64) {
	t0, t1 = 0, 1
	for _, side := range [4][2]float64{
		{a.X - b.X, a.X - float64(r.Min.X) + margin}, {b.X - a.X, float64(r.Max.X) + margin - a.X},
		{a.Y - b.Y, a.Y - float64(r.Min.Y) + margin}, {b.Y - a.Y, float64(r.Max.Y) + margin - a.Y},
	} {
		p, q := side[0], side[1]
		switch {
		case p == 0 && q < 0:
			return 1, 0
		case p < 0:
			t0 = max(t0, q/p)
		case p > 0:
			t1 = min(t1, q/p)
		}
	}
	return t0, t1
}
