package bench

import (
	"context"
	"slices"
	"strings"

	"sectionary/atlas/quiz"
)

// Stations lists the stations in order.
func (b *Bench) Stations() []StationRow {
	e := &b.exam
	out := make([]StationRow, len(e.x.Stations))
	for i, s := range e.x.Stations {
		r := StationRow{ID: s.Code, N: i + 1, Chosen: i == e.at}
		var names []string
		for _, a := range s.Asks {
			names = append(names, b.askName(a))
		}
		r.Name = strings.Join(names, "; ")
		words := []string{b.whereFace(e.faces[s.Picture.Plate])}
		if s.Picture.Kind == quiz.ScanPicture {
			words = append(words, Word("exam.onscan"))
		}
		looks := 0
		for _, f := range e.found.Of(i + 1) {
			switch f.Fault {
			case quiz.NotLooked:
			case quiz.SeenSoon:
				words = append(words, Word("exam.shown"))
			default:
				looks++
			}
		}
		if looks > 0 {
			words = append(words, count("exam.looks", looks))
			r.Look = true
		}
		switch {
		case e.sentBack[s.Code] != "":
			words = append(words, Word("exam.sentback"))
			r.Look = true
		case s.Look != nil:
			words = append(words, Word("exam.accepted"))
		}
		r.Words = strings.Join(words, " · ")
		out[i] = r
	}
	return out
}

// StationsLead sums the stations up in one line.
func (b *Bench) StationsLead() string {
	e := &b.exam
	n := len(e.x.Stations)
	if n == 0 {
		if e.reading {
			return Word("exam.reading")
		}
		return b.askableWords()
	}
	looked := 0
	for _, s := range e.x.Stations {
		if s.Look != nil {
			looked++
		}
	}
	return count("exam.stations", n) + ". " + Word("exam.looked", looked, n)
}

// askableWords tells how many labels can be asked, and what most of the others lack.
func (b *Bench) askableWords() string {
	ready, unsigned, other := 0, 0, 0
	for _, r := range b.Askable() {
		switch {
		case r.Ready:
			ready++
		case strings.Contains(r.Why, "signed"):
			unsigned++
		default:
			other++
		}
	}
	words := count("exam.ready", ready)
	if unsigned > 0 {
		words += " " + count("exam.unsigned", unsigned)
	}
	if other > 0 {
		words += " " + count("exam.notready", other)
	}
	return words
}

// Station is the chosen station; false when there is none.
func (b *Bench) Station() (f StationForm, ok bool) {
	e := &b.exam
	s, ok := e.station()
	if !ok || len(s.Asks) == 0 {
		return f, false
	}
	place, asked := e.askedOf(s)
	a := s.Asks[place]
	face := e.faces[s.Picture.Plate]
	name := b.askName(a)
	f = StationForm{ID: s.Code, Name: name, N: e.at + 1, Where: upperFirst(b.whereFace(face)) + ", " + face.Facing.SeenFrom() + ".", Place: place, Asked: asked,
		Questions: len(a.Questions), Marker: slices.Index(quiz.Styles, a.Marker.Style), Approach: slices.Index(quiz.Approaches, a.Marker.From)}
	for _, x := range s.Asks {
		f.Places = append(f.Places, x.Letter)
	}
	for _, x := range e.found.Of(e.at + 1) {
		if x.Fault != quiz.NotLooked {
			words := x.Words
			if x.Letter != "" && len(s.Asks) > 1 {
				words = x.Letter + ": " + words
			}
			f.Checks = append(f.Checks, words)
		}
	}
	if why := e.sentBack[s.Code]; why != "" {
		f.Checks = append(f.Checks, Word("fresh.sentback", why))
	}
	if len(a.Questions) > 0 {
		q := a.Questions[asked]
		f.Second, f.Form, f.Question, f.Answer = q.Order == 2, slices.Index(quiz.Forms, q.Form), q.Text, q.Answer
		f.Accepts, f.Options = strings.Join(q.Accept, "; "), strings.Join(q.Options, "; ")
	}
	return f, true
}

