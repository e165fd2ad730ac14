package bench

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

func TestOutlineByClicks(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	b.SetTool(ToolOutline)
	for _, p := range []geom.Px{{X: 200, Y: 200}, {X: 300, Y: 200}, {X: 300, Y: 320}} {
		clickAt(f, p)
	}
	if p, _ := b.Plate(); p.Labels.Len() != 0 || b.doc.hist.UndoName() != "" {
		t.Fatal("an open outline is part of the face already")
	}
	clickAt(f, geom.Px{X: 202, Y: 201}) // near the first point
	p, _ := b.Plate()
	x, ok := p.Labels.Find(b.Chosen())
	if !ok || len(x.Regions[0].Outer) != 3 || x.Author != "AB" {
		t.Fatalf("outline %+v", x)
	}
	for i, want := range []geom.Px{{X: 200, Y: 200}, {X: 300, Y: 200}, {X: 300, Y: 320}} {
		if got := x.Regions[0].Outer[i]; got.Dist(want) > 0.01 {
			t.Errorf("point %d at %v, clicked at %v", i, got, want)
		}
	}
	b.Undo()
	if p, _ := b.Plate(); p.Labels.Len() != 0 || b.Chosen() != "" {
		t.Fatal("undo left the outline")
	}
}

// An outline that crosses itself is refused with the place: two segments that cross at (250, 250) by construction.
func TestCrossingIsRefusedWithItsPlace(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	b.SetTool(ToolOutline)
	for _, p := range []geom.Px{{X: 200, Y: 200}, {X: 300, Y: 300}, {X: 300, Y: 200}, {X: 200, Y: 300}} {
		clickAt(f, p)
	}
	b.Key("Return", Mods{})
	words, warn := b.Hint()
	at := b.draw.crossing
	if at == nil || at.Dist(geom.Px{X: 250, Y: 250}) > 0.01 || !warn || !strings.Contains(words, "crosses") {
		t.Fatalf("crossing %v, hint %q", at, words)
	}
	if p, _ := b.Plate(); p.Labels.Len() != 0 {
		t.Fatal("it was kept")
	}
	b.Key("Backspace", Mods{}) // one point back, and it stands
	b.Key("Return", Mods{})
	if p, _ := b.Plate(); p.Labels.Len() != 1 {
		t.Fatal("the mended outline was not kept")
	}
}

func TestFreehand(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	b.SetTool(ToolOutline)
	b.SetManner(ByFreehand)
	at := func(i int) geom.Px {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 200)
		return b.doc.view.Device(geom.Px{X: 400 + 90*cos, Y: 300 + 60*sin})
	}
	f.Down(at(0), Primary, Mods{})
	for i := range 200 {
		f.Drag(at(i))
	}
	f.Up(at(199))
	p, _ := b.Plate()
	x, ok := p.Labels.Find(b.Chosen())
	if !ok {
		t.Fatal("no outline")
	}
	// An ellipse of half axes 90 and 60 encloses pi*90*60; the line was thinned by little more than a pixel.
	if got, want := x.AreaPx(), math.Pi*90*60; math.Abs(got-want) > 0.03*want {
		t.Errorf("area %.0f, want %.0f", got, want)
	}
	if n := len(x.Regions[0].Outer); n > 60 || n < 12 {
		t.Errorf("%d points after thinning", n)
	}
}

func withSquare(t *testing.T, b *Bench, x, y, r float64) string {
	t.Helper()
	b.draw.outline = square(x, y, r).Outer
	b.CloseOutline()
	if b.Chosen() == "" {
		t.Fatal("no outline")
	}
	return b.Chosen()
}

