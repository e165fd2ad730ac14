package bench

import (
	"context"
	"errors"
	"fmt"
	"image"
	"slices"
	"strings"

	"sectionary/atlas"
	"sectionary/atlas/quiz"
	"sectionary/slices/section"
)

// Languages of names on a hand-out, as Draft.Languages holds them.
const (
	English = "English"
	Latin   = "Latin"
)

// outRoom is the hand-out being prepared and what was handed out last.
type outRoom struct {
	draft   Draft
	slip    *Slip
	page    *image.RGBA // the first page as it will be, nil until it is made
	pageOf  string      // what the page was made for
	making  string      // what a page is being made for
	problem string      // why there is no page
}

// openHandOut puts the chosen face on a slip that has none.
func (b *Bench) openHandOut() {
	if len(b.out.draft.Faces) == 0 && b.doc != nil {
		b.out.draft.Faces = []section.Face{b.Face()}
	}
	b.saveNow()
	b.wantPage()
}

// HandOut is the hand-out being prepared.
func (b *Bench) HandOut() Draft {
	d := b.out.draft
	d.Faces, d.Languages = slices.Clone(d.Faces), slices.Clone(d.Languages)
	return d
}

// SetHandOut replaces the draft. Faces stand in the order of the run, each once.
func (b *Bench) SetHandOut(d Draft) {
	want := map[section.Face]bool{}
	for _, f := range d.Faces {
		want[f] = true
	}
	d.Faces = nil
	for _, f := range b.Run().Faces() {
		if want[f] {
			d.Faces = append(d.Faces, f)
		}
	}
	d.Languages = slices.Clone(d.Languages)
	b.out.draft = d
	b.wantPage()
	b.changed(PreviewChanged)
}

// Refusal says why the draft may not leave, "" when nothing known speaks against it. The finished files are searched
// once more before they are released.
func (b *Bench) Refusal() string {
	d := b.out.draft
	agreement := b.lab.donors[b.Run().Donor].Agreement
	var denied *atlas.Refusal
	err := agreement.Permits(d.Purpose, b.o.Now())
	if err == nil && d.Kind == Exam { // an exam under another name is still an exam
		err = agreement.Permits(atlas.Exam, b.o.Now())
	}
	switch {
	case b.lab.lib == nil || b.Run().ID == "":
		return Word("show.norun")
	case b.readOnly():
		return Word("saved.readonly")
	case errors.As(err, &denied):
		return denied.Sentence
	case len(d.Faces) == 0:
		return Word("refuse.nofaces")
	case len(d.Languages) == 0 && d.Kind == Study:
		return Word("refuse.nolanguage")
	}
	for _, f := range d.Faces {
		x, there := b.rule.facts[f]
		switch {
		case !there:
			return Word("refuse.nophoto", upperFirst(b.FaceName(f)))
		case !x.letters:
			return Word("refuse.noletters", upperFirst(b.FaceName(f)))
		case x.labels == 0:
			return Word("refuse.nolabels", upperFirst(b.FaceName(f)))
		}
		if d := b.docs[x.plate]; d != nil && d.dirty {
			return Word("refuse.unsaved", upperFirst(b.FaceName(f)))
		}
	}
	return ""
}

// request is the draft as the hand-out desk takes it.
func (b *Bench) request() quiz.Request {
	d := b.out.draft
	q := quiz.Request{Purpose: d.Purpose, Kind: quiz.Study, Title: d.Title, Paper: quiz.Paper(d.Paper), View: d.View,
		NoTags: d.NoTags, SignedOnly: d.SignedOnly}
	if d.Kind == Exam {
		q.Kind = quiz.Exam
	}
	for _, l := range d.Languages {
		if l == Latin {
			q.Languages = append(q.Languages, quiz.Latin)
		} else {
			q.Languages = append(q.Languages, quiz.English)
		}
	}
	q.Plates = b.platesOf(d.Faces)
	return q
}

