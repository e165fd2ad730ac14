package bench

import (
	"fmt"
	"maps"
	"math"
	"reflect"
	"slices"

	"sectionary/slices/section"
)

// editRun makes one undo step of a change to the slabs that leaves every photograph on its face.
func (b *Bench) editRun(name string, change func(r *section.Run) error) error {
	return b.editLaid(name, func(v *laid) error { return change(&v.run) })
}

// editLaid makes one undo step of a change to the slabs and to what lies on their faces.
func (b *Bench) editLaid(name string, change func(v *laid) error) error {
	if err := b.writable(); err != nil {
		return err
	}
	if b.rule.hist == nil {
		return fmt.Errorf("%w: choose a run first", ErrForm)
	}
	before := b.rule.hist.Now()
	next := before
	next.run.Slabs, next.faces = slices.Clone(before.run.Slabs), maps.Clone(before.faces)
	if err := change(&next); err != nil {
		return err
	}
	if err := next.run.Check(); err != nil {
		return err
	}
	moves := !maps.Equal(before.faces, next.faces)
	if moves {
		if err := b.saveAll(); err != nil {
			return err
		}
	}
	if err := b.layAs(before, next); err != nil {
		return err
	}
	b.rule.hist.Do(name, "", next)
	if moves {
		b.readFaces()
		b.reopen()
	}
	b.runMoved()
	return nil
}

// runMoved follows a change of slabs: lists, tie levels, and a chosen face that is no longer there.
func (b *Bench) runMoved() {
	run := b.Run()
	for i := range b.lab.runs {
		if b.lab.runs[i].ID == run.ID {
			b.lab.runs[i] = run
		}
	}
	if b.pair.series != "" {
		if t, err := b.lab.lib.LevelTies(run.ID, b.pair.series); err == nil {
			b.setLevels(t)
			if len(t.Levels) > 0 && !b.pair.levels.Known() {
				b.hint(Word("level.crossed"), true)
			}
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
	if b.writable() != nil || b.saveAll() != nil || !move() {
		return
	}
	if err := b.layAs(before, b.rule.hist.Now()); err != nil {
		b.Report(err)
	}
	b.readFaces()
	b.reopen()
	b.runMoved()
}

// layAs brings the disk from one value to another. A photograph whose face only got another name, being the same surface at
// the same place, keeps how it lies in the scan.
func (b *Bench) layAs(before, after laid) error {
	if reflect.DeepEqual(before.run, after.run) {
		return b.relay(before.faces, after.faces)
	}
	lib := b.lab.lib
	same := map[string]bool{}
	for id, f := range before.faces {
		to, still := after.faces[id]
		if to == f {
			continue
		}
		same[id] = still && sameSurface(before.run, f, after.run, to)
	}
	kept := map[string]func() error{}
	for id, stays := range same {
		p, err := lib.Plate(id)
		if err != nil {
			return err
		}
		if _, err := lib.Unplace(id); err != nil {
			return err
		}
		if stays {
			kept[id] = func() error {
				now, err := lib.Plate(id)
				if err != nil {
					return err
				}
				now.Registration, now.Picks = p.Registration, p.Picks
				_, err = lib.Save(now)
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
	for _, keep := range kept {
		if err := keep(); err != nil {
			return err
		}
	}
	return nil
}

// relay brings photographs from one laying of the same slabs to another, as one step on the disk.
func (b *Bench) relay(before, after map[string]section.Face) error {
	on := map[string]section.Face{}
	for id, f := range before {
		if after[id] != f {
			on[id] = after[id] // the zero face is the tray
		}
	}
	for id, f := range after {
		if before[id] != f {
			on[id] = f
		}
	}
	return b.lab.lib.PlaceAll(on)
}

// sameSurface reports whether face f of one state of a run is face g of another: it looks the same way, and lies where the
// slab that was split, or put together again, has its end.
func sameSurface(was section.Run, f section.Face, is section.Run, g section.Face) bool {
	from, _, err1 := was.Depth(f)
	to, _, err2 := is.Depth(g)
	at, ok := was.Carried(is, from)
	return err1 == nil && err2 == nil && ok && f.Facing == g.Facing && math.Abs(at-to) < 1e-3
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
