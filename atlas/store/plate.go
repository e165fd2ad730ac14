package store

import (
	"context"
	"database/sql"
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
		_, err := tx.Exec("INSERT INTO plate VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", p.ID, p.Donor, run, slab, facing,
			ph.SHA256, p.Retired, p.Synthetic, p.Rev, timeText(p.Saved), string(p.Facts), string(p.Doc))
		if err != nil {
			return err
		}
		return putLabels(tx, p)
	})
}

// SavePlate replaces the plate whose revision is p.Rev-1: ErrChanged when the disk holds another.
func (d *DB) SavePlate(p Plate) error {
	return d.write(func(tx *sql.Tx) error {
		var rev int
		if err := tx.QueryRow("SELECT rev FROM plate WHERE id = ?", p.ID).Scan(&rev); err != nil {
			return err
		}
		if rev != p.Rev-1 {
			return ErrChanged
		}
		run, slab, facing := p.place()
		_, err := tx.Exec(`UPDATE plate SET donor = ?, run = ?, slab = ?, facing = ?, retired = ?, synthetic = ?, rev = ?, saved = ?,
			facts = ?, doc = ? WHERE id = ?`, p.Donor, run, slab, facing, p.Retired, p.Synthetic, p.Rev, timeText(p.Saved),
			string(p.Facts), string(p.Doc), p.ID)
		if err != nil {
			return err
		}
		return putLabels(tx, p)
	})
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

const plateColumns = "id, plate.donor, coalesce(run, ''), coalesce(slab, 0), coalesce(facing, ''), photo, retired, synthetic, rev, saved, facts"

func scanPlate(row interface{ Scan(...any) error }, doc ...any) (p Plate, err error) {
	var saved, facts string
	err = row.Scan(append([]any{&p.ID, &p.Donor, &p.Run, &p.Slab, &p.Facing, &p.Photo, &p.Retired, &p.Synthetic, &p.Rev, &saved, &facts}, doc...)...)
	if err == nil {
		p.Facts = []byte(facts)
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
	all, err := list(d, ctx, "SELECT "+plateColumns+` FROM plate
		LEFT JOIN (SELECT run AS r, number AS n, position FROM slab) ON r = run AND n = slab
		LEFT JOIN (SELECT id AS rid, rowid AS born, first FROM run) ON rid = run
		WHERE `+where+" ORDER BY run IS NULL, plate.donor, born, position, facing <> first, plate.rowid",
		func(r *sql.Rows) (Plate, error) { return scanPlate(r) }, args...)
	if err != nil {
		return nil, err
	}
	at := make(map[string]int, len(all))
	for i, p := range all {
		at[p.ID] = i
	}
	_, err = list(d, ctx, "SELECT plate, label, term, side, sure FROM plate_label WHERE plate IN (SELECT id FROM plate WHERE "+where+")",
		func(r *sql.Rows) (none struct{}, err error) {
			var id string
			var l Label
			if err = r.Scan(&id, &l.ID, &l.Term, &l.Side, &l.Sure); err == nil {
				if i, ok := at[id]; ok {
					all[i].Labels = append(all[i].Labels, l)
				}
			}
			return none, err
		}, args...)
	return all, err
}
