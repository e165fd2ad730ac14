package photo

import (
	"encoding/json"
	"errors"
	"image"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"sectionary/slices/geom"
)

func testFile(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "photo", name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

type pair [2]float64

func (p pair) px() geom.Px { return geom.Px{X: p[0], Y: p[1]} }

// truth is testdata/photo/calibration.json, which names its sources and tolerances.
type truth struct {
	Ruler struct {
		P0, P1  pair
		Length  float64 `json:"length_mm"`
		Scale   float64 `json:"mm_per_px"`
		Click   float64 `json:"u_click_px"`
		Ruler   float64 `json:"u_ruler_mm"`
		Measure struct {
			Q0, Q1 pair
			MM     float64 `json:"mm"`
			Click  float64 `json:"u_click_px"`
			U      float64 `json:"u_mm"`
		}
		Parallax struct {
			Camera float64 `json:"camera_distance_mm"`
			Offset float64 `json:"ruler_offset_mm"`
			Error  float64 `json:"relative_error"`
		}
	}
	Four struct {
		Px     []pair     `json:"src_px"`
		MM     []pair     `json:"dst_mm"`
		H      [][]string `json:"H_full"`
		Points []pair
		Mapped []pair `json:"mapped_mm"`
		Local  struct {
			At   pair
			Size float64 `json:"sqrt_abs_det"`
		} `json:"local_scale_mm_per_px_at_centre"`
	} `json:"homography4"`
	Grid struct {
		Px, MM    []pair
		RMS       float64 `json:"rms_mm_dlt"`
		Query     []pair
		Mapped    []pair `json:"mapped_dlt"`
		CV        []pair `json:"mapped_cv2"`
		Outliers  []int
		PxBad     []pair `json:"px_with_outliers"`
		MappedOne []pair `json:"mapped_inliers_only"`
	} `json:"homography_grid"`
}

func loadTruth(t *testing.T) (tr truth) {
	t.Helper()
	if err := json.Unmarshal(testFile(t, "calibration.json"), &tr); err != nil {
		t.Fatal(err)
	}
	return tr
}

func tiesOf(px, mm []pair) []Tie {
	ties := make([]Tie, len(px))
	for i := range px {
		ties[i] = Tie{px[i].px(), geom.MM{X: mm[i][0], Y: mm[i][1]}}
	}
	return ties
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.9g, want %.9g within %g", what, got, want, tolerance)
	}
}

