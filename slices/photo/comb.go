package photo

import (
	"context"
	"math"
	"slices"

	"sectionary/slices/geom"
)

// comb is a row of strokes at even distances: the ticks of a ruler seen at one of their sides, or the borders of the
// fields of a step scale. Teeth lie in order; at counts steps from the first, so that a hidden tooth leaves a gap.
type comb struct {
	strokes   []int
	at        []int
	alternate bool // every other tooth grows brighter the other way: a bar of dark and light fields
}

const (
	leastStep  = 3.2          // px between teeth
	mostHops   = 4            // strokes ahead of a seed that may be its neighbour tooth
	combTurn   = math.Pi / 18 // between a tooth and the mean of the comb
	mostMissed = 3            // teeth missed in a row
	leastTeeth = 8            // below which a comb proves nothing
	fineStep   = 14.0         // px, below which a comb needs more teeth
	leastFine  = 14
	leastField = 7.0  // px; narrower fields of a bar cannot be told from blurred ticks
	combNoise  = 0.07 // of a step, root mean square that teeth may lie off their places
)

// combs finds rows of strokes, each walked from a stroke that no row so far goes through, the longest first.
func (f *strokeField) combs(ctx context.Context, reach float64) (best []comb, err error) {
	used := make([]bool, len(f.strokes))
	for i := range f.strokes {
		if i&0x3ff == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if used[i] {
			continue
		}
		var top comb
		for _, alternate := range [2]bool{false, true} {
			for _, step := range f.hops(i, reach, alternate) {
				if c := f.walk(i, step, alternate); len(c.strokes) > len(top.strokes) {
					top = c
				}
			}
		}
		if len(top.strokes) < leastTeeth {
			continue
		}
		for _, k := range top.strokes {
			used[k] = true
		}
		best = append(best, top)
	}
	return best, nil
}

// hops are the distances from stroke i to the next few strokes like it, along its gradient.
func (f *strokeField) hops(i int, reach float64, alternate bool) (steps []float64) {
	s := f.strokes[i]
	angle := s.angle
	if alternate {
		angle += math.Pi
	}
	from, a := s.at((s.lo+s.hi)/2), s.across()
	last := i
	for d := 2.0; d < reach && len(steps) < mostHops; d++ {
		k := f.under(geom.Px{X: from.X + d*a.X, Y: from.Y + d*a.Y}, angle, combTurn)
		if k < 0 || k == last || k == i {
			continue
		}
		last = k
		if step := crossing(from, a, f.strokes[k]); step >= leastStep && (!alternate || step >= leastField) {
			steps = append(steps, step)
		}
	}
	return steps
}

// crossing is how far along direction a from p the line of a stroke lies.
func crossing(p, a geom.Px, s stroke) float64 {
	n := s.across()
	return ((s.centre.X-p.X)*n.X + (s.centre.Y-p.Y)*n.Y) / (a.X*n.X + a.Y*n.Y)
}

// walk follows a row of strokes both ways from stroke i, step px apart at first.
func (f *strokeField) walk(i int, step float64, alternate bool) comb {
	c := comb{strokes: []int{i}, at: []int{0}, alternate: alternate}
	s := f.strokes[i]
	start := tread{at: s.at((s.lo + s.hi) / 2), angle: s.angle, step: step}
	forth := f.stride(start, i, 1, alternate)
	back := start
	if n := len(forth); n > 0 {
		back.angle, back.step = forth[0].angle, forth[0].step
	}
	behind := f.stride(back, i, -1, alternate)
	c.strokes, c.at = nil, nil
	for k := len(behind) - 1; k >= 0; k-- {
		c.strokes, c.at = append(c.strokes, behind[k].stroke), append(c.at, -behind[k].count)
	}
	c.strokes, c.at = append(c.strokes, i), append(c.at, 0)
	for _, t := range forth {
		c.strokes, c.at = append(c.strokes, t.stroke), append(c.at, t.count)
	}
	first := c.at[0]
	for k := range c.at {
		c.at[k] -= first
	}
	return c
}

// tread is one step of a walk: where it set foot, and what it expects of the next.
type tread struct {
	at     geom.Px
	angle  float64 // of the gradients, of the seed's kind
	step   float64
	stroke int
	count  int // steps from the seed
}

