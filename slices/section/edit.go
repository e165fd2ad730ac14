package section

import (
	"fmt"
	"math"
	"slices"
)

// Moved returns the run with slab number n taken by so many places along it, stopping at the ends. The slab keeps its
// number and thus all that is known of it. A kerf belongs to its place: where the saw went does not move with a slab. It
// fails with ErrNoSuchFace.
func (r Run) Moved(n, by int) (Run, error) {
	i := slices.IndexFunc(r.Slabs, func(s Slab) bool { return s.Number == n })
	if i < 0 {
		return r, fmt.Errorf("%w: no slab %d", ErrNoSuchFace, n)
	}
	to := min(max(i+by, 0), len(r.Slabs)-1)
	kerfs := make([]float64, len(r.Slabs))
	for k, s := range r.Slabs {
		kerfs[k] = s.Kerf
	}
	s := r.Slabs[i]
	r.Slabs = slices.Insert(slices.Delete(slices.Clone(r.Slabs), i, i+1), to, s)
	for k := range r.Slabs {
		r.Slabs[k].Kerf = kerfs[k]
	}
	return r, nil
}

// TurnedRound returns the run with slab 1 at the other end of the body and every slab in the place that its number then
// has: what a lab wants that counted from the feet when the run was begun from the head. Faces keep their names.
func (r Run) TurnedRound() Run {
	r.First = r.First.Opposite()
	return r
}

// FromOtherEnd returns the run counted and measured from its other end; every slab stays where it is and keeps its number.
func (r Run) FromOtherEnd() Run {
	r.First = r.First.Opposite()
	old := r.Slabs
	n := len(old)
	r.Slabs = slices.Clone(old)
	slices.Reverse(r.Slabs)
	for i := range r.Slabs { // a kerf is the one after its slab
		if i < n-1 {
			r.Slabs[i].Kerf = old[n-2-i].Kerf
		} else {
			r.Slabs[i].Kerf = old[n-1].Kerf
		}
	}
	return r
}

// Renumbered returns the run with its slabs numbered 1, 2, 3 in order. It detaches what refers to a slab by its number, so
// it is for runs of which nothing is kept yet.
func (r Run) Renumbered() Run {
	r.Slabs = slices.Clone(r.Slabs)
	for i := range r.Slabs {
		r.Slabs[i].Number = i + 1
	}
	return r
}

// Carried returns where a place of the run, in mm from its datum, lies in next, a changed state of the same run: the place
// goes with its slab, measured from the face that looks the same way, in proportion when the thickness was corrected. A
// slab that was split, and one put together again, keeps its tissue where it is. ok is false when nothing of the place is
// left.
func (r Run) Carried(next Run, mm float64) (at float64, ok bool) {
	i := r.slabAt(mm)
	if i < 0 || len(next.Slabs) == 0 {
		return mm, false
	}
	s := r.Slabs[i]
	from := r.start(i)
	k := slices.IndexFunc(next.Slabs, func(x Slab) bool { return x.Number == s.Number })
	if k < 0 { // taken out, or the second half of a slab now whole again
		if i > 0 {
			if w := slices.IndexFunc(next.Slabs, func(x Slab) bool { return x.Number == r.Slabs[i-1].Number }); w >= 0 &&
				alike(next.Slabs[w].Mean(), r.Slabs[i-1].Mean()+r.Slabs[i-1].Kerf+s.Mean()) {
				return next.start(w) + mm - r.start(i-1), true
			}
		}
		return mm, false
	}
	off, was, is := mm-from, s.Mean(), next.Slabs[k].Mean()
	if k+1 < len(next.Slabs) && !r.has(next.Slabs[k+1].Number) && alike(was, is+next.Slabs[k].Kerf+next.Slabs[k+1].Mean()) {
		return next.start(k) + off, true // it was split
	}
	if i+1 < len(r.Slabs) && !next.has(r.Slabs[i+1].Number) && alike(is, was+s.Kerf+r.Slabs[i+1].Mean()) {
		return next.start(k) + off, true // it was put together again
	}
	beyond := math.Max(0, off-was) // in the kerf behind it, or beyond the run
	if off = math.Min(off, was); was > 0 && off > 0 {
		off *= is / was
	}
	if next.First != r.First {
		return next.start(k) + is - off - beyond, true
	}
	return next.start(k) + off + beyond, true
}

func alike(a, b float64) bool { return math.Abs(a-b) < 1e-6 }

func (r Run) has(number int) bool {
	return slices.ContainsFunc(r.Slabs, func(s Slab) bool { return s.Number == number })
}

// start is how far the first face of the slab at index i lies from the datum, mm.
func (r Run) start(i int) (mm float64) {
	for _, s := range r.Slabs[:i] {
		mm += s.Mean() + s.Kerf
	}
	return mm
}

// slabAt is the index of the slab at a place: a kerf counts with the slab before it, what lies beyond an end with the slab
// there. -1 without slabs.
func (r Run) slabAt(mm float64) int {
	at := -1
	for depth := range r.Places() {
		if at >= 0 && depth > mm+1e-9 {
			break
		}
		at++
	}
	return at
}
