package register

import (
	"image"
	"math"
	"slices"
)

// picture is a face at one spacing: NaN marks places left out. Pixel (i, j) shows face mm
// (first + i*step, first + j*step).
type picture struct {
	w, h        int
	step, first float64
	v           []float32
}

// pictureOf takes in a grey picture of the given spacing in mm; only pixels that inside marks count, all when it is nil.
func pictureOf(face *image.Gray, inside *image.Alpha, spacing float64) *picture {
	r := face.Bounds()
	p := &picture{w: r.Dx(), h: r.Dy(), step: spacing, v: make([]float32, r.Dx()*r.Dy())}
	for y := range p.h {
		for x := range p.w {
			v := float32(face.GrayAt(r.Min.X+x, r.Min.Y+y).Y)
			if inside != nil && inside.AlphaAt(inside.Bounds().Min.X+x, inside.Bounds().Min.Y+y).A < 128 {
				v = float32(math.NaN())
			}
			p.v[y*p.w+x] = v
		}
	}
	return p
}

// reduced averages squares of n x n pixels; a square counts when at least half of it does.
func (p *picture) reduced(n int) *picture {
	if n <= 1 {
		return p
	}
	q := &picture{w: p.w / n, h: p.h / n, step: p.step * float64(n), first: p.first + p.step*float64(n-1)/2}
	q.v = make([]float32, q.w*q.h)
	for y := range q.h {
		for x := range q.w {
			var sum float32
			count := 0
			for j := y * n; j < (y+1)*n; j++ {
				for _, v := range p.v[j*p.w+x*n : j*p.w+(x+1)*n] {
					if v == v {
						sum += v
						count++
					}
				}
			}
			q.v[y*q.w+x] = float32(math.NaN())
			if 2*count >= n*n {
				q.v[y*q.w+x] = sum / float32(count)
			}
		}
	}
	return q
}

// clipped limits the values to what lies between the lower and the upper share of them, so that glare and black
// corners do not use up the bins.
func clipped(v []float32, lower, upper float64) (lo, hi float32) {
	known := slices.DeleteFunc(slices.Clone(v), func(x float32) bool { return x != x })
	if len(known) == 0 {
		return 0, 0
	}
	slices.Sort(known)
	at := func(share float64) float32 { return known[int(share*float64(len(known)-1)+0.5)] }
	lo, hi = at(lower), at(upper)
	for i, x := range v {
		v[i] = min(max(x, lo), hi) // NaN stays
	}
	return lo, hi
}
