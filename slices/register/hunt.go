package register

import (
	"context"
	"fmt"
	"image"
	"math"
	"slices"

	"sectionary/slices/geom"
)

const (
	matchBins   = 64
	priorNats   = 1.0 / 300 // price of one standard deviation: neighbouring pixels tell the same, so far fewer than all count
	leastPixels = 400
	mostSamples = 48 << 20 // of the block, four bytes each
	leastSeen   = 0.3      // share of the face that must lie in the scan
	knotsAcross = 6
	strainMost  = StrainLimit
)

// search holds one refinement: everything is counted from the middle of the face, along the axes of the starting pose.
type search struct {
	Options
	from   geom.Pose // the starting pose with its origin at the middle
	middle geom.MM   // of the pixels that count
	radius float64
	half   float64 // half the width of the face, patient mm
	sd     move
	prior  prior
	faces  []*picture // fine, middle, coarse
	blocks []*block
	likes  float64
	steps  int
	bend   *bend
}

func newSearch(ctx context.Context, from Registration, face *image.Gray, spacing float64, scan Cutter, o Options) (*search, error) {
	s := &search{Options: o, from: from.Pose}
	s.say(0, "reading the picture")
	whole := pictureOf(face, o.Inside, spacing)
	clipped(whole.v, 0.005, 0.995)
	s.faces = s.pyramid(whole, from.Pose.Scale)
	scale := from.Pose.Scale
	trial := newStage(s.faces[1], &block{}, [2]float64{}, 1, 1, matchBins)
	if 4*len(trial.x) < leastPixels {
		return nil, fmt.Errorf("%w: the face covers %d pixels", ErrNothingToSee, 4*len(trial.x))
	}
	x0, x1 := bounds(trial.x)
	y0, y1 := bounds(trial.y)
	s.middle = geom.MM{X: (x0 + x1) / 2, Y: (y0 + y1) / 2}
	for i := range trial.x {
		trial.x[i], trial.y[i] = scale*(trial.x[i]-s.middle.X), scale*(trial.y[i]-s.middle.Y)
	}
	s.radius = radiusOf(trial.x, trial.y)
	s.half = scale * math.Max(x1-x0, y1-y0) / 2
	s.from.Origin = from.Pose.At(geom.MM{X: s.middle.X + o.Corner.X, Y: s.middle.Y + o.Corner.Y})
	s.sd = o.Rough.sd(s.radius)
	s.know(from)

	s.say(0.05, "cutting the scan")
	fine := s.faces[0].step * scale
	b, err := cutBlock(ctx, scan, s.from, s.reach(scale*(x1-x0)/2, scale*(y1-y0)/2, fine), fine)
	if err != nil {
		return nil, err
	}
	b.spreadContrast(10)
	s.blocks = []*block{b, b.halved(), nil}
	s.blocks[2] = s.blocks[1].halved()
	if seen := s.seen(make([]float64, freedoms)); seen < leastSeen {
		return nil, fmt.Errorf("%w: only %.0f %% of the face lies in the scan; give it a better start", ErrNothingToSee, 100*seen)
	}
	return s, nil
}

// pyramid reduces the picture to the finest step wanted, or to the finest one whose block of the scan still fits in
// memory, and twice and four times that.
func (s *search) pyramid(whole *picture, scale float64) []*picture {
	w, h := float64(whole.w)*whole.step*scale/2, float64(whole.h)*whole.step*scale/2
	finest := s.Finest
	if finest <= 0 {
		finest = min(max(2*max(w, h)/320, 0.3), 1)
	}
	n := max(1, int(finest/(whole.step*scale)+0.5))
	s.half, s.radius = max(w, h), math.Hypot(w, h)/2 // good enough to judge the size; told better below
	s.sd = s.Rough.sd(s.radius)
	for {
		step := whole.step * scale * float64(n)
		r := s.reach(w, h, step)
		if 8*r[0]*r[1]*r[2] <= mostSamples*step*step*step || n > max(whole.w, whole.h) {
			break
		}
		n++
	}
	fine := whole.reduced(n)
	return []*picture{fine, fine.reduced(2), fine.reduced(4)}
}

