package bench

import (
	"errors"
	"image/color"
	"math"
	"testing"

	"pgregory.net/rapid"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// onRuler shows a run alone.
func onRuler(t testing.TB, r section.Run, w, h int) (*Bench, *rulerPane) {
	b, q, m := sample(t)
	r.ID, r.Donor = "z", "D1"
	m.runs = append(m.runs, r)
	if err := b.readLab(); err != nil {
		t.Fatal(err)
	}
	b.ChooseRun("z")
	q.run()
	p := b.RulerPane().(*rulerPane)
	p.Resize(w, h, 1)
	p.lay()
	return b, p
}

func evenRun(plane section.Plane, first section.Facing, n int) section.Run {
	r := section.Run{Part: "trunk", Plane: plane, First: first}
	for i := range n {
		r.Slabs = append(r.Slabs, section.Slab{Number: i + 1, Thickness: [3]float64{20}, Kerf: 1.2})
	}
	return r
}

// Capability CU1: 24 slabs of 20.0 mm, kerf 1.2: slab 5's upper face at 84.8 mm, the end at 507.6 mm; drawn edges within
// 1 px of scale at any zoom.
func TestRulerEdgesAreToScale(t *testing.T) {
	b, p := onRuler(t, evenRun(section.Transverse, section.Superior, 24), 400, 900)
	if d := b.Info(section.Face{Run: "z", Slab: 5, Facing: section.Superior}).Depth; math.Abs(d-84.8) > 0.01 {
		t.Fatalf("slab 5, upper face at %.3f mm", d)
	}
	if d := b.Info(section.Face{Run: "z", Slab: 24, Facing: section.Inferior}).Depth; math.Abs(d-507.6) > 0.01 {
		t.Fatalf("the run ends at %.3f mm", d)
	}
	rapid.Check(t, func(t *rapid.T) {
		for range rapid.IntRange(0, 12).Draw(t, "n") {
			p.Wheel(geom.Px{X: 200, Y: rapid.Float64Range(0, 900).Draw(t, "y")}, rapid.Float64Range(-3, 3).Draw(t, "z"), Mods{Shift: rapid.Bool().Draw(t, "along")})
		}
		want, i := 0.0, 0
		for _, e := range p.edges() {
			if got := e.at - p.place(0); math.Abs(got-want*p.zoom) > 1e-6*(1+math.Abs(got)) {
				t.Fatalf("edge %d drawn at %.3f px, true %.3f", i, got, want*p.zoom)
			}
			if back := p.mmAt(e.at); math.Abs(back-want) > 1e-6 {
				t.Fatalf("edge %d: %.6f mm comes back as %.6f", i, want, back)
			}
			if want += 20; i%2 == 1 {
				want += 1.2 - 20
			}
			i++
		}
	})
}

// The edge really is in the picture where it should be: the painted pixels of the chosen face's line are looked for.
func TestRulerPaintsTheEdgeWhereItIs(t *testing.T) {
	b, p := onRuler(t, evenRun(section.Transverse, section.Superior, 6), 300, 900)
	f := section.Face{Run: "z", Slab: 3, Facing: section.Inferior}
	b.ChooseFace(f)
	m := painted(p, 300, 900, 1)
	first, last := -1, -1
	for y := range 900 {
		for x := int(p.columns().to) - 30; x < int(p.columns().to); x++ { // right of the eye; the line is dotted
			if near(m.RGBAAt(x, y), b.pal.Chosen) {
				if first < 0 {
					first = y
				}
				last = y
			}
		}
	}
	want := p.place(3*20 + 2*1.2)
	if got := float64(first+last) / 2; first < 0 || math.Abs(got-want) > 1 {
		t.Fatalf("painted at %.1f px, true %.1f", got, want)
	}
}

func near(a, b color.RGBA) bool {
	d := func(x, y uint8) int { return max(int(x)-int(y), int(y)-int(x)) }
	return d(a.R, b.R)+d(a.G, b.G)+d(a.B, b.B) < 40
}

// The layout tells the plane: transverse runs from the top down, sagittal from the donor's right, frontal from the front
// (product plan); which end slab 1 lies at only turns the numbers round.
func TestRulerLiesAlongTheCut(t *testing.T) {
	for _, c := range []struct {
		plane     section.Plane
		first     section.Facing
		upright   bool
		slab1Near bool // at the top or left
	}{
		{section.Transverse, section.Superior, true, true}, {section.Transverse, section.Inferior, true, false},
		{section.Sagittal, section.Right, false, true}, {section.Sagittal, section.Left, false, false},
		{section.Frontal, section.Anterior, false, true}, {section.Frontal, section.Posterior, false, false},
	} {
		_, p := onRuler(t, evenRun(c.plane, c.first, 4), 700, 500)
		e := p.edges()
		if p.upright() != c.upright || (e[0].at < e[len(e)-1].at) != c.slab1Near {
			t.Errorf("%v from the %v end: upright %v, slab 1 at %.0f, last at %.0f", c.plane, c.first, p.upright(), e[0].at, e[len(e)-1].at)
		}
	}
}

func TestRulerHits(t *testing.T) {
	b, p := onRuler(t, evenRun(section.Transverse, section.Superior, 4), 300, 900)
	x := (p.columns().from + p.columns().to) / 2
	hit := func(mm float64) section.Face {
		f, _ := p.hit(geom.Px{X: x, Y: p.place(mm)})
		f.Run = ""
		return f
	}
	for _, c := range []struct {
		mm   float64
		slab int
		f    section.Facing
	}{{-2, 1, section.Superior}, {3, 1, section.Superior}, {17, 1, section.Inferior}, {20.3, 1, section.Inferior},
		{20.9, 2, section.Superior}, {25, 2, section.Superior}, {85, 4, section.Inferior}} {
		if got := hit(c.mm); got.Slab != c.slab || got.Facing != c.f {
			t.Errorf("%.1f mm: %v, want slab %d %v", c.mm, got, c.slab, c.f)
		}
	}
	// With room, a target is 44 units: 22 on each side of an outer edge.
	if _, ok := p.hit(geom.Px{X: x, Y: p.place(0) - 21}); !ok {
		t.Error("21 px before the first edge nothing is hit")
	}
	if _, ok := p.hit(geom.Px{X: x, Y: p.place(0) - 24}); ok {
		t.Error("24 px before the first edge something is hit")
	}
	at := geom.Px{X: x, Y: p.place(41)}
	p.Down(at, Primary, Mods{})
	p.Up(at)
	if f := b.Face(); f.Slab != 2 || f.Facing != section.Inferior {
		t.Errorf("chose %v", f)
	}
	p.Down(at, Primary, Mods{Clicks: 2})
	if b.Screen() != FaceScreen {
		t.Error("a double click does not open the bench")
	}
}

func TestWalkingTheRun(t *testing.T) {
	b, _, _ := sample(t)
	b.Key("Up", Mods{}) // first press with no face chosen takes the last; Down the first
	if b.Face() != face(4, section.Inferior) {
		t.Fatal(b.Face())
	}
	b.ChooseFace(section.Face{})
	for i, want := range []section.Face{face(1, section.Superior), face(1, section.Inferior), face(2, section.Superior)} {
		b.Key("Page Down", Mods{})
		if b.Face() != want {
			t.Fatalf("step %d: %v, want %v", i, b.Face(), want)
		}
	}
	b.Key("K", Mods{})
	if b.Face() != face(1, section.Inferior) {
		t.Fatal(b.Face())
	}
	b.Key("F", Mods{})
	b.Key("Up", Mods{}) // stops at the end
	if b.Face() != face(1, section.Superior) {
		t.Fatal(b.Face())
	}
	b.Key("Down", Mods{Shift: true})
	if b.Face() != face(2, section.Superior) {
		t.Fatal(b.Face())
	}
}

// Inserting, splitting and removing move every later face at once, and each can be taken back.
func TestEditingSlabs(t *testing.T) {
	b, _, m := sample(t)
	depth := func(n int) float64 { return b.Info(face(n, section.Superior)).Depth }
	if got := depth(3); math.Abs(got-42.4) > 1e-9 {
		t.Fatal(got)
	}
	if err := b.InsertSlab(1); err != nil {
		t.Fatal(err)
	}
	if got := depth(3); math.Abs(got-63.6) > 1e-9 || b.Run().Slabs[1].Number != 5 {
		t.Fatalf("after inserting: %.2f, %+v", got, b.Run().Slabs)
	}
	if err := b.RemoveSlab(5); err != nil {
		t.Fatal(err)
	}
	whole := b.Run().Extent()
	if err := b.SplitSlab(3); err != nil {
		t.Fatal(err)
	}
	if got := b.Run().Extent(); math.Abs(got-whole) > 1e-9 || len(b.Run().Slabs) != 5 {
		t.Fatalf("splitting changed the length from %.3f to %.3f", whole, got)
	}
	if err := b.RemoveSlab(2); !errors.Is(err, ErrOccupied) {
		t.Fatalf("a slab with a photograph went: %v", err)
	}
	for range 3 {
		b.Undo()
	}
	if len(m.runs[0].Slabs) != 4 || depth(3) != 42.4 || b.RedoName() != "insert slab" {
		t.Fatalf("after undo: %+v, redo %q", m.runs[0].Slabs, b.RedoName())
	}
	if err := b.SetSlab(2, [3]float64{30}, 2); err != nil || depth(3) != 53.2 {
		t.Fatalf("%v %.2f", err, depth(3))
	}
	if err := b.SetLength(100); err != nil {
		t.Fatal(err)
	}
	if c := b.Closure(); !c.Bad || c.Slab == 0 || !has(c.Suspect, "Slab") {
		t.Fatal(c)
	}
}

func TestLayingPhotographs(t *testing.T) {
	b, q, m := sample(t)
	b.ChooseFace(face(2, section.Inferior))
	if err := b.Unplace(); err != nil {
		t.Fatal(err)
	}
	q.run()
	if n := len(b.Tray()); n != 1 || m.plates["p2"].Face != (section.Face{}) {
		t.Fatalf("tray %d", n)
	}
	if _, ok := b.Plate(); ok {
		t.Fatal("the face still has its photograph")
	}
	if err := b.Place("p2", face(1, section.Superior)); !errors.Is(err, atlas.ErrFaceTaken) {
		t.Fatalf("two photographs on one face: %v", err)
	}
	layAll(t, b)
	if f := m.plates["p2"].Face; f != face(1, section.Inferior) {
		t.Fatalf("laid on %v", f)
	}
	b.ChooseFace(face(2, section.Inferior)) // the one that was laid had been chosen
	b.Undo()
	b.Undo()
	q.run()
	if f := m.plates["p2"].Face; f != face(2, section.Inferior) || len(b.Tray()) != 0 {
		t.Fatalf("after undo on %v", f)
	}
	if p, ok := b.Plate(); !ok || p.ID != "p2" {
		t.Fatal("the face has not got its photograph back")
	}
}

// Taking back an older step of the slabs leaves photographs alone that came since.
func TestUndoLeavesPhotographsThatCameSince(t *testing.T) {
	b, q, m := sample(t)
	if err := b.SetSlab(4, [3]float64{25}, 1); err != nil {
		t.Fatal(err)
	}
	p := m.plates["p2"]
	p.ID, p.Face = "p3", face(3, section.Superior)
	m.plates["p3"], m.photos["p3"] = p, m.photos["p2"]
	b.readFaces() // as after taking photographs in
	q.run()
	b.Undo()
	q.run()
	if f := m.plates["p3"].Face; f != face(3, section.Superior) || b.Info(f).PlateID != "p3" || b.Run().Slabs[3].Mean() != 20 {
		t.Fatalf("undo moved it to %v", f)
	}
	b.Redo()
	if f := m.plates["p3"].Face; f != face(3, section.Superior) || b.Run().Slabs[3].Mean() != 25 {
		t.Fatalf("redo moved it to %v", f)
	}
}

// Capability CU1: each slab edge is selectable as a face at any zoom, whichever end the numbers begin at; what a drop is
// shown (EdgeRect) is where a press means that face (EdgeAt).
func TestCU1EveryEdgeIsHit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 60).Draw(t, "slabs")
		plane := section.Plane(rapid.IntRange(1, 3).Draw(t, "plane"))
		r := section.Run{ID: "z", Plane: plane, First: plane.Faces()[rapid.IntRange(0, 1).Draw(t, "first")]}
		for i := range n {
			r.Slabs = append(r.Slabs, section.Slab{Number: i + 1, Thickness: [3]float64{rapid.Float64Range(4, 40).Draw(t, "mm")},
				Kerf: rapid.Float64Range(0.3, 3).Draw(t, "kerf")})
		}
		b := &Bench{}
		b.rule.hist = NewHistory(laid{r, nil})
		p := &rulerPane{b: b}
		b.ruler = p
		scale := float64(rapid.IntRange(1, 2).Draw(t, "scale"))
		p.Resize(900, 900, scale)
		p.lay()
		p.moved, p.zoom = true, p.zoom*rapid.Float64Range(1, 200).Draw(t, "zoom")
		p.start = rapid.Float64Range(-p.zoom*r.Extent(), 800).Draw(t, "start")
		_, to := p.across()
		for _, e := range p.edges() {
			if got, ok := p.hit(p.xy(e.at, to-1)); !ok || got != e.face {
				t.Fatalf("on the edge of %v a press means %v", e.face, got)
			}
			box, ok := b.EdgeRect(e.face)
			if inSight := e.at >= 1 && e.at < p.length()-1; inSight && !ok && math.Abs(e.in-e.at) > 2 {
				t.Fatalf("%v has no rectangle at %.1f", e.face, e.at)
			}
			if ok && box.Dx() > 2 && box.Dy() > 2 {
				mid := geom.Px{X: float64(box.Min.X+box.Max.X) / 2, Y: float64(box.Min.Y+box.Max.Y) / 2}
				if got, ok := b.EdgeAt(mid); !ok || got != e.face {
					t.Fatalf("in the rectangle of %v a press means %v", e.face, got)
				}
			}
		}
	})
}
