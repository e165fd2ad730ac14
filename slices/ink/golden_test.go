package ink

import (
	"flag"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"sectionary/slices/geom"
)

var update = flag.Bool("update", false, "write the golden pictures anew")

// sampler draws one of everything.
func sampler(m *image.RGBA) {
	red, blue, dark := color.RGBA{190, 40, 40, 255}, color.RGBA{30, 60, 170, 255}, color.RGBA{25, 25, 25, 255}
	for p := Pattern(0); p < Patterns; p++ {
		x, y := float64(10+p%4*70), float64(10+p/4*60)
		var ring []geom.Px
		for k := range 24 {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / 24)
			r := 26 + 3*math.Sin(5*2*math.Pi*float64(k)/24)
			ring = append(ring, geom.Px{X: x + 30 + r*cos, Y: y + 27 + r*0.9*sin})
		}
		hole := []geom.Px{{X: x + 24, Y: y + 20}, {X: x + 36, Y: y + 20}, {X: x + 36, Y: y + 30}, {X: x + 24, Y: y + 30}}
		rings := [][]geom.Px{ring, hole}
		if p == Solid {
			Fill(m, rings, Fade(red, 0.4))
		} else {
			Hatch(m, rings, p, 8, blue)
		}
		Stroke(m, ring, true, 1+float64(p)*0.4, dark, nil)
		Stroke(m, hole, true, 1.5, red, []float64{4, 3})
	}
	Stroke(m, []geom.Px{{X: 20, Y: 150}, {X: 60, Y: 140}, {X: 30, Y: 165}, {X: 90, Y: 160}}, false, 8, Fade(blue, 0.6), nil)
	Stroke(m, []geom.Px{{X: 20, Y: 178}, {X: 95, Y: 172}}, false, 2, dark, []float64{8, 4, 1, 4})
	Disc(m, geom.Px{X: 120, Y: 155}, 14, Fade(red, 0.7))
	Ring(m, geom.Px{X: 120, Y: 155}, 18, 2, dark)
	Arrow(m, geom.Px{X: 150, Y: 175}, geom.Px{X: 185, Y: 142}, 2, dark)
	RoundRect(m, image.Rect(200, 135, 250, 160), 8, blue)
	Rect(m, image.Rect(200, 165, 250, 185), 2, red)
	Default().Text(m, geom.Px{X: 206, Y: 153}, 15, color.RGBA{255, 255, 255, 255}, "V. cava")
	Bold().Text(m, geom.Px{X: 206, Y: 181}, 15, dark, "Aorta 7")
	Default().TextTurned(m, geom.Px{X: 268, Y: 185}, 12, dark, "Ωσ été Ж", 3)
	Bold().TextTurned(m, geom.Px{X: 274, Y: 140}, 12, dark, "down", 1)
}

// TestSampler compares with a picture that was looked at; two grey levels are left for other processors' rounding.
func TestSampler(t *testing.T) {
	m := paper(image.Rect(0, 0, 290, 195), color.RGBA{246, 243, 236, 255})
	Bands(m, sampler)
	name := filepath.Join("..", "..", "testdata", "photo", "ink.png")
	if *update {
		f, err := os.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if err := png.Encode(f, m); err != nil {
			t.Fatal(err)
		}
		return
	}
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	want, err := png.Decode(f)
	if err != nil || want.Bounds() != m.Rect {
		t.Fatal(err, want.Bounds())
	}
	wrong := 0
	for y := range m.Rect.Dy() {
		for x := range m.Rect.Dx() {
			a, b := m.RGBAAt(x, y), color.RGBAModel.Convert(want.At(x, y)).(color.RGBA)
			for _, d := range [3]int{int(a.R) - int(b.R), int(a.G) - int(b.G), int(a.B) - int(b.B)} {
				if max(d, -d) > 2 {
					wrong++
				}
			}
		}
	}
	if wrong > 0 {
		t.Errorf("%d samples differ from %s; look at the drawing, then run with -update", wrong, name)
	}
}
