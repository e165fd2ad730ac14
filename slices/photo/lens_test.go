package photo

import (
	"context"
	"encoding/json"
	"image"
	"image/color"
	"math"
	"os"
	"testing"

	"pgregory.net/rapid"

	"sectionary/slices/geom"
)

// lensValues are reference values made with OpenCV; see testdata/photo/README.md.
type lensValues struct {
	Brown struct {
		K           [3][3]float64
		D           [5]float64
		Normalised  [][2]float64 `json:"normalised"`
		DistortedPx [][2]float64 `json:"distorted_px"`
	} `json:"brown_conrady"`
	Calibrate struct {
		Views    [][][2]float64 `json:"views"`
		ObjectMM [][2]float64   `json:"object_mm"`
		RMS      float64        `json:"rms_px"`
		K        [3][3]float64
	} `json:"calibrate"`
	Board struct {
		CornersTrue [][2]float64 `json:"corners_true"`
	} `json:"chessboard"`
}

func readLensValues(t *testing.T) (v lensValues) {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/photo/lens.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

func (v lensValues) lens() Lens {
	k, d := v.Brown.K, v.Brown.D
	return Lens{FX: k[0][0], FY: k[1][1], CX: k[0][2], CY: k[1][2], K1: d[0], K2: d[1], P1: d[2], P2: d[3], K3: d[4]}
}

// Reference: the model of Brown as OpenCV projects it, to 1e-6 px, there and back.
func TestLensBendsAsBrownSays(t *testing.T) {
	v := readLensValues(t)
	l := v.lens()
	for i, n := range v.Brown.Normalised {
		straight := geom.Px{X: l.CX + l.FX*n[0], Y: l.CY + l.FY*n[1]}
		want := geom.Px{X: v.Brown.DistortedPx[i][0], Y: v.Brown.DistortedPx[i][1]}
		if got := l.Bent(straight); got.Dist(want) > 1e-6 {
			t.Errorf("%v bends to %v, want %v", straight, got, want)
		}
		if back, ok := l.Straight(want); !ok || back.Dist(straight) > 1e-6 {
			t.Errorf("%v straightens to %v (%v), want %v", want, back, ok, straight)
		}
	}
}

func TestLensThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		l := Lens{FX: 3000, FY: 3000, CX: 2000, CY: 1500, K1: f("k1", -0.2, 0.2), K2: f("k2", -0.05, 0.05), P1: f("p1", -1e-3, 1e-3), P2: f("p2", -1e-3, 1e-3)}
		p := geom.Px{X: f("x", 500, 3500), Y: f("y", 500, 2500)}
		if q, ok := l.Straight(l.Bent(p)); !ok || q.Dist(p) > 1e-6 {
			t.Fatalf("%v came back as %v (%v)", p, q, ok)
		}
	})
}

func (v lensValues) views() (views [][]Tie) {
	for _, view := range v.Calibrate.Views {
		var ties []Tie
		for i, p := range view {
			o := v.Calibrate.ObjectMM[i]
			ties = append(ties, Tie{Px: geom.Px{X: p[0], Y: p[1]}, MM: geom.MM{X: o[0], Y: o[1]}})
		}
		views = append(views, ties)
	}
	return views
}

// Reference: OpenCV's calibration of the same eight views: rms 0.207 px (tolerance 0.01), focal length within 0.3 %.
func TestLensFromViews(t *testing.T) {
	v := readLensValues(t)
	l, err := LensFromViews(v.views(), image.Pt(4000, 3000))
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(l.RMS-v.Calibrate.RMS) > 0.01 || math.Abs(l.FX/v.Brown.K[0][0]-1) > 0.003 || math.Abs(l.FY/v.Brown.K[1][1]-1) > 0.003 {
		t.Fatalf("rms %.4f px (reference %.4f), fx %.1f fy %.1f (made with %.1f and %.1f)", l.RMS, v.Calibrate.RMS, l.FX, l.FY, v.Brown.K[0][0], v.Brown.K[1][1])
	}
	if _, err := LensFromViews(v.views()[:2], image.Pt(4000, 3000)); err == nil {
		t.Fatal("two views told a lens")
	}
}

