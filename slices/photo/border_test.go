package photo

import (
	"context"
	"image"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"testing"

	"sectionary/slices/geom"
)

// faceOn paints a cut face on a tray: an uneven oval with skin, fat, muscle and dark cavities, grain, a bit of glare, a
// steel ruler and a yellow tag. It returns the picture and the true border.
func faceOn(tray color.RGBA, centre geom.Px, w, h int) (*Image, []geom.Px) {
	r := newNoise(9)
	pic := image.NewRGBA(image.Rect(0, 0, w, h))
	radius := func(angle float64) float64 {
		return 0.32 * float64(h) * (1 + 0.12*math.Cos(2*angle) + 0.05*math.Sin(5*angle))
	}
	for y := range h {
		for x := range w {
			dx, dy := float64(x)-centre.X, float64(y)-centre.Y
			d, angle := math.Hypot(dx, dy), math.Atan2(dy, dx)
			c := tray
			switch f := d / radius(angle); {
			case f > 1:
				if y > h*9/10 && x > w/3 && x < w/2 {
					c = color.RGBA{180, 182, 184, 255} // ruler
				}
				if y > h*9/10 && x > w*2/3 && x < w*2/3+w/20 {
					c = color.RGBA{230, 220, 90, 255} // tag
				}
			case f > 0.97:
				c = color.RGBA{190, 150, 120, 255}
			case f > 0.8:
				c = color.RGBA{222, 196, 130, 255}
			case math.Hypot(dx-0.1*float64(h), dy) < 0.05*float64(h):
				c = color.RGBA{12, 11, 12, 255} // cavity
			case math.Hypot(dx+0.1*float64(h), dy) < 0.02*float64(h):
				c = color.RGBA{255, 255, 255, 255} // glare
			default:
				c = color.RGBA{110, 60, 48, 255}
			}
			n := r.NormFloat64() * 6
			part := func(v uint8) uint8 { return uint8(max(0, min(255, float64(v)+n+2*r.NormFloat64()))) }
			if c.R == 255 && c.B == 255 {
				part = func(v uint8) uint8 { return v }
			}
			pic.SetRGBA(x, y, color.RGBA{part(c.R), part(c.G), part(c.B), 255})
		}
	}
	var ring []geom.Px
	for i := range 720 {
		sin, cos := math.Sincos(float64(i) * math.Pi / 360)
		d := radius(math.Atan2(sin, cos))
		ring = append(ring, geom.Px{X: centre.X + d*cos, Y: centre.Y + d*sin})
	}
	return NewImage(pic), ring
}

// encloses counts crossings (Jordan).
func encloses(ring []geom.Px, x, y float64) bool {
	odd := false
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		if (p.Y > y) != (q.Y > y) && x < p.X+(y-p.Y)/(q.Y-p.Y)*(q.X-p.X) {
			odd = !odd
		}
	}
	return odd
}

// overlap is the area in both over the area in either, sampled every few pixels.
func overlap(a, b []geom.Px, w, h int) float64 {
	both, either := 0.0, 0.0
	for y := 0; y < h; y += 3 {
		for x := 0; x < w; x += 3 {
			in, too := encloses(a, float64(x), float64(y)), encloses(b, float64(x), float64(y))
			if in && too {
				both++
			}
			if in || too {
				either++
			}
		}
	}
	return both / either
}

func TestFaceBorderOnTrays(t *testing.T) {
	for name, tray := range map[string]color.RGBA{
		"steel": {128, 130, 133, 255}, "white": {238, 238, 236, 255}, "black": {14, 14, 16, 255},
		"blue": {40, 110, 180, 255}, "green": {60, 120, 90, 255},
	} {
		m, want := faceOn(tray, geom.Px{X: 610, Y: 440}, 1200, 900)
		b, err := FaceBorder(m)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(b.Rings) != 1 || b.Cut != [4]bool{} {
			t.Errorf("%s: %d pieces, cut %v", name, len(b.Rings), b.Cut)
		}
		if share := overlap(b.Rings[0], want, 1200, 900); share < 0.985 {
			t.Errorf("%s: overlap %.4f", name, share)
		}
		if n := len(b.Rings[0]); n < 20 || n > 400 {
			t.Errorf("%s: %d points", name, n)
		}
	}
	m, _ := faceOn(color.RGBA{128, 130, 133, 255}, geom.Px{X: 200, Y: 440}, 1200, 900)
	if b, err := FaceBorder(m); err != nil || b.Cut != [4]bool{true, false, false, false} {
		t.Errorf("face off the left edge: cut %v, %v", b.Cut, err)
	}
	for _, m := range []*Image{NewImage(image.NewGray(image.Rect(0, 0, 300, 200))), NewImage(image.NewRGBA(image.Rect(0, 0, 1, 1)))} {
		if _, err := FaceBorder(m); err == nil {
			t.Error("a face on an empty tray")
		}
	}
}

// sharedFile opens a real photograph that may not be kept in the project; see testdata/photo/README.md.
func sharedFile(t *testing.T, path ...string) *Image {
	t.Helper()
	name := filepath.Join(append([]string{"..", "..", "..", "shared", "data"}, path...)...)
	f, err := os.Open(name)
	if err != nil {
		t.Skip("real photographs are not at hand: ", filepath.Join(path...))
	}
	defer f.Close()
	m, err := Open(context.Background(), f, Limit{})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// TestFaceBorderReal: the trunk and both arms of a real section lying in blue gelatin; their bounds were read off the
// picture by eye to about 8 px.
func TestFaceBorderReal(t *testing.T) {
	m := sharedFile(t, "section-photo", "avf1432a.png")
	b, err := FaceBorder(m)
	if err != nil {
		t.Fatal(err)
	}
	if len(b.Rings) < 1 || len(b.Rings) > 3 || b.Cut != [4]bool{} {
		t.Fatalf("%d pieces, cut %v", len(b.Rings), b.Cut)
	}
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, ring := range b.Rings {
		for _, p := range ring {
			x0, y0, x1, y1 = min(x0, p.X), min(y0, p.Y), max(x1, p.X), max(y1, p.Y)
		}
	}
	for _, side := range []struct {
		name      string
		got, want float64
	}{{"left", x0, 284}, {"top", y0, 122}, {"right", x1, 1865}, {"bottom", y1, 829}} {
		if math.Abs(side.got-side.want) > 16 {
			t.Errorf("%s at %.0f, by eye %.0f", side.name, side.got, side.want)
		}
	}
	for _, p := range []geom.Px{{X: 1080, Y: 250}, {X: 800, Y: 500}, {X: 430, Y: 375}, {X: 1700, Y: 375}, {X: 1080, Y: 780}} {
		in := false
		for _, ring := range b.Rings {
			in = in || encloses(ring, p.X, p.Y)
		}
		if !in {
			t.Errorf("tissue at %v is left out", p)
		}
	}
	for _, p := range []geom.Px{{X: 500, Y: 900}, {X: 1000, Y: 1100}, {X: 1380, Y: 1080}, {X: 1800, Y: 800}, {X: 100, Y: 600}} {
		for _, ring := range b.Rings {
			if encloses(ring, p.X, p.Y) {
				t.Errorf("tray at %v is taken in", p)
			}
		}
	}
}

func BenchmarkFaceBorder24MP(b *testing.B) {
	m := NewImage(photograph(6000, 4000))
	for b.Loop() {
		_, _ = FaceBorder(m)
	}
}
