package photo

import (
	"math"

	"sectionary/slices/geom"
)

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
	n := float64(r.steps())
	return math.Abs(r.place(n)-r.place(0)) / n
}

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
		if n < leastTeeth || float64(n) < fullShare(n)*float64(c.steps()+1) {
			return r, false
		}
		if r, ok = f.line(c); !ok {
			return r, false
		}
		if f.trimmed(&c, r) {
			continue
		}
		worst := r.fitPlaces(f)
		if worst < 0 {
			break
		}
		c = c.but(worst).renumbered()
	}
	if r.step() == 0 {
		return r, false // still being trimmed: its places were never fitted
	}
	if r.step() < fineStep && len(r.strokes) < leastFine {
		return r, false // letters stand so
	}
	return r, r.noise <= min(combNoise*r.step(), 0.45+0.008*r.step())
}

// trimmed takes away a first or last tooth that does not stand on the row's line as the others do, or that stands alone
// behind a gap.
func (f *strokeField) trimmed(c *comb, r row) bool {
	last := len(c.strokes) - 1
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
	case off(c.strokes[last]) || c.counts[last]-c.counts[last-1] > 2:
		*c = c.but(last)
	case off(c.strokes[0]) || c.counts[1]-c.counts[0] > 2:
		*c = c.but(0).renumbered()
	default:
		return false
	}
	return true
}

// line lays the straight line that the teeth stand on: through their lower or their upper ends, whichever lie straighter.
func (f *strokeField) line(c comb) (r row, ok bool) {
	flip := f.strokes[c.strokes[0]].angle
	var sin, cos float64
	for i, k := range c.strokes {
		a := f.strokes[k].angle
		if c.alternate && c.counts[i]%2 != 0 {
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
		off = quantile(dist, 0.7)
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

// leastSquaresLine runs through the centroid along the longer axis of the points' scatter.
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

// paired looks for the other side of each tooth: a tick is a line with two sides, and its middle is what counts.
func (f *strokeField) paired(r *row) {
	step := r.step()
	sign := f.tickSide(r)
	a := geom.Px{X: sign * r.dir.X, Y: sign * r.dir.Y}
	var gaps []float64
	for i, k := range r.strokes {
		if o, d := f.nearest(r.point(float64(r.counts[i])), a, 0.3*step, 0.28*step, f.strokes[k].angle+math.Pi, k); o >= 0 {
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
	step, n := r.step(), float64(r.steps())
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

// bright is the logarithm of brightness at the pixel nearest to p within the picture.
func (f *strokeField) bright(p geom.Px) float64 {
	return float64(f.v[clamp(int(math.Round(p.Y)), f.h)*f.w+clamp(int(math.Round(p.X)), f.w)])
}