// stride walks one way, sign +1 or -1, until too many teeth are missed in a row.
func (f *strokeField) stride(t tread, seed int, sign float64, alternate bool) (out []tread) {
	missed, teeth := 0, 1
	last := seed
	for missed <= mostMissed && len(out) < 4000 {
		sin, cos := math.Sincos(t.angle)
		a := geom.Px{X: sign * cos, Y: sign * sin}
		hop := float64(missed+1) * t.step
		want := t.angle
		if alternate && (t.count+missed+1)%2 == 1 {
			want += math.Pi
		}
		tolerance := (0.14 + 0.1/float64(teeth) + 0.04*float64(missed)) * t.step
		k, d := f.nearest(t.at, a, hop, tolerance, want, last)
		if k < 0 {
			if missed++; teeth < 4 && missed > 1 {
				break
			}
			continue
		}
		teeth++
		s := f.strokes[k]
		t.count += missed + 1
		part := min(0.5, 1/float64(teeth)) // the step of a tilted ruler changes slowly
		t.step += max(part, 0.15) * (d/float64(missed+1) - t.step)
		off := turned(s.angle - want)
		t.angle += off * max(1/float64(teeth), 0.1)
		t.at = s.held(geom.Px{X: t.at.X + d*a.X, Y: t.at.Y + d*a.Y})
		t.stroke, last, missed = k, k, 0
		out = append(out, t)
	}
	return out
}

// held is the point of the stroke's line nearest to p, moved inward when it lies near an end, so that a walk along a
// row that leans does not step off it.
func (s stroke) held(p geom.Px) geom.Px {
	a := s.along()
	v := (p.X-s.centre.X)*a.X + (p.Y-s.centre.Y)*a.Y
	edge := 0.3 * s.length()
	return s.at(max(s.lo+edge, min(v, s.hi-edge)))
}

// nearest is the stroke met nearest to hop px from p along a, within tolerance, and how far it lies.
func (f *strokeField) nearest(p, a geom.Px, hop, tolerance, angle float64, not int) (int, float64) {
	best, at, off := -1, 0.0, math.Inf(1)
	seen := -1
	for d := hop - tolerance - 1; d <= hop+tolerance+1; d += 0.7 {
		k := f.under(geom.Px{X: p.X + d*a.X, Y: p.Y + d*a.Y}, angle, combTurn)
		if k < 0 || k == seen || k == not {
			continue
		}
		seen = k
		x := crossing(p, a, f.strokes[k])
		if o := math.Abs(x - hop); o < off && o <= tolerance {
			best, at, off = k, x, o
		}
	}
	return best, at
}

// row is a comb laid on a straight line: from point at, teeth lie along dir where places says. A camera that looks
// aslant makes the steps grow or shrink along the line.
type row struct {
	comb
	at, dir  geom.Px
	lean     geom.Px    // unit vector along the teeth
	low, top float64    // the band that most teeth reach through, px along lean from the line
	places   [3]float64 // px along dir of tooth k: (p0 + p1 k)/(1 + p2 k)
	noise    float64    // px, root mean square of teeth off their places
	free     float64    // +1 where the free ends of the teeth lie along lean, else -1
	other    float64    // px along dir from a tooth to the other side of its line, 0 for borders of fields
}

func (r row) place(k float64) float64 { return (r.places[0] + r.places[1]*k) / (1 + r.places[2]*k) }

func (r row) point(k float64) geom.Px {
	d := r.place(k) + r.other/2
	return geom.Px{X: r.at.X + d*r.dir.X, Y: r.at.Y + d*r.dir.Y}
}

// step is the mean distance of teeth, px.
func (r row) step() float64 {
	n := float64(r.at0n())
	return math.Abs(r.place(n)-r.place(0)) / n
}

func (r row) at0n() int { return r.comb.at[len(r.comb.at)-1] }

// fullShare is the part of the teeth between the ends that must be seen when n were: the fewer, the more.
func fullShare(n int) float64 {
	if n < leastTeeth+4 {
		return 0.95 // letters and ribs stand in rows with holes
	}
	if n < 2*leastTeeth {
		return 0.8
	}
	return 0.6
}