func TestMovePointsIsOneStepForEachHold(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	id := withSquare(t, b, 400, 300, 60)
	corner := geom.Px{X: 340, Y: 240}
	drag := func(from geom.Px, to ...geom.Px) {
		f.Down(b.doc.view.Device(from), Primary, Mods{})
		for _, p := range to {
			f.Drag(b.doc.view.Device(p))
		}
		f.Up(b.doc.view.Device(to[len(to)-1]))
	}
	drag(corner, geom.Px{X: 335, Y: 235}, geom.Px{X: 330, Y: 230}, geom.Px{X: 320, Y: 225})
	drag(geom.Px{X: 320, Y: 225}, geom.Px{X: 310, Y: 220})
	ring := func() []geom.Px {
		p, _ := b.Plate()
		x, _ := p.Labels.Find(id)
		return x.Regions[0].Outer
	}
	if got := ring()[0]; got.Dist(geom.Px{X: 310, Y: 220}) > 0.01 {
		t.Fatalf("moved to %v", got)
	}
	b.Undo()
	if got := ring()[0]; got.Dist(geom.Px{X: 320, Y: 225}) > 0.01 {
		t.Fatalf("after one undo %v", got)
	}
	b.Undo()
	if got := ring()[0]; got.Dist(corner) > 0.01 {
		t.Fatalf("after two undos %v", got)
	}
	// Drawn through the opposite edge the outline cannot stand: it goes back, and the place is marked.
	b.ChooseLabel(id)
	drag(corner, geom.Px{X: 400, Y: 420})
	if got := ring()[0]; got.Dist(corner) > 0.01 || b.draw.crossing == nil {
		t.Fatalf("a crossing point stayed at %v", got)
	}
	// A double click on an edge puts a point there; Delete takes it away.
	f.Down(b.doc.view.Device(geom.Px{X: 400, Y: 241}), Primary, Mods{Clicks: 2})
	f.Up(b.doc.view.Device(geom.Px{X: 400, Y: 241}))
	if n := len(ring()); n != 5 {
		t.Fatalf("%d points after inserting", n)
	}
	b.Key("Delete", Mods{})
	if n := len(ring()); n != 4 {
		t.Fatalf("%d points after removing", n)
	}
	b.draw.point = noPoint
	b.Key("Delete", Mods{})
	if p, _ := b.Plate(); p.Labels.Len() != 0 {
		t.Fatal("the chosen outline was not removed")
	}
}

// Sides come from the face: on a lower face seen with the front up, the donor's right is at the picture's left
// (truth table of the faces). The liver usually lies on the right (common practice, no source).
func TestNamesAndSides(t *testing.T) {
	b, _, _, _ := onBench(t, 900, 700)
	withSquare(t, b, 200, 300, 50) // picture left: the donor's right
	if err := b.NameChosen("UBERON:0002107", annotate.Left, annotate.Certain); !errors.Is(err, annotate.ErrSide) {
		t.Fatalf("a single structure took a side: %v", err)
	}
	if err := b.NameChosen("UBERON:0002107", annotate.NoSide, annotate.Certain); err != nil || b.Message() != nil {
		t.Fatalf("liver on the right: %v, %+v", err, b.Message())
	}
	var paired TermRow
	for _, r := range b.FindTerms("kidney") {
		if r.Paired {
			paired = r
			break
		}
	}
	if paired.ID == "" || paired.Suggested != annotate.Right || len(paired.Sides) != 2 {
		t.Fatalf("kidney: %+v", paired)
	}
	if err := b.NameChosen(paired.ID, annotate.NoSide, annotate.Certain); !errors.Is(err, annotate.ErrSide) {
		t.Fatalf("one of a pair stands without a side: %v", err)
	}
	if err := b.NameChosen(paired.ID, annotate.Left, annotate.Certain); err != nil {
		t.Fatal(err)
	}
	if m := b.Message(); m == nil || !has(m.Title, "LEFT", "right") {
		t.Fatalf("no warning about the side: %+v", m)
	}
	b.Dismiss()
	if rows := b.Labels(); rows[0].Side != annotate.Left || rows[0].Warning == "" {
		t.Fatalf("the warning corrected the label, or is not listed: %+v", rows[0])
	}
	withSquare(t, b, 620, 300, 50)
	if err := b.NameChosen("UBERON:0002107", annotate.NoSide, annotate.Probable); err != nil {
		t.Fatal(err)
	}
	if m := b.Message(); m == nil || !has(m.Title, "Liver", "right", "left") {
		t.Fatalf("no word about a liver on the left: %+v", m)
	}
	b.Dismiss()
	if rows := b.Labels(); !has(rows[0].Area, "cm²") || rows[0].Sure != annotate.Probable {
		t.Fatalf("row %+v", rows[0])
	}
	b.Key("U", Mods{})
	if b.Labels()[0].Sure != annotate.Discuss {
		t.Fatal("sureness did not go on")
	}
}

