package bench

import (
	"context"
	"fmt"
	"slices"

	"sectionary/atlas"
	"sectionary/slices/section"
)

func indexOf(r section.Run, n int) (int, error) {
	if i := slices.IndexFunc(r.Slabs, func(s section.Slab) bool { return s.Number == n }); i >= 0 {
		return i, nil
	}
	return 0, fmt.Errorf("%w: no slab %d", section.ErrNoSuchFace, n)
}

// usual is the thickness and kerf most slabs of the run have, mm.
func usual(r section.Run) (thickness, kerf float64) {
	if len(r.Slabs) == 0 {
		return 20, 1.2 // common practice, no source: a band saw and slabs that stand on their own
	}
	var ts, ks []float64
	for _, s := range r.Slabs {
		ts, ks = append(ts, s.Mean()), append(ks, s.Kerf)
	}
	slices.Sort(ts)
	slices.Sort(ks)
	return ts[len(ts)/2], ks[len(ks)/2]
}

// newNumber is the next number no slab of the run has: a slab keeps the number on its tag whatever comes beside it.
func newNumber(r section.Run) int {
	n := 0
	for _, s := range r.Slabs {
		n = max(n, s.Number)
	}
	return n + 1
}

// SetSlab writes the thicknesses (mm, 0 where not measured) and the kerf after slab number n. A measured slab is no ghost.
func (b *Bench) SetSlab(n int, thickness [3]float64, kerf float64) error {
	return b.editRun(Word("step.slab", n), func(r *section.Run) error {
		i, err := indexOf(*r, n)
		if err == nil {
			s := &r.Slabs[i]
			s.Thickness, s.Kerf = thickness, kerf
			s.Planned = false
		}
		return err
	})
}

// SetKerf writes the kerf after slab number n alone, mm.
func (b *Bench) SetKerf(n int, kerf float64) error {
	return b.editRun(Word("step.slab", n), func(r *section.Run) error {
		i, err := indexOf(*r, n)
		if err == nil {
			r.Slabs[i].Kerf = kerf
		}
		return err
	})
}

// InsertSlab lays a ghost slab of the run's usual thickness after slab number n, 0 for before the first. Every later face
// moves at once; no other slab changes its number.
func (b *Bench) InsertSlab(n int) error {
	return b.editRun(Word("step.insert"), func(r *section.Run) error {
		at := 0
		if n != 0 {
			i, err := indexOf(*r, n)
			if err != nil {
				return err
			}
			at = i + 1
		}
		t, k := usual(*r)
		r.Slabs = slices.Insert(r.Slabs, at, section.Slab{Number: newNumber(*r), Thickness: [3]float64{t}, Kerf: k, Planned: true})
		return nil
	})
}

// MoveSlab takes slab number n so many places along the run, stopping at its ends. What is known of the slab stays with it:
// its number, tag, photographs, names and records.
func (b *Bench) MoveSlab(n, by int) error {
	return b.editRun(Word("step.move", n), func(r *section.Run) (err error) {
		*r, err = r.Moved(n, by)
		return err
	})
}

// SplitSlab cuts slab number n in two halves with the run's usual kerf between. The half towards slab 1 keeps the number and
// the tag, the other gets a new one, and with it the photograph of the far face: that surface is the same as before.
func (b *Bench) SplitSlab(n int) error {
	return b.editLaid(Word("step.split", n), func(v *laid) error {
		r := &v.run
		i, err := indexOf(*r, n)
		if err != nil {
			return err
		}
		_, k := usual(*r)
		whole := r.Slabs[i]
		if whole.Mean() <= k {
			return fmt.Errorf("%w: %s", ErrForm, Word("slab.thin", n))
		}
		half := whole
		for j, t := range whole.Thickness {
			if t > 0 {
				half.Thickness[j] = (t - k) / 2
			}
		}
		second := half
		half.Kerf, second.Number = k, newNumber(*r)
		r.Slabs[i] = half
		r.Slabs = slices.Insert(r.Slabs, i+1, second)
		far := section.Face{Run: r.ID, Slab: n, Facing: r.First.Opposite()}
		for plate, f := range v.faces {
			if f == far {
				f.Slab = second.Number
				v.faces[plate] = f
			}
		}
		return nil
	})
}

