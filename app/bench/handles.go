package bench

import (
	"sectionary/slices/geom"
	"sectionary/slices/ink"
)

// handles draws the points of a ring in the pane, the chosen one large (none: -1). A point grows only into the room its neighbours leave it,
// so that a ring of many points stays a line one can see tissue beside, and comes apart into points as one goes nearer.
func (r brush) handles(ring []geom.Px, chosen int) {
	n := len(ring)
	for k, at := range ring {
		size, c := 3.0, r.pal.OnDark
		if k == chosen {
			size, c = 5, r.pal.ChosenOnDark
		} else if n > 1 {
			room := min(at.Dist(ring[(k+1)%n]), at.Dist(ring[(k+n-1)%n])) / r.u(1)
			size = max(0.6, min(size, room/2-1.2))
		}
		ink.Disc(r.dst, at, r.u(size+1.2), rgb(0x1a1918))
		ink.Disc(r.dst, at, r.u(size), c)
	}
}

// in is the number of the point where p lies on that ring of that region, else -1.
func (p pointRef) in(region, ring int) int {
	if p.region != region || p.ring != ring {
		return -1
	}
	return p.i
}
