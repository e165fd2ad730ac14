package annotate

import (
	"errors"
	"fmt"
	"time"

	"sectionary/slices/geom"
)

var (
	// ErrNoLabel says that no label has the given id.
	ErrNoLabel = errors.New("annotate: no such label")
	// ErrSameID says that a label with this id is already there.
	ErrSameID = errors.New("annotate: a label with this id is already there")
	// ErrSide says that a structure and a side do not go together.
	ErrSide = errors.New("annotate: this structure does not take that side")
	// ErrSamePerson says that a label must be signed by someone other than its author.
	ErrSamePerson = errors.New("annotate: a second person must sign")
	// ErrNotReady says that a label still lacks something it needs.
	ErrNotReady = errors.New("annotate: the label is not complete")
)

// Side is the donor's side a structure lies on.
type Side uint8

// The four sides. NoSide is for structures without one: a region, a fluid, skin.
const (
	NoSide Side = iota
	Left
	Right
	Midline
)

// Sureness is how sure the author is of the name.
type Sureness uint8

// A label has no sureness until its author says so; only certain ones may enter an exam.
const (
	Unsaid Sureness = iota
	Certain
	Probable
	Discuss
)

// Signature records the second person who checked a label.
type Signature struct {
	By string    `json:"by"`
	At time.Time `json:"at"`
}

// Stamp says who makes a change and when. Times are kept in UTC.
type Stamp struct {
	Author string
	At     time.Time
}

// Label ties an outline of one or more parts to a structure.
type Label struct {
	ID      string     `json:"id"`
	Term    TermID     `json:"term"`
	Side    Side       `json:"side"`
	Sure    Sureness   `json:"sure"`
	Regions []Polygon  `json:"regions"`
	Note    string     `json:"note,omitempty"`
	Author  string     `json:"author"`
	Changed time.Time  `json:"changed"`
	Signed  *Signature `json:"signed,omitempty"`
	// Carried marks an outline brought over from another face or the scan and not yet confirmed by a
	// person: drawn dashed, counted nowhere.
	Carried bool   `json:"carried,omitempty"`
	From    string `json:"from,omitempty"` // where a carried outline came from, in words
}

// Missing lists what the label still needs, in words: structure, outline, sureness, author, date, confirming.
func (x Label) Missing() []string {
	var m []string
	need := func(absent bool, what string) {
		if absent {
			m = append(m, what)
		}
	}
	need(x.Term == "", "structure")
	need(len(x.Regions) == 0, "outline")
	need(x.Sure == Unsaid, "sureness")
	need(x.Author == "", "author")
	need(x.Changed.IsZero(), "date")
	need(x.Carried, "confirming")
	return m
}

// Counts reports whether the label is complete and confirmed, so that lists and sheets may show it.
func (x Label) Counts() bool { return len(x.Missing()) == 0 }

// Examinable reports whether the label may stand in an exam: complete and certain.
func (x Label) Examinable() bool { return x.Counts() && x.Sure == Certain }

// Contains reports whether q lies in any part of the label.
func (x Label) Contains(q geom.Px) bool {
	for _, p := range x.Regions {
		if p.Contains(q) {
			return true
		}
	}
	return false
}

// AreaPx returns the area of all parts in square pixels.
func (x Label) AreaPx() float64 {
	var a float64
	for _, p := range x.Regions {
		a += p.AreaPx()
	}
	return a
}

// Bounds returns the box around all parts, the zero box when there are none.
func (x Label) Bounds() Box {
	var b Box
	for i, p := range x.Regions {
		if i == 0 {
			b = p.Bounds()
		} else {
			b = b.Union(p.Bounds())
		}
	}
	return b
}

// Inside returns the deepest interior point of the largest part: where a marker or a leader goes.
func (x Label) Inside() geom.Px {
	var best Polygon
	for i, p := range x.Regions {
		if i == 0 || p.AreaPx() > best.AreaPx() {
			best = p
		}
	}
	return best.Inside()
}

// String names a side as files and the prompt write it.
func (s Side) String() string { return name(sideNames[:], uint8(s)) }

// String names a sureness as files and the prompt write it.
func (s Sureness) String() string { return name(sureNames[:], uint8(s)) }

var (
	sideNames = [...]string{"none", "left", "right", "midline"}
	sureNames = [...]string{"", "certain", "probable", "discuss"}
)

func name(names []string, n uint8) string {
	if int(n) < len(names) {
		return names[n]
	}
	return "?"
}

func parseName(names []string, text, what string) (uint8, error) {
	for i, n := range names {
		if n == text {
			return uint8(i), nil
		}
	}
	return 0, fmt.Errorf("annotate: %q is not a %s", text, what)
}

// ParseSide reads left, right, midline or none.
func ParseSide(text string) (Side, error) {
	n, err := parseName(sideNames[:], text, "side")
	return Side(n), err
}

// ParseSureness reads certain, probable, discuss or nothing.
func ParseSureness(text string) (Sureness, error) {
	n, err := parseName(sureNames[:], text, "sureness")
	return Sureness(n), err
}

// MarshalText writes the name of the side.
func (s Side) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads the name of a side.
func (s *Side) UnmarshalText(b []byte) (err error) { *s, err = ParseSide(string(b)); return err }

// MarshalText writes the name of the sureness.
func (s Sureness) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads the name of a sureness.
func (s *Sureness) UnmarshalText(b []byte) (err error) {
	*s, err = ParseSureness(string(b))
	return err
}
