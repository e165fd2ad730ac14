package annotate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"sectionary/slices/geom"
)

// face40 makes an oval face with small structures in it and a name of usual length for each.
func face40(rng *rand.Rand, n int) ([]NameBox, []Polygon, Box) {
	frame := Box{geom.Px{}, geom.Px{X: 1600, Y: 1000}}
	face := Polygon{Outer: oval(800, 500, 420, 300, 60)}
	var names []NameBox
	for i := range n {
		a, r := rng.Float64()*2*math.Pi, math.Sqrt(rng.Float64())*0.95
		sin, cos := math.Sincos(a)
		names = append(names, NameBox{ID: fmt.Sprint(i), W: 60 + rng.Float64()*220, H: 18, At: geom.Px{X: 800 + 420*r*cos, Y: 500 + 300*r*sin}})
	}
	return names, []Polygon{face}, frame
}

func oval(cx, cy, a, b float64, n int) []geom.Px {
	out := make([]geom.Px, n)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		out[i] = geom.Px{X: cx + a*cos, Y: cy + b*sin}
	}
	return out
}

// checkPlaced counts what must never be: boxes over boxes, over the face or out of the frame, and leaders that meet.
func checkPlaced(t *testing.T, placed []Placed, face []Polygon, frame Box) {
	t.Helper()
	for i, p := range placed {
		if p.Box.Min.X < frame.Min.X || p.Box.Max.X > frame.Max.X || p.Box.Min.Y < frame.Min.Y || p.Box.Max.Y > frame.Max.Y {
			t.Errorf("%s leaves the frame: %v", p.ID, p.Box)
		}
		if len(p.Leader) > 0 {
			for _, f := range face {
				if f.meetsBox(p.Box) || f.Contains(p.Box.Min) {
					t.Errorf("%s lies on the face", p.ID)
				}
			}
		}
		for _, q := range placed[:i] {
			if p.Box.Overlaps(q.Box) {
				t.Errorf("%s and %s overlap", p.ID, q.ID)
			}
			if linesMeet(p.Leader, q.Leader) {
				t.Errorf("the leaders of %s and %s cross", p.ID, q.ID)
			}
			if lineMeetsBox(p.Leader, shrink(q.Box)) || lineMeetsBox(q.Leader, shrink(p.Box)) {
				t.Errorf("a leader of %s or %s runs through the other name", p.ID, q.ID)
			}
		}
	}
}

func linesMeet(a, b []geom.Px) bool {
	for i := 1; i < len(a); i++ {
		for j := 1; j < len(b); j++ {
			if _, meet := segmentsMeet(a[i-1], a[i], b[j-1], b[j]); meet {
				return true
			}
		}
	}
	return false
}

func shrink(b Box) Box {
	return Box{geom.Px{X: b.Min.X + 1e-6, Y: b.Min.Y + 1e-6}, geom.Px{X: b.Max.X - 1e-6, Y: b.Max.Y - 1e-6}}
}

// LB4: 40 names on each of 1,000 random faces: no box over another, over the face or over a leader, no leader over another, and every
// leader ends inside its outline.
func TestLB4ThousandFaces(t *testing.T) {
	rng := rand.New(rand.NewPCG(40, 1))
	for n := range 1000 {
		names, face, frame := face40(rng, 40)
		outlines := make([]Polygon, len(names))
		for i := range names {
			c := names[i].At
			outlines[i] = Polygon{Outer: oval(c.X, c.Y, 4+rng.Float64()*20, 4+rng.Float64()*20, 8)}
			if n < 50 { // the rest by their centres, which is quicker
				names[i].At = outlines[i].Inside()
			}
		}
		placed, left := Place(names, face, frame)
		if len(left) > 0 || len(placed) != 40 {
			t.Fatalf("%d of 40 names left out", len(left))
		}
		checkPlaced(t, placed, face, frame)
		for i, p := range placed {
			if p.ID != names[i].ID || p.Leader[2] != names[i].At || !outlines[i].Contains(p.Leader[2]) {
				t.Fatalf("%s does not end inside its outline", p.ID)
			}
		}
		if t.Failed() {
			return
		}
	}
}

