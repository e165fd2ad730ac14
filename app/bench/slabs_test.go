package bench

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// cutLab is a lab on disk with a run of four slabs, a photograph with a name and a place in a scan on every face of slab 2,
// and slab 2 in the ledger.
func cutLab(t *testing.T) (b *Bench, q *queue, lib *atlas.Library, plates [2]string, code string) {
	t.Helper()
	b, q = newLab(t)
	lib = b.lab.lib.(*atlas.Library)
	run := b.Run()
	run.Slabs = nil
	for i := range 4 {
		run.Slabs = append(run.Slabs, section.Slab{Number: i + 1, Thickness: [3]float64{20}, Kerf: 1.2})
	}
	if _, err := lib.SaveRun(run); err != nil {
		t.Fatal(err)
	}
	for i, facing := range []section.Facing{section.Superior, section.Inferior} {
		f := section.Face{Run: run.ID, Slab: 2, Facing: facing}
		p, err := lib.AddPhoto(context.Background(), f, "LB-1", "x.jpg", bytes.NewReader(jpegOf(t, uint8(40*i+20), 1, time.Time{})))
		if err != nil {
			t.Fatal(err)
		}
		p.PhotoUp = section.Anterior
		label := annotate.Label{ID: "a", Term: "UBERON:0000948", Regions: []annotate.Polygon{{Outer: []geom.Px{{X: 10, Y: 10}, {X: 60, Y: 10}, {X: 60, Y: 60}}}}}
		if p.Labels, err = p.Labels.Add(label); err != nil {
			t.Fatal(err)
		}
		p.Registration = &register.Registration{Series: "ct", Method: register.ByTies, Pose: geom.Pose{Origin: geom.LPS{Z: float64(7 + i)}, X: geom.Vec{X: -1}, Y: geom.Vec{Y: 1}, Scale: 1}}
		if p, err = lib.Save(p); err != nil {
			t.Fatal(err)
		}
		plates[i] = p.ID
	}
	made, err := lib.Enter(context.Background(), atlas.LedgerEntry{Deed: atlas.Receive, Donor: "LB-1", Who: "AB", To: "shelf", Made: []atlas.Made{{Kind: atlas.SlabPiece, Name: "slab 2", Run: run.ID, Slab: 2, Mass: 900}}})
	if err != nil {
		t.Fatal(err)
	}
	if err := b.readLab(); err != nil {
		t.Fatal(err)
	}
	b.ChooseRun(run.ID)
	q.run()
	b.Show(RunScreen)
	return b, q, lib, plates, made.Made[0].Code
}

// keptOf is what a lab keeps of a photographed face.
func keptOf(t *testing.T, lib *atlas.Library, plate string) string {
	t.Helper()
	p, err := lib.Plate(plate)
	if err != nil {
		t.Fatal(err)
	}
	words := fmt.Sprintf("%d names, %s up", p.Labels.Len(), p.PhotoUp)
	if p.Registration != nil {
		words += fmt.Sprintf(", in the scan at %g", p.Registration.Pose.Origin.Z)
	}
	return words
}

