package annotate

import (
	"cmp"
	"slices"
	"time"
)

// Change is one line of a face's history: what was done to which label, by whom and when.
type Change struct {
	Label string    `json:"label"`
	What  []string  `json:"what"` // added, removed, outline, structure, side, sureness, note, signed, confirmed
	By    string    `json:"by"`
	At    time.Time `json:"at"`
}

// Changes lists what turns old into next, by label id. A removal carries no author of its own: by says who is at work.
func Changes(old, next Labels, by Stamp) []Change {
	var out []Change
	for x := range next.All() {
		was, ok := old.Find(x.ID)
		if !ok {
			out = append(out, Change{x.ID, []string{"added"}, x.Author, x.Changed})
			continue
		}
		if what := differences(was, x); len(what) > 0 {
			c := Change{x.ID, what, x.Author, x.Changed}
			if slices.Equal(what, []string{"signed"}) && x.Signed != nil {
				c.By, c.At = x.Signed.By, x.Signed.At
			}
			out = append(out, c)
		}
	}
	for x := range old.All() {
		if _, ok := next.Find(x.ID); !ok {
			out = append(out, Change{x.ID, []string{"removed"}, by.Author, stampTime(by)})
		}
	}
	slices.SortStableFunc(out, func(a, b Change) int { return cmp.Compare(a.Label, b.Label) })
	return out
}

func differences(a, b Label) []string {
	var what []string
	add := func(differs bool, word string) {
		if differs {
			what = append(what, word)
		}
	}
	add(!slices.EqualFunc(a.Regions, b.Regions, Polygon.Equal), "outline")
	add(a.Term != b.Term, "structure")
	add(a.Side != b.Side, "side")
	add(a.Sure != b.Sure, "sureness")
	add(a.Note != b.Note, "note")
	add(a.Carried && !b.Carried, "confirmed")
	signed := func(x Label) Signature {
		if x.Signed == nil {
			return Signature{}
		}
		return *x.Signed
	}
	add(b.Signed != nil && signed(a) != signed(b), "signed")
	return what
}
