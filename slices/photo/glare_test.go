package photo

import (
	"context"
	"errors"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"sectionary/slices/geom"
)

// lampScene is a flat face of tissue under a lamp, photographed by a camera that may stand a little otherwise. The renderer
// is the truth: it can leave the shine out, which no camera can.
type lampScene struct {
	w, h    int
	lamp    geom.Px // where its light is strongest, and where it shines
	shines  []geom.Px
	turn    float64 // degrees of the camera
	shift   geom.Px
	tilt    float64 // of the camera, as perspective across the picture
	noise   float64
	seed    uint64  // of the noise
	tissue  uint64  // of what is photographed
	warm    float64 // of the lamp, a part more red
	noShine bool
}

// tissueAt is the colour of the face, 0 to 1: fat and muscle with fibres, of several sizes.
func tissueAt(x, y float64, seed uint64) (c [3]float64) {
	v := 0.0
	for k, amp := 0, 0.5; k < 5; k, amp = k+1, amp*0.6 {
		v += amp * valueNoise(x*math.Pow(2.1, float64(k))/160, y*math.Pow(2.1, float64(k))/160, seed+uint64(k))
	}
	t := clampUnit(0.5 + v)
	return [3]float64{0.35 + 0.4*t, 0.16 + 0.42*t, 0.13 + 0.28*t}
}

func valueNoise(x, y float64, seed uint64) float64 {
	at := func(i, k float64) float64 {
		n := uint64(int64(i))*0x9E3779B97F4A7C15 ^ uint64(int64(k))*0xC2B2AE3D27D4EB4F ^ seed*0x165667B19E3779F9
		n ^= n >> 29
		n *= 0xBF58476D1CE4E5B9
		n ^= n >> 32
		return float64(n>>11)/(1<<53)*2 - 1
	}
	i, k := math.Floor(x), math.Floor(y)
	fx, fy := x-i, y-k
	fx, fy = fx*fx*(3-2*fx), fy*fy*(3-2*fy)
	return (at(i, k)*(1-fx)+at(i+1, k)*fx)*(1-fy) + (at(i, k+1)*(1-fx)+at(i+1, k+1)*fx)*fy
}

func (s lampScene) render() *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, s.w, s.h))
	rnd := rand.New(rand.NewPCG(s.seed, 1))
	sin, cos := math.Sincos(s.turn * math.Pi / 180)
	cx, cy := float64(s.w)/2, float64(s.h)/2
	for y := range s.h {
		for x := range s.w {
			dx, dy := float64(x)-cx, float64(y)-cy
			k := 1 + s.tilt*dx/float64(s.w)
			fx, fy := cx+(cos*dx-sin*dy)/k+s.shift.X, cy+(sin*dx+cos*dy)/k+s.shift.Y // place on the face
			c := tissueAt(fx, fy, s.tissue)
			far := math.Hypot(fx-s.lamp.X, fy-s.lamp.Y) / float64(s.w)
			light := 0.75 + 0.35*math.Exp(-2*far*far)
			shine := 0.0
			if !s.noShine {
				for i, p := range s.shines {
					r := 14 + 9*float64(i%3)
					d := math.Hypot(fx-p.X, (fy-p.Y)*1.4) / r
					shine += 1.6 * math.Exp(-d*d)
				}
			}
			p := img.Pix[img.PixOffset(x, y):]
			for n, warm := range [3]float64{1 + s.warm, 1, 1 - s.warm} {
				v := c[n]*light*warm + shine + s.noise/255*rnd.NormFloat64()
				p[n] = uint8(math.Round(255 * clampUnit(v)))
			}
			p[3] = 255
		}
	}
	return img
}

func lampPair(n uint64) (first, second, truth lampScene) {
	rnd := rand.New(rand.NewPCG(n, 77))
	first = lampScene{w: 800, h: 620, lamp: geom.Px{X: 200, Y: 160}, noise: 2, seed: 2 * n, tissue: 10 + n}
	second = first
	second.seed, second.lamp = 2*n+1, geom.Px{X: 610, Y: 480}
	second.turn, second.shift = 2, geom.Px{X: 15, Y: -9}
	second.tilt, second.warm = 0.01, 0.04
	for range 6 {
		first.shines = append(first.shines, geom.Px{X: 90 + 560*rnd.Float64(), Y: 80 + 190*rnd.Float64()})
		second.shines = append(second.shines, geom.Px{X: 90 + 560*rnd.Float64(), Y: 350 + 190*rnd.Float64()})
	}
	truth = first
	truth.noise, truth.noShine = 0, true
	return first, second, truth
}

