package annotate

import (
	"image"
	"maps"
	"math"
	"slices"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

func same1(q geom.Px) geom.Px { return q }

// LB5: what is carried counts for nothing until a person confirms it.
func TestLB5CarriedLabelsDoNotCount(t *testing.T) {
	l, _ := Labels{}.AddAll([]Label{liver("a", 50), liver("b", 60), {ID: "unnamed", Regions: []Polygon{{Outer: square(0, 0, 5)}}}})
	l, _ = l.Sign("a", stamp("CD"))
	carried, lost := l.CarryOver(func(q geom.Px) geom.Px { return geom.Px{X: q.X + 5, Y: q.Y} }, "slab 3, lower face", func(old string) string { return old + "'" })
	if len(carried) != 2 || len(lost) != 0 {
		t.Fatalf("%d carried, lost %v", len(carried), lost)
	}
	for _, x := range carried {
		if x.Counts() || x.Signed != nil || x.From != "slab 3, lower face" || x.ID[1] != '\'' || x.Regions[0].Outer[0] != (geom.Px{X: 5, Y: 0}) {
			t.Errorf("%+v", x)
		}
	}
	if _, lost := l.CarryOver(func(q geom.Px) geom.Px { return geom.Px{} }, "", func(s string) string { return s }); !slices.Equal(lost, []string{"a", "b"}) {
		t.Errorf("folded outlines: lost %v", lost)
	}
}

// LB7: a new photograph, turned, nearer and tilted; ten ties, one of them 10 mm off: only the label beside it is looked at again.
func TestLB7RephotographedFace(t *testing.T) {
	view := geom.Homography{1.2, 0.3, 40, -0.25, 1.1, 300, 1e-5, 2e-5, 1}
	see := func(q geom.Px) geom.Px { return geom.Px(view.MM(q)) }
	scale, err := photo.TwoTicks(geom.Px{}, geom.Px{X: 1000}, 500) // 0.5 mm per pixel
	if err != nil {
		t.Fatal(err)
	}
	var ties []PictureTie
	for _, q := range []geom.Px{{X: 0, Y: 0}, {X: 1000, Y: 0}, {X: 1000, Y: 800}, {X: 0, Y: 800}, {X: 500, Y: 100}, {X: 500, Y: 400}, {X: 100, Y: 400}, {X: 900, Y: 400},
		{X: 300, Y: 200}, {X: 700, Y: 200}, {X: 300, Y: 600}, {X: 700, Y: 600}} {
		ties = append(ties, PictureTie{q, see(q)})
	}
	at := func(id string, x, y float64) Label {
		l := liver(id, 1)
		l.Regions = []Polygon{{Outer: square(x, y, 30)}}
		l.Signed = &Signature{By: "CD", At: l.Changed}
		return l
	}
	l, _ := Labels{}.AddAll([]Label{at("corner", 10, 10), at("middle", 480, 380)})
	carry := func(ties []PictureTie, scale photo.Calibration) (Rephotograph, Labels, []string) {
		t.Helper()
		r, err := FitRephotograph(ties, scale)
		if err != nil {
			t.Fatal(err)
		}
		next, again, lost := l.Rephotographed(r, "the earlier picture")
		if len(lost) > 0 || next.Len() != l.Len() {
			t.Fatalf("lost %v", lost)
		}
		for x := range next.All() {
			if _, listed := again[x.ID]; x.Signed != nil || x.Carried != listed || x.Counts() == listed {
				t.Errorf("%s: listed %v, %+v", x.ID, listed, x)
			}
		}
		return r, next, slices.Sorted(maps.Keys(again))
	}
	r, next, again := carry(ties, scale)
	if len(again) != 0 || r.Fit.Max > 1e-6 {
		t.Fatalf("%v %v", again, r.Fit.Max)
	}
	a, _ := l.Find("corner")
	b, _ := next.Find("corner")
	if d := see(a.Regions[0].Outer[2]).Dist(b.Regions[0].Outer[2]); d > 1e-6 {
		t.Errorf("a point slipped by %v", d)
	}
	if a.Signed == nil {
		t.Error("the earlier label lost its signature")
	}
	ties[5].New.X += 20 // 10 mm
	r, next, again = carry(ties, scale)
	if !slices.Equal(again, []string{"middle"}) || math.Abs(r.Error[5]-10) > 0.1 || !r.LeftOut[5] {
		t.Errorf("look again at %v, errors %.1f", again, r.Error)
	}
	// The wrong tie moved nothing, for eleven others agree.
	if x, _ := next.Find("middle"); x.Regions[0].Outer[0].Dist(see(geom.Px{X: 480, Y: 380})) > 1e-6 {
		t.Errorf("the wrong tie moved an outline to %v", x.Regions[0].Outer[0])
	}
	if _, _, again = carry(slices.Concat(ties[:4], ties[5:9]), scale); !slices.Equal(again, []string{"middle"}) {
		t.Errorf("eight ties: look again at %v", again)
	}
	if _, _, again = carry(ties[3:8], scale); len(again) != 2 { // five: which of them is wrong cannot be told
		t.Errorf("five ties: look again at %v", again)
	}
	ties[5].New.X -= 20
	ties[5].New.X += 3 // 1.5 mm
	if _, _, again = carry(ties, scale); len(again) != 0 {
		t.Errorf("1.5 mm: look again at %v", again)
	}
	if _, _, again = carry(ties[:4], scale); len(again) != 2 {
		t.Errorf("four ties always fit, yet only %v are looked at", again)
	}
	if _, _, again = carry(ties, photo.Calibration{}); len(again) != 2 {
		t.Errorf("no scale, yet only %v are looked at", again)
	}
	if _, err := FitRephotograph(ties[:3], scale); err == nil {
		t.Error("three ties pass")
	}
}

// An outline through which the horizon of the map passes is left out and named.
func TestRephotographedOutlinesThatAreLost(t *testing.T) {
	x := liver("a", 1)
	x.Regions = []Polygon{{Outer: square(100, 100, 30)}}
	l, _ := Labels{}.AddAll([]Label{x})
	r := Rephotograph{Map: geom.Homography{1, 0, 0, 0, 1, 0, -1 / 115.0, 0, 1}}
	if next, _, lost := l.Rephotographed(r, ""); next.Len() != 0 || !slices.Equal(lost, []string{"a"}) {
		t.Errorf("%v kept, lost %v", next.Len(), lost)
	}
}

func TestNumbersComeBack(t *testing.T) {
	a, b := liver("a", 10), liver("b", 10)
	a.Regions = []Polygon{{Outer: oval(30, 30, 20, 14, 60), Holes: [][]geom.Px{oval(30, 30, 6, 5, 20)}}}
	b.Regions = []Polygon{{Outer: oval(70, 40, 12, 20, 60)}}
	l, _ := Labels{}.AddAll([]Label{a, b})
	r := image.Rect(0, 0, 100, 80)
	numbers, ids := l.Numbers(r, same1)
	back := FromNumbers(r, numbers)
	if !slices.Equal(ids, []string{"a", "b"}) || len(back) != 2 {
		t.Fatalf("%v, %d numbers", ids, len(back))
	}
	for n, x := range []Label{a, b} {
		got, err := Compare(back[uint16(n+1)], x.Regions, func(q geom.Px) geom.MM { return geom.MM(q) })
		if err != nil || got.Dice < 0.97 || got.MaxGap > 1 {
			t.Errorf("%s: %+v %v", x.ID, got, err)
		}
	}
	if FromNumbers(r, numbers[1:]) != nil {
		t.Error("a picture of the wrong size passes")
	}
}
