package register

import (
	"fmt"
	"math"
)

// Information holds the entropies of a joint histogram of two pictures, in nats.
type Information struct{ A, B, Joint float64 }

// Mutual is the information the pictures share, 0 when they are independent (Viola and Wells, IJCV 24:137, 1997).
func (i Information) Mutual() float64 { return math.Max(0, i.A+i.B-i.Joint) }

// Normalised is (A+B)/Joint, between 1 and 2, which a changing overlap moves less (Studholme, Hill and Hawkes,
// Pattern Recognition 32:71, 1999). It is 1 for pictures without any content.
func (i Information) Normalised() float64 {
	if i.Joint == 0 {
		return 1
	}
	return (i.A + i.B) / i.Joint
}

// JointInformation counts the pairs of a and b into bins x bins cells that divide lo to hi evenly; pairs outside it, or
// with a NaN, are left out. It fails when the lists differ in length or the bins cannot be.
func JointInformation(a, b []float32, bins int, lo, hi float64) (Information, error) {
	if len(a) != len(b) || bins < 2 || bins > 1024 || !(lo < hi) {
		return Information{}, fmt.Errorf("register: cannot count %d values against %d into %d bins from %g to %g", len(a), len(b), bins, lo, hi)
	}
	joint := make([]float64, bins*bins)
	bin := func(x float32) int {
		f := (float64(x) - lo) / (hi - lo) * float64(bins)
		if !(f >= 0 && f <= float64(bins)) {
			return -1
		}
		return min(int(f), bins-1)
	}
	var n float64
	for i := range a {
		if p, q := bin(a[i]), bin(b[i]); p >= 0 && q >= 0 {
			joint[p*bins+q]++
			n++
		}
	}
	if n == 0 {
		return Information{}, nil
	}
	as, bs := make([]float64, bins), make([]float64, bins)
	for k, c := range joint {
		as[k/bins] += c / n
		bs[k%bins] += c / n
		joint[k] = c / n
	}
	return Information{entropy(as), entropy(bs), entropy(joint)}, nil
}

func entropy(p []float64) (h float64) {
	for _, x := range p {
		if x > 0 {
			h -= x * math.Log(x)
		}
	}
	return h
}

// Correlation is Pearson's coefficient over the pairs without a NaN, NaN where one side does not vary.
func Correlation(a, b []float32) float64 {
	var n, sa, sb float64
	for i := range a {
		if x, y := float64(a[i]), float64(b[i]); !math.IsNaN(x + y) {
			n, sa, sb = n+1, sa+x, sb+y
		}
	}
	var aa, bb, ab float64
	for i := range a {
		if x, y := float64(a[i])-sa/n, float64(b[i])-sb/n; !math.IsNaN(x + y) {
			aa, bb, ab = aa+x*x, bb+y*y, ab+x*y
		}
	}
	return ab / math.Sqrt(aa*bb)
}

// LocalCorrelation is the mean of the squared correlation in every full window of 2*radius+1 pixels square where both
// pictures vary: it asks only that contrast is constant within a window. The pictures are w pixels wide and h high.
// 0 when no window varies.
func LocalCorrelation(a, b []float32, w, h, radius int) float64 {
	side := 2*radius + 1
	if w < side || h < side || len(a) < w*h || len(b) < w*h {
		return 0
	}
	sums := [5][]float64{}
	for k, f := range []func(x, y float64) float64{
		func(x, _ float64) float64 { return x }, func(_, y float64) float64 { return y },
		func(x, _ float64) float64 { return x * x }, func(_, y float64) float64 { return y * y },
		func(x, y float64) float64 { return x * y },
	} {
		sums[k] = integral(a, b, w, h, f)
	}
	var total, windows float64
	n := float64(side * side)
	for y := 0; y+side <= h; y++ {
		for x := 0; x+side <= w; x++ {
			var m [5]float64
			for k := range m {
				s := sums[k]
				m[k] = (s[(y+side)*(w+1)+x+side] - s[y*(w+1)+x+side] - s[(y+side)*(w+1)+x] + s[y*(w+1)+x]) / n
			}
			va, vb, ab := m[2]-m[0]*m[0], m[3]-m[1]*m[1], m[4]-m[0]*m[1]
			if va > 1e-6 && vb > 1e-6 {
				total += ab * ab / (va * vb)
				windows++
			}
		}
	}
	if windows == 0 {
		return 0
	}
	return total / windows
}

// integral is the summed-area table of f over both pictures, one row and column larger.
func integral(a, b []float32, w, h int, f func(x, y float64) float64) []float64 {
	s := make([]float64, (w+1)*(h+1))
	for y := range h {
		var row float64
		for x := range w {
			row += f(float64(a[y*w+x]), float64(b[y*w+x]))
			s[(y+1)*(w+1)+x+1] = s[y*(w+1)+x+1] + row
		}
	}
	return s
}
