package photo

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"sectionary/slices/geom"
)

// noise makes a picture whose neighbouring pixels differ in every colour.
func noise(w, h int, seed uint64) *image.RGBA {
	r := rand.New(rand.NewPCG(seed, 1))
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range m.Pix {
		m.Pix[i] = byte(r.IntN(256))
		if i%4 == 3 {
			m.Pix[i] = 255
		}
	}
	return m
}

func noisePlanes(w, h int, ratio image.YCbCrSubsampleRatio, seed uint64) *image.YCbCr {
	r := rand.New(rand.NewPCG(seed, 2))
	m := image.NewYCbCr(image.Rect(0, 0, w, h), ratio)
	for _, plane := range [][]byte{m.Y, m.Cb, m.Cr} {
		for i := range plane {
			plane[i] = byte(r.IntN(256))
		}
	}
	return m
}

var ratios = []image.YCbCrSubsampleRatio{
	image.YCbCrSubsampleRatio444, image.YCbCrSubsampleRatio422, image.YCbCrSubsampleRatio420,
	image.YCbCrSubsampleRatio440, image.YCbCrSubsampleRatio411, image.YCbCrSubsampleRatio410,
}

// TestPixelsAsDecoded compares our own conversion with image/color (ITU T.871 formulas), sample by sample.
func TestPixelsAsDecoded(t *testing.T) {
	for _, ratio := range ratios {
		src := noisePlanes(37, 23, ratio, 3)
		m := NewImage(src)
		for y := range 23 {
			for x := range 37 {
				want := color.RGBAModel.Convert(src.At(x, y)).(color.RGBA)
				if got := m.At(geom.Px{X: float64(x), Y: float64(y)}); got != want {
					t.Fatalf("%v at %d,%d: %v, want %v", ratio, x, y, got, want)
				}
			}
		}
	}
	for cb := range 256 {
		for cr := range 256 {
			for _, y := range []uint8{0, 1, 90, 254, 255} {
				r, g, b := color.YCbCrToRGB(y, uint8(cb), uint8(cr))
				want := uint32(r) | uint32(g)<<8 | uint32(b)<<16 | opaque
				if got := rgb(int32(y)<<16, uint8(cb), uint8(cr)); got != want {
					t.Fatalf("rgb(%d,%d,%d) = %x, want %x", y, cb, cr, got, want)
				}
			}
		}
	}
}

// TestWholePixelMapsAreExact paints by every turn and mirror with whole-pixel shifts: each pixel of dst must be one
// pixel of the photograph, or untouched outside.
func TestWholePixelMapsAreExact(t *testing.T) {
	turnings := [][6]float64{
		{1, 0, 0, 0, 1, 0}, {-1, 0, 36, 0, 1, 0}, {1, 0, 0, 0, -1, 22}, {-1, 0, 36, 0, -1, 22},
		{0, 1, 0, 1, 0, 0}, {0, 1, 0, -1, 0, 22}, {0, -1, 36, 1, 0, 0}, {0, -1, 36, -1, 0, 22},
	}
	before := color.RGBA{1, 2, 3, 4}
	sources := []image.Image{noise(37, 23, 5)}
	for _, r := range ratios {
		sources = append(sources, noisePlanes(37, 23, r, 5))
	}
	for s, src := range sources {
		m := NewImage(src)
		for _, to := range turnings {
			for _, shift := range []float64{0, 3, -5} {
				to[2] += shift
				dst := image.NewRGBA(image.Rect(-4, -3, 45, 40))
				for i := range dst.Pix {
					dst.Pix[i] = byte(i%4 + 1)
				}
				m.Draw(dst, to)
				for y := dst.Rect.Min.Y; y < dst.Rect.Max.Y; y++ {
					for x := dst.Rect.Min.X; x < dst.Rect.Max.X; x++ {
						want := m.At(apply(to, geom.Px{X: float64(x), Y: float64(y)}))
						if want.A == 0 {
							want = before
						}
						if got := dst.RGBAAt(x, y); got != want {
							t.Fatalf("source %d, map %v at %d,%d: %v, want %v", s, to, x, y, got, want)
						}
					}
				}
			}
		}
	}
}

