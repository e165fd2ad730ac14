package quiz

import (
	"context"

	"sectionary/atlas"
)

// Frame is one picture of an exam shown to a room, with what is asked of it. The picture itself is painted by Proof for
// its Station.
type Frame struct {
	Station int // counts from 0
	Code    string
	Seconds int
	Asked   []Asked
	SHA256  string // of the picture and its questions, as Proof gives it; "" until painted
}

// Asked is one question as it is shown, without its answer.
type Asked struct {
	Letter  string // "" for a place to point at
	Text    string
	Options []string
	Form    Form
	Marks   float64
}

// Asked lists what a station asks, without answers.
func (s Station) Asked() (out []Asked) {
	for _, a := range s.Asks {
		for _, q := range a.Questions {
			x := Asked{Letter: a.Letter, Text: q.Text, Options: q.Options, Form: q.Form, Marks: q.Marks}
			if q.Form == Pointed {
				x.Letter = ""
			}
			out = append(out, x)
		}
	}
	return out
}

// Reel is an exam for a room: its pictures in order.
type Reel struct {
	Title  string
	Code   string // of the hand-out as which it is recorded
	Frames []Frame
}

// Seconds are those of all frames.
func (r Reel) Seconds() (sum int) {
	for _, f := range r.Frames {
		sum += f.Seconds
	}
	return sum
}

// Project prepares an exam to be shown to a room. What keeps an exam from being rendered keeps it from being shown, and
// the showing stands in the record as a hand-out would, so that its pictures count as seen afterwards. A refusal is no
// error: the slip says why.
func (b Board) Project(ctx context.Context, x Spotter, r Release) (Reel, Slip, error) {
	if b.Lib.Mode() == atlas.ReadOnly {
		return Reel{}, Slip{}, atlas.ErrReadOnly
	}
	m := newMaking(b, x, r)
	err := m.ready(ctx)
	if reason := Sentence(err); reason != "" {
		m.slip.Reason = reason
		return Reel{}, m.slip, m.record(false)
	}
	if err != nil {
		return Reel{}, m.slip, err
	}
	out := Reel{Title: x.Title, Code: m.slip.Code}
	for i, s := range x.Stations {
		f := Frame{Station: i, Code: s.Code, Seconds: s.Seconds, Asked: s.Asked()}
		if s.Look != nil {
			f.SHA256 = s.Look.Picture
		}
		out.Frames = append(out.Frames, f)
	}
	m.slip.Allowed = true
	return out, m.slip, m.record(true)
}
