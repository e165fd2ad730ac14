package bench

import (
	"strings"
	"testing"
	"time"

	"sectionary/atlas"
	"sectionary/slices/photo/phototest"
	"sectionary/slices/section"
)

// sectionFiles are the real section photographs of ../shared/data/section-frames in a folder that goes with the test.
func sectionFiles(t *testing.T) (files []string, mm []int) {
	files, mm, err := phototest.SectionFrames(shared(t, "section-frames"), t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	if len(files) == 0 {
		t.Skip("real data is not here: ../shared/data/section-frames")
	}
	return files, mm
}

// Real sections come in together and lie on the run in one move that can be taken back; once their tops are told, the face of
// the block join (frames 506, half cut, and 507, smeared) is named in the run and on the face, and no other.
func TestRealSectionsLieOnTheRunInOneMove(t *testing.T) {
	if testing.Short() {
		t.Skip("takes 55 photographs in; run without -short")
	}
	files, mm := sectionFiles(t)
	b, q := newLab(t)
	if err := b.BeginRun(NewRun{Donor: "LB-1", Part: "trunk", Plane: section.Transverse, First: section.Superior, Thickness: 8, Kerf: 0, Slabs: len(files)}); err != nil {
		t.Fatal(err)
	}
	b.DropPaths(files)
	q.run()
	if n := len(b.Tray()); n != len(files) {
		t.Fatalf("%d of %d came in: %+v", n, len(files), b.Message())
	}
	b.SetSequence(Sequence{Pattern: OnePerSlab})
	b.SetSequence(Sequence{Pattern: OnePerSlab, First: section.Superior})
	first := section.Face{Run: b.Run().ID, Slab: 1, Facing: section.Superior}
	if err := b.LayOn(first, b.Tray()); err != nil {
		t.Fatal(err)
	}
	q.run()
	if n := len(b.rule.facts); n != len(files) || len(b.Tray()) != 0 {
		t.Fatalf("%d laid", n)
	}
	for i := range files {
		f := section.Face{Run: b.Run().ID, Slab: i + 1, Facing: section.Superior}
		b.ChooseFace(f)
		b.SetPhotoUp(section.Posterior)
	}
	q.run()
	q.pass(restBefore + time.Second)
	q.run()
	flagged := map[int]bool{}
	for _, u := range b.UnlikeFaces() {
		flagged[mm[u.Face.Slab-1]] = true
		t.Log(mm[u.Face.Slab-1], u.Words)
		if b.Info(u.Face).Unlike == "" {
			t.Error("the face says nothing of it")
		}
	}
	if !flagged[506] {
		t.Fatalf("the torn face is not named: %v", flagged)
	}
	for n := range flagged {
		if n != 506 && n != 507 {
			t.Errorf("frame %d is named for nothing", n)
		}
	}
	for i, n := range mm {
		if n == 506 {
			b.ChooseFace(section.Face{Run: b.Run().ID, Slab: i + 1, Facing: section.Superior})
		}
	}
	c := b.PictureCheck()
	if k := len(c.Rows); k == 0 || !strings.Contains(c.Rows[k-1].Words, "neighbours") {
		t.Errorf("the picture check of the torn face: %+v", c.Rows)
	}
	b.Show(RunScreen)
	for b.UndoName() != "" {
		b.Undo()
	}
	q.run()
	if n := len(b.Tray()); n != len(files) || len(b.UnlikeFaces()) != 0 {
		t.Fatalf("after taking back %d in the tray, %d named", n, len(b.UnlikeFaces()))
	}
}

// What was found falls away with the photograph, is looked for again when others lie there, and never while hands are busy.
func TestUnlikeFollowsTheFaces(t *testing.T) {
	b, q, _ := walkedRun(t, 6)
	if len(q.works) != 0 || b.rule.unlike.of != "" {
		t.Fatal("faces are compared at once")
	}
	q.pass(restBefore + time.Second)
	q.run()
	if b.rule.unlike.of == "" || len(b.UnlikeFaces()) != 0 {
		t.Fatalf("equal faces: %v", b.UnlikeFaces())
	}
	f := b.Run().Faces()[4]
	b.rule.unlike.found = []atlas.Unlike{{Face: f, Border: 0.9, UsualBorder: 0.99, ByBorder: true}}
	if b.Info(f).Unlike == "" || len(b.UnlikeFaces()) != 1 {
		t.Fatal("the face says nothing of it")
	}
	b.ChooseFace(f)
	if err := b.Unplace(); err != nil {
		t.Fatal(err)
	}
	q.run()
	if len(b.UnlikeFaces()) != 0 {
		t.Fatal("a face without photograph is named")
	}
}