// laid holds a comb against a straight row: one end of the teeth lies on a line, and their places are even. ok is false
// for what is no ruler.
func (f *strokeField) laid(c comb) (r row, ok bool) {
	for range 12 {
		n := len(c.strokes)
		if n < leastTeeth || float64(n) < fullShare(n)*float64(c.at[n-1]+1) {
			return r, false
		}
		if r, ok = f.line(c); !ok {
			return r, false
		}
		if f.trimmed(&c, r) {
			continue
		}
		kept := r.fitPlaces(f)
		if kept == nil {
			break
		}
		c = kept.renumbered()
	}
	if r.step() < fineStep && len(r.strokes) < leastFine {
		return r, false // letters stand so
	}
	return r, r.noise <= min(combNoise*r.step(), 0.45+0.008*r.step())
}

// trimmed takes away a first or last tooth that does not stand on the row's line as the others do, or that stands alone
// behind a gap.
func (f *strokeField) trimmed(c *comb, r row) bool {
	n := len(c.at)
	short := (r.top - r.low) / 0.6
	off := func(k int) bool {
		s := f.strokes[k]
		best := math.Inf(1)
		for _, v := range [2]float64{s.lo, s.hi} {
			p := s.at(v)
			best = min(best, math.Abs((p.Y-r.at.Y)*r.dir.X-(p.X-r.at.X)*r.dir.Y))
		}
		return best > max(2.5, 0.25*short)
	}
	switch {
	case off(c.strokes[n-1]) || c.at[n-1]-c.at[n-2] > 2:
		*c = comb{c.strokes[:n-1], c.at[:n-1], c.alternate}
	case off(c.strokes[0]) || c.at[1]-c.at[0] > 2:
		*c = comb{c.strokes[1:], slices.Clone(c.at[1:]), c.alternate}.renumbered()
	default:
		return false
	}
	return true
}

func (c comb) renumbered() comb {
	if len(c.at) > 0 {
		for first, k := c.at[0], 0; k < len(c.at); k++ {
			c.at[k] -= first
		}
	}
	return c
}

// line lays the straight line that the teeth stand on: through their lower or their upper ends, whichever lie straighter.
func (f *strokeField) line(c comb) (r row, ok bool) {
	flip := f.strokes[c.strokes[0]].angle
	var sin, cos float64
	for i, k := range c.strokes {
		a := f.strokes[k].angle
		if c.alternate && (c.at[i]-c.at[0])%2 != 0 {
			a += math.Pi
		}
		s, co := math.Sincos(turned(a - flip))
		sin, cos = sin+s, cos+co
	}
	mean := flip + math.Atan2(sin, cos)
	r = row{comb: c, lean: geom.Px{X: -math.Sin(mean), Y: math.Cos(mean)}}
	var ends [2][]geom.Px
	lengths := make([]float64, 0, len(c.strokes))
	for _, k := range c.strokes {
		s := f.strokes[k]
		p, q := s.at(s.lo), s.at(s.hi)
		if a := s.along(); a.X*r.lean.X+a.Y*r.lean.Y < 0 {
			p, q = q, p
		}
		ends[0], ends[1] = append(ends[0], p), append(ends[1], q)
		lengths = append(lengths, s.length())
	}
	short := quantile(lengths, 0.15)
	best := math.Inf(1)
	for side := range ends {
		at, dir, off := straight(ends[side])
		if off >= best {
			continue
		}
		best = off
		r.at, r.dir = at, dir
		r.low, r.top, r.free = 0.2*short, 0.8*short, 1
		if side == 1 {
			r.low, r.top, r.free = -0.8*short, -0.2*short, -1
		}
	}
	square := math.Abs(r.dir.X*r.lean.X + r.dir.Y*r.lean.Y)
	return r, best <= max(1.2, 0.1*short) && square < math.Sin(12*math.Pi/180)
}

