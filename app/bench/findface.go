package bench

import (
	"context"
	"math"
	"slices"
	"strings"

	"sectionary/slices/geom"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// mostCompared is how many faces are compared with a cut when their levels tell which lie near.
const mostCompared = 8

// candidate is a face that may show the cut chosen on the scan.
type candidate struct {
	face     section.Face
	away     float64 // mm along the cut between face and cut, NaN while no level is tied
	likeness float64 // nats shared with the cut, NaN where the picture could not be compared
}

// FindFace looks for the faces of the run that show the cut of the scan as it stands: those that lie nearest by the levels, and how much
// of the cut each face's picture shares. Without levels the pictures alone rank them. It is a job; going to a face is the person's choice.
func (b *Bench) FindFace() {
	pose, _, ok := b.cutPose()
	if b.pair.volume == nil || !ok {
		b.hint(Word("pair.noscan"), true)
		return
	}
	run, series, lib, tied, v := b.Run(), b.pair.series, b.lab.lib, b.pair.tied, b.pair.volume
	level := register.Along(run.Plane, b.middleOfCut(pose))
	found := b.candidates(level)
	if len(found) == 0 {
		b.hint(Word("findface.none"), true)
		return
	}
	ids := make([]string, len(found))
	for i, c := range found {
		ids[i] = b.rule.facts[c.face].plate
	}
	b.startTelling(Word("job.findface"), func(ctx context.Context, say func(share float64, doing string)) (func(), error) {
		for i := range found {
			n, of := float64(i), float64(len(found))
			say(n/of, Word("findface.comparing", run.Name(found[i].face)))
			found[i].likeness = compareCut(ctx, lib, ids[i], v, run.Plane, level, tied.Centre)
			if err := ctx.Err(); err != nil {
				return nil, err
			}
		}
		return func() {
			if b.Run().ID == run.ID && b.pair.series == series {
				b.proposeFaces(found)
			}
		}, nil
	})
}

// middleOfCut is the place of the patient in the middle of the chosen face on the cut, by which its level is told.
func (b *Bench) middleOfCut(pose geom.Pose) geom.LPS {
	p, _ := b.Plate()
	if h, scaled := faceMM(p); scaled {
		return pose.At(h.MM(p.MiddlePx()))
	}
	m, _ := pose.Project(b.pair.tied.Centre)
	return pose.At(m)
}

// candidates are the photographed faces whose picture can be compared, the nearest by level first.
func (b *Bench) candidates(level float64) (out []candidate) {
	known := true
	for _, f := range b.Run().Faces() {
		if x, there := b.rule.facts[f]; !there || !x.letters || !x.scale {
			continue
		}
		c := candidate{face: f, away: math.NaN(), likeness: math.NaN()}
		if at, ok := b.levelOf(f); ok {
			c.away = math.Abs(at - level)
		} else {
			known = false
		}
		out = append(out, c)
	}
	if known {
		slices.SortStableFunc(out, func(x, y candidate) int { return compareFloat(x.away, y.away) })
		out = out[:min(len(out), mostCompared)]
	}
	return out
}

// compareCut is how much the picture of a plate shares with the scan's cut at a level, in nats; NaN where it cannot be told.
func compareCut(ctx context.Context, lib library, id string, v register.Cutter, plane section.Plane, level float64, centre geom.LPS) float64 {
	p, err := lib.Plate(id)
	if err != nil {
		return math.NaN()
	}
	m, err := lib.Photo(ctx, id)
	if err != nil {
		return math.NaN()
	}
	out, err := likeliest(ctx, p, m, v, plane, []section.Face{p.Face}, map[section.Face]float64{p.Face: level}, centre, func(float64, string) {})
	if err != nil || len(out) != 1 {
		return math.NaN()
	}
	return out[0].likeness
}

// proposeFaces lets a person go to one of the faces found, with the reason for each.
func (b *Bench) proposeFaces(found []candidate) {
	var known []float64
	for _, c := range found {
		if !math.IsNaN(c.likeness) {
			known = append(known, c.likeness)
		}
	}
	slices.Sort(known)
	if math.IsNaN(found[0].away) {
		slices.SortStableFunc(found, func(x, y candidate) int { return compareFloat(orLeast(y.likeness), orLeast(x.likeness)) })
	}
	m := Message{Title: Word("findface.title")}
	var lines []string
	for _, c := range found[:min(len(found), mostPlaces)] {
		var why []string
		if !math.IsNaN(c.away) {
			why = append(why, Word("findface.away", c.away))
		}
		if !math.IsNaN(c.likeness) {
			why = append(why, Word("find.reason", c.likeness, known[len(known)/2]))
		}
		if len(why) == 0 {
			why = append(why, Word("findface.unlike"))
		}
		lines = append(lines, Word("find.line", upperFirst(b.FaceName(c.face)), strings.Join(why, "; ")))
		m.Choices = append(m.Choices, Choice{Word("findface.go", b.FaceName(c.face)), func() { b.ChooseFace(c.face) }})
	}
	if best := likest(found); best != nil && !slices.ContainsFunc(found[:min(len(found), mostPlaces)], func(c candidate) bool { return c.face == best.face }) {
		lines = append(lines, Word("findface.content", b.FaceName(best.face)))
	}
	m.Choices = append(m.Choices, Choice{Word("findface.stay"), nil})
	m.Hint = strings.Join(append(lines, Word("findface.hint")), "\n")
	b.say(m)
}

// likest is the face whose picture shares most with the cut, nil when none could be compared.
func likest(found []candidate) (best *candidate) {
	for i := range found {
		if l := found[i].likeness; !math.IsNaN(l) && (best == nil || l > best.likeness) {
			best = &found[i]
		}
	}
	return best
}

func orLeast(x float64) float64 {
	if math.IsNaN(x) {
		return math.Inf(-1)
	}
	return x
}
