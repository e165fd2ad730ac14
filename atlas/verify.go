package atlas

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"sectionary/atlas/store"
	"sectionary/slices/section"
)

// Verify checks the catalogue, every document, and every original and volume against its hash. Each fault goes
// to report, wrapped in ErrDamaged and naming the item; the rest of the library can still be used. The error is
// for not being able to look.
func (l *Library) Verify(ctx context.Context, report func(error)) error {
	bad := func(format string, args ...any) {
		report(fmt.Errorf("%w: "+format, append([]any{ErrDamaged}, args...)...))
	}
	if err := l.db.Check(ctx, func(fault string) { bad("catalogue: %s", fault) }); err != nil {
		return err
	}
	if _, err := l.Donors(); err != nil {
		report(err)
	}
	owners, err := l.verifyPlates(ctx, report)
	if err != nil {
		return err
	}
	photos, err := l.db.Photos(ctx)
	if err != nil {
		return err
	}
	for _, p := range photos {
		h, err := hashFile(ctx, l.original(p))
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case errors.Is(err, os.ErrNotExist):
			bad("%s: the original %s is missing", owners[p.SHA256], filepath.Base(l.original(p)))
		case err != nil:
			bad("%s: the original cannot be read: %v", owners[p.SHA256], err)
		case h.String() != p.SHA256:
			bad("%s: the bytes of %s are not those that came in", owners[p.SHA256], filepath.Base(l.original(p)))
		}
	}
	if err := l.verifyCustody(ctx, report); err != nil {
		return err
	}
	return l.verifySeries(ctx, bad, report)
}

// verifyCustody reads the ledger anew, and compares with it what the agreements say of the return.
func (l *Library) verifyCustody(ctx context.Context, report func(error)) error {
	c, err := l.readLedger(ctx)
	if errors.Is(err, ErrDamaged) {
		report(err)
		return nil
	} else if err != nil {
		return err
	}
	if _, err := l.CustodyRules(); err != nil {
		report(err)
	}
	donors, err := l.Donors()
	if err != nil {
		return nil // reported already
	}
	for _, d := range donors {
		if c.Returned(d.Code) == d.Agreement.Returned.IsZero() {
			report(fmt.Errorf("%w: the agreement of donor %s and the ledger differ on whether it went back", ErrDamaged, d.Code))
		}
	}
	return nil
}

// verifyPlates reads every document and returns which face each original belongs to, in words.
func (l *Library) verifyPlates(ctx context.Context, report func(error)) (owners map[string]string, err error) {
	rows, err := l.db.Plates(ctx, store.Question{Retired: true})
	if err != nil {
		return nil, err
	}
	owners = map[string]string{}
	for _, row := range rows {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		name := faceOf(row).Name()
		if faceOf(row) == (section.Face{}) {
			name = "unplaced photo " + row.ID
		}
		owners[row.Photo] = "photo of " + name
		if _, err := entryOf(row); err != nil {
			report(err)
		}
		p, err := l.Plate(row.ID)
		if err != nil {
			report(fmt.Errorf("%s: %w", name, err))
			continue
		}
		l.verifyComposed(p, report)
	}
	return owners, nil
}

func (l *Library) verifySeries(ctx context.Context, bad func(string, ...any), report func(error)) error {
	rows, err := l.db.Series(ctx)
	if err != nil {
		return err
	}
	runs, err := l.db.Runs()
	if err != nil {
		return err
	}
	for _, row := range rows {
		if _, err := seriesOf(row); err != nil {
			report(err)
		}
		for ext, want := range map[string]string{".nii": row.Volume, ".json": row.Side} {
			h, err := hashFile(ctx, l.volume(row, ext))
			switch {
			case ctx.Err() != nil:
				return ctx.Err()
			case err != nil:
				bad("series %s: %s%s cannot be read: %v", row.UID, row.File, ext, err)
			case h.String() != want:
				bad("series %s: the bytes of %s%s are not those that were written", row.UID, row.File, ext)
			}
		}
		for _, r := range runs {
			if _, err := l.LevelTies(r.ID, row.UID); err != nil && !errors.Is(err, ErrNotFound) {
				report(err)
			}
		}
	}
	return nil
}
