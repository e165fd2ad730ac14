package register

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Sums of bodies and discs by region against Gray 1918 (male, along the curves: cervical 125, thoracic 280, lumbar 180 mm), within 20 %;
// the reference table's own sums are 102.7, 267.3 and 158.6 mm.
func TestUsualHeights(t *testing.T) {
	sum := map[byte]float64{}
	for _, u := range usualHeights {
		sum[u.name[0]] += u.body + u.disc
	}
	for region, want := range map[byte][2]float64{'C': {102.7, 125}, 'T': {267.3, 280}, 'L': {158.6, 180}} {
		near(t, string(region), sum[region], want[0], 0.05)
		near(t, string(region)+" by Gray", sum[region], want[1], 0.2*want[1])
	}
	if len(usualHeights) != 23 {
		t.Errorf("%d vertebrae from C2 to L5", len(usualHeights))
	}
}

func TestSpineLines(t *testing.T) {
	// by hand: T12 to L2 is 22.7/2+5.2+23.8+6.4+24.3/2 = 58.9 mm by usual measures; here it is 10 % more
	s := Spine{Marks: []Vertebra{{"L2", 400, FromC2}, {"T12", 464.79, FromC2}}}
	lines, err := s.Lines()
	if err != nil {
		t.Fatal(err)
	}
	at := func(name string) VertebraLine {
		i := slices.IndexFunc(lines, func(l VertebraLine) bool { return l.Name == name })
		if i < 0 {
			t.Fatalf("no %s", name)
		}
		return lines[i]
	}
	near(t, "L1", at("L1").Scan, 464.79-1.1*(22.7/2+5.2+23.8/2), 1e-9)
	near(t, "L3", at("L3").Scan, 400-1.1*(24.3/2+7.5+23.8/2), 1e-9)
	if at("L1").Own || !at("L2").Own || len(lines) != 23 {
		t.Errorf("%+v", lines)
	}
	for z, want := range map[float64]string{464.79: "T12, middle third", 464.79 + 9: "T12, upper third", 464.79 - 9: "T12, lower third", 464.79 - 1.1*(22.7/2+2): "disc T12/L1", 2000: "above C2", -2000: "below L5"} {
		if got, _ := VertebraAt(lines, z); got != want {
			t.Errorf("%g is %q, want %q", z, got, want)
		}
	}
	if _, own := VertebraAt(lines, 464.79); !own {
		t.Error("a marked vertebra is not the donor's own")
	}
	if name, own := VertebraAt(lines, at("L1").Scan); own || name != "L1, middle third" {
		t.Errorf("%s, own %v", name, own)
	}

	many, err := Spine{RibPairs: 13, Lumbar: 6, Marks: s.Marks}.Lines()
	if err != nil || len(many) != 25 || many[24].Name != "L6" {
		t.Errorf("%d vertebrae, %v", len(many), err)
	}
	few, err := Spine{RibPairs: 11, Lumbar: 4, Marks: s.Marks[:1]}.Lines()
	if err != nil || len(few) != 21 || few[20].Name != "L4" {
		t.Errorf("%d vertebrae, %v", len(few), err)
	}
	if none, err := (Spine{}).Lines(); err != nil || none != nil {
		t.Errorf("lines without marks: %v, %v", none, err)
	}
	if name, _ := VertebraAt(nil, 3); name != "" {
		t.Error("a place without lines has a name")
	}
}

func TestSpineRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		s    Spine
		want string
	}{
		"upside down":   {Spine{Marks: []Vertebra{{"T12", 400, FromC2}, {"L2", 460, FromC2}}}, "T12 (400.0 mm) must lie above L2 (460.0 mm)"},
		"twice":         {Spine{Marks: []Vertebra{{"T12", 400, FromC2}, {"T12", 410, FromC2}}}, "T12 is marked twice"},
		"no such":       {Spine{Marks: []Vertebra{{"T13", 400, FromC2}}}, `"T13"`},
		"no place":      {Spine{Marks: []Vertebra{{"T12", math.NaN(), FromC2}}}, `"T12"`},
		"fourteen ribs": {Spine{RibPairs: 14, Marks: []Vertebra{{"T12", 1, FromC2}}}, "14 rib pairs"},
	} {
		_, err := c.s.Lines()
		if err == nil || !strings.Contains(err.Error(), c.want) || (name == "upside down") != errors.Is(err, ErrOutOfOrder) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestSpineWords(t *testing.T) {
	s := Spine{RibPairs: 13, Transitional: true, Marks: []Vertebra{{"T12", 400, ByRibs}, {"L4", 300, FromSacrum}, {"C7", 700, FromC2}, {"T4", 600, BySurface}, {"L1", 380, CountingUnset}}}
	w := s.Words()
	if len(w) != 4 || w[0] != "Level T12 was set by ribs. This donor has 13 rib pairs. Count from C2 or mark as unsure." {
		t.Errorf("%q", w)
	}
	if w := (Spine{Marks: []Vertebra{{"T12", 400, ByRibs}, {"L4", 300, FromSacrum}}}).Words(); len(w) != 0 {
		t.Errorf("a usual spine is doubted: %q", w)
	}
}

// Marked vertebrae keep their places, all lines go down the body, and order of marking is irrelevant.
func TestSpineOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Spine{RibPairs: rapid.IntRange(11, 13).Draw(t, "ribs"), Lumbar: rapid.IntRange(4, 6).Draw(t, "lumbar")}
		all, err := s.column()
		if err != nil {
			t.Fatal(err)
		}
		z := 900.0
		for _, l := range all {
			z -= rapid.Float64Range(12, 40).Draw(t, "step")
			if rapid.Bool().Draw(t, "marked") {
				s.Marks = append(s.Marks, Vertebra{l.Name, z, FromC2})
			}
		}
		if len(s.Marks) == 0 {
			return
		}
		marks := slices.Clone(s.Marks)
		s.Marks = rapid.Permutation(marks).Draw(t, "order")
		lines, err := s.Lines()
		if err != nil {
			t.Fatal(err)
		}
		for i, l := range lines {
			if i > 0 && l.Scan >= lines[i-1].Scan {
				t.Fatalf("%s does not lie below %s", l.Name, lines[i-1].Name)
			}
			k := slices.IndexFunc(marks, func(v Vertebra) bool { return v.Name == l.Name })
			if l.Own != (k >= 0) || l.Own && l.Scan != marks[k].Scan {
				t.Fatalf("%+v for mark %d of %v", l, k, marks)
			}
		}
	})
}
