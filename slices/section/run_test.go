package section_test

import (
	"encoding/json"
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
	"sectionary/slices/section"
)

func evenRun(n int, thickness, kerf float64) section.Run {
	r := section.Run{ID: "trunk", Plane: section.Transverse, First: section.Superior}
	for i := range n {
		r.Slabs = append(r.Slabs, section.Slab{Number: i + 1, Thickness: [3]float64{thickness}, Kerf: kerf})
	}
	return r
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %.9g, want %.9g within %g", what, got, want, within)
	}
}

// 24 slabs of 20.0 mm and kerf 1.2 mm, worked by hand: slab 5 begins after 4 x 21.2, the run ends at 24 x 20 + 23 x 1.2.
func TestPlacesOfFaces(t *testing.T) {
	r := evenRun(24, 20, 1.2)
	depth := func(slab int, f section.Facing) float64 {
		d, _, err := r.Depth(section.Face{Run: r.ID, Slab: slab, Facing: f})
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	near(t, "slab 1, upper face", depth(1, section.Superior), 0, 1e-9)
	near(t, "slab 1, lower face", depth(1, section.Inferior), 20, 1e-9)
	near(t, "slab 5, upper face", depth(5, section.Superior), 84.8, 1e-9)
	near(t, "slab 24, lower face", depth(24, section.Inferior), 507.6, 1e-9)
	near(t, "extent", r.Extent(), 507.6, 1e-9)

	// The same run counted from below begins at its lower face.
	r.First = section.Inferior
	near(t, "slab 5, lower face, from below", depth(5, section.Inferior), 84.8, 1e-9)
	near(t, "slab 5, upper face, from below", depth(5, section.Superior), 104.8, 1e-9)
}

func TestEachEdgeAddsUpAlongAnyRun(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		plane := section.Plane(rapid.IntRange(1, 3).Draw(t, "plane"))
		r := section.Run{ID: "x", Plane: plane, First: plane.Faces()[rapid.IntRange(0, 1).Draw(t, "first")]}
		mm := rapid.Float64Range(0.5, 40)
		for i := range rapid.IntRange(1, 40).Draw(t, "slabs") {
			r.Slabs = append(r.Slabs, section.Slab{Number: 3*i + 2, Thickness: [3]float64{mm.Draw(t, "t"), mm.Draw(t, "t"), mm.Draw(t, "t")}, Kerf: mm.Draw(t, "kerf") / 10})
		}
		if err := r.Check(); err != nil {
			t.Fatal(err)
		}
		var places []float64
		for at := range r.Places() {
			places = append(places, at)
		}
		if len(places) != len(r.Slabs) {
			t.Fatalf("%d places of %d slabs", len(places), len(r.Slabs))
		}
		faces := r.Faces()
		var sum, lastSE float64
		for i, f := range faces {
			d, se, err := r.Depth(f)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(d-sum) > 1e-9 {
				t.Fatalf("%v lies at %g, want %g", f, d, sum)
			}
			if se < lastSE || (i == 0) != (se == 0) {
				t.Fatalf("%v: standard error %g after %g", f, se, lastSE)
			}
			lastSE = se
			s := r.Slabs[i/2]
			if i%2 == 0 {
				if math.Abs(places[i/2]-sum) > 1e-9 {
					t.Fatalf("slab %d lies at %g, want %g", s.Number, places[i/2], sum)
				}
				sum += s.Mean()
			} else {
				sum += s.Kerf
			}
			// The partner lies across the kerf and looks the other way; its partner is this face again.
			p, ok := r.Partner(f)
			if ok != (i > 0 && i < len(faces)-1) {
				t.Fatalf("%v: partner %v", f, ok)
			}
			if !ok {
				continue
			}
			back, _ := r.Partner(p)
			if back != f || p.Facing != f.Facing.Opposite() || p.Slab == f.Slab {
				t.Fatalf("%v has partner %v, which has %v", f, p, back)
			}
		}
		if math.Abs(r.Extent()-(sum-r.Slabs[len(r.Slabs)-1].Kerf)) > 1e-9 {
			t.Fatalf("extent %g, sum %g", r.Extent(), sum)
		}
	})
}

// Standard errors by hand: each slab 0.5 mm and each cut 0.15 mm (common practice, no source), added in squares.
func TestDepthStandardError(t *testing.T) {
	r := evenRun(10, 20, 1.2)
	_, se, err := r.Depth(section.Face{Run: r.ID, Slab: 5, Facing: section.Inferior})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "se", se, math.Sqrt(5*0.25+4*0.0225), 1e-12)
}

