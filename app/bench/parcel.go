package bench

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"sectionary/atlas"
	"sectionary/atlas/exchange"
	"sectionary/atlas/quiz"
)

// ParcelDraft is a whole run on its way to another lab.
type ParcelDraft struct {
	Purpose atlas.Purpose
	Zip     bool // one zip file rather than an open folder
	Scans   bool // the voxels of the scans go along
	Earlier bool // earlier pictures of the faces too
	NoTags  bool // a person's word that pictures without border and tag mask show no tag or writing
}

// ParcelRefusal says why the chosen run may not leave so, "" when nothing known speaks against it. The finished files are
// searched once more before they are released.
func (b *Bench) ParcelRefusal(d ParcelDraft) string {
	var denied *atlas.Refusal
	switch {
	case b.lab.lib == nil || b.Run().ID == "":
		return Word("show.norun")
	case b.readOnly():
		return Word("saved.readonly")
	case errors.As(b.Agreement().Permits(d.Purpose, b.o.Now()), &denied):
		return denied.Sentence
	}
	return ""
}

// SendRun writes the chosen run into dir for another lab, as a job.
func (b *Bench) SendRun(d ParcelDraft, dir string) {
	b.saveNow()
	lib, ok := b.lab.lib.(*atlas.Library)
	if !b.mayLeave(b.ParcelRefusal(d), ok) || !b.hasFolder(dir) {
		return
	}
	r := exchange.Request{Run: b.Run().ID, Purpose: d.Purpose, Zip: d.Zip, Scans: d.Scans, Earlier: d.Earlier, NoTags: d.NoTags}
	terms := b.terms
	b.leave(Word("job.send"), func(ctx context.Context, tell func(done, total int)) (quiz.Slip, error) {
		return exchange.Export(ctx, lib, terms, r, dir, tell)
	}, func(s quiz.Slip) {
		b.say(Message{Title: Word("parcel.sent"), Hint: strings.Join(append([]string{Word("parcel.sent.hint", s.Code, dir, s.LeakScan.Files)}, s.Notes...), "\n")})
		b.changed(LabChanged)
	})
}

// TakeRun takes a run of another lab, a folder or zip file, into a new lab in dir under a donor code of this lab's
// choosing, as a job, and opens that lab. "" takes the neutral code it came with.
func (b *Bench) TakeRun(path, dir, donor string) error {
	if err := b.ofLab(); err != nil {
		return err
	}
	if path == "" || dir == "" {
		return fmt.Errorf("%w: %s", ErrForm, Word("parcel.places"))
	}
	p, err := exchange.Open(path)
	if err != nil {
		return err
	}
	was, terms := b.lab.lib, b.shipped
	b.startFree(Word("job.takein"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		defer p.Close()
		taken, err := exchange.TakeIn(ctx, p, dir, donor, terms, tell)
		if err != nil {
			return nil, err
		}
		return func() {
			if b.lab.lib == was && b.Role() != Student { // else the person has gone elsewhere meanwhile
				b.Report(b.OpenLab(dir))
			}
			words := append([]string{Word("parcel.taken.hint", taken.Faces, taken.Series, taken.Donor)}, taken.Notes...)
			if n := len(taken.Unknown); n > 0 {
				words = append(words, count("parcel.unknown", n, taken.Unknown[0].Name))
			}
			b.say(Message{Title: Word("parcel.taken"), Hint: strings.Join(words, "\n")})
		}, nil
	})
	return nil
}