// straight lays a line through points in order so that a few that lie off do not matter, and tells the distance that
// seven of ten of them keep to.
func straight(p []geom.Px) (at, dir geom.Px, off float64) {
	keep := p
	for range 3 {
		at, dir = leastSquaresLine(keep)
		dist := make([]float64, len(p))
		for i, q := range p {
			dist[i] = math.Abs((q.Y-at.Y)*dir.X - (q.X-at.X)*dir.Y)
		}
		off = quantile(append([]float64(nil), dist...), 0.7)
		keep = nil
		for i, q := range p {
			if dist[i] <= off {
				keep = append(keep, q)
			}
		}
	}
	first, last := p[0], p[len(p)-1]
	if (last.X-first.X)*dir.X+(last.Y-first.Y)*dir.Y < 0 {
		dir = geom.Px{X: -dir.X, Y: -dir.Y}
	}
	return at, dir, off
}

func leastSquaresLine(p []geom.Px) (at, dir geom.Px) {
	at = centroid(p)
	var xx, xy, yy float64
	for _, q := range p {
		x, y := q.X-at.X, q.Y-at.Y
		xx, xy, yy = xx+x*x, xy+x*y, yy+y*y
	}
	sin, cos := math.Sincos(math.Atan2(2*xy, xx-yy) / 2)
	return at, geom.Px{X: cos, Y: sin}
}

// fitPlaces fits the places of the teeth and returns the comb without those that lie far off, nil when all stay.
func (r *row) fitPlaces(f *strokeField) *comb {
	mid := (r.low + r.top) / 2 // where the teeth are read
	from := geom.Px{X: r.at.X + mid*r.lean.X, Y: r.at.Y + mid*r.lean.Y}
	t := make([]float64, len(r.strokes))
	for i, k := range r.strokes {
		t[i] = crossing(from, r.dir, f.strokes[k])
	}
	r.at = from
	r.low, r.top = r.low-mid, r.top-mid
	r.places, r.noise, _ = evenPlaces(r.comb.at, t)
	worst := r.worst(t)
	if worst < 0 {
		return nil
	}
	return &comb{slices.Delete(slices.Clone(r.strokes), worst, worst+1), slices.Delete(slices.Clone(r.comb.at), worst, worst+1), r.alternate}
}

// worst is the tooth without which the places fit much better, -1 when none. In long rows only the ends and the tooth
// furthest off are tried.
func (r *row) worst(t []float64) int {
	n := len(t)
	far, off := 0, -1.0
	for i := range t {
		if d := math.Abs(t[i] - r.place(float64(r.comb.at[i]))); d > off {
			far, off = i, d
		}
	}
	best, at := 0.75*r.noise, -1
	for i := range t {
		if n > 24 && i != 0 && i != far && i != n-1 {
			continue
		}
		_, rms, _ := evenPlaces(slices.Delete(slices.Clone(r.comb.at), i, i+1), slices.Delete(slices.Clone(t), i, i+1))
		if rms < best {
			best, at = rms, i
		}
	}
	if r.noise < 0.1 {
		return -1
	}
	return at
}

// evenPlaces fits places t, px along a line, to numbers k by (p0 + p1 k)/(1 + p2 k), the image of even steps on a
// straight line, and returns the root mean square left over and the standard uncertainty of the mean step. The tilt p2
// is left out where it does not show.
func evenPlaces(k []int, t []float64) (p [3]float64, rms, sd float64) {
	n := float64(len(k))
	var sk, st, skk, skt float64
	for i, x := range k {
		v := float64(x)
		sk, st, skk, skt = sk+v, st+t[i], skk+v*v, skt+v*t[i]
	}
	den := n*skk - sk*sk
	if den == 0 {
		return p, math.Inf(1), math.Inf(1)
	}
	p[1] = (n*skt - sk*st) / den
	p[0] = (st - p[1]*sk) / n
	rms = restOf(p, k, t)
	sd = rms * math.Sqrt(n/max(1, n-2)) * math.Sqrt(n/den)
	if len(k) < leastTeeth {
		return p, rms, sd
	}
	q := p
	for range 6 { // Gauss and Newton
		var a [3][4]float64
		for i, x := range k {
			v := float64(x)
			w := 1 + q[2]*v
			y := (q[0] + q[1]*v) / w
			g := [3]float64{1 / w, v / w, -y * v / w}
			for r := range 3 {
				for c := range 3 {
					a[r][c] += g[r] * g[c]
				}
				a[r][3] += g[r] * (t[i] - y)
			}
		}
		d, ok := solve3(a)
		if !ok {
			return p, rms, sd
		}
		for i := range q {
			q[i] += d[i]
		}
	}
	last := float64(k[len(k)-1])
	if !(math.Abs(q[2]*last) < 0.4) || !(1+q[2]*last > 0) {
		return p, rms, sd
	}
	if with := restOf(q, k, t); with < 0.85*rms {
		return q, with, max(with*math.Sqrt(n/max(1, n-3))*2*math.Sqrt(n/den), 0)
	}
	return p, rms, sd
}

