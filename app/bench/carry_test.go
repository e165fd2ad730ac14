package bench

import (
	"math"
	"testing"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// Slab 1's upper face is seen from above, slab 2's lower face from below: what lies at the left of the one lies at the
// right of the other, as far from the middle and as far to the front. Both are placed by level, with one scale.
func TestLB5OutlinesAreCarriedThroughTheScan(t *testing.T) {
	b, q, m, _ := onBench(t, 700, 560)
	p := m.plates["p1"]
	p.Labels, _ = p.Labels.AddAll([]annotate.Label{
		{ID: "liver", Term: "UBERON:0002107", Regions: []annotate.Polygon{square(500, 260, 40)}, Sure: annotate.Certain, Author: "CD", Changed: q.now, Signed: &annotate.Signature{By: "EF"}},
		{ID: "spleen", Term: "UBERON:0002106", Regions: []annotate.Polygon{square(200, 260, 30)}, Sure: annotate.Certain, Author: "CD", Changed: q.now},
		{ID: "nameless", Regions: []annotate.Polygon{square(300, 400, 10)}}})
	m.plates["p1"] = p
	b.rule.facts[p.Face] = factOf(p)
	// this face has a liver already
	b.draw.outline = square(260, 320, 30).Outer
	b.CloseOutline()
	if err := b.NameChosen("UBERON:0002107", annotate.NoSide, annotate.Certain); err != nil {
		t.Fatal(err)
	}
	if !b.Key("E", Mods{}) {
		t.Fatal("no key")
	}
	rows := b.Labels()
	if len(rows) != 2 || !rows[0].Carried || !rows[0].Chosen || rows[0].Signed {
		w, _ := b.Hint()
		t.Fatalf("%+v, %q", rows, w)
	}
	x, _ := b.doc.plate().Labels.Find(rows[0].ID)
	c := x.Centroid()
	// 400 - (200-400) = 600 px across, the same height: the photographs' middles lie on one line along the body
	if c.Dist(geom.Px{X: 599, Y: 260}) > 1.5 || x.From != "slab 1, upper face" || x.Counts() || x.Author != "CD" {
		t.Fatalf("at %v, %+v", c, x)
	}
	if w, _ := b.Hint(); !has(w, "1 outline carried from slab 1, upper face, not checked") {
		t.Fatal(w)
	}
	b.Key("E", Mods{})
	if w, warn := b.Hint(); !warn || len(b.Labels()) != 2 {
		t.Fatalf("carried twice: %q", w)
	}
	b.ChooseLabel(x.ID)
	b.Key("Y", Mods{})
	if x, _ = b.doc.plate().Labels.Find(x.ID); x.Carried || !x.Counts() {
		t.Fatalf("not kept: %+v", x)
	}
	b.Undo()
	b.ChooseLabel(x.ID)
	b.Key("Delete", Mods{})
	if len(b.Labels()) != 1 {
		t.Fatal("not rejected")
	}
	b.Undo()
	b.Undo()
	if len(b.Labels()) != 1 {
		t.Fatal("bringing over is not one step")
	}
	q.run()
}

// LB5: a structure outlined on both sides comes in between by its share of the way. Circles of 40 and 80 px, seen at one place: the signed
// distance of a circle is r - |p|, so a share t of the way gives a circle of (1-t) 40 + t 80 (Raya and Udupa 1990; worked by hand).
func TestLB5BetweenTwoFaces(t *testing.T) {
	b, q, m, _ := onBench(t, 700, 560)
	round := func(r float64) []annotate.Polygon {
		p, err := annotate.Round(geom.Px{X: 399, Y: 260}, r, r, 0)
		if err != nil {
			t.Fatal(err)
		}
		return []annotate.Polygon{p}
	}
	liver := annotate.Label{ID: "up", Term: "UBERON:0002107", Regions: round(40), Sure: annotate.Certain, Author: "CD", Changed: q.now}
	p1 := m.plates["p1"]
	p1.Labels, _ = p1.Labels.Add(liver)
	p4 := m.plates["p2"]
	liver.ID, liver.Regions = "low", round(80)
	p4.ID, p4.Face = "p4", section.Face{Run: "r", Slab: 4, Facing: section.Inferior}
	p4.Labels, _ = annotate.Labels{}.Add(liver)
	for _, p := range []atlas.Plate{p1, p4} {
		m.plates[p.ID] = p
		b.rule.facts[p.Face] = factOf(p)
	}
	b.Key("E", Mods{})
	q.run()
	x := chosen(t, b)
	// slab 2's lower face lies 41.2 mm from the upper face of slab 1, which is 0; slab 4's lower face lies at 83.6 mm
	share := 41.2 / 83.6
	want := 40 + share*40
	if r := math.Sqrt(x.AreaPx() / math.Pi); math.Abs(r-want) > 0.5 || !x.Carried || x.From != "slab 1, upper face and slab 4, lower face" {
		t.Fatalf("radius %.2f, want %.2f; from %q", r, want, x.From)
	}
	if w, _ := b.Hint(); !has(w, "slab 4, lower face", "not checked") {
		t.Error(w)
	}
}

// What was carried over and back lies where it was drawn.
func TestLB5ThereAndBack(t *testing.T) {
	b, _, m, _ := onBench(t, 700, 560)
	p := m.plates["p1"]
	p.Mirrored = atlas.Yes
	p.PhotoUp = section.Left
	there, ok := b.between(p)
	if !ok {
		t.Fatal("no way")
	}
	here := b.doc.plate()
	b.docs["p1"] = &faceDoc{hist: NewHistory(p)}
	b.ChooseFace(face(1, section.Superior))
	back, ok := b.between(here)
	if !ok {
		t.Fatal("no way back")
	}
	for _, q := range places(8) {
		if r := back(there(q)); r.Dist(q) > 1e-6 {
			t.Fatalf("%v came back as %v", q, r)
		}
	}
}

// The outlines of the face stand on the cut, at the place the linked pointer shows, and go with the key.
func TestOutlinesOnTheCut(t *testing.T) {
	b, _, _, f, s := onPairing(t)
	bare := painted(s, 640, 560, 1)
	l, err := b.doc.plate().Labels.Add(annotate.Label{ID: "x", Term: "UBERON:0002107", Regions: []annotate.Polygon{square(500, 300, 60)}})
	if err != nil {
		t.Fatal(err)
	}
	p := b.doc.plate()
	p.Labels = l
	b.doc.hist.Do("t", "", p)
	with := painted(s, 640, 560, 1)
	painted(f, 700, 560, 1)
	edge := b.doc.view.Device(geom.Px{X: 440, Y: 300})
	f.Hover(edge)
	at, _, ok := s.Pointer()
	if !ok {
		t.Fatal("no pointer")
	}
	differs := func() bool {
		for y := -12; y <= 12; y++ {
			for x := -2; x <= 2; x++ {
				if with.RGBAAt(int(at.X)+x, int(at.Y)+y) != bare.RGBAAt(int(at.X)+x, int(at.Y)+y) {
					return true
				}
			}
		}
		return false
	}
	if !differs() {
		t.Fatal("no outline on the cut where the pointer stands")
	}
	b.Key("O", Mods{})
	if with = painted(s, 640, 560, 1); differs() || b.OutlinesOnScan() {
		t.Fatal("hidden, it is still there")
	}
	b.Key("O", Mods{})
	b.StepScan(2)
	if painted(s, 640, 560, 1); s.carries {
		t.Fatal("off the face the outlines are not its own")
	}
}
