package bench

import (
	"math"
	"slices"
	"testing"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// onBorder is the bench with the border tool in hand and a proposal on the picture. The face of the sample is an ellipse of half
// axes w/2.3 and h/2.6 px, drawn by drawnFace.
func onBorder(t *testing.T) (*Bench, *queue, *facePane) {
	t.Helper()
	b, q, _, f := onBench(t, 900, 700)
	q.run()
	if err := b.edit("test", "", func(p atlas.Plate) (atlas.Plate, error) { p.Border = nil; return p, nil }); err != nil {
		t.Fatal(err)
	}
	b.doc.picture, b.doc.whole = photo.NewImage(drawnFace(b.doc.plate().Photo.Size.X, b.doc.plate().Photo.Size.Y)), true
	b.Key("B", Mods{})
	q.run()
	if i := b.Border(); b.Tool() != ToolBorder || !i.Proposed || i.Drawn {
		t.Fatalf("%+v", i)
	}
	return b, q, f
}

// The border is found unasked, accepted with one key, and is then what the check, the overlap of partners and the middle of the face go by.
func TestBorderIsFoundAndKept(t *testing.T) {
	b, q, _ := onBorder(t)
	if p, _ := b.Plate(); len(p.Border) != 0 {
		t.Fatal("kept unasked")
	}
	b.Key("Return", Mods{})
	p, _ := b.Plate()
	if len(p.Border) != 1 || b.Border().Proposed || b.UndoName() != Word("step.border") {
		t.Fatalf("%d rings, undo %q", len(p.Border), b.UndoName())
	}
	w, h := float64(p.Photo.Size.X), float64(p.Photo.Size.Y)
	want := math.Pi * (w / 2.3) * (h / 2.6) // the ellipse
	if got := p.Border[0].AreaPx(); math.Abs(got/want-1) > 0.02 {
		t.Errorf("%.0f px, drawn %.0f", got, want)
	}
	if n := len(p.Border[0].Outer); n < 12 || n > 160 {
		t.Errorf("%d points for a hand to mend", n)
	}
	if m := p.MiddlePx(); m.Dist(geom.Px{X: w / 2, Y: h / 2}) > 4 {
		t.Errorf("middle at %v", m)
	}
	o, err := p.Outline(nil)
	if err != nil {
		t.Fatal(err)
	}
	x, y := p.Calibration.PerPixel(p.MiddlePx())
	if ew, eh := o.Extent(); math.Abs(ew/(2*w/2.3*x)-1) > 0.04 || math.Abs(eh/(2*h/2.6*y)-1) > 0.04 {
		t.Errorf("compared as %.0f x %.0f mm, drawn %.0f x %.0f", ew, eh, 2*w/2.3*x, 2*h/2.6*y)
	}
	q.run()
	if !b.PictureCheck().Known {
		t.Error("the picture is not checked again")
	}
	b.Undo()
	if p, _ = b.Plate(); len(p.Border) != 0 {
		t.Error("undo left it")
	}
}

// A hand mends it: points are dragged, set and taken out, by pointer and by keys; a piece is drawn; what crosses itself is refused.
func TestBorderIsMendedByHand(t *testing.T) {
	b, _, f := onBorder(t)
	b.AcceptBorder()
	ring := func() annotate.Polygon { p, _ := b.Plate(); return p.Border[0] }
	f.lay(b.doc)
	from := ring().Outer[3]
	at, to := b.doc.view.Device(from), b.doc.view.Device(geom.Px{X: from.X + 6, Y: from.Y + 4})
	steps := b.doc.hist.at
	f.Down(at, Primary, Mods{Clicks: 1})
	f.Drag(geom.Px{X: at.X + 5, Y: at.Y})
	f.Drag(to)
	f.Up(to)
	if got := ring().Outer[3]; got.Dist(geom.Px{X: from.X + 6, Y: from.Y + 4}) > 0.01 || b.doc.hist.at != steps+1 {
		t.Fatalf("at %v from %v, %d steps", got, from, b.doc.hist.at-steps)
	}
	b.Key("Right", Mods{Shift: true})
	if got := ring().Outer[3]; got.X <= from.X+6 {
		t.Error("an arrow key does not move the chosen point")
	}
	n := len(ring().Outer)
	a, z := ring().Outer[8], ring().Outer[9]
	for k := range n { // the longest side, so that its middle is no point
		if p, q := ring().Outer[k], ring().Outer[(k+1)%n]; p.Dist(q) > a.Dist(z) {
			a, z = p, q
		}
	}
	mid := b.doc.view.Device(geom.Px{X: (a.X + z.X) / 2, Y: (a.Y + z.Y) / 2})
	f.Down(mid, Primary, Mods{Clicks: 2})
	f.Up(mid)
	if len(ring().Outer) != n+1 {
		t.Fatalf("%d points of %d", len(ring().Outer), n)
	}
	b.Key("Delete", Mods{})
	b.doc.edge.point = noPoint
	b.Key(".", Mods{})
	b.Key("Delete", Mods{})
	if len(ring().Outer) != n-1 {
		t.Fatalf("%d points of %d after Delete", len(ring().Outer), n)
	}
	p, _ := b.Plate()
	q := ring().Outer[5]
	b.doc.edge.point = pointRef{0, 0, 5}
	b.moveEdgePoint(geom.Px{X: float64(p.Photo.Size.X) - q.X, Y: float64(p.Photo.Size.Y) - q.Y})
	if w, warn := b.Hint(); ring().Outer[5] != q || !warn || w == "" {
		t.Error("a border that crosses itself was kept")
	}
	for i, s := range []geom.Px{{X: 8, Y: 8}, {X: 40, Y: 8}, {X: 40, Y: 40}, {X: 8, Y: 40}} { // an arm in the corner
		if i == 0 {
			f.Down(b.doc.view.Device(s), Primary, Mods{Clicks: 1})
			continue
		}
		f.Drag(b.doc.view.Device(s))
	}
	f.Up(b.doc.view.Device(geom.Px{X: 8, Y: 40}))
	if p, _ = b.Plate(); len(p.Border) != 2 {
		t.Errorf("%d pieces", len(p.Border))
	}
	b.ClearBorder()
	if p, _ = b.Plate(); len(p.Border) != 0 {
		t.Error("it cannot be taken away")
	}
}

// A point without which the border would cross itself stays, and so does the rest of its piece; a piece goes with its last three.
func TestBorderPointIsTakenOutOrStays(t *testing.T) {
	b, _, _ := onBorder(t)
	b.ClearBorder()
	piece := annotate.Polygon{Outer: []geom.Px{{X: 100, Y: 100}, {X: 300, Y: 100}, {X: 300, Y: 300}, {X: 200, Y: 120}, {X: 100, Y: 300}}}
	b.setBorder("test", "", []annotate.Polygon{piece})
	points := func() (n []int) {
		p, _ := b.Plate()
		for _, x := range p.Border {
			n = append(n, len(x.Outer))
		}
		return n
	}
	b.doc.edge.point = pointRef{0, 0, 1} // from the first to the third point the line would cross the last side but one
	b.Key("Delete", Mods{})
	if w, warn := b.Hint(); !slices.Equal(points(), []int{5}) || !warn || w == "" {
		t.Fatalf("%v points, hint %q", points(), w)
	}
	for _, want := range [][]int{{4}, {3}, nil} {
		b.doc.edge.point = pointRef{0, 0, 3}
		if len(want) == 0 {
			b.doc.edge.point = pointRef{0, 0, 0}
		}
		if b.Key("Delete", Mods{}); !slices.Equal(points(), want) {
			t.Fatalf("%v points, want %v", points(), want)
		}
	}
}

// A border drawn to the edge of the frame says that the frame cuts the face off, whatever the tray looks like.
func TestDrawnBorderTellsTheCut(t *testing.T) {
	m := photo.NewImage(drawnFace(400, 300))
	got := borderOf([]annotate.Polygon{{Outer: []geom.Px{{X: -0.5, Y: 50}, {X: 200, Y: 50}, {X: 200, Y: 200}, {X: -0.5, Y: 200}}}}, m)
	if got.Cut != [4]bool{true} {
		t.Errorf("%v", got.Cut)
	}
	whole := borderOf([]annotate.Polygon{{Outer: []geom.Px{{X: 20, Y: 50}, {X: 200, Y: 50}, {X: 200, Y: 200}, {X: 20, Y: 200}}}}, m)
	if whole.Cut != [4]bool{} {
		t.Errorf("%v", whole.Cut)
	}
}
