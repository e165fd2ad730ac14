package bench

import (
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"sectionary/annotate"
)

// A face goes out and comes back equal by every road: into an empty face all labels return with outline, name, side and
// sureness; into the face itself nothing changes.
func TestLabelsGoOutAndComeBack(t *testing.T) {
	for _, ending := range []string{".svg", ".json", ".jsonld"} {
		b, _, _, _ := onBench(t, 900, 700)
		id := withSquare(t, b, 200, 300, 50)
		if err := b.NameChosen("UBERON:0002107", annotate.NoSide, annotate.Certain); err != nil {
			t.Fatal(err)
		}
		b.SetInto(Hole)
		b.draw.outline = square(200, 300, 12.25).Outer
		b.CloseOutline()
		was := chosen(t, b)
		path := filepath.Join(t.TempDir(), "face"+ending)
		if err := b.ExportLabels(path); err != nil {
			t.Fatal(ending, err)
		}
		if err := b.ExportLabels(path); !errors.Is(err, fs.ErrExist) {
			t.Errorf("%s: written over: %v", ending, err)
		}
		step := b.UndoName()
		if err := b.ImportLabels(path); err != nil || b.UndoName() != step {
			t.Errorf("%s: the same labels made a step %q: %v", ending, b.UndoName(), err)
		}
		b.RemoveChosen()
		if err := b.ImportLabels(path); err != nil {
			t.Fatal(ending, err)
		}
		p, _ := b.Plate()
		x, ok := p.Labels.Find(id)
		if !ok || !sameOutline(x, was) || x.Term != was.Term || x.Side != was.Side || x.Sure != was.Sure {
			t.Errorf("%s: came back as %+v", ending, x)
		}
	}
}

func TestForeignFilesAreRefused(t *testing.T) {
	b, _, _, _ := onBench(t, 900, 700)
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	odd, _ := json.Marshal([]annotate.Label{{ID: "a", Term: "UBERON:0002107", Side: annotate.Left, Regions: []annotate.Polygon{square(100, 100, 9)}}})
	for _, path := range []string{write("a.svg", "<svg"), write("a.json", "{"), write("a.jsonld", "[]"), write("a.txt", "x"), write("side.json", string(odd)), dir, filepath.Join(dir, "none.svg")} {
		if err := b.ImportLabels(path); err == nil {
			t.Errorf("%s was taken", path)
		}
	}
	if p, _ := b.Plate(); p.Labels.Len() != 0 || b.UndoName() != "" {
		t.Error("a refused file left something")
	}
	if err := b.ExportLabels(filepath.Join(dir, "b.png")); !errors.Is(err, ErrForm) {
		t.Errorf("written as a picture: %v", err)
	}
}