func TestUnknownStaysUnknownAndBlocks(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	withSquare(t, b, 200, 300, 50)
	b.SetPhotoUp(section.UnknownFacing)
	if b.Edges() != section.UnknownEdges {
		t.Fatalf("letters %v", b.Edges())
	}
	b.SetTool(ToolOutline)
	if b.Tool() == ToolOutline || b.Message() == nil || !has(b.Message().Title, "sides", "not known") {
		t.Fatal("outlines may be drawn while sides are unknown")
	}
	b.Dismiss()
	if err := b.NameChosen("UBERON:0002107", annotate.NoSide, annotate.Certain); !errors.Is(err, ErrNoLetters) {
		t.Fatalf("named while sides are unknown: %v", err)
	}
	b.draw.outline = square(500, 300, 20).Outer
	b.CloseOutline()
	if p, _ := b.Plate(); p.Labels.Len() != 1 {
		t.Fatal("an outline was closed while sides are unknown")
	}
	b.Dismiss()
	b.dropDrafts()
	b.Show(HandOutScreen)
	if why := b.Refusal(); !has(why, "left and right") {
		t.Fatalf("a hand-out of it is refused with %q", why)
	}
	b.Show(FaceScreen)
	if ok, why := b.PairingReady(); ok || !has(why, "Sides not known") {
		t.Fatalf("pairing: %v %q", ok, why)
	}
	f.Paint(blankPicture(900, 700))
}

// With the ring the main letter is dragged to where the front is; for a lower face with the front at the right of the
// picture, the donor's right is then at the top: right x up must be the outward normal (the law).
func TestAxesByTheRing(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	b.SetTool(ToolAxes)
	c, radius := f.ringAt()
	f.Down(geom.Px{X: c.X, Y: c.Y - radius}, Primary, Mods{})
	f.Drag(geom.Px{X: c.X + radius, Y: c.Y + 3})
	f.Up(geom.Px{X: c.X + radius, Y: c.Y + 3})
	e := b.photoEdges()
	if e.Right != "A" {
		t.Fatalf("letters of the picture %+v", e)
	}
	p, _ := b.Plate()
	right, up, err := section.Axes(section.Transverse, p.Face.Facing, p.PhotoUp)
	if err != nil || right != section.Anterior.Axis() || right.Cross(up) != section.Inferior.Axis() {
		t.Fatalf("up is %v: right %v", p.PhotoUp, right)
	}
	clickAt(f, geom.Px{X: 400, Y: 60}) // near the top of the picture
	words, _ := b.Hint()
	want := section.FacingOf(up).String()
	if !has(words, want) {
		t.Fatalf("a click at the top answers %q, want the donor's %s", words, want)
	}
	b.SetTool(ToolPan)
	f.lay(b.doc)
	if e := b.Edges(); e.Up != "A" {
		t.Fatalf("bench view has %q up", e.Up)
	}
}

