package store

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// Exam is one exam being made: Doc is its document.
type Exam struct {
	ID    string
	Rev   int
	Saved time.Time
	Title string
	Doc   []byte
}

// Shown is one thing shown on a picture that left.
type Shown struct {
	Out, Exam                              string
	At                                     time.Time
	Kind, Plate, Series, Label, Term, Side string
	Doc                                    []byte
}

// SaveExam adds an exam of revision 1, or replaces the one whose revision is one less; ErrChanged else.
func (d *DB) SaveExam(x Exam) error {
	return d.write(func(tx *sql.Tx) error {
		var rev int
		if err := tx.QueryRow("SELECT rev FROM exam WHERE id = ?", x.ID).Scan(&rev); err != nil && !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		if rev != x.Rev-1 {
			return ErrChanged
		}
		_, err := tx.Exec("INSERT OR REPLACE INTO exam (id, rev, saved, title, doc) VALUES (?, ?, ?, ?, ?)",
			x.ID, x.Rev, timeText(x.Saved), x.Title, string(x.Doc))
		return err
	})
}

// RemoveExam takes an exam away; what it showed stays on record.
func (d *DB) RemoveExam(id string) error {
	return d.write(func(tx *sql.Tx) error {
		done, err := tx.Exec("DELETE FROM exam WHERE id = ?", id)
		if err != nil {
			return err
		}
		if n, err := done.RowsAffected(); err != nil || n == 0 {
			return errors.Join(ErrNotFound, err)
		}
		return nil
	})
}

// Exams lists the exams, the last saved first.
func (d *DB) Exams(ctx context.Context) ([]Exam, error) {
	return list(d, ctx, "SELECT id, rev, saved, title, doc FROM exam ORDER BY saved DESC, id", func(r *sql.Rows) (x Exam, err error) {
		var saved, doc string
		if err = r.Scan(&x.ID, &x.Rev, &saved, &x.Title, &doc); err != nil {
			return x, err
		}
		x.Doc = []byte(doc)
		x.Saved, err = textTime(saved)
		return x, err
	})
}

// AddShown writes lines, all or none. Lines cannot be changed or taken out again.
func (d *DB) AddShown(lines []Shown) error {
	return d.write(func(tx *sql.Tx) error { return addShown(tx, lines) })
}

func addShown(tx *sql.Tx, lines []Shown) error {
	for _, s := range lines {
		_, err := tx.Exec("INSERT INTO shown (out, exam, at, kind, plate, series, label, term, side, doc) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			s.Out, s.Exam, timeText(s.At), s.Kind, s.Plate, s.Series, s.Label, s.Term, s.Side, string(s.Doc))
		if err != nil {
			return err
		}
	}
	return nil
}

// Shown lists what released pictures showed, the oldest first.
func (d *DB) Shown(ctx context.Context) ([]Shown, error) {
	return list(d, ctx, "SELECT out, exam, at, kind, plate, series, label, term, side, doc FROM shown ORDER BY line", func(r *sql.Rows) (s Shown, err error) {
		var at, doc string
		if err = r.Scan(&s.Out, &s.Exam, &at, &s.Kind, &s.Plate, &s.Series, &s.Label, &s.Term, &s.Side, &doc); err != nil {
			return s, err
		}
		s.Doc = []byte(doc)
		s.At, err = textTime(at)
		return s, err
	})
}
