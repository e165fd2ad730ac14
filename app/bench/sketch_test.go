package bench

import (
	"image"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// The small body hides neither a tick of the scale nor what the pointer is over.
func TestSketchStepsAside(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	dst := image.NewRGBA(image.Rect(0, 0, 900, 700))
	middle := func() geom.Px {
		f.Paint(dst)
		c := f.small.Min.Add(f.small.Max).Div(2)
		return geom.Px{X: float64(c.X), Y: float64(c.Y)}
	}
	left := middle()
	if left.X > 450 {
		t.Fatalf("the small body stands at %v without a reason", left)
	}
	painted := dst.RGBAAt(int(left.X), int(left.Y))
	f.Hover(left)
	f.Paint(dst)
	if dst.RGBAAt(int(left.X), int(left.Y)) == painted {
		t.Error("the small body hides what the pointer is over")
	}
	f.Leave()

	p := b.doc.plate()
	tick := b.doc.view.Picture(left)
	p.Calibration.Ties = append(p.Calibration.Ties, photo.Tie{Px: tick})
	b.doc.hist.Do("test", "", p)
	if at := middle(); at.X < 450 {
		t.Errorf("the small body at %v hides a tick of the scale at %v", at, left)
	}
}
