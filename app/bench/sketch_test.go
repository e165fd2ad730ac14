package bench

import (
	"image"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
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

// The number of a landmark at the rim of the picture stands inside the frame, and the small body hides no landmark.
func TestTagsStayInsideTheFrame(t *testing.T) {
	b, _, _, f, _ := onPairing(t)
	dst := image.NewRGBA(image.Rect(0, 0, 700, 560))
	f.Paint(dst)
	rim := geom.Px{X: float64(f.in.Max.X - 6), Y: float64(f.in.Max.Y - 6)}
	r := b.brush(dst, 1).on(&f.part)
	before := *dst
	before.Pix = append([]uint8(nil), dst.Pix...)
	r.tag(rim, "12", b.pal.OnDark)
	changed := image.Rectangle{}
	for y := range 560 {
		for x := range 700 {
			if dst.RGBAAt(x, y) != before.RGBAAt(x, y) {
				changed = changed.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	if w, h := r.plateSize("12"); changed.Dx() < w-2 || changed.Dy() < h-2 || !changed.In(f.in) {
		t.Errorf("the plate of %d x %d is seen as %v in %v", w, h, changed, f.in)
	}
	c := f.small.Min.Add(f.small.Max).Div(2)
	b.doc.picks = []register.Tie{{Face: b.doc.view.Picture(geom.Px{X: float64(c.X), Y: float64(c.Y)})}}
	was := f.small
	f.Paint(dst)
	if f.small == was {
		t.Error("the small body hides a landmark")
	}
}
