package photo

import (
	"fmt"
	"math"

	"sectionary/slices/geom"
)

// CarryScale lays the scale of an earlier picture of the same face on a later one, by four pairs of pixels or more that show the same
// points. turned says that one of the two pictures shows the face mirrored. Lengths then spread by what the earlier scale spreads and by
// how well the pairs agree. It fails with ErrNoScale, and as Grid.
func CarryScale(from Calibration, old, now []geom.Px, turned bool) (Calibration, error) {
	if from.Status == Nominal {
		return Calibration{}, ErrNoScale
	}
	if len(old) != len(now) {
		return Calibration{}, fmt.Errorf("photo: carrying a scale: %d pixels for %d", len(now), len(old))
	}
	ties, click := make([]Tie, len(old)), 0.0
	for i, q := range old {
		m := from.MM(q)
		if turned {
			m.X = -m.X
		}
		ties[i] = Tie{Px: now[i], MM: m}
		click = math.Max(click, ClickSpread*from.PixelSize(q))
	}
	c, err := Grid(ties)
	if err != nil {
		return c, err
	}
	c.Status = from.Status // one length stays blind to tilt, whatever it is carried by
	off := math.Max(c.Fit.RMS, math.Hypot(click, ClickSpread*c.PixelSize(now[0])))
	return c.Doubted(Doubt{Why: ByTies, Share: math.Hypot(from.ScaleSpread(centroid(old)), math.Sqrt2*off/extent(ties))}), nil
}

// extent is the longest distance between two ties in mm.
func extent(ties []Tie) (longest float64) {
	for i, a := range ties {
		for _, b := range ties[:i] {
			longest = math.Max(longest, a.MM.Dist(b.MM))
		}
	}
	return longest
}
