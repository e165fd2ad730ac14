package bench

import (
	"testing"

	"sectionary/atlas"
	"sectionary/slices/section"
)

// From a cut of the scan the faces that show it are found, with the reason, and one can be gone to.
func TestFindFaceFromASlice(t *testing.T) {
	b, q, _, _, _ := onPairing(t)
	b.StepScan(-8) // 40 mm up: from slab 2's lower face, at 41.2 mm, to slab 1's upper one, at 0
	b.Key("Q", Mods{})
	if len(b.Jobs()) != 1 {
		t.Fatalf("no job: %+v", b.Message())
	}
	q.run()
	m := b.Message()
	if m == nil || len(m.Choices) != 3 || m.Choices[0].Label != "Go to slab 1, upper face" || !has(m.Hint, "1.2 mm from this cut", "likeness of", "proves nothing") {
		t.Fatalf("%+v", m)
	}
	b.Choose(0)
	if f := b.Face(); f.Slab != 1 || f.Facing != section.Superior {
		t.Errorf("went to %v", f)
	}
	q.run()
	// without levels pictures alone rank, and no distance is made up
	b.setLevels(atlas.LevelTies{Run: "r", Series: "ct", SameBody: true})
	b.Key("Q", Mods{})
	q.run()
	if m = b.Message(); m == nil || has(m.Hint, "mm from this cut") || !has(m.Hint, "likeness of") {
		t.Errorf("%+v", m)
	}
}

// facesForReal chooses cuts of the practice scan at the faces' own places: by levels the face or its partner across the kerf, 2 mm off, must
// come first, and by content alone in three of four.
func facesForReal(t *testing.T, b *Bench, q *queue) {
	t.Helper()
	run, tied := b.Run(), b.pair.tied
	defer b.setLevels(tied)
	for _, byLevel := range []bool{true, false} {
		of, right := 0, 0
		for _, slab := range []int{2, 4, 6, 8} {
			f := section.Face{Run: run.ID, Slab: slab, Facing: run.First}
			if x := b.rule.facts[f]; !x.letters || !x.scale || !x.paired {
				continue
			}
			b.ChooseFace(f)
			b.Show(PairingScreen)
			q.run()
			if !byLevel {
				b.setLevels(atlas.LevelTies{Run: tied.Run, Series: tied.Series, SameBody: true, Centre: tied.Centre})
			}
			b.FindFace()
			q.run()
			m := b.Message()
			if m == nil {
				t.Fatalf("%s: nothing found", f.Name())
			}
			t.Log(f.Name(), "|", m.Hint)
			of++
			partner, _ := run.Partner(f)
			if first := m.Choices[0].Label; first == Word("findface.go", f.Name()) || first == Word("findface.go", partner.Name()) {
				right++
			}
			b.Dismiss()
		}
		if of == 0 || byLevel && right < of || right*4 < of*3 {
			t.Errorf("by level %v: named first %d of %d", byLevel, right, of)
		}
	}
}
