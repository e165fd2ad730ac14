package photo

import (
	"encoding/json"
	"image"
	"math"
	"os"
	"testing"

	"pgregory.net/rapid"

	"sectionary/slices/geom"
)

// lensBoard is a board photographed by OpenCV; see testdata/photo/README.md.
type lensBoard struct {
	Name string        `json:"name"`
	Tilt float64       `json:"tilt"`
	K    [3][3]float64 `json:"K"`
	D    [5]float64    `json:"D"`
	MM   []geomPair    `json:"mm"`
	Px   []geomPair    `json:"px"`
}

type geomPair [2]float64

func readLensBoards(t *testing.T) (boards []lensBoard, size image.Point) {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/photo/lens_grid.json")
	if err != nil {
		t.Fatal(err)
	}
	var v struct {
		Size   [2]int
		Boards []lensBoard
	}
	if err := json.Unmarshal(raw, &v); err != nil {
		t.Fatal(err)
	}
	return v.Boards, image.Pt(v.Size[0], v.Size[1])
}

func (b lensBoard) lens(size image.Point) *Lens {
	return &Lens{FX: b.K[0][0], FY: b.K[1][1], CX: b.K[0][2], CY: b.K[1][2], K1: b.D[0], K2: b.D[1], P1: b.D[2], P2: b.D[3], K3: b.D[4], Size: size}
}

// ties are the points of the board by their place.
func (b lensBoard) ties() map[geom.MM]geom.Px {
	out := map[geom.MM]geom.Px{}
	for i, m := range b.MM {
		out[geom.MM{X: m[0], Y: m[1]}] = geom.Px{X: b.Px[i][0], Y: b.Px[i][1]}
	}
	return out
}

// scaled calibrates as a person would: square on by two ticks 200 mm apart near the middle, tilted by four corners 400 x 200 mm.
func (b lensBoard) scaled(l *Lens) (Calibration, error) {
	at := b.ties()
	places := []geom.MM{{X: -100, Y: 0}, {X: 100, Y: 0}}
	if b.Tilt != 0 {
		places = []geom.MM{{X: -200, Y: -100}, {X: 200, Y: -100}, {X: 200, Y: 100}, {X: -200, Y: 100}}
	}
	var ties []Tie
	for _, m := range places {
		ties = append(ties, Tie{at[m], m})
	}
	return Through(l, ties, FromTies)
}

// worst is how far neighbours 100 mm apart are off at most: within the corners, and out to 1.5 times their span, or to the edge of the
// picture square on.
func (b lensBoard) worst(c Calibration) (inside, beyond float64) {
	at := b.ties()
	for m, p := range at {
		for _, n := range []geom.MM{{X: m.X + 100, Y: m.Y}, {X: m.X, Y: m.Y + 100}} {
			q, ok := at[n]
			if !ok {
				continue
			}
			mm, _, err := c.Length(p, q)
			off := math.Abs(mm - 100)
			if err != nil || math.IsNaN(mm) {
				off = math.Inf(1)
			}
			x, y := math.Max(math.Abs(m.X), math.Abs(n.X)), math.Max(math.Abs(m.Y), math.Abs(n.Y))
			switch {
			case b.Tilt == 0 || x <= 200 && y <= 100:
				inside = math.Max(inside, off)
			case x <= 300 && y <= 150:
				beyond = math.Max(beyond, off)
			}
		}
	}
	return inside, beyond
}

// Row PH2 through a bent lens: 100 mm read 100.0 +- 0.2 square on over the whole picture, and tilted by 10 degrees +- 0.5 within
// the corners and +- 1.0 out to one and a half times their span. Without the lens they do not. Reference: OpenCV's projection.
func TestPH2ThroughTheLens(t *testing.T) {
	boards, size := readLensBoards(t)
	for _, b := range boards {
		l := b.lens(size)
		if err := l.Fits(size); err != nil {
			t.Fatalf("%s: %v", b.Name, err)
		}
		c, err := b.scaled(l)
		if err != nil {
			t.Fatal(err)
		}
		plain, err := b.scaled(nil)
		if err != nil {
			t.Fatal(err)
		}
		in, out := b.worst(c)
		inBlind, outBlind := b.worst(plain)
		t.Logf("%s: off by %.4f and %.4f mm through the lens, by %.2f and %.2f mm without", b.Name, in, out, inBlind, outBlind)
		limit := 0.2
		if b.Tilt != 0 {
			limit = 0.5
		}
		if in > limit || out > 1 {
			t.Errorf("%s: 100 mm are off by %.3f and %.3f mm", b.Name, in, out)
		}
		if inBlind < limit && outBlind < 1 {
			t.Errorf("%s: within bounds without the lens, so the board proves nothing", b.Name)
		}
	}
}