// Limits by hand: 2 sqrt(2^2 + n 0.5^2 + (n-1) 0.15^2).
func TestClosure(t *testing.T) {
	for n, want := range map[int]float64{24: 6.5, 40: 7.7} {
		_, limit, _ := evenRun(n, 20, 1.2).Closure()
		near(t, "limit", limit, want, 0.05)
	}
	r := evenRun(24, 20, 1.2)
	r.Length = 509
	off, _, worst := r.Closure()
	near(t, "misclosure", off, 1.4, 1e-9)
	if worst != 0 {
		t.Errorf("slab %d was blamed within the limit", worst)
	}
	near(t, "closing kerf", r.ClosingKerf(), 29.0/23, 1e-9)

	r.Slabs[12].Thickness[0] = 30 // mistyped
	off, limit, worst := r.Closure()
	near(t, "too long by", off, -8.6, 1e-9)
	near(t, "limit", limit, 6.5, 0.05)
	if worst != 13 {
		t.Errorf("slab %d was blamed, want 13", worst)
	}
	r.Slabs[12].Thickness[0] = 10
	if off, _, worst = r.Closure(); worst != 13 || math.Abs(off-11.4) > 1e-9 {
		t.Errorf("too short by %g, slab %d was blamed, want 13", off, worst)
	}
	r.Length = 0
	if off, _, worst = r.Closure(); off != 0 || worst != 0 {
		t.Errorf("an unmeasured length closed by %g, blaming %d", off, worst)
	}
	if (section.Run{}).ClosingKerf() != 0 || evenRun(1, 20, 1).ClosingKerf() != 0 {
		t.Error("a kerf without a cut")
	}
}

func TestFacesARunDoesNotHave(t *testing.T) {
	r := evenRun(3, 20, 1)
	for _, f := range []section.Face{
		{Run: r.ID, Slab: 4, Facing: section.Superior}, {Run: r.ID, Slab: 0, Facing: section.Superior},
		{Run: r.ID, Slab: 1, Facing: section.Anterior}, {Run: r.ID, Slab: 1, Facing: section.UnknownFacing},
	} {
		if _, _, err := r.Depth(f); !errors.Is(err, section.ErrNoSuchFace) {
			t.Errorf("%v: %v", f, err)
		}
		if _, ok := r.Partner(f); ok {
			t.Errorf("%v has a partner", f)
		}
	}
	if !errors.Is((section.Run{Plane: section.Transverse, First: section.Left}).Check(), section.ErrNotAFace) {
		t.Error("a transverse run began at the left")
	}
	for _, spoil := range []func(*section.Run){
		func(r *section.Run) { r.Plane = section.UnknownPlane },
		func(r *section.Run) { r.Slabs[2].Number = 1 },
		func(r *section.Run) { r.Slabs[1].Thickness[2] = -1 },
		func(r *section.Run) { r.Slabs[0].Kerf = math.NaN() },
		func(r *section.Run) { r.Slabs[0].Kerf = math.Inf(1) },
	} {
		bad := evenRun(3, 20, 1)
		spoil(&bad)
		if bad.Check() == nil {
			t.Errorf("taken: %+v", bad)
		}
	}
}

func TestSlabMeasures(t *testing.T) {
	for _, c := range []struct {
		t           [3]float64
		mean, wedge float64
	}{{[3]float64{20, 0, 0}, 20, 0}, {[3]float64{19, 21, 0}, 20, 2}, {[3]float64{18.5, 20, 21.5}, 20, 3}, {[3]float64{}, 0, 0}} {
		s := section.Slab{Thickness: c.t}
		near(t, "mean", s.Mean(), c.mean, 1e-12)
		near(t, "wedge", s.Wedge(), c.wedge, 1e-12)
	}
}

func TestRunInJSON(t *testing.T) {
	r := evenRun(2, 20, 1.2)
	b, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	var back section.Run
	if err := json.Unmarshal(b, &back); err != nil || back.Plane != r.Plane || back.First != r.First || back.Slabs[1] != r.Slabs[1] {
		t.Errorf("%s came back as %+v, %v", b, back, err)
	}
	// the shape the prompt reads: one measure, lower-case words
	text := `{"plane":"transverse","first":"superior","slabs":[{"number":1,"thickness":[20.0],"kerf":1.2}],"length":509.0}`
	if err := json.Unmarshal([]byte(text), &back); err != nil || back.Slabs[0].Mean() != 20 || back.Length != 509 {
		t.Errorf("%+v, %v", back, err)
	}
	if json.Unmarshal([]byte(`{"plane":"slanted"}`), &back) == nil {
		t.Error("a plane that is none was taken")
	}
}
