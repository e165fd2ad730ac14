package photo

import (
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"sectionary/slices/geom"
)

// rulerScene is a picture with one ruler of known place in it. The renderer below is the truth: it knows where each
// tick lies and shares nothing with the finder.
type rulerScene struct {
	name    string
	w, h    int
	mm      float64 // length of the ruler
	step    float64 // mm from tick to tick
	kind    int     // 0 ticks of 1, 5 and 10 mm, 1 ticks all alike, 2 dark and light fields, 3 a step scale
	perMM   float64 // px
	turn    float64 // degrees
	tilt    float64 // degrees of the camera, about the axis square to the ruler
	light   bool    // light ticks on a dark ruler
	blur    float64 // px, standard deviation
	noise   float64 // grey levels
	glare   int     // spots on the ruler
	hidden  float64 // part of the ruler under something
	seed    uint64
	at      geom.Px // middle of the ruler in the picture
	noRuler bool
}

const rulerWide = 24.0 // mm across

// lay makes the map from the picture to the ruler: a pinhole camera focal px away that is tilted.
func (s *rulerScene) lay() (toMM func(geom.Px) (x, y float64), toPx func(x, y float64) geom.Px) {
	sin, cos := math.Sincos(s.turn * math.Pi / 180)
	st, ct := math.Sincos(s.tilt * math.Pi / 180)
	focal := 1.4 * float64(max(s.w, s.h))
	toPx = func(x, y float64) geom.Px {
		u, v := (x-s.mm/2)*s.perMM, (y-rulerWide/2)*s.perMM
		k := focal / (focal + u*st)
		u, v = u*ct*k, v*k
		return geom.Px{X: s.at.X + cos*u - sin*v, Y: s.at.Y + sin*u + cos*v}
	}
	toMM = func(p geom.Px) (float64, float64) {
		dx, dy := p.X-s.at.X, p.Y-s.at.Y
		u, v := cos*dx+sin*dy, cos*dy-sin*dx
		u = u * focal / (focal*ct - u*st)
		k := focal / (focal + u*st)
		return u/s.perMM + s.mm/2, v/k/s.perMM + rulerWide/2
	}
	return toMM, toPx
}

// ink is the brightness of the ruler at (x, y) mm, 0 to 1; ok is false outside.
func (s *rulerScene) ink(x, y float64) (v float64, ok bool) {
	if x < -6 || x > s.mm+6 || y < 0 || y > rulerWide {
		return 0, false
	}
	ground, mark := 0.86, 0.12
	if s.light {
		ground, mark = mark, ground
	}
	k := math.Round(x / s.step)
	switch s.kind {
	case 0, 1:
		if x < -s.step/2 || x > s.mm+s.step/2 {
			return ground, true
		}
		long := 8.0
		if s.kind == 0 {
			switch n := int(k) * int(s.step); {
			case n%10 == 0:
				long = 10
			case n%5 == 0:
				long = 7
			default:
				long = 4.5
			}
		}
		if math.Abs(x-k*s.step) < 0.13+0.02*s.step && y > 1 && y < 1+long {
			return mark, true
		}
	case 2:
		if n := math.Floor(x / s.step); x >= 0 && x < s.mm && y > 6 && y < 14 {
			if int(n)%2 == 0 {
				return mark, true
			}
			return ground, true
		}
	case 3:
		if n := math.Floor(x / s.step); x >= 0 && x < s.mm && y > 2 && y < 14 {
			return math.Pow(0.9*math.Pow(10, -0.1*n), 1/2.2), true
		}
	}
	return ground, true
}

// box lists the parts of rows, x0, x1 and y, that the ruler may lie in.
func (s *rulerScene) box() (rows [][3]int) {
	if s.noRuler {
		return nil
	}
	_, toPx := s.lay()
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), 0.0, 0.0
	for _, c := range [4][2]float64{{-6, 0}, {s.mm + 6, 0}, {-6, rulerWide}, {s.mm + 6, rulerWide}} {
		p := toPx(c[0], c[1])
		x0, y0, x1, y1 = min(x0, p.X-1), min(y0, p.Y-1), max(x1, p.X+2), max(y1, p.Y+2)
	}
	for y := max(0, int(y0)); y < min(s.h, int(y1)); y++ {
		rows = append(rows, [3]int{max(0, int(x0)), min(s.w, int(x1)), y})
	}
	return rows
}

