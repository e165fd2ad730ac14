package atlas

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"sectionary/atlas/store"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

const day = "2006-01-02"

// AddDonor adds a donor; its code must be new. Runs and Series of d are not looked at.
func (l *Library) AddDonor(d Donor) error { return l.putDonor("", d, l.db.AddDonor) }

// SaveDonor replaces the agreement of a known donor; see Agree.
func (l *Library) SaveDonor(d Donor) error { return l.Agree("", d) }

// Agree replaces the agreement of a known donor and notes who did so. It fails with ErrSameAgreement when it would last
// longer than before and its reference is not a new one. Runs, Series and Returned of d are not looked at.
func (l *Library) Agree(who string, d Donor) error { return l.putDonor(who, d, l.db.SaveDonor) }

// AgreementChange is one state an agreement was in.
type AgreementChange struct {
	At        time.Time
	Who       string // "" when not told
	Agreement Agreement
}

// AgreementChanges lists every state the agreement of a donor was in, the oldest first, the present one last.
func (l *Library) AgreementChanges(donor string) (out []AgreementChange, err error) {
	rows, err := l.db.AgreementChanges(donor)
	for _, row := range rows {
		a, err := agreementOf(row.Donor)
		if err != nil {
			return nil, err
		}
		out = append(out, AgreementChange{At: row.At, Who: row.Who, Agreement: a})
	}
	return out, err
}

func (l *Library) putDonor(who string, d Donor, put func(store.Donor, string, time.Time) error) error {
	if err := l.writable(); err != nil {
		return err
	}
	if err := CheckCode(d.Code); err != nil {
		return err
	}
	row := store.Donor{Code: d.Code, Reference: d.Agreement.Reference, ChangedBy: d.Agreement.ChangedBy,
		AfterReturn: string(d.Agreement.AfterReturn), Synthetic: d.Synthetic, Permitted: map[string]bool{}}
	if a := d.Agreement.AfterReturn; a != NotRecorded && a != KeepPictures && a != WithdrawPictures {
		return fmt.Errorf("atlas: %q is not what becomes of pictures: keep, withdraw or nothing recorded", a)
	}
	if !d.Agreement.Ends.IsZero() {
		row.Ends = d.Agreement.Ends.Format(day)
	}
	for p, yes := range d.Agreement.Permitted {
		if p.Words() == "" {
			return fmt.Errorf("atlas: %q is not a purpose that an agreement can name", p)
		}
		row.Permitted[string(p)] = yes
	}
	return naming("donor "+d.Code, put(row, strings.TrimSpace(who), time.Now()))
}

// CheckCode refuses what cannot be a lab code of a donor: it stands in file lists and is searched for in every
// hand-out, so it is 3 to 32 letters, digits, "-", "_" or ".", with at least three letters or digits.
func CheckCode(code string) error {
	if len(code) < 3 || len(code) > 32 {
		return fmt.Errorf("atlas: donor code %q must have 3 to 32 letters or digits", code)
	}
	const sound = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789"
	if len(strings.NewReplacer("-", "", "_", "", ".", "").Replace(code)) < 3 {
		return fmt.Errorf("atlas: donor code %q must have at least three letters or digits", code)
	}
	for _, r := range code {
		if !strings.ContainsRune(sound+"-_.", r) {
			return fmt.Errorf("atlas: donor code %q: %q cannot stand in a code; use letters, digits, hyphen, underscore or full stop", code, r)
		}
	}
	return nil
}

// naming says what an error is about.
func naming(what string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%w (%s)", err, what)
}

// Donor returns one donor with its runs and series.
func (l *Library) Donor(code string) (Donor, error) {
	all, err := l.Donors()
	if err != nil {
		return Donor{}, err
	}
	for _, d := range all {
		if d.Code == code {
			return d, nil
		}
	}
	return Donor{}, naming("donor "+code, ErrNotFound)
}

// Donors lists every donor by code.
func (l *Library) Donors() ([]Donor, error) {
	rows, err := l.db.Donors()
	if err != nil {
		return nil, err
	}
	runs, err := l.Runs()
	if err != nil {
		return nil, err
	}
	series, err := l.db.Series(context.Background())
	if err != nil {
		return nil, err
	}
	out := make([]Donor, 0, len(rows))
	for _, row := range rows {
		d := Donor{Code: row.Code, Synthetic: row.Synthetic}
		if d.Agreement, err = agreementOf(row); err != nil {
			return nil, err
		}
		for _, r := range runs {
			if r.Donor == d.Code {
				d.Runs = append(d.Runs, r)
			}
		}
		for _, s := range series {
			if s.Donor == d.Code {
				d.Series = append(d.Series, s.UID)
			}
		}
		out = append(out, d)
	}
	return out, nil
}

func agreementOf(row store.Donor) (a Agreement, err error) {
	a = Agreement{Reference: row.Reference, ChangedBy: row.ChangedBy, AfterReturn: AfterReturn(row.AfterReturn), Permitted: map[Purpose]bool{}}
	for _, x := range []struct {
		text string
		to   *time.Time
	}{{row.Ends, &a.Ends}, {row.Returned, &a.Returned}} {
		if x.text == "" {
			continue
		}
		if *x.to, err = time.Parse(day, x.text); err != nil {
			return a, fmt.Errorf("%w: a date in the agreement of donor %s", ErrDamaged, row.Code)
		}
	}
	for p, yes := range row.Permitted {
		a.Permitted[Purpose(p)] = yes
	}
	return a, nil
}

