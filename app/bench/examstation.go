package bench

import (
	"slices"
	"strings"

	"sectionary/atlas"
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
			_, name := e.termOf(a)
			names = append(names, name)
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
	f = StationForm{ID: s.Code, N: e.at + 1, Where: upperFirst(b.whereFace(face)) + ", " + face.Facing.SeenFrom() + ".", Place: place, Asked: asked,
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
	same, now := e.same(s, a)
	f.Picture = now
	for _, c := range same {
		words := b.whereFace(c.Face)
		if c.Picture.Kind == quiz.ScanPicture {
			words = Word("exam.scanof", words)
		}
		if c.Seen() {
			words += " · " + Word("exam.shown")
		}
		f.Pictures = append(f.Pictures, words)
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
	if f.Picture != was.Picture {
		b.showElsewhere(f.Picture)
		return
	}
	if f.Second != was.Second || f.Form != was.Form {
		b.askAnew(f.Second, quiz.Forms[clamp(f.Form, len(quiz.Forms))])
		return
	}
	place, asked := e.askedOf(s)
	b.changeAsk(func(a *quiz.Ask) {
		a.Marker = quiz.Marker{Style: quiz.Styles[clamp(f.Marker, len(quiz.Styles))], From: quiz.Approaches[clamp(f.Approach, len(quiz.Approaches))]}
		if asked >= len(a.Questions) || place != f.Place {
			return
		}
		q := &a.Questions[asked]
		if f.Question != was.Question {
			q.About, q.Text = quiz.AboutOwn, f.Question
		}
		q.Accept, q.Options = list(f.Accepts), list(f.Options)
	})
}

// changeAsk changes the marked place in hand, on a station of its own that must be looked at again.
func (b *Bench) changeAsk(f func(a *quiz.Ask)) {
	e := &b.exam
	s, ok := e.station()
	if !ok || len(s.Asks) == 0 {
		return
	}
	place, _ := e.askedOf(s)
	b.changeExam(func(x *quiz.Spotter) {
		s := &x.Stations[e.at]
		s.Look = nil
		s.Asks = slices.Clone(s.Asks)
		s.Asks[place].Questions = slices.Clone(s.Asks[place].Questions)
		f(&s.Asks[place])
	})
	delete(e.sentBack, s.Code)
	b.wantShot(e.at)
}

// askAnew has the question in hand made anew: to name or to reason, answered in a form. Where none can be made of the
// labels alone the examiner is told to write it.
func (b *Bench) askAnew(second bool, form quiz.Form) {
	e := &b.exam
	s, ok := e.station()
	if !ok || len(s.Asks) == 0 {
		return
	}
	place, asked := e.askedOf(s)
	a := s.Asks[place]
	if second && form == quiz.Pointed {
		form = quiz.Typed
	}
	p := quiz.Plan{Labels: []quiz.LabelRef{{Plate: a.Plate, Label: a.Label}}, Pictures: []quiz.PictureKind{s.Picture.Kind}, Forms: []quiz.Form{form}, Second: second, Marker: a.Marker}
	b.draft(p, func(made []quiz.Station) {
		if now, ok := b.exam.station(); !ok || now.Code != s.Code {
			return
		}
		q := quiz.Question{Order: 2, About: quiz.AboutOwn, Form: quiz.Typed, Marks: 1}
		if len(made) > 0 && len(made[0].Asks) > 0 {
			if qs := made[0].Asks[0].Questions; second && len(qs) > 1 {
				q = qs[1]
			} else if !second && len(qs) > 0 {
				q = qs[0]
			}
		}
		if q.About == quiz.AboutOwn {
			b.say(Message{Title: Word("exam.noquestion"), Hint: Word("exam.noquestion.hint")})
		} else if q.Form != form {
			b.say(Message{Title: Word("exam.noform"), Hint: Word("exam.noform.hint")})
		}
		if a.Letter != "A" { // questions are made for a station of its own
			q.Text = strings.Replace(q.Text, " A", " "+a.Letter, 1)
		}
		b.changeAsk(func(a *quiz.Ask) {
			if asked < len(a.Questions) {
				a.Questions[asked] = q
			}
		})
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

// showElsewhere shows the structure of the chosen station on another picture: a new station of that label in its place.
func (b *Bench) showElsewhere(n int) {
	e := &b.exam
	s, ok := e.station()
	if !ok {
		return
	}
	place, _ := e.askedOf(s)
	same, _ := e.same(s, s.Asks[place])
	if n < 0 || n >= len(same) {
		return
	}
	c, at := same[n], e.at
	p := quiz.Plan{Labels: []quiz.LabelRef{{Plate: c.Picture.Plate, Label: c.Label}}, Pictures: []quiz.PictureKind{c.Picture.Kind}, Marker: s.Asks[place].Marker}
	b.draft(p, func(made []quiz.Station) {
		if len(made) == 0 || at >= len(b.exam.x.Stations) || b.exam.x.Stations[at].Code != s.Code {
			return
		}
		b.changeExam(func(x *quiz.Spotter) {
			code := made[0].Code
			if slices.ContainsFunc(x.Stations, func(o quiz.Station) bool { return o.Code == code }) {
				made[0].Code = atlas.RandomCode(6)
			}
			x.Stations[at] = made[0]
		})
		b.exam.place, b.exam.asked = 0, 0
		b.wantShot(at)
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