func restOf(p [3]float64, k []int, t []float64) float64 {
	var sum float64
	for i, x := range k {
		v := float64(x)
		d := t[i] - (p[0]+p[1]*v)/(1+p[2]*v)
		sum += d * d
	}
	return math.Sqrt(sum / float64(len(k)))
}

// solve3 solves three equations by elimination with pivots.
func solve3(a [3][4]float64) (x [3]float64, ok bool) {
	for c := range 3 {
		top := c
		for r := c + 1; r < 3; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[top][c]) {
				top = r
			}
		}
		if !(math.Abs(a[top][c]) > 1e-12) {
			return x, false
		}
		a[c], a[top] = a[top], a[c]
		for r := c + 1; r < 3; r++ {
			k := a[r][c] / a[c][c]
			for j := c; j < 4; j++ {
				a[r][j] -= k * a[c][j]
			}
		}
	}
	for r := 2; r >= 0; r-- {
		x[r] = a[r][3]
		for j := r + 1; j < 3; j++ {
			x[r] -= a[r][j] * x[j]
		}
		x[r] /= a[r][r]
	}
	return x, true
}

// paired looks for the other side of each tooth: a tick is a line with two sides, and its middle is what counts.
func (f *strokeField) paired(r *row) {
	step := r.step()
	sign := f.tickSide(r)
	a := geom.Px{X: sign * r.dir.X, Y: sign * r.dir.Y}
	var gaps []float64
	for i, k := range r.strokes {
		if o, d := f.nearest(r.point(float64(r.comb.at[i])), a, 0.3*step, 0.28*step, f.strokes[k].angle+math.Pi, k); o >= 0 {
			gaps = append(gaps, sign*d)
		}
	}
	if len(gaps)*3 < 2*len(r.strokes) {
		return
	}
	mid := median(gaps)
	agree := 0
	for _, g := range gaps {
		if math.Abs(g-mid) < 0.1*step+0.5 {
			agree++
		}
	}
	if agree*3 >= 2*len(r.strokes) {
		r.other = mid
	}
}

// tickSide tells on which side of the teeth, +1 or -1 along dir, the ticks lie: the one less like the ground that the
// short ticks stand free in.
func (f *strokeField) tickSide(r *row) float64 {
	step, n := r.step(), float64(r.at0n())
	var ground []float64
	beyond := r.free * 1.6 * (r.top - r.low) // the band is the middle 0.6 of a short tick
	sides := [2][3]float64{}                 // mean brightness at three distances either side
	for k := 0.0; k <= n; k += 0.25 {
		p := r.point(k)
		ground = append(ground, f.bright(geom.Px{X: p.X + beyond*r.lean.X, Y: p.Y + beyond*r.lean.Y}))
		if k == math.Trunc(k) {
			for i := range 6 {
				d := float64(2*(i%2)-1) * max(1, float64(1+i/2)*step/10)
				sides[i%2][i/2] += f.bright(geom.Px{X: p.X + d*r.dir.X, Y: p.Y + d*r.dir.Y}) / (n + 1)
			}
		}
	}
	g := median(ground)
	var unlike float64
	for i := range 3 {
		unlike += math.Abs(sides[1][i]-g) - math.Abs(sides[0][i]-g)
	}
	return math.Copysign(1, unlike)
}

func (f *strokeField) bright(p geom.Px) float64 {
	return float64(f.v[clamp(int(math.Round(p.Y)), f.h)*f.w+clamp(int(math.Round(p.X)), f.w)])
}