// Two pictures with the lamp moved, the camera turned by 2 degrees, shifted and noisy: where the first shines the made picture
// comes near the truth that the renderer knows without shine; everywhere else it is the first to the last bit.
func TestRemoveGlare(t *testing.T) {
	for n := range uint64(3) {
		first, second, truth := lampPair(n)
		a, want := first.render(), truth.render()
		u, err := RemoveGlare(context.Background(), NewImage(a), NewImage(second.render()), Border{})
		if err != nil {
			t.Fatal(err)
		}
		shine := newMask(first.w, first.h) // by the renderer: more than 12 levels of it
		for i := range shine.in {
			shine.in[i] = int(a.Pix[4*i+1])-int(want.Pix[4*i+1]) > 12
		}
		wide := shine.grown(30)
		var before, after, count, changed, far float64
		for i := range shine.in {
			differs := false
			for c := range 3 {
				if shine.in[i] {
					before += math.Abs(float64(a.Pix[4*i+c]) - float64(want.Pix[4*i+c]))
					after += math.Abs(float64(u.Picture.Pix[4*i+c]) - float64(want.Pix[4*i+c]))
					count++
				}
				differs = differs || a.Pix[4*i+c] != u.Picture.Pix[4*i+c]
			}
			if differs {
				changed++
				if !wide.in[i] {
					far++
				}
			}
		}
		before, after = before/count, after/count
		t.Logf("scene %d: turned %.2f, shifted %.1f px, alike %.2f, off %.2f px; error where it shone %.1f levels before, %.2f after; %.2f %% of the picture shone, %.3f %% still does; %.2f %% taken",
			n, u.Alignment.Turn, u.Alignment.Shift, u.Alignment.Alike, u.Alignment.Off, before, after, 100*u.Before, 100*u.After, 100*u.Share)
		if after > 4 || after > before/20 {
			t.Errorf("scene %d: error %.2f levels, %.1f before", n, after, before)
		}
		if far > 0 || math.Abs(changed/float64(len(shine.in))-u.Share) > 0.2*u.Share {
			t.Errorf("scene %d: %.0f pixels changed far from any shine; %.4f changed, %.4f told", n, far, changed/float64(len(shine.in)), u.Share)
		}
		if u.After > 0.1*u.Before {
			t.Errorf("scene %d: %.2f %% still shines", n, 100*u.After)
		}
		// the map: a point of the first must come to the same point of the face on the second
		for _, p := range []geom.Px{{X: 80, Y: 80}, {X: 720, Y: 100}, {X: 400, Y: 310}, {X: 700, Y: 570}} {
			q := u.Alignment.ToSecond.MM(p)
			sin, cos := math.Sincos(2 * math.Pi / 180)
			dx, dy := q.X-400, q.Y-310
			k := 1 + 0.01*dx/800
			if off := math.Hypot(400+(cos*dx-sin*dy)/k+15-p.X, 310+(sin*dx+cos*dy)/k-9-p.Y); off > 0.3 {
				t.Errorf("scene %d: %v lies %.2f px off", n, p, off)
			}
		}
	}
}

// What cannot be put right is refused in words: other tissue, other sizes, no shine, shine in one place on both.
func TestRemoveGlareRefuses(t *testing.T) {
	ctx := context.Background()
	first, second, truth := lampPair(9)
	a := NewImage(first.render())
	other := second
	other.tissue = 99
	if _, err := RemoveGlare(ctx, a, NewImage(other.render()), Border{}); !errors.Is(err, ErrUnalike) {
		t.Error("another face:", err)
	}
	small := second
	small.w -= 10
	if _, err := RemoveGlare(ctx, a, NewImage(small.render()), Border{}); !errors.Is(err, ErrUnalike) {
		t.Error("another size:", err)
	}
	far := second
	far.turn = 40
	if _, err := RemoveGlare(ctx, a, NewImage(far.render()), Border{}); !errors.Is(err, ErrUnalike) {
		t.Error("turned by 40 degrees:", err)
	}
	if _, err := RemoveGlare(ctx, NewImage(truth.render()), NewImage(second.render()), Border{}); !errors.Is(err, ErrNoGlare) {
		t.Error("nothing shines:", err)
	}
	same := first
	same.seed = 55
	if _, err := RemoveGlare(ctx, a, NewImage(same.render()), Border{}); !errors.Is(err, ErrNoGlare) {
		t.Error("the lamp was not moved:", err)
	}
	stopped, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := RemoveGlare(stopped, a, NewImage(second.render()), Border{}); !errors.Is(err, context.Canceled) {
		t.Error("stopped:", err)
	}
}

func BenchmarkRemoveGlare24MP(b *testing.B) {
	first, second, _ := lampPair(3)
	grow := func(s lampScene) *Image {
		small := NewImage(s.render())
		img := image.NewRGBA(image.Rect(0, 0, 6000, 4650))
		small.Draw(img, [6]float64{1 / 7.5, 0, 0, 0, 1 / 7.5, 0})
		return NewImage(img)
	}
	p, q := grow(first), grow(second)
	for b.Loop() {
		if _, err := RemoveGlare(context.Background(), p, q, Border{}); err != nil {
			b.Fatal(err)
		}
	}
}
