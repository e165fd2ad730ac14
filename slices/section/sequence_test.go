package section

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func sawn(plane Plane, first Facing, slabs int) Run {
	r := Run{ID: "r", Donor: "d", Part: "p", Plane: plane, First: first}
	for i := range slabs {
		r.Slabs = append(r.Slabs, Slab{Number: i + 1, Thickness: [3]float64{20}, Kerf: 1})
	}
	return r
}

// The orders written down by hand: U is the upper face of a slab, L the lower one. A cut between slabs 1 and 2 has the
// faces 1L and 2U.
func TestPatterns(t *testing.T) {
	r := sawn(Transverse, Superior, 3)
	for _, c := range []struct {
		name string
		s    Sequence
		want string
	}{
		{"two per cut, along the run", Sequence{Pattern: TwoPerCut}, "1U 1L 2U 2L 3U 3L"},
		{"two per cut, the upper face of the next slab first", Sequence{Pattern: TwoPerCut, First: Superior}, "1U 2U 1L 3U 2L 3L"},
		{"two per cut from the far end", Sequence{Pattern: TwoPerCut, FarEnd: true}, "3L 2L 3U 1L 2U 1U"},
		{"slab by slab", Sequence{Pattern: SlabBySlab}, "1U 1L 2U 2L 3U 3L"},
		{"slab by slab, lower first", Sequence{Pattern: SlabBySlab, First: Inferior}, "1L 1U 2L 2U 3L 3U"},
		{"one per slab", Sequence{Pattern: OnePerSlab}, "1U 2U 3U"},
		{"one per slab, lower, far end first", Sequence{Pattern: OnePerSlab, First: Inferior, FarEnd: true}, "3L 2L 1L"},
		{"a side of another plane counts as none", Sequence{Pattern: OnePerSlab, First: Left}, "1U 2U 3U"},
	} {
		if got := short(c.s.Faces(r)); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

func short(faces []Face) string {
	var out []string
	for _, f := range faces {
		side := "U"
		if f.Facing == Inferior {
			side = "L"
		}
		out = append(out, string(rune('0'+f.Slab))+side)
	}
	return strings.Join(out, " ")
}

// Whatever the pattern, every face of it belongs to the run and none comes twice; two per cut and slab by slab come by
// all of them.
func TestPatternFacesAreOfTheRun(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		plane := rapid.SampledFrom([]Plane{Transverse, Frontal, Sagittal}).Draw(t, "plane")
		faces := plane.Faces()
		r := sawn(plane, faces[rapid.IntRange(0, 1).Draw(t, "end")], rapid.IntRange(0, 12).Draw(t, "slabs"))
		s := Sequence{Pattern: Pattern(rapid.IntRange(0, 2).Draw(t, "pattern")), FarEnd: rapid.Bool().Draw(t, "far"),
			First: rapid.SampledFrom([]Facing{UnknownFacing, faces[0], faces[1], Superior, Left}).Draw(t, "first")}
		got := s.Faces(r)
		all, seen := r.Faces(), map[Face]bool{}
		for _, f := range got {
			if seen[f] || !slices.Contains(all, f) {
				t.Fatalf("%v twice or not of the run: %v", f, got)
			}
			seen[f] = true
		}
		if want := len(r.Slabs) * 2; s.Pattern != OnePerSlab && len(got) != want || s.Pattern == OnePerSlab && len(got) != len(r.Slabs) {
			t.Fatalf("%d faces of %d slabs", len(got), len(r.Slabs))
		}
	})
}
