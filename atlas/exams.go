package atlas

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"sectionary/annotate"
	"sectionary/atlas/store"
)

// ExamDoc is one exam as the library keeps it. What Doc says is the business of package quiz.
type ExamDoc struct {
	ID    string
	Rev   int
	Saved time.Time
	Title string
	Doc   json.RawMessage
}

// SaveExam keeps an exam: a new one when Rev is 0, else in place of revision Rev; ErrChanged when the one on disk has
// moved on. It returns the exam with its new Rev.
func (l *Library) SaveExam(x ExamDoc) (ExamDoc, error) {
	if err := l.writable(); err != nil {
		return x, err
	}
	next := x
	next.Rev, next.Saved = x.Rev+1, now()
	if err := l.db.SaveExam(next.row()); err != nil {
		return x, naming("exam "+x.ID, err)
	}
	return next, nil
}

func (x ExamDoc) row() store.Exam {
	return store.Exam{ID: x.ID, Rev: x.Rev, Saved: x.Saved, Title: x.Title, Doc: x.Doc}
}

// RemoveExam takes an exam away. What it showed stays on record.
func (l *Library) RemoveExam(id string) error {
	if err := l.writable(); err != nil {
		return err
	}
	return naming("exam "+id, l.db.RemoveExam(id))
}

// Exams lists the exams, the last saved first.
func (l *Library) Exams() ([]ExamDoc, error) {
	rows, err := l.db.Exams(context.Background())
	out := make([]ExamDoc, len(rows))
	for i, r := range rows {
		out[i] = ExamDoc{ID: r.ID, Rev: r.Rev, Saved: r.Saved, Title: r.Title, Doc: r.Doc}
	}
	return out, err
}

// Exam reads one exam, or fails with ErrNotFound.
func (l *Library) Exam(id string) (ExamDoc, error) {
	all, err := l.Exams()
	if err != nil {
		return ExamDoc{}, err
	}
	for _, x := range all {
		if x.ID == id {
			return x, nil
		}
	}
	return ExamDoc{}, fmt.Errorf("%w: exam %s", ErrNotFound, id)
}

// Shown is one thing that a released picture showed: a structure marked or named on a face or on a scan cut. Doc holds
// what package quiz wants to know of the picture again: crop, pose, place of the marker.
type Shown struct {
	Out    string // the code on the hand-out
	Exam   string // the exam it belonged to, "" for others
	At     time.Time
	Kind   string // "face" or "scan"
	Plate  string // "" for a scan cut that follows no face
	Series string // "" for a photograph
	Label  string // "" when nothing was marked
	Term   annotate.TermID
	Side   annotate.Side
	Doc    json.RawMessage
}

// AddShown notes what released pictures showed, all lines or none. The record only grows.
func (l *Library) AddShown(lines ...Shown) error {
	if err := l.writable(); err != nil {
		return err
	}
	rows := make([]store.Shown, len(lines))
	for i, s := range lines {
		rows[i] = store.Shown{Out: s.Out, Exam: s.Exam, At: s.At, Kind: s.Kind, Plate: s.Plate, Series: s.Series, Label: s.Label,
			Term: string(s.Term), Side: s.Side.String(), Doc: s.Doc}
		if len(s.Doc) == 0 {
			rows[i].Doc = []byte("{}")
		}
	}
	return l.db.AddShown(rows)
}

// Shown lists what released pictures showed, the oldest first.
func (l *Library) Shown() ([]Shown, error) {
	rows, err := l.db.Shown(context.Background())
	if err != nil {
		return nil, err
	}
	out := make([]Shown, len(rows))
	for i, r := range rows {
		out[i] = Shown{Out: r.Out, Exam: r.Exam, At: r.At, Kind: r.Kind, Plate: r.Plate, Series: r.Series, Label: r.Label,
			Term: annotate.TermID(r.Term), Doc: r.Doc}
		if out[i].Side, err = annotate.ParseSide(r.Side); err != nil {
			return nil, fmt.Errorf("%w: the record of what was shown: %w", ErrDamaged, err)
		}
	}
	return out, nil
}
