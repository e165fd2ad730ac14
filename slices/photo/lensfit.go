package photo

import (
	"fmt"
	"image"
	"math"

	"gonum.org/v1/gonum/mat"

	"sectionary/slices/geom"
)

// bounds of the work that pictures of a sheet may ask for.
const (
	mostViews   = 40
	mostCorners = 2000 // of one view
	fewestSeen  = 12   // corners of one view
)

// MeasureLens measures a lens that holds in the whole picture from pictures of a sheet: from three on by LensFromViews where that
// reaches the corners, else by LensFromSheet from the one whose sheet reached farthest. It fails with ErrLens, or with ErrOtherLens
// when what was measured folds back before the corners.
func MeasureLens(views [][]Tie, size image.Point) (best Lens, err error) {
	err = fmt.Errorf("%w: none was given", ErrLens)
	if len(views) >= 3 {
		var l Lens
		if l, err = LensFromViews(views, size); err == nil {
			if err = l.Fits(size); err == nil {
				return l, nil
			}
		}
	}
	for _, v := range views {
		l, one := LensFromSheet(v, size)
		if one == nil {
			one = l.Fits(size)
		}
		switch {
		case one != nil:
			err = one
		case l.Reach > best.Reach:
			best = l
		}
	}
	if best.Reach > 0 {
		return best, nil
	}
	return best, err
}

// LensFromViews measures the lens from three or more pictures of one flat sheet, turned differently each time (Zhang,
// IEEE PAMI 22, 1330, 2000): focal lengths, centre, k1, k2, p1, p2 and k3, with a pose for each view, by least squares
// in pixels. It fails with ErrLens when the views do not tell them.
func LensFromViews(views [][]Tie, size image.Point) (Lens, error) {
	if len(views) < 3 || len(views) > mostViews {
		return Lens{}, fmt.Errorf("%w: three pictures or more are needed, each from another angle, got %d", ErrLens, len(views))
	}
	c := geom.Px{X: float64(size.X-1) / 2, Y: float64(size.Y-1) / 2}
	flat := make([]geom.Homography, len(views))
	var top, low float64
	for i, v := range views {
		h, err := sheetPlane(v)
		if err != nil {
			return Lens{}, err
		}
		for k := range 3 { // about the middle of the picture
			h[k] -= c.X * h[6+k]
			h[3+k] -= c.Y * h[6+k]
		}
		n := math.Sqrt(h[0]*h[0] + h[3]*h[3])
		for k := range h {
			h[k] /= n
		}
		flat[i] = h
		for _, ab := range [2][2]float64{{h[0]*h[1] + h[3]*h[4], h[6] * h[7]},
			{h[0]*h[0] + h[3]*h[3] - h[1]*h[1] - h[4]*h[4], h[6]*h[6] - h[7]*h[7]}} {
			top, low = top-ab[0]*ab[1], low+ab[0]*ab[0]
		}
	}
	if !(top > 0) || !(low > 0) {
		return Lens{}, fmt.Errorf("%w: tilt the sheet differently in every picture", ErrLens)
	}
	f := math.Sqrt(low / top)
	x := []float64{f, f, c.X, c.Y, 0, 0, 0, 0, 0}
	for _, h := range flat {
		x = append(x, poseOf(h, f)...)
	}
	lens := func(x []float64) Lens {
		return Lens{FX: x[0], FY: x[1], CX: x[2], CY: x[3], K1: x[4], K2: x[5], P1: x[6], P2: x[7], K3: x[8]}
	}
	n, err := leastSquares(x, func(x, out []float64) []float64 {
		l := lens(x)
		for i, v := range views {
			r, t := rotation(x[9+6*i:][:3]), x[12+6*i:][:3]
			for _, tie := range v {
				a, b := tie.MM.X, tie.MM.Y
				z := r[6]*a + r[7]*b + t[2]
				u, w := l.bend((r[0]*a+r[1]*b+t[0])/z, (r[3]*a+r[4]*b+t[1])/z)
				out = append(out, l.CX+l.FX*u-tie.Px.X, l.CY+l.FY*w-tie.Px.Y)
			}
		}
		return out
	})
	if err != nil {
		return Lens{}, err
	}
	return measured(lens(x), n, views, size)
}

// LensFromSheet measures k1, k2, p1 and p2 from one picture of a flat sheet, as a stand allows with its camera fixed. One view
// cannot tell the focal length, nor need it: taken as the longer side of the picture, it only sets the unit of the others. Nor
// can it tell the centre: taken as the middle, what it is off shows as p1 and p2.
func LensFromSheet(view []Tie, size image.Point) (Lens, error) {
	h, err := sheetPlane(view)
	if err != nil {
		return Lens{}, err
	}
	f := float64(max(size.X, size.Y))
	l := Lens{FX: f, FY: f, CX: float64(size.X-1) / 2, CY: float64(size.Y-1) / 2}
	const bends = 4 // k1, k2, p1 and p2 come first
	x := append(make([]float64, bends), h[:8]...)
	for k := range 8 {
		x[bends+k] /= h[8]
	}
	scale := [8]float64{}
	for k := range scale { // of one size, so that one damping fits all
		scale[k] = max(math.Abs(x[bends+k]), 1e-9)
		x[bends+k] /= scale[k]
	}
	n, err := leastSquares(x, func(x, out []float64) []float64 {
		l.K1, l.K2, l.P1, l.P2 = x[0], x[1], x[2], x[3]
		g := geom.Homography{8: 1}
		for k := range 8 {
			g[k] = x[bends+k] * scale[k]
		}
		for _, tie := range view {
			p := l.Bent(geom.Px(g.MM(geom.Px(tie.MM))))
			out = append(out, p.X-tie.Px.X, p.Y-tie.Px.Y)
		}
		return out
	})
	if err != nil {
		return Lens{}, err
	}
	l.K1, l.K2, l.P1, l.P2 = x[0], x[1], x[2], x[3]
	return measured(l, n, [][]Tie{view}, size)
}

