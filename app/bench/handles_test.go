package bench

import (
	"image"
	"testing"

	"sectionary/slices/geom"
)

// Points that crowd a ring leave the tissue beside it in sight; with room each is as large as points of outlines are, and the chosen one
// is larger than all. Distances are in pixels at scale 1.
func TestHandlesGrowIntoTheirRoom(t *testing.T) {
	b, _ := newLab(t)
	reach := func(ring []geom.Px, chosen int) (px int) { // how far above the middle point paint reaches
		dst := image.NewRGBA(image.Rect(0, 0, 200, 40))
		b.brush(dst, 1).handles(ring, chosen)
		at := ring[len(ring)/2]
		for y := int(at.Y); y >= 0 && dst.RGBAAt(int(at.X), y).A > 127; y-- {
			px++
		}
		return px
	}
	row := func(step float64) (ring []geom.Px) {
		for i := range 5 {
			ring = append(ring, geom.Px{X: 100 + float64(i-2)*step, Y: 30})
		}
		return ring
	}
	crowded, free, chosen := reach(row(3), -1), reach(row(40), -1), reach(row(3), 2)
	if !(crowded >= 1 && crowded <= 2 && free >= 4 && free <= 5 && chosen >= 6) {
		t.Errorf("crowded %d px, with room %d px, chosen %d px", crowded, free, chosen)
	}
}
