package photo

import (
	"math"
	"slices"
)

// Doubt is a reason why all lengths of a face may be off together, beside the ticks and the length of the scale: Share is
// the relative standard uncertainty that it adds.
type Doubt struct {
	Why   string  `json:"why"` // HeightUnknown, CarriedOver or ByTies
	Share float64 `json:"share"`
	From  string  `json:"from,omitempty"`  // the face that the scale was set on
	Stand string  `json:"stand,omitempty"` // the stand that both were photographed on
}

// Reasons of doubt.
const (
	HeightUnknown = "height"
	CarriedOver   = "carried"
	ByTies        = "ties" // the scale of an earlier picture of the same face, by points that both show
)

// Common practice, no source: figures a lab may expect where nobody measured.
const (
	usualCamera = 1000.0 // mm from camera to face
	usualDrop   = 25.0   // mm at most that a scale on the tray lies below the face of a slab
	lowCamera   = 500.0  // mm, of a low stand
	Nudge       = 5.0    // mm that the distance from camera to face may differ from picture to picture of a stand: slabs are not equally thick, and a column slips
)

// HeightShare is the relative standard uncertainty of lengths by a scale off the face that was not corrected: drop mm below it under a
// camera camera mm above it, each 0 where nobody knows. An unknown depth lies anywhere between none and a usual slab's (GUM, JCGM
// 100:2008, 4.3.7: a rectangular distribution, about none, which is what was assumed).
func HeightShare(drop, camera float64) float64 {
	if !(camera > 0) {
		camera = usualCamera
	}
	if drop == 0 {
		return usualDrop / math.Sqrt(3) / camera
	}
	return math.Abs(drop) / camera
}

// CarriedShare is the relative standard uncertainty of lengths by a scale that was set on another picture of the same stand, its
// camera camera mm above the face, 0 where that is not known.
func CarriedShare(camera float64) float64 {
	if !(camera > 0) {
		camera = lowCamera
	}
	return Nudge / camera
}

// Doubted returns c with a doubt, in place of an earlier one for the same reason; a share of 0 takes that one away.
func (c Calibration) Doubted(d Doubt) Calibration {
	c.Doubts = slices.DeleteFunc(slices.Clone(c.Doubts), func(x Doubt) bool { return x.Why == d.Why })
	if d.Share > 0 {
		c.Doubts = append(c.Doubts, d)
	}
	return c
}

// doubt is the relative standard uncertainty of all doubts together.
func (c Calibration) doubt() float64 {
	var sum float64
	for _, d := range c.Doubts {
		sum += d.Share * d.Share
	}
	return math.Sqrt(sum)
}

// CarriedFrom is the doubt of a scale carried over from another face; ok is false for one set on the picture itself.
func (c Calibration) CarriedFrom() (d Doubt, ok bool) {
	for _, d := range c.Doubts {
		if d.Why == CarriedOver {
			return d, true
		}
	}
	return Doubt{}, false
}