// LB4: one name more moves the others by a row at most.
func TestLB4OneNameMore(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 1))
	const row = 18 * (1 + nameGap)
	far, moved := 0, 0
	for range 1000 {
		names, face, frame := face40(rng, 40)
		before, _ := Place(names[:39], face, frame)
		after, _ := Place(names, face, frame)
		for i := range before {
			d := after[i].Box.Min.Y - before[i].Box.Min.Y
			if math.Abs(d) > 1 {
				moved++
			}
			if math.Abs(d) > row*1.01 || math.Abs(after[i].Leader[0].X-before[i].Leader[0].X) > 1 {
				far++
			}
		}
	}
	t.Logf("%d of 39,000 names moved, %d by more than a row", moved, far)
	if far > 0 {
		t.Errorf("%d names moved by more than a row", far)
	}
}

func TestPlaceCrowdedAndOdd(t *testing.T) {
	rng := rand.New(rand.NewPCG(42, 1))
	names, face, frame := face40(rng, 90) // 41 rows a side
	placed, left := Place(names, face, frame)
	if len(placed) != 82 || len(left) != 8 || left[0] != "82" {
		t.Errorf("%d placed, left out %v", len(placed), left)
	}
	checkPlaced(t, placed, face, frame)
	for name, in := range map[string][]NameBox{"none": nil, "no height": {{ID: "a"}}, "too wide": {{ID: "a", W: 5000, H: 10, At: geom.Px{X: 800, Y: 500}}},
		"no number":  {{ID: "a", W: 50, H: 10, At: geom.Px{X: math.NaN(), Y: 500}}, {ID: "b", W: 50, H: 10, At: geom.Px{X: 700, Y: 500}}},
		"one height": {{ID: "a", W: 50, H: 10, At: geom.Px{X: 700, Y: 500}}, {ID: "b", W: 50, H: 10, At: geom.Px{X: 600, Y: 500}}, {ID: "c", W: 50, H: 10, At: geom.Px{X: 650, Y: 500}}},
		"one point":  {{ID: "a", W: 50, H: 10, At: geom.Px{X: 700, Y: 500}}, {ID: "b", W: 50, H: 10, At: geom.Px{X: 700, Y: 500}}}} {
		placed, left := Place(in, face, frame)
		if len(placed)+len(left) != len(in) {
			t.Errorf("%s: %d placed and %d left of %d", name, len(placed), len(left), len(in))
		}
		if name == "one height" {
			checkPlaced(t, placed, face, frame)
		}
	}
}

func TestPlaceInside(t *testing.T) {
	frame := Box{geom.Px{}, geom.Px{X: 1600, Y: 1000}}
	face := []Polygon{{Outer: oval(800, 500, 420, 300, 60)}}
	big, small := Polygon{Outer: oval(650, 500, 150, 120, 40)}, Polygon{Outer: oval(1000, 500, 10, 10, 20)}
	names := []NameBox{{ID: "big", W: 100, H: 18, At: big.Inside(), Within: []Polygon{big}}, {ID: "small", W: 100, H: 18, At: small.Inside(), Within: []Polygon{small}}}
	placed, _ := Place(names, face, frame)
	if len(placed[0].Leader) != 0 || !big.Contains(placed[0].Box.Min) || len(placed[1].Leader) == 0 {
		t.Errorf("%+v", placed)
	}
	checkPlaced(t, placed, face, frame)
}

func BenchmarkPlace40(b *testing.B) {
	names, face, frame := face40(rand.New(rand.NewPCG(40, 1)), 40)
	for b.Loop() {
		Place(names, face, frame)
	}
}
