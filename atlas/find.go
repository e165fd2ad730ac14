package atlas

import (
	"context"
	"encoding/json"
	"fmt"
	"image"
	"iter"
	"time"

	"sectionary/annotate"
	"sectionary/atlas/store"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// Query narrows Find; empty fields ask for nothing.
type Query struct {
	Donor, Run string
	Term       annotate.TermID
	Retired    bool // earlier photographs too
}

// Entry is one line of a listing.
type Entry struct {
	Plate     string       `json:"plate"`
	Donor     string       `json:"donor"`
	Face      section.Face `json:"face"` // zero while unplaced
	Retired   bool         `json:"retired"`
	Synthetic bool         `json:"synthetic"`
	Rev       int          `json:"rev"`
	Saved     time.Time    `json:"saved"`
	Size      image.Point  `json:"size"` // of the upright photograph, pixels
	Status    photo.Status `json:"scale"`
	// PhotoUp is unknown, too, while a mirror in the camera's tag is not answered for.
	PhotoUp section.Facing `json:"photoUp"`
	Series  string         `json:"series"` // the series it is registered in, "" when in none
	Labels  []EntryLabel   `json:"labels"`
	// Again counts what came over from an earlier photograph and waits for a person to look at it.
	Again int `json:"again,omitempty"`
}

// Placed reports whether the photograph is tied to a face.
func (e Entry) Placed() bool { return e.Face != (section.Face{}) }

// EntryLabel is what one label names.
type EntryLabel struct {
	ID   string            `json:"id"`
	Term annotate.TermID   `json:"term"`
	Side annotate.Side     `json:"side"`
	Sure annotate.Sureness `json:"sure"`
}

// Find lists plates in order along their runs, unplaced ones last, and opens none. An error ends the listing.
func (l *Library) Find(q Query) iter.Seq2[Entry, error] {
	return func(yield func(Entry, error) bool) {
		rows, err := l.db.Plates(context.Background(), store.Question{Donor: q.Donor, Run: q.Run, Term: string(q.Term), Retired: q.Retired})
		if err != nil {
			yield(Entry{}, err)
			return
		}
		for _, row := range rows {
			e, err := entryOf(row)
			if !yield(e, err) || err != nil {
				return
			}
		}
	}
}

func entryOf(row store.Plate) (Entry, error) {
	var f facts
	if err := json.Unmarshal(row.Facts, &f); err != nil {
		return Entry{}, fmt.Errorf("%w: the list line of face %s: %w", ErrDamaged, row.ID, err)
	}
	e := Entry{Plate: row.ID, Donor: row.Donor, Face: faceOf(row), Retired: row.Retired, Synthetic: row.Synthetic, Rev: row.Rev,
		Saved: row.Saved, Size: f.Size, Status: f.Status, PhotoUp: f.PhotoUp, Series: f.Series, Again: f.Again, Labels: []EntryLabel{}}
	if f.Asked && f.Mirrored == Unanswered {
		e.PhotoUp = section.UnknownFacing
	}
	for _, x := range row.Labels {
		side, err := annotate.ParseSide(x.Side)
		if err != nil {
			return e, fmt.Errorf("%w: the list line of face %s: %w", ErrDamaged, row.ID, err)
		}
		sure, err := annotate.ParseSureness(x.Sure)
		if err != nil {
			return e, fmt.Errorf("%w: the list line of face %s: %w", ErrDamaged, row.ID, err)
		}
		e.Labels = append(e.Labels, EntryLabel{ID: x.ID, Term: annotate.TermID(x.Term), Side: side, Sure: sure})
	}
	return e, nil
}
