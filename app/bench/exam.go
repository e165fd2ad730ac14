package bench

import (
	"context"
	"image"
	"slices"
	"time"

	"sectionary/atlas"
	"sectionary/atlas/quiz"
	"sectionary/slices/section"
)

// examRoom is the exam being built, what can be asked, and what was found out about it.
type examRoom struct {
	x       quiz.Spotter
	begun   bool // x is one of the lab's, or a new one
	others  []quiz.Spotter
	pool    []quiz.Candidate
	left    []quiz.LeftOut
	faces   map[string]section.Face   // by plate, of what is in pool and left
	earlier map[string]earlierPicture // by plate, those of stations
	reads   int                       // counts readings of the pool, so that an older one is dropped
	reading bool
	plan    []quiz.Cell // the blueprint, with what is wanted

	at, place, asked int // chosen station, marked place and question

	found     quiz.Report
	foundOf   string // what found was made for
	finding   bool
	findingOf string

	elsewhere []quiz.Alternative
	shots     map[string]*shot // finished pictures by station
	sentBack  map[string]string
	rest      func() // cancels the looking over that waits for the hand to rest
	slip      *Slip
}

// shot is the finished picture of a station.
type shot struct {
	of      string // what the station was when the picture was made
	making  bool
	picture *image.RGBA
	proof   quiz.Proof
	problem string
}

// board is the lab as quiz takes it; false without a lab on disk.
func (b *Bench) board() (quiz.Board, bool) {
	lib, ok := b.lab.lib.(*atlas.Library)
	return quiz.Board{Lib: lib, Terms: b.terms, Usual: b.lab.usual, Now: b.o.Now}, ok
}

// openStations takes up the exam saved last, and reads what can be asked.
func (b *Bench) openStations() {
	b.saveNow()
	e := &b.exam
	if board, ok := b.board(); ok && !e.begun {
		all, err := board.List()
		b.Report(err)
		e.others = all
		if len(all) > 0 {
			e.x, e.begun = all[0], true
		}
	}
	b.readPool()
}

// readPool reads, as a job, which labels can be asked and which not.
func (b *Bench) readPool() {
	board, ok := b.board()
	if !ok {
		return
	}
	e := &b.exam
	e.reads++
	e.reading = true
	mine, id, exam := e.reads, e.x.ID, e.x
	b.start(Word("job.pool"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		pool, left, err := board.Pool(id)
		faces := map[string]section.Face{}
		for _, x := range left {
			if _, known := faces[x.Plate]; !known {
				if p, err := board.Lib.Plate(x.Plate); err == nil {
					faces[x.Plate] = p.Face
				}
			}
		}
		for _, c := range pool {
			faces[c.Picture.Plate] = c.Face
		}
		old := earlierPictures(board.Lib, exam)
		for plate, x := range old {
			faces[plate] = x.face
		}
		return func() {
			if b.exam.reads != mine {
				return
			}
			e := &b.exam
			e.reading = false
			e.pool, e.left, e.faces, e.earlier = pool, left, faces, old
			e.layPlan()
			b.examine()
			b.changed(ExamChanged)
		}, err
	})
}

// layPlan brings the blueprint up to the pool, keeping what is wanted.
func (e *examRoom) layPlan() {
	wanted := map[quiz.Want]int{}
	for _, w := range append(slices.Clone(e.x.Blueprint), wants(e.plan)...) {
		n := w.Count
		w.Count = 0
		wanted[w] = n
	}
	e.plan = quiz.Cells(e.pool)
	for i := range e.plan {
		w := e.plan[i].Want
		w.Count = 0
		e.plan[i].Count = wanted[w]
	}
}

func wants(plan []quiz.Cell) (out []quiz.Want) {
	for _, c := range plan {
		if c.Count > 0 {
			out = append(out, c.Want)
		}
	}
	return out
}

// changeExam replaces the exam with what f makes of it, keeps it in the lab and has it looked over anew.
func (b *Bench) changeExam(f func(x *quiz.Spotter)) {
	b.keepExam(f)
	b.examine()
	b.changed(ExamChanged)
}

// typing is how long the hand must rest before what it typed is looked over.
const typing = 600 * time.Millisecond

// typeExam is changeExam for what is being typed: the exam is kept at once, but looked over, and its picture made anew,
// only when the hand rests.
func (b *Bench) typeExam(f func(x *quiz.Spotter)) {
	b.keepExam(f)
	e := &b.exam
	if e.rest != nil {
		e.rest()
	}
	e.rest = b.run.After(typing, func() {
		b.exam.rest = nil
		b.examine()
		b.wantShot(b.exam.at)
		b.changed(ExamChanged)
	})
	b.changed(ExamChanged)
}

// keepExam replaces the exam and keeps it in the lab.
func (b *Bench) keepExam(f func(x *quiz.Spotter)) {
	e := &b.exam
	x := e.x
	x.Stations = slices.Clone(x.Stations)
	if x.ID == "" {
		x.ID, x.Made, x.Seed = atlas.RandomCode(8), b.o.Now().UTC(), 1
	}
	f(&x)
	e.slip = nil
	if board, ok := b.board(); ok && !b.readOnly() {
		kept, err := board.Save(x)
		if err != nil {
			b.Report(err)
		} else {
			x = kept
		}
	}
	e.x, e.begun = x, true
	e.at = min(max(e.at, 0), max(0, len(x.Stations)-1))
}