func TestRuler(t *testing.T) {
	tr := loadTruth(t).Ruler
	c, err := TwoTicks(tr.P0.px(), tr.P1.px(), tr.Length)
	if err != nil {
		t.Fatal(err)
	}
	x, y := c.PerPixel(geom.Px{X: 77, Y: 3000})
	near(t, "mm per pixel along x", x, tr.Scale, 1e-9)
	near(t, "mm per pixel along y", y, tr.Scale, 1e-9)
	mm, sd, err := c.Length(tr.Measure.Q0.px(), tr.Measure.Q1.px())
	if err != nil {
		t.Fatal(err)
	}
	near(t, "length", mm, tr.Measure.MM, 1e-8)
	if tr.Click != TickSpread || tr.Ruler != RulerSpread || tr.Measure.Click != ClickSpread {
		t.Fatal("the table was made with other spreads")
	}
	near(t, "spread", sd, tr.Measure.U, 1e-9)

	// The ruler of the table lies nearer the camera than the face: a drop below zero.
	h := ScaleHeight{Drop: -tr.Parallax.Offset, Camera: tr.Parallax.Camera}
	near(t, "parallax", h.Factor()-1, tr.Parallax.Error, 1e-9)
	high, err := c.WithHeight(h)
	if err != nil {
		t.Fatal(err)
	}
	long, _, _ := high.Length(tr.Measure.Q0.px(), tr.Measure.Q1.px())
	near(t, "length with scale height", long, mm*(1+tr.Parallax.Error), 1e-6)
	back, err := high.WithHeight(ScaleHeight{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "height taken back", back.ToMM[0], c.ToMM[0], 1e-15)
}

// Similar triangles worked by hand: camera 1000 mm, scale 25 mm below the face: 102.5 mm read are 100.0.
func TestScaleHeightByHand(t *testing.T) {
	c, err := TwoTicks(geom.Px{}, geom.Px{X: 1025}, 102.5)
	if err != nil {
		t.Fatal(err)
	}
	if c, err = c.WithHeight(ScaleHeight{Drop: 25, Camera: 1000}); err != nil {
		t.Fatal(err)
	}
	mm, _, _ := c.Length(geom.Px{Y: 9}, geom.Px{X: 1025, Y: 9})
	near(t, "102.5 mm", mm, 100, 1e-9)
	for _, h := range []ScaleHeight{{Drop: 5}, {Drop: -900, Camera: 800}, {Drop: 1, Camera: math.NaN()}, {Drop: math.Inf(1), Camera: 1}} {
		if _, err := c.WithHeight(h); err == nil {
			t.Errorf("%+v passed", h)
		}
	}
}

func TestFourCorners(t *testing.T) {
	tr := loadTruth(t).Four
	c, err := Grid(tiesOf(tr.Px, tr.MM))
	if err != nil {
		t.Fatal(err)
	}
	for i := range c.ToMM {
		var want float64
		if err := json.Unmarshal([]byte(tr.H[i/3][i%3]), &want); err != nil {
			t.Fatal(err)
		}
		near(t, "homography", c.ToMM[i], want, 1e-9*math.Max(1, math.Abs(want)))
	}
	for i, p := range tr.Points {
		near(t, "x", c.MM(p.px()).X, tr.Mapped[i][0], 1e-6)
		near(t, "y", c.MM(p.px()).Y, tr.Mapped[i][1], 1e-6)
		if back := c.Px(c.MM(p.px())); back.Dist(p.px()) > 1e-6 {
			t.Errorf("%v came back as %v", p, back)
		}
	}
	near(t, "pixel size", c.PixelSize(tr.Local.At.px()), tr.Local.Size, 1e-8)
	if c.Status != Rectified || c.Fit.Freedom != 0 {
		t.Errorf("status %v, freedom %d", c.Status, c.Fit.Freedom)
	}
}

func TestGridOfTicks(t *testing.T) {
	tr := loadTruth(t).Grid
	c, err := Grid(tiesOf(tr.Px, tr.MM))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "rms", c.Fit.RMS, tr.RMS, 1e-7)
	for i, q := range tr.Query {
		near(t, "x", c.MM(q.px()).X, tr.Mapped[i][0], 1e-6)
		near(t, "x against OpenCV", c.MM(q.px()).X, tr.CV[i][0], 0.02)
		near(t, "y against OpenCV", c.MM(q.px()).Y, tr.CV[i][1], 0.02)
	}
	c, bad, err := GridRobust(tiesOf(tr.PxBad, tr.MM))
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(bad, tr.Outliers) {
		t.Errorf("outliers %v, want %v", bad, tr.Outliers)
	}
	for i, q := range tr.Query {
		near(t, "x of the rest", c.MM(q.px()).X, tr.MappedOne[i][0], 0.02)
		near(t, "y of the rest", c.MM(q.px()).Y, tr.MappedOne[i][1], 0.02)
	}
	if _, bad, _ := GridRobust(tiesOf(tr.Px, tr.MM)); len(bad) != 0 {
		t.Errorf("clean ties called outliers: %v", bad)
	}
}

func TestGridRefuses(t *testing.T) {
	tr := loadTruth(t).Four
	ties := tiesOf(tr.Px, tr.MM)
	mirrored := slices.Clone(ties)
	for i := range mirrored {
		mirrored[i].MM.X = 200 - mirrored[i].MM.X
	}
	crossed := []Tie{{ties[0].Px, ties[0].MM}, {ties[1].Px, ties[2].MM}, {ties[2].Px, ties[1].MM}, {ties[3].Px, ties[3].MM}}
	line := slices.Clone(ties)
	for i := range line {
		line[i].Px.Y = line[i].Px.X / 2
	}
	for _, test := range []struct {
		name string
		ties []Tie
		want error
	}{
		{"mirrored", mirrored, ErrMirroredTies}, {"crossed", crossed, ErrHorizon},
		{"three", ties[:3], geom.ErrTooFewPoints}, {"line", line, geom.ErrDegenerate},
	} {
		if _, err := Grid(test.ties); !errors.Is(err, test.want) {
			t.Errorf("%s: %v, want %v", test.name, err, test.want)
		}
	}
	c, err := Grid(ties)
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Check(image.Pt(4000, 3000)); err != nil {
		t.Error(err)
	}
	// w = 1 - 2.9e-7 x - 2.7e-5 y vanishes some 36,600 pixels down.
	if err := c.Check(image.Pt(4000, 40000)); !errors.Is(err, ErrHorizon) {
		t.Errorf("horizon inside the picture: %v", err)
	}
}

