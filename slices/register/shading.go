package register

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Uneven light is undone in the logarithm of the picture: a surface of the second order, without a constant, is moved until
// pixels that the scan holds for the same tissue agree, each being drawn to the nearest heap of its tissue's
// brightnesses (in the manner of Sled, Zijdenbos and Evans, IEEE TMI 17:87, 1998, with the scan in place of one histogram).

const (
	shadeBins   = 64
	shadeTerms  = 5
	shadeRounds = 6
	shadeWidth  = 0.08 // of the pull toward a heap, in the logarithm of brightness
	shadeMost   = 0.35 // the surface never goes beyond this, in the logarithm
)

// shade is the surface of uneven light over the face; x and y are shares of the half width.
type shade [shadeTerms]float64

func shadeBasis(x, y float64) [shadeTerms]float64 {
	return [shadeTerms]float64{x, y, x * x, x * y, y * y}
}

func (s shade) at(x, y float64) float64 {
	var sum float64
	for k, b := range shadeBasis(x, y) {
		sum += s[k] * b
	}
	return min(max(sum, -shadeMost), shadeMost)
}

// unevenLight estimates the surface from brightness and scan value at places x, y (mm from the middle) of a face whose half
// width is half.
func unevenLight(x, y []float64, bright, scan []float32, half float64) (s shade) {
	lo, hi := spanOf(scan)
	dark, light := spanOf(bright)
	bottom, top := math.Log(dark+10)-shadeMost, math.Log(light+10)+shadeMost
	if !(hi > lo) || !(light > dark) {
		return s
	}
	width := (top - bottom) / shadeBins
	tissue := func(v float32) int { return min(int((float64(v)-lo)/(hi-lo)*shadeBins), shadeBins-1) }
	logs := make([]float64, len(bright))
	for i, v := range bright {
		logs[i] = math.Log(float64(v) + 10) // the 10 keeps noise in the dark small
	}
	for range shadeRounds {
		var heaps [shadeBins][shadeBins]float64
		level := func(i int) float64 { return (logs[i] - s.at(x[i]/half, y[i]/half) - bottom) / width }
		for i := range logs {
			if scan[i] == scan[i] {
				heaps[tissue(scan[i])][min(max(int(level(i)), 0), shadeBins-1)]++
			}
		}
		pull := pulls(&heaps, shadeWidth/width)
		normal := mat.NewSymDense(shadeTerms, nil)
		right := mat.NewVecDense(shadeTerms, nil)
		for i := range logs {
			if scan[i] != scan[i] {
				continue
			}
			l := level(i)
			off := (l - pull[tissue(scan[i])][min(max(int(l), 0), shadeBins-1)]) * width
			b := shadeBasis(x[i]/half, y[i]/half)
			for p := range shadeTerms {
				right.SetVec(p, right.AtVec(p)+off*b[p])
				for q := p; q < shadeTerms; q++ {
					normal.SetSym(p, q, normal.At(p, q)+b[p]*b[q])
				}
			}
		}
		for p := range shadeTerms {
			normal.SetSym(p, p, normal.At(p, p)*(1+1e-6)+1e-6)
		}
		var chol mat.Cholesky
		var step mat.VecDense
		if !chol.Factorize(normal) || chol.SolveVecTo(&step, right) != nil {
			return s
		}
		for p := range shadeTerms {
			s[p] += 1.5 * step.AtVec(p) // the pull goes only part of the way to a heap
		}
	}
	return s
}

// pulls tells for every tissue and level where the mean of the tissue's levels near it lies.
func pulls(heaps *[shadeBins][shadeBins]float64, width float64) (out [shadeBins][shadeBins]float64) {
	reach := int(3*width) + 1
	near := make([]float64, reach+1)
	for d := range near {
		near[d] = math.Exp(-0.5 * float64(d*d) / (width * width))
	}
	for t := range heaps {
		for l := range shadeBins {
			var n, sum float64
			for k := max(0, l-reach); k <= min(shadeBins-1, l+reach); k++ {
				w := near[max(k-l, l-k)] * heaps[t][k]
				n, sum = n+w, sum+w*(float64(k)+0.5)
			}
			out[t][l] = float64(l) + 0.5
			if n > 0 {
				out[t][l] = sum / n
			}
		}
	}
	return out
}

// evened returns the picture with the uneven light taken away; cx, cy is the middle in the picture's mm.
func (p *picture) evened(s shade, cx, cy, half float64) *picture {
	q := *p
	q.v = make([]float32, len(p.v))
	for j := range p.h {
		for i := range p.w {
			x, y := p.first+float64(i)*p.step-cx, p.first+float64(j)*p.step-cy
			q.v[j*p.w+i] = float32((float64(p.v[j*p.w+i])+10)*math.Exp(-s.at(x/half, y/half)) - 10)
		}
	}
	return &q
}
