package section_test

import (
	"testing"

	"sectionary/slices/section"
)

// 24 slabs of 20.0 mm, kerf 1.2 mm, by hand: slab 9 begins at 8 x 21.2 = 169.6 mm.
func TestInside(t *testing.T) {
	r := evenRun(24, 20, 1.2)
	in, ok := r.Inside(177.6)
	if !ok || in.Slab != 9 || in.Kerf {
		t.Fatalf("%+v, %v", in, ok)
	}
	near(t, "below", in.Below, 8, 1e-9)
	near(t, "above", in.Above, 12, 1e-9)
	if w := in.Words(r.First); w != "inside slab 9, 8.0 mm below its upper face" {
		t.Errorf("%q", w)
	}
	in, ok = r.Inside(190.0)
	if !ok || in.Slab != 9 || !in.Kerf {
		t.Fatalf("%+v, %v", in, ok)
	}
	near(t, "in the kerf", in.Below, 0.4, 1e-9)
	if w := in.Words(r.First); w != "in the cut after slab 9: lost to the saw" {
		t.Errorf("%q", w)
	}
	for _, d := range []float64{-0.1, 507.7, 1e9} {
		if in, ok := r.Inside(d); ok {
			t.Errorf("%g mm: %+v", d, in)
		}
	}
	for d, slab := range map[float64]int{0: 1, 20: 1, 21.2: 2, 507.6: 24} { // faces themselves belong to their slab
		if in, ok := r.Inside(d); !ok || in.Slab != slab || in.Kerf {
			t.Errorf("%g mm: %+v, %v", d, in, ok)
		}
	}
	for first, want := range map[section.Facing]string{section.Inferior: "above its lower face", section.Anterior: "behind its front face", section.Right: "left of its right face"} {
		if w := (section.Inside{Slab: 2, Below: 3}).Words(first); w != "inside slab 2, 3.0 mm "+want {
			t.Errorf("%v: %q", first, w)
		}
	}
}
