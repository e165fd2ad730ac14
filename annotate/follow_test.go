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
	for i := range clicks {
		p := f.Path(context.Background(), clicks[i], clicks[(i+1)%len(clicks)])
		line = append(line, p[:len(p)-1]...)
	}
	return line
}

// meanOff is the mean distance of the line, walked in small steps, from the true outline.
func meanOff(line, truth []geom.Px) float64 {
	m, _, _ := edgeGap([]Polygon{{Outer: line}}, []Polygon{{Outer: truth}})
	return m
}

// A drawn organ with grain and saw marks at 0.25 mm per pixel: one click per 20 mm stays within 1.0 mm mean of the true
// outline, and much nearer.
func TestFollowAnEdge(t *testing.T) {
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
			v += 8*math.Sin(float64(x)/3) + 10*rng.NormFloat64() // saw marks and grain
			img.SetGray(x, y, color.Gray{Y: uint8(math.Max(0, math.Min(255, v)))})
		}
	}
	line := trace(NewFollower(img, 2), organ.Outer, 80) // 20 mm
	off := meanOff(line, organ.Outer) * 0.25
	t.Logf("mean distance from the true outline %.3f mm", off)
	if off > 0.5 {
		t.Errorf("mean distance %.2f mm", off)
	}
	straight := NewFollower(image.NewGray(image.Rect(0, 0, 10, 10)), 2).Path(context.Background(), geom.Px{X: 1, Y: 1}, geom.Px{X: 100, Y: 1})
	if len(straight) != 2 {
		t.Error("a click outside the picture does not give the straight line")
	}
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
	img := image.NewGray(image.Rect(0, 0, 2000, 2000))
	rng := rand.New(rand.NewPCG(3, 3))
	for i := range img.Pix {
		img.Pix[i] = byte(rng.IntN(60))
	}
	f := NewFollower(img, 1.5)
	for b.Loop() {
		f.Path(context.Background(), geom.Px{X: 500, Y: 500}, geom.Px{X: 720, Y: 700})
	}
}
