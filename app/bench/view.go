package bench

import (
	"math"

	"sectionary/slices/geom"
)

// Viewport is the one map between pixels of an upright original and device pixels of a pane: first Turns quarters
// clockwise, then a left-right mirror, then Zoom device pixels for each picture pixel about Centre, which shows in
// the middle of the window at (X, Y), W wide and H high. Turns and mirror are exact, so points come back where they were.
type Viewport struct {
	X, Y, W, H int
	Centre     geom.Px
	Zoom       float64
	Turns      int
	Mirror     bool
}

// linear is the turn and mirror as a matrix of zeros and ones, row-major 2x2.
func (v Viewport) linear() (m [4]float64) {
	m = [4]float64{1, 0, 0, 1}
	for range v.Turns & 3 {
		m = [4]float64{-m[2], -m[3], m[0], m[1]} // one quarter clockwise: right becomes down, down becomes left
	}
	if v.Mirror {
		m[0], m[1] = -m[0], -m[1]
	}
	return m
}

// middle is the device point that shows Centre.
func (v Viewport) middle() geom.Px {
	return geom.Px{X: float64(v.X) + float64(v.W-1)/2, Y: float64(v.Y) + float64(v.H-1)/2}
}

// Forward is the whole map from picture to device pixels, row-major 2x3.
func (v Viewport) Forward() [6]float64 {
	l, c, z := v.linear(), v.middle(), v.Zoom
	a := [6]float64{z * l[0], z * l[1], 0, z * l[2], z * l[3], 0}
	a[2] = c.X - a[0]*v.Centre.X - a[1]*v.Centre.Y
	a[5] = c.Y - a[3]*v.Centre.X - a[4]*v.Centre.Y
	return a
}

// Inverse is the whole map from device to picture pixels, row-major 2x3.
func (v Viewport) Inverse() [6]float64 {
	l, c, z := v.linear(), v.middle(), 1/v.Zoom
	a := [6]float64{z * l[0], z * l[2], 0, z * l[1], z * l[3], 0} // the transpose turns and mirrors back
	a[2] = v.Centre.X - a[0]*c.X - a[1]*c.Y
	a[5] = v.Centre.Y - a[3]*c.X - a[4]*c.Y
	return a
}

// Device returns where picture pixel p shows.
func (v Viewport) Device(p geom.Px) geom.Px {
	l, c := v.linear(), v.middle()
	x, y := p.X-v.Centre.X, p.Y-v.Centre.Y
	return geom.Px{X: c.X + v.Zoom*(l[0]*x+l[1]*y), Y: c.Y + v.Zoom*(l[2]*x+l[3]*y)}
}

// devices returns where a line or ring of picture pixels shows.
func (v Viewport) devices(line []geom.Px) []geom.Px {
	out := make([]geom.Px, len(line))
	for i, p := range line {
		out[i] = v.Device(p)
	}
	return out
}

// Picture returns the picture pixel under device point d; the inverse of Device.
func (v Viewport) Picture(d geom.Px) geom.Px {
	l, c := v.linear(), v.middle()
	x, y := (d.X-c.X)/v.Zoom, (d.Y-c.Y)/v.Zoom
	return geom.Px{X: v.Centre.X + l[0]*x + l[2]*y, Y: v.Centre.Y + l[1]*x + l[3]*y}
}

// Fit returns v showing a w x h picture whole.
func (v Viewport) Fit(w, h float64) Viewport {
	v.Centre = geom.Px{X: (w - 1) / 2, Y: (h - 1) / 2}
	if v.Turns&1 == 1 {
		w, h = h, w
	}
	if v.Zoom = math.Min(float64(v.W)/w, float64(v.H)/h); !(v.Zoom > 0) || math.IsInf(v.Zoom, 0) {
		v.Zoom = 1
	}
	return v
}

// ZoomAt returns v nearer by factor, with the picture under d staying there. Zoom stays between least and most.
func (v Viewport) ZoomAt(d geom.Px, factor, least, most float64) Viewport {
	hold := v.Picture(d)
	v.Zoom = math.Min(math.Max(v.Zoom*factor, least), most)
	now := v.Picture(d)
	v.Centre.X += hold.X - now.X
	v.Centre.Y += hold.Y - now.Y
	return v
}

// Pan returns v with the picture moved by that many device pixels.
func (v Viewport) Pan(dx, dy float64) Viewport {
	c := v.middle()
	v.Centre = v.Picture(geom.Px{X: c.X - dx, Y: c.Y - dy})
	return v
}

// Within returns v with Centre kept on a w x h picture, so that it can never be lost.
func (v Viewport) Within(w, h float64) Viewport {
	v.Centre.X = math.Min(math.Max(v.Centre.X, 0), math.Max(0, w-1))
	v.Centre.Y = math.Min(math.Max(v.Centre.Y, 0), math.Max(0, h-1))
	return v
}

// Within would break the promise of ZoomAt at the very edge; callers use it after panning only.

// honest turns a view of the honest face into a view of its photograph: when the photograph shows the face mirrored,
// it is mirrored back first, which is the same as turning the other way and mirroring once more after.
func honest(turns int, mirror, photoMirrored bool) (int, bool) {
	if !photoMirrored {
		return turns & 3, mirror
	}
	return -turns & 3, !mirror
}
