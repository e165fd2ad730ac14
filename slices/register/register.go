// Package register finds where a photographed face lies in a scan, and how far off it may be.
package register

import (
	"encoding/json"
	"errors"
	"math"

	"sectionary/slices/geom"
)

var (
	// ErrTurnedOver says that the ties fit only with the face turned over: mirrored picture or wrong face.
	ErrTurnedOver = errors.New("register: the ties fit only with the face turned over")
	// ErrOutOfOrder says that tie levels do not rise together along run and scan.
	ErrOutOfOrder = errors.New("register: tie levels are out of order")
)

// Tie is one landmark found on both: a pixel of the upright photograph and a point of the scan (LPS mm).
type Tie struct {
	Face geom.Px  `json:"face"`
	Scan geom.LPS `json:"scan"`
	Note string   `json:"note,omitempty"`
	// Weight tells how much the tie counts: one over the square of its usual error, up to a common factor; 0 counts as 1.
	Weight float64 `json:"weight,omitempty"`
}

func (t Tie) weight() float64 {
	if t.Weight == 0 {
		return 1
	}
	return t.Weight
}

// Methods by which a face came to its pose.
const (
	ByLevel   = "level"
	ByTies    = "ties"
	ByRefined = "refined"
)

// Registration is the pose of one face in one series with all that is needed to judge and repeat it.
type Registration struct {
	Series string    `json:"series"`
	Pose   geom.Pose `json:"pose"`
	Method string    `json:"method"`
	Ties   []Tie     `json:"ties,omitempty"`
	// Places are the ties on the face in mm, by the calibration that was in force at the fit.
	Places []geom.MM      `json:"places,omitempty"`
	Fit    geom.Residuals `json:"fit"` // patient mm at the ties
	// LeaveOneOut is the distance in mm at each tie when it is left out of the fit; nil below four ties.
	// A tie without which the others lie on one line has NaN: its own fit cannot be checked.
	LeaveOneOut Distances `json:"leaveOneOut,omitempty"`
	Warp        *Warp     `json:"warp,omitempty"`  // within the face, before Pose; nil: none
	Score       float64   `json:"score,omitempty"` // information shared with the scan, nats
	Steps       int       `json:"steps,omitempty"` // taken by the search
	Status      string    `json:"status,omitempty"`
}

// At returns where the face point p lies in the patient, sag undone.
func (r Registration) At(p geom.MM) geom.LPS { return r.Pose.At(r.Warp.At(p)) }

// Find returns the face point whose place is nearest to p and the signed distance of p off the face, in patient mm along
// the pose's Normal; the inverse of At.
func (r Registration) Find(p geom.LPS) (at geom.MM, off float64) {
	foot, off := r.Pose.Project(p)
	return r.Warp.Back(foot), off
}

// Level is one tie level: Run mm from the run's datum is the same place as Scan, mm in LPS along the axis of the cut.
type Level struct {
	Run  float64 `json:"run"`
	Scan float64 `json:"scan"`
}

// Distances are lengths in mm; NaN, which says that a length cannot be told, stands in JSON as null.
type Distances []float64

// MarshalJSON writes NaN and infinities as null, and a nil list as null.
func (d Distances) MarshalJSON() ([]byte, error) {
	if d == nil {
		return []byte("null"), nil
	}
	out := make([]*float64, len(d))
	for i := range d {
		if !math.IsNaN(d[i]) && !math.IsInf(d[i], 0) {
			out[i] = &d[i]
		}
	}
	return json.Marshal(out)
}

// UnmarshalJSON reads null as NaN.
func (d *Distances) UnmarshalJSON(b []byte) error {
	var in []*float64
	if err := json.Unmarshal(b, &in); err != nil {
		return err
	}
	if in == nil {
		*d = nil
		return nil
	}
	*d = make(Distances, len(in))
	for i, x := range in {
		if (*d)[i] = math.NaN(); x != nil {
			(*d)[i] = *x
		}
	}
	return nil
}
