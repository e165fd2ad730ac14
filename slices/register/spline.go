package register

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"sectionary/slices/geom"
)

// Warp moves points within the face to undo sag and stretch: a thin-plate spline from face mm to face mm (Bookstein, IEEE
// PAMI 11:567, 1989). A nil Warp leaves every point where it is.
type Warp struct {
	Knots   []geom.MM  `json:"knots"`   // where the spline is held, in face mm
	Weights []geom.MM  `json:"weights"` // of each knot's r² log r², for x and y
	Flat    [6]float64 `json:"flat"`    // the part without bending: x' = f0 + f1 x + f2 y, y' = f3 + f4 x + f5 y
}

// FitWarp finds the spline that carries from onto to with the least bending. loose, in mm², lets it pass by the targets
// to bend less; 0 meets them exactly. It fails with geom.ErrTooFewPoints below three pairs and with
// geom.ErrDegenerate when the points lie on one line or two of them share a place.
func FitWarp(from, to []geom.MM, loose float64) (*Warp, error) {
	n := len(from)
	if n != len(to) || loose < 0 {
		return nil, fmt.Errorf("register: a warp of %d points to %d, looseness %g", n, len(to), loose)
	}
	if n < 3 {
		return nil, fmt.Errorf("register: a warp needs 3 pairs, got %d: %w", n, geom.ErrTooFewPoints)
	}
	system, err := splineSystem(from, loose)
	if err != nil {
		return nil, err
	}
	target := mat.NewDense(n+3, 2, nil)
	for i, p := range to {
		target.SetRow(i, []float64{p.X, p.Y})
	}
	var x mat.Dense
	if err := x.Solve(system, target); err != nil {
		return nil, fmt.Errorf("register: warp: %w", geom.ErrDegenerate)
	}
	w := &Warp{Knots: append([]geom.MM{}, from...), Weights: make([]geom.MM, n)}
	for i := range n {
		w.Weights[i] = geom.MM{X: x.At(i, 0), Y: x.At(i, 1)}
	}
	for k := range 3 {
		w.Flat[k], w.Flat[3+k] = x.At(n+k, 0), x.At(n+k, 1)
	}
	return w, nil
}

// splineSystem is the symmetric matrix of the spline: kernel plus looseness beside constant, x and y.
func splineSystem(knots []geom.MM, loose float64) (*mat.Dense, error) {
	n := len(knots)
	m := mat.NewDense(n+3, n+3, nil)
	for i, p := range knots {
		if math.IsNaN(p.X+p.Y) || math.IsInf(p.X+p.Y, 0) {
			return nil, fmt.Errorf("register: warp point %d is not a place", i+1)
		}
		for j, q := range knots {
			m.Set(i, j, kernel(p, q))
		}
		m.Set(i, i, loose)
		for k, v := range []float64{1, p.X, p.Y} {
			m.Set(i, n+k, v)
			m.Set(n+k, i, v)
		}
	}
	return m, nil
}

func kernel(p, q geom.MM) float64 {
	dx, dy := p.X-q.X, p.Y-q.Y
	r2 := dx*dx + dy*dy
	if r2 == 0 {
		return 0
	}
	return r2 * math.Log(r2)
}

// At returns where p goes.
func (w *Warp) At(p geom.MM) geom.MM {
	if w == nil {
		return p
	}
	f := w.Flat
	q := geom.MM{X: f[0] + f[1]*p.X + f[2]*p.Y, Y: f[3] + f[4]*p.X + f[5]*p.Y}
	for i, k := range w.Knots {
		u := kernel(p, k)
		q.X += u * w.Weights[i].X
		q.Y += u * w.Weights[i].Y
	}
	return q
}

// Jacobian returns how the goal changes with a step of one mm at p, row-major 2x2.
func (w *Warp) Jacobian(p geom.MM) [4]float64 {
	if w == nil {
		return [4]float64{1, 0, 0, 1}
	}
	j := [4]float64{w.Flat[1], w.Flat[2], w.Flat[4], w.Flat[5]}
	for i, k := range w.Knots {
		dx, dy := p.X-k.X, p.Y-k.Y
		r2 := dx*dx + dy*dy
		if r2 == 0 {
			continue
		}
		g := 2 * (math.Log(r2) + 1) // d(r² log r²)/dx = 2 x (log r² + 1)
		j[0], j[1] = j[0]+g*dx*w.Weights[i].X, j[1]+g*dy*w.Weights[i].X
		j[2], j[3] = j[2]+g*dx*w.Weights[i].Y, j[3]+g*dy*w.Weights[i].Y
	}
	return j
}

// Back returns the point that At carries to q, by Newton steps; good to 1e-6 mm for a warp that does not fold.
func (w *Warp) Back(q geom.MM) geom.MM {
	p := q
	if w == nil {
		return p
	}
	for range 20 {
		at, j := w.At(p), w.Jacobian(p)
		ex, ey := q.X-at.X, q.Y-at.Y
		det := j[0]*j[3] - j[1]*j[2]
		if math.Abs(det) < 1e-9 || math.Hypot(ex, ey) < 1e-9 {
			break
		}
		p.X += (j[3]*ex - j[1]*ey) / det
		p.Y += (j[0]*ey - j[2]*ex) / det
	}
	return p
}

// Bending is Bookstein's bending norm of the warp, the sum over x and y of w' K w (in mm², up to the constant 8 pi): 0 when it only
// stretches and turns.
func (w *Warp) Bending() float64 {
	if w == nil {
		return 0
	}
	var sum float64
	for i, p := range w.Knots {
		for j, q := range w.Knots {
			sum += kernel(p, q) * (w.Weights[i].X*w.Weights[j].X + w.Weights[i].Y*w.Weights[j].Y)
		}
	}
	return sum
}

// Strain is the largest change of length the warp makes at p, as a share: 0.03 is three per cent.
func (w *Warp) Strain(p geom.MM) float64 {
	j := w.Jacobian(p)
	// singular values of a 2x2 matrix
	a, b := math.Hypot(j[0]+j[3], j[2]-j[1])/2, math.Hypot(j[0]-j[3], j[2]+j[1])/2
	return math.Max(math.Abs(a+b-1), math.Abs(a-b-1))
}