// bilinear is the textbook formula in floating point on one level, edges repeated.
func bilinear(at func(x, y int) [3]float64, w, h int, u, v float64) [3]float64 {
	x, y := math.Floor(u), math.Floor(v)
	fx, fy := u-x, v-y
	get := func(dx, dy float64) [3]float64 {
		return at(clamp(int(x+dx), w), clamp(int(y+dy), h))
	}
	var p [3]float64
	a, b, c, d := get(0, 0), get(1, 0), get(0, 1), get(1, 1)
	for k := range p {
		p[k] = (a[k]*(1-fx)+b[k]*fx)*(1-fy) + (c[k]*(1-fx)+d[k]*fx)*fy
	}
	return p
}

// TestDrawIsBilinear compares any affine map at the finest level with the formula in floating point; 8-bit weights
// may cost 2 grey levels.
func TestDrawIsBilinear(t *testing.T) {
	src := noise(61, 47, 9)
	m := NewImage(src)
	at := func(x, y int) [3]float64 {
		c := src.RGBAAt(x, y)
		return [3]float64{float64(c.R), float64(c.G), float64(c.B)}
	}
	rapid.Check(t, func(t *rapid.T) {
		step := rapid.Float64Range(0.2, 1.7).Draw(t, "step")
		angle := rapid.Float64Range(0, 2*math.Pi).Draw(t, "angle")
		if rapid.Bool().Draw(t, "level") {
			angle = 0
		}
		sin, cos := math.Sincos(angle)
		to := [6]float64{step * cos, -step * sin, rapid.Float64Range(-40, 90).Draw(t, "x"),
			step * sin, step * cos, rapid.Float64Range(-40, 90).Draw(t, "y")}
		dst := image.NewRGBA(image.Rect(0, 0, 90, 80))
		m.Draw(dst, to)
		for y := range 80 {
			for x := range 90 {
				p := apply(to, geom.Px{X: float64(x), Y: float64(y)})
				const edge = 1e-4
				inside := p.X > -0.5+edge && p.Y > -0.5+edge && p.X < 60.5-edge && p.Y < 46.5-edge
				outside := p.X < -0.5-edge || p.Y < -0.5-edge || p.X > 60.5+edge || p.Y > 46.5+edge
				got := dst.RGBAAt(x, y)
				if outside && got.A != 0 || inside && got.A != 255 {
					t.Fatalf("at %d,%d (photo %v) alpha %d", x, y, p, got.A)
				}
				if !inside {
					continue
				}
				want := bilinear(at, 61, 47, p.X, p.Y)
				for k, v := range [3]uint8{got.R, got.G, got.B} {
					if math.Abs(float64(v)-want[k]) > 2 {
						t.Fatalf("at %d,%d part %d: %d, want %.2f", x, y, k, v, want[k])
					}
				}
			}
		}
	})
}

