package photo

import (
	"math"

	"sectionary/slices/geom"
)

// fitPlaces fits the places of the teeth, read in the middle of the band, and returns the tooth that lies far off, -1 when
// all may stay.
func (r *row) fitPlaces(f *strokeField) int {
	mid := (r.low + r.top) / 2
	from := geom.Px{X: r.at.X + mid*r.lean.X, Y: r.at.Y + mid*r.lean.Y}
	t := make([]float64, len(r.strokes))
	for i, k := range r.strokes {
		t[i] = crossing(from, r.dir, f.strokes[k])
	}
	r.at = from
	r.low, r.top = r.low-mid, r.top-mid
	r.places, r.noise = evenPlaces(r.counts, t)
	return r.worst(t)
}

// worst is the tooth without which the places fit much better, -1 when none. In long rows only the ends and the tooth
// furthest off are tried.
func (r *row) worst(t []float64) int {
	if r.noise < 0.1 {
		return -1
	}
	n := len(t)
	far, off := 0, -1.0
	for i := range t {
		if d := math.Abs(t[i] - r.place(float64(r.counts[i]))); d > off {
			far, off = i, d
		}
	}
	best, at := 0.75*r.noise, -1
	for i := range t {
		if n > 24 && i != 0 && i != far && i != n-1 {
			continue
		}
		if _, rms := evenPlaces(without(r.counts, i), without(t, i)); rms < best {
			best, at = rms, i
		}
	}
	return at
}

// evenPlaces fits places t, px along a line, to numbers k by (p0 + p1 k)/(1 + p2 k), the image of even steps on a
// straight line, and returns the root mean square left over, px. The tilt p2 is left out where it does not show.
func evenPlaces(k []int, t []float64) (p [3]float64, rms float64) {
	n := float64(len(k))
	var sk, st, skk, skt float64
	for i, x := range k {
		v := float64(x)
		sk, st, skk, skt = sk+v, st+t[i], skk+v*v, skt+v*t[i]
	}
	den := n*skk - sk*sk
	if den == 0 {
		return p, math.Inf(1)
	}
	p[1] = (n*skt - sk*st) / den
	p[0] = (st - p[1]*sk) / n
	rms = restOf(p, k, t)
	if len(k) < leastTeeth {
		return p, rms
	}
	q := p
	for range 6 { // Gauss and Newton
		var a [3 * 4]float64
		for i, x := range k {
			v := float64(x)
			w := 1 + q[2]*v
			y := (q[0] + q[1]*v) / w
			g := [3]float64{1 / w, v / w, -y * v / w}
			for r := range 3 {
				for c := range 3 {
					a[4*r+c] += g[r] * g[c]
				}
				a[4*r+3] += g[r] * (t[i] - y)
			}
		}
		d, ok := solve(a[:], 3)
		if !ok {
			return p, rms
		}
		for i := range q {
			q[i] += d[i]
		}
	}
	last := float64(k[len(k)-1])
	if !(math.Abs(q[2]*last) < 0.4) || !(1+q[2]*last > 0) {
		return p, rms
	}
	if with := restOf(q, k, t); with < 0.85*rms {
		return q, with
	}
	return p, rms
}

// restOf is the root mean square by which places t lie off those of p, px.
func restOf(p [3]float64, k []int, t []float64) float64 {
	var sum float64
	for i, x := range k {
		v := float64(x)
		d := t[i] - (p[0]+p[1]*v)/(1+p[2]*v)
		sum += d * d
	}
	return math.Sqrt(sum / float64(len(k)))
}
