// Package register finds where a photographed face lies in a scan, and how far off it may be.
package register

import (
	"errors"

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
}

// Methods by which a face came to its pose.
const (
	ByLevel   = "level"
	ByTies    = "ties"
	ByRefined = "refined"
)

// Registration is the pose of one face in one series with all that is needed to judge and repeat it.
type Registration struct {
	Series string         `json:"series"`
	Pose   geom.Pose      `json:"pose"`
	Method string         `json:"method"`
	Ties   []Tie          `json:"ties,omitempty"`
	Fit    geom.Residuals `json:"fit"` // patient mm at the ties
	// LeaveOneOut is the distance in mm at each tie when it is left out of the fit; nil below four ties.
	LeaveOneOut []float64 `json:"leaveOneOut,omitempty"`
	Score       float64   `json:"score,omitempty"`
	Status      string    `json:"status,omitempty"`
}

// Level is one tie level: Run mm from the run's datum is the same place as Scan, mm in LPS along the axis of the cut.
type Level struct {
	Run  float64 `json:"run"`
	Scan float64 `json:"scan"`
}