// station is the chosen station.
func (e *examRoom) station() (s quiz.Station, ok bool) {
	if e.at < 0 || e.at >= len(e.x.Stations) {
		return s, false
	}
	return e.x.Stations[e.at], true
}

// askedOf is the chosen place and question of a station.
func (e *examRoom) askedOf(s quiz.Station) (place, question int) {
	place = min(max(e.place, 0), max(0, len(s.Asks)-1))
	if len(s.Asks) > 0 {
		question = min(max(e.asked, 0), max(0, len(s.Asks[place].Questions)-1))
	}
	return place, question
}

// Exam tells about the whole exam.
func (b *Bench) Exam() ExamInfo {
	x := b.exam.x
	i := ExamInfo{Title: x.Title, Paper: string(x.Paper), Seed: max(x.Seed, 1), NoTags: x.NoTags}
	if i.Paper == "" {
		i.Paper = string(quiz.A4)
	}
	i.Notes, i.Warnings = b.examNotes()
	return i
}

// SetExamTitle sets what is printed on every card.
func (b *Bench) SetExamTitle(t string) { b.typeExam(func(x *quiz.Spotter) { x.Title = t }) }

// SetExamSeed sets the number that fixes letters and names of files.
func (b *Bench) SetExamSeed(n uint64) {
	if n > 0 {
		b.typeExam(func(x *quiz.Spotter) { x.Seed = n })
	}
}

// SetExamPaper sets the size of cards and key.
func (b *Bench) SetExamPaper(p string) {
	b.changeExam(func(x *quiz.Spotter) { x.Paper = quiz.Paper(p) })
}

// SetExamNoTags gives a person's word that pictures without a tag mask show no tag or writing, or takes it back.
func (b *Bench) SetExamNoTags(yes bool) { b.changeExam(func(x *quiz.Spotter) { x.NoTags = yes }) }

// Exams lists the exams of the lab, the one being built among them.
func (b *Bench) Exams() []ExamRow {
	var out []ExamRow
	seen := false
	for _, x := range b.exam.others {
		if x.ID == b.exam.x.ID {
			x, seen = b.exam.x, true
		}
		out = append(out, ExamRow{x.ID, examWords(x), x.ID == b.exam.x.ID})
	}
	if b.exam.x.ID != "" && !seen {
		out = append([]ExamRow{{b.exam.x.ID, examWords(b.exam.x), true}}, out...)
	}
	return out
}

func examWords(x quiz.Spotter) string {
	title := x.Title
	if title == "" {
		title = Word("exam.untitled")
	}
	return title + ", " + count("exam.stations", len(x.Stations))
}

// NewExam begins another exam; this one is kept.
func (b *Bench) NewExam() { b.takeExam(quiz.Spotter{}) }

// ChooseExam takes up another exam of the lab.
func (b *Bench) ChooseExam(id string) {
	board, ok := b.board()
	if !ok || id == b.exam.x.ID {
		return
	}
	x, err := board.Load(id)
	if err != nil {
		b.Report(err)
		return
	}
	b.takeExam(x)
}

func (b *Bench) takeExam(x quiz.Spotter) {
	others := b.exam.others
	if board, ok := b.board(); ok {
		if all, err := board.List(); err == nil {
			others = all
		}
	}
	b.exam = examRoom{x: x, begun: true, others: others, reads: b.exam.reads}
	b.readPool()
	b.changed(ExamChanged)
}

// ChooseStation takes up a station.
func (b *Bench) ChooseStation(id string) {
	for i, s := range b.exam.x.Stations {
		if s.Code == id {
			b.exam.at, b.exam.place, b.exam.asked = i, 0, 0
			b.wantShot(i)
			b.changed(ExamChanged)
		}
	}
}

// StepStation takes up the station n on.
func (b *Bench) StepStation(n int) {
	if to := b.exam.at + n; to >= 0 && to < len(b.exam.x.Stations) {
		b.ChooseStation(b.exam.x.Stations[to].Code)
	}
}

// ChoosePlace takes up a marked place of the station.
func (b *Bench) ChoosePlace(n int) { b.exam.place, b.exam.asked = n, 0; b.changed(ExamChanged) }

// ChooseQuestion takes up a question of the marked place.
func (b *Bench) ChooseQuestion(n int) { b.exam.asked = n; b.changed(ExamChanged) }

// MoveStation moves the chosen station n places.
func (b *Bench) MoveStation(n int) {
	from, to := b.exam.at, b.exam.at+n
	if len(b.exam.x.Stations) == 0 || to < 0 || to >= len(b.exam.x.Stations) {
		return
	}
	b.exam.at = to
	b.changeExam(func(x *quiz.Spotter) {
		s := x.Stations[from]
		x.Stations = slices.Insert(slices.Delete(x.Stations, from, from+1), to, s)
	})
}

// RemoveStation takes the chosen station out of the exam.
func (b *Bench) RemoveStation() {
	at := b.exam.at
	if _, ok := b.exam.station(); !ok {
		return
	}
	b.changeExam(func(x *quiz.Spotter) { x.Stations = slices.Delete(x.Stations, at, at+1) })
}

func needStation(b *Bench) string {
	_, ok := b.exam.station()
	return when(!ok, "exam.nostation")
}