// A mirror in the camera's tag asks, and until it is answered letters read "?". Yes mirrors the picture back: what is
// shown at the left must then be what lay at the right of the photograph.
func TestMirroredIsAsked(t *testing.T) {
	b, q, m := sample(t)
	p := m.plates["p2"]
	p.Photo.Mirrored, p.Photo.Orientation = true, 2
	m.plates["p2"] = p
	b.ChooseFace(face(2, section.Inferior))
	b.Show(FaceScreen)
	q.run()
	f := b.FacePane().(*facePane)
	f.Resize(900, 700, 1)
	if !b.AsksMirrored() || b.Edges() != section.UnknownEdges {
		t.Fatalf("letters %v", b.Edges())
	}
	b.SetMirrored(atlas.Yes)
	f.lay(b.doc)
	left, right := b.doc.view.Device(geom.Px{X: 100, Y: 300}), b.doc.view.Device(geom.Px{X: 700, Y: 300})
	if left.X < right.X || b.Edges().Left != "R" {
		t.Fatalf("not mirrored back: %v %v, letters %v", left, right, b.Edges())
	}
	b.SetMirrored(atlas.No)
	f.lay(b.doc)
	if b.doc.view.Device(geom.Px{X: 100, Y: 300}).X > b.doc.view.Device(geom.Px{X: 700, Y: 300}).X {
		t.Fatal("mirrored although it was kept as is")
	}
}

// Zooming keeps the picture under the pointer; a new pane size refits until the view was moved by hand.
func TestFitUntilMoved(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	z := b.doc.view.Zoom
	f.Resize(500, 400, 1)
	f.lay(b.doc)
	if b.doc.view.Zoom >= z {
		t.Fatal("not refitted")
	}
	at := geom.Px{X: 300, Y: 200}
	hold := b.doc.view.Picture(at)
	f.Wheel(at, 3, Mods{})
	if got := b.doc.view.Picture(at); got.Dist(hold) > 1e-6 {
		t.Fatalf("the picture slid by %g px under the pointer", got.Dist(hold))
	}
	z = b.doc.view.Zoom
	f.Resize(900, 700, 1)
	f.lay(b.doc)
	if b.doc.view.Zoom != z {
		t.Fatal("a moved view was refitted")
	}
	b.FitView()
	f.lay(b.doc)
	if b.doc.moved {
		t.Fatal("still moved")
	}
}

func TestEscapeGoesOneStepBack(t *testing.T) {
	b, q, _, f := onBench(t, 900, 700)
	b.SetTool(ToolOutline)
	clickAt(f, geom.Px{X: 200, Y: 200})
	b.Back()
	if len(b.draw.outline) != 0 || b.Tool() != ToolOutline {
		t.Fatal("the draft was not dropped first")
	}
	b.Back()
	if b.Tool() != ToolPan || b.Screen() != FaceScreen {
		t.Fatal("the tool was not put away")
	}
	b.Back()
	if b.Screen() != RunScreen {
		t.Fatal("the screen was not left")
	}
	b.Key("F9", Mods{})
	if !b.Blanked() || b.Key("Down", Mods{}) {
		t.Fatal("a blank bench takes keys")
	}
	b.Back()
	if b.Blanked() {
		t.Fatal("Esc does not bring the bench back")
	}
	q.pass(time.Second)
}

// A slip on the keyboard must not cost an outline half drawn: other tools, faces and screens wait, undo takes one point.
func TestHalfDrawnOutlineIsSafe(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	b.SetTool(ToolOutline)
	for _, p := range []geom.Px{{X: 200, Y: 200}, {X: 300, Y: 200}, {X: 300, Y: 320}} {
		clickAt(f, p)
	}
	for _, key := range []string{"Page Down", "S", "O", "K", "P"} {
		b.Key(key, Mods{})
		if words, warn := b.Hint(); len(b.draw.outline) != 3 || !warn || !has(words, "Esc") {
			t.Fatalf("%s: %d points left, %q", key, len(b.draw.outline), words)
		}
	}
	b.SetTool(ToolMask)
	b.Key("Z", Mods{Ctrl: true})
	if len(b.draw.outline) != 2 || b.Tool() != ToolOutline {
		t.Fatalf("%d points after one undo", len(b.draw.outline))
	}
	b.Key("Escape", Mods{})
	b.Key("Page Down", Mods{})
	if len(b.draw.outline) != 0 || b.Face() != face(3, section.Superior) {
		t.Fatalf("after Esc: %v", b.Face())
	}
}