// render paints the scene with 3 x 3 samples to a pixel on a tray with tissue and writing, then blurs and adds noise.
func (s *rulerScene) render() *Image {
	rnd := rand.New(rand.NewPCG(s.seed, 5))
	toMM, _ := s.lay()
	v := make([]float64, s.w*s.h)
	ground := 0.25 + 0.5*rnd.Float64()
	type blob struct{ x, y, r, v float64 }
	var blobs []blob
	for range 220 {
		blobs = append(blobs, blob{rnd.Float64() * float64(s.w), rnd.Float64() * float64(s.h) * 0.7, 5 + 60*rnd.Float64(), 0.5 * (rnd.Float64() - 0.5)})
	}
	type spot struct{ x, r float64 }
	var glare []spot
	for range s.glare {
		glare = append(glare, spot{rnd.Float64() * s.mm, 2 + 4*rnd.Float64()})
	}
	cover := rnd.Float64() * s.mm * (1 - s.hidden)
	for i := range v {
		v[i] = ground
	}
	for _, b := range blobs {
		for y := max(0, int(b.y-b.r)); y < min(s.h, int(b.y+b.r)); y++ {
			for x := max(0, int(b.x-b.r)); x < min(s.w, int(b.x+b.r)); x++ {
				if d := math.Hypot(float64(x)-b.x, float64(y)-b.y); d < b.r {
					v[y*s.w+x] = clampUnit(v[y*s.w+x] + b.v*min(1, (b.r-d)/2))
				}
			}
		}
	}
	for range 60 { // strokes of writing
		x, y, l, a := rnd.Float64()*float64(s.w), rnd.Float64()*float64(s.h), 6+20*rnd.Float64(), rnd.Float64()*math.Pi
		for d := 0.0; d < l; d += 0.5 {
			px, py := int(x+d*math.Cos(a)), int(y+d*math.Sin(a))
			if px >= 0 && py >= 0 && px < s.w-1 && py < s.h-1 {
				v[py*s.w+px], v[py*s.w+px+1] = 0.05, 0.05
			}
		}
	}
	for _, p := range s.box() {
		for x := p[0]; x < p[1]; x++ {
			y := p[2]
			var sum float64
			n := 0
			for k := range 9 {
				mx, my := toMM(geom.Px{X: float64(x) + float64(k%3-1)/3, Y: float64(y) + float64(k/3-1)/3})
				if c, ok := s.ink(mx, my); ok && !(mx > cover && mx < cover+s.hidden*s.mm) {
					for _, g := range glare {
						if d := math.Hypot(mx-g.x, my-6) / g.r; d < 1.5 {
							c = min(1, c+1.5*math.Exp(-2*d*d))
						}
					}
					sum, n = sum+c, n+1
				}
			}
			if n > 0 {
				v[y*s.w+x] = (sum + float64(9-n)*v[y*s.w+x]) / 9
			}
		}
	}
	v = gaussian(v, s.w, s.h, s.blur)
	img := image.NewRGBA(image.Rect(0, 0, s.w, s.h))
	for i, x := range v {
		g := uint8(math.Round(255 * clampUnit(x+s.noise/255*rnd.NormFloat64())))
		img.SetRGBA(i%s.w, i/s.w, color.RGBA{g, uint8(float64(g) * 0.95), uint8(float64(g) * 0.9), 255})
	}
	return NewImage(img)
}

func clampUnit(x float64) float64 { return max(0, min(x, 1)) }

