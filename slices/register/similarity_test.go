package register

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"pgregory.net/rapid"
	"sectionary/slices/geom"
)

// grey reads a portable grey map of 64 x 64 pixels.
func grey(t testing.TB, path string) []float32 {
	t.Helper()
	b, err := os.ReadFile("../../testdata/register/" + path)
	if err != nil {
		t.Fatal(err)
	}
	head := []byte("P5\n64 64\n255\n")
	if !bytes.HasPrefix(b, head) {
		t.Fatalf("%s begins with %q", path, b[:12])
	}
	out := make([]float32, 64*64)
	for i, v := range b[len(head):] {
		out[i] = float32(v)
	}
	return out
}

type similarityTruth struct {
	Hist   map[string]struct{ Hx, Hy, Hxy, MI, NMI_Studholme float64 } `json:"hist_MI"`
	Mattes float64                                                     `json:"mattes_32_numpy"`
	NCC    float64                                                     `json:"ncc"`
	LNCC2  float64                                                     `json:"lncc_r2"`
	LNCC4  float64                                                     `json:"lncc_r4"`
	Search struct {
		Best [2]int  `json:"best_dx_dy"`
		NMI  float64 `json:"best_NMI"`
	} `json:"shift_search"`
}

// Reference: numpy and scikit-image, ITK for the spline-smoothed information; tolerance 1e-6.
func TestSimilarityAgainstReference(t *testing.T) {
	var truth similarityTruth
	load(t, "register/similarity.json", &truth)
	a, b := grey(t, "simA.pgm"), grey(t, "simB.pgm")
	for bins, want := range truth.Hist {
		var n int
		fmt.Sscan(bins, &n)
		got, err := JointInformation(a, b, n, 0, 256)
		if err != nil {
			t.Fatal(err)
		}
		near(t, bins+" bins, H(a)", got.A, want.Hx, 1e-6)
		near(t, bins+" bins, H(b)", got.B, want.Hy, 1e-6)
		near(t, bins+" bins, joint", got.Joint, want.Hxy, 1e-6)
		near(t, bins+" bins, mutual", got.Mutual(), want.MI, 1e-6)
		near(t, bins+" bins, normalised", got.Normalised(), want.NMI_Studholme, 1e-6)
	}
	near(t, "smoothed information", newShared(a, 32).measure(b, nil), truth.Mattes, 1e-6)
	near(t, "smoothed information, ITK", newShared(a, 32).measure(b, nil), 0.822644706906, 1e-6)
	near(t, "correlation", Correlation(a, b), truth.NCC, 1e-6)
	near(t, "squared correlation, ITK", math.Pow(Correlation(a, b), 2), 0.642007231067, 1e-6)
	near(t, "local correlation, radius 2", LocalCorrelation(a, b, 64, 64, 2), truth.LNCC2, 1e-6)
	near(t, "local correlation, radius 4", LocalCorrelation(a, b, 64, 64, 4), truth.LNCC4, 1e-6)
}

// The best of all shifts by up to five pixels must be the true one, by both forms of information.
func TestBestShiftIsTheTrueOne(t *testing.T) {
	var truth similarityTruth
	load(t, "register/similarity.json", &truth)
	a, b := grey(t, "simA.pgm"), grey(t, "simB.pgm")
	var best, bestSmooth [2]int
	most, mostSmooth := 0.0, 0.0
	for dy := -5; dy <= 5; dy++ {
		for dx := -5; dx <= 5; dx++ {
			var p, q []float32
			for y := max(0, -dy); y < 64-max(0, dy); y++ {
				for x := max(0, -dx); x < 64-max(0, dx); x++ {
					p, q = append(p, a[y*64+x]), append(q, b[(y+dy)*64+x+dx])
				}
			}
			i, err := JointInformation(p, q, 32, 0, 256)
			if err != nil {
				t.Fatal(err)
			}
			if n := i.Normalised(); n > most {
				most, best = n, [2]int{dx, dy}
			}
			if n := newShared(p, 32).measure(q, nil); n > mostSmooth {
				mostSmooth, bestSmooth = n, [2]int{dx, dy}
			}
		}
	}
	if best != truth.Search.Best || bestSmooth != truth.Search.Best {
		t.Errorf("best shifts %v and %v, want %v", best, bestSmooth, truth.Search.Best)
	}
	near(t, "normalised information there", most, truth.Search.NMI, 1e-6)
}

// The derivative by each value against differences of the measure itself.
func TestSharedGradient(t *testing.T) {
	a, b := grey(t, "simA.pgm"), grey(t, "simB.pgm")
	s := newShared(a, 32)
	s.lo, s.hi = -10, 300
	b[7] = float32(math.NaN())
	grad := make([]float32, len(b))
	s.measure(b, grad)
	if grad[7] != 0 {
		t.Error("a value outside the scan has a slope")
	}
	rng := rand.New(rand.NewPCG(1, 1))
	step := make([]float32, len(b))
	for i := range step {
		step[i] = float32(rng.NormFloat64())
	}
	moved := func(h float32) []float32 {
		out := make([]float32, len(b))
		for i := range b {
			out[i] = b[i] + h*step[i]
		}
		return out
	}
	var want float64
	for i := range grad {
		want += float64(grad[i] * step[i])
	}
	const h = 0.05
	got := (s.measure(moved(h), nil) - s.measure(moved(-h), nil)) / (2 * h)
	near(t, "directional derivative", got, want, 2e-3*math.Abs(want))
}

