package atlas

import (
	"errors"
	"image"
	"math"
	"testing"
	"time"

	"sectionary/slices/photo"
)

func standLens() *photo.Lens {
	return &photo.Lens{FX: 3200, FY: 3200, CX: 1999.5, CY: 1499.5, K1: -0.12, K2: 0.045, Size: image.Pt(4000, 3000), RMS: 0.2, Views: 3, Reach: 0.97}
}

// What was measured on a stand comes back as it was kept, by name, one of each; what cannot be measured is refused.
func TestStands(t *testing.T) {
	l, _ := lab(t)
	if all, err := l.Stands(); err != nil || len(all) != 0 {
		t.Fatalf("%v %v", all, err)
	}
	a := Stand{Name: "Column A", Lens: standLens(), Height: photo.ScaleHeight{Drop: 25, Camera: 1000}, Width: 200, Tall: 140,
		Colour: &photo.Correction{}, Set: time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)}
	for _, s := range []Stand{{Name: "Window bench"}, a} {
		if err := l.SaveStand(s); err != nil {
			t.Fatal(err)
		}
	}
	all, err := l.Stands()
	if err != nil || len(all) != 2 || all[0].Name != "Column A" || *all[0].Lens != *a.Lens || all[0].Height != a.Height || all[0].Width != 200 || !all[0].Set.Equal(a.Set) {
		t.Fatalf("%v %+v", err, all)
	}
	a.Width = 300
	if err := l.SaveStand(a); err != nil {
		t.Fatal(err)
	}
	if all, _ = l.Stands(); len(all) != 2 || all[0].Width != 300 {
		t.Fatalf("kept twice: %+v", all)
	}
	folded := *standLens()
	folded.K1 = -0.9
	for _, bad := range []Stand{{}, {Name: " A"}, {Name: "A", Height: photo.ScaleHeight{Drop: 3}}, {Name: "A", Length: math.NaN()}, {Name: "A", Lens: &folded}} {
		if err := l.SaveStand(bad); !errors.Is(err, ErrStand) {
			t.Errorf("%+v: %v", bad, err)
		}
	}
	if err := l.RemoveStand("Column A"); err != nil {
		t.Fatal(err)
	}
	if err := l.RemoveStand("Column A"); !errors.Is(err, ErrNotFound) {
		t.Error(err)
	}
}
