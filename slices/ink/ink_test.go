package ink

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"sectionary/slices/geom"
)

var (
	white = color.RGBA{255, 255, 255, 255}
	black = color.RGBA{A: 255}
)

func paper(r image.Rectangle, c color.RGBA) *image.RGBA {
	m := image.NewRGBA(r)
	for i := 0; i < len(m.Pix); i += 4 {
		m.Pix[i], m.Pix[i+1], m.Pix[i+2], m.Pix[i+3] = c.R, c.G, c.B, c.A
	}
	return m
}

// inked sums how much of the paper is covered when white is drawn on black, in pixels.
func inked(m *image.RGBA) (sum float64) {
	for i := 0; i < len(m.Pix); i += 4 {
		sum += float64(m.Pix[i]) / 255
	}
	return sum
}

func points(t *rapid.T, n int, lo, hi float64) []geom.Px {
	pts := make([]geom.Px, n)
	for i := range pts {
		pts[i] = geom.Px{X: rapid.Float64Range(lo, hi).Draw(t, "x"), Y: rapid.Float64Range(lo, hi).Draw(t, "y")}
	}
	return pts
}

func shoelace(ring []geom.Px) (a float64) {
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		a += (p.X*q.Y - q.X*p.Y) / 2
	}
	return math.Abs(a)
}

// star makes a simple ring: the points go round a centre in order.
func star(t *rapid.T, centre geom.Px, lo, hi float64) []geom.Px {
	n := rapid.IntRange(3, 40).Draw(t, "corners")
	ring := make([]geom.Px, n)
	for i := range ring {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		r := rapid.Float64Range(lo, hi).Draw(t, "r")
		ring[i] = geom.Px{X: centre.X + r*cos, Y: centre.Y + r*sin}
	}
	return ring
}

// TestFillArea: the ink of a filled ring is its area by the shoelace formula, that of a ring with a hole the
// difference, in whichever sense the hole winds.
func TestFillArea(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := paper(image.Rect(0, 0, 100, 100), black)
		centre := geom.Px{X: rapid.Float64Range(49, 51).Draw(t, "cx"), Y: rapid.Float64Range(49, 51).Draw(t, "cy")}
		ring, hole := star(t, centre, 20, 45), star(t, centre, 4, 9)
		if rapid.Bool().Draw(t, "backward") {
			for i, k := 0, len(hole)-1; i < k; i, k = i+1, k-1 {
				hole[i], hole[k] = hole[k], hole[i]
			}
		}
		Fill(m, [][]geom.Px{ring, hole}, white)
		want := shoelace(ring) - shoelace(hole)
		// ends are held to 1/256 px; a thin spike crosses a pixel twice
		if got := inked(m); math.Abs(got-want) > 1+want*0.004 {
			t.Fatalf("%.2f px inked, area %.2f", got, want)
		}
	})
}

// inside is the even-odd rule by counting crossings (Jordan), for one point.
func inside(rings [][]geom.Px, x, y float64) bool {
	odd := false
	for _, ring := range rings {
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			if (p.Y > y) != (q.Y > y) && x < p.X+(y-p.Y)/(q.Y-p.Y)*(q.X-p.X) {
				odd = !odd
			}
		}
	}
	return odd
}

// edgesNear counts the edges that pass within a pixel of the point.
func edgesNear(rings [][]geom.Px, x, y float64) (n int) {
	for _, ring := range rings {
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			dx, dy := q.X-p.X, q.Y-p.Y
			t := max(0, min(1, ((x-p.X)*dx+(y-p.Y)*dy)/(dx*dx+dy*dy+1e-30)))
			if math.Hypot(p.X+t*dx-x, p.Y+t*dy-y) < 1 {
				n++
			}
		}
	}
	return n
}

