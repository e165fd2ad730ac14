package annotate

import (
	"encoding/json"
	"fmt"
	"iter"
	"slices"
	"time"

	"sectionary/slices/geom"
)

// Labels are the labels of one face, bottom to top in the order they were drawn. It is a value: every method
// returns a new one, and both share the labels that did not change. Callers must not write into a Label's
// Regions after handing it over.
type Labels struct{ list []Label }

// Len returns how many labels there are.
func (l Labels) Len() int { return len(l.list) }

// All runs over the labels, bottom first.
func (l Labels) All() iter.Seq[Label] { return slices.Values(l.list) }

// Find returns the label with this id.
func (l Labels) Find(id string) (Label, bool) {
	if i := l.at(id); i >= 0 {
		return l.list[i], true
	}
	return Label{}, false
}

func (l Labels) at(id string) int {
	return slices.IndexFunc(l.list, func(x Label) bool { return x.ID == id })
}

// Add returns l with x on top. It fails with ErrSameID, or when x has no id, or when a part fails
// Polygon.Check. A structure may be named later (Rename).
func (l Labels) Add(x Label) (Labels, error) { return l.AddAll([]Label{x}) }

// AddAll returns l with all of list on top, in order, or l itself and the first error.
func (l Labels) AddAll(list []Label) (Labels, error) {
	ids := make(map[string]bool, len(l.list)+len(list))
	for _, x := range l.list {
		ids[x.ID] = true
	}
	next := append(make([]Label, 0, len(l.list)+len(list)), l.list...)
	for i, x := range list {
		switch {
		case x.ID == "":
			return l, fmt.Errorf("annotate: label %d needs an id", i+1)
		case ids[x.ID]:
			return l, fmt.Errorf("%w: %s", ErrSameID, x.ID)
		}
		if err := checkRegions(x.Regions); err != nil {
			return l, fmt.Errorf("label %s: %w", x.ID, err)
		}
		ids[x.ID] = true
		x.Regions = slices.Clone(x.Regions)
		x.Changed = x.Changed.UTC().Round(0)
		if x.Signed != nil {
			x.Signed = &Signature{By: x.Signed.By, At: x.Signed.At.UTC().Round(0)}
		}
		next = append(next, x)
	}
	return Labels{next}, nil
}

func checkRegions(regions []Polygon) error {
	if len(regions) == 0 {
		return fmt.Errorf("%w: it has no part", ErrTooSmall)
	}
	for i, p := range regions {
		if err := p.Check(); err != nil {
			return fmt.Errorf("part %d: %w", i+1, err)
		}
	}
	return nil
}

// Reshape returns l with the outline of one label replaced. A signature falls away, for what was signed is
// no longer there. Errors: ErrNoLabel, and those of Polygon.Check.
func (l Labels) Reshape(id string, by Stamp, regions ...Polygon) (Labels, error) {
	if err := checkRegions(regions); err != nil {
		return l, err
	}
	return l.edit(id, by, func(x *Label) error { x.Regions = slices.Clone(regions); return nil })
}

// Rename returns l with the structure and side of one label replaced. Ask Terms.Check first: Labels does not
// know which structures take a side. A signature falls away.
func (l Labels) Rename(id string, by Stamp, term TermID, side Side) (Labels, error) {
	return l.edit(id, by, func(x *Label) error { x.Term, x.Side = term, side; return nil })
}

// Judge returns l with the sureness of one label replaced. A signature falls away.
func (l Labels) Judge(id string, by Stamp, sure Sureness) (Labels, error) {
	return l.edit(id, by, func(x *Label) error { x.Sure = sure; return nil })
}

// Annotate returns l with the note of one label replaced. A signature stays: the claim did not change.
func (l Labels) Annotate(id string, by Stamp, note string) (Labels, error) {
	old, _ := l.Find(id)
	return l.edit(id, by, func(x *Label) error { x.Note, x.Signed = note, old.Signed; return nil })
}

