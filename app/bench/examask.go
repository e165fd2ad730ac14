package bench

import (
	"context"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/atlas/quiz"
	"sectionary/slices/section"
)

// Askable lists every label of the lab, those of the chosen run first: whether it can be asked, and why not.
func (b *Bench) Askable() []AskRow {
	e := &b.exam
	on := map[string]bool{}
	for _, s := range e.x.Stations {
		for _, a := range s.Asks {
			on[labelKey(a.Plate, a.Label)] = true
		}
	}
	var out []AskRow
	seen := map[string]bool{}
	for _, c := range e.pool {
		id := labelKey(c.Picture.Plate, c.Label)
		if seen[id] {
			continue
		}
		seen[id] = true
		out = append(out, AskRow{ID: id, Name: c.Name(), Where: b.whereFace(c.Face), Kind: string(c.System()), Region: c.Term.Region, Ready: true, On: on[id]})
	}
	for _, x := range e.left {
		id := labelKey(x.Plate, x.Label)
		if !seen[id] {
			seen[id] = true
			out = append(out, AskRow{ID: id, Name: x.Name, Where: b.whereFace(e.faces[x.Plate]), Why: b.whereFace(e.faces[x.Plate]) + ": " + x.Reason})
		}
	}
	mine := b.Run().ID
	slices.SortStableFunc(out, func(a, z AskRow) int {
		rank := func(r AskRow) (n int) {
			if plate, _ := splitKey(r.ID); e.faces[plate].Run != mine {
				n = 2
			}
			if !r.Ready {
				n++
			}
			return n
		}
		return rank(a) - rank(z)
	})
	return out
}

func labelKey(plate, label string) string { return plate + " " + label }

func splitKey(id string) (plate, label string) {
	plate, label, _ = strings.Cut(id, " ")
	return plate, label
}

// whereFace names a face; one of another run says which.
func (b *Bench) whereFace(f section.Face) string {
	if f.Run == b.Run().ID || f.Run == "" {
		return b.FaceName(f)
	}
	for _, r := range b.lab.runs {
		if r.ID == f.Run {
			return r.PartWords() + ", " + r.Name(f)
		}
	}
	return b.FaceName(f)
}

// Ask takes labels into the exam, each as a station of its own at the end, and others out of it.
func (b *Bench) Ask(in, out []string) {
	gone := map[string]bool{}
	for _, id := range out {
		gone[id] = true
	}
	if len(gone) > 0 {
		b.changeExam(func(x *quiz.Spotter) {
			for i := range x.Stations {
				x.Stations[i].Asks = slices.DeleteFunc(slices.Clone(x.Stations[i].Asks), func(a quiz.Ask) bool { return gone[labelKey(a.Plate, a.Label)] })
			}
			x.Stations = slices.DeleteFunc(x.Stations, func(s quiz.Station) bool { return len(s.Asks) == 0 })
		})
	}
	var labels []quiz.LabelRef
	for _, id := range in {
		plate, label := splitKey(id)
		labels = append(labels, quiz.LabelRef{Plate: plate, Label: label})
	}
	if len(labels) > 0 {
		b.draft(quiz.Plan{Labels: labels}, nil)
	}
}

// draft makes stations of a plan, as a job, and hands them to take; without take they come at the end of the exam.
func (b *Bench) draft(p quiz.Plan, take func([]quiz.Station)) {
	board, ok := b.board()
	if !ok {
		return
	}
	e := &b.exam
	p.Seed, p.Title, p.Paper, p.Seconds = max(e.x.Seed, 1), e.x.Title, e.x.Paper, int(b.StationTime().Seconds())
	b.start(Word("job.draft"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		x, _, err := board.Draft(ctx, p)
		if err != nil {
			if s := quiz.Sentence(err); s != "" {
				return func() { b.say(Message{Title: Word("exam.nodraft"), Hint: s}) }, nil
			}
			return nil, err
		}
		return func() {
			if take != nil {
				take(x.Stations)
				return
			}
			b.addStations(x.Stations)
		}, nil
	})
}

// addStations puts stations at the end of the exam; a label asked already is not asked twice by it.
func (b *Bench) addStations(more []quiz.Station) {
	b.changeExam(func(x *quiz.Spotter) {
		asked := map[string]bool{}
		codes := map[string]bool{}
		for _, s := range x.Stations {
			codes[s.Code] = true
			for _, a := range s.Asks {
				asked[labelKey(a.Plate, a.Label)] = true
			}
		}
		for _, s := range more {
			if len(s.Asks) == 0 || asked[labelKey(s.Asks[0].Plate, s.Asks[0].Label)] {
				continue
			}
			for codes[s.Code] {
				s.Code = atlas.RandomCode(6)
			}
			codes[s.Code] = true
			x.Stations = append(x.Stations, s)
		}
	})
}

// GoToLabel goes to a label on the bench, so that what it lacks can be put right there.
func (b *Bench) GoToLabel(id string) {
	plate, label := splitKey(id)
	f, ok := b.exam.faces[plate]
	if !ok || b.Role() == Student {
		return
	}
	if f.Run != b.Run().ID {
		b.ChooseRun(f.Run)
	}
	b.ChooseFace(f)
	b.enter(FaceScreen)
	b.ChooseLabel(label)
	b.hint(Word("exam.putright"), false)
}

// termOf is the structure of a marked place.
func (e *examRoom) termOf(a quiz.Ask) (t annotate.Term, name string) {
	for _, c := range e.pool {
		if c.Picture.Plate == a.Plate && c.Label == a.Label {
			return c.Term, c.Name()
		}
	}
	for _, x := range e.left {
		if x.Plate == a.Plate && x.Label == a.Label {
			return t, x.Name
		}
	}
	return t, Word("exam.labelgone")
}