// TestFillEvenOdd compares with counting crossings, on shapes that cross themselves: away from edges exactly, beside
// one edge by 8 x 8 places in the pixel. Where several edges meet in a pixel, areas of opposite sense may cancel; those
// pixels are not compared.
func TestFillEvenOdd(t *testing.T) {
	compared := 0
	rapid.Check(t, func(t *rapid.T) {
		rings := [][]geom.Px{points(t, rapid.IntRange(3, 7).Draw(t, "n"), -10, 40), points(t, 4, -10, 40)}
		m := paper(image.Rect(0, 0, 30, 30), black)
		Fill(m, rings, white)
		for i := range 900 {
			x, y := i%30, i/30
			got := float64(m.RGBAAt(x, y).R) / 255
			want, tolerance := 0.0, 0.0
			switch edgesNear(rings, float64(x), float64(y)) {
			case 0:
				if inside(rings, float64(x), float64(y)) {
					want = 1
				}
			case 1:
				tolerance = 0.1
				for k := range 64 {
					if inside(rings, float64(x)+float64(k%8)/8-0.4375, float64(y)+float64(k/8)/8-0.4375) {
						want += 1.0 / 64
					}
				}
				compared++
			default:
				continue
			}
			if math.Abs(got-want) > tolerance {
				t.Fatalf("%d,%d covered %.3f, want %.3f", x, y, got, want)
			}
		}
	})
	if compared < 200 { // the drawn shapes are random: 700 to several thousand in most runs
		t.Errorf("only %d edge pixels compared", compared)
	}
}

func TestFillWholePixels(t *testing.T) {
	m := paper(image.Rect(0, 0, 8, 6), black)
	Fill(m, [][]geom.Px{{{X: 1.5, Y: 0.5}, {X: 5.5, Y: 0.5}, {X: 5.5, Y: 3.5}, {X: 1.5, Y: 3.5}}}, white)
	for y := range 6 {
		for x := range 8 {
			want := black
			if x >= 2 && x <= 5 && y >= 1 && y <= 3 {
				want = white
			}
			if got := m.RGBAAt(x, y); got != want {
				t.Errorf("%d,%d: %v, want %v", x, y, got, want)
			}
		}
	}
}

// TestStrokeArea: the ink of a line is length times width, of a circle of chords nearly 2 pi r width.
func TestStrokeArea(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := paper(image.Rect(0, 0, 120, 120), black)
		a := geom.Px{X: rapid.Float64Range(10, 110).Draw(t, "x"), Y: rapid.Float64Range(10, 110).Draw(t, "y")}
		b := geom.Px{X: rapid.Float64Range(10, 110).Draw(t, "x"), Y: rapid.Float64Range(10, 110).Draw(t, "y")}
		width := rapid.Float64Range(0.5, 12).Draw(t, "width")
		Line(m, a, b, width, white)
		want := a.Dist(b) * width
		if want > 3 && math.Abs(inked(m)-want) > 1+want*0.02 {
			t.Fatalf("%.2f px inked, want %.2f", inked(m), want)
		}
	})
	for _, width := range []float64{1, 2, 5, 11} {
		m := paper(image.Rect(0, 0, 120, 120), black)
		ring := make([]geom.Px, 60)
		for i := range ring {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / 60)
			ring[i] = geom.Px{X: 60 + 40*cos, Y: 60 + 40*sin}
		}
		Stroke(m, ring, true, width, white, nil)
		if want := 2 * math.Pi * 40 * width; math.Abs(inked(m)/want-1) > 0.02 {
			t.Errorf("ring of width %g: %.1f px inked, want %.1f", width, inked(m), want)
		}
	}
}

// TestStrokeIsOneCoat: a see-through line that crosses itself is nowhere darker than one coat.
func TestStrokeIsOneCoat(t *testing.T) {
	m := paper(image.Rect(0, 0, 60, 60), white)
	Stroke(m, []geom.Px{{X: 5, Y: 5}, {X: 50, Y: 50}, {X: 50, Y: 5}, {X: 5, Y: 50}}, true, 7, Fade(black, 0.5), nil)
	darkest := uint8(255)
	for i := 0; i < len(m.Pix); i += 4 {
		darkest = min(darkest, m.Pix[i])
	}
	if darkest < 126 || darkest > 128 {
		t.Errorf("darkest %d, want 127", darkest)
	}
}

