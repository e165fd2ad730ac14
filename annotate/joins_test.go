package annotate

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"sectionary/slices/geom"
)

func areaOf(regions []Polygon) float64 { return Label{Regions: regions}.AreaPx() }

// Source: shape.json overlap_exact (64-fold supersampling, numpy): common area 661.1021, union 820.4941, Dice 0.89242, 1e-3;
// contour_distance (dense sampling): Hausdorff 6.0081, mean both ways 1.59065, 0.005.
func TestAgreementOfTwoContours(t *testing.T) {
	a, b := []Polygon{contour("A")}, []Polygon{contour("B")}
	common, err := Common(a, b)
	if err != nil || !near(areaOf(common), 661.1021, 0.05) {
		t.Errorf("common %v %v", areaOf(common), err)
	}
	union, err := Join(a, b)
	if err != nil || !near(areaOf(union), 820.4941, 0.05) {
		t.Errorf("union %v %v", areaOf(union), err)
	}
	one := func(q geom.Px) geom.MM { return geom.MM(q) }
	got, err := Compare(a, b, one)
	if err != nil || !near(got.Dice, 0.89242, 1e-3) || !near(got.MaxGap, 6.0081, 0.005) || !near(got.MeanGap, 1.59065, 0.005) {
		t.Errorf("%+v %v", got, err)
	}
	tenth := func(q geom.Px) geom.MM { return geom.MM{X: q.X / 10, Y: q.Y / 10} }
	if mm, _ := Compare(a, b, tenth); !near(mm.MeanGap, got.MeanGap/10, 1e-9) || !near(mm.Dice, got.Dice, 1e-9) {
		t.Errorf("in mm: %+v", mm)
	}
	if self, _ := Compare(a, a, one); !near(self.Dice, 1, 1e-12) || self.MaxGap > 1e-9 {
		t.Errorf("with itself: %+v", self)
	}
}

func TestReadersArePaired(t *testing.T) {
	at := func(id string, x float64, term TermID, side Side) Label {
		return Label{ID: id, Term: term, Side: side, Regions: []Polygon{{Outer: square(x, 0, 10)}}}
	}
	first, _ := Labels{}.AddAll([]Label{at("a1", 0, "X:1", Left), at("a2", 100, "X:2", NoSide), at("a3", 300, "X:3", NoSide)})
	second, _ := Labels{}.AddAll([]Label{at("b1", 1, "X:1", Right), at("b2", 102, "X:9", NoSide), at("b4", 500, "X:4", NoSide)})
	got, err := CompareReaders(first, second, func(q geom.Px) geom.MM { return geom.MM(q) })
	if err != nil || len(got) != 4 {
		t.Fatalf("%v %+v", err, got)
	}
	if p := got[0]; p.First != "a1" || p.Second != "b1" || !p.SameTerm || p.SameSide || !near(p.Agreement.Dice, 0.9, 1e-9) || !near(p.Agreement.MaxGap, 1, 1e-9) {
		t.Errorf("%+v", p)
	}
	if p := got[1]; p.First != "a2" || p.Second != "b2" || p.SameTerm || !p.SameSide {
		t.Errorf("%+v", p)
	}
	if got[2].First != "a3" || got[2].Second != "" || got[3].Second != "b4" || got[3].First != "" {
		t.Errorf("%+v", got[2:])
	}
}

// Areas add up: a + b = union + common, a = minus + common; every part is sound.
func TestJoinsConserveArea(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := []Polygon{drawPolygon(t)}, []Polygon{drawPolygon(t)}
		if rapid.Bool().Draw(t, "near") { // two places at random seldom meet
			ca, cb := a[0].Centroid(), b[0].Centroid()
			b[0] = b[0].Map(func(q geom.Px) geom.Px { return geom.Px{X: q.X - cb.X + ca.X + 7, Y: q.Y - cb.Y + ca.Y} })
		}
		join, err1 := Join(a, b)
		minus, err2 := Minus(a, b)
		common, err3 := Common(a, b)
		if err := errors.Join(err1, err2, err3); err != nil {
			t.Fatal(err)
		}
		slack := 1e-6*(areaOf(a)+areaOf(b)) + 0.5
		if !near(areaOf(join)+areaOf(common), areaOf(a)+areaOf(b), slack) || !near(areaOf(minus)+areaOf(common), areaOf(a), slack) {
			t.Fatalf("areas do not add up: %v %v %v of %v %v", areaOf(join), areaOf(minus), areaOf(common), areaOf(a), areaOf(b))
		}
		for _, p := range append(append(join, minus...), common...) {
			if err := p.Check(); err != nil {
				t.Fatal(err)
			}
		}
	})
}

func TestCut(t *testing.T) {
	p := Polygon{Outer: square(0, 0, 100), Holes: [][]geom.Px{square(40, 40, 20)}}
	for name, c := range map[string]struct {
		stroke []geom.Px
		areas  []float64
	}{
		"across":            {[]geom.Px{{X: -10, Y: 20}, {X: 110, Y: 20}}, []float64{2000, 7600}},
		"short of the edge": {[]geom.Px{{X: 5, Y: 20}, {X: 95, Y: 20}}, []float64{2000, 7600}},
		"through the hole":  {[]geom.Px{{X: -10, Y: 50}, {X: 110, Y: 50}}, []float64{4800, 4800}},
		"bent":              {[]geom.Px{{X: -10, Y: 30}, {X: 50, Y: 30}, {X: 50, Y: -10}}, []float64{1500, 8100}},
	} {
		parts, err := Cut(p, c.stroke)
		if err != nil || len(parts) != 2 {
			t.Errorf("%s: %d parts, %v", name, len(parts), err)
			continue
		}
		lo, hi := math.Min(parts[0].AreaPx(), parts[1].AreaPx()), math.Max(parts[0].AreaPx(), parts[1].AreaPx())
		if !near(lo, c.areas[0], 1e-6) || !near(hi, c.areas[1], 1e-6) {
			t.Errorf("%s: %v and %v", name, lo, hi)
		}
	}
	for name, stroke := range map[string][]geom.Px{"beside": {{X: -10, Y: 200}, {X: 110, Y: 200}}, "a point": {{X: 1, Y: 1}}, "the same point": {{X: 1, Y: 1}, {X: 1, Y: 1}},
		"crossing itself": {{X: 0, Y: 0}, {X: 50, Y: 50}, {X: 50, Y: 0}, {X: 0, Y: 50}}} {
		if parts, err := Cut(p, stroke); err == nil {
			t.Errorf("%s: %d parts", name, len(parts))
		}
	}
}
