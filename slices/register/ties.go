package register

import (
	"fmt"
	"math"
	"slices"

	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// FaceMap carries pixels of a photograph to mm of its face.
type FaceMap interface{ MM(geom.Px) geom.MM }

// FromTies lays a face on its landmarks: toMM carries pixels to face mm, declared is the way the face is
// said to look (UnknownFacing skips the turned-over check), and scale lets the tissue have shrunk or swelled.
//
// It fails with geom.ErrTooFewPoints below three ties and with geom.ErrDegenerate when they lie on one
// line. With ErrTurnedOver the registration is returned too, for showing, but must not be kept.
func FromTies(series string, toMM FaceMap, ties []Tie, declared section.Facing, scale bool) (Registration, error) {
	r := Registration{Series: series, Method: ByTies, Ties: slices.Clone(ties)}
	scan, weights := make([]geom.LPS, len(ties)), make([]float64, len(ties))
	for i, t := range ties {
		r.Places = append(r.Places, toMM.MM(t.Face))
		scan[i], weights[i] = t.Scan, t.weight()
	}
	var err error
	if r.Pose, r.Fit, err = geom.FitPoseWeighted(r.Places, scan, weights, scale); err != nil {
		return Registration{}, fmt.Errorf("register: %d landmarks: %w", len(ties), err)
	}
	r.LeaveOneOut = leaveOneOut(r.Places, scan, weights, scale)
	return r, turnedOver(r.Pose, declared)
}

// turnedOver fails with ErrTurnedOver and an explanation when the pose shows the face from behind.
func turnedOver(pose geom.Pose, declared section.Facing) error {
	if declared == section.UnknownFacing || !section.TurnedOver(pose, declared) {
		return nil
	}
	return fmt.Errorf("%w: it was declared the %s face but looks %s; the picture may be mirrored, this may be the %s face, or landmarks may be exchanged",
		ErrTurnedOver, declared, section.FacingOf(pose.Outward()), declared.Opposite())
}

// leaveOneOut fits without each tie in turn and measures how far off it then lies; nil below four.
func leaveOneOut(face []geom.MM, scan []geom.LPS, weights []float64, scale bool) Distances {
	if len(face) < 4 {
		return nil
	}
	out := make(Distances, len(face))
	for i := range face {
		f := slices.Delete(slices.Clone(face), i, i+1)
		s := slices.Delete(slices.Clone(scan), i, i+1)
		w := slices.Delete(slices.Clone(weights), i, i+1)
		pose, _, err := geom.FitPoseWeighted(f, s, w, scale)
		if out[i] = math.NaN(); err == nil {
			out[i] = pose.At(face[i]).Dist(scan[i])
		}
	}
	return out
}

// Worst is the index of the tie that lies farthest off: by leave-one-out from four ties on, by residual
// with three. It is -1 without ties.
func (r Registration) Worst() int {
	worst, most := -1, math.Inf(-1)
	for i, d := range r.offs() {
		if d > most {
			worst, most = i, d
		}
	}
	return worst
}

func (r Registration) offs() []float64 {
	if r.LeaveOneOut != nil {
		return r.LeaveOneOut
	}
	return r.Fit.Each
}

// Suspects are the indices of ties whose leave-one-out distance is more than twice the median, worst first.
func (r Registration) Suspects() []int {
	known := slices.DeleteFunc(slices.Clone([]float64(r.LeaveOneOut)), math.IsNaN)
	if len(known) == 0 {
		return nil
	}
	limit := 2 * median(known)
	var out []int
	for i, d := range r.LeaveOneOut {
		if d > limit {
			out = append(out, i)
		}
	}
	slices.SortStableFunc(out, func(a, b int) int {
		if r.LeaveOneOut[a] > r.LeaveOneOut[b] {
			return -1
		}
		return 1
	})
	return out
}

func median(xs []float64) float64 {
	s := slices.Clone(xs)
	slices.Sort(s)
	n := len(s)
	if n%2 == 1 {
		return s[n/2]
	}
	return (s[n/2-1] + s[n/2]) / 2
}

// free reports whether the fit had a free scale: its freedom is then one less than 3n-6.
func (r Registration) free() bool { return r.Fit.Freedom == 3*len(r.Places)-7 }

// PointError estimates the RMS distance in mm by which one landmark was missed (the fiducial
// localisation error; of one that counts 1), from the residuals. NaN below four ties, which always fit too well to tell.
func (r Registration) PointError() float64 {
	if r.Method != ByTies || len(r.Places) < 4 || r.Fit.Freedom <= 0 || len(r.Fit.Each) != len(r.Places) || len(r.Ties) != len(r.Places) {
		return math.NaN()
	}
	var sum float64
	for i, d := range r.Fit.Each {
		sum += r.Ties[i].weight() * d * d
	}
	return math.Sqrt(3 * sum / float64(r.Fit.Freedom))
}

// ErrorAt is the expected RMS error in patient mm at a point of the face, by first-order theory from the
// spread of the ties and their residuals (Fitzpatrick, West and Maurer, IEEE TMI 17:694, 1998). It is NaN where
// the ties cannot say: below four, or when the face was placed by level alone. A refined pose was not fitted to its
// ties, so there the RMS distance at them is the estimate, the same everywhere.
func (r Registration) ErrorAt(p geom.MM) float64 {
	if r.Method == ByRefined && len(r.Fit.Each) >= 4 {
		return r.Fit.RMS
	}
	fle := r.PointError()
	if math.IsNaN(fle) {
		return math.NaN()
	}
	points, weights := make([]geom.Vec, len(r.Places)), make([]float64, len(r.Places))
	for i, q := range r.Places {
		points[i], weights[i] = geom.Vec{X: q.X, Y: q.Y}, r.Ties[i].weight()
	}
	return TargetError(points, weights, geom.Vec{X: p.X, Y: p.Y}, fle, r.free())
}

// WorstEdge returns the point of the border where the expected error is largest, and that error in mm
// (NaN where it cannot be told or the border is empty).
func (r Registration) WorstEdge(border []geom.MM) (at geom.MM, mm float64) {
	mm = math.NaN()
	for _, p := range border {
		if e := r.ErrorAt(p); math.IsNaN(mm) || e > mm {
			at, mm = p, e
		}
	}
	return at, mm
}

// Words are the sentences that must stand beside the pose, most important first.
func (r Registration) Words() []string {
	var out []string
	switch {
	case r.Method == ByLevel:
		out = append(out, "Placed by level alone: tilt and turn are taken as none. Add landmarks to measure them.")
	case r.Method == ByTies && len(r.Ties) == 3:
		out = append(out, "Three points always fit, which proves nothing. Add a fourth to see how far off it is.")
	}
	for _, i := range r.Suspects() {
		out = append(out, fmt.Sprintf("%s lies %.1f mm off when left out, the others about %.1f mm. Check it on both pictures.",
			r.nameOf(i), r.LeaveOneOut[i], median(slices.DeleteFunc(slices.Clone([]float64(r.LeaveOneOut)), math.IsNaN))))
	}
	for i, d := range r.LeaveOneOut {
		if math.IsNaN(d) {
			out = append(out, fmt.Sprintf("%s cannot be checked: the others lie on one line.", r.nameOf(i)))
		}
	}
	return out
}

func (r Registration) nameOf(i int) string {
	if i < len(r.Ties) && r.Ties[i].Note != "" {
		return fmt.Sprintf("Landmark %d (%s)", i+1, r.Ties[i].Note)
	}
	return fmt.Sprintf("Landmark %d", i+1)
}