func TestDash(t *testing.T) {
	for _, far := range []float64{0, 1e6} { // the part outside the picture only moves the pattern on
		m := paper(image.Rect(0, 0, 100, 9), black)
		Stroke(m, []geom.Px{{X: -0.5 - far, Y: 4}, {X: 99.5 + far, Y: 4}}, false, 3, white, []float64{6, 4})
		if got := inked(m); math.Abs(got-180) > 2 {
			t.Errorf("dashes of 6 in 10: %.1f px inked, want 180", got)
		}
		for x, want := range map[int]color.RGBA{3: white, 8: black, 13: white, 98: black} {
			if got := m.RGBAAt(x, 4); got != want {
				t.Errorf("start %g at %d: %v, want %v", -far, x, got, want)
			}
		}
	}
	m := paper(image.Rect(0, 0, 100, 9), black)
	for _, dash := range [][]float64{{0, 0}, {1e-300, 1e-300}, {math.NaN(), 1}, {3}, {-1, 2}} {
		Stroke(m, []geom.Px{{X: 0, Y: 4}, {X: 99, Y: 4}}, false, 1, white, dash) // drawn solid
		if m.RGBAAt(50, 4) != white {
			t.Errorf("%v left a gap", dash)
		}
	}
}

func TestCircles(t *testing.T) {
	for _, r := range []float64{0.6, 3, 20.3, 44} {
		m := paper(image.Rect(0, 0, 100, 100), black)
		Disc(m, geom.Px{X: 50.2, Y: 49.7}, r, white)
		if want := math.Pi * r * r; math.Abs(inked(m)-want) > 0.1+want*0.02 {
			t.Errorf("disc %g: %.2f px, want %.2f", r, inked(m), want)
		}
	}
	m := paper(image.Rect(0, 0, 100, 100), black)
	Ring(m, geom.Px{X: 50, Y: 50}, 30, 4, white)
	if want := 2 * math.Pi * 30 * 4; math.Abs(inked(m)-want) > want*0.02 {
		t.Errorf("ring: %.2f px, want %.2f", inked(m), want)
	}
	m = paper(image.Rect(0, 0, 60, 60), black)
	RoundRect(m, image.Rect(10, 20, 50, 50), 10, white)
	if want := 40*30 - (4-math.Pi)*100; math.Abs(inked(m)-want) > 3 {
		t.Errorf("round rectangle: %.2f px, want %.2f", inked(m), want)
	}
	m = paper(image.Rect(0, 0, 60, 60), black)
	Rect(m, image.Rect(10, 20, 50, 50), 3, white)
	if want := 40.0*30 - 34*24; inked(m) != want {
		t.Errorf("rectangle: %.2f px, want %.2f", inked(m), want)
	}
}

// drawing is one of each, with coordinates anywhere.
type drawing struct {
	rings   [][]geom.Px
	width   float64
	pattern Pattern
	at      geom.Px
}

func (d drawing) draw(m *image.RGBA) {
	red, blue := Fade(color.RGBA{200, 30, 30, 255}, 0.4), color.RGBA{20, 40, 180, 255}
	Fill(m, d.rings, red)
	Hatch(m, d.rings, d.pattern, 5+d.width, blue)
	for _, ring := range d.rings {
		Stroke(m, ring, true, d.width, blue, nil)
		Stroke(m, ring, false, d.width/2, red, []float64{d.width, 3})
	}
	Disc(m, d.at, d.width*2, red)
	Ring(m, d.at, d.width*5, d.width, blue)
	Arrow(m, d.at, geom.Px{X: 60, Y: 60}, d.width, red)
	RoundRect(m, image.Rect(3, 100, 60, 140), d.width, red)
	Rect(m, image.Rect(5, 300, 100, 330), 2, blue)
	Default().Text(m, geom.Px{X: d.at.X, Y: d.at.Y}, 9+d.width, blue, "Vena cava, 7")
	Bold().TextTurned(m, geom.Px{X: d.at.X, Y: d.at.Y}, 15, red, "Ap", 1)
	Blit(m, paper(image.Rect(2, 2, 30, 20), red), image.Pt(-9, 250))
}

