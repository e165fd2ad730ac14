package register

import (
	"context"
	"errors"
	"image"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/section"
)

type startPose struct {
	Section int      `json:"section"`
	Origin  geom.LPS `json:"origin"`
	X       geom.Vec `json:"x"`
	Y       geom.Vec `json:"y"`
	Start   float64  `json:"start_error"`
	Other   float64  `json:"elastix_error"`
	Seconds float64  `json:"elastix_seconds"`
}

// nineErrors is the mean distance at nine places round the middle, as the reference measures it.
func nineErrors(a, b geom.Pose, w, h int) (mean float64) {
	for _, u := range []float64{-130, 0, 130} {
		for _, v := range []float64{-85, 0, 85} {
			p := geom.MM{X: float64(w-1)/2 + u, Y: float64(h-1)/2 + v}
			mean += a.At(p).Dist(b.At(p)) / 9
		}
	}
	return mean
}

// Reference: the phantom's true poses, and what elastix 5.0.1 reached from the same 24 starts: median 0.93 mm, 17
// within 2 mm, at most 4.2 mm.
func TestRefineOnTheReferencePhantom(t *testing.T) {
	if testing.Short() {
		t.Skip("24 searches")
	}
	errs := refinePhantom(t)
	within := 0
	for _, e := range errs {
		if e <= 2 {
			within++
		}
	}
	slices.Sort(errs)
	median := (errs[11] + errs[12]) / 2
	t.Logf("median %.2f mm, %d of 24 within 2 mm, at most %.2f mm", median, within, errs[23])
	if median > 0.93 || within < 17 || errs[23] > 4.2 {
		t.Errorf("median %.2f mm (0.93), %d of 24 within 2 mm (17), at most %.2f mm (4.2)", median, within, errs[23])
	}
}

func refinePhantom(t testing.TB) (errs []float64) {
	scan, sections := phantomCT(t), phantomSections(t)
	var st struct{ Starts []startPose }
	load(t, "register/phantom_starts.json", &st)
	for _, s := range st.Starts {
		sec := sections[s.Section]
		from := Registration{Pose: geom.Pose{Origin: s.Origin, X: s.X, Y: s.Y, Scale: 1}, Method: ByLevel}
		if e := nineErrors(from.Pose, sec.pose(), sec.Size[0], sec.Size[1]); math.Abs(e-s.Start) > 1e-6 {
			t.Fatalf("the start is %g mm off, the reference's %g", e, s.Start)
		}
		r, err := Refine(context.Background(), from, sec.grey, 1, scan, Options{})
		if err != nil {
			t.Fatal(err)
		}
		errs = append(errs, nineErrors(r.Pose, sec.pose(), sec.Size[0], sec.Size[1]))
	}
	return errs
}

// BenchmarkRefinePhantom prints what the test above checks, with the time of one search.
func BenchmarkRefinePhantom(b *testing.B) {
	for b.Loop() {
		errs := refinePhantom(b)
		slices.Sort(errs)
		b.ReportMetric((errs[11]+errs[12])/2, "mm-median")
		b.ReportMetric(errs[23], "mm-most")
	}
	b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(24*b.N), "ms/search")
}

// torso is a small body of our own for tests that must run anywhere: an oval trunk with organs that differ left from right
// and from level to level; values as in CT.
func torso() *grid {
	g := newGrid([3]int{100, 70, 50}, geom.NewAffine(geom.Vec{X: 2}, geom.Vec{Y: 2}, geom.Vec{Z: 2}, geom.LPS{X: -99, Y: -69, Z: -49}))
	rng := rand.New(rand.NewPCG(11, 11))
	in := func(p geom.LPS, cx, cy, cz, rx, ry, rz float64) bool {
		a, b, c := (p.X-cx)/rx, (p.Y-cy)/ry, (p.Z-cz)/rz
		return a*a+b*b+c*c < 1
	}
	value := func(p geom.LPS) float64 {
		switch {
		case !in(p, 0, 0, 0, 88+0.1*p.Z, 58-0.12*p.Z, 1e3):
			return -1000
		case !in(p, 0, 0, 0, 80+0.1*p.Z, 50-0.12*p.Z, 1e3):
			return -100
		case in(p, 0, 34, 0, 13, 10, 1e3):
			return 400
		case in(p, 8+p.Z/10, 15, 0, 8, 8, 1e3):
			return 150
		case in(p, -35, -8, 20, 36, 34, 46):
			return 110
		case in(p, 40, 5, -18, 22, 28, 34):
			return 60
		case in(p, 12, -28, -10, 26, 14, 30):
			return 10
		case in(p, 45, -20, 34, 18, 14, 16):
			return 180
		}
		return -60 + 40*math.Sin(p.X/13)*math.Sin(p.Y/11+p.Z/9)
	}
	for k := range g.size[2] {
		for j := range g.size[1] {
			for i := range g.size[0] {
				g.v[(k*g.size[1]+j)*g.size[0]+i] = float32(value(g.toLPS.LPS(geom.IJK{I: float64(i), J: float64(j), K: float64(k)})) + 6*rng.NormFloat64())
			}
		}
	}
	return g
}

