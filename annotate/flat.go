package annotate

import (
	"math"

	"sectionary/slices/geom"
)

// LengthAt returns the distance between two places known in mm and its standard uncertainty, when each was placed to
// within click mm.
func LengthAt(a, b geom.MM, click float64) (mm, sd float64) { return a.Dist(b), click * math.Sqrt2 }

// AngleAt returns the angle at corner between the directions to a and b in radians, 0 to pi, and its standard
// uncertainty, when the three places were placed to within the given mm each. It is NaN where a place lies on the corner.
func AngleAt(a, corner, b geom.MM, clickA, clickCorner, clickB float64) (radians, sd float64) {
	ux, uy, vx, vy := a.X-corner.X, a.Y-corner.Y, b.X-corner.X, b.Y-corner.Y
	u2, v2 := ux*ux+uy*uy, vx*vx+vy*vy
	if u2 == 0 || v2 == 0 {
		return math.NaN(), math.NaN()
	}
	radians = math.Abs(math.Atan2(ux*vy-uy*vx, ux*vx+uy*vy))
	// Each arm turns by a click across it over its length; the corner moves both arms.
	gx, gy := uy/u2-vy/v2, vx/v2-ux/u2 // gradient of the angle with the corner
	return radians, math.Sqrt(clickA*clickA/u2 + clickB*clickB/v2 + clickCorner*clickCorner*(gx*gx+gy*gy))
}

// AreaAt returns area (mm2) and perimeter (mm) of a ring of places known in mm, with their standard uncertainties, when
// each was placed to within click mm.
func AreaAt(ring []geom.MM, click float64) (mm2, areaSD, mm, lengthSD float64) {
	n := len(ring)
	var area, shifts, bends float64
	for i, p := range ring {
		before, next := ring[(i+n-1)%n], ring[(i+1)%n]
		area += ((p.X-ring[0].X)*(next.Y-ring[0].Y) - (next.X-ring[0].X)*(p.Y-ring[0].Y)) / 2
		mm += p.Dist(next)
		chord := click * before.Dist(next) / 2 // moving one corner changes the area by half the chord between its neighbours
		shifts += chord * chord
		ux, uy := unit(p, next)
		vx, vy := unit(p, before)
		bend := click * math.Hypot(ux+vx, uy+vy) // one side grows as the other shrinks: only the bend counts
		bends += bend * bend
	}
	return math.Abs(area), math.Sqrt(shifts), mm, math.Sqrt(bends)
}
