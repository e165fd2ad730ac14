package practice

import (
	"math"

	"sectionary/slices/geom"
)

// stand is the camera over the table: it looks almost straight down, turned and tilted a little, so that
// scale wants four corners. Face mm (0, 0) lies near the middle of the picture.
type stand struct {
	w, h int // px
	// toPx carries table mm to picture px; toMM back.
	toPx, toMM geom.Homography
}

const (
	cameraHeight = 1100.0 // mm from lens to face
	pxPerMM      = 4.0
)

// newStand sees a table of w x h mm with its middle shifted by off.
func newStand(w, h float64, off geom.MM, n noise) stand {
	s := stand{w: int(w * pxPerMM), h: int(h * pxPerMM)}
	turn := 1.3 * degree * n.bell(1, 0, 7)
	tiltX, tiltY := 0.8*degree*n.bell(2, 0, 7), 0.8*degree*n.bell(3, 0, 7)
	// A pinhole of focal length f px over a plane: rows of the rotation, third column the camera's distance.
	r := rotation(geom.Vec{Z: 1}, turn).then(rotation(geom.Vec{X: 1}, tiltX).then(rotation(geom.Vec{Y: 1}, tiltY)))
	ex, ey := r.of(geom.Vec{X: 1}), r.of(geom.Vec{Y: 1})
	f := cameraHeight * pxPerMM
	cx, cy := float64(s.w-1)/2, float64(s.h-1)/2
	k := func(v geom.Vec) geom.Vec { return geom.Vec{X: f*v.X + cx*v.Z, Y: f*v.Y + cy*v.Z, Z: v.Z} }
	a, b := k(ex), k(ey)
	t := k(ex.Mul(-off.X).Add(ey.Mul(-off.Y)).Add(geom.Vec{Z: cameraHeight}))
	s.toPx = geom.Homography{a.X, b.X, t.X, a.Y, b.Y, t.Y, a.Z, b.Z, t.Z}
	for i := range s.toPx {
		s.toPx[i] /= t.Z
	}
	s.toMM = s.toPx.Inverse()
	return s
}

// px and mm read the maps by their own names: a homography runs from pixels to mm, toPx the other way.
func (s stand) px(m geom.MM) geom.Px {
	p := s.toPx.MM(geom.Px(m))
	return geom.Px(p)
}

func (s stand) mm(p geom.Px) geom.MM { return s.toMM.MM(p) }

// sag is how the slab spreads on the table: a little wider across, a little shorter down, more toward the edge.
type sag struct{ across, down float64 }

// out moves a true face point to where it lies on the table; in moves it back.
func (s sag) out(p geom.MM) geom.MM { return geom.MM{X: p.X * (1 + s.across), Y: p.Y * (1 + s.down)} }
func (s sag) in(p geom.MM) geom.MM  { return geom.MM{X: p.X / (1 + s.across), Y: p.Y / (1 + s.down)} }

func clamp(x, lo, hi float64) float64 { return math.Max(lo, math.Min(hi, x)) }
