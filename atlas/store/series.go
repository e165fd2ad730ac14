package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"time"
)

// Series is one scan series under volumes/.
type Series struct {
	UID, Donor   string
	File         string // base name without extension
	Volume, Side string // SHA-256 of the .nii and the .json
	Doc          []byte
	Added        time.Time
}

// AddSeries adds a series; ErrExists when it is known.
func (d *DB) AddSeries(s Series) error {
	return d.write(func(tx *sql.Tx) error {
		_, err := tx.Exec("INSERT INTO series VALUES (?, ?, ?, ?, ?, ?, ?)",
			s.UID, s.Donor, s.File, s.Volume, s.Side, string(s.Doc), timeText(s.Added))
		return err
	})
}

// Series lists every series in the order of import.
func (d *DB) Series(ctx context.Context) ([]Series, error) {
	return list(d, ctx, "SELECT uid, donor, file, volume, side, doc, added FROM series ORDER BY rowid",
		func(r *sql.Rows) (s Series, err error) {
			var doc, added string
			if err = r.Scan(&s.UID, &s.Donor, &s.File, &s.Volume, &s.Side, &doc, &added); err != nil {
				return s, err
			}
			s.Doc = []byte(doc)
			s.Added, err = textTime(added)
			return s, err
		})
}

// LevelTies reads the document of a run's tie levels in a series, or ErrNotFound.
func (d *DB) LevelTies(run, series string) ([]byte, error) {
	var doc string
	err := d.sql.QueryRow("SELECT doc FROM level_ties WHERE run = ? AND series = ?", run, series).Scan(&doc)
	return []byte(doc), explain(err)
}

// SaveLevelTies replaces the document of a run's tie levels in a series.
func (d *DB) SaveLevelTies(run, series string, doc []byte) error {
	return d.write(func(tx *sql.Tx) error {
		_, err := tx.Exec("INSERT OR REPLACE INTO level_ties VALUES (?, ?, ?)", run, series, string(doc))
		return err
	})
}

// HandOut is one line of the record of what left or was refused.
type HandOut struct {
	ID, Purpose, Donor, Reason string
	At                         time.Time
	Plates, Files              []string
	Allowed                    bool
}

// AddHandOuts writes lines, all or none. Lines cannot be changed or taken out again.
func (d *DB) AddHandOuts(lines []HandOut) error {
	return d.write(func(tx *sql.Tx) error {
		for _, h := range lines {
			plates, err := json.Marshal(append([]string{}, h.Plates...))
			if err != nil {
				return err
			}
			files, err := json.Marshal(append([]string{}, h.Files...))
			if err != nil {
				return err
			}
			_, err = tx.Exec("INSERT INTO hand_out (id, at, purpose, donor, plates, allowed, reason, files) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
				h.ID, timeText(h.At), h.Purpose, h.Donor, string(plates), h.Allowed, h.Reason, string(files))
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// HandOuts lists the record, oldest first.
func (d *DB) HandOuts(ctx context.Context) ([]HandOut, error) {
	return list(d, ctx, "SELECT id, at, purpose, donor, plates, allowed, reason, files FROM hand_out ORDER BY line",
		func(r *sql.Rows) (h HandOut, err error) {
			var at, plates, files string
			if err = r.Scan(&h.ID, &at, &h.Purpose, &h.Donor, &plates, &h.Allowed, &h.Reason, &files); err != nil {
				return h, err
			}
			if h.At, err = textTime(at); err != nil {
				return h, err
			}
			if err = json.Unmarshal([]byte(plates), &h.Plates); err != nil {
				return h, err
			}
			return h, json.Unmarshal([]byte(files), &h.Files)
		})
}
