package bench

import (
	"cmp"
	"errors"
	"math"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// Again is what the screen of a new picture, or of earlier pictures, shows.
func (b *Bench) Again() AgainInfo {
	a := &b.again
	i := AgainInfo{Laying: a.laying, Face: upperFirst(b.FaceName(a.old.Face)), Old: photographed(a.old), Now: photographed(a.next), Exams: a.exams,
		Offers: len(a.offers), Seeking: a.seek != nil, Outlines: !a.hidden, Mirrored: a.next.Mirrored, AsksMirrored: a.laying && a.next.Photo.Mirrored}
	if !a.laying {
		return i
	}
	i.Ties = a.rows()
	i.State, i.Warn = a.state()
	i.Next = a.todo()
	i.Why = a.why()
	i.Ready = i.Why == "" && a.keep == nil
	if a.fault == nil {
		i.Outcome = b.outcome(a.found)
	}
	return i
}

// photographed says when a picture was taken.
func photographed(p atlas.Plate) string {
	if p.Photo.Taken.IsZero() {
		return Word("again.notime")
	}
	return Word("again.taken", p.Photo.Taken.Format("2 January 2006, 15:04"))
}

// rows lists the ties, the worst first.
func (a *againRoom) rows() []AgainTie {
	out := make([]AgainTie, len(a.ties))
	for i := range a.ties {
		r := AgainTie{N: i + 1, MM: math.NaN(), Px: math.NaN(), Words: Word("again.tie.only", i+1)}
		if f := a.found.Fit; a.fault == nil && i < len(f.Error) {
			r.MM, r.Px, r.LeftOut = f.Error[i], f.Fit.Each[i], f.LeftOut[i]
			switch {
			case r.LeftOut:
				r.Words = Word("again.tie.left", i+1, r.MM)
			case math.IsNaN(r.MM):
				r.Words = Word("again.tie.px", i+1, r.Px)
			default:
				r.Words = Word("again.tie", i+1, r.MM)
			}
		}
		out[i] = r
	}
	worth := func(r AgainTie) float64 {
		switch {
		case !math.IsNaN(r.MM):
			return r.MM
		case !math.IsNaN(r.Px):
			return r.Px
		}
		return -1
	}
	slices.SortStableFunc(out, func(x, y AgainTie) int { return cmp.Compare(worth(y), worth(x)) })
	return out
}

// state says how the ties fit.
func (a *againRoom) state() (words string, warn bool) {
	n := len(a.ties)
	f := a.found.Fit
	switch {
	case n >= 3 && atlas.TurnedOver(a.ties, a.old, a.next) || errors.Is(a.fault, atlas.ErrOtherFace):
		return Word("again.state.over"), true
	case n == 0:
		return Word("again.state.none"), false
	case n == 3:
		return Word("again.state.three"), false
	case n < 3:
		return count("again.state.few", n), false
	case errors.Is(a.fault, atlas.ErrCrossedTies):
		return Word("again.state.crossed"), true
	case errors.Is(a.fault, geom.ErrDegenerate):
		return Word("again.state.line"), true
	case errors.Is(a.fault, atlas.ErrNotOriented):
		return Word("again.state.mirrored"), true
	case a.fault != nil:
		m := Explain(a.fault)
		return m.Title, true
	case a.found.New.Calibration.Status == photo.Nominal:
		return Word("again.state.noscale", n, f.Fit.RMS), false
	}
	worst, left := 0.0, 0
	for i, e := range f.Error {
		if f.LeftOut[i] {
			left++
		} else if !(e <= worst) {
			worst = e
		}
	}
	if left > 0 {
		return count("again.state.left", left, n-left, worst), true
	}
	return Word("again.state.good", n, worst), worst > annotate.LookAgainMM
}

// todo says what to do next.
func (a *againRoom) todo() string {
	switch {
	case a.half.old != nil:
		return Word("again.todo.now", len(a.ties)+1)
	case a.half.now != nil:
		return Word("again.todo.old", len(a.ties)+1)
	case len(a.offers) > 0:
		return count("again.todo.offers", len(a.offers))
	case a.asked:
		return Word("again.todo.nooffers")
	}
	return Word("again.todo", len(a.ties)+1)
}

// why says why the new picture cannot be accepted yet, "" when it can.
func (a *againRoom) why() string {
	switch n := len(a.ties); {
	case n < 4:
		return count("again.why.few", 4-n)
	case a.fault != nil:
		words, _ := a.state()
		return words
	}
	return ""
}

// outcome tells what comes over, a line each.
func (b *Bench) outcome(s atlas.Succession) (out []string) {
	n := s.New
	add := func(key string, args ...any) { out = append(out, Word(key, args...)) }
	out = append(out, count("again.out.labels", n.Labels.Len()))
	labels, border := 0, false
	for _, x := range n.LookAgain() {
		switch x.Part {
		case atlas.OnLabel:
			labels++
		case atlas.OnBorder:
			border = true
		}
	}
	if labels > 0 {
		out = append(out, count("again.out.look", labels))
	}
	if border {
		add("again.out.border")
	}
	if len(n.Mask) > 0 {
		add("again.out.mask")
	}
	if len(s.Lost) > 0 {
		out = append(out, count("again.out.lost", len(s.Lost), strings.Join(b.namesOf(s.Old.Labels, s.Lost), ", ")))
	}
	if s.Unsigned > 0 {
		out = append(out, count("again.out.unsigned", s.Unsigned))
	}
	switch c := n.Calibration; {
	case s.Scale:
		add("again.out.scale", 100*c.ScaleSpread(n.MiddlePx()), 100*s.Old.Calibration.ScaleSpread(s.Old.MiddlePx()))
	case c.Status == photo.Nominal:
		add("again.out.noscale")
	default:
		add("again.out.ownscale")
	}
	switch {
	case n.PhotoUp == section.UnknownFacing:
		add("again.out.notop")
	case s.Turned:
		add("again.out.topunsure", Word("end."+n.PhotoUp.String()))
	case n.PhotoUp != s.Old.PhotoUp:
		add("again.out.top", Word("end."+n.PhotoUp.String()))
	}
	switch r := s.Old.Registration; {
	case r != nil && n.Registration == nil:
		add("again.out.placelost")
	case r != nil:
		add("again.out.place")
	}
	if s.Old.Second != nil {
		add("again.out.second")
	}
	return out
}

// namesOf are the names of labels, by id.
func (b *Bench) namesOf(l annotate.Labels, ids []string) []string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = b.labelName(l, id)
	}
	return out
}

func (b *Bench) labelName(l annotate.Labels, id string) string {
	x, _ := l.Find(id)
	if t, ok := b.term(x.Term); ok {
		return sided(t.Name, x.Side)
	}
	return Word("label.unnamed")
}

// sided is a name with its side.
func sided(name string, s annotate.Side) string {
	if s == annotate.Left || s == annotate.Right {
		return Word("look.sided", name, Word("look.side."+s.String()))
	}
	return name
}
