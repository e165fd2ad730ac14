package bench

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"sectionary/annotate"
)

// A second person signs; the author cannot, nor can what is to be discussed be signed, nor what lacks anything.
func TestSecondPersonSigns(t *testing.T) {
	b, q, m, _ := onBench(t, 900, 700)
	withSquare(t, b, 200, 300, 50)
	b.SetSigner("AB")
	if err := b.SignChosen(); !errors.Is(err, annotate.ErrSamePerson) {
		t.Fatalf("the author signed: %v", err)
	}
	b.SetSigner("CD")
	if err := b.SignChosen(); !errors.Is(err, annotate.ErrNotReady) {
		t.Fatalf("a label without a name was signed: %v", err)
	}
	if err := b.NameChosen("UBERON:0002107", annotate.NoSide, annotate.Discuss); err != nil {
		t.Fatal(err)
	}
	if err := b.SignChosen(); !errors.Is(err, annotate.ErrNotReady) {
		t.Fatalf("a label to be discussed was signed: %v", err)
	}
	b.SetSure(annotate.Certain)
	q.pass(2 * time.Hour)
	b.Key("C", Mods{})
	x := chosen(t, b)
	if x.Signed == nil || x.Signed.By != "CD" || !x.Signed.At.Equal(q.now) {
		t.Fatalf("signature %+v", x.Signed)
	}
	if err := b.SetNote("seen again on the partner face"); err != nil {
		t.Fatal(err)
	}
	c, ok := b.Card()
	if !ok || !c.Signed || c.Note == "" || !has(c.By, "AB", "CD", "1 March 2026") {
		t.Fatalf("card %+v", c)
	}
	// Drawn, named with sureness, judged, signed, noted: the latest first, each with who.
	want := []string{"note", "signed", "sureness", "named", "drawn"}
	if len(c.History) != len(want) || !has(c.History[1], "2026-03-01 11:00", "CD") {
		t.Fatalf("history %q", c.History)
	}
	for i, w := range want {
		if !has(c.History[i], w) {
			t.Errorf("line %d is %q, want %s", i, c.History[i], w)
		}
	}
	q.pass(time.Minute)
	if n := len(m.plates["p2"].History); n != len(want) {
		t.Errorf("%d lines of history on disk", n)
	}
	b.Key("H", Mods{}) // another outline: what was signed is no longer there
	if chosen(t, b).Signed != nil {
		t.Error("the signature outlived the outline it was for")
	}
	b.RemoveChosen()
	if h := b.FaceHistory(); !has(h[0], "removed", "AB") {
		t.Errorf("history of the face %q", h)
	}
}

// A hold that moves a point through many places is one line of the history.
func TestHistoryOfOneHold(t *testing.T) {
	b, _, _, _ := onBench(t, 900, 700)
	withSquare(t, b, 200, 300, 50)
	b.Key(".", Mods{})
	for range 20 {
		b.Key("Left", Mods{})
	}
	if h := b.FaceHistory(); len(h) != 2 {
		t.Errorf("history %q", h)
	}
}

// A lab's own list of usually one-sided structures counts instead of the shipped one.
func TestLabsOwnOneSidedList(t *testing.T) {
	dir := t.TempDir()
	list, err := readOneSided(dir)
	if err != nil || list["UBERON:0002107"] != annotate.Right {
		t.Fatalf("shipped: %v, %v", list["UBERON:0002107"], err)
	}
	if err := os.WriteFile(filepath.Join(dir, oneSidedName), []byte("id\tside\nUBERON:0002107\tleft\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if list, err = readOneSided(dir); err != nil || list["UBERON:0002107"] != annotate.Left || len(list) != 1 {
		t.Fatalf("own: %v, %v", list, err)
	}
	if err := os.WriteFile(filepath.Join(dir, oneSidedName), []byte("id\tside\nUBERON:0002107\tupward\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if list, err = readOneSided(dir); !errors.Is(err, annotate.ErrTerms) || list["UBERON:0002107"] != annotate.Right {
		t.Fatalf("damaged: %v, %v", list["UBERON:0002107"], err)
	}
}