// SetStation changes the chosen station. A finished picture that somebody accepted must be looked at again when anything
// on it or about it is another.
func (b *Bench) SetStation(f StationForm) {
	e := &b.exam
	s, ok := e.station()
	was, _ := b.Station()
	if !ok || s.Code != f.ID || len(s.Asks) == 0 {
		return
	}
	if f.Second != was.Second || f.Form != was.Form {
		b.askAnew(f.Second, quiz.Forms[clamp(f.Form, len(quiz.Forms))])
		return
	}
	place, asked := e.askedOf(s)
	change := b.typeAsk
	if f.Marker != was.Marker || f.Approach != was.Approach {
		change = b.changeAsk
	}
	change(func(a *quiz.Ask) {
		a.Marker = quiz.Marker{Style: quiz.Styles[clamp(f.Marker, len(quiz.Styles))], From: quiz.Approaches[clamp(f.Approach, len(quiz.Approaches))]}
		if asked >= len(a.Questions) || place != f.Place {
			return
		}
		q := &a.Questions[asked]
		if f.Question != was.Question {
			q.About, q.Text = quiz.AboutOwn, f.Question
		}
		q.Answer, q.Accept, q.Options = strings.TrimSpace(f.Answer), list(f.Accepts), list(f.Options)
	})
}

// changeAsk changes the marked place in hand, on a station of its own that must be looked at again.
func (b *Bench) changeAsk(f func(a *quiz.Ask)) {
	b.ask(b.changeExam, f)
	b.wantShot(b.exam.at)
}

// typeAsk is changeAsk for what is being typed.
func (b *Bench) typeAsk(f func(a *quiz.Ask)) { b.ask(b.typeExam, f) }

func (b *Bench) ask(change func(func(x *quiz.Spotter)), f func(a *quiz.Ask)) {
	e := &b.exam
	s, ok := e.station()
	if !ok || len(s.Asks) == 0 {
		return
	}
	place, _ := e.askedOf(s)
	change(func(x *quiz.Spotter) {
		s := &x.Stations[e.at]
		s.Look = nil
		s.Asks = slices.Clone(s.Asks)
		s.Asks[place].Questions = slices.Clone(s.Asks[place].Questions)
		f(&s.Asks[place])
	})
	delete(e.sentBack, s.Code)
}

// askAnew has the question in hand made anew: to name or to reason, answered in a form. Where none can be made of the
// labels alone the examiner is told to write it.
func (b *Bench) askAnew(second bool, form quiz.Form) {
	e := &b.exam
	s, ok := e.station()
	board, has := b.board()
	if !ok || !has || len(s.Asks) == 0 {
		return
	}
	place, asked := e.askedOf(s)
	if second && form == quiz.Pointed {
		form = quiz.Typed
	}
	x, at, letter := e.x, e.at, s.Asks[place].Letter
	b.start(Word("job.draft"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		offers, err := board.Offer(x, at, letter, form)
		if why := quiz.Sentence(err); why != "" {
			return func() { b.say(Message{Title: Word("exam.noquestion"), Hint: why}) }, nil
		}
		return func() {
			if now, ok := b.exam.station(); ok && now.Code == s.Code {
				b.takeQuestion(offers, second, form, asked)
			}
		}, err
	})
}

// takeQuestion puts the first offer of an order in the place of a question; where there is none, an empty one to be
// written.
func (b *Bench) takeQuestion(offers []quiz.Question, second bool, form quiz.Form, asked int) {
	q := quiz.Question{Order: 2, About: quiz.AboutOwn, Form: quiz.Typed, Marks: 1}
	for _, o := range slices.Backward(offers) {
		if (o.Order == 2) == second && (q.About == quiz.AboutOwn || o.Form == form || q.Form != form) {
			q = o
		}
	}
	switch {
	case q.About == quiz.AboutOwn:
		b.say(Message{Title: Word("exam.noquestion"), Hint: Word("exam.noquestion.hint")})
	case q.Form != form:
		b.say(Message{Title: Word("exam.noform"), Hint: Word("exam.noform.hint")})
	}
	b.changeAsk(func(a *quiz.Ask) {
		if asked < len(a.Questions) {
			a.Questions[asked] = q
		}
	})
}

