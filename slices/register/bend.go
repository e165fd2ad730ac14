package register

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"sectionary/slices/geom"
)

// bend is a thin-plate spline through fixed knots as a linear function of how far each knot is moved: the
// basis holds, for every sample, what one mm at each knot does to it; price is what bending costs.
type bend struct {
	knots  []geom.MM // mm from the middle
	solved *mat.Dense
	price  *mat.SymDense
	basis  []float32
}

// newBend lays knots over the places of a face, about across of them over its longer side, wherever the face is near.
func newBend(x, y []float64, across int) (*bend, error) {
	x0, x1 := bounds(x)
	y0, y1 := bounds(y)
	step := math.Max(x1-x0, y1-y0) / float64(across-1)
	b := &bend{}
	if !(step > 0) {
		return nil, fmt.Errorf("register: no face to bend: %w", geom.ErrTooFewPoints)
	}
	nx, ny := int(math.Round((x1-x0)/step))+1, int(math.Round((y1-y0)/step))+1
	for j := range ny {
		for i := range nx {
			k := geom.MM{X: x0 + (x1-x0)*float64(i)/float64(max(nx-1, 1)), Y: y0 + (y1-y0)*float64(j)/float64(max(ny-1, 1))}
			if nearAny(k, x, y, 0.75*step) {
				b.knots = append(b.knots, k)
			}
		}
	}
	n := len(b.knots)
	if n < 6 {
		return nil, fmt.Errorf("register: the face is too small to bend: %w", geom.ErrTooFewPoints)
	}
	system, err := splineSystem(b.knots, 0)
	if err != nil {
		return nil, err
	}
	var inverse mat.Dense
	if err := inverse.Inverse(system); err != nil {
		return nil, fmt.Errorf("register: knots: %w", geom.ErrDegenerate)
	}
	b.solved = mat.DenseCopyOf(inverse.Slice(0, n+3, 0, n))
	b.price = mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			b.price.SetSym(i, j, (inverse.At(i, j)+inverse.At(j, i))/2)
		}
	}
	b.settlePrice()
	return b, nil
}

// settlePrice scales the price so that a sag of three per cent, growing evenly to the edge, costs as much as one standard deviation.
func (b *bend) settlePrice() {
	n := len(b.knots)
	var half float64
	for _, k := range b.knots {
		half = math.Max(half, math.Hypot(k.X, k.Y))
	}
	sag := mat.NewVecDense(n, nil)
	for i, k := range b.knots {
		sag.SetVec(i, 0.03*k.Y*k.Y/half)
	}
	if e := mat.Inner(sag, b.price, sag); e > 0 {
		b.price.ScaleSym(1/e, b.price)
	}
}

func bounds(x []float64) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, v := range x {
		lo, hi = math.Min(lo, v), math.Max(hi, v)
	}
	return lo, hi
}

func nearAny(k geom.MM, x, y []float64, reach float64) bool {
	for i := range x {
		if dx, dy := x[i]-k.X, y[i]-k.Y; dx*dx+dy*dy < reach*reach {
			return true
		}
	}
	return false
}

// cover computes the basis at the samples.
func (b *bend) cover(x, y []float64) {
	n := len(b.knots)
	b.basis = make([]float32, len(x)*n)
	row := make([]float64, n+3)
	solved := b.solved.RawMatrix()
	for i := range x {
		p := geom.MM{X: x[i], Y: y[i]}
		for k, q := range b.knots {
			row[k] = kernel(p, q)
		}
		row[n], row[n+1], row[n+2] = 1, p.X, p.Y
		out := b.basis[i*n : (i+1)*n]
		for r, w := range row {
			for k := range n {
				out[k] += float32(w * solved.Data[r*solved.Stride+k])
			}
		}
	}
}

// cost is the price of moving the knots by z (x then y) and its slope, times weight.
func (b *bend) cost(z, grad []float64, weight float64) (sum float64) {
	n := len(b.knots)
	for axis := range 2 {
		part := z[axis*n : (axis+1)*n]
		for i := range n {
			var s float64
			for j := range n {
				s += b.price.At(i, j) * part[j]
			}
			// a small price on moving at all settles what the pose could do as well
			const still = 1.0 / (6 * 6)
			s += still * part[i] / float64(n)
			sum += weight * s * part[i] / 2
			if grad != nil {
				grad[axis*n+i] += weight * s
			}
		}
	}
	return sum
}

// warp returns the spline for z in face mm: middle is the face point the knots are counted from, scale patient mm per face mm.
func (b *bend) warp(z []float64, middle geom.MM, scale float64) (*Warp, error) {
	n := len(b.knots)
	from, to := make([]geom.MM, n), make([]geom.MM, n)
	for i, k := range b.knots {
		from[i] = geom.MM{X: middle.X + k.X/scale, Y: middle.Y + k.Y/scale}
		to[i] = geom.MM{X: from[i].X + z[i]/scale, Y: from[i].Y + z[n+i]/scale}
	}
	return FitWarp(from, to, 0)
}
