package photo

import (
	"context"
	"errors"
	"fmt"
	"image"
	"math"

	"sectionary/slices/geom"
)

// ErrUnalike says that two pictures cannot be laid on each other: they show something else, or lie too far apart.
var ErrUnalike = errors.New("photo: these two pictures cannot be laid on each other")

// Common practice, no source.
const (
	alignCoarse = 160  // px, longer side of the picture in which shift and turn are sought
	alignFine   = 1280 // of the finest one they are refined in
	alignTurn   = 8    // degrees, largest turn sought
	alignShift  = 0.15 // of the longer side, largest shift sought
	mostRelief  = 3.0  // spreads; what stands out more is a rim
	leastAlike  = 0.35 // correlation of the details of both, below which they are not alike
	mostOff     = 0.75 // px of the photographs (or of the fine picture, if coarser) that parts may still lie off in the median
)

// relief is a picture freed of its light: the logarithm of brightness less its mean nearby, over its spread nearby. A lamp
// that moved changes it little. Pixels that shine, or are pitch dark, count nothing.
type relief struct {
	v, weight []float32
	w, h      int
}

func reliefOf(m *image.RGBA) relief {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	r := relief{make([]float32, w*h), make([]float32, w*h), w, h}
	log := make([]float32, w*h)
	for i := range log {
		p := m.Pix[i/w*m.Stride+4*(i%w):][:3]
		log[i] = float32(math.Log(luma(p) + 12))
		if r.weight[i] = 1; max(p[0], p[1], p[2]) >= whiteLevel-10 {
			r.weight[i] = 0
		}
	}
	log = smoothed(log, w, h)
	reach := max(4, max(w, h)/40)
	mean, n := weightedMean(log, r.weight, w, h, reach)
	square := make([]float32, w*h)
	for i, v := range log {
		square[i] = (v - mean[i]) * (v - mean[i])
	}
	spread, _ := weightedMean(square, r.weight, w, h, reach)
	for i, v := range log {
		r.v[i] = max(-mostRelief, min((v-mean[i])/(float32(math.Sqrt(float64(spread[i])))+0.02), mostRelief))
		if n[i] < 0.4 {
			r.weight[i] = 0
		}
	}
	return r
}

// weightedMean is the mean of v within reach, where weight counts, and the share of the square that does.
func weightedMean(v, weight []float32, w, h, reach int) (mean, share []float32) {
	num := make([]float32, len(v))
	for i := range v {
		num[i] = v[i] * weight[i]
	}
	mean, share = boxMean(num, w, h, reach), boxMean(weight, w, h, reach)
	for i, s := range share {
		if s > 1e-3 {
			mean[i] /= s
		}
	}
	return mean, share
}

// boxMean averages squares of 2 reach + 1 px, clipped by the frame.
func boxMean(v []float32, w, h, reach int) []float32 {
	tmp, out := make([]float32, len(v)), make([]float32, len(v))
	inBands(h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			slide(v[y*w:], tmp[y*w:], w, 1, reach)
		}
	})
	inBands(w, func(x0, x1 int) {
		for x := x0; x < x1; x++ {
			slide(tmp[x:], out[x:], h, w, reach)
		}
	})
	return out
}

// slide is a moving mean over n values step apart.
func slide(v, out []float32, n, step, reach int) {
	var sum float64
	for i := range min(reach, n) {
		sum += float64(v[i*step])
	}
	for i := range n {
		if k := i + reach; k < n {
			sum += float64(v[k*step])
		}
		if k := i - reach - 1; k >= 0 {
			sum -= float64(v[k*step])
		}
		out[i*step] = float32(sum / float64(min(i+reach, n-1)-max(i-reach, 0)+1))
	}
}

// at is the value and the weight at (x, y), between pixels; outside nothing counts.
func (r relief) at(x, y float64) (v, weight float64) {
	if !(x >= 0 && y >= 0 && x < float64(r.w-1) && y < float64(r.h-1)) {
		return 0, 0
	}
	i, k := int(x), int(y)
	fx, fy := x-float64(i), y-float64(k)
	p := k*r.w + i
	mix := func(a []float32) float64 {
		return (float64(a[p])*(1-fx)+float64(a[p+1])*fx)*(1-fy) + (float64(a[p+r.w])*(1-fx)+float64(a[p+r.w+1])*fx)*fy
	}
	return mix(r.v), mix(r.weight)
}

// slope is the value at (x, y) and how it changes with a pixel to the right and down; ok is false where a pixel that
// counts nothing has a part in the value.
func (r relief) slope(x, y float64) (v, dx, dy float64, ok bool) {
	v, weight := r.at(x, y)
	if weight < 0.99 {
		return v, 0, 0, false
	}
	left, _ := r.at(x-1, y)
	right, _ := r.at(x+1, y)
	top, _ := r.at(x, y-1)
	low, _ := r.at(x, y+1)
	return v, (right - left) / 2, (low - top) / 2, true
}