func clamp(i, n int) int { return min(max(i, 0), n-1) }

// list reads words kept apart by ";".
func list(s string) (out []string) {
	for _, w := range strings.Split(s, ";") {
		if w = strings.TrimSpace(w); w != "" {
			out = append(out, w)
		}
	}
	return out
}

// Elsewhere looks, as a job, for other pictures on which the structure of the chosen station can be asked, unseen ones
// first, and hands them in words to done.
func (b *Bench) Elsewhere(done func(words []string)) {
	e := &b.exam
	s, ok := e.station()
	board, has := b.board()
	if !ok || !has || len(s.Asks) == 0 {
		return
	}
	place, _ := e.askedOf(s)
	x, at, letter := e.x, e.at, s.Asks[place].Letter
	b.start(Word("job.elsewhere"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		list, err := board.Alternatives(x, at, letter)
		if why := quiz.Sentence(err); why != "" {
			return func() { b.say(Message{Title: Word("exam.noelsewhere"), Hint: why}) }, nil
		}
		return func() {
			b.exam.elsewhere = list
			if len(list) == 0 {
				b.say(Message{Title: Word("exam.noelsewhere"), Hint: Word("exam.noelsewhere.hint")})
				return
			}
			words := make([]string, len(list))
			for i, c := range list {
				words[i] = upperFirst(string(c.Relation)) + ": " + b.whereFace(c.Face)
				if c.Picture.Kind == quiz.ScanPicture && c.Relation != quiz.SamePlaceScan {
					words[i] = Word("exam.onscanof", words[i])
				}
				if c.Picture.Pose != nil {
					words[i] = Word("exam.across", b.whereFace(c.Face), Word("plane."+c.Plane.String()))
				}
				if c.Seen() {
					words[i] += " · " + Word("exam.shown")
				}
			}
			done(words)
		}, err
	})
}

// ShowOn asks the structure of the chosen station on picture n of those found by Elsewhere.
func (b *Bench) ShowOn(n int) {
	e := &b.exam
	s, ok := e.station()
	board, has := b.board()
	if !ok || !has || n < 0 || n >= len(e.elsewhere) || len(s.Asks) == 0 {
		return
	}
	place, _ := e.askedOf(s)
	c, x, at, letter := e.elsewhere[n].Candidate, e.x, e.at, s.Asks[place].Letter
	b.start(Word("job.draft"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		next, err := board.Swap(ctx, x, at, letter, c)
		if why := quiz.Sentence(err); why != "" {
			return func() { b.say(Message{Title: Word("exam.noelsewhere"), Hint: why}) }, nil
		}
		return func() {
			if now, ok := b.exam.station(); !ok || now.Code != s.Code {
				return
			}
			b.exam.place, b.exam.asked = 0, 0
			b.changeExam(func(x *quiz.Spotter) { x.Stations = next.Stations })
			b.wantShot(at)
		}, err
	})
}

// AddQuestion puts one more question at the marked place, for the examiner to write.
func (b *Bench) AddQuestion() {
	n := 0
	b.changeAsk(func(a *quiz.Ask) {
		n = len(a.Questions)
		a.Questions = append(a.Questions, quiz.Question{Order: 2, About: quiz.AboutOwn, Form: quiz.Typed, Marks: 1})
	})
	b.exam.asked = n
	b.changed(ExamChanged)
}

// DropQuestion takes the question in hand away; the last one stays.
func (b *Bench) DropQuestion() {
	s, ok := b.exam.station()
	if !ok {
		return
	}
	_, asked := b.exam.askedOf(s)
	b.changeAsk(func(a *quiz.Ask) {
		if len(a.Questions) > 1 {
			a.Questions = slices.Delete(a.Questions, asked, asked+1)
		}
	})
	b.exam.asked = 0
	b.changed(ExamChanged)
}
