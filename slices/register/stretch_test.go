package register

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// Known stretch across (right 2 % longer, down 3 % longer in the scan) must be measured, and its error be honest: the standard
// deviation of z over 1,000 noisy draws between 0.9 and 1.1.
func TestStretchAcross(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 31))
	var zr, zd []float64
	for range 1000 {
		truth := tiltedPose(rng, section.Superior, section.Anterior)
		var ties []Tie
		for range 12 {
			p := geom.MM{X: 300 * rng.Float64(), Y: 200 * rng.Float64()}
			ties = append(ties, Tie{Face: geom.Px(p), Scan: truth.At(geom.MM{X: 1.02 * p.X, Y: 1.03 * p.Y}).Add(noise(rng, 0.8))})
		}
		r, err := FromTies("s", Unity, ties, section.Superior, false)
		if err != nil {
			t.Fatal(err)
		}
		right, down, err := r.Across()
		if err != nil {
			t.Fatal(err)
		}
		zr, zd = append(zr, (right.Value-2)/right.SE), append(zd, (down.Value-3)/down.SE)
	}
	// twelve landmarks leave 18 numbers over, so z follows Student's t: its deviation is sqrt(18/16) = 1.06
	t.Logf("standard deviation of z: right %.3f, down %.3f", sd(zr), sd(zd))
	for _, z := range [][]float64{zr, zd} {
		if s := sd(z); s < 0.96 || s > 1.16 || math.Abs(mean(z)) > 0.15 {
			t.Errorf("z of mean %.3f, standard deviation %.3f", mean(z), s)
		}
	}
}

func mean(x []float64) (m float64) {
	for _, v := range x {
		m += v / float64(len(x))
	}
	return m
}

func TestStretchReport(t *testing.T) {
	run := section.Run{ID: "r", Plane: section.Transverse, First: section.Superior}
	for i := range 3 {
		run.Slabs = append(run.Slabs, section.Slab{Number: i + 1, Thickness: [3]float64{20}, Kerf: 1})
	}
	l, err := NewLevels([]Level{{0, 500}, {42, 500 - 42*1.01}}, -1)
	if err != nil {
		t.Fatal(err)
	}
	pose, _ := section.SquarePose(section.Superior, section.Anterior, geom.LPS{Z: 480})
	var ties []Tie
	for _, p := range []geom.MM{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 200, Y: 150}, {X: 0, Y: 150}, {X: 90, Y: 70}} {
		ties = append(ties, Tie{Face: geom.Px(p), Scan: pose.At(geom.MM{X: p.X, Y: 1.03 * p.Y})})
	}
	r, err := FromTies("s", Unity, ties, section.Superior, false)
	if err != nil {
		t.Fatal(err)
	}
	face := section.Face{Run: "r", Slab: 2, Facing: section.Superior}
	rows := StretchReport(run, l, map[section.Face]Registration{face: r})
	if len(rows) != 5 { // the last face lies beyond the ties and is not registered
		t.Fatalf("%d rows: %+v", len(rows), rows)
	}
	row := rows[2]
	near(t, "down", row.Down.Value, 3, 1e-6)
	near(t, "right", row.Right.Value, 0, 1e-6)
	near(t, "along", *row.Along, 1, 1e-6)
	words := strings.Join(row.Words, "; ")
	for _, part := range []string{"3.0 % shorter front to back", "no longer or shorter, as far as can be told, side to side", "1.0 % shorter along the cut"} {
		if !strings.Contains(words, part) {
			t.Errorf("%q lacks %q", words, part)
		}
	}
	if rows[0].Right != nil || rows[0].Along == nil {
		t.Errorf("an unregistered face: %+v", rows[0])
	}
	r.Places, r.Ties = r.Places[:3], r.Ties[:3]
	if _, _, err := r.Across(); !errors.Is(err, geom.ErrTooFewPoints) {
		t.Errorf("three landmarks: %v", err)
	}
}

// MS3: a slab 25 mm thick whose faces lie 25.5 mm apart in the scan, 3 % shorter front to back and 1 % longer side to side than it: worked by
// hand (25/25.5 = -1.96 %), both faces, one of them with its top at the back.
func TestMS3StretchBySlab(t *testing.T) {
	run := section.Run{ID: "r", Plane: section.Transverse, First: section.Superior, Slabs: []section.Slab{{Number: 7, Thickness: [3]float64{25}, Kerf: 1}, {Number: 8, Thickness: [3]float64{25}}}}
	faces, middles := map[section.Face]Registration{}, map[section.Face]geom.MM{}
	for i, f := range []section.Facing{section.Superior, section.Inferior} {
		up := []section.Facing{section.Anterior, section.Posterior}[i]
		pose, err := section.SquarePose(f, up, geom.LPS{Z: 480 - 25.5*float64(i)})
		if err != nil {
			t.Fatal(err)
		}
		var ties []Tie
		for k, p := range []geom.MM{{X: -100, Y: -80}, {X: 100, Y: -80}, {X: 100, Y: 80}, {X: -100, Y: 80}, {X: 0, Y: 0}, {X: 50, Y: -30}} {
			jitter := geom.Vec{X: 0.1 * float64(k%3-1), Y: 0.1 * float64(k%2), Z: 0.05 * float64(k%3-1)}
			ties = append(ties, Tie{Face: geom.Px(p), Scan: pose.At(geom.MM{X: p.X / 1.01, Y: p.Y / 0.97}).Add(jitter)})
		}
		r, err := FromTies("s", Unity, ties, f, false)
		if err != nil {
			t.Fatal(err)
		}
		faces[section.Face{Run: "r", Slab: 7, Facing: f}], middles[section.Face{Run: "r", Slab: 7, Facing: f}] = r, geom.MM{}
	}
	rows := StretchBySlab(run, Levels{}, faces, middles)
	if len(rows) != 1 || rows[0].Slab != 7 || rows[0].Along == nil || rows[0].Across[0] == nil || rows[0].Across[1] == nil {
		t.Fatalf("%+v", rows)
	}
	row := rows[0]
	near(t, "along", row.Along.Value, 100*(25/25.5-1), 0.3)
	near(t, "side to side", row.Across[0].Value, 1, 0.15)
	near(t, "front to back", row.Across[1].Value, -3, 0.15)
	if row.Across[0].Way != "side to side" || row.Across[1].Way != "front to back" || !(row.Along.SE > 1.5 && row.Along.SE < 1.8) || !(row.Across[1].SE > 0 && row.Across[1].SE < 0.3) {
		t.Errorf("%+v %+v %+v", row.Along, row.Across[0], row.Across[1])
	}
	words := strings.Join(row.Words, "; ")
	if !strings.Contains(words, "this slab is 3.0 % shorter front to back than the scan") || !strings.Contains(words, "no longer or shorter, as far as can be told, along the cut") {
		t.Error(words)
	}
}