// One picture of a sheet, bent by a known lens and seen aslant, straightens to a plane: the corners fit a homography
// to their noise after it, and not before.
func TestLensFromOneSheet(t *testing.T) {
	made := Lens{FX: 4000, FY: 4000, CX: 1999.5, CY: 1499.5, K1: -0.11, K2: 0.03}
	h := geom.Homography{9, 0.2, 260, -0.1, 9.1, 220, 2e-5, 1e-5, 1}
	var view, straight []Tie
	for i := range 15 * 11 {
		mm := geom.MM{X: 25 * float64(i%15), Y: 25 * float64(i/15)}
		view = append(view, Tie{Px: made.Bent(geom.Px(h.MM(geom.Px(mm)))), MM: mm})
	}
	l, err := LensFromSheet(view, image.Pt(4000, 3000))
	if err != nil {
		t.Fatal(err)
	}
	for _, tie := range view {
		p, ok := l.Straight(tie.Px)
		if !ok {
			t.Fatalf("%v cannot be straightened", tie.Px)
		}
		straight = append(straight, Tie{p, tie.MM})
	}
	before, err1 := Grid(view)
	after, err2 := Grid(straight)
	if err1 != nil || err2 != nil || before.Fit.RMS < 0.1 || after.Fit.RMS > 1e-3 {
		t.Fatalf("%v %v: the grid fits to %.4f mm before and %.6f mm after", err1, err2, before.Fit.RMS, after.Fit.RMS)
	}
	if !l.Covers() || math.Abs(l.K1-made.K1) > 2e-3 {
		t.Errorf("k1 %.4f, made with %.4f", l.K1, made.K1)
	}
}

// The reference rendering, whose corners are known: mean error at most 0.1 px, largest at most 0.15 px (OpenCV: 0.043
// and 0.086).
func TestFindChequerOnReference(t *testing.T) {
	f, err := os.Open("../../../shared/truth/chessboard.png")
	if err != nil {
		t.Skip("the reference rendering of a chequer sheet is not beside the checkout")
	}
	defer f.Close()
	m, err := Open(t.Context(), f, Limit{})
	if err != nil {
		t.Fatal(err)
	}
	var want []geom.Px
	for _, p := range readLensValues(t).Board.CornersTrue {
		want = append(want, geom.Px{X: p[0], Y: p[1]})
	}
	chequerAgrees(t, m, want, 8, 6)
}

func chequerAgrees(t *testing.T, m *Image, want []geom.Px, columns, rows int) {
	t.Helper()
	ties, err := FindChequer(context.Background(), m, columns, rows, 20)
	if err != nil {
		t.Fatal(err)
	}
	var sum, most float64
	for i, tie := range ties {
		d := tie.Px.Dist(want[i])
		sum, most = sum+d, max(most, d)
	}
	t.Logf("mean %.4f px, largest %.4f px", sum/float64(len(want)), most)
	if mean := sum / float64(len(want)); mean > 0.1 || most > 0.15 {
		t.Fatalf("corners off by %.3f px on average and %.3f px at most", mean, most)
	}
}

// A sheet drawn here, 2000 px wide with 4 x 4 samples a pixel, aslant; corners known by construction.
func TestFindChequerDrawn(t *testing.T) {
	const w, h, columns, rows = 2000, 1450, 7, 5
	plane := geom.Homography{9.3, 0.8, 333, -0.5, 9.6, 280, 1.5e-4, 0.8e-4, 1} // mm to px
	back := plane.Inverse()
	g := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			sum := 0
			for k := range 16 {
				q := back.MM(geom.Px{X: float64(x) + (float64(k%4)+0.5)/4 - 0.5, Y: float64(y) + (float64(k/4)+0.5)/4 - 0.5})
				i, j := math.Floor(q.X/20), math.Floor(q.Y/20)
				if i >= -1 && j >= -1 && i < columns && j < rows && int(i+j)&1 == 0 {
					sum += 30
				} else {
					sum += 220
				}
			}
			g.SetGray(x, y, color.Gray{Y: uint8(sum / 16)})
		}
	}
	var want []geom.Px
	for i := range columns * rows {
		want = append(want, geom.Px(plane.MM(geom.Px{X: 20 * float64(i%columns), Y: 20 * float64(i/columns)})))
	}
	m := NewImage(g)
	chequerAgrees(t, m, want, columns, rows)
	if _, err := FindChequer(context.Background(), m, 9, 5, 20); err == nil {
		t.Fatal("a sheet of other size was found")
	}
	if _, err := FindChequer(context.Background(), NewImage(image.NewGray(image.Rect(0, 0, 100, 100))), 7, 5, 20); err == nil {
		t.Fatal("a sheet was found on nothing")
	}
}
