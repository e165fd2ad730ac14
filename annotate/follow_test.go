package annotate

import (
	"context"
	"errors"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// trace follows the true outline's edge from click to click, a click every so many pixels of its length.
func trace(f *Follower, truth []geom.Px, every float64) (line []geom.Px) {
	clicks := []geom.Px{truth[0]}
	run := 0.0
	for i := 1; i < len(truth); i++ {
		if run += truth[i].Dist(truth[i-1]); run >= every {
			clicks, run = append(clicks, truth[i]), 0
		}
	}
	line = clicks[:1:1]
	for i := range clicks {
		line = append(line, f.Continue(context.Background(), line, clicks[(i+1)%len(clicks)])[1:]...)
	}
	return line[:len(line)-1]
}

// meanOff is the mean distance of the line, walked in small steps, from the true outline.
func meanOff(line, truth []geom.Px) float64 {
	m, _, _ := edgeGap([]Polygon{{Outer: line}}, []Polygon{{Outer: truth}})
	return m
}

// A drawn organ with grain and saw marks at 0.25 mm per pixel: one click per 20 mm stays within 1.0 mm mean of the true
// outline, and much nearer. The deep marks change the grey as much as the organ does.
func TestFollowAnEdge(t *testing.T) {
	for name, saw := range map[string]float64{"fine": 8, "deep": 22} {
		img, organ := drawnOrgan(saw)
		off := meanOff(trace(NewFollower(img, 2), organ, 80), organ) * 0.25 // 80 px are 20 mm
		t.Logf("%s saw marks: mean distance from the true outline %.3f mm", name, off)
		if off > 0.25 {
			t.Errorf("%s saw marks: mean distance %.2f mm", name, off)
		}
	}
}

func drawnOrgan(saw float64) (*image.Gray, []geom.Px) {
	rng := rand.New(rand.NewPCG(3, 3))
	img := image.NewGray(image.Rect(0, 0, 800, 700))
	organ := Polygon{Outer: make([]geom.Px, 400)}
	for i := range organ.Outer {
		a := 2 * math.Pi * float64(i) / 400
		r := 180 + 40*math.Cos(3*a) + 18*math.Sin(5*a)
		organ.Outer[i] = geom.Px{X: 400 + 1.3*r*math.Cos(a), Y: 350 + r*math.Sin(a)}
	}
	m := Rasterise([]Polygon{organ}, img.Rect)
	for y := range 700 {
		for x := range 800 {
			v := 150.0
			if m.At(x, y) {
				v = 105
			}
			v += saw*math.Sin(float64(x)/3) + 10*rng.NormFloat64() // saw marks and grain
			img.SetGray(x, y, color.Gray{Y: uint8(math.Max(0, math.Min(255, v)))})
		}
	}
	return img, organ.Outer
}

// A pale vessel wall, six pixels thick, in fat of the same grey: outside, where the clicks are, only the colour tells them apart;
// the inner edge, to blood, is eleven times as strong.
func TestFollowTheOuterWall(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	img := image.NewRGBA(image.Rect(0, 0, 240, 240))
	for y := range 240 {
		for x := range 240 {
			c := [3]float64{206, 178, 120}
			switch d := math.Hypot(float64(x)-120, float64(y)-120); {
			case d < 44:
				c = [3]float64{60, 34, 32}
			case d < 50:
				c = [3]float64{212, 172, 138}
			}
			g := 3 * rng.NormFloat64()
			img.SetRGBA(x, y, color.RGBA{uint8(c[0] + g), uint8(c[1] + g), uint8(c[2] + g), 255})
		}
	}
	wall := oval(120, 120, 50, 50, 120)
	for name, f := range map[string]*Follower{"picture": NewFollower(img, 1.5), "photograph": NewPhotoFollower(photo.NewImage(img), 1.5)} {
		if off := meanOff(trace(f, wall, 80), wall); off > 1 {
			t.Errorf("%s: the outer wall is traced %.2f px off", name, off)
		}
	}
}

func TestFollowWithoutAnEdge(t *testing.T) {
	even := NewFollower(image.NewGray(image.Rect(0, 0, 50, 40)), 2)
	for name, c := range map[string][2]geom.Px{
		"outside":   {{X: 1, Y: 1}, {X: 100, Y: 1}},
		"no number": {{X: 1, Y: 1}, {X: math.NaN(), Y: 1}},
		"beyond":    {{X: math.Inf(-1), Y: 1}, {X: 4, Y: 1}},
		"no edge":   {{X: 0, Y: 39}, {X: 49, Y: 39}},
		"one place": {{X: 7, Y: 7}, {X: 7, Y: 7}},
	} {
		if p := even.Path(context.Background(), c[0], c[1]); len(p) != 2 || p[0] != c[0] || p[1] != c[1] && name != "no number" {
			t.Errorf("%s: %v instead of the straight line", name, p)
		}
	}
	if p := even.Continue(context.Background(), nil, geom.Px{X: 3, Y: 4}); len(p) != 1 {
		t.Errorf("no line to continue gives %v", p)
	}
	torn := []geom.Px{{X: math.NaN()}, {X: math.Inf(1)}, {X: -1e300}, {X: 5, Y: 5}, {X: 5, Y: 5}}
	if p := even.Continue(context.Background(), torn, geom.Px{X: 30, Y: 20}); len(p) < 2 || p[len(p)-1] != (geom.Px{X: 30, Y: 20}) {
		t.Errorf("a line beyond sense gives %v", p)
	}
	img, _ := drawnOrgan(8)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if p := NewFollower(img, 2).Path(ctx, geom.Px{X: 100, Y: 100}, geom.Px{X: 500, Y: 500}); len(p) != 2 {
		t.Error("a cancelled search does not give the straight line")
	}
}

// The six made sections of the truth tables (elastix benchmark phantom, 1 mm per pixel), whose label pictures are the truth: every
// structure of 15 mm and more, one click per 20 mm.
func TestFollowTruthSections(t *testing.T) {
	dir := filepath.Join("..", "..", "shared", "truth")
	var sum, worst float64
	n := 0
	for k := range 6 {
		grey, err := readPNG(filepath.Join(dir, "section_"+string(rune('0'+k))+".png"))
		if err != nil {
			t.Skip("the truth tables are not here: ", err)
		}
		labels, err := readPNG(filepath.Join(dir, "section_"+string(rune('0'+k))+"_labels.png"))
		if err != nil {
			t.Skip("the truth tables are not here: ", err)
		}
		img := image.NewGray(grey.Bounds())
		values := map[uint32]Mask{}
		for y := range img.Rect.Dy() {
			for x := range img.Rect.Dx() {
				img.Set(x, y, grey.At(x, y))
				v, _, _, _ := labels.At(x, y).RGBA()
				if _, ok := values[v]; !ok {
					values[v] = NewMask(img.Rect)
				}
				values[v].In[y*img.Rect.Dx()+x] = true
			}
		}
		for v, m := range values {
			if v == 0 {
				continue
			}
			for _, p := range m.Outlines() {
				if b := p.Bounds(); math.Min(b.W(), b.H()) < 15 {
					continue
				}
				ring := p.Simplify(0.8).Outer
				line := trace(NewFollower(img, 1), densify(ring, 1), 20)
				off := meanOff(line, p.Simplify(0.3).Outer)
				sum, n, worst = sum+off, n+1, math.Max(worst, off)
			}
		}
	}
	t.Logf("%d outlines, mean distance %.2f mm, worst %.2f mm", n, sum/float64(n), worst)
	if n < 10 || sum/float64(n) > 1.0 {
		t.Errorf("mean distance %.2f mm over %d outlines", sum/float64(n), n)
	}
}

func densify(r []geom.Px, step float64) (out []geom.Px) {
	for i := range r {
		a, b := r[i], r[(i+1)%len(r)]
		n := math.Ceil(a.Dist(b) / step)
		for k := range int(n) {
			t := float64(k) / n
			out = append(out, geom.Px{X: a.X + t*(b.X-a.X), Y: a.Y + t*(b.Y-a.Y)})
		}
	}
	return out
}

func readPNG(path string) (image.Image, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return png.Decode(f)
}

func TestGrowFromAClick(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	m := image.NewRGBA(image.Rect(0, 0, 300, 240))
	vessel := Polygon{Outer: oval(140, 120, 60, 40, 100)}
	in := Rasterise([]Polygon{vessel}, m.Rect)
	for y := range 240 {
		for x := range 300 {
			c := [3]float64{170, 120, 90}
			if in.At(x, y) || y == 120 && x > 140 { // a thread of the same colour leads out of the vessel
				c = [3]float64{120, 40, 45}
			}
			n := 6 * rng.NormFloat64()
			m.SetRGBA(x, y, color.RGBA{byte(c[0] + n), byte(c[1] + n), byte(c[2] + n), 255})
		}
	}
	p, err := GrowFrom(context.Background(), m, geom.Px{X: 120, Y: 110}, Growth{Tolerance: 40})
	if err != nil {
		t.Fatal(err)
	}
	a, err := Compare([]Polygon{p}, []Polygon{vessel}, func(q geom.Px) geom.MM { return geom.MM(q) })
	t.Logf("overlap %.3f, mean gap %.2f px", a.Dice, a.MeanGap)
	if err != nil || a.Dice < 0.97 || p.Check() != nil {
		t.Errorf("overlap %.3f, mean gap %.2f px, %v", a.Dice, a.MeanGap, err)
	}
	for name, c := range map[string]struct {
		at geom.Px
		g  Growth
	}{"outside": {geom.Px{X: -5, Y: 5}, Growth{}}, "everything": {geom.Px{X: 5, Y: 5}, Growth{Tolerance: 400}}, "no number": {geom.Px{X: math.NaN(), Y: 5}, Growth{}}} {
		if _, err := GrowFrom(context.Background(), m, c.at, c.g); !errors.Is(err, ErrGrow) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func BenchmarkFollow300(b *testing.B) {
	img, organ := drawnOrgan(8)
	f := NewFollower(img, 1.5)
	for b.Loop() {
		f.Path(context.Background(), organ[0], organ[80])
	}
	b.ReportMetric(organ[0].Dist(organ[80]), "px")
}
