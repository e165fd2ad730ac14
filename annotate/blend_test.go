package annotate

import (
	"image"
	"math"
	"os"
	"path/filepath"
	"testing"

	"pgregory.net/rapid"

	"sectionary/slices/geom"
)

// contour returns contour A or B of the truth tables (shape.json): closed forms rounded to three digits, so that they stand
// here as formulas instead of points.
func contour(name string) Polygon {
	round := func(v float64) float64 { return math.Round(v*1000) / 1000 }
	var out []geom.Px
	for i := range 90 {
		t := 2 * math.Pi * float64(i) / 90
		if name == "A" {
			out = append(out, geom.Px{X: round(32 + 18*math.Cos(t) + 2*math.Cos(3*t)), Y: round(31 + 13*math.Sin(t) + 1.5*math.Sin(2*t))})
		} else {
			out = append(out, geom.Px{X: round(34 + 17*math.Cos(t) + math.Cos(4*t)), Y: round(32.5 + 14*math.Sin(t))})
		}
	}
	return Polygon{Outer: out}
}

// Source: shape.json (numpy 1.24.2): areas 734.531726 and 747.0847, perimeters 101.541709778 and 98.367563723.
func TestContoursAreThoseOfTheTruth(t *testing.T) {
	a, b := contour("A"), contour("B")
	if !near(a.AreaPx(), 734.531726, 1e-6) || !near(b.AreaPx(), 747.0847, 1e-6) || !near(a.PerimeterPx(), 101.541709778, 1e-6) || !near(b.PerimeterPx(), 98.367563723, 1e-6) {
		t.Error(a.AreaPx(), b.AreaPx(), a.PerimeterPx(), b.PerimeterPx())
	}
}

var grid64 = image.Rect(0, 0, 64, 64)

// Source: scikit-image 0.19.3 grid_points_in_poly: 733 and 738 pixels; scipy 1.10.1 distance_transform_edt with sampling 0.8 by
// 0.5: six samples (col, row, signed distance); shapes between by Raya and Udupa 1990: 719, 710 and 731 pixels.
func TestMasksDistancesAndShapesBetween(t *testing.T) {
	a, b := Rasterise([]Polygon{contour("A")}, grid64), Rasterise([]Polygon{contour("B")}, grid64)
	if a.Count() != 733 || b.Count() != 738 {
		t.Errorf("%d and %d pixels", a.Count(), b.Count())
	}
	d := a.SignedDistance(0.8, 0.5)
	for _, s := range [][3]float64{{10, 10, -9.394147}, {32, 30, 6.0}, {5, 60, -14.840822}, {50, 20, -2.56125}, {40, 40, 1.7}, {20, 33, 2.624881}} {
		// The table's first two numbers are column and row of its picture.
		if got := d[int(s[1])*64+int(s[0])]; !near(got, s[2], 1e-5) {
			t.Errorf("distance at %v is %v", s, got)
		}
	}
	for share, want := range map[float64]int{0.25: 719, 0.5: 710, 0.75: 731} {
		if got := BlendMasks(a, b, share, 0.8, 0.5).Count(); got != want {
			t.Errorf("at %v: %d pixels, want %d", share, got, want)
		}
	}
}

// Source: shape.json circle_numbers_px (scipy): concentric circles of 30 and 60 px give 6329 px half-way; equal circles 24 px
// apart shrink to 2575 px when blended as they lie. Blend lays them on each other first and keeps the disc's 2827 px2.
func TestCirclesBetween(t *testing.T) {
	disc := func(cx, r float64) Mask {
		m := NewMask(image.Rect(0, 0, 201, 201))
		for y := range 201 {
			for x := range 201 {
				dx, dy := float64(x)-cx, float64(y)-100
				m.In[y*201+x] = dx*dx+dy*dy <= r*r
			}
		}
		return m
	}
	if got := BlendMasks(disc(100, 30), disc(100, 60), 0.5, 1, 1).Count(); got != 6329 {
		t.Errorf("between 30 and 60: %d pixels", got)
	}
	if got := BlendMasks(disc(88, 30), disc(112, 30), 0.5, 1, 1).Count(); got != 2575 {
		t.Errorf("between two places: %d pixels", got)
	}
	mid := Blend([]Polygon{{Outer: oval(88, 100, 30, 30, 200)}}, []Polygon{{Outer: oval(112, 100, 30, 30, 200)}}, 0.5)
	if len(mid) != 1 || !near(mid[0].AreaPx(), 900*math.Pi, 0.01*900*math.Pi) || mid[0].Centroid().Dist(geom.Px{X: 100, Y: 100}) > 0.1 {
		t.Errorf("laid on each other: %d parts", len(mid))
	}
	mid = Blend([]Polygon{{Outer: oval(100, 100, 30, 30, 200)}}, []Polygon{{Outer: oval(100, 100, 60, 60, 200)}}, 0.5)
	if !near(mid[0].AreaPx(), 45*45*math.Pi, 0.01*45*45*math.Pi) || mid[0].Check() != nil {
		t.Errorf("radius half-way: area %v", mid[0].AreaPx())
	}
}

// A mask traced and filled again is the same mask; every outline is sound.
func TestTraceComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 14).Draw(t, "w"), rapid.IntRange(1, 14).Draw(t, "h")
		m := NewMask(image.Rect(-3, 5, w-3, h+5))
		for i := range m.In {
			m.In[i] = rapid.Bool().Draw(t, "in")
		}
		ps := m.Outlines()
		for _, p := range ps {
			if err := p.Check(); err != nil {
				t.Fatal(err)
			}
		}
		back := Rasterise(ps, m.Rect)
		for i := range m.In {
			if m.In[i] != back.In[i] {
				t.Fatalf("pixel %d differs", i)
			}
		}
	})
}

// The label section pictures of the truth tables, traced and filled again, pixel for pixel.
func TestTraceTruthMasks(t *testing.T) {
	for _, name := range []string{"maskA.raw", "maskB.raw"} {
		b, err := os.ReadFile(filepath.Join("..", "..", "shared", "truth", name))
		if err != nil {
			t.Skip("the truth tables are not here: ", err)
		}
		m := NewMask(grid64)
		for i := range m.In {
			m.In[i] = b[i] != 0
		}
		back := Rasterise(m.Outlines(), grid64)
		for i := range m.In {
			if m.In[i] != back.In[i] {
				t.Fatalf("%s: pixel %d differs", name, i)
			}
		}
	}
}

func BenchmarkBlend(b *testing.B) {
	p, q := []Polygon{{Outer: oval(500, 500, 300, 200, 200)}}, []Polygon{{Outer: oval(560, 520, 250, 260, 200)}}
	for b.Loop() {
		Blend(p, q, 0.5)
	}
}
