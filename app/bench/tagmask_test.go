package bench

import (
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// A tag covered on one picture is proposed on the next of the run and covered there with one key; what was declined, or taken
// away, is not proposed again.
func TestTagMaskIsProposedOnTheNextPicture(t *testing.T) {
	b, _, m, f := onBench(t, 900, 700)
	var others []section.Face
	for _, x := range b.Run().Faces() {
		if _, there := b.rule.facts[x]; there && x != b.Face() {
			others = append(others, x)
		}
	}
	if len(others) == 0 {
		t.Fatal("the sample has one photograph only")
	}
	if _, any := b.ProposedMask(); any {
		t.Fatal("a mask out of nothing")
	}
	b.Key("T", Mods{})
	at := func(x, y float64) geom.Px { return b.doc.view.Device(geom.Px{X: x, Y: y}) }
	f.Down(at(100, 400), Primary, Mods{})
	f.Drag(at(200, 460))
	f.Up(at(200, 460))
	from := b.Face()
	drawn, _ := b.Plate()

	b.ChooseFace(others[0])
	p, ok := b.ProposedMask()
	here, _ := b.Plate()
	if here.Photo.Size != drawn.Photo.Size {
		t.Fatalf("sizes %v %v", here.Photo.Size, drawn.Photo.Size)
	}
	if !ok || p.From != from || len(p.Boxes) != 1 || len(here.Mask) != 0 {
		t.Fatalf("%v %+v", ok, p)
	}
	if w, _ := b.Hint(); !has(w, "tag", "Enter") {
		t.Errorf("hint %q", w)
	}
	b.Key("Return", Mods{})
	here, _ = b.Plate()
	if len(here.Mask) != 1 || here.Mask[0].Outer[0] != drawn.Mask[0].Outer[0] || b.UndoName() != Word("step.mask") {
		t.Fatalf("%+v, undo %q", here.Mask, b.UndoName())
	}
	b.Undo()
	if _, ok = b.ProposedMask(); !ok {
		t.Error("after undo it is not proposed again")
	}
	// a click on the dashed box does the same with the mask tool in hand, and a second click takes it away for good
	f.lay(b.doc)
	clickAt(f, geom.Px{X: 150, Y: 430})
	if here, _ = b.Plate(); len(here.Mask) != 1 {
		t.Fatal("a click on the proposal covered nothing")
	}
	clickAt(f, geom.Px{X: 150, Y: 430})
	if here, _ = b.Plate(); len(here.Mask) != 0 {
		t.Fatal("it cannot be taken away")
	}
	if _, ok = b.ProposedMask(); ok {
		t.Error("what was taken away is proposed again")
	}
	// a picture of another size was taken another way
	b.doc.untagged = false
	x := m.plates[b.rule.facts[from].plate]
	x.Photo.Size.X++
	m.plates[x.ID] = x
	delete(b.docs, x.ID)
	b.doc.tags = proposedMask{}
	if _, ok = b.ProposedMask(); ok {
		t.Error("proposed from a picture of another size")
	}
}
