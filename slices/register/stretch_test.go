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
