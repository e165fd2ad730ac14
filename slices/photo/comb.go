package photo

import (
	"context"
	"math"

	"sectionary/slices/geom"
)

// comb is a row of strokes at even distances: the ticks of a ruler seen at one of their sides, or the borders of the
// fields of a step scale. Teeth lie in order; counts are steps from the first, so that a hidden tooth leaves a gap.
type comb struct {
	strokes   []int
	counts    []int
	alternate bool // every other tooth grows brighter the other way: a bar of dark and light fields
}

// Common practice, no source.
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
	s := f.strokes[i]
	start := tread{at: s.at((s.lo + s.hi) / 2), angle: s.angle, step: step}
	forth := f.stride(start, i, 1, alternate)
	back := start
	if n := len(forth); n > 0 {
		back.angle, back.step = forth[0].angle, forth[0].step
	}
	behind := f.stride(back, i, -1, alternate)
	c := comb{alternate: alternate}
	for k := len(behind) - 1; k >= 0; k-- {
		c.strokes, c.counts = append(c.strokes, behind[k].stroke), append(c.counts, -behind[k].count)
	}
	c.strokes, c.counts = append(c.strokes, i), append(c.counts, 0)
	for _, t := range forth {
		c.strokes, c.counts = append(c.strokes, t.stroke), append(c.counts, t.count)
	}
	return c.renumbered()
}

// renumbered is c with counts from 0; it changes them in place.
func (c comb) renumbered() comb {
	if len(c.counts) > 0 {
		for first, k := c.counts[0], 0; k < len(c.counts); k++ {
			c.counts[k] -= first
		}
	}
	return c
}

// steps is how many lie between the first tooth and the last.
func (c comb) steps() int { return c.counts[len(c.counts)-1] }

// but is c without its tooth at i, counted as before.
func (c comb) but(i int) comb { return comb{without(c.strokes, i), without(c.counts, i), c.alternate} }

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