// TestPartsMakeTheWhole: what is drawn into a part of the picture is exactly that part of the whole drawing, so cutting
// into bands cannot show.
func TestPartsMakeTheWhole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		wild := rapid.SampledFrom([]float64{100, 1000, 1e6, 1e12}).Draw(t, "reach")
		d := drawing{
			rings:   [][]geom.Px{points(t, 6, 50-wild, 150+wild), points(t, 5, 0, 200)},
			width:   rapid.Float64Range(0.3, 9).Draw(t, "width"),
			pattern: Pattern(rapid.IntRange(0, Patterns).Draw(t, "pattern")),
			at:      points(t, 1, -10, 210)[0],
		}
		whole := paper(image.Rect(-20, -7, 190, 333), white)
		d.draw(whole)
		banded := paper(whole.Rect, white)
		Bands(banded, d.draw)
		if !bytes.Equal(whole.Pix, banded.Pix) {
			t.Fatal("bands differ from the whole")
		}
		cut := image.Rect(31, 40, 77, 90)
		small := paper(cut, white)
		d.draw(small)
		part := whole.SubImage(cut).(*image.RGBA)
		for y := cut.Min.Y; y < cut.Max.Y; y++ {
			for x := cut.Min.X; x < cut.Max.X; x++ {
				if small.RGBAAt(x, y) != part.RGBAAt(x, y) {
					t.Fatalf("%d,%d: cut-out %v, whole %v", x, y, small.RGBAAt(x, y), part.RGBAAt(x, y))
				}
			}
		}
	})
}

func TestAnyCoordinates(t *testing.T) {
	odd := rapid.OneOf(rapid.Float64(), rapid.Float64Range(-50, 150),
		rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e9, -1e9, 1e300, 0, 0.5}))
	rapid.Check(t, func(t *rapid.T) {
		m := paper(image.Rect(-5, 3, 90, 70), white)
		pts := make([]geom.Px, rapid.IntRange(0, 6).Draw(t, "n"))
		for i := range pts {
			pts[i] = geom.Px{X: odd.Draw(t, "x"), Y: odd.Draw(t, "y")}
		}
		d := drawing{[][]geom.Px{pts, nil}, odd.Draw(t, "width"), Pattern(rapid.Byte().Draw(t, "pattern")),
			geom.Px{X: odd.Draw(t, "x"), Y: odd.Draw(t, "y")}}
		d.draw(m)
		Line(m, d.at, geom.Px{X: odd.Draw(t, "x"), Y: 4}, odd.Draw(t, "width"), black)
		Stroke(m, pts, true, 2, black, []float64{odd.Draw(t, "on"), odd.Draw(t, "off")})
		for i := 3; i < len(m.Pix); i += 4 {
			if m.Pix[i] != 255 {
				t.Fatal("an opaque picture became see-through")
			}
		}
		// the reused cells must have been left clean
		clean := paper(image.Rect(0, 0, 90, 70), black)
		Fill(clean, [][]geom.Px{{{X: 10.5, Y: 10.5}, {X: 20.5, Y: 10.5}, {X: 20.5, Y: 20.5}, {X: 10.5, Y: 20.5}}}, white)
		if inked(clean) != 100 {
			t.Fatalf("a square of 100 px inked %g", inked(clean))
		}
	})
	var none image.RGBA
	drawing{[][]geom.Px{{{X: 1}, {Y: 1}, {X: 4, Y: 4}}}, 2, Dots, geom.Px{}}.draw(&none)
	Bands(&none, func(*image.RGBA) { t.Error("a band of nothing") })
}

// TestPatternsDifferInGrey: seen in grey, every pattern differs from every other wherever the pattern's
// square repeats, whatever the shift between them.
func TestPatternsDifferInGrey(t *testing.T) {
	const n = 24
	draw := func(p Pattern) (v [n][n]float64) {
		m := paper(image.Rect(0, 0, 4*n, 4*n), black)
		Hatch(m, [][]geom.Px{{{X: 0, Y: 0}, {X: 300, Y: 0}, {X: 300, Y: 300}, {X: 0, Y: 300}}}, p, 8, white)
		for y := range n {
			for x := range n {
				v[y][x] = float64(m.RGBAAt(n+x, n+y).R) / 255
			}
		}
		return v
	}
	for p := Pattern(0); p < Patterns; p++ {
		a := draw(p)
		for q := p + 1; q < Patterns; q++ {
			b := draw(q)
			least := math.Inf(1)
			for s := range 64 {
				sum := 0.0
				for y := range n - 8 {
					for x := range n - 8 {
						sum += math.Abs(a[y][x] - b[y+s/8][x+s%8])
					}
				}
				least = math.Min(least, sum/((n-8)*(n-8)))
			}
			if least < 0.08 {
				t.Errorf("patterns %d and %d differ by %.3f of full ink", p, q, least)
			}
		}
	}
}

