package bench

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
)

// XP2 and LB5: the labels of a face go out onto the scan's grid and come back to the face dashed, counted nowhere until kept, where they
// were drawn. The scan's voxels are 5 mm, a circle of 60 mm loses at most half of one along its edge.
func TestLabelsThroughTheScan(t *testing.T) {
	b, q, _, _, _ := onPairing(t)
	b.Show(FaceScreen)
	ring, err := annotate.Round(geom.Px{X: 300, Y: 280}, 120, 120, 0)
	if err != nil {
		t.Fatal(err)
	}
	b.draw.outline = ring.Outer
	b.CloseOutline()
	id := b.draw.chosen
	if err := b.NameChosen("UBERON:0002107", annotate.NoSide, annotate.Certain); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "run.nii")
	if err := b.ExportLabels(path); err != nil {
		t.Fatal(err)
	}
	q.run()
	key, err := os.ReadFile(strings.TrimSuffix(path, ".nii") + ".csv")
	if err != nil || !strings.Contains(string(key), "1,UBERON:0002107,none,liver") {
		t.Fatalf("key %q, %v; %+v", key, err, b.Message())
	}
	if err := b.ExportLabels(path); !errors.Is(err, fs.ErrExist) {
		t.Errorf("written over: %v", err)
	}
	was := chosen(t, b)
	if err := b.ImportLabels(path); err != nil {
		t.Fatal(err)
	}
	q.run()
	if w, _ := b.Hint(); !has(w, "nothing here that this face lacks") {
		t.Errorf("the face has it all: %q", w)
	}
	b.ChooseLabel(id)
	b.RemoveChosen()
	if err := b.ImportLabels(path); err != nil {
		t.Fatal(err)
	}
	q.run()
	x := chosen(t, b)
	h, _ := faceMM(b.doc.plate())
	c, err := annotate.Compare(was.Regions, x.Regions, h.MM)
	if err != nil || !x.Carried || x.Counts() || x.Term != was.Term || x.From != "the scan" || c.Dice < 0.93 {
		t.Errorf("carried %v from %q, overlap %.3f, %v", x.Carried, x.From, c.Dice, err)
	}
	b.Key("Y", Mods{})
	if y, _ := b.doc.plate().Labels.Find(x.ID); y.Carried {
		t.Error("Y did not keep it")
	}
	b.Undo()
	b.ChooseLabel(x.ID)
	b.Key("Delete", Mods{})
	if _, still := b.doc.plate().Labels.Find(x.ID); still {
		t.Error("Delete did not reject it")
	}
}

// A label volume of another scan is refused, and nothing is added.
func TestLabelsOfAnotherScan(t *testing.T) {
	b, q, _, _, _ := onPairing(t)
	b.Show(FaceScreen)
	small := filepath.Join(t.TempDir(), "other.nii")
	v := bodyVolume(t)
	v.ToLPS[11] += 5
	f, err := os.Create(small)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(v.WriteNIfTI(f), f.Close()); err != nil {
		t.Fatal(err)
	}
	before := b.doc.plate().Labels.Len()
	if err := b.ImportLabels(small); err != nil {
		t.Fatal(err)
	}
	q.run()
	m := b.Message()
	if m == nil || !has(m.Title+m.Hint, "grid of the scan") || b.doc.plate().Labels.Len() != before {
		t.Fatalf("%+v", m)
	}
	if Explain(atlas.ErrLabelGrid).Title == "" {
		t.Error("no words for it")
	}
}
