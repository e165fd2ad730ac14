package register

import "math"

// shared measures how much two lists of values tell about each other and how that changes with every value of
// the second: mutual information with the first sorted into bins and the second spread over four of them by a cubic
// B-spline, so that it is smooth (Mattes et al., IEEE TMI 22:120, 2003). It is made once for a list a. NaN in the second
// list, a place outside the scan, is a value of its own: leaving such pairs out would reward moves that lose overlap.
type shared struct {
	bins   int     // for known values; one more column of joint counts NaN
	fixed  []int32 // bin of each value of a
	joint  []float64
	a, b   []float64
	slope  []float64 // d value / d joint, used by the gradient
	lo, hi float64   // range of the second list; set for each call when lo >= hi
}

// splinePad bins stay empty at either end so that the spline never runs over.
const splinePad = 2

func newShared(a []float32, bins int) *shared {
	s := &shared{bins: bins, fixed: make([]int32, len(a)), joint: make([]float64, bins*(bins+1)),
		a: make([]float64, bins), b: make([]float64, bins+1), slope: make([]float64, bins*(bins+1))}
	lo, hi := spanOf(a)
	_, first, step := s.scale(lo, hi)
	for i, x := range a {
		f := math.Floor(float64(x)/step - first)
		s.fixed[i] = int32(min(max(f, splinePad), float64(bins-splinePad-1)))
	}
	return s
}

// spanOf returns the least and greatest value that is not NaN; lo > hi when there is none.
func spanOf(a []float32) (lo, hi float64) {
	least, most := float32(math.Inf(1)), float32(math.Inf(-1))
	for _, x := range a {
		if x < least {
			least = x
		}
		if x > most {
			most = x
		}
	}
	return float64(least), float64(most)
}

// scale returns the affine map value/step - first from values to bins.
func (s *shared) scale(lo, hi float64) (ok bool, first, step float64) {
	step = (hi - lo) / float64(s.bins-2*splinePad)
	if !(step > 0) {
		return false, -splinePad, 1
	}
	return true, lo/step - splinePad, step
}

// measure returns the information shared with b in nats. When grad is not nil it is filled with the derivative by
// each value of b, 0 for a NaN.
func (s *shared) measure(b []float32, grad []float32) float64 {
	lo, hi := s.lo, s.hi
	if lo >= hi {
		lo, hi = spanOf(b)
	}
	ok, first, step := s.scale(lo, hi)
	if !ok {
		clear(grad)
		return 0
	}
	clear(s.joint)
	wide := s.bins + 1
	for i, x := range b {
		line := int(s.fixed[i]) * wide
		if x != x {
			s.joint[line+s.bins]++
			continue
		}
		at, k := s.place(x, first, step)
		w := spline4(at - float64(k))
		row := s.joint[line+k-1:]
		row[0] += w[0]
		row[1] += w[1]
		row[2] += w[2]
		row[3] += w[3]
	}
	value := s.settle(grad != nil)
	if grad == nil {
		return value
	}
	for i, x := range b {
		if x != x {
			grad[i] = 0
			continue
		}
		at, k := s.place(x, first, step)
		d := spline4Slope(at - float64(k))
		row := s.slope[int(s.fixed[i])*wide+k-1:]
		grad[i] = float32((d[0]*row[0] + d[1]*row[1] + d[2]*row[2] + d[3]*row[3]) / (step * float64(len(b))))
	}
	return value
}

// place returns where x lies among the bins and the second of the four bins it touches.
func (s *shared) place(x float32, first, step float64) (at float64, k int) {
	at = float64(x)/step - first
	at = min(max(at, splinePad), float64(s.bins-splinePad))
	return at, min(int(at), s.bins-splinePad-1)
}

// settle turns counts into chances and returns the information; with slopes it also fills d value / d chance.
func (s *shared) settle(slopes bool) float64 {
	var total float64
	clear(s.a)
	clear(s.b)
	for i := range s.bins {
		for j := range s.bins + 1 {
			p := s.joint[i*(s.bins+1)+j]
			total += p
			s.a[i] += p
			s.b[j] += p
		}
	}
	var value float64
	for i := range s.bins {
		for j := range s.bins + 1 {
			k := i*(s.bins+1) + j
			p := s.joint[k] / total
			if slopes {
				s.slope[k] = 0
			}
			if p > 1e-16 {
				// the constants of the derivative cancel, since the four weights of a value always sum to one
				l := math.Log(p * total * total / (s.a[i] * s.b[j]))
				value += p * l
				if slopes {
					s.slope[k] = math.Log(p * total / s.b[j])
				}
			}
		}
	}
	return value
}

// spline4 are the weights of the cubic B-spline in the bins k-1 to k+2 for a value u beyond k.
func spline4(u float64) [4]float64 {
	v := 1 - u
	u2, v2 := u*u, v*v
	return [4]float64{v2 * v / 6, (4 - 6*u2 + 3*u2*u) / 6, (4 - 6*v2 + 3*v2*v) / 6, u2 * u / 6}
}

func spline4Slope(u float64) [4]float64 {
	v := 1 - u
	return [4]float64{-v * v / 2, (-4*u + 3*u*u) / 2, (4*v - 3*v*v) / 2, u * u / 2}
}
