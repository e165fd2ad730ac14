package photo

import (
	"context"
	"errors"
	"fmt"
	"math"

	"sectionary/slices/geom"
)

// ErrNoRuler says that no ruler or scale bar with even ticks is seen.
var ErrNoRuler = errors.New("photo: no ruler found")

// Ruler is a row of even ticks found in a photograph, as a suggestion for a person to look over: the ticks of a ruler,
// or the borders of the fields of a step scale or a scale bar. All is in pixels of the upright photograph. How many mm
// one step is cannot be seen; a person says it.
type Ruler struct {
	First geom.Px `json:"first"` // the end ticks, on a line through all ticks
	Last  geom.Px `json:"last"`
	Steps int     `json:"steps"` // from the first tick to the last
	Seen  int     `json:"seen"`  // ticks that were seen, of Steps + 1
	// Spacing is the mean step and SD its standard uncertainty, px.
	Spacing float64 `json:"spacing"`
	SD      float64 `json:"sd"`
	// Direction is that of the row from First to Last, degrees clockwise from the right.
	Direction float64 `json:"direction"`
	// Drift is how much longer the last step is than the first, as a part of the mean step: a camera that looks aslant.
	Drift float64   `json:"drift"`
	Ticks []geom.Px `json:"ticks"` // every tick from First to Last, those not seen reckoned
	Tick  geom.Px   `json:"tick"`  // half a short tick, as a vector from its place
	Field bool      `json:"field"` // the ticks are borders of fields, not lines
}

// rulerLooks are the longest sides, px, of the reduced pictures that a ruler is sought in: coarse ones are calm, fine
// ones show every mm. Common practice, no source.
var rulerLooks = [...]int{850, 1700, 3400}

// FindRuler looks for one straight ruler or scale bar, at any angle and of any polarity, first in a much reduced picture
// and then in finer ones; the look that sees most ticks counts. It fails with ErrNoRuler.
func FindRuler(ctx context.Context, m *Image) (Ruler, error) {
	var best row
	found, from := false, 0
	last := -1
	for _, longest := range rulerLooks {
		n := m.levelWithin(longest)
		if n == last {
			break
		}
		last = n
		r, ok, err := m.rowIn(ctx, n)
		if err != nil {
			return Ruler{}, err
		}
		if ok && len(r.strokes) >= len(best.strokes) {
			best, found, from = r, true, n
		}
	}
	if !found {
		return Ruler{}, fmt.Errorf("%w; lay the ruler flat beside the face, in even light, or click two ticks by hand", ErrNoRuler)
	}
	return m.ruled(best, from)
}

// levelWithin is the finest level whose longer side is at most longest.
func (m *Image) levelWithin(longest int) int {
	for n, l := range m.levels {
		if max(l.w, l.h) <= longest {
			return n
		}
	}
	return len(m.levels) - 1
}

// rowIn is the row with most ticks at one level of the picture, in pixels of that level as stored.
func (m *Image) rowIn(ctx context.Context, n int) (best row, ok bool, err error) {
	v, w, h := m.logBrightness(n)
	f, err := strokesOf(ctx, v, w, h)
	if err != nil {
		return best, false, err
	}
	combs, err := f.combs(ctx, float64(max(w, h))/8)
	for _, c := range combs {
		if len(c.strokes) <= len(best.strokes) {
			continue
		}
		if r, fits := f.laid(c); fits && len(r.strokes) > len(best.strokes) {
			best, ok = r, true
		}
	}
	if ok && !best.alternate {
		f.paired(&best)
	}
	return best, ok, err
}

// ruled places the ticks of a row found at level n in the photograph.
func (m *Image) ruled(r row, n int) (Ruler, error) {
	scale := float64(int(1) << n)
	back := inverseTurn(m.turn)
	full := func(p geom.Px) geom.Px {
		return apply(back, geom.Px{X: (p.X+0.5)*scale - 0.5, Y: (p.Y+0.5)*scale - 0.5})
	}
	way := func(v geom.Px) geom.Px {
		return geom.Px{X: (back[0]*v.X + back[1]*v.Y) * scale, Y: (back[3]*v.X + back[4]*v.Y) * scale}
	}
	steps := r.steps()
	out := Ruler{First: full(r.point(0)), Last: full(r.point(float64(steps))), Steps: steps, Seen: len(r.strokes), Field: r.other == 0}
	half := (r.top - r.low) / 2
	out.Tick = way(geom.Px{X: half * r.lean.X, Y: half * r.lean.Y})
	for k := range steps + 1 {
		out.Ticks = append(out.Ticks, full(r.point(float64(k))))
	}
	out.settle(r.noise * scale)
	return out, nil
}

// settle works out what follows from the ticks. noise is how far off they may lie, px.
func (r *Ruler) settle(noise float64) {
	r.First, r.Last = r.Ticks[0], r.Ticks[len(r.Ticks)-1]
	n := float64(r.Steps)
	r.Spacing = r.First.Dist(r.Last) / n
	r.SD = max(noise, leastTickNoise) * math.Sqrt(12/max(1, float64(r.Seen))) / n
	r.Direction = math.Atan2(r.Last.Y-r.First.Y, r.Last.X-r.First.X) * 180 / math.Pi
	first, last := r.Ticks[0].Dist(r.Ticks[1]), r.Ticks[r.Steps-1].Dist(r.Ticks[r.Steps])
	r.Drift = (last - first) / r.Spacing
}

// leastTickNoise is how well one tick can be placed at best, px; common practice, no source.
const leastTickNoise = 0.1

// inverseTurn undoes a turn: its linear part is orthogonal.
func inverseTurn(t [6]float64) [6]float64 {
	inv := [6]float64{t[0], t[3], 0, t[1], t[4], 0}
	p := apply(inv, geom.Px{X: t[2], Y: t[5]})
	inv[2], inv[5] = -p.X, -p.Y
	return inv
}