// Release writes the finished files into dir, as a job; LastSlip tells what came of it.
func (b *Bench) Release(dir string) {
	b.saveNow()
	lib, ok := b.lab.lib.(*atlas.Library)
	if !b.mayLeave(b.Refusal(), ok) || !b.hasFolder(dir) {
		return
	}
	q, terms := b.request(), b.terms
	b.leave(Word("job.release"), func(ctx context.Context, tell func(done, total int)) (quiz.Slip, error) {
		return quiz.HandOut(ctx, lib, terms, q, dir)
	}, func(s quiz.Slip) { b.released(dir, s) })
}

// mayLeave says why nothing leaves: a refusal in words, or no lab.
func (b *Bench) mayLeave(why string, lab bool) bool {
	if why != "" {
		b.say(Message{Title: Word("refused"), Hint: why})
	} else if !lab {
		b.Report(ErrNoLab)
	}
	return why == "" && lab
}

// hasFolder says that files need a folder to go to.
func (b *Bench) hasFolder(dir string) bool {
	if dir == "" {
		b.Report(fmt.Errorf("%w: %s", ErrForm, Word("release.dir")))
	}
	return dir != ""
}

// platesOf are the plates of faces that have a photograph, in the order of the faces.
func (b *Bench) platesOf(faces []section.Face) (plates []string) {
	for _, f := range faces {
		if x, there := b.rule.facts[f]; there {
			plates = append(plates, x.plate)
		}
	}
	return plates
}

// leave makes what leaves the lab, as a job. What was refused on the way is said; done gets only what was allowed.
func (b *Bench) leave(name string, work func(ctx context.Context, tell func(done, total int)) (quiz.Slip, error), done func(quiz.Slip)) {
	b.start(name, func(ctx context.Context, tell func(done, total int)) (func(), error) {
		slip, err := work(ctx, tell)
		if err != nil {
			return nil, err
		}
		return func() {
			if !slip.Allowed {
				b.say(Message{Title: Word("refused"), Hint: slip.Reason})
				return
			}
			done(slip)
		}, nil
	})
}

// slipOf is what was handed out into dir, in the bench's own words.
func slipOf(dir string, s quiz.Slip) *Slip {
	slip := &Slip{Code: s.Code, Dir: dir}
	for _, f := range s.Files {
		slip.Files = append(slip.Files, f.Name)
	}
	return slip
}

// released shows what was handed out.
func (b *Bench) released(dir string, s quiz.Slip) {
	slip := slipOf(dir, s)
	lines := []string{Word("released", len(s.Files), s.Code, s.LeakScan.Files)}
	for _, x := range s.LeftOut {
		lines = append(lines, Word("leftout", x.Name, x.Reason))
	}
	slip.Words = strings.Join(append(lines, s.Notes...), "\n")
	b.out.slip = slip
	b.changed(PreviewChanged | LabChanged)
}

// LastSlip is the last hand-out of this sitting, nil when none.
func (b *Bench) LastSlip() *Slip { return b.out.slip }

// wantPage makes the first page anew when the draft asks for another, as a job; a page that is no longer wanted when
// it comes is dropped.
func (b *Bench) wantPage() {
	q := b.request()
	key := fmt.Sprintf("%+v", q)
	for _, id := range q.Plates {
		if d := b.docs[id]; d != nil {
			key += fmt.Sprint(d.rev)
		}
	}
	lib, ok := b.lab.lib.(*atlas.Library)
	if b.screen != HandOutScreen || !ok || key == b.out.making || key == b.out.pageOf {
		return
	}
	b.out.making = key
	if len(q.Plates) == 0 {
		b.out.page, b.out.pageOf, b.out.problem = nil, key, ""
		return
	}
	q.Plates = q.Plates[:1]
	terms := b.terms
	b.start(Word("job.preview"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		page, _, err := quiz.Preview(ctx, lib, terms, q, previewHeight)
		return func() {
			if b.out.making != key {
				return
			}
			b.out.making, b.out.pageOf, b.out.page, b.out.problem = "", key, page, ""
			if err != nil && !errors.Is(err, context.Canceled) {
				if b.out.problem = quiz.Sentence(err); b.out.problem == "" {
					b.out.problem = Explain(err).Title
				}
			}
			b.changed(PreviewChanged)
		}, nil
	})
}

// previewHeight is how many pixels high a previewed page is made.
const previewHeight = 1600