// The lens measured from the board itself, one picture of it, serves as well as the true one.
func TestPH2ThroughTheLensAsMeasured(t *testing.T) {
	boards, size := readLensBoards(t)
	for _, b := range boards {
		var view []Tie
		for m, p := range b.ties() {
			view = append(view, Tie{p, m})
		}
		l, err := LensFromSheet(view, size)
		if err != nil {
			t.Fatal(err)
		}
		c, err := b.scaled(&l)
		if err != nil {
			t.Fatal(err)
		}
		in, out := b.worst(c)
		t.Logf("%s: rms %.3f px, reach %.2f, off by %.3f and %.3f mm", b.Name, l.RMS, l.Reach, in, out)
		if in > 0.2 || out > 0.5 {
			t.Errorf("%s: 100 mm are off by %.3f and %.3f mm", b.Name, in, out)
		}
	}
}

// randomMapping is a lens that covers its pictures and a plane seen from above, not quite square.
func randomMapping(t *rapid.T) (Mapping, image.Point) {
	f := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
	size := image.Pt(4000, 3000)
	l := Lens{FX: f("f", 2500, 8000), CX: 2000 + f("cx", -60, 60), CY: 1500 + f("cy", -60, 60), K1: f("k1", -0.15, 0.15), K2: f("k2", -0.04, 0.04),
		P1: f("p1", -1e-3, 1e-3), P2: f("p2", -1e-3, 1e-3), K3: f("k3", -0.005, 0.005), Size: size}
	l.FY = l.FX * f("squeeze", 0.99, 1.01)
	if !l.Covers() {
		t.Skip("does not cover its pictures")
	}
	s, turn := f("mm per px", 0.05, 0.5), f("turn", -math.Pi, math.Pi)
	sin, cos := math.Sincos(turn)
	return Mapping{geom.Homography{s * cos, -s * sin, f("x", -300, 300), s * sin, s * cos, f("y", -300, 300), f("tilt x", -3e-5, 3e-5), f("tilt y", -3e-5, 3e-5), 1}, &l}, size
}

func TestMappingThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, size := randomMapping(t)
		p := geom.Px{X: rapid.Float64Range(-0.5, float64(size.X)-0.5).Draw(t, "px"), Y: rapid.Float64Range(-0.5, float64(size.Y)-0.5).Draw(t, "py")}
		if q := m.Px(m.MM(p)); !(q.Dist(p) < 1e-6) {
			t.Fatalf("%v came back as %v", p, q)
		}
		// the derivative against differences
		const h = 1e-3
		j := m.Jacobian(p)
		a, b := m.MM(geom.Px{X: p.X - h, Y: p.Y}), m.MM(geom.Px{X: p.X + h, Y: p.Y})
		c, d := m.MM(geom.Px{X: p.X, Y: p.Y - h}), m.MM(geom.Px{X: p.X, Y: p.Y + h})
		want := [4]float64{(b.X - a.X) / (2 * h), (d.X - c.X) / (2 * h), (b.Y - a.Y) / (2 * h), (d.Y - c.Y) / (2 * h)}
		for i := range j {
			if math.Abs(j[i]-want[i]) > 1e-4*math.Hypot(want[0], want[2]) {
				t.Fatalf("at %v the derivative is %v, by differences %v", p, j, want)
			}
		}
	})
}

// Squared turns, and neither lengths nor areas change; scale height scales.
func TestSquaredThroughALens(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, size := randomMapping(t)
		c := Calibration{ToMM: m.ToMM, Lens: m.Lens, Status: Rectified}
		a := geom.Px{X: rapid.Float64Range(100, 3900).Draw(t, "ax"), Y: rapid.Float64Range(100, 2900).Draw(t, "ay")}
		b := geom.Px{X: rapid.Float64Range(100, 3900).Draw(t, "bx"), Y: rapid.Float64Range(100, 2900).Draw(t, "by")}
		mid := geom.Px{X: float64(size.X-1) / 2, Y: float64(size.Y-1) / 2}
		s := c.Squared(mid)
		was, _, _ := c.Length(a, b)
		now, _, _ := s.Length(a, b)
		j := s.Map().Jacobian(mid)
		if math.Abs(was-now) > 1e-7 || math.Abs(j[2]) > 1e-9 || j[0] <= 0 {
			t.Fatalf("%g mm became %g; right of the middle is %v", was, now, j)
		}
	})
}

