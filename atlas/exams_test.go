package atlas

import (
	"testing"
)

// An exam is saved whole; a stale save is refused, as of a face. What was shown can be read again and only grows.
func TestExamsAndWhatWasShown(t *testing.T) {
	l, _ := lab(t)
	first, err := l.SaveExam(ExamDoc{ID: "E1", Title: "Week 3", Doc: []byte(`{"stations":[1]}`)})
	if err != nil || first.Rev != 1 {
		t.Fatal(first.Rev, err)
	}
	next := first
	next.Doc = []byte(`{"stations":[2]}`)
	if next, err = l.SaveExam(next); err != nil || next.Rev != 2 {
		t.Fatal(next.Rev, err)
	}
	_, err = l.SaveExam(first)
	wantErr(t, err, ErrChanged)
	_, err = l.SaveExam(ExamDoc{ID: "E1", Doc: []byte(`{}`)})
	wantErr(t, err, ErrChanged)
	if got, err := l.Exam("E1"); err != nil || asJSON(t, got) != asJSON(t, next) {
		t.Errorf("%s, %v", asJSON(t, got), err)
	}
	_, err = l.Exam("E2")
	wantErr(t, err, ErrNotFound)

	s := Shown{Out: "7K2M", Exam: "E1", At: now(), Kind: "scan", Plate: "P1", Series: "2.25", Label: "a", Term: "T:1", Side: 2, Doc: []byte(`{"x":1}`)}
	if err := l.AddShown(s, s); err != nil {
		t.Fatal(err)
	}
	if err := l.RemoveExam("E1"); err != nil {
		t.Fatal(err)
	}
	wantErr(t, l.RemoveExam("E1"), ErrNotFound)
	if got, err := l.Shown(); err != nil || len(got) != 2 || asJSON(t, got[1]) != asJSON(t, s) {
		t.Errorf("%s, %v", asJSON(t, got), err)
	}
	if err := l.AddShown(Shown{Kind: "drawing"}); err == nil {
		t.Error("a kind of picture that does not exist was kept")
	}
}
