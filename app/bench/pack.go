package bench

import (
	"context"
	"errors"
	"path/filepath"
	"slices"
	"strings"

	"sectionary/atlas"
	"sectionary/atlas/drill"
	"sectionary/atlas/quiz"
	"sectionary/slices/section"
)

// packRoom is the study pack being prepared and what was made last.
type packRoom struct {
	draft PackDraft
	done  string
}

// openPack begins a pack with the faces of the run that have names.
func (b *Bench) openPack() {
	b.saveNow()
	p := &b.pack
	if p.draft.Faces == nil {
		p.draft = PackDraft{Cuts: true, SignedOnly: true, Asks: b.PackAsks()}
		for _, f := range b.Run().Faces() {
			if b.Info(f).Labels > 0 {
				p.draft.Faces = append(p.draft.Faces, f)
			}
		}
	}
}

// Pack is the study pack being prepared.
func (b *Bench) Pack() PackDraft {
	d := b.pack.draft
	d.Faces, d.Asks = slices.Clone(d.Faces), slices.Clone(d.Asks)
	return d
}

// SetPack replaces it. Faces stand in the order of the run, each once.
func (b *Bench) SetPack(d PackDraft) {
	want := d.Faces
	d.Faces = []section.Face{}
	for _, f := range b.Run().Faces() {
		if slices.Contains(want, f) {
			d.Faces = append(d.Faces, f)
		}
	}
	b.pack.draft, b.pack.done = d, ""
	b.changed(ExamChanged)
}

// TogglePackFace takes a face into the pack or out of it, and shows it.
func (b *Bench) TogglePackFace(f section.Face) {
	d := b.Pack()
	if i := slices.Index(d.Faces, f); i >= 0 {
		d.Faces = slices.Delete(d.Faces, i, i+1)
	} else {
		d.Faces = append(d.Faces, f)
	}
	b.ChooseFace(f)
	b.SetPack(d)
}

// PackWords says what the pack will hold and until when it can be read.
func (b *Bench) PackWords() string {
	d := b.pack.draft
	labels, paired := 0, 0
	for _, f := range d.Faces {
		i := b.Info(f)
		labels += i.Labels
		if i.Paired {
			paired++
		}
	}
	words := count("pack.faces", len(d.Faces)) + ", " + count("pack.labels", labels) + "."
	if d.Cuts {
		words += " " + count("pack.cuts", paired)
	}
	if ends := b.Agreement().Ends; !ends.IsZero() {
		words += " " + Word("pack.until", ends.Format("2 January 2006"))
	}
	return words
}

// PackRefusal says why the pack may not be made, "" when nothing known speaks against it.
func (b *Bench) PackRefusal() string {
	var denied *atlas.Refusal
	err := b.Agreement().Permits(atlas.Teaching, b.o.Now())
	switch {
	case b.lab.lib == nil || b.Run().ID == "":
		return Word("show.norun")
	case b.readOnly():
		return Word("saved.readonly")
	case errors.As(err, &denied):
		return denied.Sentence
	case len(b.pack.draft.Asks) == 0:
		return Word("pack.noasks")
	case len(b.pack.draft.Faces) == 0:
		return Word("refuse.nofaces")
	}
	for _, f := range b.pack.draft.Faces {
		x, there := b.rule.facts[f]
		switch {
		case !there:
			return Word("refuse.nophoto", upperFirst(b.FaceName(f)))
		case !x.letters:
			return Word("refuse.noletters", upperFirst(b.FaceName(f)))
		}
	}
	return ""
}

// PackDone tells of the pack made last, "" when none.
func (b *Bench) PackDone() string { return b.pack.done }

// PackAsks lists the kinds of question, in order.
func (b *Bench) PackAsks() (out []string) {
	for _, a := range drill.Asks {
		out = append(out, string(a))
	}
	return out
}

// packRequest is the draft as the hand-out desk takes it.
func (b *Bench) packRequest() quiz.PackRequest {
	d := b.pack.draft
	q := quiz.PackRequest{Purpose: atlas.Teaching, Title: d.Title, Unsigned: !d.SignedOnly, NoCuts: !d.Cuts, NoTags: d.NoTags, Plates: b.platesOf(d.Faces)}
	for _, a := range d.Asks {
		q.Asks = append(q.Asks, drill.Ask(a))
	}
	return q
}

// MakePack writes the pack into dir, as a job.
func (b *Bench) MakePack(dir string) {
	b.saveNow()
	lib, ok := b.lab.lib.(*atlas.Library)
	if !b.mayLeave(b.PackRefusal(), ok) || !b.hasFolder(dir) {
		return
	}
	q, terms := b.packRequest(), b.terms
	b.leave(Word("job.pack"), func(ctx context.Context, tell func(done, total int)) (quiz.Slip, error) {
		return quiz.MakePack(ctx, lib, terms, q, dir, tell)
	}, func(s quiz.Slip) { b.packMade(dir, s) })
}

// packMade shows where the pack lies and what was left out of it.
func (b *Bench) packMade(dir string, slip quiz.Slip) {
	lines := []string{count("pack.made", slip.LeakScan.Files)}
	for _, f := range slip.Files {
		lines = append(lines, filepath.Join(dir, f.Name))
	}
	if n := len(slip.LeftOut); n > 0 {
		lines = append(lines, count("pack.leftout", n, slip.LeftOut[0].Name, slip.LeftOut[0].Reason))
	}
	b.pack.done = strings.Join(append(lines, slip.Notes...), "\n")
	b.say(Message{Title: Word("pack.done"), Hint: strings.Join(lines, "\n")})
	b.changed(ExamChanged | LabChanged)
}