// A square of the board drawn with four straight lines in a bent picture is not a square on the face: its area is that of the curves, which
// many small steps tell.
func TestRingAreaFollowsBentEdges(t *testing.T) {
	boards, size := readLensBoards(t)
	b := boards[0]
	c, err := b.scaled(b.lens(size))
	if err != nil {
		t.Fatal(err)
	}
	ring := []geom.Px{{X: 300, Y: 200}, {X: 3700, Y: 250}, {X: 3650, Y: 2800}, {X: 250, Y: 2700}}
	var fine []geom.Px
	for i, p := range ring {
		q := ring[(i+1)%4]
		for k := range 5000 {
			f := float64(k) / 5000
			fine = append(fine, geom.Px{X: p.X + f*(q.X-p.X), Y: p.Y + f*(q.Y-p.Y)})
		}
	}
	got, _, _ := c.RingArea(ring)
	want, _, _ := c.RingArea(fine)
	var corners float64
	for i := range ring {
		p, q := c.MM(ring[i]), c.MM(ring[(i+1)%4])
		corners += (p.X*q.Y - q.X*p.Y) / 2
	}
	if math.Abs(got-want) > 1e-4*want {
		t.Errorf("area %.1f mm2, by small steps %.1f", got, want)
	}
	if math.Abs(corners-want) < 1e-3*want {
		t.Errorf("corners alone give %.1f mm2 of %.1f: the edges are hardly bent", corners, want)
	}
}

// A lens belongs to pictures of its size, and one that folds back within them is refused.
func TestLensOfOtherPictures(t *testing.T) {
	boards, size := readLensBoards(t)
	c, err := boards[1].scaled(boards[1].lens(size))
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Check(size); err != nil {
		t.Fatal(err)
	}
	if err := c.Check(image.Pt(3000, 4000)); err == nil {
		t.Error("a lens measured on wide pictures was taken for tall ones")
	}
	fold := boards[1].lens(size)
	fold.K1 = -0.9
	if err := fold.Fits(size); err == nil {
		t.Error("a lens that folds back was taken")
	}
	off, err := c.WithLens(nil)
	if err != nil || off.Lens != nil || off.Map().Equal(c.Map()) {
		t.Errorf("%v: the lens was not taken away", err)
	}
	on, err := off.WithLens(c.Lens)
	if err != nil || on.MM(geom.Px{X: 700, Y: 400}).Dist(c.MM(geom.Px{X: 700, Y: 400})) > 1e-6 {
		t.Errorf("%v: taking it away and laying it on again changed the scale", err)
	}
	if far := (Mapping{c.ToMM, c.Lens}).Px(geom.MM{X: 9000, Y: 9000}); !math.IsNaN(far.X) {
		t.Errorf("a place far outside shows within the picture at %v", far)
	}
}

// Ties with wrong ones among them are sorted out behind the lens; the calibration keeps pixels as photographed.
func TestRobustThroughALens(t *testing.T) {
	boards, size := readLensBoards(t)
	b := boards[3]
	var ties []Tie
	for i, m := range b.MM {
		ties = append(ties, Tie{geom.Px{X: b.Px[i][0], Y: b.Px[i][1]}, geom.MM{X: m[0], Y: m[1]}})
	}
	ties[5].MM.X += 40
	var out []int
	c, err := Through(b.lens(size), ties, func(t []Tie) (Calibration, error) {
		c, o, err := GridRobust(t)
		out = o
		return c, err
	})
	if err != nil || len(out) != 1 || out[0] != 5 || c.Fit.RMS > 1e-6 || len(c.Ties) != len(ties)-1 || c.Ties[0] != ties[0] || c.Ties[5] != ties[6] {
		t.Fatalf("%v: left out %v, rms %g mm, %d ties", err, out, c.Fit.RMS, len(c.Ties))
	}
}
