package bench

import (
	"image"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
)

// paintScan draws the cut of the scan into dst where the face would be, at the same place and scale; it reports whether
// it could.
func (f *facePane) paintScan(dst *image.RGBA, d *faceDoc) bool {
	b := f.b
	pose, _, ok := b.cutPose()
	v, linked := b.mmView(d, f.in)
	if !ok || !linked || b.screen != PairingScreen || b.pair.volume == nil {
		return false
	}
	f.scan.paintBent(dst, b.pair.volume, pose, v, b.pair.window, rgb(0x1b1a19), b.ontoCut(d, v, b.bentHere()))
	return true
}

// lensRadius is that of the lens in units.
const lensRadius = 120

// paintLens shows, while Space is held, the scan in a round lens about the pointer.
func (f *facePane) paintLens(r brush, d *faceDoc) {
	if !f.b.held["Space"] || f.here == nil {
		return
	}
	radius := r.u(lensRadius)
	c := *f.here
	box := image.Rect(round(c.X-radius), round(c.Y-radius), round(c.X+radius)+1, round(c.Y+radius)+1).Intersect(f.in)
	if box.Empty() {
		return
	}
	lens := image.NewRGBA(box)
	if !f.paintScan(lens, d) {
		return
	}
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			if c.Dist(geom.Px{X: float64(x), Y: float64(y)}) <= radius {
				copy(f.part.Pix[f.part.PixOffset(x, y):][:4], lens.Pix[lens.PixOffset(x, y):][:4])
			}
		}
	}
	ink.Ring(&f.part, c, radius, r.u(3), rgb(0x141312))
	ink.Ring(&f.part, c, radius, r.u(1.4), r.pal.ChosenOnDark)
}
