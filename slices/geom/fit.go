package geom

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

var (
	// ErrTooFewPoints says that a fit needs more pairs than it was given.
	ErrTooFewPoints = errors.New("geom: too few points")
	// ErrDegenerate says that the points or axes do not fix the answer: all on a line, or all the same.
	ErrDegenerate = errors.New("geom: points do not fix the answer")
)

// Residuals tells how well a fit met its targets, in the units of the target. Freedom counts the
// measured numbers beyond those fitted; at 0 the fit proves nothing.
type Residuals struct {
	RMS     float64   `json:"rms"`
	Max     float64   `json:"max"`
	Each    []float64 `json:"each"`
	Freedom int       `json:"freedom"`
}

// ResidualsOf sums up the distance left at each target, in their units, of a fit with that freedom.
func ResidualsOf(each []float64, freedom int) Residuals {
	r := Residuals{Each: each, Freedom: freedom}
	var sum float64
	for _, d := range each {
		sum += d * d
		r.Max = math.Max(r.Max, d)
	}
	if len(each) > 0 {
		r.RMS = math.Sqrt(sum / float64(len(each)))
	}
	return r
}

// Similarity maps v to Scale*R*v + T; R is a proper rotation, row-major 3x3.
type Similarity struct {
	Scale float64
	R     [9]float64
	T     Vec
}

// At maps v.
func (s Similarity) At(v Vec) Vec { return s.Turn(v).Mul(s.Scale).Add(s.T) }

// Turn rotates v without scale or shift.
func (s Similarity) Turn(v Vec) Vec {
	r := s.R
	return Vec{
		r[0]*v.X + r[1]*v.Y + r[2]*v.Z,
		r[3]*v.X + r[4]*v.Y + r[5]*v.Z,
		r[6]*v.X + r[7]*v.Y + r[8]*v.Z,
	}
}

// FitSimilarity finds the rotation, shift and (when free) scale that carry from onto to with the least
// weighted sum of squares; a nil weights counts every pair alike. A mirror image is never returned
// (Umeyama, IEEE PAMI 13:376, 1991). Residuals are unweighted distances in the units of to. It fails with
// ErrTooFewPoints below three pairs and with ErrDegenerate when the points of from lie on one line.
func FitSimilarity(from, to []Vec, weights []float64, free bool) (Similarity, Residuals, error) {
	if len(from) != len(to) || (weights != nil && len(weights) != len(from)) {
		return Similarity{}, Residuals{}, fmt.Errorf("geom: %d points for %d targets", len(from), len(to))
	}
	if len(from) < 3 {
		return Similarity{}, Residuals{}, fmt.Errorf("%w: a pose needs 3 pairs, got %d", ErrTooFewPoints, len(from))
	}
	m, err := momentsOf(from, to, weights)
	if err != nil {
		return Similarity{}, Residuals{}, err
	}
	var svd mat.SVD
	if !svd.Factorize(m.cross, mat.SVDFull) {
		return Similarity{}, Residuals{}, ErrDegenerate
	}
	s := svd.Values(nil)
	if s[0] == 0 || s[1] < 1e-9*s[0] || m.collinear() {
		return Similarity{}, Residuals{}, ErrDegenerate
	}
	var u, v, r mat.Dense
	svd.UTo(&u)
	svd.VTo(&v)
	sign := 1.0
	if mat.Det(&u)*mat.Det(&v) < 0 {
		sign = -1
	}
	r.Product(&u, mat.NewDiagDense(3, []float64{1, 1, sign}), v.T())
	fit := Similarity{Scale: 1}
	for i := range 9 {
		fit.R[i] = r.At(i/3, i%3)
	}
	if free {
		fit.Scale = (s[0] + s[1] + sign*s[2]) / m.spread
		if fit.Scale <= 0 || !finite(fit.Scale) {
			return Similarity{}, Residuals{}, ErrDegenerate
		}
	}
	fit.T = m.meanTo.Sub(fit.Turn(m.meanFrom).Mul(fit.Scale))
	freedom := 3*len(from) - 6
	if free {
		freedom--
	}
	off := make([]float64, len(from))
	for i := range from {
		off[i] = fit.At(from[i]).Sub(to[i]).Len()
	}
	return fit, ResidualsOf(off, freedom), nil
}

type moments struct {
	meanFrom, meanTo Vec
	spread           float64    // weighted mean square distance of from to its mean
	cross            *mat.Dense // covariance of to (rows) with from (columns)
	own              *mat.SymDense
}

func momentsOf(from, to []Vec, weights []float64) (moments, error) {
	weight := func(i int) float64 {
		if weights == nil {
			return 1
		}
		return weights[i]
	}
	var m moments
	var total float64
	for i := range from {
		w := weight(i)
		if w < 0 || !finite(w) || !from[i].Finite() || !to[i].Finite() {
			return m, fmt.Errorf("geom: pair %d holds a number that cannot be used", i+1)
		}
		total += w
		m.meanFrom, m.meanTo = m.meanFrom.Add(from[i].Mul(w)), m.meanTo.Add(to[i].Mul(w))
	}
	if total == 0 {
		return m, ErrDegenerate
	}
	m.meanFrom, m.meanTo = m.meanFrom.Mul(1/total), m.meanTo.Mul(1/total)
	m.cross, m.own = mat.NewDense(3, 3, nil), mat.NewSymDense(3, nil)
	for i := range from {
		w := weight(i) / total
		f, t := from[i].Sub(m.meanFrom), to[i].Sub(m.meanTo)
		m.spread += w * f.Dot(f)
		fs, ts := [3]float64{f.X, f.Y, f.Z}, [3]float64{t.X, t.Y, t.Z}
		for r := range 3 {
			for c := range 3 {
				m.cross.Set(r, c, m.cross.At(r, c)+w*ts[r]*fs[c])
				if c >= r {
					m.own.SetSym(r, c, m.own.At(r, c)+w*fs[r]*fs[c])
				}
			}
		}
	}
	return m, nil
}

func (m moments) collinear() bool {
	var eig mat.EigenSym
	if !eig.Factorize(m.own, false) {
		return true
	}
	e := eig.Values(nil) // ascending
	return e[1] < 1e-9*e[2]
}

// FitPose lays the flat points of a face on points of the patient. With free the face may also grow or
// shrink by one factor; without it Scale is 1. Residuals are patient mm. Errors as FitSimilarity.
//
// A mirrored photograph of a flat face fits as well as an honest one and only turns the outward normal
// over, so the caller must compare Pose.Outward with the declared face and never trust the residual alone.
func FitPose(face []MM, patient []LPS, free bool) (Pose, Residuals, error) {
	return FitPoseWeighted(face, patient, nil, free)
}

// FitPoseWeighted is FitPose with a weight of zero or more for each pair.
func FitPoseWeighted(face []MM, patient []LPS, weights []float64, free bool) (Pose, Residuals, error) {
	from, to := make([]Vec, len(face)), make([]Vec, len(patient))
	for i, p := range face {
		from[i] = Vec{p.X, p.Y, 0}
	}
	for i, p := range patient {
		to[i] = Vec(p)
	}
	s, res, err := FitSimilarity(from, to, weights, free)
	if err != nil {
		return Pose{}, Residuals{}, err
	}
	return Pose{Origin: LPS(s.T), X: s.Turn(Vec{X: 1}), Y: s.Turn(Vec{Y: 1}), Scale: s.Scale}, res, nil
}
