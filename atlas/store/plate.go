package store

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"
)

// Photo is one original under originals/.
type Photo struct {
	SHA256, Ext string // lower-case hex; extension with the dot
	Bytes       int64
}

// Plate is one plate's row: the document and what lists need of it. Run is "" while unplaced.
type Plate struct {
	ID, Donor          string
	Run                string
	Slab               int
	Facing             string
	Photo              string // SHA-256 of the original
	Retired, Synthetic bool
	Rev                int
	Saved              time.Time
	Facts, Doc         []byte // JSON: what lists show, and everything
	Labels             []Label
}

// Label is what one label of a plate names.
type Label struct{ ID, Term, Side, Sure string }

func (p Plate) place() (run, slab, facing any) {
	if p.Run == "" {
		return nil, nil, nil
	}
	return p.Run, p.Slab, p.Facing
}

// AddPlate adds a plate and its photograph; ErrExists when the same bytes are known.
func (d *DB) AddPlate(p Plate, ph Photo) error {
	return d.write(func(tx *sql.Tx) error {
		if _, err := tx.Exec("INSERT INTO photo VALUES (?, ?, ?, ?)", ph.SHA256, ph.Ext, ph.Bytes, timeText(p.Saved)); err != nil {
			return err
		}
		run, slab, facing := p.place()
		labels, err := labelText(p.Labels)
		if err != nil {
			return err
		}
		_, err = tx.Exec("INSERT INTO plate VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", p.ID, p.Donor, run, slab, facing,
			ph.SHA256, p.Retired, p.Synthetic, p.Rev, timeText(p.Saved), string(p.Facts), string(p.Doc), labels)
		if err != nil {
			return err
		}
		return putLabels(tx, p)
	})
}

// SavePlate replaces the plate whose revision is p.Rev-1: ErrChanged when the disk holds another.
func (d *DB) SavePlate(p Plate) error { return d.SavePlates(p) }

// SavePlates replaces plates in order, all of them or none: ErrChanged when the disk holds another revision of any.
func (d *DB) SavePlates(all ...Plate) error {
	return d.write(func(tx *sql.Tx) error {
		for _, p := range all {
			if err := savePlate(tx, p); err != nil {
				return err
			}
		}
		return nil
	})
}

// MovePlates is SavePlates for many plates that change their faces: a face may be left by one and taken by another of
// them. ErrFaceTaken when a face has another current photograph.
func (d *DB) MovePlates(all []Plate) error {
	return d.write(func(tx *sql.Tx) error {
		for _, p := range all {
			if _, err := tx.Exec("UPDATE plate SET run = NULL, slab = NULL, facing = NULL WHERE id = ?", p.ID); err != nil {
				return err
			}
		}
		for _, p := range all {
			if err := savePlate(tx, p); err != nil {
				return fmt.Errorf("%s: %w", p.ID, err)
			}
		}
		return nil
	})
}

func savePlate(tx *sql.Tx, p Plate) error {
	labels, err := labelText(p.Labels)
	if err != nil {
		return err
	}
	var rev int
	var before string
	if err := tx.QueryRow("SELECT rev, labels FROM plate WHERE id = ?", p.ID).Scan(&rev, &before); err != nil {
		return err
	}
	if rev != p.Rev-1 {
		return ErrChanged
	}
	run, slab, facing := p.place()
	_, err = tx.Exec(`UPDATE plate SET donor = ?, run = ?, slab = ?, facing = ?, retired = ?, synthetic = ?, rev = ?, saved = ?,
		facts = ?, doc = ?, labels = ? WHERE id = ?`, p.Donor, run, slab, facing, p.Retired, p.Synthetic, p.Rev, timeText(p.Saved),
		string(p.Facts), string(p.Doc), labels, p.ID)
	if err != nil || labels == before {
		return err
	}
	return putLabels(tx, p)
}

func putLabels(tx *sql.Tx, p Plate) error {
	if _, err := tx.Exec("DELETE FROM plate_label WHERE plate = ?", p.ID); err != nil {
		return err
	}
	put, err := tx.Prepare("INSERT INTO plate_label VALUES (?, ?, ?, ?, ?)")
	if err != nil {
		return err
	}
	defer put.Close()
	for _, l := range p.Labels {
		if _, err := put.Exec(p.ID, l.ID, l.Term, l.Side, l.Sure); err != nil {
			return err
		}
	}
	return nil
}

// Between the fields of a label and between labels, in plate.labels.
const (
	fieldEnd = "\x1f"
	labelEnd = "\x1e"
)

