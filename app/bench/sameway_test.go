package bench

import (
	"testing"

	"sectionary/atlas"
	"sectionary/slices/section"
)

// The side at the top of one photograph is proposed on the next, with its letters on the ring and "?" round the picture; nothing is taken
// over before a yes, and the letters are reckoned for this face, not copied: of two faces that look opposite ways and lie the same way up, left and
// right change places (product of the axes: right x up = outward normal).
func TestSameWayUpIsProposed(t *testing.T) {
	b, _, m, _ := onBench(t, 900, 700)
	first := b.Face()
	var other section.Face
	for f := range b.rule.facts {
		if f.Facing == first.Facing.Opposite() {
			other = f
		}
	}
	if other == (section.Face{}) {
		t.Fatal("the sample has no face that looks the other way")
	}
	forget := func(f section.Face) {
		x := m.plates[b.rule.facts[f].plate]
		x.PhotoUp, x.Mirrored, x.Photo.Mirrored = section.UnknownFacing, atlas.Unanswered, false
		m.plates[x.ID] = x
		delete(b.docs, x.ID)
		b.rule.facts[f] = factOf(x)
	}
	told, _ := b.Plate()
	forget(other)
	b.ChooseFace(other)
	p, ok := b.ProposedUp()
	if !ok || p.From != first || p.Up != told.PhotoUp {
		t.Fatalf("%v %+v, the first has %v", ok, p, told.PhotoUp)
	}
	if b.Edges() != section.UnknownEdges {
		t.Errorf("letters before the yes: %v", b.Edges())
	}
	b.Key("X", Mods{})
	if w, _ := b.Hint(); w != p.Words {
		t.Errorf("hint %q", w)
	}
	whole := b.doc.hist
	asked := b.doc.plate()
	asked.Photo.Mirrored = true
	b.doc.hist = NewHistory(asked)
	if e := b.proposedEdges(); e != section.UnknownEdges {
		t.Errorf("letters proposed while a mirror is not answered for: %v", e)
	}
	b.doc.hist = whole
	seen := b.proposedEdges()
	b.Key("Return", Mods{})
	here, _ := b.Plate()
	if here.PhotoUp != told.PhotoUp || b.photoEdges() != seen {
		t.Fatalf("up %v, letters %v, the ring said %v", here.PhotoUp, b.photoEdges(), seen)
	}
	one := section.PhotoEdges(first.Facing, told.PhotoUp)
	if seen.Up != one.Up || seen.Left != one.Right || seen.Right != one.Left {
		t.Errorf("%v on one face, %v on the other", one, seen)
	}
	if _, again := b.ProposedUp(); again {
		t.Error("proposed where the side is told")
	}
	b.Undo()
	if _, again := b.ProposedUp(); !again || b.Edges() != section.UnknownEdges {
		t.Error("after undo it is not proposed again")
	}
}
