package atlas

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"sectionary/atlas/store"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// Composed tells that a picture was not taken but made of others. Its pixels are those of the first, but for what was taken from
// the second.
type Composed struct {
	Of    []photo.Hash `json:"of"`    // the originals it was made of, the first first
	Why   ComposedWhy  `json:"why"`   // what was put right
	Share float64      `json:"share"` // of the face, that is not the first picture's own
	By    string       `json:"by,omitempty"`
	At    time.Time    `json:"at"`
	// Elsewhere says that the originals are not in this library: the picture came from another lab.
	Elsewhere bool `json:"elsewhere,omitempty"`
}

// ComposedWhy is what a made picture puts right.
type ComposedWhy string

// Unshone is a picture freed of glare by a second one under a moved lamp.
const Unshone ComposedWhy = "glare"

// Check refuses what no made picture can say.
func (m Composed) Check() error {
	switch {
	case m.Why != Unshone:
		return fmt.Errorf("atlas: a picture made for %q is not known; it is one of: %s", m.Why, Unshone)
	case len(m.Of) != 2 || m.Of[0] == m.Of[1] || m.Of[0] == (photo.Hash{}) || m.Of[1] == (photo.Hash{}):
		return fmt.Errorf("atlas: a picture freed of glare is made of two different originals, %d are named", len(m.Of))
	case !(m.Share >= 0 && m.Share <= 1):
		return fmt.Errorf("atlas: a made picture has between none and all of the other, not %g", m.Share)
	}
	return nil
}

// KeepComposed keeps a picture made of first, the current photograph of a face, and of second, one in the tray or an earlier one of
// the same face, and makes it the face's current one in one step: first and second stay as earlier ones, with their originals.
// All that is known of first is known of the made picture, for its pixels are the same; first must be as it is on disk. It
// fails with ErrChanged, ErrRetired, ErrUnplaced, ErrFaceTaken where second lies on another face, and as TakePhoto.
// MakeCurrent(first.ID) goes back.
func (l *Library) KeepComposed(ctx context.Context, first Plate, second string, m Composed, picture io.Reader) (Plate, error) {
	if err := l.mayReplace(first); err != nil {
		return first, err
	}
	if first.Face == (section.Face{}) {
		return first, naming("photograph "+first.ID, ErrUnplaced)
	}
	other, err := l.Plate(second)
	if err != nil {
		return first, err
	}
	switch {
	case other.Donor != first.Donor:
		return first, fmt.Errorf("atlas: photograph %s is of another donor than %s", second, first.Face.Name())
	case other.Face == (section.Face{}):
		other.Face = first.Face
	case other.Face != first.Face || !other.Retired:
		return first, naming("photograph "+second+" lies on "+other.Face.Name(), ErrFaceTaken)
	}
	m.Of = []photo.Hash{first.Photo.SHA256, other.Photo.SHA256}
	m.At = now()
	if err := m.Check(); err != nil {
		return first, err
	}
	taken, err := l.takeMade(ctx, first.Donor, picture)
	if err != nil {
		return first, err
	}
	if taken.Photo.Size != first.Photo.Size {
		return first, fmt.Errorf("atlas: the made picture is %v pixels, %s is %v", taken.Photo.Size, first.Face.Name(), first.Photo.Size)
	}
	next := first
	next.ID, next.Rev, next.Photo, next.Composed = taken.ID, taken.Rev, taken.Photo, &m
	next.Photo.Taken, next.Photo.Mirrored = first.Photo.Taken, first.Photo.Mirrored // what the camera said of the first holds
	first.Retired, other.Retired = true, true
	kept, err := l.putAll(first, other, next)
	if err != nil {
		return first, err
	}
	return kept[2], nil
}

// takeMade keeps the bytes of a made picture in the tray; those that an attempt cut short has left there are taken again.
func (l *Library) takeMade(ctx context.Context, donor string, picture io.Reader) (Plate, error) {
	p, err := l.AddPhoto(ctx, section.Face{}, donor, "the made picture", picture)
	var known *KnownPhoto
	if !errors.As(err, &known) {
		return p, err
	}
	left, fault := l.Plate(known.Plate)
	if fault != nil || left.Face != (section.Face{}) || left.Donor != donor {
		return p, err
	}
	return left, nil
}

// ComposedOf lists the plates of this library that a made picture was made of, the first first; what is not here is left out.
func (l *Library) ComposedOf(p Plate) (out []Plate, err error) {
	if p.Composed == nil {
		return nil, nil
	}
	for _, h := range p.Composed.Of {
		id, err := l.db.PlateOfPhoto(h.String())
		if errors.Is(err, store.ErrNotFound) {
			continue
		}
		if err != nil {
			return out, err
		}
		q, err := l.Plate(id)
		if err != nil {
			return out, err
		}
		out = append(out, q)
	}
	return out, nil
}

// verifyComposed reports a made picture whose originals should be here and are not.
func (l *Library) verifyComposed(p Plate, report func(error)) {
	if p.Composed == nil {
		return
	}
	if err := p.Composed.Check(); err != nil {
		report(fmt.Errorf("%w: photo of %s: %w", ErrDamaged, p.Face.Name(), err))
		return
	}
	if of, err := l.ComposedOf(p); err == nil && len(of) < len(p.Composed.Of) && !p.Composed.Elsewhere {
		report(fmt.Errorf("%w: photo of %s: it was made of %d originals, %d of them are here", ErrDamaged, p.Face.Name(), len(p.Composed.Of), len(of)))
	}
}
