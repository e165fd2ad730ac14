package drill

import (
	"testing"

	"sectionary/slices/section"
)

// Faces of a limb are proximal and distal, the cut in the midline of a half is its median face (anatomical terms of position, as in the
// international terminology; the looks of a left half: its median face looks right).
func TestFacesAreNamedInTheWordsOfTheirRun(t *testing.T) {
	m := Manifest{Runs: []Run{
		{Code: "R1", Plane: section.Transverse, First: section.Superior, Slabs: []Slab{{Number: 1}, {Number: 2}}},
		{Code: "R2", Plane: section.Transverse, First: section.Superior, Limb: section.RightLower, Slabs: []Slab{{Number: 1}}},
		{Code: "R3", Plane: section.Sagittal, First: section.Right, Half: section.Left, Slabs: []Slab{{Number: 1}, {Number: 2}}},
	}}
	for _, c := range []struct {
		run        string
		slab       int
		facing     section.Facing
		name, seen string
	}{
		{"R1", 2, section.Superior, "slab 2, upper face", "seen from above"},
		{"R2", 1, section.Superior, "slab 1, proximal face", "seen from the proximal end"},
		{"R2", 1, section.Inferior, "slab 1, distal face", "seen from the distal end"},
		{"R3", 1, section.Right, "slab 1, median face", ""},
		{"R3", 2, section.Left, "slab 2, lateral face", ""},
		{"R9", 2, section.Superior, "slab 2, upper face", "seen from above"},
	} {
		f := Face{Run: c.run, Slab: c.slab, Facing: c.facing}
		if got := m.NameOf(f); got != c.name {
			t.Errorf("%+v: %q", c, got)
		}
		if got := m.SeenFrom(c.run, c.facing); c.seen != "" && got != c.seen {
			t.Errorf("%+v: %q", c, got)
		}
	}
	both := Run{Code: "R1", Plane: section.Transverse, First: section.Superior, Limb: section.LeftUpper, Half: section.Left}
	if err := both.words().Check(); err == nil {
		t.Error("a run of a limb and of a half hangs together")
	}
}
