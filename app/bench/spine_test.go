package bench

import (
	"math"
	"slices"
	"testing"

	"sectionary/slices/geom"
)

// RG8: vertebrae marked on the scan with how they were counted, kept with the tie levels; the cut shown is named by the donor's own marks or by
// usual proportions; a donor with 13 pairs of ribs has a T13, and a level counted by ribs is then doubted.
func TestRG8VertebralLevels(t *testing.T) {
	b, q, m, _, s := onPairing(t)
	if err := b.SetSpineCounts(SpineCounts{RibPairs: 13, Lumbar: 5}); err != nil {
		t.Fatal(err)
	}
	names := b.VertebraNames(b.SpineCounts())
	if len(names) != 6+13+5 || names[18] != "T13" {
		t.Fatalf("%v", names)
	}
	// the face lies at z = 78.8 (tie levels 0 = 120 and 80 = 40)
	b.pair.half.scan = &geom.LPS{Z: 80}
	if err := b.MarkVertebra("T12", 2); err != nil {
		t.Fatal(err)
	}
	b.pair.half.scan = &geom.LPS{Z: 20}
	if err := b.MarkVertebra("L1", 0); err != nil {
		t.Fatal(err)
	}
	b.pair.half.scan = &geom.LPS{Z: 100}
	if err := b.MarkVertebra("L2", 0); err == nil {
		t.Fatal("L2 above T12 was taken")
	}
	rows, doubts := b.Vertebrae()
	if len(rows) != 2 || !has(rows[0].Words, "T12 at 80.0 mm", "by ribs") || !has(rows[1].Words, "L1 at 20.0 mm", "down from C2") {
		t.Fatalf("%+v", rows)
	}
	if len(doubts) != 1 || !has(doubts[0], "T12", "13 rib pairs") {
		t.Fatalf("%v", doubts)
	}
	here, usual := b.VertebraHere()
	if !has(here, "T12, middle third", "own") || len(usual) == 0 {
		t.Fatalf("%q, %v", here, usual)
	}
	b.StepScan(6) // 30 mm down: between them lies T13, which nobody marked
	if here, _ = b.VertebraHere(); !has(here, "T13", "usual proportions") {
		t.Errorf("30 mm below: %q", here)
	}
	if kept := m.ties["rct"].Spine; kept == nil || len(kept.Marks) != 2 || kept.RibPairs != 13 {
		t.Fatalf("kept %+v", kept)
	}
	b.UnmarkVertebra("L1")
	if rows, _ := b.Vertebrae(); len(rows) != 1 {
		t.Error("not taken away")
	}
	_, _ = q, s
}

// The ruler shows own marks as solid lines and the others dashed.
func TestRulerShowsVertebrae(t *testing.T) {
	b, _, _, _, _ := onPairing(t)
	b.pair.half.scan = &geom.LPS{Z: 80}
	b.Show(RunScreen)
	plain := painted(b.RulerPane(), 560, 900, 1)
	b.pair.half.scan = &geom.LPS{Z: 80}
	if err := b.MarkVertebra("T12", 0); err != nil {
		t.Fatal(err)
	}
	marked := painted(b.RulerPane(), 560, 900, 1)
	p := b.ruler
	c := p.columns()
	inked := func(z float64) (n int) {
		mm, _ := b.pair.levels.Run(z)
		for v := c.rail + 3; v < c.rail+19; v++ {
			at := p.xy(p.place(mm), v)
			if x, y := int(math.Round(at.X)), int(math.Round(at.Y)); marked.RGBAAt(x, y) != plain.RGBAAt(x, y) {
				n++
			}
		}
		return n
	}
	lines, _ := b.spineNow().Lines()
	for _, l := range lines {
		if mm, _ := b.pair.levels.Run(l.Scan); mm < 1 || mm > 80 {
			continue
		}
		if n := inked(l.Scan); l.Own && n < 14 || !l.Own && (n < 4 || n > 13) {
			t.Errorf("%s (own %v): %d of 16 pixels of its line", l.Name, l.Own, n)
		}
	}
}

// RG8: the vertebrae to choose from are those of the donor's own counts, before anything is kept: 13 rib pairs bring a T13, 6 lumbar
// vertebrae an L6, 11 and 4 leave T12 and L5 out (numbering by ribs, common practice, no source).
func TestVertebraeFollowTheCounts(t *testing.T) {
	b, _, _, _, _ := onPairing(t)
	for _, c := range []struct {
		ribs, lumbar int
		has, lacks   []string
	}{{0, 0, []string{"T12", "L5"}, []string{"T13", "L6"}}, {13, 6, []string{"T13", "L6"}, nil}, {11, 4, []string{"T11", "L4"}, []string{"T12", "L5"}}} {
		names := b.VertebraNames(SpineCounts{RibPairs: c.ribs, Lumbar: c.lumbar})
		for _, n := range c.has {
			if !slices.Contains(names, n) {
				t.Errorf("%d ribs, %d lumbar: no %s in %v", c.ribs, c.lumbar, n, names)
			}
		}
		for _, n := range c.lacks {
			if slices.Contains(names, n) {
				t.Errorf("%d ribs, %d lumbar: %s in %v", c.ribs, c.lumbar, n, names)
			}
		}
	}
}
