package photo

import (
	"image"

	"sectionary/slices/geom"
)

// turn is one of the eight EXIF orientations. toStored maps an upright pixel to where it is stored: x is
// X0 + XX*x + XY*y, likewise y, where X0 and Y0 stand at the far edge when far is set.
type turn struct {
	xx, xy, yx, yy int
	farX, farY     bool
	mirrored       bool
}

// turns is indexed by the EXIF value (Exif 2.32, tag 0112); 0 stands for none.
var turns = [9]turn{
	0: {xx: 1, yy: 1},
	1: {xx: 1, yy: 1},
	2: {xx: -1, yy: 1, farX: true, mirrored: true},
	3: {xx: -1, yy: -1, farX: true, farY: true},
	4: {xx: 1, yy: -1, farY: true, mirrored: true},
	5: {xy: 1, yx: 1, mirrored: true},
	6: {xy: 1, yx: -1, farY: true},
	7: {xy: -1, yx: -1, farX: true, farY: true, mirrored: true},
	8: {xy: -1, yx: 1, farX: true},
}

// upright is the size after the turn.
func (t turn) upright(stored image.Point) image.Point {
	if t.xx == 0 {
		return image.Pt(stored.Y, stored.X)
	}
	return stored
}

// toStored is the row-major 2x3 map from upright pixel centres to stored ones.
func (t turn) toStored(stored image.Point) [6]float64 {
	m := [6]float64{float64(t.xx), float64(t.xy), 0, float64(t.yx), float64(t.yy), 0}
	if t.farX {
		m[2] = float64(stored.X - 1)
	}
	if t.farY {
		m[5] = float64(stored.Y - 1)
	}
	return m
}

// apply maps p by the row-major 2x3 matrix m.
func apply(m [6]float64, p geom.Px) geom.Px {
	return geom.Px{X: m[0]*p.X + m[1]*p.Y + m[2], Y: m[3]*p.X + m[4]*p.Y + m[5]}
}

// after returns the map that does n first and m then.
func after(m, n [6]float64) [6]float64 {
	return [6]float64{
		m[0]*n[0] + m[1]*n[3], m[0]*n[1] + m[1]*n[4], m[0]*n[2] + m[1]*n[5] + m[2],
		m[3]*n[0] + m[4]*n[3], m[3]*n[1] + m[4]*n[4], m[3]*n[2] + m[4]*n[5] + m[5],
	}
}
