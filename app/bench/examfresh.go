package bench

import (
	"context"
	"fmt"
	"image"
	"strings"

	"sectionary/atlas/quiz"
)

// mostShots is how many finished pictures are kept at hand; each takes about 10 MB.
const mostShots = 5

// shotKey tells states of a station's picture apart.
func (e *examRoom) shotKey(s quiz.Station) string {
	s.Look, s.Seconds = nil, 0
	return fmt.Sprintf("%d %v %+v", e.reads, e.x.NoTags, s)
}

// wantShot has the finished picture of station i made, as a job, unless it is there.
func (b *Bench) wantShot(i int) {
	e := &b.exam
	board, ok := b.board()
	if !ok || i < 0 || i >= len(e.x.Stations) {
		return
	}
	s := e.x.Stations[i]
	key := e.shotKey(s)
	if x := e.shots[s.Code]; x != nil && x.of == key {
		return
	}
	if e.shots == nil {
		e.shots = map[string]*shot{}
	}
	e.shots[s.Code] = &shot{of: key, making: true}
	e.dropShots(i)
	x := e.x
	b.start(Word("job.shot", i+1), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		proof, err := board.Proof(ctx, x, i)
		stopped := ctx.Err() != nil // asked here: afterwards the context of a job is always at its end
		return func() {
			made := b.exam.shots[s.Code]
			if made == nil || made.of != key {
				return
			}
			made.making, made.picture, made.proof = false, proof.Picture, proof
			if err != nil && !stopped {
				if made.problem = quiz.Sentence(err); made.problem == "" {
					made.problem = Explain(err).Title
				}
			}
			b.changed(ExamChanged | TimeChanged)
		}, nil
	})
}

// dropShots lets go of the pictures farthest from station i.
func (e *examRoom) dropShots(i int) {
	for len(e.shots) > mostShots {
		far, most := "", -1
		for code := range e.shots {
			d := len(e.x.Stations)
			for j, s := range e.x.Stations {
				if s.Code == code {
					d = max(i-j, j-i)
				}
			}
			if d > most {
				far, most = code, d
			}
		}
		delete(e.shots, far)
	}
}

// shotOf is the finished picture of station i as it stands, and what to say while there is none.
func (b *Bench) shotOf(i int) (x *shot, none string) {
	e := &b.exam
	if i < 0 || i >= len(e.x.Stations) {
		return nil, Word("stations.nopicture")
	}
	s := e.x.Stations[i]
	x = e.shots[s.Code]
	switch {
	case x == nil || x.of != e.shotKey(s):
		return nil, Word("preview.making")
	case x.problem != "":
		return x, x.problem
	}
	return x, Word("preview.making")
}

// StationPane is the finished picture of the chosen station.
func (b *Bench) StationPane() Pane { return b.station }

func (b *Bench) stationPage() (page *image.RGBA, making bool, none string) {
	b.wantShot(b.exam.at)
	x, none := b.shotOf(b.exam.at)
	if x == nil {
		return nil, false, none
	}
	return x.picture, x.making, none
}

// LookFresh shows the finished pictures one by one, the first not yet accepted before all.
func (b *Bench) LookFresh() {
	e := &b.exam
	if len(e.x.Stations) == 0 {
		return
	}
	for i := range e.x.Stations {
		at := (e.at + i) % len(e.x.Stations)
		if e.x.Stations[at].Look == nil {
			e.at = at
			break
		}
	}
	e.place, e.asked = 0, 0
	b.enter(FreshScreen)
	b.wantFresh()
}

func (b *Bench) wantFresh() {
	b.wantShot(b.exam.at)
	b.wantShot(b.exam.at + 1)
}

// Fresh tells about the picture looked at.
func (b *Bench) Fresh() FreshInfo {
	e := &b.exam
	s, ok := e.station()
	if !ok {
		return FreshInfo{Words: Word("exam.none")}
	}
	i := FreshInfo{N: e.at + 1, Of: len(e.x.Stations)}
	x, none := b.shotOf(e.at)
	i.Ready = x != nil && x.picture != nil
	switch {
	case !i.Ready:
		i.Words = none
	case e.sentBack[s.Code] != "":
		i.Words, i.SentBack = Word("fresh.sentback", e.sentBack[s.Code]), true
	case s.Look != nil:
		i.Words = Word("fresh.accepted", s.Look.By, s.Look.At.Format("2 January 2006"))
	default:
		i.Words = Word("fresh.ask")
	}
	return i
}

// FreshPane is the finished picture, whole display.
func (b *Bench) FreshPane() Pane { return b.freshPane }