func gaussian(v []float64, w, h int, sigma float64) []float64 {
	if sigma == 0 {
		return v
	}
	n := int(3*sigma + 1)
	k := make([]float64, 2*n+1)
	var sum float64
	for i := range k {
		k[i] = math.Exp(-float64((i-n)*(i-n)) / (2 * sigma * sigma))
		sum += k[i]
	}
	tmp, out := make([]float64, len(v)), make([]float64, len(v))
	for y := range h {
		for x := range w {
			for i, c := range k {
				tmp[y*w+x] += c / sum * v[y*w+clamp(x+i-n, w)]
			}
		}
	}
	for y := range h {
		for x := range w {
			for i, c := range k {
				out[y*w+x] += c / sum * tmp[clamp(y+i-n, h)*w+x]
			}
		}
	}
	return out
}

// judge holds a suggestion against the scene: the spacing against the true distances of the ticks that lie under its
// ends, relative, and how far the ends lie from the nearest true tick along the ruler, px.
func (s *rulerScene) judge(r Ruler) (spacing, ends float64) {
	toMM, _ := s.lay()
	x0, _ := toMM(r.First)
	x1, _ := toMM(r.Last)
	each := math.Abs(x1-x0) / float64(r.Steps)
	want := s.step
	if s.kind == 0 {
		for _, w := range []float64{1, 5, 10} { // the long ticks alone are ticks too
			if w >= s.step && math.Abs(each-w) < math.Abs(each-want) {
				want = w
			}
		}
	}
	for _, x := range []float64{x0, x1} {
		ends = max(ends, math.Abs(x-math.Round(x/want)*want)*s.perMM)
	}
	return each/want - 1, ends
}

func rulerScenes() (out []rulerScene) {
	rnd := rand.New(rand.NewPCG(3, 9))
	for n := range 48 {
		s := rulerScene{w: 1500, h: 1100, seed: uint64(n + 1), kind: n % 4, turn: -180 + 360*rnd.Float64(), light: rnd.IntN(3) == 0}
		s.perMM = 4 + 4*rnd.Float64()
		s.step, s.mm = 1, float64(60+10*rnd.IntN(7))
		switch s.kind {
		case 1:
			s.step = []float64{2, 5, 10}[rnd.IntN(3)]
			s.mm = max(s.mm, 9*s.step)
		case 2, 3:
			s.step = 10
			s.mm = 100
		}
		s.mm = min(s.mm, 880/s.perMM-12)
		s.mm = math.Floor(s.mm/s.step) * s.step
		if s.mm < 9*s.step {
			s.mm, s.perMM = 10*s.step, min(s.perMM, 860/(10*s.step+12))
		}
		s.at = geom.Px{X: 520 + 460*rnd.Float64(), Y: 520 + 60*rnd.Float64()}
		s.tilt = 10 * (2*rnd.Float64() - 1)
		s.blur = []float64{0.5, 0.8, 1.2}[rnd.IntN(3)]
		s.noise = []float64{1, 3, 6}[rnd.IntN(3)]
		s.glare = rnd.IntN(3)
		if s.kind < 2 && s.mm/s.step > 30 && rnd.IntN(3) == 0 {
			s.hidden = 0.15
		}
		s.name = fmt.Sprintf("%d kind %d, step %g of %g mm, %.1f px/mm, turn %.0f, tilt %.1f, blur %.1f, noise %.0f, hidden %.2f", n, s.kind, s.step, s.mm, s.perMM, s.turn, s.tilt, s.blur, s.noise, s.hidden)
		out = append(out, s)
	}
	return out
}

