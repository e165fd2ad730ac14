package register

import (
	"context"
	"fmt"
	"image"
	"math"
	"slices"

	"sectionary/slices/geom"
)

// Likeness tells for each level how much a face shares with the cut of the scan there, in nats: square is a pose of the
// face at level 0, levels are mm along its normal. At every level shift, turn and stretch are fitted coarsely;
// tilt is not. Pixel (i, j) of face is face mm (i, j)*spacing + o.Corner. Errors as Refine.
func Likeness(ctx context.Context, face *image.Gray, spacing float64, square geom.Pose, levels []float64, scan Cutter, o Options) ([]float64, error) {
	if face == nil || !(spacing > 0) {
		return nil, fmt.Errorf("%w: no picture, or no scale", ErrNothingToSee)
	}
	if err := square.Check(); err != nil {
		return nil, fmt.Errorf("register: start: %w", err)
	}
	p := pictureOf(face, o.Inside, spacing)
	clipped(p.v, 0.005, 0.995)
	long := spacing * float64(max(p.w, p.h))
	p = p.reduced(max(1, int(math.Round(long/160/spacing)))) // about 160 pixels across
	s := newStage(p, &block{}, [2]float64{}, 1, 1, matchBins/2)
	if len(s.x) < leastPixels {
		return nil, fmt.Errorf("%w: the face covers %d coarse pixels", ErrNothingToSee, len(s.x))
	}
	x0, x1 := bounds(s.x)
	y0, y1 := bounds(s.y)
	middle := geom.MM{X: (x0 + x1) / 2, Y: (y0 + y1) / 2}
	for i := range s.x {
		s.x[i], s.y[i] = square.Scale*(s.x[i]-middle.X), square.Scale*(s.y[i]-middle.Y)
	}
	s.radius = radiusOf(s.x, s.y)
	sd := o.Rough.sd(s.radius)
	s.prior = prior{share: priorNats}
	for k := range sd {
		s.prior.weight[k] = 1 / (sd[k] * sd[k])
	}
	start := square
	start.Origin = square.At(geom.MM{X: middle.X + o.Corner.X, Y: middle.Y + o.Corner.Y})
	wide := point{square.Scale*(x1-x0)/2 + 2*sd[shiftX], square.Scale*(y1-y0)/2 + 2*sd[shiftY], p.step}
	out := make([]float64, len(levels))
	for i, l := range levels {
		b, err := cutBlock(ctx, scan, start.Shift(start.Normal().Mul(l)), wide, p.step*square.Scale)
		if err != nil {
			return nil, err
		}
		b.spreadContrast(p.step)
		out[i] = s.flatLikeness(ctx, b)
		if o.Advance != nil {
			o.Advance(float64(i+1)/float64(len(levels)), "comparing levels")
		}
	}
	return out, ctx.Err()
}

// flatLikeness fits shift, turn and stretch to one thin block and returns the likeness there.
func (s *stage) flatLikeness(ctx context.Context, b *block) float64 {
	s.block = b
	s.like.lo, s.like.hi = spanOf(b.v)
	if !(s.like.hi > s.like.lo) {
		return 0
	}
	m := make([]float64, freedoms)
	descendOn(ctx, s.cost, m, []int{shiftX, shiftY, turn, stretch}, 4, 0.05, 25)
	return s.likeness(m)
}

// descendOn is descend with only the numbers named in free; the others stay.
func descendOn(ctx context.Context, f goal, m []float64, free []int, first, tiny float64, most int) (value float64, steps int) {
	all, slope := slices.Clone(m), make([]float64, len(m))
	part := make([]float64, len(free))
	for i, k := range free {
		part[i] = m[k]
	}
	value, steps = descend(ctx, func(p, grad []float64) float64 {
		for i, k := range free {
			all[k] = p[i]
		}
		if grad == nil {
			return f(all, nil)
		}
		v := f(all, slope)
		for i, k := range free {
			grad[i] = slope[k]
		}
		return v
	}, part, first, tiny, most)
	for i, k := range free {
		m[k] = part[i]
	}
	return value, steps
}

// Candidate is a level where a face may belong.
type Candidate struct {
	Level    float64 `json:"level"` // mm, as the levels given
	Likeness float64 `json:"likeness"`
	Words    string  `json:"words"`
}

// Candidates ranks the peaks of likeness over levels (rising), best first, no two nearer than apart mm. The place of a peak is
// read off the likeness on both its sides.
func Candidates(levels, likeness []float64, apart float64) []Candidate {
	if len(levels) != len(likeness) || len(levels) == 0 {
		return nil
	}
	order := make([]int, len(levels))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		if likeness[a] > likeness[b] {
			return -1
		}
		return 1
	})
	sorted := slices.Clone(likeness)
	slices.Sort(sorted)
	usual := sorted[len(sorted)/2]
	var out []Candidate
	for _, i := range order {
		at := vertex(levels, likeness, i)
		if slices.ContainsFunc(out, func(c Candidate) bool { return math.Abs(c.Level-at) < apart }) || likeness[i] <= usual && len(out) > 0 {
			continue
		}
		out = append(out, Candidate{Level: at, Likeness: likeness[i]})
	}
	for i := range out {
		out[i].Words = fmt.Sprintf("shares %.2f with the cut here, %.2f with the usual one", out[i].Likeness, usual)
		if i > 0 {
			out[i].Words += fmt.Sprintf("; the best place shares %.2f", out[0].Likeness)
		}
	}
	return out
}

// vertex is where likeness round i is best told by falling evenly on both sides: of all places between the neighbours of i the one
// whose tent, like the square root of the distance, leaves the least residue over up to three levels on each side.
func vertex(levels, likeness []float64, i int) float64 {
	lo, hi := max(0, i-3), min(len(levels)-1, i+3)
	left, right := levels[max(0, i-1)], levels[min(len(levels)-1, i+1)]
	if hi-lo < 2 || left == right {
		return levels[i]
	}
	best, least := levels[i], math.Inf(1)
	const steps = 200
	for k := range steps + 1 {
		at := left + (right-left)*float64(k)/steps
		var n, sx, sy, sxx, sxy, syy float64
		for j := lo; j <= hi; j++ {
			x, y := math.Sqrt(math.Abs(levels[j]-at)), likeness[j]
			n, sx, sy, sxx, sxy, syy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y, syy+y*y
		}
		vx, vxy, vy := sxx-sx*sx/n, sxy-sx*sy/n, syy-sy*sy/n
		if vxy < 0 && vx > 0 {
			if rest := vy - vxy*vxy/vx; rest < least {
				best, least = at, rest
			}
		}
	}
	return best
}
