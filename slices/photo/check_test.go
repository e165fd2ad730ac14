package photo

import (
	"image"
	"image/color"
	"math"
	"testing"

	"sectionary/slices/geom"
)

// softened averages n x n pixels.
func softened(m *Image, n int) *Image {
	s := m.Size()
	out := image.NewRGBA(image.Rectangle{Max: s})
	for y := range s.Y {
		for x := range s.X {
			var r, g, b int
			for k := range n * n {
				c := m.At(geom.Px{X: float64(clamp(x+k%n-n/2, s.X)), Y: float64(clamp(y+k/n-n/2, s.Y))})
				r, g, b = r+int(c.R), g+int(c.G), b+int(c.B)
			}
			out.SetRGBA(x, y, color.RGBA{uint8(r / (n * n)), uint8(g / (n * n)), uint8(b / (n * n)), 255})
		}
	}
	return NewImage(out)
}

func faults(c Check) map[Fault]Finding {
	list := map[Fault]Finding{}
	for _, f := range c.Findings {
		list[f.Fault] = f
	}
	return list
}

// TestExamine looks at faces whose faults are known because they were painted in. The face of faceOn is an oval of
// half-axes about 0.32 of the height with one spot of glare of radius 0.02 of it: 0.4 % of the face, just allowed.
func TestExamine(t *testing.T) {
	const w, h = 900, 675
	tray := color.RGBA{128, 130, 133, 255}
	m, border := faceOn(tray, geom.Px{X: 450, Y: 330}, w, h)
	b := Border{Rings: [][]geom.Px{border}}
	fine, err := TwoTicks(geom.Px{}, geom.Px{X: 1000}, 150)
	if err != nil {
		t.Fatal(err)
	}
	good := Examine(m, b, fine, nil)
	if len(good.Findings) != 0 {
		t.Fatalf("a good picture: %+v", good)
	}
	if want := 0.02 * 0.02 / (0.32 * 0.32); math.Abs(good.Glare-want) > 0.3*want {
		t.Errorf("glare %.4f of the face, painted %.4f", good.Glare, want)
	}
	sitting := []float64{good.Focus, 0.9 * good.Focus, 1.2 * good.Focus}

	shiny := image.NewRGBA(image.Rect(0, 0, w, h))
	m.Draw(shiny, [6]float64{1, 0, 0, 0, 1, 0})
	spot := image.Rect(430, 400, 470, 430)
	for y := spot.Min.Y; y < spot.Max.Y; y++ {
		for x := spot.Min.X; x < spot.Max.X; x++ {
			shiny.SetRGBA(x, y, color.RGBA{250, 248, 245, 255})
		}
	}
	got := faults(Examine(NewImage(shiny), b, fine, sitting))
	if f, ok := got[Glare]; !ok || len(got) != 1 {
		t.Errorf("a shiny face: %+v", got)
	} else if r := f.Where[0]; !spot.In(r) || r.Dx() > spot.Dx()+6 || r.Dy() > spot.Dy()+6 {
		t.Errorf("glare at %v marked at %v", spot, f.Where)
	}

	for y := spot.Min.Y; y < spot.Max.Y; y++ {
		for x := spot.Min.X; x < spot.Max.X+40; x++ {
			shiny.SetRGBA(x, y, color.RGBA{255, 190, 120, 255}) // one part at its end is enough
		}
	}
	if got := faults(Examine(NewImage(shiny), b, fine, sitting)); len(got) != 1 || got[Clipped].Value < 0.02 {
		t.Errorf("a clipped face: %+v", got)
	}
	if got := faults(Examine(softened(m, 5), b, fine, sitting)); len(got) != 1 || got[Blur].Value > BlurLimit {
		t.Errorf("a soft face: %+v", got)
	}
	if got := faults(Examine(softened(m, 5), b, fine, sitting[:2])); len(got) != 0 {
		t.Errorf("two pictures are no sitting: %+v", got)
	}
	coarse, err := TwoTicks(geom.Px{}, geom.Px{X: 1000}, 210)
	if err != nil {
		t.Fatal(err)
	}
	if got := faults(Examine(m, b, coarse, sitting)); len(got) != 1 || math.Abs(got[Coarse].Value-0.21) > 1e-9 {
		t.Errorf("a coarse face: %+v", got)
	}
	if got := Examine(m, b, Calibration{}, sitting); len(got.Findings) != 0 {
		t.Errorf("no scale, so no coarseness: %+v", got)
	}
	off, _ := faceOn(tray, geom.Px{X: 120, Y: 330}, w, h)
	found, err := FaceBorder(off)
	if err != nil {
		t.Fatal(err)
	}
	if got := faults(Examine(off, found, fine, sitting)); len(got) != 1 || len(got[CutByFrame].Where) != 1 || got[CutByFrame].Where[0].Min.X != 0 {
		t.Errorf("a face cut off on the left: %+v", got)
	}
	for f := Glare; f <= CutByFrame; f++ {
		if f.Advice() == "" {
			t.Errorf("no advice for fault %d", f)
		}
	}
	Examine(NewImage(image.NewGray(image.Rect(0, 0, 3, 2))), Border{}, Calibration{}, nil)
	Examine(m, Border{Rings: [][]geom.Px{nil, {{X: math.NaN()}, {Y: math.Inf(1)}, {X: -1e300}}}}, Calibration{}, nil)
}
