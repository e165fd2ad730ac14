package bench

import (
	"testing"

	"sectionary/atlas"
)

// Landmarks too few to lay the face, with no level tied, are kept with the plate and count when a third comes.
func TestFewLandmarksAreKept(t *testing.T) {
	b, q, m, f, s := onPairing(t)
	truth, _, _ := b.basePose()
	h, _ := faceMM(b.doc.plate())
	if !b.saveLevels(atlas.LevelTies{Run: b.Run().ID, Series: b.pair.series, SameBody: true}) {
		t.Fatal("the levels are not let go")
	}
	for _, p := range places(8)[:2] {
		clickAt(f, p)
		s.b.pickScan(truth.At(h.MM(p)))
	}
	b.saveNow()
	q.run()
	kept := m.plates[b.doc.plate().ID]
	if kept.Picks == nil || len(kept.Picks.Ties) != 2 || kept.Registration != nil {
		t.Fatalf("kept %+v, %+v", kept.Picks, kept.Registration)
	}
	f1 := b.Face()
	b.Step(1)
	q.run()
	b.ChooseFace(f1)
	q.run()
	if len(b.TieRows()) != 2 {
		t.Fatalf("%d landmarks after coming back", len(b.TieRows()))
	}
	p := places(8)[4]
	clickAt(f, p)
	b.pickScan(truth.At(h.MM(p)))
	if now := b.doc.plate(); now.Picks != nil || now.Registration == nil || len(now.Registration.Ties) != 3 {
		t.Fatalf("with a third: %+v", now.Registration)
	}
}