// Capability CU1: moving, inserting and splitting a slab moves every later face at once and loses nothing: photographs, names,
// place in the scan and the piece in the ledger stay with the slab, and each step can be taken back.
func TestCU1ChangesOfTheRunLoseNothing(t *testing.T) {
	b, q, lib, plates, code := cutLab(t)
	id := b.Run().ID
	upper, lower := section.Face{Run: id, Slab: 2, Facing: section.Superior}, section.Face{Run: id, Slab: 2, Facing: section.Inferior}
	was := [2]string{keptOf(t, lib, plates[0]), keptOf(t, lib, plates[1])}
	look := func(what string, faces [2]section.Face, depths [2]float64) {
		t.Helper()
		q.run()
		for i, f := range faces {
			got, err := lib.PlateOf(f)
			if err != nil || got.ID != plates[i] || b.Info(f).PlateID != plates[i] {
				t.Fatalf("%s: %s has photograph %q (%v), on the ruler %q; want %s", what, f.Name(), got.ID, err, b.Info(f).PlateID, plates[i])
			}
			if now := keptOf(t, lib, plates[i]); now != was[i] {
				t.Fatalf("%s: %s holds %s, held %s", what, f.Name(), now, was[i])
			}
			if d := b.Info(f).Depth; math.Abs(d-depths[i]) > 0.01 {
				t.Fatalf("%s: %s at %.2f mm, want %.2f", what, f.Name(), d, depths[i])
			}
		}
		c, err := lib.Custody(context.Background())
		if p, ok := c.Piece(code); err != nil || !ok || p.Slab != 2 {
			t.Fatalf("%s: the piece in the ledger is %+v, %v", what, p, err)
		}
	}
	both := [2]section.Face{upper, lower}
	look("as begun", both, [2]float64{21.2, 41.2})
	steps := []struct {
		what   string
		do     func() error
		faces  [2]section.Face
		depths [2]float64
	}{
		{"moved later", func() error { return b.MoveSlab(2, 1) }, both, [2]float64{42.4, 62.4}},
		{"moved first", func() error { return b.MoveSlab(2, -9) }, both, [2]float64{0, 20}},
		{"one inserted before it", func() error { return b.InsertSlab(0) }, both, [2]float64{21.2, 41.2}},
		{"split", func() error { return b.SplitSlab(2) }, [2]section.Face{upper, {Run: id, Slab: 6, Facing: section.Inferior}}, [2]float64{21.2, 41.2}},
		{"slab 1 at the other end", b.TurnRound, [2]section.Face{upper, {Run: id, Slab: 6, Facing: section.Inferior}}, [2]float64{30.6, 31.8}},
		{"counted from the other end", b.CountFromOtherEnd, [2]section.Face{upper, {Run: id, Slab: 6, Facing: section.Inferior}}, [2]float64{74.2, 73}},
		{"every kerf wider", func() error {
			if err := b.SetLength(120); err != nil {
				return err
			}
			return b.CloseByKerf()
		}, [2]section.Face{upper, {Run: id, Slab: 6, Facing: section.Inferior}}, [2]float64{0, 0}},
	}
	for i, s := range steps {
		if err := s.do(); err != nil {
			t.Fatalf("%s: %v", s.what, err)
		}
		if i == len(steps)-1 {
			break // looked at below
		}
		look(s.what, s.faces, s.depths)
	}
	if c := b.Closure(); c.Bad || math.Abs(b.Run().Extent()-120) > 1e-9 {
		t.Fatalf("the kerf offered leaves %+v, %g mm long", c, b.Run().Extent())
	}
	if err := b.RemoveSlab(2); err == nil {
		t.Fatal("a slab with photographs and a piece in the ledger went")
	}
	b.Undo() // the kerf
	b.Undo() // the length
	for i := len(steps) - 2; i >= 0; i-- {
		look("taken back to: "+steps[i].what, steps[i].faces, steps[i].depths)
		b.Undo()
	}
	look("all taken back", both, [2]float64{21.2, 41.2})
	if b.UndoName() != "" {
		t.Fatalf("there is still %q to take back", b.UndoName())
	}
}

// Tie levels that no longer follow one another after slabs were moved are said, and nothing is dropped.
func TestCrossedTieLevelsAreSaid(t *testing.T) {
	b, _, m := sample(t)
	b.ChooseSeries("ct")
	m.ties["rct"] = atlas.LevelTies{Run: "r", Series: "ct", Levels: []register.Level{{Run: 10, Scan: 40}, {Run: 70, Scan: 120}}}
	if err := b.MoveSlab(1, 2); err != nil {
		t.Fatal(err)
	}
	if words, warn := b.Hint(); !warn || !has(words, "tie levels") || len(m.ties["rct"].Levels) != 2 {
		t.Errorf("hint %q", words)
	}
}

// Ghosts: slabs laid out at the beginning are planned; a thickness or a photograph makes one real, a kerf alone does not.
func TestGhostSlabs(t *testing.T) {
	b, q := newLab(t)
	ghosts := func() (n int) {
		for _, s := range b.Run().Slabs {
			if b.Ghost(s) {
				n++
			}
		}
		return n
	}
	if ghosts() != 3 {
		t.Fatalf("%d ghosts of 3 slabs laid out", ghosts())
	}
	if err := b.SetLength(300); err != nil {
		t.Fatal(err)
	}
	if c := b.Closure(); c.Bad || c.Slab != 0 || c.Kerf != 0 {
		t.Fatalf("a plan is told to be mistaken: %+v", c)
	}
	if err := b.SetKerf(1, 2); err != nil || ghosts() != 3 {
		t.Fatalf("%v, %d ghosts", err, ghosts())
	}
	if err := b.SetSlab(1, [3]float64{20}, 2); err != nil || ghosts() != 2 {
		t.Fatalf("%v, %d ghosts after a measure", err, ghosts())
	}
	b.ChooseFace(section.Face{Run: b.Run().ID, Slab: 2, Facing: section.Superior})
	b.DropPaths([]string{write(t, t.TempDir()+"/a.jpg", jpegOf(t, 90, 1, time.Time{}))})
	q.run()
	if ghosts() != 1 || !b.Run().Slabs[1].Planned {
		t.Fatalf("%d ghosts after a photograph; its thickness is still to be measured", ghosts())
	}
	b.Undo()
	if err := b.InsertSlab(3); err != nil || !b.Ghost(b.Run().Slabs[3]) {
		t.Fatalf("%v: a slab inserted is no ghost", err)
	}
}