// Every ruler with ticks is found, and most bars and step scales of ten fields (a hole in a short row is not forgiven, for letters
// stand so), in rendered scenes, at any angle, of either polarity, blurred, noisy, tilted by up to 10
// degrees, with glare and partly hidden; its spacing is that of the renderer. Bounds: common practice, no source.
func TestFindRulerInScenes(t *testing.T) {
	if testing.Short() {
		t.Skip("half a minute; the bounds are those of all scenes, so a part of them proves nothing")
	}
	scenes := rulerScenes()
	found, wrong, ticksMissed := 0, 0, 0
	var errs, ends []float64
	for _, s := range scenes {
		r, err := FindRuler(context.Background(), s.render())
		if errors.Is(err, ErrNoRuler) {
			t.Log("missed:", s.name)
			if s.kind < 2 {
				ticksMissed++
			}
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		spacing, end := s.judge(r)
		if math.Abs(spacing) > 0.01 || end > 0.3*s.step*s.perMM {
			wrong++
			t.Logf("wrong by %.2f %%, end %.1f px: %s: %d of %d ticks, %.2f px", 100*spacing, end, s.name, r.Seen, r.Steps+1, r.Spacing)
			continue
		}
		found++
		errs, ends = append(errs, math.Abs(spacing)), append(ends, end)
	}
	slices.Sort(errs)
	slices.Sort(ends)
	n := len(errs)
	t.Logf("found %d of %d, wrong %d; spacing off by %.3f %% in the median, %.3f %% in nine of ten, %.3f %% at most; ends off by %.2f px in the median, %.2f px in nine of ten",
		found, len(scenes), wrong, 100*errs[n/2], 100*errs[n*9/10], 100*errs[n-1], ends[n/2], ends[n*9/10])
	if ticksMissed > 0 || found*100 < 83*len(scenes) || wrong > 0 || errs[n-1] > 0.005 || ends[n*9/10] > 1 {
		t.Error("too few found, or not well enough")
	}
}

// Pictures without a ruler bring no suggestion: tissue, writing, trays.
func TestFindRulerWithoutOne(t *testing.T) {
	for n := range uint64(24) {
		s := rulerScene{w: 1500, h: 1100, seed: 100 + n, noRuler: true, blur: 0.6, noise: float64(1 + n%6), perMM: 5, mm: 100}
		if r, err := FindRuler(context.Background(), s.render()); !errors.Is(err, ErrNoRuler) {
			t.Errorf("picture %d: %+v %v", n, r, err)
		}
	}
}

// The grey card on the real section photograph: its step is 10.0 mm and its description says 0.33 mm per pixel.
func TestFindRulerOnSectionPhoto(t *testing.T) {
	m := sharedFile(t, "section-photo", "avf1432a.png")
	r, err := FindRuler(context.Background(), m)
	if err != nil {
		t.Fatal(err)
	}
	mm := 10 / r.Spacing
	t.Logf("%d steps, %d ticks seen, %.3f px (%.3f) a step, %.2f degrees: %.4f mm per pixel", r.Steps, r.Seen, r.Spacing, r.SD, r.Direction, mm)
	if math.Abs(mm/0.33-1) > 0.01 {
		t.Errorf("%.4f mm per pixel", mm)
	}
}

// Sections of a film hold a grey card of 20 steps of 10 mm at the lower edge, coarse and full of compression's blocks; what
// is found elsewhere in the frame is a false alarm. 0.515 mm per pixel, +-3 %, is the description's figure.
func TestFindRulerOnSectionFrames(t *testing.T) {
	found := 0
	for _, n := range []int{380, 460, 504, 508, 588, 668, 748} {
		m := sharedFile(t, "section-frames", fmt.Sprintf("image-%04d.jpeg", n))
		r, err := FindRuler(context.Background(), m)
		if errors.Is(err, ErrNoRuler) {
			continue
		}
		found++
		fields := math.Round(r.Spacing / (10 / 0.515))
		t.Logf("frame %d: %d ticks, %.0f fields of 10 mm from one to the next: %.4f mm per pixel", n, r.Seen, fields, 10*fields/r.Spacing)
		if r.First.Y < 630 || r.Last.Y < 630 || math.Abs(10*fields/r.Spacing/0.515-1) > 0.03 {
			t.Errorf("frame %d: %+v %v", n, r, err)
		}
	}
	if found == 0 {
		t.Error("the card was found on none of the frames")
	}
}

func BenchmarkFindRuler24MP(b *testing.B) {
	s := rulerScene{w: 6000, h: 4000, mm: 150, step: 1, perMM: 14, turn: 3, tilt: 4, seed: 2, at: geom.Px{X: 3000, Y: 3400}, noise: 3, blur: 0.8}
	m := s.render()
	b.ResetTimer()
	for range b.N {
		if _, err := FindRuler(context.Background(), m); err != nil {
			b.Fatal(err)
		}
	}
}