func (b *Bench) freshContent() fullContent {
	e := &b.exam
	s, ok := e.station()
	if !ok {
		return fullContent{nothing: Word("exam.none")}
	}
	c := fullContent{left: Word("room.station", e.at+1, len(e.x.Stations)), low: questionsOf(s)}
	x, none := b.shotOf(e.at)
	c.nothing = none
	if x != nil {
		c.picture = x.picture
	}
	switch {
	case e.sentBack[s.Code] != "":
		c.right, c.warn = Word("exam.sentback"), true
	case s.Look != nil:
		c.right = Word("exam.accepted")
	}
	return c
}

// questionsOf are the questions of a station as candidates read them.
func questionsOf(s quiz.Station) string {
	var lines []string
	for _, a := range s.Asks {
		for _, q := range a.Questions {
			line := q.Text
			if len(q.Options) > 0 {
				line += "  " + strings.Join(q.Options, " / ")
			}
			lines = append(lines, line)
		}
	}
	return strings.Join(lines, "\n")
}

// AcceptFresh lets the picture pass and goes on to the next that nobody looked at; after the last one back to the stations.
func (b *Bench) AcceptFresh() {
	e := &b.exam
	s, ok := e.station()
	x, _ := b.shotOf(e.at)
	if !ok || x == nil || x.picture == nil {
		return
	}
	at := e.at
	b.changeExam(func(y *quiz.Spotter) {
		if next, err := y.Accept(at, b.author, b.o.Now(), x.proof); err == nil {
			*y = next
		} else {
			b.Report(err)
		}
	})
	delete(e.sentBack, s.Code)
	for i := 1; i <= len(e.x.Stations); i++ {
		to := (at + i) % len(e.x.Stations)
		if e.x.Stations[to].Look == nil && e.sentBack[e.x.Stations[to].Code] == "" {
			e.at = to
			b.wantFresh()
			b.changed(ExamChanged)
			return
		}
	}
	b.enter(StationsScreen)
}

// SendBack does not let the picture pass, and says why.
func (b *Bench) SendBack(why string) {
	e := &b.exam
	s, ok := e.station()
	if !ok {
		return
	}
	if why == "" {
		why = Word("fresh.noreason")
	}
	if e.sentBack == nil {
		e.sentBack = map[string]string{}
	}
	e.sentBack[s.Code] = why
	at := e.at
	b.changeExam(func(y *quiz.Spotter) { y.Stations[at].Look = nil })
	b.StepFresh(1)
}

// StepFresh goes to the picture n on.
func (b *Bench) StepFresh(n int) {
	if to := b.exam.at + n; to >= 0 && to < len(b.exam.x.Stations) {
		b.exam.at = to
		b.wantFresh()
	}
	b.changed(ExamChanged)
}

// ShowRoom shows the exam to a room. That is a use like any other: it needs what a hand-out needs, and is recorded.
func (b *Bench) ShowRoom() {
	board, ok := b.board()
	if !b.mayLeave(b.ExamRefusal(), ok) {
		return
	}
	x := b.exam.x
	frames := 0
	b.leave(Word("job.room"), func(ctx context.Context, tell func(done, total int)) (quiz.Slip, error) {
		reel, slip, err := board.Project(ctx, x, quiz.Release{NeedLooks: true})
		frames = len(reel.Frames)
		return slip, err
	}, func(quiz.Slip) {
		b.enterRoom(frames)
		b.wantShot(0)
		b.wantShot(1)
	})
}

// ReleaseExam writes the exam into dir, as a job; ExamDone tells what came of it.
func (b *Bench) ReleaseExam(dir string) {
	board, ok := b.board()
	if !b.mayLeave(b.ExamRefusal(), ok) || !b.hasFolder(dir) {
		return
	}
	x := b.exam.x
	b.leave(Word("job.release"), func(ctx context.Context, tell func(done, total int)) (quiz.Slip, error) {
		return board.Render(ctx, x, quiz.Release{NeedLooks: true}, dir)
	}, func(s quiz.Slip) { b.examReleased(dir, s) })
}

// examReleased shows what was handed out.
func (b *Bench) examReleased(dir string, s quiz.Slip) {
	slip := slipOf(dir, s)
	slip.Words = strings.Join(append([]string{Word("released", len(s.Files), s.Code, s.LeakScan.Files)}, s.Notes...), "\n")
	b.exam.slip = slip
	b.say(Message{Title: Word("exam.released"), Hint: Word("exam.released.hint", len(s.Files), dir, s.LeakScan.Files)})
	b.changed(ExamChanged | LabChanged)
}

// ExamDone is the exam handed out last in this sitting, nil when none.
func (b *Bench) ExamDone() *Slip { return b.exam.slip }
