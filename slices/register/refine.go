package register

import (
	"context"
	"errors"
	"fmt"
	"image"
	"math"
	"slices"

	"sectionary/slices/geom"
)

// ErrNothingToSee says that a face cannot be fitted by its content: too little of it shows, or it lies off the scan.
var ErrNothingToSee = errors.New("register: too little of the face or the scan to compare")

// Options guide Refine. The zero value is usable: everything counts, usual priors, one mm, no bending.
type Options struct {
	Corner  geom.MM      // face mm of the centre of the first pixel
	Inside  *image.Alpha // which pixels show the body; nil: all
	Finest  float64      // mm of the finest step; 0: 1 mm, less for small faces
	Bend    bool         // also undo sag and stretch in the plane
	Rough   Rough        // how far off the start may be
	Advance func(share float64, doing string)
}

// Rough gives the standard deviations of what Refine starts from, in mm and radians; 0 takes the usual one.
type Rough struct {
	Shift   float64 // within the face; usual 8 mm
	Level   float64 // along the cut; usual 8 mm
	Tilt    float64 // of pitch and of roll; usual 6 degrees
	Turn    float64 // in the plane; usual 5 degrees
	Stretch float64 // share; usual 0.02
}

func (r Rough) sd(radius float64) move {
	or := func(v, usual float64) float64 {
		if v > 0 {
			return v
		}
		return usual
	}
	const degree = math.Pi / 180
	shift, tilt := or(r.Shift, 8), or(r.Tilt, 6*degree)*radius
	return move{shift, shift, or(r.Level, 8), tilt, tilt, or(r.Turn, 5*degree) * radius, or(r.Stretch, 0.02) * radius}
}

// Refine fits a face to a scan by what both show, from a rough pose: pixel (i, j) of face is face mm
// (i, j)*spacing + Corner. Contrast need not agree: mutual information is made large, from coarse to fine and from several
// starts, with shift, level, tilt, turn and stretch free within Options.Rough and held by the landmarks where there
// are four or more; uneven light is undone on the way. With Bend a thin-plate warp follows. The same input gives
// the same answer.
//
// The pose it starts from is returned, with the reason in Status, when the refined one would leave the landmarks worse than their
// own leave-one-out error. It fails with ErrNothingToSee, or with the context's error when that ends.
func Refine(ctx context.Context, from Registration, face *image.Gray, spacing float64, scan Cutter, o Options) (Registration, error) {
	if face == nil || !(spacing > 0) {
		return from, fmt.Errorf("%w: no picture, or no scale", ErrNothingToSee)
	}
	if err := from.Pose.Check(); err != nil {
		return from, fmt.Errorf("register: start: %w", err)
	}
	s, err := newSearch(ctx, from, face, spacing, scan, o)
	if err != nil {
		return from, err
	}
	best, err := s.run(ctx)
	if err != nil {
		return from, err
	}
	return s.conclude(from, best)
}

// pose turns a move into a pose of the whole face.
func (s *search) pose(m []float64) geom.Pose {
	mo := motionOf(move(m[:freedoms]), s.radius)
	n := s.from.Normal()
	along := func(p point) geom.Vec {
		return s.from.X.Mul(p[0]).Add(s.from.Y.Mul(p[1])).Add(n.Mul(p[2]))
	}
	u, v := along(mo.u), along(mo.v)
	p := geom.Pose{X: u.Unit(), Y: v.Unit(), Scale: s.from.Scale * u.Len()}.Squared()
	p.Origin = s.from.Origin.Add(along(mo.t))
	c := geom.MM{X: s.middle.X + s.Corner.X, Y: s.middle.Y + s.Corner.Y}
	p.Origin = p.Origin.Add(p.X.Mul(-p.Scale * c.X)).Add(p.Y.Mul(-p.Scale * c.Y))
	return p
}

// conclude makes the registration and checks it against the landmarks.
func (s *search) conclude(from Registration, best []float64) (Registration, error) {
	r := from
	r.Method, r.Score, r.Steps = ByRefined, s.likes, s.steps
	r.Pose, r.Warp = s.pose(best), nil
	if s.bend != nil {
		w, err := s.bend.warp(best[freedoms:], geom.MM{X: s.middle.X + s.Corner.X, Y: s.middle.Y + s.Corner.Y}, s.from.Scale)
		if err != nil {
			return from, err
		}
		r.Warp = w
	}
	r.Status = fmt.Sprintf("fitted by content in %d steps", s.steps)
	if len(r.Places) == 0 || len(r.Places) != len(r.Ties) {
		return r, nil
	}
	off := make([]float64, len(r.Places))
	for i, p := range r.Places {
		off[i] = r.At(p).Dist(r.Ties[i].Scan)
	}
	r.Fit = geom.ResidualsOf(off, from.Fit.Freedom)
	if limit := tieLimit(from); r.Fit.RMS > limit {
		from.Status = fmt.Sprintf("kept: by content the landmarks would lie %.1f mm off, more than the %.1f mm they miss each other by", r.Fit.RMS, limit)
		return from, nil
	}
	return r, nil
}

// tieLimit is how far off a pose that was not fitted to the landmarks may leave them: their leave-one-out error, which
// was not fitted to them either; with three, the fit and 3 mm.
func tieLimit(from Registration) float64 {
	known := slices.DeleteFunc(slices.Clone([]float64(from.LeaveOneOut)), math.IsNaN)
	if len(known) > 0 {
		return math.Max(rms(known), 0.5)
	}
	return from.Fit.RMS + 3
}

func rms(xs []float64) float64 {
	if len(xs) == 0 {
		return 0
	}
	return norm(xs) / math.Sqrt(float64(len(xs)))
}
