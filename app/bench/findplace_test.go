package bench

import (
	"fmt"
	"math"
	"testing"

	"sectionary/atlas"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// A photograph of the tray without scale or top takes those of the run's others, and says so; what is chosen is laid as one
// step. The body of this lab is a cylinder, so only that a face is proposed can be asked here.
func TestFindPlaceProposesAndLays(t *testing.T) {
	b, q, m := sample(t)
	if err := b.lay("t", map[string]section.Face{"p1": {}}); err != nil {
		t.Fatal(err)
	}
	q.run()
	p := m.plates["p1"]
	p.Calibration, p.PhotoUp = photo.Calibration{}, section.UnknownFacing
	m.plates["p1"] = p
	if len(b.Tray()) != 1 {
		t.Fatal("not in the tray")
	}
	b.FindPlace("p1")
	if len(b.Jobs()) != 1 || b.Message() != nil {
		t.Fatalf("no job: %+v", b.Message())
	}
	q.run()
	msg := b.Message()
	if msg == nil || len(msg.Choices) != mostPlaces+1 || !has(msg.Hint, "likeness", "0.500 mm per pixel was assumed", "top was assumed to be the front") {
		t.Fatalf("%+v", msg)
	}
	if has(msg.Hint, "Slab 2, lower face") {
		t.Fatal("a face that has its photograph is proposed")
	}
	b.Choose(0)
	q.run()
	if f := m.plates["p1"].Face; f.Slab == 0 || b.Face() != f || b.Message() != nil {
		t.Fatalf("laid on %v, %v is shown", f, b.Face())
	}
	// without anything that ties run and scan nothing is guessed
	b.pair.tied.Levels = nil
	b.setLevels(atlas.LevelTies{Run: "r", Series: "ct", SameBody: true})
	b.FindPlace("p2")
	if msg := b.Message(); msg == nil || !has(msg.Title, "Tie a level") || len(b.Jobs()) != 0 {
		t.Fatalf("%+v", msg)
	}
}

func TestFindPlaceWithoutAnyScaleSaysSo(t *testing.T) {
	p := atlas.Plate{}
	if _, _, err := assume(p, nil); err == nil {
		t.Fatal("a scale was made up")
	}
}

// placesForReal takes photographs of the practice lab off their faces and looks for them: each must be found on its own face or
// on the partner across the kerf, looking the right way.
func placesForReal(t *testing.T, b *Bench, q *queue) {
	t.Helper()
	run := b.Run()
	first, of := 0, 0
	for _, slab := range []int{3, 5, 8} {
		f := section.Face{Run: run.ID, Slab: slab, Facing: run.First}
		x, there := b.rule.facts[f]
		if !there {
			continue
		}
		of++
		b.Show(RunScreen)
		b.ChooseFace(f)
		q.run()
		if err := b.Unplace(); err != nil {
			t.Fatal(err)
		}
		q.run()
		b.FindPlace(x.plate)
		q.run()
		msg := b.Message()
		if msg == nil || len(msg.Choices) < 2 {
			t.Fatalf("%s: %+v", f.Name(), msg)
		}
		if msg.Choices[0].Label == Word("find.lay", f.Name()) {
			first++
		}
		if has(msg.Hint, "Likest of all is") && !has(msg.Hint, fmt.Sprintf("Likest of all is slab %d", slab-1)) {
			t.Errorf("%s is said to be likest to another: %s", f.Name(), msg.Hint) // the partner across the kerf lies 2 mm off
		}
		t.Log(f.Name(), "|", msg.Hint)
		b.Dismiss()
		if err := b.Place(x.plate, f); err != nil {
			t.Fatal(err)
		}
		q.run()
	}
	if of == 0 || first < int(math.Ceil(0.6*float64(of))) {
		t.Errorf("found first on its own face: %d of %d", first, of)
	}
}
