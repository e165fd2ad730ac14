package bench

import (
	"fmt"
	"maps"
	"slices"

	"sectionary/slices/section"
)

// editRun makes one undo step of a change to the slabs.
func (b *Bench) editRun(name string, change func(r *section.Run) error) error {
	if err := b.writable(); err != nil {
		return err
	}
	if b.rule.hist == nil {
		return fmt.Errorf("%w: choose a run first", ErrForm)
	}
	next := b.rule.hist.Now()
	next.run.Slabs = slices.Clone(next.run.Slabs)
	if err := change(&next.run); err != nil {
		return err
	}
	if err := next.run.Check(); err != nil {
		return err
	}
	if _, err := b.lab.lib.SaveRun(next.run); err != nil {
		return err
	}
	b.rule.hist.Do(name, "", next)
	b.runMoved()
	return nil
}

// runMoved follows a change of slabs: lists, and a chosen face that is no longer there.
func (b *Bench) runMoved() {
	run := b.Run()
	for i := range b.lab.runs {
		if b.lab.runs[i].ID == run.ID {
			b.lab.runs[i] = run
		}
	}
	if _, _, err := run.Depth(b.rule.face); err != nil && b.rule.face != (section.Face{}) {
		b.ChooseFace(section.Face{})
	}
	b.changed(LabChanged | RunChanged | ScanChanged | PreviewChanged)
}

// stepRun takes the run to another of its values: slabs first when faces are to appear, last when they go.
func (b *Bench) stepRun(move func() bool) {
	before := b.rule.hist.Now()
	if b.writable() != nil || !move() {
		return
	}
	after := b.rule.hist.Now()
	b.saveNow()
	if err := b.layAs(before, after); err != nil {
		b.Report(err)
	}
	b.readFaces()
	b.reopen()
	b.runMoved()
}

// layAs brings the disk from one value to another.
func (b *Bench) layAs(before, after laid) error {
	lib := b.lab.lib
	for id, f := range before.faces {
		if after.faces[id] != f {
			if _, err := lib.Unplace(id); err != nil {
				return err
			}
		}
	}
	if _, err := lib.SaveRun(after.run); err != nil {
		return err
	}
	for id, f := range after.faces {
		if before.faces[id] != f {
			if _, err := lib.Place(id, f); err != nil {
				return err
			}
		}
	}
	return nil
}

// lay makes one undo step of laying photographs on faces, or (with a zero face) of taking them off.
func (b *Bench) lay(name string, on map[string]section.Face) error {
	if err := b.writable(); err != nil {
		return err
	}
	b.saveNow()
	before := b.rule.hist.Now()
	after := before
	after.faces = maps.Clone(before.faces)
	for id, f := range on {
		if f == (section.Face{}) {
			delete(after.faces, id)
		} else {
			after.faces[id] = f
		}
	}
	b.rule.hist.Do(name, "", after)
	err := b.layAs(before, after)
	b.readFaces() // what is on disk is the truth, whatever came in between
	b.reopen()
	b.changed(LabChanged | RunChanged | PlateChanged | ViewChanged | SelectionChanged)
	return err
}

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

// SetSlab writes the thicknesses (mm, 0 where not measured) and the kerf after slab number n.
func (b *Bench) SetSlab(n int, thickness [3]float64, kerf float64) error {
	return b.editRun(Word("step.slab", n), func(r *section.Run) error {
		i, err := indexOf(*r, n)
		if err == nil {
			r.Slabs[i].Thickness, r.Slabs[i].Kerf = thickness, kerf
		}
		return err
	})
}

// InsertSlab puts a slab with the run's usual thickness after slab number n, 0 for before the first. Every later face
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
		r.Slabs = slices.Insert(r.Slabs, at, section.Slab{Number: newNumber(*r), Thickness: [3]float64{t}, Kerf: k})
		return nil
	})
}

// SplitSlab cuts slab number n in two halves with the run's usual kerf between; the second half gets a new number.
// Its far face was the far face of the whole, so the slab must have no photograph there.
func (b *Bench) SplitSlab(n int) error {
	return b.editRun(Word("step.split", n), func(r *section.Run) error {
		i, err := indexOf(*r, n)
		if err != nil {
			return err
		}
		if x, there := b.rule.facts[section.Face{Run: r.ID, Slab: n, Facing: r.First.Opposite()}]; there {
			return fmt.Errorf("%w: take photograph %s off %s first", ErrOccupied, x.plate, section.Face{Slab: n, Facing: r.First.Opposite()}.Name())
		}
		_, k := usual(*r)
		whole := r.Slabs[i]
		if whole.Mean() <= k {
			return fmt.Errorf("%w: slab %d is thinner than the cut", ErrForm, n)
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
		return nil
	})
}

// RemoveSlab takes slab number n out of the run; refused while a face of it has a photograph.
func (b *Bench) RemoveSlab(n int) error {
	return b.editRun(Word("step.remove", n), func(r *section.Run) error {
		i, err := indexOf(*r, n)
		if err != nil {
			return err
		}
		for f := range b.rule.facts {
			if f.Slab == n {
				return fmt.Errorf("%w: %s", ErrOccupied, f.Name())
			}
		}
		r.Slabs = slices.Delete(r.Slabs, i, i+1)
		return nil
	})
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

// Closure tells whether thickness and kerf add up to the length, in words; bad when beyond the limit.
func (b *Bench) Closure() (words string, bad bool) {
	r := b.Run()
	if r.ID == "" {
		return "", false
	}
	if r.Length == 0 {
		return Word("closure.none", r.Extent()), false
	}
	by, limit, worst := r.Closure()
	if worst == 0 {
		return Word("closure.good", by, limit), false
	}
	i, _ := indexOf(r, worst)
	key := "closure.short"
	if by < 0 {
		key = "closure.long"
	}
	if by < 0 {
		by = -by
	}
	return Word(key, by, limit, worst, r.Slabs[i].Mean()), true
}
