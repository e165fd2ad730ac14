package bench

import (
	"strings"
	"time"

	"sectionary/atlas/drill"
	"sectionary/slices/section"
)

// Drill tells what is asked now.
func (b *Bench) Drill() DrillInfo {
	s := &b.study
	d := &s.drill
	if !s.open() || d.sitting == nil {
		return DrillInfo{Nothing: true, Question: Word("drill.nopack")}
	}
	st := s.pack.Standing(s.progress)
	i := DrillInfo{Turn: d.turn, HasUnseen: st.Unseen > 0}
	if !d.asking {
		i.Nothing, i.Question, i.Lead = true, Word("drill.none"), Word("drill.standing", st.Due, st.Unseen)
		if st.Unseen == 0 {
			i.Question = Word("drill.none.all")
		}
		if !st.Next.IsZero() {
			i.Hint = Word("drill.nextday", st.Next.Format("2 January 2006"))
		}
		return i
	}
	i.Lead = Word("drill.left", d.sitting.Left(), st.Due, st.Unseen)
	if d.q.Again {
		i.Lead += " " + Word("drill.again")
	}
	f, _, _ := b.drillFace()
	i.Question = b.questionWords(f)
	i.Choices = b.drillChoices()
	switch d.q.Ask {
	case drill.AskPoint:
		i.Kind, i.Placed, i.Hint = DrillPoint, d.point != nil, Word("drill.point.how")
	case drill.AskOnRun:
		i.Kind, i.Placed, i.Hint, i.HasHint = DrillPlace, d.depth != nil, Word("drill.place.how"), true
		if d.depth != nil {
			i.Hint = Word("drill.placed", *d.depth)
		}
		for _, x := range d.hints {
			i.Hint += "\n" + Word("drill.hinted", s.pack.Words(x))
		}
	case drill.AskSide, drill.AskFace:
		i.Kind, i.Hint = DrillChoice, Word("drill.choice.how")
	}
	if d.reveal != nil {
		b.tellReveal(&i)
	}
	return i
}

// questionWords says what is asked.
func (b *Bench) questionWords(f drill.Face) string {
	q := b.study.drill.q
	switch q.Ask {
	case drill.AskName:
		return Word("drill.ask.name")
	case drill.AskPoint:
		return Word("drill.ask.point", q.Structure)
	case drill.AskSide:
		return Word("drill.ask.side")
	case drill.AskFace:
		return Word("drill.ask.face")
	case drill.AskLevel:
		return Word("drill.ask.level")
	case drill.AskOnRun:
		return Word("drill.ask.run")
	}
	if q.Marked {
		return Word("drill.ask.below", towards(f.Facing))
	}
	return Word("drill.ask.comes", towards(f.Facing))
}

// towards says which way the next slab lies of a face that is seen: one slab on along the run.
func towards(f section.Facing) string { return Word("drill.towards." + f.Plane().String()) }

// tellReveal adds what is shown after the answer.
func (b *Bench) tellReveal(i *DrillInfo) {
	d := &b.study.drill
	r := d.reveal
	i.Answered, i.Right, i.Hint = true, r.Right, ""
	answer := r.Answer
	if d.q.Ask == drill.AskPoint {
		answer = d.q.Structure
	}
	switch {
	case r.Right && r.Score < 1:
		i.Result = Word("drill.partly", answer)
	case r.Right:
		i.Result = Word("drill.right", answer)
	case d.skipped:
		i.Result = Word("drill.is", answer)
	default:
		i.Result = Word("drill.wrong", answer)
	}
	var lines []string
	if d.given != "" && d.given != r.Answer {
		lines = append(lines, Word("drill.given", d.given))
	}
	if r.Reason != "" {
		lines = append(lines, upperFirst(r.Reason)+".")
	}
	if p := r.Placing; p != nil {
		words := Word("drill.off", abs(p.MM), map[bool]string{true: Word("drill.toofar"), false: Word("drill.toonear")}[p.MM > 0])
		if p.HasSteps {
			words += " " + Word("drill.steps", abs(p.Steps))
		}
		lines = append(lines, words)
	}
	lines = append(lines, Word("drill.lies", b.study.pack.NameOf(r.Face), r.Face.Depth))
	if r.Right || d.q.Again {
		lines = append(lines, Word("drill.comes", b.dueWords(r.Due)))
	} else {
		lines = append(lines, Word("drill.soon", b.dueWords(r.Due)))
	}
	i.Reveal = strings.Join(lines, "\n")
	if d.q.Ask == drill.AskOnRun {
		i.Spread = b.spreadWords(d.q.Face)
	}
}

func abs(v float64) float64 { return max(v, -v) }

// dueWords says when a question comes again.
func (b *Bench) dueWords(due time.Time) string {
	days := int(due.Sub(b.study.pack.Today.Truncate(24*time.Hour)).Hours()/24 + 0.5)
	switch {
	case days <= 0:
		return Word("drill.today")
	case days == 1:
		return Word("drill.tomorrow")
	}
	return Word("drill.indays", days)
}