// RemoveSlab takes slab number n out of the run; refused while a face of it has a photograph or a piece of it stands in the
// ledger.
func (b *Bench) RemoveSlab(n int) error {
	return b.editRun(Word("step.remove", n), func(r *section.Run) error {
		i, err := indexOf(*r, n)
		if err != nil {
			return err
		}
		for f := range b.rule.facts {
			if f.Slab == n {
				return fmt.Errorf("%w: %s", ErrOccupied, b.FaceName(f))
			}
		}
		if code := b.pieceOf(n); code != "" {
			return fmt.Errorf("%w: %s", ErrForm, Word("slab.tagged", n, code))
		}
		r.Slabs = slices.Delete(r.Slabs, i, i+1)
		return nil
	})
}

// pieceOf is the code of a piece that the ledger holds of slab number n (0: of any slab of the run), "" when there is none.
func (b *Bench) pieceOf(n int) string {
	books, ok := b.lab.lib.(interface {
		Custody(context.Context) (atlas.Custody, error)
	})
	if !ok {
		return ""
	}
	c, err := books.Custody(context.Background())
	if err != nil {
		b.Report(err)
		return ""
	}
	run := b.Run()
	for _, p := range c.Pieces(run.Donor) {
		if p.Run == run.ID && p.Slab != 0 && (n == 0 || p.Slab == n) {
			return p.Code
		}
	}
	return ""
}

// TurnRound says that slab 1 lies at the other end: the order of the slabs turns round, every slab keeps its number.
func (b *Bench) TurnRound() error {
	return b.editRun(Word("step.turn"), func(r *section.Run) error { *r = r.TurnedRound(); return nil })
}

// CountFromOtherEnd counts and measures the run from its other end; no slab moves. Numbers begin anew only while nothing bears
// them: with a photograph or a piece in the ledger every slab keeps its number, for it stands on its tag.
func (b *Bench) CountFromOtherEnd() error {
	keep := b.NumbersStand()
	err := b.editRun(Word("step.otherend"), func(r *section.Run) error {
		*r = r.FromOtherEnd()
		if !keep {
			*r = r.Renumbered()
		}
		return nil
	})
	if err == nil && keep {
		b.hint(Word("otherend.kept"), false)
	}
	return err
}

// NumbersStand reports whether something bears the numbers of the run's slabs, so that they may not change.
func (b *Bench) NumbersStand() bool { return len(b.rule.facts) > 0 || b.pieceOf(0) != "" }

// SetPiece says which limb the run is of, or which half of what was cut in the midline; both zero for neither.
func (b *Bench) SetPiece(l section.Limb, half section.Facing) error {
	return b.editRun(Word("step.piece"), func(r *section.Run) error { r.Limb, r.Half = l, half; return nil })
}

// Ghost reports whether a slab is only planned: it has no measure of its own and no photograph.
func (b *Bench) Ghost(s section.Slab) bool {
	if !s.Planned {
		return false
	}
	run := b.Run()
	for _, f := range run.Plane.Faces() {
		if _, there := b.rule.facts[section.Face{Run: run.ID, Slab: s.Number, Facing: f}]; there {
			return false
		}
	}
	return true
}

// FaceName says a face the way a lab does, in the words of its own run.
func (b *Bench) FaceName(f section.Face) string {
	if i := slices.IndexFunc(b.lab.runs, func(r section.Run) bool { return r.ID == f.Run }); i >= 0 && f.Run != b.Run().ID {
		return b.lab.runs[i].Name(f)
	}
	return b.Run().Name(f)
}

// SetLength writes the length before cutting in mm, 0 for not measured.
func (b *Bench) SetLength(mm float64) error {
	return b.editRun(Word("step.length"), func(r *section.Run) error {
		if !(mm >= 0 && mm < 1e5) {
			return fmt.Errorf("%w: a length of %g mm cannot be", ErrForm, mm)
		}
		r.Length = mm
		return nil
	})
}