// sagging is how the test faces sag: down the picture, 3 % at the lower edge, with a little spread.
func sagging(w, h float64) func(geom.MM) geom.MM {
	return func(p geom.MM) geom.MM {
		x, y := (p.X-w/2)/(w/2), (p.Y-h/2)/(h/2)
		return geom.MM{X: p.X - 0.012*w/2*x*(y+0.5), Y: p.Y - 0.03*h/2*(y*y/2+0.3*x*x)}
	}
}

// photograph renders the cut of a scan as a face of w x h mm: colours by hue (a curve over scan values), uneven light, saw
// marks, sheen and noise.
func photograph(sample func(geom.LPS) float64, pose geom.Pose, warp func(geom.MM) geom.MM, w, h, spacing float64, hue func(float64) float64, seed uint64) *image.Gray {
	rng := rand.New(rand.NewPCG(seed, 5))
	nx, ny := int(w/spacing), int(h/spacing)
	img := image.NewGray(image.Rect(0, 0, nx, ny))
	type blob struct{ x, y, r float64 }
	var sheen []blob
	for range 6 {
		sheen = append(sheen, blob{rng.Float64() * w, rng.Float64() * h, 3 + 8*rng.Float64()})
	}
	lean, lift := 0.25*(rng.Float64()-0.5), 0.25*(rng.Float64()-0.5)
	for j := range ny {
		saw := 5 * math.Sin(float64(j)*spacing/1.7+3*math.Sin(float64(j)*spacing/40))
		for i := range nx {
			p := geom.MM{X: float64(i) * spacing, Y: float64(j) * spacing}
			q := p
			if warp != nil {
				q = warp(p)
			}
			v := sample(pose.At(q))
			if math.IsNaN(v) {
				v = -1000
			}
			g := hue(v)*(1+lean*(p.X/w*2-1)+lift*(p.Y/h*2-1)) + saw + 4*rng.NormFloat64()
			for _, b := range sheen {
				if d := math.Hypot(p.X-b.x, p.Y-b.y) / b.r; d < 1 {
					g += 200 * (1 - d)
				}
			}
			img.Pix[j*img.Stride+i] = uint8(min(max(g, 0), 255))
		}
	}
	return img
}

// curve runs through pairs of scan value and grey.
func curve(pairs ...float64) func(float64) float64 {
	return func(v float64) float64 {
		for i := 2; i < len(pairs); i += 2 {
			if v <= pairs[i] {
				f := (v - pairs[i-2]) / (pairs[i] - pairs[i-2])
				return pairs[i-1] + max(f, 0)*(pairs[i+1]-pairs[i-1])
			}
		}
		return pairs[len(pairs)-1]
	}
}

// Three ways tissue may look, none of them in the order of the scan's values.
var hues = []func(float64) float64{
	curve(-1000, 25, -300, 30, -110, 205, -60, 180, 0, 120, 60, 85, 120, 60, 200, 130, 400, 215, 1500, 225),
	curve(-1000, 200, -400, 60, -110, 90, -30, 170, 40, 140, 90, 190, 160, 40, 300, 100, 1500, 120),
	curve(-1000, 12, -300, 110, -110, 235, -20, 60, 50, 100, 110, 150, 180, 75, 350, 190, 1500, 240),
}