// TestLevelsKeepPlace paints a linear ramp at many zooms: averaging and interpolation keep a ramp exactly, so
// any half-pixel slip between levels would show.
func TestLevelsKeepPlace(t *testing.T) {
	const w, h = 1024, 768
	src := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			src.SetRGBA(x, y, color.RGBA{uint8(x / 4), uint8(y / 3), uint8((x + y) / 8), 255})
		}
	}
	m := NewImage(src)
	for _, step := range []float64{0.3, 0.9, 1, 1.7, 1.9, 3, 5.5, 8, 13} {
		dw, dh := int(w/step), int(h/step)
		dst := image.NewRGBA(image.Rect(0, 0, dw, dh))
		off := (step - 1) / 2
		m.Draw(dst, [6]float64{step, 0, off, 0, step, off})
		var sum [3]float64
		n := 0.0
		for y := 4; y < dh-4; y++ {
			for x := 4; x < dw-4; x++ {
				u, v := step*float64(x)+off, step*float64(y)+off
				c := dst.RGBAAt(x, y)
				// a ramp of whole numbers lies 3/8, 1/3 and 7/16 of a level below the line it stands for
				off := [3]float64{float64(c.R) + 0.375 - u/4, float64(c.G) + 0.333 - v/3, float64(c.B) + 0.4375 - (u+v)/8}
				for k, d := range off {
					if sum[k] += d; math.Abs(d) > 2 {
						t.Fatalf("step %g at %d,%d: %v for photo %g,%g", step, x, y, c, u, v)
					}
				}
				n++
			}
		}
		for k, limit := range [3]float64{0.3, 0.3, 0.5} { // grey levels; rounding leans on the slant, half a pixel would be more
			if math.Abs(sum[k]/n) > limit {
				t.Errorf("step %g: part %d off by %.2f on average", step, k, sum[k]/n)
			}
		}
	}
}

func TestDrawSurvivesAnyMap(t *testing.T) {
	images := []*Image{NewImage(noise(33, 9, 1)), NewImage(noisePlanes(1, 1, image.YCbCrSubsampleRatio420, 1)),
		NewImage(image.NewRGBA(image.Rectangle{})), NewImage(image.NewGray(image.Rect(3, 4, 200, 7)))}
	rapid.Check(t, func(t *rapid.T) {
		var to [6]float64
		for i := range to {
			to[i] = rapid.OneOf(rapid.Float64(), rapid.Float64Range(-50, 50), rapid.SampledFrom([]float64{
				0, 1, -1, math.NaN(), math.Inf(1), 1e5, -1e5, 1e10, -1e10, 1e-300})).Draw(t, "m")
		}
		dst := image.NewRGBA(image.Rect(-7, 5, 70, 75))
		rapid.SampledFrom(images).Draw(t, "image").Draw(dst, to)
	})
}

func TestDrawAllocatesNothing(t *testing.T) {
	m := NewImage(noise(400, 300, 1))
	dst := image.NewRGBA(image.Rect(0, 0, 300, 200))
	if n := testing.AllocsPerRun(200, func() { m.Draw(dst, [6]float64{1.3, 0.1, 3, -0.1, 1.3, 20}) }); n > 0.1 {
		t.Errorf("%v allocations a frame", n)
	}
}

// photograph makes planes with the grain and the muted colours of a section photograph.
func photograph(w, h int) *image.YCbCr {
	m := noisePlanes(w, h, image.YCbCrSubsampleRatio420, 1)
	for i := range m.Y {
		m.Y[i] = 40 + byte(i%w*120/w) + m.Y[i]/8
	}
	for i := range m.Cb {
		m.Cb[i], m.Cr[i] = 110+m.Cb[i]/16, 130+m.Cr[i]/16
	}
	return m
}

func BenchmarkDraw24MP(b *testing.B) {
	m := NewImage(photograph(6000, 4000))
	dst := image.NewRGBA(image.Rect(0, 0, 1600, 1000))
	for _, step := range []float64{0.1, 0.5, 1, 1.75, 3.75} {
		for _, turned := range []struct {
			name string
			deg  float64
		}{{"level", 0}, {"quarter", 90}, {"oblique", 7}} {
			sin, cos := math.Sincos(turned.deg * math.Pi / 180)
			x, y := 3000-step*(800*cos-500*sin), 2000-step*(800*sin+500*cos)
			b.Run(fmt.Sprintf("step%g/%s", step, turned.name), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					m.Draw(dst, [6]float64{step * cos, -step * sin, x, step * sin, step * cos, y})
				}
			})
		}
	}
}

func BenchmarkLevels24MP(b *testing.B) {
	src := photograph(6000, 4000)
	for b.Loop() {
		NewImage(src)
	}
}

func BenchmarkPreview24MP(b *testing.B) {
	m := NewImage(photograph(6000, 4000))
	for b.Loop() {
		m.Preview(2172)
	}
}