// Alignment lays a second picture of one face on the first.
type Alignment struct {
	// ToSecond maps pixels of the first to pixels of the second; MM are those of the second picture.
	ToSecond geom.Homography `json:"toSecond"`
	Turn     float64         `json:"turn"`  // degrees that the second lies turned, in its middle
	Shift    float64         `json:"shift"` // px that its middle lies off
	Alike    float64         `json:"alike"` // correlation of details, 1 at best
	Off      float64         `json:"off"`   // px that parts of it still lie off, in the median
}

// Align finds how a second photograph of a face, taken from nearly the same place with other light, lies on the first:
// shift and turn by trying, then a homography by least squares with outliers weighed down (Lucas and Kanade 1981, with the
// weights of Huber 1964), coarse to fine. It fails with ErrUnalike.
func Align(ctx context.Context, first, second *Image) (a Alignment, err error) {
	if first.size != second.size {
		return a, fmt.Errorf("%w: the first is %d x %d pixels, the second %d x %d; take both with one camera setting",
			ErrUnalike, first.size.X, first.size.Y, second.size.X, second.size.Y)
	}
	long := max(first.size.X, first.size.Y)
	h, err := coarseAlignment(ctx, reliefOf(first.Preview(alignCoarse)), reliefOf(second.Preview(alignCoarse)))
	if err != nil {
		return a, err
	}
	side := min(alignCoarse, long)
	for {
		p, q := reliefOf(first.Preview(side)), reliefOf(second.Preview(side))
		for range 12 {
			if err := ctx.Err(); err != nil {
				return a, err
			}
			next, moved := p.improve(q, h)
			if h = next; moved < 0.01 {
				break
			}
		}
		if side >= min(alignFine, long) {
			a.Alike, a.Off = p.alike(q, h)
			break
		}
		side = min(2*side, alignFine, long)
	}
	scale := float64(long) / float64(side)
	a.ToSecond = inPixels(h, first.size)
	a.Off *= scale
	middle := geom.Px{X: float64(first.size.X-1) / 2, Y: float64(first.size.Y-1) / 2}
	to, j := a.ToSecond.MM(middle), a.ToSecond.Jacobian(middle)
	a.Turn = math.Atan2(j[2]-j[1], j[0]+j[3]) * 180 / math.Pi
	a.Shift = math.Hypot(to.X-middle.X, to.Y-middle.Y)
	if a.Alike < leastAlike || a.Off > mostOff*max(1, scale) {
		return a, fmt.Errorf("%w: their details agree by %.2f of 1 and lie %.1f pixels off; leave camera and face where they are and move the lamp alone",
			ErrUnalike, a.Alike, a.Off)
	}
	return a, nil
}

// The maps below run in a frame of their own, free of the picture's size: (0, 0) is the middle of the picture and its longer
// side is 2 long.

func frameScale(w, h int) float64 { return 2 / float64(max(w, h)) }

func (r relief) toFrame(x, y int) (float64, float64) {
	s := frameScale(r.w, r.h)
	return (float64(x) - float64(r.w-1)/2) * s, (float64(y) - float64(r.h-1)/2) * s
}

func (r relief) fromFrame(u, v float64) (x, y float64) {
	s := frameScale(r.w, r.h)
	return u/s + float64(r.w-1)/2, v/s + float64(r.h-1)/2
}

// inPixels carries a map of the frame to pixels of pictures of that size.
func inPixels(h geom.Homography, size image.Point) geom.Homography {
	s := frameScale(size.X, size.Y)
	cx, cy := float64(size.X-1)/2, float64(size.Y-1)/2
	in := geom.Homography{s, 0, -s * cx, 0, s, -s * cy, 0, 0, 1}
	out := geom.Homography{1 / s, 0, cx, 0, 1 / s, cy, 0, 0, 1}
	return out.Times(h).Times(in)
}

// coarseAlignment tries turns and shifts and keeps the one in which details agree best.
func coarseAlignment(ctx context.Context, p, q relief) (best geom.Homography, err error) {
	top := -2.0
	reach := alignShift * 2 // in the frame
	step := 2.5 * frameScale(p.w, p.h)
	for deg := -float64(alignTurn); deg <= alignTurn; deg++ {
		if err := ctx.Err(); err != nil {
			return best, err
		}
		sin, cos := math.Sincos(deg * math.Pi / 180)
		for dy := -reach; dy <= reach; dy += step {
			for dx := -reach; dx <= reach; dx += step {
				h := geom.Homography{cos, -sin, dx, sin, cos, dy, 0, 0, 1}
				if c := p.correlation(q, h, 3); c > top {
					top, best = c, h
				}
			}
		}
	}
	return best, nil
}

