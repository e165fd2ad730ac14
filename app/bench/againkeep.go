package bench

import (
	"bytes"
	"context"
	"errors"
	"strings"

	"sectionary/atlas"
	"sectionary/slices/section"
)

// AcceptAgain makes the new picture the face's own, as one step: the old one is kept as an earlier picture, and outlines, scale and landmarks
// come over. A picture from a file is taken into the lab first, as a job.
func (b *Bench) AcceptAgain() error {
	a := &b.again
	if err := b.writable(); err != nil {
		return err
	}
	if !a.laying || a.keep != nil {
		return nil
	}
	if a.fault != nil {
		return a.fault
	}
	if a.file == nil {
		return b.keepAgain(a.next)
	}
	lib, donor, name, file, next := b.lab.lib, a.old.Donor, a.name, a.file, a.next
	a.keep = b.start(Word("job.keeppicture"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		p, err := lib.TakePhoto(ctx, section.Face{}, donor, name, bytes.NewReader(file), nil)
		return func() {
			a := &b.again
			if a.keep = nil; err != nil || a.next.Photo.SHA256 != next.Photo.SHA256 {
				b.changed(LabChanged)
				return
			}
			p.Mirrored = a.next.Mirrored
			a.next, a.file = p, nil
			b.Report(b.keepAgain(p))
		}, err
	})
	b.changed(SelectionChanged)
	return nil
}

// keepAgain exchanges the pictures in the library and follows on the bench.
func (b *Bench) keepAgain(next atlas.Plate) error {
	a := &b.again
	by := b.stamp()
	s, err := a.old.Succeed(next, a.ties, by)
	if err != nil {
		return err
	}
	before := next
	kept, err := b.pictures().Keep(s)
	if errors.Is(err, atlas.ErrChanged) {
		b.readFaces()
	}
	if err != nil {
		return err
	}
	x := &pictureSwap{kept: kept, before: before, ties: a.ties, by: by}
	if x.doc = b.docs[kept.Old.ID]; x.doc != nil {
		x.stood = x.doc.hist.at
	}
	said := b.outcome(kept)
	exams := a.exams
	b.exchangedPictures(kept.Old.ID)
	x.at = b.rule.hist.at
	b.again = againRoom{last: x}
	b.enter(FaceScreen)
	m := Message{Title: Word("again.done", upperFirst(b.FaceName(kept.New.Face))), Hint: strings.Join(said, "\n")}
	if len(exams) > 0 {
		m.Hint += "\n" + Word("again.exams", someOf(exams))
	}
	b.say(m)
	return nil
}

// exchangedPictures follows a face that has another picture now; left is the plate that is no longer current.
func (b *Bench) exchangedPictures(left string) {
	delete(b.docs, left)
	b.readFaces()
	b.doc = nil
	b.draw.chosen = ""
	b.openDoc()
	b.changed(Everything)
}

// CancelAgain leaves everything as it was.
func (b *Bench) CancelAgain() {
	if b.screen == AgainScreen {
		b.dropAgain()
		b.enter(FaceScreen)
	}
}

func (b *Bench) dropAgain() {
	if b.again.seek != nil {
		b.again.seek.stop()
	}
	b.again = againRoom{last: b.again.last}
}

// leaveAgain leaves the new picture; ties that were made fall away only after asking.
func (b *Bench) leaveAgain() {
	if !b.again.laying || len(b.again.ties) == 0 {
		b.CancelAgain()
		return
	}
	b.say(Message{Title: Word("again.leave"), Hint: count("again.leave.hint", len(b.again.ties)), Choices: []Choice{
		{Word("again.leave.stay"), nil}, {Word("again.leave.leave"), b.CancelAgain}}})
}

// undoAgain is the exchange of pictures that Undo would take back now: the last thing done to this face and to the run.
func (b *Bench) undoAgain() *pictureSwap {
	x := b.again.last
	if x == nil || x.undone || b.writable() != nil || b.doc == nil || b.doc.plate().ID != x.kept.New.ID || b.doc.hist.at != 0 {
		return nil
	}
	return b.lastSwapHere(x)
}

// redoAgain is the exchange of pictures that Redo would do again.
func (b *Bench) redoAgain() *pictureSwap {
	x := b.again.last
	if x == nil || !x.undone || b.writable() != nil || b.doc == nil || b.doc.plate().ID != x.kept.Old.ID || b.doc.hist.at != x.stood {
		return nil
	}
	return b.lastSwapHere(x)
}

// lastSwapHere is x on the screens of the face, and on that of the run where nothing was done to the run since.
func (b *Bench) lastSwapHere(x *pictureSwap) *pictureSwap {
	switch b.screen {
	case FaceScreen, PairingScreen:
		return x
	case RunScreen:
		if b.rule.hist != nil && b.rule.hist.at == x.at {
			return x
		}
	}
	return nil
}

// takeBackAgain puts the earlier picture back in its place; the new one goes to the tray as it was.
func (b *Bench) takeBackAgain(x *pictureSwap) {
	b.saveNow()
	x.kept.New.Rev = b.doc.rev
	old, next, err := b.pictures().TakeBack(x.kept, x.before)
	if err != nil {
		b.Report(err)
		return
	}
	x.kept.Old, x.before, x.undone = old, next, true
	if x.doc != nil {
		x.doc.rev = old.Rev
		b.docs[old.ID] = x.doc
	}
	b.exchangedPictures(next.ID)
	x.at = b.rule.hist.at
	b.hint(Word("again.undone"), false)
}

// doAgain exchanges the pictures once more.
func (b *Bench) doAgain(x *pictureSwap) {
	b.saveNow()
	old := b.doc.plate()
	old.Rev = b.doc.rev
	s, err := old.Succeed(x.before, x.ties, x.by)
	if err == nil {
		s, err = b.pictures().Keep(s)
	}
	if err != nil {
		b.Report(err)
		return
	}
	x.kept, x.undone, x.doc = s, false, b.doc
	b.exchangedPictures(s.Old.ID)
	x.at = b.rule.hist.at
}