// SaveRun adds a run (an empty ID is given one) or replaces it, and returns it as kept. Tie levels go with the slabs they
// were tied at, as section.Run.Carried has it. It fails with ErrInUse when a slab that carries a photograph would go, or its
// plane would change.
func (l *Library) SaveRun(r section.Run) (section.Run, error) {
	if err := l.writable(); err != nil {
		return r, err
	}
	if err := r.Check(); err != nil {
		return r, err
	}
	if r.ID == "" {
		r.ID = "R" + RandomCode(8)
	}
	faces := r.Plane.Faces()
	row := store.Run{ID: r.ID, Donor: r.Donor, Part: r.Part, Plane: r.Plane.String(), First: r.First.String(), Length: r.Length, Limb: r.Limb.String(),
		Facings: [2]string{faces[0].String(), faces[1].String()}}
	if r.Half != section.UnknownFacing {
		row.Half = r.Half.String()
	}
	for _, s := range r.Slabs {
		if s.Number < 1 {
			return r, fmt.Errorf("atlas: slab number %d must be 1 or more", s.Number)
		}
		row.Slabs = append(row.Slabs, store.Slab(s))
	}
	old, err := l.Run(r.ID) // the zero run when it is new
	if err != nil && !errors.Is(err, ErrNotFound) {
		return r, err
	}
	if err = l.db.SaveRun(row); err == nil {
		err = l.carryLevels(old, r)
	}
	if errors.Is(err, ErrInUse) {
		if _, e := l.Donor(r.Donor); errors.Is(e, ErrNotFound) {
			return r, e
		}
		return r, fmt.Errorf("%w: a slab whose face is photographed cannot leave its run, nor can the run's plane or donor change; unplace the photograph first", ErrInUse)
	}
	return r, naming("run "+r.ID, err)
}

// carryLevels moves the tie levels of a run with its slabs. Ties that then no longer follow one another are kept: it is for a
// person to tell which is mistaken.
func (l *Library) carryLevels(old, r section.Run) error {
	if len(old.Slabs) == 0 || slices.Equal(old.Slabs, r.Slabs) && old.First == r.First {
		return nil
	}
	all, err := l.SeriesList("")
	if err != nil {
		return err
	}
	for _, s := range all {
		t, err := l.LevelTies(r.ID, s.UID)
		if errors.Is(err, ErrNotFound) {
			continue
		}
		if err != nil {
			return err
		}
		moved := false
		for i := range t.Levels {
			if at, ok := old.Carried(r, t.Levels[i].Run); ok && at != t.Levels[i].Run {
				t.Levels[i].Run, moved = at, true
			}
		}
		if moved {
			if err := l.putLevelTies(t); err != nil {
				return err
			}
		}
	}
	return nil
}

// Run returns one run.
func (l *Library) Run(id string) (section.Run, error) {
	all, err := l.Runs()
	if err != nil {
		return section.Run{}, err
	}
	for _, r := range all {
		if r.ID == id {
			return r, nil
		}
	}
	return section.Run{}, naming("run "+id, ErrNotFound)
}

// Runs lists every run, the oldest first.
func (l *Library) Runs() ([]section.Run, error) {
	rows, err := l.db.Runs()
	if err != nil {
		return nil, err
	}
	out := make([]section.Run, 0, len(rows))
	for _, row := range rows {
		r := section.Run{ID: row.ID, Donor: row.Donor, Part: row.Part, Length: row.Length}
		plane, err1 := section.ParsePlane(row.Plane)
		first, err2 := section.ParseFacing(row.First)
		limb, err3 := section.ParseLimb(row.Limb)
		var half section.Facing
		var err4 error
		if row.Half != "" {
			half, err4 = section.ParseFacing(row.Half)
		}
		if err := errors.Join(err1, err2, err3, err4); err != nil {
			return nil, fmt.Errorf("%w: run %s: %w", ErrDamaged, row.ID, err)
		}
		r.Plane, r.First, r.Limb, r.Half = plane, first, limb, half
		for _, s := range row.Slabs {
			r.Slabs = append(r.Slabs, section.Slab(s))
		}
		out = append(out, r)
	}
	return out, nil
}

// checkFace reports whether a face can be one of its run's: section.ErrNotAFace for a side its plane does not
// have, section.ErrNoSuchFace for a slab the run does not have.
func checkFace(r section.Run, f section.Face) error {
	if f.Facing == section.UnknownFacing || f.Facing.Plane() != r.Plane {
		return fmt.Errorf("%w: a %s run has no %s face", section.ErrNotAFace, r.Plane, f.Facing)
	}
	_, _, err := r.Depth(f)
	return err
}

// Scan returns the tie levels as a map between run and scan.
func (t LevelTies) Scan(r section.Run) (register.Levels, error) {
	return register.NewLevels(t.Levels, register.Direction(r.First))
}