// Confirm returns l with a carried outline accepted by a person, who becomes its author.
func (l Labels) Confirm(id string, by Stamp) (Labels, error) {
	return l.edit(id, by, func(x *Label) error { x.Carried = false; return nil })
}

// Sign returns l with one label signed by a second person. It fails with ErrSamePerson when the author signs
// and with ErrNotReady while the label lacks anything.
func (l Labels) Sign(id string, by Stamp) (Labels, error) {
	old, ok := l.Find(id)
	if !ok {
		return l, fmt.Errorf("%w: %s", ErrNoLabel, id)
	}
	if m := old.Missing(); len(m) > 0 {
		return l, fmt.Errorf("%w: %s lacks %v", ErrNotReady, id, m)
	}
	if by.Author == "" || by.Author == old.Author {
		return l, fmt.Errorf("%w: %s", ErrSamePerson, id)
	}
	return l.replace(id, func(x *Label) { x.Signed = &Signature{By: by.Author, At: stampTime(by)} }), nil
}

// Remove returns l without one label.
func (l Labels) Remove(id string) (Labels, error) {
	i := l.at(id)
	if i < 0 {
		return l, fmt.Errorf("%w: %s", ErrNoLabel, id)
	}
	if len(l.list) == 1 {
		return Labels{}, nil // an emptied list equals one that never held anything
	}
	return Labels{slices.Concat(l.list[:i], l.list[i+1:])}, nil
}

func (l Labels) edit(id string, by Stamp, f func(*Label) error) (Labels, error) {
	i := l.at(id)
	if i < 0 {
		return l, fmt.Errorf("%w: %s", ErrNoLabel, id)
	}
	x := l.list[i]
	x.Author, x.Changed, x.Signed = by.Author, stampTime(by), nil
	if err := f(&x); err != nil {
		return l, err
	}
	return l.replace(id, func(old *Label) { *old = x }), nil
}

func (l Labels) replace(id string, f func(*Label)) Labels {
	list := slices.Clone(l.list)
	f(&list[l.at(id)])
	return Labels{list}
}

func stampTime(s Stamp) time.Time { return s.At.UTC().Round(0) }

// Under returns the labels that contain q, the smallest first; of equal ones the later drawn.
func (l Labels) Under(q geom.Px) []Label {
	type hit struct {
		x    Label
		area float64
	}
	var hits []hit
	for _, x := range slices.Backward(l.list) {
		if x.Bounds().Contains(q) && x.Contains(q) {
			hits = append(hits, hit{x, x.AreaPx()})
		}
	}
	slices.SortStableFunc(hits, func(a, b hit) int {
		switch {
		case a.area < b.area:
			return -1
		case a.area > b.area:
			return 1
		}
		return 0
	})
	out := make([]Label, len(hits))
	for i, h := range hits {
		out[i] = h.x
	}
	return out
}

// Map returns l with every point carried through f.
func (l Labels) Map(f func(geom.Px) geom.Px) Labels {
	list := slices.Clone(l.list)
	for i := range list {
		regions := make([]Polygon, len(list[i].Regions))
		for j, p := range list[i].Regions {
			regions[j] = p.Map(f)
		}
		list[i].Regions = regions
	}
	return Labels{list}
}

// MarshalJSON writes an array of labels, bottom first.
func (l Labels) MarshalJSON() ([]byte, error) {
	if l.list == nil {
		return []byte("[]"), nil
	}
	return json.Marshal(l.list)
}

// UnmarshalJSON reads what MarshalJSON writes and checks it as Add does.
func (l *Labels) UnmarshalJSON(b []byte) error {
	var list []Label
	if err := json.Unmarshal(b, &list); err != nil {
		return fmt.Errorf("annotate: labels: %w", err)
	}
	read, err := Labels{}.AddAll(list)
	if err != nil {
		return fmt.Errorf("annotate: labels: %w", err)
	}
	*l = read
	return nil
}