// reach is how far the block must go from the middle along each axis for a face of half width w and half height h.
func (s *search) reach(w, h, step float64) point {
	around := 1.6 * s.sd[shiftX]
	deep := 1.6 * (s.sd[level] + s.sd[pitch]*s.half/s.radius)
	return point{w + around, h + around, math.Max(deep, 8*step)} // layers are left after halving twice
}

// know takes in the landmarks and the spread of the start.
func (s *search) know(from Registration) {
	s.prior = prior{share: priorNats}
	for k, sd := range s.sd {
		s.prior.weight[k] = 1 / (sd * sd)
	}
	fle := from.PointError()
	if math.IsNaN(fle) {
		return
	}
	perAxis := math.Max(fle/math.Sqrt(3), 0.5)
	s.prior.pull = 1 / (perAxis * perAxis)
	n := s.from.Normal()
	for i, p := range from.Places {
		scale := from.Pose.Scale
		s.prior.face = append(s.prior.face, [2]float64{scale * (p.X - s.Corner.X - s.middle.X), scale * (p.Y - s.Corner.Y - s.middle.Y)})
		d := from.Ties[i].Scan.Sub(s.from.Origin)
		s.prior.scan = append(s.prior.scan, point{d.Dot(s.from.X), d.Dot(s.from.Y), d.Dot(n)})
	}
}

// seen is the share of the face that lies in the scan after a move.
func (s *search) seen(m []float64) float64 {
	st := s.stage(2)
	st.sample(m[:freedoms])
	n := 0
	for _, v := range st.values {
		if v == v {
			n++
		}
	}
	return float64(n) / float64(len(st.values))
}

func (s *search) say(share float64, doing string) {
	if s.Advance != nil {
		s.Advance(share, doing)
	}
}

func (s *search) stage(k int) *stage {
	st := newStage(s.faces[k], s.blocks[k], [2]float64{s.middle.X, s.middle.Y}, s.from.Scale, s.radius, matchBins)
	st.prior = s.prior
	return st
}

// run searches from coarse to fine and returns the best move, followed by the knots' when bending.
func (s *search) run(ctx context.Context) ([]float64, error) {
	s.say(0.2, "coarse search")
	starts := s.coarse(ctx)
	s.even(2, starts[0])
	s.say(0.45, "middle search")
	middle := s.descendAll(ctx, s.stage(1), starts[:min(2, len(starts))], 1, 0.01, 30)
	s.even(1, middle[0])
	best := s.descendAll(ctx, s.stage(1), middle[:1], 0.5, 0.01, 15)[0]
	if s.Bend && ctx.Err() == nil {
		s.say(0.6, "bending")
		best = s.unbend(ctx, best)
	}
	s.say(0.8, "fine search")
	fine := s.stage(0)
	if s.bend != nil {
		fine.free(s.bend)
		best = s.polishBent(ctx, fine, best)
	} else {
		best = s.descendAll(ctx, fine, [][]float64{best}, 0.4, 0.004, 25)[0]
	}
	s.likes = fine.likeness(best)
	s.say(1, "done")
	return best, ctx.Err()
}

