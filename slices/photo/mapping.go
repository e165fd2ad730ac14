package photo

import (
	"math"

	"sectionary/slices/geom"
)

// Mapping carries pixels of the upright photograph to face mm and back: straightened by the lens, where one was measured,
// then through the plane.
type Mapping struct {
	ToMM geom.Homography
	Lens *Lens // nil: none was measured
}

// Map is the way from pixels to mm. It means nothing for a Nominal calibration.
func (c Calibration) Map() Mapping { return Mapping{c.ToMM, c.Lens} }

// straight is p as a lens without distortion would have thrown it, NaN beyond what the lens describes.
func (m Mapping) straight(p geom.Px) geom.Px {
	if m.Lens == nil {
		return p
	}
	if q, ok := m.Lens.Straight(p); ok {
		return q
	}
	return geom.Px{X: math.NaN(), Y: math.NaN()}
}

// MM returns the face point under pixel p, NaN beyond what the lens describes.
func (m Mapping) MM(p geom.Px) geom.MM { return m.ToMM.MM(m.straight(p)) }

// Px returns the pixel that shows face point p, NaN beyond what the lens describes: its model folds back there, and would
// show faraway places within the picture.
func (m Mapping) Px(p geom.MM) geom.Px {
	q := m.ToMM.Px(p)
	if m.Lens == nil {
		return q
	}
	bent := m.Lens.Bent(q)
	if back, ok := m.Lens.Straight(bent); !ok || !(back.Dist(q) < 1e-3) {
		return geom.Px{X: math.NaN(), Y: math.NaN()}
	}
	return bent
}

// Jacobian returns how face mm change with a step of one pixel at p, row-major 2x2.
func (m Mapping) Jacobian(p geom.Px) [4]float64 {
	q := m.straight(p)
	j := m.ToMM.Jacobian(q)
	l := m.Lens
	if l == nil || l.FX == 0 {
		return j
	}
	a, b, d := l.jacobian((q.X-l.CX)/l.FX, (q.Y-l.CY)/l.FY)
	det := a*d - b*b
	// how the straightened pixel changes: the inverse, with the focal lengths back in
	k := [4]float64{d / det, -b / det * l.FX / l.FY, -b / det * l.FY / l.FX, a / det}
	return [4]float64{j[0]*k[0] + j[1]*k[2], j[0]*k[1] + j[1]*k[3], j[2]*k[0] + j[3]*k[2], j[2]*k[1] + j[3]*k[3]}
}

// Equal reports whether both carry every pixel to the same place.
func (m Mapping) Equal(o Mapping) bool {
	if m.ToMM != o.ToMM || (m.Lens == nil) != (o.Lens == nil) {
		return false
	}
	return m.Lens == nil || *m.Lens == *o.Lens
}

// pathPieces is how many pieces the longer side of a picture is cut into where straight lines of the picture are bent on
// the face. At a bend of 10 % in the corner a piece is then off by less than 0.05 px.
const pathPieces = 64

// Path returns the way on the face, in mm, under the straight line in the picture from a to b. Without a lens it is the two
// ends, for a plane keeps lines straight; through one the line is a curve, told by pieces.
func (m Mapping) Path(a, b geom.Px) []geom.MM {
	n := 1
	if m.Lens != nil {
		if side := max(m.Lens.Size.X, m.Lens.Size.Y); side > 0 {
			n = min(max(1, int(math.Ceil(a.Dist(b)*pathPieces/float64(side)))), 4*pathPieces)
		}
	}
	out := make([]geom.MM, n+1)
	for i := range out {
		t := float64(i) / float64(n)
		out[i] = m.MM(geom.Px{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y)})
	}
	return out
}
