package atlas

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"sectionary/atlas/store"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/scan"
)

// ErrLocalizer says that a series is an overview picture, which has no stack to cut.
var ErrLocalizer = errors.New("atlas: an overview picture, not a stack to cut")

// AddSeries brings in every series found in files for a donor: voxels as NIfTI, no header kept, UIDs replaced.
// Series whose voxels are already here are returned without being stored again, so a stopped import is taken up by
// calling again. skip (may be nil) hears of files, slices and whole series that could not be used; the rest comes in. done (may be nil) hears how far it has come.
func (l *Library) AddSeries(ctx context.Context, donor string, files fs.FS, skip func(path string, err error), done func(read, total int)) ([]scan.Series, error) {
	if err := l.writable(); err != nil {
		return nil, err
	}
	if _, err := l.Donor(donor); err != nil {
		return nil, err
	}
	if skip == nil {
		skip = func(string, error) {}
	}
	if done == nil {
		done = func(int, int) {}
	}
	clean, err := l.cleaner()
	if err != nil {
		return nil, err
	}
	// The first half of the way is looking at every file, the second half reading the slices.
	half := 1
	found, err := scan.SurveyProgress(ctx, files, skip, func(read, total int) { half = max(total, 1); done(read, 2*half) })
	if err != nil {
		return nil, err
	}
	slices, before := 0, 0
	for _, s := range found {
		slices += s.Size[2]
	}
	var out []scan.Series
	for _, s := range found {
		path := s.Description
		if len(s.Files) > 0 {
			path = s.Files[0]
		}
		if s.Localizer {
			skip(path, ErrLocalizer)
			continue
		}
		v, err := scan.Load(ctx, files, s, func(read, _ int) { done(half+half*(before+read)/max(slices, 1), 2*half) })
		before += s.Size[2]
		if ctx.Err() != nil {
			return out, ctx.Err()
		}
		if err != nil { // one bad series must not keep the others out
			skip(path, err)
			continue
		}
		for _, left := range v.Left {
			skip(path, left)
		}
		kept, err := l.keepVolume(ctx, donor, clean, v)
		if err != nil {
			return out, err
		}
		out = append(out, kept)
	}
	done(2*half, 2*half)
	return out, nil
}

// keepVolume cleans one volume and writes it under volumes/.
func (l *Library) keepVolume(ctx context.Context, donor string, clean *scan.Cleaner, v *scan.Volume) (scan.Series, error) {
	clean.Volume(v)
	sum := sha256.New()
	if err := v.WriteNIfTI(sum); err != nil {
		return scan.Series{}, fmt.Errorf("atlas: %w", err)
	}
	volume := photo.Hash(sum.Sum(nil)).String()
	known, err := l.db.Series(ctx)
	if err != nil {
		return scan.Series{}, err
	}
	uids := map[string]bool{}
	for _, row := range known {
		if row.Donor == donor && row.Volume == volume {
			return seriesOf(row)
		}
		uids[row.UID] = true
	}
	if v.UID == "" || uids[v.UID] { // the same series with other voxels (more slices, another donor) is a series of its own
		v.UID = clean.UID(v.UID + "/" + donor + "/" + volume)
	}
	row := store.Series{UID: v.UID, Donor: donor, File: "S" + volume[:16] + "-" + photo.Hash(sha256.Sum256([]byte(donor))).String()[:4], Volume: volume, Added: now()}
	return l.writeVolume(row, v)
}

func (l *Library) writeVolume(row store.Series, v *scan.Volume) (scan.Series, error) {
	s := v.Series()
	s.Files, s.Warnings = nil, v.Warnings
	var err error
	if row.Doc, err = json.Marshal(s); err != nil {
		return s, fmt.Errorf("atlas: series %s holds a number that cannot be kept: %w", s.UID, err)
	}
	if _, err := writeWith(l.volume(row, ".nii"), v.WriteNIfTI); err != nil {
		return s, err
	}
	side, err := writeWith(l.volume(row, ".json"), v.WriteSide)
	if err != nil {
		return s, err
	}
	row.Side = side.String()
	return s, l.db.AddSeries(row)
}

func (l *Library) volume(row store.Series, ext string) string {
	return filepath.Join(l.dir, volumesName, row.File+ext)
}

func seriesOf(row store.Series) (s scan.Series, err error) {
	if err = json.Unmarshal(row.Doc, &s); err != nil {
		err = fmt.Errorf("%w: what is known of series %s: %w", ErrDamaged, row.UID, err)
	}
	return s, err
}