func TestNoScaleNoLengths(t *testing.T) {
	var c Calibration
	if _, _, err := c.Length(geom.Px{}, geom.Px{X: 100}); !errors.Is(err, ErrNoScale) {
		t.Error(err)
	}
	if _, _, err := c.RingArea([]geom.Px{{}, {X: 1}, {Y: 1}}); !errors.Is(err, ErrNoScale) {
		t.Error(err)
	}
	if x, y := c.PerPixel(geom.Px{}); !math.IsNaN(x) || !math.IsNaN(y) || !math.IsNaN(c.MM(geom.Px{}).X) || !math.IsNaN(c.Px(geom.MM{}).X) {
		t.Error("a picture without scale gave numbers")
	}
	if _, err := c.WithHeight(ScaleHeight{}); !errors.Is(err, ErrNoScale) {
		t.Error(err)
	}
}

// TestSpreadOfGrid draws the ties of four corners and of a grid again and again with noise of TickSpread on each
// tick and ClickSpread on each click; the spread told must be that of the lengths measured (JCGM 101).
func TestSpreadOfGrid(t *testing.T) {
	tr := loadTruth(t)
	four, err := Grid(tiesOf(tr.Four.Px, tr.Four.MM))
	if err != nil {
		t.Fatal(err)
	}
	a, b := geom.Px{X: 900, Y: 700}, geom.Px{X: 2500, Y: 1900}
	for _, test := range []struct {
		name string
		mm   []pair
	}{{"four corners", tr.Four.MM}, {"grid", tr.Grid.MM}} {
		r := newNoise(5)
		var lengths, told []float64
		for range 3000 {
			ties := make([]Tie, len(test.mm))
			for i, m := range test.mm {
				mm := geom.MM{X: m[0], Y: m[1]}
				ties[i] = Tie{r.shift(four.Px(mm), TickSpread), mm}
			}
			c, err := Grid(ties)
			if err != nil {
				t.Fatal(err)
			}
			mm, _, _ := c.Length(r.shift(a, ClickSpread), r.shift(b, ClickSpread))
			_, sd, _ := c.lengthWith(a, b, 0, TickSpread, ClickSpread)
			lengths, told = append(lengths, mm), append(told, sd*sd)
		}
		_, seen := meanSD(lengths)
		mean, _ := meanSD(told)
		near(t, test.name+": spread told over spread seen", math.Sqrt(mean)/seen, 1, 0.05)
	}
}

func TestSquared(t *testing.T) {
	tr := loadTruth(t).Grid
	rapid.Check(t, func(t *rapid.T) {
		angle := rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "angle")
		sin, cos := math.Sincos(angle)
		ties := tiesOf(tr.Px, tr.MM)
		for i, tie := range ties {
			ties[i].MM = geom.MM{X: 40 + cos*tie.MM.X - sin*tie.MM.Y, Y: -9 + sin*tie.MM.X + cos*tie.MM.Y}
		}
		c, err := Grid(ties)
		if err != nil {
			t.Fatal(err)
		}
		if c, err = c.WithHeight(ScaleHeight{Drop: 12, Camera: 900}); err != nil {
			t.Fatal(err)
		}
		centre := geom.Px{X: 2000, Y: 1400}
		s := c.Squared(centre)
		j := s.ToMM.Jacobian(centre)
		if math.Abs(j[2]) > 1e-12 || j[0] <= 0 || j[3] <= 0 {
			t.Fatalf("jacobian at the centre %v", j)
		}
		if d := s.MM(centre).Dist(c.MM(centre)); d > 1e-9 {
			t.Fatalf("the centre moved by %g mm", d)
		}
		a, b := geom.Px{X: 100, Y: 300}, geom.Px{X: 3000, Y: 2500}
		la, _, _ := c.Length(a, b)
		lb, sd, _ := s.Length(a, b)
		if math.Abs(la-lb) > 1e-9 || math.IsNaN(sd) {
			t.Fatalf("length %g became %g +- %g", la, lb, sd)
		}
		again, err := Grid(s.Ties)
		if err != nil {
			t.Fatal(err)
		}
		if again, err = again.WithHeight(s.Height); err != nil {
			t.Fatal(err)
		}
		if d := again.MM(a).Dist(s.MM(a)); d > 1e-6 {
			t.Fatalf("turned ties give another map, off by %g mm", d)
		}
	})
}

