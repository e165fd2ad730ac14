package atlas

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"slices"

	"sectionary/atlas/store"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// Keep makes a succession so, in one step: the old photograph is retired and the new one current, or nothing changed. It fails with
// ErrChanged when either moved on since it was read.
func (l *Library) Keep(s Succession) (Succession, error) {
	both, err := l.putAll(s.Old, s.New)
	if err != nil {
		return s, err
	}
	s.Old, s.New = both[0], both[1]
	return s, nil
}

// TakeBack undoes Keep in one step: next goes back into the tray as it was before, and old is current again. Both must be as Keep left
// them, else ErrChanged.
func (l *Library) TakeBack(s Succession, before Plate) (old, next Plate, err error) {
	old, next = s.Old, before
	old.Retired, next.Rev = false, s.New.Rev
	both, err := l.putAll(next, old)
	if err != nil {
		return old, next, err
	}
	return both[1], both[0], nil
}

// MakeCurrent makes an earlier photograph the current one of its face again, in one step; the one that was current becomes an earlier
// one. ErrUnplaced when it lies on no face.
func (l *Library) MakeCurrent(id string) (Plate, error) {
	p, err := l.Plate(id)
	if err != nil {
		return p, err
	}
	if p.Face == (section.Face{}) {
		return p, naming("photograph "+id, ErrUnplaced)
	}
	if !p.Retired {
		return p, nil
	}
	p.Retired = false
	change := []Plate{p}
	switch now, err := l.PlateOf(p.Face); {
	case err == nil:
		now.Retired = true
		change = []Plate{now, p}
	case !errors.Is(err, ErrNotFound):
		return p, err
	}
	kept, err := l.putAll(change...)
	if err != nil {
		return p, err
	}
	return kept[len(kept)-1], nil
}

// EarlierPhotos lists the earlier photographs of a face, the last retired first.
func (l *Library) EarlierPhotos(f section.Face) ([]Entry, error) {
	var out []Entry
	for e, err := range l.Find(Query{Run: f.Run, Retired: true}) {
		if err != nil {
			return nil, err
		}
		if e.Face == f && e.Retired {
			out = append(out, e)
		}
	}
	slices.SortStableFunc(out, func(a, b Entry) int { return b.Saved.Compare(a.Saved) })
	return out, nil
}

// ReadPicture reads and decodes a photograph and keeps nothing of it: p is as AddPhoto would lay it in the tray, but for an ID. Errors are those of
// photo.Open.
func ReadPicture(ctx context.Context, donor string, r io.Reader) (file []byte, p Plate, m *photo.Image, err error) {
	if file, err = io.ReadAll(io.LimitReader(reading{ctx, r}, photo.DefaultBytes+1)); err != nil {
		return nil, p, nil, fmt.Errorf("atlas: %w", err)
	}
	if len(file) > photo.DefaultBytes {
		return nil, p, nil, photo.ErrTooLarge
	}
	p.Donor = donor
	if p.Photo, err = photo.Probe(bytes.NewReader(file)); err != nil {
		return nil, p, nil, err
	}
	if m, err = photo.Open(ctx, bytes.NewReader(file), photo.Limit{}); err != nil {
		return nil, p, nil, err
	}
	p.Photo.SHA256, p.Photo.Bytes, p.Photo.Size = sha256.Sum256(file), int64(len(file)), m.Size()
	return file, p, m, nil
}

// KnownPhoto reports whether a photograph's bytes are in the library, and on which plate.
func (l *Library) KnownPhoto(sum photo.Hash) (plate string, known bool) {
	id, err := l.db.PlateOfPhoto(sum.String())
	return id, err == nil
}

// putAll writes plates in one step, in order; ErrChanged when any moved on.
func (l *Library) putAll(all ...Plate) ([]Plate, error) {
	if err := l.writable(); err != nil {
		return nil, err
	}
	out, rows := make([]Plate, len(all)), make([]store.Plate, len(all))
	for i, p := range all {
		out[i] = p
		out[i].Rev, out[i].Saved = p.Rev+1, now()
		var err error
		if rows[i], err = rowOf(out[i]); err != nil {
			return nil, err
		}
	}
	if err := l.db.SavePlates(rows...); err != nil {
		return nil, naming(all[0].Face.Name(), err)
	}
	return out, nil
}
