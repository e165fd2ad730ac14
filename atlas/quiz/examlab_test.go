package quiz

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/slices/photo"
)

// examDay is the day of every exam in the tests.
var examDay = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)

// signAll signs every label of a plate by a second person.
func signAll(t testing.TB, l lab) lab {
	t.Helper()
	var err error
	for x := range l.plate.Labels.All() {
		if l.plate.Labels, err = l.plate.Labels.Sign(x.ID, annotate.Stamp{Author: "CD", At: examDay}); err != nil {
			t.Fatal(err)
		}
	}
	if l.plate, err = l.Save(l.plate); err != nil {
		t.Fatal(err)
	}
	return l
}

func (l lab) board(t testing.TB) Board {
	return Board{Lib: l.Library, Terms: terms(t), Usual: annotate.OneSided{"T:1": annotate.Right}, Now: func() time.Time { return examDay }}
}

// examLab is a board over one signed face, and an exam drafted on it.
func examLab(t testing.TB, p Plan) (Board, Spotter) {
	t.Helper()
	b := signAll(t, newLab(t, tilted(), photo.Rectified)).board(t)
	return b, draftExam(t, b, p)
}

func draftExam(t testing.TB, b Board, p Plan) Spotter {
	t.Helper()
	x, _, err := b.Draft(context.Background(), p)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func render(t testing.TB, b Board, x Spotter, r Release) (Slip, string) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "out")
	if *keep != "" {
		dir = filepath.Join(*keep, t.Name())
	}
	s, err := b.Render(context.Background(), x, r, dir)
	if err != nil {
		t.Fatal(err)
	}
	return s, dir
}

func checkExam(t testing.TB, b Board, x Spotter) Report {
	t.Helper()
	r, err := b.Check(context.Background(), x)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// faults lists the kinds of finding of a report but for the fresh-eyes step.
func (r Report) faults() (out []Fault) {
	for _, f := range r.Findings {
		if f.Fault != NotLooked && !slices.Contains(out, f.Fault) {
			out = append(out, f.Fault)
		}
	}
	return out
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}
