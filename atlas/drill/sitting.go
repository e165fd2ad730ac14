package drill

import (
	"cmp"
	"errors"
	"hash/fnv"
	"math/rand/v2"
	"slices"
	"time"

	"sectionary/annotate"
)

// ErrNoQuestion says that nothing is being asked.
var ErrNoQuestion = errors.New("drill: there is no question to answer")

// Options are a student's wishes for a sitting.
type Options struct {
	Most int   // questions, 20 when 0; missed ones that come back are not counted
	New  int   // unseen ones at most, 8 when 0, none when below 0
	Asks []Ask // kinds of question, all when empty
	Seed uint64
	// Terms judges typed answers; Manifest.Matcher makes it.
	Terms *annotate.Terms
}

// Standing is how a student stands with a pack on a day.
type Standing struct {
	Due    int // seen, and due today or before
	Unseen int
	Later  int       // seen, not due yet
	Next   time.Time // day the next one falls due; zero when none is waiting
	Boxes  [5]int    // how many lie in each box
}

// Standing counts what is due.
func (p *Pack) Standing(pr Progress, asks ...Ask) (out Standing) {
	for _, c := range p.cards(asks) {
		s, ok := pr.Cards[c.key]
		if !ok {
			out.Unseen++
			continue
		}
		out.Boxes[min(max(s.Box, 1), len(Boxes))-1]++
		if due := s.Due(); due.Format(Day) <= p.Today.Format(Day) {
			out.Due++
		} else {
			out.Later++
			if out.Next.IsZero() || due.Before(out.Next) {
				out.Next = due
			}
		}
	}
	return out
}

// asked is a card in the queue of a sitting.
type asked struct {
	card
	again bool
}

// Sitting is one sitting of the drill. It is not safe for several goroutines.
type Sitting struct {
	pack     *Pack
	terms    *annotate.Terms
	progress Progress
	rand     *rand.Rand
	queue    []asked
	now      *asked
	shown    showing
	hints    int
	used     map[string]map[string]bool // pictures on which a structure or face was shown in this sitting
	done     int
	right    int
}

// NewSitting draws the questions of a sitting: what is due, the most likely forgotten first, and unseen ones drawn evenly from every kind
// of question, region and kind of structure. The same seed, pack and progress give the same sitting.
func NewSitting(p *Pack, pr Progress, o Options) *Sitting {
	if o.Most == 0 {
		o.Most = 20
	}
	if o.New == 0 {
		o.New = 8
	}
	h := fnv.New64a()
	h.Write([]byte(p.Today.Format(Day)))
	s := &Sitting{pack: p, terms: o.Terms, progress: pr.clone(), rand: rand.New(rand.NewPCG(o.Seed, h.Sum64())), used: map[string]map[string]bool{}}
	if s.terms == nil {
		s.terms, _ = p.Matcher(nil) // it was made once when the pack was checked
	}
	s.progress.see(p.Today)
	var due, unseen []card
	for _, c := range p.cards(o.Asks) {
		seen, ok := pr.Cards[c.key]
		switch {
		case !ok:
			unseen = append(unseen, c)
		case seen.Due().Format(Day) <= p.Today.Format(Day):
			due = append(due, c)
		}
	}
	slices.SortStableFunc(due, func(a, b card) int {
		return cmp.Compare(pr.Cards[a.key].recall(p.Today), pr.Cards[b.key].recall(p.Today))
	})
	fresh := min(max(o.New, 0), len(unseen))
	keep := min(fresh, o.Most/5) // unseen ones get a fifth however much is due, so that none waits for ever
	due = due[:min(len(due), o.Most-keep)]
	for _, c := range due {
		s.queue = append(s.queue, asked{card: c})
	}
	s.rand.Shuffle(len(unseen), func(i, j int) { unseen[i], unseen[j] = unseen[j], unseen[i] })
	for _, c := range s.stratified(unseen)[:min(fresh, o.Most-len(due))] {
		s.queue = append(s.queue, asked{card: c})
	}
	s.rand.Shuffle(len(s.queue), func(i, j int) { s.queue[i], s.queue[j] = s.queue[j], s.queue[i] })
	return s
}

// stratified orders cards so that every kind of question is drawn from in turn, and within each every region and kind of structure.
func (s *Sitting) stratified(all []card) []card {
	within := s.inTurn(all, func(c card) string { return c.stratum })
	return s.inTurn(within, func(c card) string { return string(c.ask) })
}

