package bench

import (
	"time"

	"sectionary/atlas/quiz"
)

// The times a station may be shown in a room, and the one that stands until another is chosen.
const (
	leastStationTime = 30 * time.Second
	mostStationTime  = 300 * time.Second
	usualStationTime = 60 * time.Second
)

// showRoom is the exam being shown to a room: which station is up and how much of its time is left.
type showRoom struct {
	stations int
	at       int
	per      time.Duration // for each station
	left     time.Duration // of the station up, when since was set or the clock was held
	since    time.Time     // the clock runs since then; zero while it is held
	ended    bool          // the last station's time is over
	from     Screen        // where one came from
	tick     func()        // cancels the tick to come
}

// RoomInfo tells what the room sees.
type RoomInfo struct {
	N, Of    int // the station up, from 1, and how many there are
	Left     time.Duration
	Running  bool
	Ended    bool
	Question string
}

// StationTime is how long a station takes, in a room and as its card says.
func (b *Bench) StationTime() time.Duration {
	if b.show.per > 0 {
		return b.show.per
	}
	if x := b.exam.x.Stations; len(x) > 0 && x[0].Seconds > 0 {
		return time.Duration(x[0].Seconds) * time.Second
	}
	return usualStationTime
}

// SetStationTime sets it, between 30 and 300 seconds. The station up keeps what it has used.
func (b *Bench) SetStationTime(d time.Duration) {
	d = min(max(d, leastStationTime), mostStationTime)
	if s := &b.show; s.stations > 0 {
		s.left = max(0, b.timeLeft()+d-b.StationTime())
		if s.running() {
			s.since = b.o.Now()
		}
	}
	b.show.per = d
	b.changed(TimeChanged)
	if len(b.exam.x.Stations) > 0 && b.screen == StationsScreen {
		b.changeExam(func(x *quiz.Spotter) {
			for i := range x.Stations {
				x.Stations[i].Seconds = int(d.Seconds())
			}
		})
	}
	b.changed(ExamChanged)
}

func (s *showRoom) running() bool { return !s.since.IsZero() }

// timeLeft is what is left of the station up. The times told apart here carry Go's monotonic reading, so that setting
// the machine's clock moves nothing.
func (b *Bench) timeLeft() time.Duration {
	s := &b.show
	if !s.running() {
		return s.left
	}
	return max(0, s.left-b.o.Now().Sub(s.since))
}

// Room tells what the room sees.
func (b *Bench) Room() RoomInfo {
	s := &b.show
	i := RoomInfo{N: s.at + 1, Of: s.stations, Left: b.timeLeft(), Running: s.running(), Ended: s.ended}
	if s.at < min(s.stations, len(b.exam.x.Stations)) {
		i.Question = questionsOf(b.exam.x.Stations[s.at])
	}
	return i
}

// enterRoom shows stations to a room, the first with its clock held.
func (b *Bench) enterRoom(stations int) {
	from := b.screen
	b.show = showRoom{stations: stations, per: b.show.per, from: from}
	b.show.left = b.StationTime()
	b.enter(RoomScreen)
}

// RoomGo lets the clock run, or holds it.
func (b *Bench) RoomGo() {
	s := &b.show
	if s.stations == 0 || s.ended {
		return
	}
	if s.running() {
		b.holdRoom()
	} else {
		s.since = b.o.Now()
		b.tickRoom()
	}
	b.changed(TimeChanged)
}

// holdRoom stops the clock where it is.
func (b *Bench) holdRoom() {
	s := &b.show
	s.left = b.timeLeft()
	s.since = time.Time{}
	if s.tick != nil {
		s.tick()
		s.tick = nil
	}
}

// RoomStep goes n stations on or back, with the whole time before each; a clock that ran runs on.
func (b *Bench) RoomStep(n int) {
	s := &b.show
	to := s.at + n
	if s.stations == 0 || to < 0 || to >= s.stations {
		return
	}
	s.at, s.left, s.ended = to, b.StationTime(), false
	b.wantShot(to)
	b.wantShot(to + 1)
	if s.running() {
		s.since = b.o.Now()
		b.tickRoom()
	}
	b.changed(TimeChanged)
}

// tickRoom shows the time again when the next whole second is over, and goes on to the next station when none is left.
func (b *Bench) tickRoom() {
	s := &b.show
	if s.tick != nil {
		s.tick()
	}
	left := b.timeLeft()
	wait := left % time.Second
	if wait == 0 {
		wait = time.Second
	}
	s.tick = b.run.After(min(wait, max(left, time.Millisecond)), func() {
		s.tick = nil
		if !s.running() {
			return
		}
		over := b.o.Now().Sub(s.since) - s.left // what the tick came late is taken from the next station
		switch {
		case over < 0:
		case s.at+1 < s.stations:
			s.since = s.since.Add(s.left)
			s.at++
			s.left = b.StationTime()
			b.wantShot(s.at)
			b.wantShot(s.at + 1)
		default:
			s.since, s.left, s.ended = time.Time{}, 0, true
		}
		b.changed(TimeChanged)
		if s.running() {
			b.tickRoom()
		}
	})
}

// leaveRoom goes back to where the show began.
func (b *Bench) leaveRoom() {
	b.holdRoom()
	from := b.show.from
	b.show = showRoom{per: b.show.per}
	b.enter(from)
}
