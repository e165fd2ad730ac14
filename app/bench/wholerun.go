package bench

import (
	"context"
	"errors"
	"math"
	"reflect"
	"slices"
	"strings"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// wholeRun is the run solved at once, and what it was solved from: it counts only while that is still so.
type wholeRun struct {
	whole  register.Whole
	slabs  []section.Slab
	levels []register.Level
	laid   map[string]*register.Registration // by plate
}

// byRun says that a face lies as the whole run places it.
const byRun = "run"

// needWhole says why the run cannot be solved at once.
func needWhole(b *Bench) string {
	switch {
	case b.pair.series == "":
		return Word("pair.noscan")
	case len(b.pair.tied.Levels) == 0 && !slices.ContainsFunc(b.Run().Faces(), func(f section.Face) bool { return b.rule.facts[f].paired }):
		return Word("whole.nothing")
	}
	return ""
}

// SolveWhole places all faces of the run at once, as a job: by slabs and kerfs as measured, landmarks and tie levels. Faces
// without landmarks get a level and its standard error too; slabs that do not fit are named in a message.
func (b *Bench) SolveWhole() {
	if why := needWhole(b); why != "" {
		b.hint(why, true)
		return
	}
	run, tied, series, lib := b.Run(), b.pair.tied, b.pair.series, b.lab.lib
	known, unread := map[string]atlas.Plate{}, []string{}
	for _, x := range b.rule.facts {
		if d := b.docs[x.plate]; d != nil {
			known[x.plate] = d.plate()
		} else {
			unread = append(unread, x.plate)
		}
	}
	b.start(Word("job.whole"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		for i, id := range unread {
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			if p, err := lib.Plate(id); err == nil {
				known[id] = p
			}
			tell(i, len(unread)+1)
		}
		w := &wholeRun{slabs: run.Slabs, levels: tied.Levels, laid: map[string]*register.Registration{}}
		for id, p := range known {
			w.laid[id] = p.Registration
		}
		var err error
		w.whole, err = register.SolveRun(run, sightings(run, tied, series, known), register.Spreads{})
		if err != nil && !(errors.Is(err, register.ErrOutOfOrder) && len(w.whole.Doubts) > 0) {
			return nil, err
		}
		return func() {
			if b.Run().ID != run.ID || b.pair.series != series {
				return // another run was chosen meanwhile
			}
			b.pair.whole = w
			b.sayDoubts(w.whole.Doubts)
			b.changed(ScanChanged | RunChanged)
		}, nil
	})
}

// sightings are what is known of where the faces of a run lie in a series: landmarks, fits by content, tie levels.
func sightings(run section.Run, tied atlas.LevelTies, series string, plates map[string]atlas.Plate) []register.Sighting {
	on := map[section.Face]*register.Sighting{}
	at := func(f section.Face) *register.Sighting {
		if on[f] == nil {
			on[f] = &register.Sighting{Face: f}
		}
		return on[f]
	}
	for _, p := range plates {
		r := p.Registration
		if r == nil || r.Series != series || !laidTruly(r, p.Face) {
			continue
		}
		s := at(p.Face)
		for _, t := range r.Ties {
			s.Points = append(s.Points, t.Scan)
		}
		if h, ok := p.FaceMM(); ok && len(s.Points) < 3 { // a fit by content without landmarks
			s.Points = nil
			level := register.Along(run.Plane, r.Pose.At(h.MM(p.MiddlePx())))
			s.Level = &level
		}
	}
	const near = 0.5 // mm: a tie level belongs to the face it was tied at
	for _, f := range run.Faces() {
		depth, _, err := run.Depth(f)
		for _, l := range tied.Levels {
			if err == nil && math.Abs(l.Run-depth) < near && at(f).Level == nil && len(at(f).Points) == 0 {
				at(f).Level = &l.Scan
				break
			}
		}
	}
	var out []register.Sighting
	for _, f := range run.Faces() {
		if s := on[f]; s != nil && (s.Level != nil || len(s.Points) > 0) {
			out = append(out, *s)
		}
	}
	return out
}

// sayDoubts names the slabs that do not fit.
func (b *Bench) sayDoubts(doubts []register.Doubt) {
	if len(doubts) == 0 {
		b.hint(Word("whole.sound"), false)
		return
	}
	var lines []string
	for i, d := range doubts {
		if i > 0 {
			lines = append(lines, Word("whole.or", d.Words))
			continue
		}
		lines = append(lines, d.Words)
	}
	b.say(Message{Title: Word("whole.doubt"), Hint: strings.Join(lines, "\n")})
}

// solved is the run solved at once while it still holds, else nil.
func (b *Bench) solved() *register.Whole {
	w := b.pair.whole
	if w == nil || !slices.Equal(w.slabs, b.Run().Slabs) || !slices.Equal(w.levels, b.pair.tied.Levels) {
		return nil
	}
	return &w.whole
}

// relaidOf drops the solved run when a face came to lie otherwise.
func (b *Bench) relaidOf(p atlas.Plate) {
	if w := b.pair.whole; w != nil {
		if old := w.laid[p.ID]; !reflect.DeepEqual(old, p.Registration) {
			b.pair.whole = nil
		}
	}
}

// wholePose places a face as the solved run does.
func (b *Bench) wholePose(f section.Face, up section.Facing, middle geom.MM) (geom.Pose, bool) {
	w := b.solved()
	if w == nil {
		return geom.Pose{}, false
	}
	pose, _, err := w.Pose(f, up, middle, b.pair.tied.Centre)
	return pose, err == nil
}

// WholeWords tell what solving the run at once gave: for the chosen face, and for the run.
func (b *Bench) WholeWords() string {
	w := b.solved()
	if w == nil {
		return ""
	}
	var words []string
	worst, own := 0, 0
	for i, p := range w.Faces {
		if p.Face.Slab == b.Face().Slab && p.Face.Facing == b.Face().Facing {
			key := "whole.face"
			if p.Own {
				key = "whole.face.own"
			}
			words = append(words, Word(key, upperFirst(b.FaceName(p.Face)), p.Level, p.SE))
		}
		if p.Own {
			own++
		}
		if p.SE > w.Faces[worst].SE {
			worst = i
		}
	}
	if len(w.Faces) == 0 {
		return ""
	}
	x := w.Faces[worst]
	words = append(words, Word("whole.run", len(w.Faces), own, x.SE, b.FaceName(x.Face), 100*(w.Stretch-1), 100*w.StretchSE))
	return strings.Join(words, " ")
}