func labelText(labels []Label) (string, error) {
	lines := make([]string, len(labels))
	for i, l := range labels {
		line := []string{l.ID, l.Term, l.Side, l.Sure}
		for _, field := range line {
			if strings.ContainsAny(field, fieldEnd+labelEnd) {
				return "", fmt.Errorf("store: label %q holds a control character", l.ID)
			}
		}
		lines[i] = strings.Join(line, fieldEnd)
	}
	return strings.Join(lines, labelEnd), nil
}

func textLabels(text string) []Label {
	if text == "" {
		return nil
	}
	out := make([]Label, 0, strings.Count(text, labelEnd)+1)
	for line := range strings.SplitSeq(text, labelEnd) {
		var l Label
		l.ID, line, _ = strings.Cut(line, fieldEnd)
		l.Term, line, _ = strings.Cut(line, fieldEnd)
		l.Side, l.Sure, _ = strings.Cut(line, fieldEnd)
		out = append(out, l)
	}
	return out
}

const plateColumns = "id, plate.donor, coalesce(run, ''), coalesce(slab, 0), coalesce(facing, ''), photo, retired, synthetic, rev, saved, facts, labels"

func scanPlate(row interface{ Scan(...any) error }, doc ...any) (p Plate, err error) {
	var saved, facts, labels string
	err = row.Scan(append([]any{&p.ID, &p.Donor, &p.Run, &p.Slab, &p.Facing, &p.Photo, &p.Retired, &p.Synthetic, &p.Rev, &saved, &facts, &labels}, doc...)...)
	if err == nil {
		p.Facts, p.Labels = []byte(facts), textLabels(labels)
		p.Saved, err = textTime(saved)
	}
	return p, err
}

// Plate reads one plate with its document.
func (d *DB) Plate(id string) (Plate, error) {
	var doc string
	p, err := scanPlate(d.sql.QueryRow("SELECT "+plateColumns+", doc FROM plate WHERE id = ?", id), &doc)
	p.Doc = []byte(doc)
	return p, explain(err)
}

// CurrentPlate returns the ID of a face's current plate, or ErrNotFound.
func (d *DB) CurrentPlate(run string, slab int, facing string) (id string, err error) {
	err = d.sql.QueryRow("SELECT id FROM plate WHERE run = ? AND slab = ? AND facing = ? AND retired = 0", run, slab, facing).Scan(&id)
	return id, explain(err)
}

// PlateOfPhoto returns the ID of the plate that holds these bytes, or ErrNotFound.
func (d *DB) PlateOfPhoto(sha256 string) (id string, err error) {
	err = d.sql.QueryRow("SELECT id FROM plate WHERE photo = ?", sha256).Scan(&id)
	return id, explain(err)
}

// Photo reads what is known of an original.
func (d *DB) Photo(sha256 string) (p Photo, err error) {
	err = d.sql.QueryRow("SELECT sha256, ext, bytes FROM photo WHERE sha256 = ?", sha256).Scan(&p.SHA256, &p.Ext, &p.Bytes)
	return p, explain(err)
}

// Photos lists every original.
func (d *DB) Photos(ctx context.Context) ([]Photo, error) {
	return list(d, ctx, "SELECT sha256, ext, bytes FROM photo ORDER BY sha256", func(r *sql.Rows) (p Photo, err error) {
		err = r.Scan(&p.SHA256, &p.Ext, &p.Bytes)
		return p, err
	})
}

// Question narrows a listing; empty fields ask for nothing.
type Question struct {
	Donor, Run, Term string
	Retired          bool // retired plates too
}

// Plates lists plates without their documents, in order along their runs, unplaced ones last.
func (d *DB) Plates(ctx context.Context, q Question) ([]Plate, error) {
	where, args := "1", []any{}
	also := func(clause string, arg any) { where += " AND " + clause; args = append(args, arg) }
	if q.Donor != "" {
		also("plate.donor = ?", q.Donor)
	}
	if q.Run != "" {
		also("run = ?", q.Run)
	}
	if q.Term != "" {
		also("id IN (SELECT plate FROM plate_label WHERE term = ?)", q.Term)
	}
	if !q.Retired {
		where += " AND retired = 0"
	}
	return list(d, ctx, "SELECT "+plateColumns+` FROM plate
		LEFT JOIN (SELECT run AS r, number AS n, position FROM slab) ON r = run AND n = slab
		LEFT JOIN (SELECT id AS rid, rowid AS born, first FROM run) ON rid = run
		WHERE `+where+" ORDER BY run IS NULL, plate.donor, born, position, facing <> first, plate.rowid",
		func(r *sql.Rows) (Plate, error) { return scanPlate(r) }, args...)
}