// correlation of the details of p with those of q under h, on every step-th pixel; -1 where less than half overlaps.
func (p relief) correlation(q relief, h geom.Homography, step int) float64 {
	var pp, qq, pq, n, all float64
	for y := step / 2; y < p.h; y += step {
		for x := step / 2; x < p.w; x += step {
			wp := float64(p.weight[y*p.w+x])
			all++
			u, v := p.toFrame(x, y)
			m := h.MM(geom.Px{X: u, Y: v})
			b, wq := q.at(q.fromFrame(m.X, m.Y))
			w := wp * wq
			if w == 0 {
				continue
			}
			a := float64(p.v[y*p.w+x])
			pp, qq, pq, n = pp+w*a*a, qq+w*b*b, pq+w*a*b, n+w
		}
	}
	if n < 0.5*all || pp == 0 || qq == 0 {
		return -1
	}
	return pq / math.Sqrt(pp*qq)
}

// improve is one step of Gauss and Newton on h and tells how far it moved the corners, px of this picture.
func (p relief) improve(q relief, h geom.Homography) (geom.Homography, float64) {
	var a [8 * 9]float64
	const huber = 0.6
	step, s := max(1, max(p.w, p.h)/640), 1/frameScale(q.w, q.h)
	for y := 0; y < p.h; y += step {
		for x := 0; x < p.w; x += step {
			wp := float64(p.weight[y*p.w+x])
			if wp == 0 {
				continue
			}
			u, v := p.toFrame(x, y)
			d := h[6]*u + h[7]*v + 1
			mx, my := (h[0]*u+h[1]*v+h[2])/d, (h[3]*u+h[4]*v+h[5])/d
			b, gx, gy, ok := q.slope(q.fromFrame(mx, my))
			if !ok {
				continue
			}
			gx, gy = gx*s, gy*s // by a step in the frame
			e := float64(p.v[y*p.w+x]) - b
			w := wp
			if e > huber || e < -huber {
				w *= huber / math.Abs(e)
			}
			g := [9]float64{gx * u / d, gx * v / d, gx / d, gy * u / d, gy * v / d, gy / d, -(gx*mx + gy*my) * u / d, -(gx*mx + gy*my) * v / d, e}
			for i := range 8 {
				for k := i; k < 9; k++ {
					a[9*i+k] += w * g[i] * g[k]
				}
			}
		}
	}
	for i := range 8 {
		for k := range i {
			a[9*i+k] = a[9*k+i]
		}
		a[9*i+i] *= 1 + 1e-4 // holds what the picture does not tell
	}
	d, ok := solve(a[:], 8)
	if !ok {
		return h, 0
	}
	next := h
	for i := range d {
		next[i] += d[i]
	}
	moved := 0.0
	for _, c := range [4]geom.Px{{X: -1, Y: -1}, {X: 1, Y: -1}, {X: 1, Y: 1}, {X: -1, Y: 1}} {
		m, n := h.MM(c), next.MM(c)
		moved = max(moved, math.Hypot(m.X-n.X, m.Y-n.Y)/frameScale(p.w, p.h))
	}
	if math.IsNaN(moved) || moved > 0.3*float64(max(p.w, p.h)) {
		return h, 0
	}
	return next, moved
}

// alike tells how well details agree under h, and how far parts of the picture still lie off in the median, px: each part is
// moved by itself one step.
func (p relief) alike(q relief, h geom.Homography) (alike, off float64) {
	alike = p.correlation(q, h, 2)
	const parts = 8
	var offs []float64
	for ty := range parts {
		for tx := range parts {
			var a [2][3]float64
			n := 0
			for y := ty * p.h / parts; y < (ty+1)*p.h/parts; y += 2 {
				for x := tx * p.w / parts; x < (tx+1)*p.w/parts; x += 2 {
					u, v := p.toFrame(x, y)
					m := h.MM(geom.Px{X: u, Y: v})
					b, gx, gy, ok := q.slope(q.fromFrame(m.X, m.Y))
					if !ok || p.weight[y*p.w+x] == 0 {
						continue
					}
					e := float64(p.v[y*p.w+x]) - b
					w := 1 / max(0.6, math.Abs(e))
					a[0][0], a[0][1], a[0][2] = a[0][0]+w*gx*gx, a[0][1]+w*gx*gy, a[0][2]+w*gx*e
					a[1][1], a[1][2] = a[1][1]+w*gy*gy, a[1][2]+w*gy*e
					n++
				}
			}
			det := a[0][0]*a[1][1] - a[0][1]*a[0][1]
			if n < 200 || !(det > 0.01*a[0][0]*a[1][1]) {
				continue
			}
			dx := (a[1][1]*a[0][2] - a[0][1]*a[1][2]) / det
			dy := (a[0][0]*a[1][2] - a[0][1]*a[0][2]) / det
			offs = append(offs, math.Hypot(dx, dy))
		}
	}
	if len(offs) < 4 {
		return alike, math.Inf(1)
	}
	return alike, median(offs)
}
