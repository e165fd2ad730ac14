package bench

import (
	"math"
	"testing"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

func chosen(t *testing.T, b *Bench) annotate.Label {
	t.Helper()
	_, x, err := b.chosenLabel()
	if err != nil {
		t.Fatal(err, b.draw.hint)
	}
	return x
}

// drawnFace's organ is the disc u, v about (-0.4, 0.05) of radius 0.4 in units of 800/2.3 and 600/2.6 pixels: an ellipse of
// half axes 139.1 and 92.3 about (260.9, 311.5). That is what Follow edge and Fill from here have to find.
var organ = struct{ x, y, a, b float64 }{800 * (0.5 - 0.4/2.3), 600 * (0.5 + 0.05/2.6), 0.4 * 800 / 2.3, 0.4 * 600 / 2.6}

func onOrgan(turn float64) geom.Px {
	sin, cos := math.Sincos(turn)
	return geom.Px{X: organ.x + organ.a*cos, Y: organ.y + organ.b*sin}
}

func organGap(t *testing.T, x annotate.Label) annotate.Agreement {
	t.Helper()
	want, err := annotate.Round(geom.Px{X: organ.x, Y: organ.y}, organ.a, organ.b, 0)
	if err != nil {
		t.Fatal(err)
	}
	a, err := annotate.Compare(x.Regions, []annotate.Polygon{want}, func(p geom.Px) geom.MM { return geom.MM(p) })
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// With the edge followed, eight clicks give the drawn ellipse to within a pixel on average (0.5 mm at this scale).
func TestFollowEdgeBetweenClicks(t *testing.T) {
	b, q, _, f := onBench(t, 900, 700)
	b.SetTool(ToolOutline)
	b.SetManner(ByFollowing)
	q.run()
	if b.doc.follower == nil {
		t.Fatal("not ready for following edges")
	}
	for i := range 8 {
		at := onOrgan(2 * math.Pi * float64(i) / 8)
		f.Hover(b.doc.view.Device(at))
		q.run()
		if i > 0 && len(b.draw.live) < 3 {
			t.Fatalf("click %d: the way is not shown before it is accepted", i)
		}
		before := len(b.draw.outline)
		clickAt(f, at)
		if i > 0 && len(b.draw.outline) <= before+1 {
			t.Fatalf("click %d took %d points of the way shown", i, len(b.draw.outline)-before)
		}
	}
	before := len(b.draw.outline)
	b.Key("Delete", Mods{}) // one click back takes its whole way
	if len(b.draw.knots) != 7 || len(b.draw.outline) >= before-1 {
		t.Fatalf("%d clicks, %d points after Delete", len(b.draw.knots), len(b.draw.outline))
	}
	clickAt(f, onOrgan(2*math.Pi*7/8)) // without having been shown: found afterwards
	b.Key("Return", Mods{})
	if b.Chosen() != "" {
		t.Fatal("closed before its ways were found")
	}
	q.run()
	if a := organGap(t, chosen(t, b)); a.MeanGap > 1 || a.Dice < 0.98 {
		t.Errorf("followed outline: %+v px", a)
	}
}

// A draft that was dropped gets nothing that was still being looked for.
func TestFollowedWayOfADroppedDraft(t *testing.T) {
	b, q, _, f := onBench(t, 900, 700)
	b.SetTool(ToolOutline)
	b.SetManner(ByFollowing)
	q.run()
	clickAt(f, onOrgan(0))
	clickAt(f, onOrgan(1))
	b.Back()
	q.run()
	if len(b.draw.outline) != 0 || len(b.draw.live) != 0 || b.draw.pending != 0 {
		t.Fatalf("a dropped draft came back: %d points", len(b.draw.outline))
	}
}

func TestFillFromHere(t *testing.T) {
	b, q, _, f := onBench(t, 900, 700)
	b.SetTool(ToolOutline)
	b.SetManner(ByFilling)
	clickAt(f, geom.Px{X: organ.x, Y: organ.y})
	q.run()
	if len(b.draw.outline) == 0 || b.Chosen() != "" {
		t.Fatalf("nothing is offered, or it is kept unasked: %q", b.draw.hint)
	}
	before := b.draw.fill.alike
	b.Key("[", Mods{})
	q.run()
	if b.draw.fill.alike >= before || len(b.draw.outline) == 0 {
		t.Fatalf("alike %g after less", b.draw.fill.alike)
	}
	b.Key("Return", Mods{})
	if a := organGap(t, chosen(t, b)); a.Dice < 0.97 {
		t.Errorf("filled outline %+v", a)
	}
}

// The ellipse over an axis of 120 with half width 25 encloses pi*60*25.
func TestRound(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	b.SetTool(ToolOutline)
	b.SetManner(ByRound)
	for _, p := range []geom.Px{{X: 300, Y: 300}, {X: 420, Y: 300}, {X: 360, Y: 325}} {
		clickAt(f, p)
	}
	if got, want := chosen(t, b).AreaPx(), math.Pi*60*25; math.Abs(got-want) > 0.02*want {
		t.Errorf("ellipse %.0f, want %.0f", got, want)
	}
	clickAt(f, geom.Px{X: 500, Y: 200})
	clickAt(f, geom.Px{X: 540, Y: 230})
	b.Key("Return", Mods{})
	if got, want := chosen(t, b).AreaPx(), math.Pi*25*25; math.Abs(got-want) > 0.02*want {
		t.Errorf("circle %.0f, want %.0f", got, want)
	}
}

// Areas follow from the squares drawn: 120², less a hole of 40², more a part of 20², and so on.
func TestHolesPartsJoinAndCut(t *testing.T) {
	b, _, _, _ := onBench(t, 900, 700)
	id := withSquare(t, b, 400, 300, 60)
	draw := func(into Into, ring []geom.Px) {
		t.Helper()
		b.SetInto(into)
		b.draw.outline = ring
		b.CloseOutline()
		if b.Chosen() != id || len(b.draw.outline) != 0 {
			t.Fatalf("into %d: %q", into, b.draw.hint)
		}
		if b.Into() != OfItsOwn {
			t.Fatal("the next outline would go the same way")
		}
	}
	area := func(want float64) {
		t.Helper()
		if got := chosen(t, b).AreaPx(); math.Abs(got-want) > 1e-6*want {
			t.Fatalf("area %g, want %g", got, want)
		}
	}
	draw(Hole, square(400, 300, 20).Outer)
	area(120*120 - 40*40)
	draw(AnotherPart, square(600, 300, 10).Outer)
	area(120*120 - 40*40 + 20*20)
	if n := len(chosen(t, b).Regions); n != 2 {
		t.Fatalf("%d parts", n)
	}
	draw(Joined, square(470, 300, 20).Outer) // 10 px over the right edge at 460, so 30 x 40 more
	area(120*120 - 40*40 + 20*20 + 30*40)
	draw(TakenOff, square(600, 300, 30).Outer)
	area(120*120 - 40*40 + 30*40)
	b.SetInto(Hole)
	b.draw.outline = square(100, 100, 10).Outer // outside: no hole of it
	b.CloseOutline()
	if b.draw.hint == "" || !b.draw.warn {
		t.Fatal("a hole outside was taken")
	}
	b.Back()
	b.SetInto(CutAcross)
	b.draw.outline = []geom.Px{{X: 370, Y: 200}, {X: 370, Y: 400}}
	b.CloseOutline()
	area(120*120 - 40*40 + 30*40 - 30*120)
	p, _ := b.Plate()
	if p.Labels.Len() != 2 {
		t.Fatalf("%d outlines after the cut", p.Labels.Len())
	}
	for x := range p.Labels.All() {
		if x.ID != id {
			b.Join()
			b.ChooseLabel(x.ID)
		}
	}
	area(120*120 - 40*40 + 30*40)
	if p, _ := b.Plate(); p.Labels.Len() != 1 || b.Chosen() != id {
		t.Fatal("the other outline stayed")
	}
}

// Two squares share the border x = 400. Moving its upper corner moves both, and what one gains the other loses.
func TestSharedBorderMovesBoth(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	left := withSquare(t, b, 350, 300, 50)
	b.SetApart(true)
	b.draw.outline = boxPolygon(geom.Px{X: 380, Y: 250}, geom.Px{X: 470, Y: 350}).Outer
	b.CloseOutline()
	right := b.Chosen()
	area := func(id string) float64 {
		p, _ := b.Plate()
		x, _ := p.Labels.Find(id)
		return x.AreaPx()
	}
	if area(right) != 70*100 {
		t.Fatalf("the new outline covers its neighbour: %g", area(right))
	}
	both := area(left) + area(right)
	b.SetTool(ToolPan)
	from, to := b.doc.view.Device(geom.Px{X: 400, Y: 250}), b.doc.view.Device(geom.Px{X: 415, Y: 250})
	f.Down(from, Primary, Mods{})
	f.Drag(b.doc.view.Device(geom.Px{X: 440, Y: 250}))
	f.Drag(to)
	f.Up(to)
	if math.Abs(area(left)-100*100-15*50) > 0.01 || math.Abs(area(left)+area(right)-both) > 0.01 {
		t.Fatalf("left %g, both %g of %g", area(left), area(left)+area(right), both)
	}
	b.Undo()
	if area(left) != 100*100 {
		t.Fatal("one hold is not one step")
	}
}

// Outlined, walked along, nudged and smoothed by keys alone.
func TestOutlineByKeysAlone(t *testing.T) {
	b, _, _, _ := onBench(t, 900, 700)
	keys := func(names ...string) {
		for _, k := range names {
			if !b.Key(k, Mods{}) {
				t.Fatalf("key %s was not used", k)
			}
		}
	}
	keys("O", "Right", "Return", "Right", "Right", "Right", "Right", "Return", "Down", "Down", "Down", "Down", "Return")
	if n := len(b.draw.outline); n != 3 {
		t.Fatalf("%d points", n)
	}
	keys("Return") // the cross was not moved since: closes
	x := chosen(t, b)
	z := b.doc.view.Zoom
	if got, want := x.AreaPx(), 0.5*40*40/(z*z); math.Abs(got-want) > 0.01*want {
		t.Fatalf("area %g, want %g", got, want)
	}
	keys(".")
	at := x.Regions[0].Outer[0]
	if b.draw.point != (pointRef{0, 0, 0}) {
		t.Fatalf("point %v", b.draw.point)
	}
	keys("Left", "Left")
	if got := chosen(t, b).Regions[0].Outer[0]; math.Abs(at.X-got.X-2/z) > 1e-6 || got.Y != at.Y {
		t.Fatalf("nudged from %v to %v", at, got)
	}
	b.Undo()
	if got := chosen(t, b).Regions[0].Outer[0]; got.Dist(at) > 1e-9 {
		t.Fatal("one undo does not take the nudges back")
	}
	keys("Escape")
	b.Key("Up", Mods{Ctrl: true})
	if got := chosen(t, b).Regions[0].Outer[0]; math.Abs(at.Y-got.Y-1/z) > 1e-6 {
		t.Fatalf("the outline moved from %v to %v", at, got)
	}
	keys("H")
	if n := len(chosen(t, b).Regions[0].Outer); n <= 3 {
		t.Fatalf("%d points after smoothing", n)
	}
	if b.Face() != face(2, section.Inferior) {
		t.Fatal("an arrow walked along the run")
	}
}
