package store

import (
	"context"
	"database/sql"
)

// Donor is a donor with the agreement's facts. Ends is YYYY-MM-DD or "". Permitted holds what is recorded.
type Donor struct {
	Code, Reference, Ends, ChangedBy string
	Permitted                        map[string]bool
	Synthetic                        bool
}

// AddDonor adds a donor; ErrExists when the code is taken.
func (d *DB) AddDonor(x Donor) error {
	return d.write(func(tx *sql.Tx) error {
		if _, err := tx.Exec("INSERT INTO donor VALUES (?, ?)", x.Code, x.Synthetic); err != nil {
			return err
		}
		return putAgreement(tx, x)
	})
}

// SaveDonor replaces what is known of a donor; ErrNotFound when the code is new.
func (d *DB) SaveDonor(x Donor) error {
	return d.write(func(tx *sql.Tx) error {
		if err := one(tx.Exec("UPDATE donor SET synthetic = ? WHERE code = ?", x.Synthetic, x.Code)); err != nil {
			return err
		}
		return putAgreement(tx, x)
	})
}

func putAgreement(tx *sql.Tx, x Donor) error {
	_, err := tx.Exec(`INSERT INTO agreement VALUES (?, ?, ?, ?)
		ON CONFLICT DO UPDATE SET reference = excluded.reference, ends = excluded.ends, changed_by = excluded.changed_by`,
		x.Code, x.Reference, x.Ends, x.ChangedBy)
	if err != nil {
		return err
	}
	if _, err := tx.Exec("DELETE FROM permitted_use WHERE donor = ?", x.Code); err != nil {
		return err
	}
	for purpose, permitted := range x.Permitted {
		if _, err := tx.Exec("INSERT INTO permitted_use VALUES (?, ?, ?)", x.Code, purpose, permitted); err != nil {
			return err
		}
	}
	return nil
}

// one reports ErrNotFound when a statement met no row.
func one(r sql.Result, err error) error {
	if err != nil {
		return err
	}
	n, err := r.RowsAffected()
	if err == nil && n == 0 {
		err = ErrNotFound
	}
	return err
}

// Donors lists every donor by code.
func (d *DB) Donors() ([]Donor, error) {
	ctx := context.Background()
	all, err := list(d, ctx, `SELECT code, synthetic, reference, ends, changed_by
		FROM donor JOIN agreement ON donor.code = agreement.donor ORDER BY code`,
		func(r *sql.Rows) (x Donor, err error) {
			x.Permitted = map[string]bool{}
			err = r.Scan(&x.Code, &x.Synthetic, &x.Reference, &x.Ends, &x.ChangedBy)
			return x, err
		})
	if err != nil {
		return nil, err
	}
	at := map[string]int{}
	for i, x := range all {
		at[x.Code] = i
	}
	_, err = list(d, ctx, "SELECT donor, purpose, permitted FROM permitted_use", func(r *sql.Rows) (none struct{}, err error) {
		var code, purpose string
		var permitted bool
		if err = r.Scan(&code, &purpose, &permitted); err == nil {
			if i, ok := at[code]; ok {
				all[i].Permitted[purpose] = permitted
			}
		}
		return none, err
	})
	return all, err
}

// Run is one run. Plane, First and Facing are lower-case words; lengths are mm.
type Run struct {
	ID, Donor, Part, Plane, First string
	Length                        float64
	Slabs                         []Slab
	Facings                       [2]string // the two faces that every slab of the plane has
}

// Slab is one slab of a run.
type Slab struct {
	Number    int
	Thickness [3]float64
	Kerf      float64
}

// SaveRun adds a run or replaces it with its slabs. A slab that carries a photograph cannot go, nor can the
// plane change under it: ErrInUse, and nothing is changed.
func (d *DB) SaveRun(r Run) error {
	return d.write(func(tx *sql.Tx) error {
		// References are looked at when the transaction ends, so slabs can be laid anew.
		steps := []struct {
			sql  string
			args []any
		}{
			{"PRAGMA defer_foreign_keys = ON", nil},
			{"DELETE FROM face WHERE run = ?", []any{r.ID}},
			{"DELETE FROM slab WHERE run = ?", []any{r.ID}},
			{`INSERT INTO run VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO UPDATE SET donor = excluded.donor,
				part = excluded.part, plane = excluded.plane, first = excluded.first, length = excluded.length`,
				[]any{r.ID, r.Donor, r.Part, r.Plane, r.First, r.Length}},
		}
		for _, s := range steps {
			if _, err := tx.Exec(s.sql, s.args...); err != nil {
				return err
			}
		}
		for i, s := range r.Slabs {
			t := s.Thickness
			if _, err := tx.Exec("INSERT INTO slab VALUES (?, ?, ?, ?, ?, ?, ?)", r.ID, s.Number, i, t[0], t[1], t[2], s.Kerf); err != nil {
				return err
			}
			for _, facing := range r.Facings {
				if _, err := tx.Exec("INSERT INTO face VALUES (?, ?, ?, ?)", r.ID, s.Number, facing, r.Plane); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

// Runs lists every run with its slabs in order, the oldest first.
func (d *DB) Runs() ([]Run, error) {
	ctx := context.Background()
	all, err := list(d, ctx, "SELECT id, donor, part, plane, first, length FROM run ORDER BY rowid",
		func(r *sql.Rows) (x Run, err error) {
			err = r.Scan(&x.ID, &x.Donor, &x.Part, &x.Plane, &x.First, &x.Length)
			return x, err
		})
	if err != nil {
		return nil, err
	}
	at := map[string]int{}
	for i, x := range all {
		at[x.ID] = i
	}
	_, err = list(d, ctx, "SELECT run, number, t1, t2, t3, kerf FROM slab ORDER BY run, position", func(r *sql.Rows) (none struct{}, err error) {
		var id string
		var s Slab
		t := &s.Thickness
		if err = r.Scan(&id, &s.Number, &t[0], &t[1], &t[2], &s.Kerf); err == nil {
			if i, ok := at[id]; ok {
				all[i].Slabs = append(all[i].Slabs, s)
			}
		}
		return none, err
	})
	return all, err
}