// away moves a pose by mm in a random direction and degrees about a random axis through the middle of the face.
func away(rng *rand.Rand, p geom.Pose, middle geom.MM, mm, degrees float64) geom.Pose {
	c := p.At(middle)
	axis := noise(rng, 1).Unit()
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	spin := func(v geom.Vec) geom.Vec {
		return v.Mul(cos).Add(axis.Cross(v).Mul(sin)).Add(axis.Mul(axis.Dot(v) * (1 - cos)))
	}
	p.X, p.Y = spin(p.X), spin(p.Y)
	p.Origin = c.Add(noise(rng, 1).Unit().Mul(mm))
	return p.Shift(p.X.Mul(-p.Scale * middle.X)).Shift(p.Y.Mul(-p.Scale * middle.Y))
}

// targetError is the mean distance between where r and the truth put the places of a face that show the body.
func targetError(r Registration, truth func(geom.MM) geom.LPS, places []geom.MM) (mean float64) {
	for _, p := range places {
		mean += r.At(p).Dist(truth(p)) / float64(len(places))
	}
	return mean
}

func torsoCase(scan *grid, seed uint64, warp bool) (face *image.Gray, from Registration, truth func(geom.MM) geom.LPS, places []geom.MM) {
	rng := rand.New(rand.NewPCG(seed, 77))
	const w, h = 190, 130
	pose, _ := section.SquarePose(section.Inferior, section.Anterior, geom.LPS{})
	pose = away(rng, pose, geom.MM{}, 0, 6)
	pose.Origin = geom.LPS{Z: 10 * rng.Float64()}.Add(pose.X.Mul(-w / 2)).Add(pose.Y.Mul(-h / 2))
	shape := sagging(w, h)
	if !warp {
		shape = func(p geom.MM) geom.MM { return p }
	}
	for _, u := range []float64{-70, -35, 0, 35, 70} {
		for _, v := range []float64{-40, 0, 40} {
			places = append(places, geom.MM{X: w/2 + u, Y: h/2 + v})
		}
	}
	face = photograph(scan.Sample, pose, shape, w, h, 1, hues[seed%3], seed)
	from = Registration{Pose: away(rng, pose, geom.MM{X: w / 2, Y: h / 2}, 6, 5), Method: ByLevel}
	return face, from, func(p geom.MM) geom.LPS { return pose.At(shape(p)) }, places
}

func TestRefineOnATorso(t *testing.T) {
	scan := torso()
	for seed := range uint64(3) {
		face, from, truth, places := torsoCase(scan, seed, false)
		r, err := Refine(context.Background(), from, face, 1, scan, Options{})
		if err != nil {
			t.Fatal(err)
		}
		before, after := targetError(from, truth, places), targetError(r, truth, places)
		t.Logf("colouring %d: from %.1f to %.2f mm, %s", seed, before, after, r.Status)
		if after > 1 || r.Method != ByRefined || r.Steps == 0 || r.Score <= 0 {
			t.Errorf("colouring %d: from %.1f to %.2f mm, %+v", seed, before, after, r)
		}
		again, err := Refine(context.Background(), from, face, 1, scan, Options{})
		if err != nil || again.Pose != r.Pose || again.Score != r.Score {
			t.Errorf("the same input gave another answer: %v and %v, %v", r.Pose, again.Pose, err)
		}
	}
}

// Sag of three per cent: bending must bring the targets nearer than the flat pose alone.
func TestRefineUndoesSag(t *testing.T) {
	scan := torso()
	var flat, bent float64
	for seed := range uint64(3) {
		face, from, truth, places := torsoCase(scan, 10+seed, true)
		a, err := Refine(context.Background(), from, face, 1, scan, Options{})
		if err != nil {
			t.Fatal(err)
		}
		b, err := Refine(context.Background(), from, face, 1, scan, Options{Bend: true})
		if err != nil {
			t.Fatal(err)
		}
		if b.Warp == nil {
			t.Fatalf("no warp: %s", b.Status)
		}
		for _, p := range places {
			if s := b.Warp.Strain(p); s > 1.5*strainMost {
				t.Errorf("the warp strains %.0f %% at %v", 100*s, p)
			}
			at, off := b.Find(b.At(p))
			if at.Dist(p) > 1e-4 || math.Abs(off) > 1e-6 {
				t.Errorf("%v comes back as %v, %g off", p, at, off)
			}
		}
		flat, bent = flat+targetError(a, truth, places)/3, bent+targetError(b, truth, places)/3
	}
	t.Logf("flat %.2f mm, bent %.2f mm", flat, bent)
	if bent > 0.8*flat || bent > 1 {
		t.Errorf("flat %.2f mm, bent %.2f mm", flat, bent)
	}
}

