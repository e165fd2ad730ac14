package photo

import (
	"fmt"
	"math"

	"sectionary/slices/geom"
)

// CarryScale lays the scale of an earlier picture of the same face on a later one. back carries pixels of the later picture to those of the
// earlier; old and now are the pixels of the points it rests on. turned says that one of the two pictures shows the face mirrored. Lengths then
// spread by what the earlier scale spreads and by how well the points agree. It fails with ErrNoScale, and as Grid.
func CarryScale(from Calibration, back geom.Homography, old, now []geom.Px, turned bool) (Calibration, error) {
	if from.Status == Nominal {
		return Calibration{}, ErrNoScale
	}
	if len(old) != len(now) || len(old) == 0 {
		return Calibration{}, fmt.Errorf("photo: carrying a scale: %d pixels for %d", len(now), len(old))
	}
	at := func(q geom.Px) geom.MM {
		m := from.MM(q)
		if turned {
			m.X = -m.X
		}
		return m
	}
	c, err := Grid(meshOf(now, func(q geom.Px) geom.MM { return at(geom.Px(back.MM(q))) }))
	if err != nil {
		return c, err
	}
	c.Status, c.Ties = from.Status, make([]Tie, len(old)) // one length stays blind to tilt
	off := make([]float64, len(old))
	var spread, click float64
	for i, q := range old {
		c.Ties[i] = Tie{Px: now[i], MM: at(q)}
		off[i] = c.MM(now[i]).Dist(c.Ties[i].MM)
		spread = math.Max(spread, from.ScaleSpread(q))
		click = math.Max(click, ClickSpread*math.Hypot(from.PixelSize(q), c.PixelSize(now[i])))
	}
	c.Fit = geom.ResidualsOf(off, 2*len(old)-6)
	share := math.Hypot(spread, math.Sqrt2*math.Max(c.Fit.RMS, click)/extent(c.Ties))
	return c.Doubted(Doubt{Why: ByTies, Share: share}), nil
}

// meshOf is a mesh of three by three places over the box of some pixels, with where each lies in mm.
func meshOf(px []geom.Px, at func(geom.Px) geom.MM) []Tie {
	lo, hi := px[0], px[0]
	for _, q := range px {
		lo, hi = geom.Px{X: math.Min(lo.X, q.X), Y: math.Min(lo.Y, q.Y)}, geom.Px{X: math.Max(hi.X, q.X), Y: math.Max(hi.Y, q.Y)}
	}
	var out []Tie
	for j := range 3 {
		for i := range 3 {
			q := geom.Px{X: lo.X + (hi.X-lo.X)*float64(i)/2, Y: lo.Y + (hi.Y-lo.Y)*float64(j)/2}
			out = append(out, Tie{q, at(q)})
		}
	}
	return out
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
