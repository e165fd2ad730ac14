package bench

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sectionary/slices/section"
)

func runOf(plane section.Plane, first section.Facing, slabs int) section.Run {
	r := section.Run{ID: "r", Donor: "d", Part: "p", Plane: plane, First: first}
	for i := range slabs {
		r.Slabs = append(r.Slabs, section.Slab{Number: i + 1, Thickness: [3]float64{20}, Kerf: 1})
	}
	return r
}

func short(faces []section.Face) string {
	var out []string
	for _, f := range faces {
		side := "U"
		if f.Facing == section.Inferior {
			side = "L"
		}
		out = append(out, string(rune('0'+f.Slab))+side)
	}
	return strings.Join(out, " ")
}

// From an edge on, the sequence begins there; where it does not come by that edge, at its slab.
func TestFromAnEdge(t *testing.T) {
	r := runOf(section.Transverse, section.Superior, 3)
	if got := short(from(Sequence{Pattern: OnePerSlab}.Faces(r), section.Face{Run: "r", Slab: 2, Facing: section.Inferior})); got != "2U 3U" {
		t.Errorf("from a face that is not in the sequence: %s", got)
	}
	if got := short(from(Sequence{}.Faces(r), section.Face{Run: "r", Slab: 2, Facing: section.Inferior})); got != "2L 3U 3L" {
		t.Errorf("from a face of it: %s", got)
	}
}

// A proposal gives every face to one print at most and keeps the prints in order, whatever a person changes of it; a
// missing picture leaves one face empty and moves all after it, a doubled one moves all after it up.
func TestProposalKeepsOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		faces := runOf(section.Transverse, section.Superior, rapid.IntRange(0, 10).Draw(t, "slabs")).Faces()
		p := &proposed{out: map[string]bool{}, gap: map[string]int{}}
		for i := range rapid.IntRange(1, 20).Draw(t, "prints") {
			p.keys = append(p.keys, printKey(i))
		}
		for range rapid.IntRange(0, 12).Draw(t, "changes") {
			key := rapid.SampledFrom(p.keys).Draw(t, "print")
			at := slices.Index(p.keys, key)
			before, _ := p.lie(faces)
			if rapid.Bool().Draw(t, "shift") {
				by := rapid.IntRange(-2, 3).Draw(t, "by")
				moved := p.shift(key, by)
				after, _ := p.lie(faces)
				for i, k := range p.keys {
					was, is := slices.Index(faces, before[k]), slices.Index(faces, after[k])
					if (!moved || i < at) && was != is || moved && i >= at && was >= 0 && is >= 0 && is-was != by {
						t.Fatalf("print %d went from face %d to %d, shifted by %d at print %d", i, was, is, by, at)
					}
				}
			} else {
				p.leaveOut(key)
			}
			on, left := p.lie(faces)
			if len(on)+left != len(p.keys) {
				t.Fatalf("%d lie and %d stay of %d", len(on), left, len(p.keys))
			}
			last := -1
			for _, k := range p.keys {
				f, ok := on[k]
				if !ok {
					continue
				}
				if i := slices.Index(faces, f); i <= last {
					t.Fatalf("face %d after face %d", i, last)
				} else {
					last = i
				}
			}
		}
	})
	faces := runOf(section.Transverse, section.Superior, 3).Faces()
	p := &proposed{keys: []string{"a", "b", "c", "d"}, out: map[string]bool{}, gap: map[string]int{}}
	if !p.shift("c", 1) || p.shift("c", -2) {
		t.Error("one face further, but never onto the print before")
	}
	p.leaveOut("b")
	on, left := p.lie(faces)
	if short([]section.Face{on["a"], on["c"], on["d"]}) != "1U 2U 2L" || left != 1 {
		t.Errorf("%v, %d stay", on, left)
	}
}