func TestRefineStopsWhenAsked(t *testing.T) {
	scan := torso()
	face, from, _, _ := torsoCase(scan, 1, false)
	ctx, cancel := context.WithCancel(context.Background())
	var heard []float64
	_, err := Refine(ctx, from, face, 1, scan, Options{Advance: func(share float64, _ string) {
		heard = append(heard, share)
		if share > 0.3 {
			cancel()
		}
	}})
	if !errors.Is(err, context.Canceled) || len(heard) < 3 || !slices.IsSorted(heard) {
		t.Errorf("%v after %v", err, heard)
	}
	cancel()
	if r, err := Refine(ctx, from, face, 1, scan, Options{}); !errors.Is(err, context.Canceled) || r.Pose != from.Pose {
		t.Errorf("begun after it was called off: %v", err)
	}
}

// Landmarks that hold a face where its content does not lie must win.
func TestRefineKeepsLandmarks(t *testing.T) {
	scan := torso()
	face, _, truth, places := torsoCase(scan, 2, false)
	rng := rand.New(rand.NewPCG(9, 9))
	tie := func(off geom.Vec) (ties []Tie) {
		for i, p := range places {
			if i%2 == 0 {
				ties = append(ties, Tie{Face: geom.Px(p), Scan: truth(p).Add(off).Add(noise(rng, 0.4))})
			}
		}
		return ties
	}
	good, err := FromTies("s", Unity, tie(geom.Vec{}), section.Inferior, false)
	if err != nil {
		t.Fatal(err)
	}
	r, err := Refine(context.Background(), good, face, 1, scan, Options{})
	if err != nil || r.Method != ByRefined || targetError(r, truth, places) > 0.8 || r.ErrorAt(middle) != r.Fit.RMS {
		t.Errorf("%v, %s, %.2f mm", err, r.Status, targetError(r, truth, places))
	}
	// the same landmarks, all 9 mm too far to the left, and trusted little enough to be left behind
	bad, err := FromTies("s", Unity, tie(geom.Vec{X: 9}), section.Inferior, false)
	if err != nil {
		t.Fatal(err)
	}
	bad.Method = ByLevel // as when the pose came first and the landmarks only check it
	kept, err := Refine(context.Background(), bad, face, 1, scan, Options{})
	if err != nil || kept.Pose != bad.Pose || !strings.HasPrefix(kept.Status, "kept") {
		t.Errorf("%v, %s: the landmarks were left", err, kept.Status)
	}
}

// A start known so badly, or a step wished so fine, that the block would not fit in memory must only make the step coarser.
func TestRefineBoundsItsMemory(t *testing.T) {
	for _, o := range []Options{{Rough: Rough{Level: 5000}}, {Finest: 0.001}, {Rough: Rough{Shift: 2000, Level: 900}}} {
		s := search{Options: o}
		whole := &picture{w: 3000, h: 2000, step: 0.1, v: make([]float32, 3000*2000)}
		faces := s.pyramid(whole, 1)
		r := s.reach(150, 100, faces[0].step)
		if n := 8 * r[0] * r[1] * r[2] / math.Pow(faces[0].step, 3); n > mostSamples {
			t.Errorf("%+v: %.0f samples at %g mm", o, n, faces[0].step)
		}
	}
}