// coarse looks at places spread evenly over the prior (Halton's sequence), follows the best of them downhill, and returns
// the ends, best first, those that met left out.
func (s *search) coarse(ctx context.Context) [][]float64 {
	st := s.stage(2)
	type try struct {
		m    []float64
		cost float64
	}
	tries := []try{{make([]float64, freedoms), math.Inf(-1)}} // the start itself is always followed
	for i := 1; i <= 160 && ctx.Err() == nil; i++ {
		m := make([]float64, freedoms)
		for k, base := range []int{2, 3, 5, 7, 11, 13} {
			m[k] = 1.4 * s.sd[k] * (2*halton(i, base) - 1)
		}
		tries = append(tries, try{m, st.cost(m, nil)})
	}
	byCost := func(a, b try) int {
		if a.cost < b.cost {
			return -1
		}
		return 1
	}
	slices.SortStableFunc(tries, byCost)
	tries = tries[:min(5, len(tries))]
	for i := range tries {
		c, n := descend(ctx, st.cost, tries[i].m, 4, 0.03, 40)
		tries[i].cost = c
		s.steps += n
	}
	slices.SortStableFunc(tries, byCost)
	var out [][]float64
	for _, t := range tries {
		met := false
		for _, o := range out {
			met = met || distance(o, t.m) < 3
		}
		if !met {
			out = append(out, t.m)
		}
	}
	return out
}

func distance(a, b []float64) float64 {
	var sum float64
	for i := range a {
		sum += (a[i] - b[i]) * (a[i] - b[i])
	}
	return math.Sqrt(sum)
}

// halton is the i-th of numbers that fill 0 to 1 evenly.
func halton(i, base int) (x float64) {
	for f := 1 / float64(base); i > 0; f /= float64(base) {
		x += f * float64(i%base)
		i /= base
	}
	return x
}

// descendAll follows each start downhill and returns the ends, best first.
func (s *search) descendAll(ctx context.Context, st *stage, starts [][]float64, first, tiny float64, most int) [][]float64 {
	costs := make(map[*float64]float64)
	out := make([][]float64, len(starts))
	for i, m := range starts {
		out[i] = slices.Clone(m)
		c, n := descend(ctx, st.cost, out[i], first, tiny, most)
		costs[&out[i][0]] = c
		s.steps += n
	}
	slices.SortStableFunc(out, func(a, b []float64) int {
		if costs[&a[0]] < costs[&b[0]] {
			return -1
		}
		return 1
	})
	return out
}

// even takes the uneven light from the pictures, as seen from move m at resolution k.
func (s *search) even(k int, m []float64) {
	st := s.stage(k)
	st.sample(m)
	light := unevenLight(st.x, st.y, st.photo, st.values, s.half)
	half := s.half / s.from.Scale
	for i, p := range s.faces {
		s.faces[i] = p.evened(light, s.middle.X, s.middle.Y, half)
	}
}

// StrainLimit is the change of length, as a share, beyond which a warp is not taken for sag and stretch.
const StrainLimit = 0.12

// unbend frees the knots with the pose. When the warp comes out stronger than sag can be, bending is made dearer and tried
// again; after that the face stays flat.
func (s *search) unbend(ctx context.Context, best []float64) []float64 {
	st := s.stage(1)
	b, err := newBend(st.x, st.y, knotsAcross)
	if err != nil {
		return best
	}
	st.free(b)
	for range 3 {
		m := append(slices.Clone(best[:freedoms]), make([]float64, 2*len(b.knots))...)
		_, n := descend(ctx, st.cost, m, 1, 0.01, 60)
		s.steps += n
		if w, err := b.warp(m[freedoms:], geom.MM{}, 1); err == nil && strainOver(w, st.x, st.y) <= strainMost {
			s.bend = b
			return m
		}
		b.price.ScaleSym(6, b.price)
	}
	return best
}

func strainOver(w *Warp, x, y []float64) (most float64) {
	for i := 0; i < len(x); i += 1 + len(x)/2000 {
		most = math.Max(most, w.Strain(geom.MM{X: x[i], Y: y[i]}))
	}
	return most
}

// polishBent moves the pose alone at the finest step, the knots held.
func (s *search) polishBent(ctx context.Context, st *stage, m []float64) []float64 {
	out := slices.Clone(m)
	_, n := descendOn(ctx, st.cost, out, []int{shiftX, shiftY, level, pitch, roll, turn, stretch}, 0.4, 0.004, 15)
	s.steps += n
	return out
}
