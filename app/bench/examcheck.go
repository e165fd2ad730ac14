package bench

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"

	"sectionary/atlas"
	"sectionary/atlas/quiz"
)

// examine has the exam looked over, as a job; what was found for an older state of it is dropped.
func (b *Bench) examine() {
	board, ok := b.board()
	e := &b.exam
	of := examKey(e.x, e.reads)
	if !ok || e.findingOf == of || e.foundOf == of && !e.finding {
		return
	}
	e.finding, e.findingOf = true, of
	x := e.x
	b.start(Word("job.check"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		found, err := board.Check(ctx, x)
		return func() {
			if b.exam.findingOf != of {
				return
			}
			e := &b.exam
			e.finding, e.findingOf = false, ""
			if err == nil {
				e.found, e.foundOf = found, of
			}
			b.changed(ExamChanged)
		}, err
	})
}

// examKey tells states of an exam apart; reads counts how often the labels were read.
func examKey(x quiz.Spotter, reads int) string { return fmt.Sprintf("%d %+v", reads, x) }

// examNotes are what concerns the whole exam: marks, the share seen before, gaps of the blueprint, warnings.
func (b *Bench) examNotes() (notes, warnings []string) {
	e := &b.exam
	if len(e.x.Stations) == 0 || e.foundOf == "" {
		return nil, nil
	}
	notes = append(notes, Word("exam.marks", e.found.Marks))
	share := 0.0
	if e.found.Marks > 0 {
		share = 100 * e.found.SeenMarks / e.found.Marks
	}
	notes = append(notes, Word("exam.seenshare", share))
	return notes, slices.Concat(e.found.Warnings, e.found.Gaps)
}

// ExamRefusal says why the exam may not be handed out, "" when nothing known speaks against it.
func (b *Bench) ExamRefusal() string {
	e := &b.exam
	switch {
	case b.lab.lib == nil:
		return Word("show.norun")
	case b.readOnly():
		return Word("saved.readonly")
	}
	if why := b.examDenied(); why != "" {
		return why
	}
	if len(e.x.Stations) == 0 {
		return Word("exam.none")
	}
	if e.foundOf != examKey(e.x, e.reads) {
		return Word("exam.finding")
	}
	if stops := e.found.Stops(); len(stops) > 0 {
		words := Word("exam.stop", stops[0].Station, stops[0].Words)
		if n := len(stops) - 1; n > 0 {
			words += " " + count("exam.stops", n)
		}
		return words
	}
	unseen := 0
	for _, s := range e.x.Stations {
		if s.Look == nil {
			unseen++
		}
	}
	if unseen > 0 {
		return count("exam.notlooked", unseen)
	}
	return ""
}

// examDenied is the sentence of the first agreement, by the donors' codes, that does not permit an exam, of the donors in
// it; of an empty exam, of the run's donor.
func (b *Bench) examDenied() string {
	donors := map[string]bool{}
	for _, s := range b.exam.x.Stations {
		for _, r := range b.lab.runs {
			if r.ID == b.exam.faces[s.Picture.Plate].Run {
				donors[r.Donor] = true
			}
		}
	}
	if len(b.exam.x.Stations) == 0 {
		donors[b.Run().Donor] = true
	}
	for _, code := range slices.Sorted(maps.Keys(donors)) {
		var denied *atlas.Refusal
		if errors.As(b.lab.donors[code].Agreement.Permits(atlas.Exam, b.o.Now()), &denied) {
			return denied.Sentence
		}
	}
	return ""
}

// Blueprint is the table of what can be asked, is wanted and is in the exam.
func (b *Bench) Blueprint() []BlueprintRow {
	e := &b.exam
	have := e.have()
	out := make([]BlueprintRow, len(e.plan))
	for i, c := range e.plan {
		w := c.Want
		w.Count = 0
		picture := Word("exam.photograph")
		if c.Picture == quiz.ScanPicture {
			picture = Word("exam.scancut")
		}
		region := c.Region
		if region == "" {
			region = Word("exam.noregion")
		}
		out[i] = BlueprintRow{Region: region, System: string(c.System), Plane: Word("plane." + c.Plane.String()), Picture: picture,
			There: c.Can, Wanted: c.Count, Actual: have[w]}
	}
	return out
}

// have counts the marked places of the exam by kind.
func (e *examRoom) have() map[quiz.Want]int {
	out := map[quiz.Want]int{}
	for _, s := range e.x.Stations {
		for _, a := range s.Asks {
			for _, c := range e.pool {
				if c.Picture.Plate == a.Plate && c.Label == a.Label && c.Picture.Kind == s.Picture.Kind {
					out[quiz.Want{Region: c.Term.Region, System: c.System(), Plane: c.Plane, Picture: c.Picture.Kind}]++
					break
				}
			}
		}
	}
	return out
}

// BlueprintGaps names what is wanted beyond what is in the exam or can be asked at all.
func (b *Bench) BlueprintGaps() (out []string) {
	have := b.exam.have()
	for _, c := range b.exam.plan {
		w := c.Want
		w.Count = 0
		switch {
		case c.Count > c.Can:
			out = append(out, Word("blueprint.toofew", upperFirst(w.Words()), c.Count, c.Can))
		case c.Count > have[w] && len(b.exam.x.Stations) > 0:
			out = append(out, Word("blueprint.gap", upperFirst(w.Words()), c.Count, have[w]))
		}
	}
	return out
}

// WantBlueprint says how many of kind i are wanted.
func (b *Bench) WantBlueprint(i, n int) {
	if i >= 0 && i < len(b.exam.plan) {
		b.exam.plan[i].Count = min(max(n, 0), 200)
		b.changed(ExamChanged)
	}
}

// SpreadBlueprint wants n stations in all, spread over regions, systems, planes and kinds of picture: each time the kind
// of which there is least so far, as far as there are labels.
func (b *Bench) SpreadBlueprint(n int) {
	plan := b.exam.plan
	for i := range plan {
		plan[i].Count = 0
	}
	sum := map[string]int{} // of each region, system, plane and kind of picture
	parts := func(w quiz.Want) [4]string {
		return [4]string{"region " + w.Region, "system " + string(w.System), "plane " + w.Plane.String(), "picture " + string(w.Picture)}
	}
	for range min(max(n, 0), 200) {
		best, least := -1, 0
		for i, c := range plan {
			weight := 2 * c.Count
			for _, p := range parts(c.Want) {
				weight += sum[p]
			}
			if c.Count < c.Can && (best < 0 || weight < least) {
				best, least = i, weight
			}
		}
		if best < 0 {
			break // no labels left
		}
		plan[best].Count++
		for _, p := range parts(plan[best].Want) {
			sum[p]++
		}
	}
	b.changed(ExamChanged)
}

// FillBlueprint drafts what the blueprint still lacks and puts it at the end of the exam.
func (b *Bench) FillBlueprint() {
	have := b.exam.have()
	var lacks []quiz.Want
	for _, c := range b.exam.plan {
		w := c.Want
		w.Count = 0
		if n := c.Count - have[w]; n > 0 {
			w.Count = n
			lacks = append(lacks, w)
		}
	}
	whole := wants(b.exam.plan)
	if len(lacks) == 0 {
		b.say(Message{Title: Word("blueprint.full"), Hint: Word("blueprint.full.hint")})
		return
	}
	b.draft(quiz.Plan{Blueprint: lacks}, func(made []quiz.Station) {
		b.addStations(made)
		b.changeExam(func(x *quiz.Spotter) { x.Blueprint = whole })
	})
}
