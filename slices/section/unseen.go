package section

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Span is how far a structure reaches along a run, in mm from the datum.
type Span struct {
	Name     string  `json:"name"`
	From, To float64 // From <= To
}

// Hiding says where a structure that no face cuts lies.
type Hiding struct {
	Span
	Inside        // of its middle
	Words  string `json:"words"`
}

// Unseen parts the structures that no face of the run cuts: hidden by thickness, wholly within slabs, and lost to the saw,
// wholly within kerfs. A structure that reaches a face, or lies partly beyond the run, is in neither. rounding is how near, in
// mm, a structure must come to a face to be cut by it: the spacing its span was measured by, halved. In order along the run.
func (r Run) Unseen(spans []Span, rounding float64) (hidden, lost []Hiding) {
	for _, s := range spans {
		if !(s.From <= s.To) || math.IsInf(s.From, 0) || math.IsInf(s.To, 0) {
			continue
		}
		in, ok := r.within(s, math.Max(0, rounding))
		if !ok {
			continue
		}
		h := Hiding{Span: s, Inside: in}
		if in.Kerf {
			h.Words = fmt.Sprintf("%s: only in the cut after slab %d", s.Name, in.Slab)
			lost = append(lost, h)
			continue
		}
		h.Words = fmt.Sprintf("%s: only inside slab %d, %.1f to %.1f mm from its first face", s.Name, in.Slab, in.Below-(s.To-s.From)/2, in.Below+(s.To-s.From)/2)
		hidden = append(hidden, h)
	}
	byPlace := func(a, z Hiding) int { return cmp.Or(cmp.Compare(a.From, z.From), cmp.Compare(a.Name, z.Name)) }
	slices.SortStableFunc(hidden, byPlace)
	slices.SortStableFunc(lost, byPlace)
	return hidden, lost
}

// within tells which slab or kerf holds a span wholly, clear of the faces at its ends.
func (r Run) within(s Span, rounding float64) (in Inside, ok bool) {
	at := 0.0
	for i, slab := range r.Slabs {
		for _, part := range []struct {
			long float64
			kerf bool
		}{{slab.Mean(), false}, {slab.Kerf, true}} {
			end := at + part.long
			if part.kerf && i == len(r.Slabs)-1 {
				break
			}
			// a kerf's own ends are faces too, but nothing thinner than a slice was measured: its middle decides
			clear := s.From > at+rounding && s.To < end-rounding
			if part.kerf {
				clear = s.From >= at-1e-9 && s.To <= end+1e-9
			}
			if clear {
				middle := (s.From + s.To) / 2
				return Inside{slab.Number, part.kerf, middle - at, end - middle}, true
			}
			at = end
		}
	}
	return Inside{}, false
}
