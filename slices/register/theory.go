package register

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"sectionary/slices/geom"
)

// FitError is the RMS residual to expect at n landmarks missed by fle (RMS over all three axes, mm) after a
// rigid fit, or with free a similarity fit (Sibson 1979; Fitzpatrick, West and Maurer 1998). NaN below three.
func FitError(n int, fle float64, free bool) float64 {
	if n < 3 {
		return math.NaN()
	}
	fitted := 6.0
	if free {
		fitted = 7
	}
	return fle * math.Sqrt(1-fitted/float64(3*n))
}

// TargetError is the RMS error to expect at target after fitting the landmarks, each missed by fle (RMS over
// all three axes, alike in every direction): fle²/n (1 + 1/3 sum of d²/f²), where d is the distance of the
// target and f the RMS distance of the landmarks from each principal axis (Fitzpatrick, West and Maurer, IEEE
// TMI 17:694, 1998). With free, the error of the fitted scale is added by the same first-order argument.
// A landmark of weight w (nil: all 1) is missed by fle over the root of w; means and n are then weighted sums. All in mm; +Inf when the landmarks
// lie on one line, NaN without any.
func TargetError(points []geom.Vec, weights []float64, target geom.Vec, fle float64, free bool) float64 {
	weight := func(i int) float64 {
		if weights == nil {
			return 1
		}
		return weights[i]
	}
	n := 0.0
	for i := range points {
		n += weight(i)
	}
	if !(n > 0) {
		return math.NaN()
	}
	var mean geom.Vec
	for i, p := range points {
		mean = mean.Add(p.Mul(weight(i) / n))
	}
	own := mat.NewSymDense(3, nil)
	for k, p := range points {
		d := p.Sub(mean)
		c := [3]float64{d.X, d.Y, d.Z}
		for i := range 3 {
			for j := i; j < 3; j++ {
				own.SetSym(i, j, own.At(i, j)+weight(k)*c[i]*c[j]/n)
			}
		}
	}
	var eig mat.EigenSym
	if !eig.Factorize(own, true) {
		return math.NaN()
	}
	var axes mat.Dense
	eig.VectorsTo(&axes)
	spread := eig.Values(nil)
	total := spread[0] + spread[1] + spread[2]
	t := target.Sub(mean)
	sum := 1.0
	for k := range 3 {
		along := t.Dot(geom.Vec{X: axes.At(0, k), Y: axes.At(1, k), Z: axes.At(2, k)})
		d2, f2 := t.Dot(t)-along*along, total-spread[k]
		if f2 <= 1e-12*total {
			return math.Inf(1)
		}
		sum += d2 / f2 / 3
	}
	if free {
		sum += t.Dot(t) / total / 3
	}
	return fle * math.Sqrt(sum/n)
}