// Numbers begin anew only while nothing bears them; on tags, in pictures and in the ledger they stand.
func TestNumbersThatStand(t *testing.T) {
	b, _ := newLab(t)
	if err := b.SetSlab(1, [3]float64{33}, 1); err != nil || b.NumbersStand() {
		t.Fatal(err)
	}
	if err := b.CountFromOtherEnd(); err != nil {
		t.Fatal(err)
	}
	if r := b.Run(); r.First != section.Inferior || r.Slabs[0].Number != 1 || r.Slabs[2].Number != 3 || r.Slabs[2].Mean() != 33 {
		t.Fatalf("%+v", r)
	}
	c, _, lib, plates, _ := cutLab(t)
	if !c.NumbersStand() {
		t.Fatal("numbers in pictures and in the ledger do not stand")
	}
	for _, p := range plates {
		if _, err := lib.Unplace(p); err != nil {
			t.Fatal(err)
		}
	}
	c.readFaces()
	if err := c.CountFromOtherEnd(); err != nil {
		t.Fatal(err)
	}
	if r := c.Run(); r.Slabs[0].Number != 4 || !c.NumbersStand() {
		t.Fatalf("a number in the ledger changed: %+v", r.Slabs)
	}
	if words, _ := c.Hint(); !has(words, "keeps the number") {
		t.Errorf("hint %q", words)
	}
	if err := c.RemoveSlab(2); err == nil {
		t.Error("a slab in the ledger went")
	}
}

// A run of a limb says which, and a half which; the words follow on the ruler and in the lists.
func TestPiecesOfABody(t *testing.T) {
	b, _ := newLab(t)
	trunk := b.Run()
	part := NewRun{Donor: "LB-1", Part: "thigh", Plane: section.Transverse, First: section.Superior, Thickness: 20, Slabs: 2}
	if err := b.BeginRun(part); err == nil {
		t.Fatal("a limb was begun without saying which")
	}
	part.Limb = section.RightLower
	if err := b.BeginRun(part); err != nil {
		t.Fatal(err)
	}
	f := section.Face{Run: b.Run().ID, Slab: 1, Facing: section.Superior}
	if i := b.Info(f); i.Name != "Slab 1, proximal face" {
		t.Error(i.Name)
	}
	if here, there := b.FaceName(f), b.FaceName(section.Face{Run: trunk.ID, Slab: 1, Facing: section.Superior}); here != "slab 1, proximal face" || there != "slab 1, upper face" {
		t.Errorf("a face of this run is %q, of another %q", here, there)
	}
	if w := endWords(b.Run(), section.Inferior); w != "distal end" {
		t.Error(w)
	}
	if err := b.SetPiece(section.NoLimb, section.Left); err != nil || b.Run().Half != section.Left || b.Run().PartWords() != "thigh (left half)" {
		t.Error(err, b.Run())
	}
	b.Undo()
	if b.Run().Limb != section.RightLower {
		t.Error("not taken back")
	}
	part.Part, part.Limb = "left arm", section.NoLimb
	if err := b.BeginRun(part); err != nil || b.Run().Limb != section.LeftUpper {
		t.Errorf("%v, a left arm is of limb %q", err, b.Run().Limb)
	}
}

// Capability PL2 on the screen: words and figures of the closure, the way to the slab named, and the kerf offered.
func TestPL2ClosureOnTheScreen(t *testing.T) {
	b, p := onRuler(t, evenRun(section.Transverse, section.Superior, 24), 400, 900)
	_ = p
	b.Show(RunScreen)
	if err := b.SetLength(509); err != nil {
		t.Fatal(err)
	}
	if c := b.Closure(); c.Bad || c.Words != "Closure +1.4 mm (limit 6.5)" || c.Kerf != 0 || c.Slab != 0 {
		t.Fatalf("%+v", c)
	}
	if err := b.SetSlab(13, [3]float64{30}, 1.2); err != nil {
		t.Fatal(err)
	}
	c := b.Closure()
	if !c.Bad || !has(c.Words, "8.6 mm too long (limit 6.5)") || c.Slab != 13 || !has(c.Suspect, "Slab 13") || math.Abs(c.Kerf-19.0/23) > 1e-9 {
		t.Fatalf("%+v", c)
	}
	b.ChooseSuspect()
	if b.Face().Slab != 13 {
		t.Fatal(b.Face())
	}
	if err := b.CloseByKerf(); err != nil || b.Closure().Bad || math.Abs(b.Run().Slabs[22].Kerf-19.0/23) > 1e-9 {
		t.Fatalf("%v %+v", err, b.Closure())
	}
	b.Undo()
	if c := b.Closure(); !c.Bad || b.Run().Slabs[0].Kerf != 1.2 {
		t.Fatalf("after undo %+v", c)
	}
}