// TestBlending compares with the formula of Porter and Duff (1984) in floating point. A dab and a run must agree to the
// bit, or the edge of a cut-out would show.
func TestBlending(t *testing.T) {
	for range 20000 {
		var d [12]uint8
		for k := range d {
			d[k] = uint8(rand.IntN(256))
		}
		a := uint8(rand.IntN(256))
		c := color.RGBA{uint8(rand.IntN(int(a) + 1)), uint8(rand.IntN(int(a) + 1)), uint8(rand.IntN(int(a) + 1)), a}
		coverage := uint32(rand.IntN(256))
		if rand.IntN(3) == 0 {
			coverage = 255
		}
		b := newBrush(c)
		dabbed, run := d, d
		b.dab(dabbed[:], coverage)
		b.run(run[:], coverage)
		part := float64(coverage) / 255
		for k := range d {
			s := [4]uint8{c.R, c.G, c.B, c.A}[k%4]
			want := part*float64(s) + float64(d[k])*(1-part*float64(a)/255)
			if k < 4 && dabbed[k] != run[k] || math.Abs(float64(run[k])-want) > 1.01 {
				t.Fatalf("%v at %d over %v: %v, %v; part %d wants %.2f", c, coverage, d, dabbed, run, k, want)
			}
		}
		if k := 4; !bytes.Equal(dabbed[k:], d[k:]) {
			t.Fatal("a dab spilled over")
		}
	}
	m := paper(image.Rect(0, 0, 1, 1), black)
	FillRect(m, m.Rect, color.RGBA{200, 30, 30, 90}) // not multiplied by its alpha: held to it
	if got := m.RGBAAt(0, 0); got != (color.RGBA{90, 30, 30, 255}) {
		t.Errorf("%v", got)
	}
	if got := Fade(color.RGBA{200, 100, 0, 255}, 0.5); got != (color.RGBA{100, 50, 0, 128}) {
		t.Errorf("%v", got)
	}
}

func TestText(t *testing.T) {
	f := Default()
	wide, up, down := f.Measure(20, "Aorta")
	double, _, _ := f.Measure(40, "Aorta")
	if !(wide > 40 && wide < 70) || math.Abs(double-2*wide) > 1 || up < 15 || down < 2 {
		t.Fatalf("width %g, double %g, up %g, down %g", wide, double, up, down)
	}
	var ink [4]float64
	for turn := range 4 {
		m := paper(image.Rect(0, 0, 200, 200), black)
		f.TextTurned(m, geom.Px{X: 100, Y: 100}, 20, white, "Aorta", turn)
		ink[turn] = inked(m)
		x0, y0, x1, y1 := 200, 200, -1, -1
		for y := range 200 {
			for x := range 200 {
				if m.RGBAAt(x, y).R > 100 {
					x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x), max(y1, y)
				}
			}
		}
		box := image.Rect(x0-100, y0-100, x1-100, y1-100)
		for range turn { // back to level: a quarter turn anticlockwise
			box = image.Rect(box.Min.Y, -box.Min.X, box.Max.Y, -box.Max.X)
		}
		if !box.In(image.Rect(-2, -20, int(wide)+3, 7)) || float64(box.Dx()) < wide-6 || box.Max.Y > 2 {
			t.Errorf("turn %d: letters in %v, width %g", turn, box, wide)
		}
	}
	for turn, v := range ink {
		if math.Abs(v-ink[0]) > ink[0]*0.12 { // letters stand on whole pixels
			t.Errorf("turn %d has %.1f px of ink, level text %.1f", turn, v, ink[0])
		}
	}
	for _, size := range []float64{math.NaN(), math.Inf(1), -4, 0, 1e9} {
		f.Text(paper(image.Rect(0, 0, 20, 20), black), geom.Px{X: 1, Y: 9}, size, white, "Äß\u0000\U0010ffff\xff")
	}
}