// sheetPlane is the homography from mm of the sheet to pixels.
func sheetPlane(v []Tie) (geom.Homography, error) {
	if len(v) < fewestSeen || len(v) > mostCorners {
		return geom.Homography{}, fmt.Errorf("%w: %d to %d corners are needed in a picture, got %d", ErrLens, fewestSeen, mostCorners, len(v))
	}
	px, mm := split(v)
	h, _, err := geom.FitHomography(px, mm)
	if err != nil {
		return h, fmt.Errorf("%w: %w", ErrLens, err)
	}
	return h.Inverse(), nil
}

// measured finishes a lens: squares is the sum over all corners.
func measured(l Lens, squares float64, views [][]Tie, size image.Point) (Lens, error) {
	n := 0
	for _, v := range views {
		n += len(v)
	}
	l.Size, l.Views, l.RMS = size, len(views), math.Sqrt(squares/float64(n))
	middle := geom.Px{X: float64(size.X-1) / 2, Y: float64(size.Y-1) / 2}
	for _, v := range views {
		for _, tie := range v {
			l.Reach = max(l.Reach, tie.Px.Dist(middle)/math.Hypot(middle.X, middle.Y))
		}
	}
	if err := l.Check(); err != nil {
		return Lens{}, err
	}
	return l, nil
}

// poseOf is the turn (its vector) and the shift of a sheet whose plane is h about the middle of the picture.
func poseOf(h geom.Homography, f float64) []float64 {
	a := [3]float64{h[0] / f, h[3] / f, h[6]}
	b := [3]float64{h[1] / f, h[4] / f, h[7]}
	t := [3]float64{h[2] / f, h[5] / f, h[8]}
	n := math.Sqrt(norm3(a) * norm3(b))
	if t[2] < 0 {
		n = -n
	}
	for k := range 3 {
		a[k], b[k], t[k] = a[k]/n, b[k]/n, t[k]/n
	}
	la := norm3(a)
	dot := (a[0]*b[0] + a[1]*b[1] + a[2]*b[2]) / (la * la)
	for k := range 3 {
		b[k] -= dot * a[k]
	}
	lb := norm3(b)
	for k := range 3 {
		a[k], b[k] = a[k]/la, b[k]/lb
	}
	c := [3]float64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
	v := [3]float64{b[2] - c[1], c[0] - a[2], a[1] - b[0]} // 2 sin(angle) x axis
	s, cos := norm3(v)/2, (a[0]+b[1]+c[2]-1)/2
	k := 0.5
	if s > 1e-9 {
		k = math.Atan2(s, cos) / (2 * s)
	}
	return []float64{k * v[0], k * v[1], k * v[2], t[0], t[1], t[2]}
}

func norm3(v [3]float64) float64 { return math.Sqrt(v[0]*v[0] + v[1]*v[1] + v[2]*v[2]) }

// rotation is Rodrigues' formula, row-major.
func rotation(v []float64) [9]float64 {
	angle := math.Sqrt(v[0]*v[0] + v[1]*v[1] + v[2]*v[2])
	if angle < 1e-12 {
		return [9]float64{0: 1, 4: 1, 8: 1}
	}
	x, y, z := v[0]/angle, v[1]/angle, v[2]/angle
	s, c := math.Sincos(angle)
	k := 1 - c
	return [9]float64{c + k*x*x, k*x*y - s*z, k*x*z + s*y, k*x*y + s*z, c + k*y*y, k*y*z - s*x, k*x*z - s*y, k*y*z + s*x, c + k*z*z}
}

// leastSquares moves x to the least sum of squares that residuals appends to its second argument, by Levenberg and
// Marquardt with differences for the derivatives, and returns that sum.
func leastSquares(x []float64, residuals func(x, out []float64) []float64) (float64, error) {
	at := residuals(x, nil)
	best := sumSquares(at)
	n, damp := len(x), 1e-3
	next, moved := make([]float64, n), make([]float64, 0, len(at))
	for range 60 {
		j := mat.NewDense(len(at), n, nil)
		for k := range n {
			copy(next, x)
			step := 1e-6 * max(1e-2, math.Abs(x[k]))
			next[k] += step
			moved = residuals(next, moved[:0])
			for i := range moved {
				j.Set(i, k, (moved[i]-at[i])/step)
			}
		}
		var jtj mat.Dense
		jtj.Mul(j.T(), j)
		var g mat.VecDense
		g.MulVec(j.T(), mat.NewVecDense(len(at), at))
		better, before := false, best
		for !better && damp < 1e12 {
			a := mat.DenseCopyOf(&jtj)
			for k := range n {
				a.Set(k, k, a.At(k, k)*(1+damp)+1e-15)
			}
			var d mat.VecDense
			if err := d.SolveVec(a, &g); err == nil {
				for k := range n {
					next[k] = x[k] - d.AtVec(k)
				}
				moved = residuals(next, moved[:0])
				if s := sumSquares(moved); s < best {
					best, better = s, true
					copy(x, next)
					at = append(at[:0], moved...)
					damp /= 10
					continue
				}
			}
			damp *= 10
		}
		if !better || before-best < 1e-10*before {
			break
		}
		damp = max(damp, 1e-12)
	}
	if math.IsNaN(best) || math.IsInf(best, 0) {
		return 0, fmt.Errorf("%w: the fit does not settle", ErrLens)
	}
	return best, nil
}

func sumSquares(v []float64) (s float64) {
	for _, x := range v {
		s += x * x
	}
	return s
}
