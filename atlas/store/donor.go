package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"strings"
	"time"
)

// Donor is a donor with the agreement's facts. Ends and Returned are YYYY-MM-DD or "". Permitted holds what is recorded.
type Donor struct {
	Code, Reference, Ends, ChangedBy string
	AfterReturn                      string // keep, withdraw or "" for not recorded
	Returned                         string // read only: it follows from the ledger
	Permitted                        map[string]bool
	Synthetic                        bool
}

// AddDonor adds a donor; ErrExists when the code is taken. who is noted beside the agreement.
func (d *DB) AddDonor(x Donor, who string, at time.Time) error {
	return d.write(func(tx *sql.Tx) error {
		if _, err := tx.Exec("INSERT INTO donor VALUES (?, ?)", x.Code, x.Synthetic); err != nil {
			return err
		}
		return putAgreement(tx, x, who, at)
	})
}

// SaveDonor replaces what is known of a donor; ErrNotFound when the code is new, ErrSameAgreement when its agreement
// would last longer without a reference that was never used for this donor.
func (d *DB) SaveDonor(x Donor, who string, at time.Time) error {
	return d.write(func(tx *sql.Tx) error {
		if err := one(tx.Exec("UPDATE donor SET synthetic = ? WHERE code = ?", x.Synthetic, x.Code)); err != nil {
			return err
		}
		if err := mayLast(tx, x); err != nil {
			return err
		}
		return putAgreement(tx, x, who, at)
	})
}

// mayLast refuses a later end, or none, under an old reference.
func mayLast(tx *sql.Tx, x Donor) error {
	var old string
	var used bool
	err := tx.QueryRow(`SELECT ends, EXISTS (SELECT 1 FROM agreement_change WHERE donor = agreement.donor AND reference = ?)
		FROM agreement WHERE donor = ?`, x.Reference, x.Code).Scan(&old, &used)
	if err != nil {
		return err
	}
	longer := old != "" && (x.Ends == "" || x.Ends > old)
	if longer && (used || strings.TrimSpace(x.Reference) == "") {
		return ErrSameAgreement
	}
	return nil
}

func putAgreement(tx *sql.Tx, x Donor, who string, at time.Time) error {
	_, err := tx.Exec(`INSERT INTO agreement (donor, reference, ends, changed_by, after_return) VALUES (?, ?, ?, ?, ?)
		ON CONFLICT DO UPDATE SET reference = excluded.reference, ends = excluded.ends, changed_by = excluded.changed_by,
			after_return = excluded.after_return`,
		x.Code, x.Reference, x.Ends, x.ChangedBy, x.AfterReturn)
	if err != nil {
		return err
	}
	permitted, err := json.Marshal(x.Permitted)
	if err != nil {
		return err
	}
	_, err = tx.Exec(`INSERT INTO agreement_change (donor, at, who, reference, ends, changed_by, after_return, permitted)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?)`, x.Code, timeText(at), who, x.Reference, x.Ends, x.ChangedBy, x.AfterReturn, string(permitted))
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
	all, err := list(d, ctx, `SELECT code, synthetic, reference, ends, changed_by, after_return, returned
		FROM donor JOIN agreement ON donor.code = agreement.donor ORDER BY code`,
		func(r *sql.Rows) (x Donor, err error) {
			x.Permitted = map[string]bool{}
			err = r.Scan(&x.Code, &x.Synthetic, &x.Reference, &x.Ends, &x.ChangedBy, &x.AfterReturn, &x.Returned)
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

// AgreementChange is one state an agreement was in.
type AgreementChange struct {
	At  time.Time
	Who string
	Donor
}

// AgreementChanges lists every state the agreement of a donor was in, the oldest first.
func (d *DB) AgreementChanges(donor string) ([]AgreementChange, error) {
	return list(d, context.Background(), `SELECT at, who, donor, reference, ends, changed_by, after_return, permitted
		FROM agreement_change WHERE donor = ? ORDER BY line`, func(r *sql.Rows) (x AgreementChange, err error) {
		var at, permitted string
		if err = r.Scan(&at, &x.Who, &x.Code, &x.Reference, &x.Ends, &x.ChangedBy, &x.AfterReturn, &permitted); err != nil {
			return x, err
		}
		// A migrated line holds 0 and 1 for no and yes.
		uses := map[string]any{}
		if err = json.Unmarshal([]byte(permitted), &uses); err != nil {
			return x, fmt.Errorf("store: agreement of %s: %w", donor, err)
		}
		x.Permitted = map[string]bool{}
		for p, yes := range uses {
			x.Permitted[p] = yes == true || yes == 1.0
		}
		x.At, err = textTime(at)
		return x, err
	}, donor)
}

// Run is one run. Plane, First and Facing are lower-case words; lengths are mm. Limb is as section.Limb writes it and Half
// left or right; each is "" where it does not apply.
type Run struct {
	ID, Donor, Part, Plane, First string
	Limb, Half                    string
	Length                        float64
	Slabs                         []Slab
	Facings                       [2]string // the two faces that every slab of the plane has
}

// Slab is one slab of a run.
type Slab struct {
	Number    int
	Thickness [3]float64
	Kerf      float64
	Planned   bool
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
			{`INSERT INTO run (id, donor, part, plane, first, length, limb, half) VALUES (?, ?, ?, ?, ?, ?, ?, ?)
				ON CONFLICT (id) DO UPDATE SET donor = excluded.donor, part = excluded.part, plane = excluded.plane,
				first = excluded.first, length = excluded.length, limb = excluded.limb, half = excluded.half`,
				[]any{r.ID, r.Donor, r.Part, r.Plane, r.First, r.Length, r.Limb, r.Half}},
		}
		for _, s := range steps {
			if _, err := tx.Exec(s.sql, s.args...); err != nil {
				return err
			}
		}
		for i, s := range r.Slabs {
			t := s.Thickness
			if _, err := tx.Exec("INSERT INTO slab (run, number, position, t1, t2, t3, kerf, planned) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
				r.ID, s.Number, i, t[0], t[1], t[2], s.Kerf, s.Planned); err != nil {
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
	all, err := list(d, ctx, "SELECT id, donor, part, plane, first, length, limb, half FROM run ORDER BY rowid",
		func(r *sql.Rows) (x Run, err error) {
			err = r.Scan(&x.ID, &x.Donor, &x.Part, &x.Plane, &x.First, &x.Length, &x.Limb, &x.Half)
			return x, err
		})
	if err != nil {
		return nil, err
	}
	at := map[string]int{}
	for i, x := range all {
		at[x.ID] = i
	}
	_, err = list(d, ctx, "SELECT run, number, t1, t2, t3, kerf, planned FROM slab ORDER BY run, position", func(r *sql.Rows) (none struct{}, err error) {
		var id string
		var s Slab
		t := &s.Thickness
		if err = r.Scan(&id, &s.Number, &t[0], &t[1], &t[2], &s.Kerf, &s.Planned); err == nil {
			if i, ok := at[id]; ok {
				all[i].Slabs = append(all[i].Slabs, s)
			}
		}
		return none, err
	})
	return all, err
}
