package section_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
	"sectionary/slices/section"
)

func drawnRun(t *rapid.T) section.Run {
	plane := section.Plane(rapid.IntRange(1, 3).Draw(t, "plane"))
	r := section.Run{ID: "x", Plane: plane, First: plane.Faces()[rapid.IntRange(0, 1).Draw(t, "first")]}
	for i := range rapid.IntRange(1, 20).Draw(t, "slabs") {
		r.Slabs = append(r.Slabs, section.Slab{Number: i + 1, Thickness: [3]float64{rapid.Float64Range(4, 40).Draw(t, "mm")}, Kerf: rapid.Float64Range(0.2, 3).Draw(t, "kerf")})
	}
	return r
}

func depthOf(t *rapid.T, r section.Run, f section.Face) float64 {
	d, _, err := r.Depth(f)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// Capability CU1: a slab moved takes its number with it, every later face moves at once by prefix sums, and the length of the
// run stays. Moving it back gives the run as it was.
func TestCU1MovingASlab(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawnRun(t)
		n, by := rapid.IntRange(1, len(r.Slabs)).Draw(t, "slab"), rapid.IntRange(-25, 25).Draw(t, "by")
		was := slices.Clone(r.Slabs)
		next, err := r.Moved(n, by)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(r.Slabs, was) {
			t.Fatal("the run before was changed")
		}
		if math.Abs(next.Extent()-r.Extent()) > 1e-9 {
			t.Fatalf("the run became %g long, was %g", next.Extent(), r.Extent())
		}
		at := slices.IndexFunc(next.Slabs, func(s section.Slab) bool { return s.Number == n })
		if want := min(max(n-1+by, 0), len(r.Slabs)-1); at != want {
			t.Fatalf("slab %d went to place %d, want %d", n, at, want)
		}
		sum := 0.0
		for _, s := range next.Slabs {
			if d := depthOf(t, next, section.Face{Run: "x", Slab: s.Number, Facing: next.First}); math.Abs(d-sum) > 1e-9 {
				t.Fatalf("slab %d at %g, want %g", s.Number, d, sum)
			}
			sum += s.Mean() + s.Kerf
		}
		back, err := next.Moved(n, n-1-at)
		if err != nil || !slices.Equal(back.Slabs, r.Slabs) {
			t.Fatalf("moved back: %v %+v", err, back.Slabs)
		}
	})
}

// Counted from its other end a run has its faces at the same places, measured from there; twice gives the run as it was.
// Turned round, every slab keeps its number and lies as far from the other end.
func TestNumberingFromEitherEnd(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawnRun(t)
		other, turned := r.FromOtherEnd(), r.TurnedRound()
		for _, f := range r.Faces() {
			if d := depthOf(t, other, f); math.Abs(d-(r.Extent()-depthOf(t, r, f))) > 1e-9 {
				t.Fatalf("%s at %g from the other end of %g", f.Name(), d, r.Extent())
			}
			f2 := f
			f2.Facing = f.Facing.Opposite() // turned round, what lay towards slab 1 looks the other way
			if d := depthOf(t, turned, f2); math.Abs(d-depthOf(t, r, f)) > 1e-9 {
				t.Fatalf("%s turned round at %g, was %g", f.Name(), d, depthOf(t, r, f))
			}
		}
		again := other.FromOtherEnd()
		if again.First != r.First || !slices.Equal(again.Slabs, r.Slabs) {
			t.Fatalf("twice: %+v", again)
		}
		for i, s := range other.Renumbered().Slabs {
			if s.Number != i+1 || s.Thickness != r.Slabs[len(r.Slabs)-1-i].Thickness {
				t.Fatalf("numbered anew: %+v", s)
			}
		}
	})
}

// A place goes with its slab through every change, and back again.
func TestPlacesGoWithTheirSlabs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := drawnRun(t)
		next := r
		switch rapid.IntRange(0, 3).Draw(t, "change") {
		case 0:
			next, _ = r.Moved(rapid.IntRange(1, len(r.Slabs)).Draw(t, "slab"), rapid.IntRange(-9, 9).Draw(t, "by"))
		case 1:
			next = r.FromOtherEnd()
		case 2:
			next = r.TurnedRound()
		case 3:
			next.Slabs = slices.Clone(r.Slabs)
			next.Slabs[rapid.IntRange(0, len(r.Slabs)-1).Draw(t, "slab")].Thickness[0] = rapid.Float64Range(4, 40).Draw(t, "corrected")
		}
		for _, f := range r.Faces() {
			from := depthOf(t, r, f)
			at, ok := r.Carried(next, from)
			if !ok || math.Abs(at-depthOf(t, next, f)) > 1e-9 {
				t.Fatalf("%s went from %g to %g, lies at %g", f.Name(), from, at, depthOf(t, next, f))
			}
			if back, ok := next.Carried(r, at); !ok || math.Abs(back-from) > 1e-9 {
				t.Fatalf("%s came back to %g, was at %g", f.Name(), back, from)
			}
		}
	})
}

// A slab split in two and put together again keeps its tissue where it is: by hand, 20 mm less a cut of 1.2 mm are two of 9.4.
func TestPlacesInASplitSlab(t *testing.T) {
	r := evenRun(3, 20, 1.2)
	next := r
	next.Slabs = []section.Slab{r.Slabs[0], {Number: 2, Thickness: [3]float64{9.4}, Kerf: 1.2}, {Number: 4, Thickness: [3]float64{9.4}, Kerf: 1.2}, r.Slabs[2]}
	for _, mm := range []float64{0, 20, 21.2, 30, 35, 41.2, 42.4, 62.4} {
		at, ok := r.Carried(next, mm)
		back, ok2 := next.Carried(r, at)
		if !ok || !ok2 || math.Abs(at-mm) > 1e-9 || math.Abs(back-mm) > 1e-9 {
			t.Errorf("%g went to %g and back to %g", mm, at, back)
		}
	}
	if _, ok := r.Carried(section.Run{}, 3); ok {
		t.Error("a place in no run")
	}
}
