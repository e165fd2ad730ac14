package bench

import (
	"math"
	"slices"

	"sectionary/slices/section"
)

// ClosureInfo tells whether thickness and kerf add up to the length, and what may be done about it.
type ClosureInfo struct {
	Words string
	By    float64 // mm that slabs and kerfs leave of the length; below 0 they are too long
	Bad   bool    // beyond the limit

	// Suspect names the slab whose thickness is most likely mistyped, "" for none; Slab is its number and Measure which of its
	// measures, from 0.
	Suspect       string
	Slab, Measure int

	Kerf float64 // mm that every cut would need for the run to close, 0 when none can be offered
}

// mostKerf is the widest kerf that is offered to close a run, mm: common practice, no source.
const mostKerf = 6.0

// Closure tells how the run closes.
func (b *Bench) Closure() (c ClosureInfo) {
	r := b.Run()
	if r.ID == "" {
		return c
	}
	if r.Length == 0 {
		c.Words = Word("closure.none", r.Extent())
		return c
	}
	by, limit, worst := r.Closure()
	c.By = by
	if k := r.ClosingKerf(); k > 0 && k <= mostKerf && math.Abs(by) > limit {
		c.Kerf = k
	}
	left := r.ToMeasure()
	switch {
	case left == len(r.Slabs):
		c.Words = Word("closure.planned", by)
		return c
	case math.Abs(by) <= limit:
		c.Words = Word("closure.good", by, limit)
	case by < 0:
		c.Words, c.Bad = Word("closure.long", -by, limit), true
	default:
		c.Words, c.Bad = Word("closure.short", by, limit), true
	}
	if left > 0 {
		c.Words += " " + count("closure.unmeasured", left)
	}
	if worst == 0 {
		return c
	}
	s := r.Suspects()[0]
	c.Slab, c.Measure, c.Suspect = s.Slab, s.Measure, Word("closure.suspect", s.Slab, s.Written)
	if s.Likely != 0 {
		c.Suspect = Word("closure.slip", s.Slab, s.Written, s.Likely)
	}
	return c
}

// ChooseSuspect goes to the slab that Closure names.
func (b *Bench) ChooseSuspect() {
	if c := b.Closure(); c.Slab != 0 {
		r := b.Run()
		b.ChooseFace(section.Face{Run: r.ID, Slab: c.Slab, Facing: r.First})
	}
}

// CloseByKerf makes every cut as wide as the run needs to fill its length, in one step that can be taken back.
func (b *Bench) CloseByKerf() error {
	k := b.Closure().Kerf
	if k == 0 {
		return nil
	}
	return b.editRun(Word("step.kerf", k), func(r *section.Run) error {
		r.Slabs = slices.Clone(r.Slabs)
		for i := range r.Slabs[:len(r.Slabs)-1] {
			r.Slabs[i].Kerf = k
		}
		return nil
	})
}
