package register

import (
	"context"
	"errors"
	"image"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// Reference: numpy's dynamic programme, equal to brute force over all 376,740 choices; tolerance 1e-9.
func TestAssignLevelsAgainstReference(t *testing.T) {
	var truth struct {
		Pitch  float64     `json:"pitch_mm"`
		Sigma  float64     `json:"sigma_mm"`
		Lam    float64     `json:"lam"`
		Z      []float64   `json:"z_mm"`
		Cost   [][]float64 `json:"cost"`
		Path   []int       `json:"path"`
		Total  float64     `json:"total"`
		Greedy []int       `json:"greedy_argmin"`
	}
	load(t, "register/level_dp.json", &truth)
	gaps := slices.Repeat([]float64{truth.Pitch}, len(truth.Cost)-1)
	path, total, err := AssignLevels(truth.Cost, truth.Z, gaps, truth.Sigma, truth.Lam)
	if err != nil || !slices.Equal(path, truth.Path) {
		t.Errorf("path %v, want %v, %v", path, truth.Path, err)
	}
	near(t, "total", total, truth.Total, 1e-9)
	if slices.Equal(path, truth.Greedy) || slices.IsSorted(truth.Greedy) {
		t.Error("the reference must be one where each face's own best is not in order")
	}
}

func TestAssignLevelsIsBest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 4).Draw(t, "faces")
		m := n + rapid.IntRange(0, 3).Draw(t, "more")
		u := rapid.Float64Range(0, 2)
		z, gaps := make([]float64, m), make([]float64, n-1)
		for j := range z {
			z[j] = 3 * float64(j)
		}
		for i := range gaps {
			gaps[i] = 6 * u.Draw(t, "gap")
		}
		cost := make([][]float64, n)
		for i := range cost {
			cost[i] = make([]float64, m)
			for j := range cost[i] {
				cost[i][j] = u.Draw(t, "cost")
			}
		}
		_, got, err := AssignLevels(cost, z, gaps, 2, 0.4)
		if err != nil {
			t.Fatal(err)
		}
		best := math.Inf(1)
		var all func(i, from int, last, sum float64)
		all = func(i, from int, last, sum float64) {
			if i == n {
				best = math.Min(best, sum)
				return
			}
			for j := from; j < m; j++ {
				c := sum + cost[i][j]
				if i > 0 {
					c += 0.4 * math.Pow((z[j]-last-gaps[i-1])/2, 2)
				}
				all(i+1, j+1, z[j], c)
			}
		}
		all(0, 0, 0, 0)
		if math.Abs(got-best) > 1e-9 {
			t.Fatalf("%g, but %g can be had", got, best)
		}
	})
	for name, try := range map[string]func() error{
		"more faces than levels": func() error {
			_, _, err := AssignLevels(make([][]float64, 3), []float64{1, 2}, []float64{1, 1}, 1, 1)
			return err
		},
		"levels that fall": func() error { _, _, err := AssignLevels([][]float64{{1, 2}}, []float64{2, 1}, nil, 1, 1); return err },
		"ragged costs":     func() error { _, _, err := AssignLevels([][]float64{{1}}, []float64{1, 2}, nil, 1, 1); return err },
		"no costs at all": func() error {
			_, _, err := AssignLevels([][]float64{{math.Inf(1), math.Inf(1)}}, []float64{1, 2}, nil, 1, 1)
			return err
		},
	} {
		if try() == nil {
			t.Errorf("%s: taken", name)
		}
	}
}

func TestCandidates(t *testing.T) {
	levels := []float64{0, 5, 10, 15, 20, 25, 30, 35, 40}
	like := make([]float64, len(levels))
	for i, l := range levels { // two hills, tops at 12 and 33
		like[i] = 0.2 + math.Exp(-math.Pow((l-12)/7, 2)) + 0.6*math.Exp(-math.Pow((l-33)/6, 2))
	}
	c := Candidates(levels, like, 8)
	if len(c) < 2 || math.Abs(c[0].Level-12) > 1.5 || math.Abs(c[1].Level-33) > 2 || c[0].Likeness < c[1].Likeness || !strings.Contains(c[1].Words, "best place") {
		t.Errorf("%+v", c)
	}
	if Candidates(nil, nil, 1) != nil || Candidates(levels, like[:2], 1) != nil {
		t.Error("nothing has candidates")
	}
	if c := Candidates([]float64{3}, []float64{1}, 1); len(c) != 1 || c[0].Level != 3 {
		t.Errorf("%+v", c)
	}
}