func TestRefineRefuses(t *testing.T) {
	scan := torso()
	face, from, _, _ := torsoCase(scan, 1, false)
	for name, try := range map[string]func() (Registration, error){
		"no picture": func() (Registration, error) { return Refine(context.Background(), from, nil, 1, scan, Options{}) },
		"no scale":   func() (Registration, error) { return Refine(context.Background(), from, face, 0, scan, Options{}) },
		"all hidden": func() (Registration, error) {
			return Refine(context.Background(), from, face, 1, scan, Options{Inside: image.NewAlpha(face.Rect)})
		},
		"beside the scan": func() (Registration, error) {
			off := from
			off.Pose.Origin.Z += 900
			return Refine(context.Background(), off, face, 1, scan, Options{})
		},
	} {
		if r, err := try(); !errors.Is(err, ErrNothingToSee) || r.Method != from.Method {
			t.Errorf("%s: %v", name, err)
		}
	}
	bad := from
	bad.Pose.Scale = 0
	if _, err := Refine(context.Background(), bad, face, 1, scan, Options{}); err == nil {
		t.Error("a pose that cannot be was refined")
	}
}

// The slopes the search follows, against differences of what it makes small; once stiff, once bent.
func TestSearchSlopes(t *testing.T) {
	scan := torso()
	face, from, truth, places := torsoCase(scan, 3, true)
	for _, p := range places {
		from.Places = append(from.Places, p)
		from.Ties = append(from.Ties, Tie{Face: geom.Px(p), Scan: truth(p)})
		from.Fit.Each = append(from.Fit.Each, 1)
	}
	from.Method, from.Fit.Freedom = ByTies, 20
	s, err := newSearch(context.Background(), from, face, 1, scan, Options{})
	if err != nil {
		t.Fatal(err)
	}
	st := s.stage(2)
	m := append([]float64{1, -2, 1.5, 2, -1, 2, 1}, make([]float64, 0)...)
	check := func() {
		t.Helper()
		grad := make([]float64, len(m))
		st.cost(m, grad)
		step := make([]float64, len(m))
		rng := rand.New(rand.NewPCG(1, 2))
		var want float64
		for k := range step {
			step[k] = rng.NormFloat64()
			want += step[k] * grad[k]
		}
		const h = 2e-3
		cost := func(f float64) float64 {
			moved := slices.Clone(m)
			for k := range moved {
				moved[k] += f * step[k]
			}
			return st.cost(moved, nil)
		}
		near(t, "slope", (cost(h)-cost(-h))/(2*h), want, 0.02*math.Abs(want)+1e-4)
	}
	check()
	b, err := newBend(st.x, st.y, knotsAcross)
	if err != nil {
		t.Fatal(err)
	}
	st.free(b)
	rng := rand.New(rand.NewPCG(3, 4))
	for range 2 * len(b.knots) {
		m = append(m, rng.NormFloat64())
	}
	check()
	// the basis must be the spline itself
	w, err := b.warp(m[freedoms:], geom.MM{}, 1)
	if err != nil {
		t.Fatal(err)
	}
	st.shape(m[freedoms:])
	for i := 0; i < len(st.x); i += 97 {
		q := w.At(geom.MM{X: st.x[i], Y: st.y[i]})
		near(t, "bent place", math.Hypot(q.X-st.bx[i], q.Y-st.by[i]), 0, 1e-3)
	}
}

// Light that falls off to one side must be found again.
func TestUnevenLight(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 6))
	truth := shade{0.14, -0.09, 0.05, 0, -0.06}
	var x, y []float64
	var bright, scan []float32
	for j := -60.0; j < 60; j += 2 {
		for i := -90.0; i < 90; i += 2 {
			tissue := (int(i+90)/25 + int(j+60)/20) % 4
			x, y = append(x, i), append(y, j)
			scan = append(scan, float32([]float64{-100, 20, 60, 300}[tissue]+5*rng.NormFloat64()))
			g := []float64{190, 120, 70, 200}[tissue]
			bright = append(bright, float32((g+10)*math.Exp(truth.at(i/90, j/90))-10+4*rng.NormFloat64()))
		}
	}
	got := unevenLight(x, y, bright, scan, 90)
	var worst float64
	base := truth.at(0, 0) - got.at(0, 0)
	for i := range x {
		worst = math.Max(worst, math.Abs(got.at(x[i]/90, y[i]/90)-truth.at(x[i]/90, y[i]/90)+base))
	}
	if worst > 0.05 {
		t.Errorf("the light is off by %.0f %%: %v, want %v", 100*worst, got, truth)
	}
	if s := unevenLight(nil, nil, nil, nil, 1); s != (shade{}) {
		t.Errorf("nothing is lit unevenly: %v", s)
	}
}