// SeriesList lists the series of a donor, of all donors when donor is "".
func (l *Library) SeriesList(donor string) ([]scan.Series, error) {
	rows, err := l.db.Series(context.Background())
	if err != nil {
		return nil, err
	}
	var out []scan.Series
	for _, row := range rows {
		if donor != "" && row.Donor != donor {
			continue
		}
		s, err := seriesOf(row)
		if err != nil {
			return out, err
		}
		out = append(out, s)
	}
	return out, nil
}

// Series returns what is known of one series, and whose it is.
func (l *Library) Series(uid string) (s scan.Series, donor string, err error) {
	row, err := l.seriesRow(uid)
	if err != nil {
		return s, "", err
	}
	s, err = seriesOf(row)
	return s, row.Donor, err
}

func (l *Library) seriesRow(uid string) (store.Series, error) {
	rows, err := l.db.Series(context.Background())
	if err != nil {
		return store.Series{}, err
	}
	for _, row := range rows {
		if row.UID == uid {
			return row, nil
		}
	}
	return store.Series{}, naming("series "+uid, ErrNotFound)
}

// Volume reads one series into memory, checking its bytes against their hash on the way.
func (l *Library) Volume(ctx context.Context, uid string) (*scan.Volume, error) {
	row, err := l.seriesRow(uid)
	if err != nil {
		return nil, err
	}
	side, err := os.ReadFile(l.volume(row, ".json"))
	if err != nil || photo.Hash(sha256.Sum256(side)).String() != row.Side {
		return nil, fmt.Errorf("%w: the facts of series %s (%s.json)", ErrDamaged, uid, row.File)
	}
	f, err := os.Open(l.volume(row, ".nii"))
	if err != nil {
		return nil, fmt.Errorf("%w: series %s (%s.nii): %w", ErrDamaged, uid, row.File, err)
	}
	defer f.Close()
	sum := sha256.New()
	through := bufio.NewReaderSize(io.TeeReader(reading{ctx, f}, sum), 1<<20)
	v, err := scan.ReadStored(through, bytes.NewReader(side))
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err == nil {
		_, err = io.Copy(io.Discard, through)
	}
	if err != nil || photo.Hash(sum.Sum(nil)).String() != row.Volume {
		return nil, errors.Join(fmt.Errorf("%w: series %s (%s.nii)", ErrDamaged, uid, row.File), err)
	}
	v.UID = row.UID
	return v, nil
}

// LevelTies returns the tie levels of a run in a series, or ErrNotFound.
func (l *Library) LevelTies(run, series string) (t LevelTies, err error) {
	doc, err := l.db.LevelTies(run, series)
	if err != nil {
		return t, naming("tie levels of run "+run, err)
	}
	if err := json.Unmarshal(doc, &t); err != nil {
		return t, fmt.Errorf("%w: tie levels of run %s: %w", ErrDamaged, run, err)
	}
	return t, nil
}

// SaveLevelTies replaces the tie levels of a run in a series. Ties that do not move steadily along both fail
// with register.ErrOutOfOrder; no ties at all take the tying away.
func (l *Library) SaveLevelTies(t LevelTies) error {
	if err := l.writable(); err != nil {
		return err
	}
	r, err := l.Run(t.Run)
	if err != nil {
		return err
	}
	if len(t.Levels) > 0 {
		if _, err := t.Scan(r); err != nil {
			return err
		}
	}
	return l.putLevelTies(t)
}

func (l *Library) putLevelTies(t LevelTies) error {
	doc, err := json.Marshal(t)
	if err != nil {
		return fmt.Errorf("atlas: tie levels of run %s: %w", t.Run, err)
	}
	return naming("tie levels of run "+t.Run, l.db.SaveLevelTies(t.Run, t.Series, doc))
}

// ByLevel places a plate in a series by its run's tie levels alone, square to its picture. It fails with ErrNotFound when there are
// none, else as register.FromLevel.
func (l *Library) ByLevel(p Plate, series string) (register.Registration, error) {
	t, err := l.LevelTies(p.Face.Run, series)
	if err != nil {
		return register.Registration{}, err
	}
	r, err := l.Run(p.Face.Run)
	if err != nil {
		return register.Registration{}, err
	}
	levels, err := t.Scan(r)
	if err != nil {
		return register.Registration{}, err
	}
	if p.LettersUnknown() {
		return register.Registration{}, fmt.Errorf("%w: the face's photo-up", ErrNotOriented)
	}
	return p.square(series, levels, r, t.Centre)
}