// A face of the torso without a place must find its level among all of the body's.
func TestFindThePlace(t *testing.T) {
	scan := torso()
	for seed, level := range []float64{-28, -3, 26} {
		pose, _ := section.SquarePose(section.Inferior, section.Anterior, geom.LPS{X: -95, Y: -65, Z: level})
		face := photograph(scan.Sample, pose.Shift(geom.Vec{X: 4, Y: -3}), nil, 190, 130, 1, hues[seed], uint64(seed))
		square, _ := section.SquarePose(section.Inferior, section.Anterior, geom.LPS{X: -95, Y: -65})
		// normals of lower faces point up
		var levels []float64
		for l := -44.0; l <= 44; l += 4 {
			levels = append(levels, l)
		}
		like, err := Likeness(context.Background(), face, 1, square, levels, scan, Options{})
		if err != nil {
			t.Fatal(err)
		}
		c := Candidates(levels, like, 10)
		if len(c) == 0 || math.Abs(c[0].Level-level) > 4 {
			t.Errorf("level %g: %+v", level, c)
		}
	}
	square := geom.Pose{X: geom.Vec{X: 1}, Y: geom.Vec{Y: 1}, Scale: 1}
	if _, err := Likeness(context.Background(), nil, 1, square, []float64{0}, scan, Options{}); !errors.Is(err, ErrNothingToSee) {
		t.Errorf("no picture: %v", err)
	}
	if _, err := Likeness(context.Background(), image.NewGray(image.Rect(0, 0, 200, 100)), 1, geom.Pose{}, []float64{0}, scan, Options{}); err == nil {
		t.Error("a pose that cannot be was taken")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Likeness(ctx, image.NewGray(image.Rect(0, 0, 200, 100)), 1, square, []float64{0}, scan, Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("called off: %v", err)
	}
}

// stack is a run of photographed sections as a scan: levels in mm are Z, one pixel is one unit across.
type stack struct {
	levels []float64
	frames [][]float32
	w, h   int
}

// Slice reads the frame nearest in level; between frames nothing is invented.
func (s stack) Slice(dst []float32, w, h int, p geom.Pose, spacing float64) {
	for j := range h {
		for i := range w {
			at := p.At(geom.MM{X: float64(i) * spacing, Y: float64(j) * spacing})
			k, _ := Nearest(s.levels, at.Z)
			x, y := at.X, at.Y
			dst[j*w+i] = float32(math.NaN())
			if x >= 0 && y >= 0 && x < float64(s.w-1) && y < float64(s.h-1) {
				x0, y0 := int(x), int(y)
				fx, fy := float32(x)-float32(x0), float32(y)-float32(y0)
				v := s.frames[k][y0*s.w+x0:]
				a, b := v[0]+fx*(v[1]-v[0]), v[s.w]+fx*(v[s.w+1]-v[s.w])
				dst[j*w+i] = a + fy*(b-a)
			}
		}
	}
}

// Real sections of a donor, one frame every 8 mm: each, left out in turn, must find its own level between its neighbours
// within 4 mm in at least 90 %.
func TestSectionsFindTheirNeighbours(t *testing.T) {
	if testing.Short() {
		t.Skip("many searches")
	}
	dir := sharedFile(t, "data", "section-frames")
	files, err := filepath.Glob(filepath.Join(dir, "image-*.jpeg"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no frames: %v", err)
	}
	var levels []float64
	var frames []*image.Gray
	for _, f := range files {
		n, err := strconv.Atoi(strings.TrimSuffix(strings.TrimPrefix(filepath.Base(f), "image-"), ".jpeg"))
		if err != nil || (n-380)%8 != 0 {
			continue
		}
		levels, frames = append(levels, float64(n)), append(frames, halfGrey(t, f))
	}
	hits, tried := 0, 0
	for i := 1; i < len(frames)-1; i++ {
		s := stack{w: frames[i].Rect.Dx(), h: frames[i].Rect.Dy()}
		var others []float64
		// the search looks at the neighbourhood a lab would know: two hand-breadths either way
		for k := range frames {
			if k != i && math.Abs(levels[k]-levels[i]) <= 80 {
				v := make([]float32, len(frames[k].Pix))
				for p, g := range frames[k].Pix {
					v[p] = float32(g)
				}
				s.levels, s.frames = append(s.levels, levels[k]), append(s.frames, v)
				others = append(others, levels[k])
			}
		}
		square := geom.Pose{X: geom.Vec{X: 1}, Y: geom.Vec{Y: 1}, Scale: 1}
		like, err := Likeness(context.Background(), frames[i], 1, square, others, s, Options{})
		if err != nil {
			t.Fatal(err)
		}
		c := Candidates(others, like, 8)
		tried++
		if len(c) > 0 && math.Abs(c[0].Level-levels[i]) <= 4 {
			hits++
		} else if len(c) > 0 {
			t.Logf("section at %g mm was laid at %.1f mm", levels[i], c[0].Level)
		}
	}
	t.Logf("%d of %d sections found their level within 4 mm", hits, tried)
	if 10*hits < 9*tried {
		t.Errorf("%d of %d sections found their level within 4 mm", hits, tried)
	}
}

// halfGrey reads a picture at half size in grey, without the strip that holds a mark at the top right.
func halfGrey(t testing.TB, path string) *image.Gray {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, err := jpeg.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	b := img.Bounds()
	out := image.NewGray(image.Rect(0, 0, b.Dx()/2, (b.Dy()-100)/2))
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			r, g, bl, _ := img.At(b.Min.X+2*x, b.Min.Y+80+2*y).RGBA()
			out.Pix[y*out.Stride+x] = uint8((299*r + 587*g + 114*bl) / 1000 >> 8)
		}
	}
	return out
}