func TestSimilarityOfNothing(t *testing.T) {
	flat := make([]float32, 100)
	rising := make([]float32, 100)
	for i := range rising {
		rising[i] = float32(i)
	}
	if i, err := JointInformation(flat, rising, 16, 0, 100); err != nil || i.Mutual() != 0 {
		t.Errorf("a flat picture shares %g, %v", i.Mutual(), err)
	}
	if i, err := JointInformation(nil, nil, 16, 0, 100); err != nil || i.Normalised() != 1 {
		t.Errorf("nothing shares %v, %v", i, err)
	}
	if _, err := JointInformation(flat, rising[:3], 16, 0, 100); err == nil {
		t.Error("unequal lists were taken")
	}
	if newShared(rising, 32).measure(flat, make([]float32, 100)) != 0 || LocalCorrelation(flat, rising, 10, 10, 2) != 0 || LocalCorrelation(flat, rising, 3, 3, 2) != 0 {
		t.Error("a flat picture is like another")
	}
	if !math.IsNaN(Correlation(flat, rising)) {
		t.Error("a flat picture correlates")
	}
}

// Reference: Bookstein's five-landmark example, by numpy to 1e-6; his printed figures (recalled) to 1e-4.
func TestWarpAgainstReference(t *testing.T) {
	var truth struct {
		Src, Dst, Query, Mapped []geom.MM
		Weights                 []geom.MM
		Affine                  [3]geom.MM `json:"affine_rows_1_x_y"`
		Bending                 [2]float64 `json:"bending_xLx_yLy"`
		Lambda                  float64    `json:"regularised_lambda"`
		MappedReg               []geom.MM  `json:"mapped_reg"`
		Published               struct {
			WX []float64 `json:"w_x"`
			WY []float64 `json:"w_y"`
		} `json:"published_4dp"`
	}
	load(t, "register/tps.json", &truth)
	w, err := FitWarp(truth.Src, truth.Dst, 0)
	if err != nil {
		t.Fatal(err)
	}
	for i := range truth.Weights {
		near(t, "weight", w.Weights[i].Dist(truth.Weights[i]), 0, 1e-6)
		near(t, "printed weight x", w.Weights[i].X, truth.Published.WX[i], 1.1e-4)
		near(t, "printed weight y", w.Weights[i].Y, truth.Published.WY[i], 1.1e-4)
	}
	for k, a := range truth.Affine {
		near(t, "flat x", w.Flat[k], a.X, 1e-6)
		near(t, "flat y", w.Flat[3+k], a.Y, 1e-6)
	}
	for i, q := range truth.Query {
		near(t, "mapped", w.At(q).Dist(truth.Mapped[i]), 0, 1e-6)
		near(t, "and back", w.Back(w.At(q)).Dist(q), 0, 1e-6)
	}
	near(t, "bending", w.Bending(), truth.Bending[0]+truth.Bending[1], 1e-6)
	loose, err := FitWarp(truth.Src, truth.Dst, truth.Lambda)
	if err != nil {
		t.Fatal(err)
	}
	for i, q := range truth.Query {
		near(t, "mapped loosely", loose.At(q).Dist(truth.MappedReg[i]), 0, 1e-6)
	}
	if loose.Bending() >= w.Bending() {
		t.Error("a looser warp bends more")
	}
}

func TestWarpProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		jitter := rapid.Float64Range(-4, 4)
		var from, to []geom.MM
		for y := range 4 {
			for x := range 5 {
				p := geom.MM{X: 60 * float64(x), Y: 60 * float64(y)}
				from = append(from, p)
				to = append(to, geom.MM{X: p.X + jitter.Draw(t, "dx"), Y: p.Y + jitter.Draw(t, "dy")})
			}
		}
		w, err := FitWarp(from, to, 0)
		if err != nil {
			t.Fatal(err)
		}
		for i := range from {
			if w.At(from[i]).Dist(to[i]) > 1e-8 {
				t.Fatalf("knot %d goes to %v, not %v", i, w.At(from[i]), to[i])
			}
		}
		p := geom.MM{X: rapid.Float64Range(0, 240).Draw(t, "x"), Y: rapid.Float64Range(0, 180).Draw(t, "y")}
		if back := w.Back(w.At(p)); back.Dist(p) > 1e-6 {
			t.Fatalf("%v comes back as %v", p, back)
		}
		j, h := w.Jacobian(p), 1e-4
		x := w.At(geom.MM{X: p.X + h, Y: p.Y})
		y := w.At(geom.MM{X: p.X, Y: p.Y + h})
		o := w.At(p)
		for k, want := range []float64{(x.X - o.X) / h, (y.X - o.X) / h, (x.Y - o.Y) / h, (y.Y - o.Y) / h} {
			if math.Abs(j[k]-want) > 1e-4 {
				t.Fatalf("slope %d is %g, want %g", k, j[k], want)
			}
		}
	})
	var none *Warp
	p := geom.MM{X: 3, Y: 4}
	if none.At(p) != p || none.Back(p) != p || none.Bending() != 0 || none.Strain(p) != 0 {
		t.Error("no warp moves a point")
	}
	// three per cent longer and one shorter, turned by 30 degrees: by hand
	sin, cos := math.Sincos(math.Pi / 6)
	s := &Warp{Flat: [6]float64{0, 1.03 * cos, -0.99 * sin, 0, 1.03 * sin, 0.99 * cos}}
	near(t, "strain", s.Strain(p), 0.03, 1e-12)
	for name, from := range map[string][]geom.MM{"on a line": {{X: 0}, {X: 1}, {X: 2}, {X: 3}}, "twice in one place": {{X: 0}, {X: 1}, {Y: 2}, {Y: 2}}, "two": {{X: 0}, {Y: 1}}} {
		if _, err := FitWarp(from, from, 0); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
}