// inTurn draws from groups in turn, the groups in chance order. Members keep their order.
func (s *Sitting) inTurn(all []card, group func(card) string) []card {
	groups := map[string][]card{}
	var names []string
	for _, c := range all {
		g := group(c)
		if groups[g] == nil {
			names = append(names, g)
		}
		groups[g] = append(groups[g], c)
	}
	slices.Sort(names)
	s.rand.Shuffle(len(names), func(i, j int) { names[i], names[j] = names[j], names[i] })
	out := make([]card, 0, len(all))
	for len(out) < len(all) {
		for _, n := range names {
			if g := groups[n]; len(g) > 0 {
				out, groups[n] = append(out, g[0]), g[1:]
			}
		}
	}
	return out
}

// Left is how many questions are still to come, the one being asked included.
func (s *Sitting) Left() int {
	n := len(s.queue)
	if s.now != nil {
		n++
	}
	return n
}

// Done tells how many answers were given, and how many were right.
func (s *Sitting) Done() (answers, right int) { return s.done, s.right }

// Next asks the next question; ok is false at the end of the sitting. A question not answered is asked again.
func (s *Sitting) Next() (q Question, ok bool) {
	if s.now == nil {
		if len(s.queue) == 0 {
			return Question{}, false
		}
		c := s.queue[0]
		s.queue, s.now, s.hints = s.queue[1:], &c, 0
		s.shown = s.pick(c.card)
	}
	return s.pack.question(s.now.card, s.shown, s.now.again), true
}

// what is the thing shown, for which no picture comes twice: the structure with its side, whatever is asked of it, or the face.
func (s *Sitting) what(sh showing) string {
	if x, ok := s.pack.structureOf(sh); ok {
		return string(x.Term) + "|" + x.Side.String()
	}
	return "face|" + s.pack.Faces[sh.face].Code
}

// pick chooses a picture for a card: one that has not shown the structure in this sitting while there is any.
func (s *Sitting) pick(c card) showing {
	what := s.what(c.shows[0])
	if s.used[what] == nil {
		s.used[what] = map[string]bool{}
	}
	var left []showing
	for _, sh := range c.shows {
		if !s.used[what][sh.picture] {
			left = append(left, sh)
		}
	}
	if len(left) == 0 {
		left = c.shows
	}
	sh := left[s.rand.IntN(len(left))]
	s.used[what][sh.picture] = true
	return sh
}

// again is how many questions lie at least between a miss and its return in the same sitting.
const again = 3

// Answer judges the answer to the question being asked, notes it in the progress, and brings a missed one back later in the
// sitting; that second answer is not noted. Errors: ErrNoQuestion.
func (s *Sitting) Answer(a Answer) (Reveal, error) {
	if s.now == nil {
		return Reveal{}, ErrNoQuestion
	}
	c := *s.now
	r := s.judge(c.card, s.shown, a)
	s.now = nil
	s.done++
	if r.Right {
		s.right++
	}
	if !c.again {
		s.progress.note(c.key, r.Right, s.pack.Today)
		if r.Placing != nil {
			s.progress.place(*r.Placing)
		}
		if !r.Right {
			at := min(again, len(s.queue))
			at += s.rand.IntN(len(s.queue) - at + 1)
			s.queue = slices.Insert(s.queue, at, asked{c.card, true})
		}
	}
	r.Due = s.progress.Cards[c.key].Due()
	return r, nil
}

// Hint shows one more structure of a face that is to be placed on the run, the largest first; ok is false when there is none
// left or the question takes no hints. Each costs some of the score.
func (s *Sitting) Hint() (x Structure, ok bool) {
	if s.now == nil || s.now.ask != AskOnRun {
		return x, false
	}
	list := slices.Clone(s.pack.Faces[s.shown.face].Structures)
	area := func(x Structure) (a float64) {
		for _, p := range x.Regions {
			a += p.AreaPx()
		}
		return a
	}
	slices.SortStableFunc(list, func(a, b Structure) int { return cmp.Compare(area(b), area(a)) })
	if s.hints >= len(list) {
		return x, false
	}
	s.hints++
	return list[s.hints-1], true
}

// Progress is the student's progress with this sitting's answers.
func (s *Sitting) Progress() Progress { return s.progress.clone() }