func FuzzFont(f *testing.F) {
	f.Add([]byte("true"))
	f.Fuzz(func(t *testing.T, b []byte) {
		font, err := NewFont(b)
		if err != nil {
			return
		}
		font.Text(paper(image.Rect(0, 0, 20, 20), black), geom.Px{Y: 15}, 12, white, "ab")
	})
}

// outlines makes n rings of 100 points spread over the picture.
func outlines(n, w, h int) [][]geom.Px {
	r := rand.New(rand.NewPCG(1, 2))
	rings := make([][]geom.Px, n)
	for i := range rings {
		c, size := geom.Px{X: r.Float64() * float64(w), Y: r.Float64() * float64(h)}, 15+45*r.Float64()
		rings[i] = make([]geom.Px, 100)
		phase := r.Float64() * 6
		for k := range rings[i] {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / 100)
			d := size * (1 + 0.2*math.Sin(phase+7*2*math.Pi*float64(k)/100))
			rings[i][k] = geom.Px{X: c.X + d*cos, Y: c.Y + d*sin}
		}
	}
	return rings
}

func overlay(rings [][]geom.Px) func(*image.RGBA) {
	fill, line := Fade(color.RGBA{180, 40, 40, 255}, 0.35), color.RGBA{20, 20, 20, 255}
	one := make([][][]geom.Px, len(rings))
	for i := range rings {
		one[i] = rings[i : i+1]
	}
	return func(part *image.RGBA) {
		for i, ring := range rings {
			Fill(part, one[i], fill)
			Stroke(part, ring, true, 1.6, line, nil)
		}
	}
}

func TestOverlayAllocatesNothing(t *testing.T) {
	m := paper(image.Rect(0, 0, 400, 300), white)
	draw := overlay(outlines(20, 400, 300))
	f := Default()
	frame := func() {
		Bands(m, draw)
		f.Text(m, geom.Px{X: 5, Y: 50}, 14, black, "Aorta")
	}
	if n := testing.AllocsPerRun(200, frame); n > 0.2 {
		t.Errorf("%v allocations a frame", n)
	}
}

func BenchmarkOverlay300x100(b *testing.B) {
	m := paper(image.Rect(0, 0, 1600, 1000), white)
	draw := overlay(outlines(300, 1600, 1000))
	b.ReportAllocs()
	for b.Loop() {
		Bands(m, draw)
	}
}

func BenchmarkFill(b *testing.B) {
	m := paper(image.Rect(0, 0, 1600, 1000), white)
	rings := outlines(300, 1600, 1000)
	for _, n := range []int{1, 300} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				for i := range n {
					Fill(m, rings[i:i+1], Fade(black, 0.3))
				}
			}
		})
	}
}

func BenchmarkStroke300(b *testing.B) {
	m := paper(image.Rect(0, 0, 1600, 1000), white)
	rings := outlines(300, 1600, 1000)
	b.ReportAllocs()
	for b.Loop() {
		for _, ring := range rings {
			Stroke(m, ring, true, 1.6, black, nil)
		}
	}
}

func BenchmarkLabels300(b *testing.B) {
	m := paper(image.Rect(0, 0, 1600, 1000), white)
	b.ReportAllocs()
	for b.Loop() {
		for i := range 300 {
			Default().Text(m, geom.Px{X: float64(i * 5), Y: float64(20 + i*3)}, 13, black, "Vena cava inf.")
		}
	}
}

// One call must give to the bit what the two calls give, whatever the shape, and leave nothing behind for the next.
func TestFillHatchedIsFillThenHatch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rings := [][]geom.Px{points(t, rapid.IntRange(3, 9).Draw(t, "n"), -20, 60), points(t, 4, -20, 60)}
		p := Pattern(rapid.IntRange(0, Patterns-1).Draw(t, "pattern"))
		fill, hatch := Fade(color.RGBA{200, 90, 40, 255}, 0.3), Fade(color.RGBA{20, 200, 140, 255}, 0.6)
		one, two := paper(image.Rect(0, 0, 40, 40), black), paper(image.Rect(0, 0, 40, 40), black)
		for range 2 {
			FillHatched(one, rings, fill, p, 7, hatch)
			Fill(two, rings, fill)
			Hatch(two, rings, p, 7, hatch)
		}
		if !bytes.Equal(one.Pix, two.Pix) {
			t.Fatal("not the same")
		}
	})
}