// TestRingArea: a square of 100 x 50 mm seen aslant has 5,000 mm2, as the corners are exact.
func TestRingArea(t *testing.T) {
	tr := loadTruth(t).Four
	c, err := Grid(tiesOf(tr.Px, tr.MM))
	if err != nil {
		t.Fatal(err)
	}
	var ring []geom.Px
	for _, m := range []geom.MM{{X: 20, Y: 30}, {X: 120, Y: 30}, {X: 120, Y: 80}, {X: 20, Y: 80}} {
		ring = append(ring, c.Px(m))
	}
	mm2, sd, err := c.RingArea(ring)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "area", mm2, 5000, 1e-6)
	if !(sd > 2 && sd < 50) {
		t.Errorf("spread %g mm2", sd)
	}
}

func TestTies(t *testing.T) {
	ties, err := ReadTies(strings.NewReader("px,py,x_mm,y_mm\n# four corners\n312.4, 208.7,0,0\n3610.2,291.3,200,0\n"))
	want := []Tie{{geom.Px{X: 312.4, Y: 208.7}, geom.MM{}}, {geom.Px{X: 3610.2, Y: 291.3}, geom.MM{X: 200}}}
	if err != nil || !slices.Equal(ties, want) {
		t.Fatalf("%v, %v", ties, err)
	}
	c, err := FromTies(ties)
	if err != nil {
		t.Fatal(err)
	}
	for _, tie := range ties {
		if d := c.MM(tie.Px).Dist(tie.MM); d > 1e-9 {
			t.Errorf("tie off by %g mm", d)
		}
	}
	if c.ToMM[0] != c.ToMM[4] || c.ToMM[1] != -c.ToMM[3] {
		t.Error("two ties gave more than a turn and one scale")
	}
	report := c.Report(image.Pt(4000, 3000))
	near(t, "mm per pixel", report.MMPerPixel.Centre, 200/ties[0].Px.Dist(ties[1].Px), 1e-12)
	near(t, "mm per pixel in the corner", report.MMPerPixel.Corners[2], report.MMPerPixel.Centre, 1e-12)
	for _, bad := range []string{"1,2,3\n", "1,2,3,4\n1,2,x,4\n", "1,2,3,4\n1,2,inf,4\n"} {
		if _, err := ReadTies(strings.NewReader(bad)); err == nil {
			t.Errorf("%q passed", bad)
		}
	}
	if _, err := FromTies(make([]Tie, 3)); !errors.Is(err, geom.ErrTooFewPoints) {
		t.Error(err)
	}
	if _, err := FromTies(make([]Tie, 2)); !errors.Is(err, geom.ErrDegenerate) {
		t.Error(err)
	}
}

func TestCalibrationStores(t *testing.T) {
	tr := loadTruth(t).Grid
	c, err := Grid(tiesOf(tr.Px, tr.MM))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []Calibration{{}, c} {
		b, err := json.Marshal(want)
		if err != nil {
			t.Fatal(err)
		}
		var got Calibration
		if err := json.Unmarshal(b, &got); err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Error(d)
		}
	}
	if got := Rectified.String() + Status(9).String(); got != "rectifiedstatus 9" {
		t.Error(got)
	}
}
