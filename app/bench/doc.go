package bench

import (
	"context"
	"errors"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// faceDoc is one photographed face open in this sitting: its history, its picture and how it is looked at.
type faceDoc struct {
	hist     *History[atlas.Plate]
	rev      int // on disk
	picture  *photo.Image
	glancing bool // its preview is being read
	unread   bool // the photograph cannot be read
	whole    bool // picture is the photograph itself, not its preview
	reading  *job // the photograph is being read
	fitting  *job // the face is being fitted to the scan

	follower *annotate.Follower // of the photograph's edges, once it is wanted
	edging   bool               // being made
	looking  bool               // the picture is being checked
	edge     borderRoom         // of the border tool
	unshone  *unshone           // made of this picture and a second one, while it is looked at
	laying   bool               // a second picture is being laid on this one, or the result kept
	tags     proposedMask       // of an earlier picture
	sameWay  sameWay            // as another picture was laid
	untagged bool               // a person said that no tag lies here
	seeking  bool               // a ruler is being looked for
	sought   bool               // it was, unasked

	picks []register.Tie // landmarks in hand that do not hold

	view  Viewport
	moved bool // by a person: no longer fitted to the pane
	blind bool // a second reader is at work and sees no outline of the first

	dirty  bool
	since  time.Time // of the first step not on disk
	cancel func()    // of the autosave to come
	asked  bool      // the plate changed elsewhere and a person is being asked
	failed error     // why the last save failed
}

// openDoc opens the document of the chosen face, nil when it has no photograph.
func (b *Bench) openDoc() {
	old := b.doc
	defer func() {
		if old != nil && old != b.doc && old.reading != nil {
			old.reading.leave() // whoever walks along the run must not wait for faces left behind
		}
	}()
	if old != nil {
		b.blind(false)
		b.draw.compared = nil
	}
	b.doc = nil
	x, there := b.rule.facts[b.rule.face]
	if !there {
		return
	}
	d := b.docs[x.plate]
	if d == nil || d.plate().Face != b.rule.face {
		p, err := b.lab.lib.Plate(x.plate)
		if err != nil {
			b.Report(err)
			return
		}
		d = &faceDoc{hist: NewHistory(p), rev: p.Rev}
		b.docs[p.ID] = d
	}
	b.doc = d
	b.rule.facts[b.rule.face] = factOf(d.hist.Now())
	b.wantPicture(d)
	if d.whole {
		b.pictureCame(d) // read ahead, or held since one was here
	}
	b.wantAhead()
	b.wantVolume()
}

// reopen follows photographs that were laid elsewhere: documents whose place on disk differs are read again.
func (b *Bench) reopen() {
	for id, d := range b.docs {
		if d.dirty {
			continue
		}
		if p, err := b.lab.lib.Plate(id); err == nil && p.Face != d.plate().Face {
			delete(b.docs, id)
		} else if err == nil {
			d.rev = p.Rev
		}
	}
	b.openDoc()
}

// wantPicture reads the preview and the photograph of d, as two jobs so that something is on the bench at once.
func (b *Bench) wantPicture(d *faceDoc) {
	b.found(d)
	if d.whole || d.reading != nil {
		return
	}
	lib, id := b.lab.lib, d.plate().ID
	if d.picture == nil && !d.glancing {
		d.glancing = true
		b.startQuietly(Word("job.photo"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
			m, err := lib.Preview(ctx, id)
			var small *photo.Image
			if err == nil { // else the photograph itself will say what is wrong
				small = photo.NewImage(m)
			}
			return func() {
				d.glancing = false
				if small != nil && d.picture == nil {
					d.picture = small
					b.pictureCame(d)
				}
			}, nil
		})
	}
	if b.decodes >= mostDecodes {
		return // what was left comes to its end first
	}
	b.decodes++
	d.reading = b.start(Word("job.photo"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		m, err := lib.Photo(ctx, id)
		return func() {
			d.reading, d.unread = nil, err != nil && !errors.Is(err, context.Canceled)
			b.decodes--
			if err == nil && b.docs[id] == d {
				d.picture, d.whole = m, true
				b.forgetPictures()
			} else if errors.Is(err, context.Canceled) && b.doc == d {
				b.wantPicture(d) // left and come back to
			}
			b.pictureCame(d)
			b.wantWhole()
		}, err
	})
}

// mostDecodes is how many photographs are decoded at a time, those left by who walks fast included.
const mostDecodes = 2

// wantWhole begins to read the photograph on the bench when others were in its way.
func (b *Bench) wantWhole() {
	if d := b.doc; d != nil && !d.whole && d.reading == nil && !d.unread {
		b.wantPicture(d)
	}
}

func (b *Bench) pictureCame(d *faceDoc) {
	if b.doc == d {
		b.wantFollower()
		b.wantCheck(d)
		b.wantRuler()
		b.wantBorder()
		b.changed(ViewChanged)
		b.wantAhead()
	}
}

// Plate is the chosen face as it stands, drafts left out.
func (b *Bench) Plate() (p atlas.Plate, ok bool) {
	if b.doc == nil {
		return atlas.Plate{}, false
	}
	return b.doc.plate(), true
}

// edit makes one undo step of a change to the chosen face. Steps in a row with the same merge key are one.
func (b *Bench) edit(name, merge string, change func(atlas.Plate) (atlas.Plate, error)) error {
	if err := b.writable(); err != nil {
		return err
	}
	if b.doc == nil {
		return ErrNoPhoto
	}
	next, err := change(b.doc.plate())
	if err != nil {
		return err
	}
	next = b.doc.plate().Edited(next)
	b.doc.hist.Do(name, merge, b.doc.full(noted(b.doc.plate(), next, b.stamp())))
	b.stepped()
	return nil
}

// stepped follows any step of the chosen face, undo and redo included.
func (b *Bench) stepped() {
	d := b.doc
	b.rule.facts[d.plate().Face] = factOf(d.hist.Now())
	b.relaidOf(d.plate())
	b.wantUnlike()
	if _, there := d.plate().Labels.Find(b.draw.chosen); !there {
		b.draw.chosen, b.draw.point = "", noPoint
	}
	b.recompare()
	b.touch(d)
	b.changed(PlateChanged | RunChanged | SelectionChanged | ScanChanged | SavedChanged | PreviewChanged)
}

// onRuler reports whether what is done now is done to the run.
func (b *Bench) onRuler() bool { return b.screen == RunScreen || b.screen == ReceivingScreen }

// Undo takes back the last step of the run (on the ruler) or of the face. Of an outline half drawn it takes back the
// last point.
func (b *Bench) Undo() {
	if b.screen == AgainScreen {
		b.backAgain()
		return
	}
	if x := b.undoAgain(); x != nil && !b.draw.drawing() && len(b.draw.outline) == 0 {
		b.takeBackAgain(x)
		return
	}
	b.move(true, (*History[laid]).Undo, (*History[atlas.Plate]).Undo)
}

// Redo does it again.
func (b *Bench) Redo() {
	if x := b.redoAgain(); x != nil {
		b.doAgain(x)
		return
	}
	b.move(false, (*History[laid]).Redo, (*History[atlas.Plate]).Redo)
}

func (b *Bench) move(back bool, run func(*History[laid]) bool, plate func(*History[atlas.Plate]) bool) {
	switch {
	case len(b.draw.outline) > 0:
		b.RemoveChosen() // the last point drawn
	case b.draw.drawing():
		b.dropDrafts()
		b.changed(SelectionChanged)
	case b.onRuler() && b.rule.hist != nil:
		b.hint("", false)
		b.stepRun(func() bool { return run(b.rule.hist) })
	case back && b.undoesBatch():
		b.TakeBackScale()
	case (b.screen == FaceScreen || b.screen == PairingScreen) && b.doc != nil && b.writable() == nil && plate(b.doc.hist):
		b.doc.picks = nil
		b.stepped()
	}
}

// UndoName names the step Undo would take back, "" when there is none.
func (b *Bench) UndoName() string {
	switch {
	case len(b.draw.outline) > 0:
		return Word("undo.point")
	case b.draw.drawing():
		return Word("undo.draft")
	case b.undoesBatch():
		return count("step.batch", len(b.stand.batch.last.given))
	case b.screen == AgainScreen:
		return when(b.again.laying && len(b.again.ties) > 0 || b.again.half.old != nil || b.again.half.now != nil, "undo.againtie")
	case b.undoAgain() != nil:
		return Word("step.again")
	}
	return b.stepName((*History[laid]).UndoName, (*History[atlas.Plate]).UndoName)
}

// RedoName names the step Redo would do again, "" when there is none.
func (b *Bench) RedoName() string {
	if b.redoAgain() != nil {
		return Word("step.again")
	}
	return b.stepName((*History[laid]).RedoName, (*History[atlas.Plate]).RedoName)
}

func (b *Bench) stepName(run func(*History[laid]) string, plate func(*History[atlas.Plate]) string) string {
	switch {
	case b.onRuler() && b.rule.hist != nil:
		return run(b.rule.hist)
	case (b.screen == FaceScreen || b.screen == PairingScreen) && b.doc != nil:
		return plate(b.doc.hist)
	}
	return ""
}

// The pauses of the autosave: after the last step, and at most after the first one not on disk.
const (
	savePause = 2 * time.Second
	saveLimit = 4 * time.Second
)

// touch notes that d differs from disk and sets the autosave.
func (b *Bench) touch(d *faceDoc) {
	now := b.o.Now()
	if !d.dirty {
		d.dirty, d.since = true, now
	}
	if d.cancel != nil {
		d.cancel()
	}
	wait := min(savePause, d.since.Add(saveLimit).Sub(now))
	d.cancel = b.run.After(max(wait, 0), func() { d.cancel = nil; b.save(d) })
}

// save writes d when it differs from disk. Saving clears no undo.
func (b *Bench) save(d *faceDoc) error {
	if d.cancel != nil {
		d.cancel()
		d.cancel = nil
	}
	if !d.dirty || d.asked {
		return d.failed
	}
	p := d.hist.Now()
	p.Rev = d.rev
	kept, err := b.lab.lib.Save(p)
	if d.failed = err; err == nil {
		d.rev, d.dirty = kept.Rev, false
		if f := b.rule.facts[p.Face]; f.plate == p.ID {
			f.rev = kept.Rev
			b.rule.facts[p.Face] = f
		}
	} else if errors.Is(err, atlas.ErrChanged) {
		b.askChanged(d)
	} else {
		b.Report(err)
	}
	b.changed(SavedChanged)
	return err
}

// askChanged keeps the person's value and asks which one shall stand.
func (b *Bench) askChanged(d *faceDoc) {
	d.asked = true
	id := d.plate().ID
	settle := func(use func(disk atlas.Plate)) func() {
		return func() {
			d.asked = false
			disk, err := b.lab.lib.Plate(id)
			if err != nil {
				b.Report(err)
				return
			}
			d.rev = disk.Rev
			use(disk)
			b.changed(PlateChanged | SavedChanged | SelectionChanged | RunChanged)
		}
	}
	m := Explain(atlas.ErrChanged)
	m.Choices = []Choice{
		{Word("changed.mine"), settle(func(atlas.Plate) { b.save(d) })},
		{Word("changed.theirs"), settle(func(disk atlas.Plate) {
			d.hist.Do(Word("step.theirs"), "", disk)
			d.dirty, d.failed = false, nil
			if b.rule.facts[disk.Face].plate == id {
				b.rule.facts[disk.Face] = factOf(disk)
			}
		})},
		{Word("changed.later"), nil},
	}
	b.say(m)
}

// saveNow saves the chosen face.
func (b *Bench) saveNow() {
	if b.doc != nil {
		b.doc.hist.Seal()
		_ = b.save(b.doc) // said by save itself
	}
}

// saveAll saves every document of the sitting.
func (b *Bench) saveAll() error {
	var all []error
	for _, d := range b.docs {
		if d.dirty {
			d.asked = false
			if err := b.save(d); err != nil {
				all = append(all, err)
			}
		}
	}
	return errors.Join(all...)
}

// Saved tells whether all is on disk.
func (b *Bench) Saved() SavedState {
	var s SavedState
	for _, d := range b.docs {
		s.Unsafe = s.Unsafe || d.dirty
		s.Failed = s.Failed || d.failed != nil
	}
	switch {
	case b.lab.lib == nil:
	case b.readOnly():
		s.Words = Word("saved.readonly")
	case s.Failed:
		s.Words = Word("saved.failed")
	case s.Unsafe:
		s.Words = Word("saved.soon")
	default:
		s.Words = Word("saved.yes")
	}
	return s
}

// nameable fails while nothing may be named on the face: no photograph, sides not known.
func (b *Bench) nameable() error {
	switch {
	case b.doc == nil:
		return ErrNoPhoto
	case !lettersKnown(b.doc.plate()):
		return ErrNoLetters
	}
	return nil
}

// honestFacing is the way the face looks and what is at the top, both unknown while letters may not be shown.
func honestFacing(p atlas.Plate) (facing, up section.Facing) {
	if !lettersKnown(p) {
		return section.UnknownFacing, section.UnknownFacing
	}
	return p.Face.Facing, p.PhotoUp
}
