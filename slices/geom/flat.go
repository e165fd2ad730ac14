package geom

import (
	"fmt"
	"math"
)

// Flat maps one flat picture onto another: turn by Angle (radians, clockwise as viewed since Y runs down),
// stretch by Scale, then shift. It never mirrors.
type Flat struct {
	Scale float64
	Angle float64
	Shift MM
}

// At maps p.
func (f Flat) At(p MM) MM {
	sin, cos := math.Sincos(f.Angle)
	return MM{
		f.Scale*(cos*p.X-sin*p.Y) + f.Shift.X,
		f.Scale*(sin*p.X+cos*p.Y) + f.Shift.Y,
	}
}

// FitFlat finds the turn, shift and (when free) scale that carry from onto to in the least squares sense, as
// when a face has been photographed twice: the plane case of Umeyama, IEEE PAMI 13:376, 1991. Residuals are in
// the units of to. It fails with ErrTooFewPoints below two pairs and with ErrDegenerate when the points of
// from are all the same, or no turn fits better than another.
func FitFlat(from, to []MM, free bool) (Flat, Residuals, error) {
	if len(from) != len(to) {
		return Flat{}, Residuals{}, fmt.Errorf("geom: %d points for %d targets", len(from), len(to))
	}
	n := len(from)
	if n < 2 {
		return Flat{}, Residuals{}, fmt.Errorf("%w: a turn needs 2 pairs, got %d", ErrTooFewPoints, n)
	}
	var mf, mt MM
	for i := range from {
		mf.X, mf.Y = mf.X+from[i].X/float64(n), mf.Y+from[i].Y/float64(n)
		mt.X, mt.Y = mt.X+to[i].X/float64(n), mt.Y+to[i].Y/float64(n)
	}
	var dot, cross, spread, size float64
	for i := range from {
		a, b := MM{from[i].X - mf.X, from[i].Y - mf.Y}, MM{to[i].X - mt.X, to[i].Y - mt.Y}
		dot, cross = dot+a.X*b.X+a.Y*b.Y, cross+a.X*b.Y-a.Y*b.X
		spread, size = spread+a.X*a.X+a.Y*a.Y, size+b.X*b.X+b.Y*b.Y
	}
	strength := math.Hypot(dot, cross)
	if !finite(dot, cross, spread, size) || spread == 0 || strength <= 1e-12*math.Sqrt(spread*size) {
		return Flat{}, Residuals{}, ErrDegenerate
	}
	fit := Flat{Scale: 1, Angle: math.Atan2(cross, dot)}
	freedom := 2*n - 3
	if free {
		fit.Scale = strength / spread
		freedom--
	}
	c := fit.At(mf)
	fit.Shift = MM{mt.X - c.X, mt.Y - c.Y}
	off := make([]float64, n)
	for i := range from {
		off[i] = fit.At(from[i]).Dist(to[i])
	}
	return fit, ResidualsOf(off, freedom), nil
}

// FitAffineFlat finds the affine map that carries px onto mm, in the least squares sense, as a homography whose last row is 0 0 1. Three
// points fit exactly. Residuals are in mm. It fails with ErrTooFewPoints below three points and with ErrDegenerate when all lie on one line.
func FitAffineFlat(px []Px, mm []MM) (Homography, Residuals, error) {
	n := len(px)
	if n != len(mm) {
		return Homography{}, Residuals{}, fmt.Errorf("geom: %d pixels for %d face points", n, len(mm))
	}
	if n < 3 {
		return Homography{}, Residuals{}, fmt.Errorf("%w: an affine map needs 3 points, got %d", ErrTooFewPoints, n)
	}
	var p Px
	var m MM
	for i := range px {
		p.X, p.Y, m.X, m.Y = p.X+px[i].X/float64(n), p.Y+px[i].Y/float64(n), m.X+mm[i].X/float64(n), m.Y+mm[i].Y/float64(n)
	}
	var xx, xy, yy, xu, yu, xv, yv float64
	for i := range px {
		x, y, u, v := px[i].X-p.X, px[i].Y-p.Y, mm[i].X-m.X, mm[i].Y-m.Y
		xx, xy, yy = xx+x*x, xy+x*y, yy+y*y
		xu, yu, xv, yv = xu+x*u, yu+y*u, xv+x*v, yv+y*v
	}
	det := xx*yy - xy*xy
	if !(det > 1e-12*(xx+yy)*(xx+yy)) || math.IsInf(det, 0) {
		return Homography{}, Residuals{}, ErrDegenerate
	}
	a, b := (xu*yy-yu*xy)/det, (yu*xx-xu*xy)/det
	c, d := (xv*yy-yv*xy)/det, (yv*xx-xv*xy)/det
	h := Homography{a, b, m.X - a*p.X - b*p.Y, c, d, m.Y - c*p.X - d*p.Y, 0, 0, 1}
	return h.judged(px, mm, 2*n-6)
}
