package bench

import (
	"context"
	"math"
	"slices"
	"strings"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// mostPlaces is how many places are proposed for a photograph.
const mostPlaces = 3

// proposal is a face on which a photograph of the tray may belong, with the reason.
type proposal struct {
	face     section.Face
	likeness float64
	words    string
}

// FindPlace compares a photograph of the tray with the scan at the level of every face of the run, as a job, and proposes the
// likeliest of those that have no photograph yet, with the reason. Nothing is laid until a person chooses.
func (b *Bench) FindPlace(id string) {
	why := ""
	switch {
	case b.readOnly():
		why = Word("saved.readonly")
	case b.pair.series == "":
		why = Word("find.noscan")
	case !b.pair.levels.Known() && b.solved() == nil:
		why = Word("find.nolevel")
	}
	faces := b.Run().Faces()
	if why == "" && !slices.ContainsFunc(faces, b.empty) {
		why = Word("find.full")
	}
	if why != "" {
		b.say(Message{Title: why})
		return
	}
	run, series, lib, tied := b.Run(), b.pair.series, b.lab.lib, b.pair.tied
	var laid []string
	for _, x := range b.rule.facts {
		if x.scale && x.letters {
			laid = append(laid, x.plate)
		}
	}
	slices.Sort(laid)
	levels := map[section.Face]float64{}
	for _, f := range faces {
		if level, ok := b.levelOf(f); ok {
			levels[f] = level
		}
	}
	b.startTelling(Word("job.find"), func(ctx context.Context, say func(share float64, doing string)) (func(), error) {
		say(0, Word("find.reading"))
		p, err := lib.Plate(id)
		if err != nil {
			return nil, err
		}
		var others []atlas.Plate
		for _, id := range laid {
			if o, err := lib.Plate(id); err == nil {
				others = append(others, o)
			}
		}
		p, assumed, err := assume(p, others)
		if err != nil {
			return nil, err
		}
		m, err := lib.Photo(ctx, id)
		if err != nil {
			return nil, err
		}
		v, err := lib.Volume(ctx, series)
		if err != nil {
			return nil, err
		}
		found, err := likeliest(ctx, p, m, v, run.Plane, faces, levels, tied.Centre, say)
		return func() {
			if err == nil && b.Run().ID == run.ID {
				b.proposePlaces(id, found, assumed)
			}
		}, err
	})
}

// empty reports whether a face has no photograph.
func (b *Bench) empty(f section.Face) bool {
	_, taken := b.rule.facts[f]
	return !taken
}

// levelOf is where a face lies along the cut in the scan, by the whole run when it is solved, else by the tie levels.
func (b *Bench) levelOf(f section.Face) (float64, bool) {
	if w := b.solved(); w != nil {
		for _, p := range w.Faces {
			if p.Face.Slab == f.Slab && p.Face.Facing == f.Facing {
				return p.Level, true
			}
		}
	}
	depth, _, err := b.Run().Depth(f)
	if err != nil || !b.pair.levels.Known() {
		return 0, false
	}
	at, _ := b.pair.levels.Scan(depth)
	return at, true
}

// assume gives a photograph that has none the scale and the top of the run's other photographs of its size: one sitting is
// taken from one stand. It tells in words what was assumed; without any to go by it fails with photo.ErrNoScale.
func assume(p atlas.Plate, others []atlas.Plate) (atlas.Plate, string, error) {
	others = slices.DeleteFunc(others, func(o atlas.Plate) bool { return o.Photo.Size != p.Photo.Size })
	var words []string
	if _, scaled := p.FaceMM(); !scaled {
		if len(others) == 0 {
			return p, "", photo.ErrNoScale
		}
		slices.SortFunc(others, func(x, y atlas.Plate) int { return compareFloat(millimetres(x), millimetres(y)) })
		mm := millimetres(others[len(others)/2])
		p.Calibration = photo.Calibration{Status: photo.Scaled, ToMM: geom.Homography{mm, 0, 0, 0, mm, 0, 0, 0, 1}}
		words = append(words, Word("find.scale", mm))
	}
	if p.PhotoUp == section.UnknownFacing && len(others) > 0 {
		n := map[section.Facing]int{}
		for _, o := range others {
			if n[o.PhotoUp]++; n[o.PhotoUp] > n[p.PhotoUp] {
				p.PhotoUp = o.PhotoUp
			}
		}
		words = append(words, Word("find.up", Word("find.up."+p.PhotoUp.String())))
	}
	return p, strings.Join(words, " "), nil
}

func compareFloat(a, z float64) int {
	switch {
	case a < z:
		return -1
	case a > z:
		return 1
	}
	return 0
}

// millimetres is how many mm one pixel of a photograph is in its middle.
func millimetres(p atlas.Plate) float64 {
	h, _ := p.FaceMM()
	return math.Sqrt(math.Abs(determinant(h.Jacobian(p.MiddlePx()))))
}

// likeliest compares p with the cuts at levels as each way its faces look, and ranks the faces. It runs away from the event loop.
func likeliest(ctx context.Context, p atlas.Plate, m *photo.Image, v register.Cutter, plane section.Plane, faces []section.Face,
	levels map[section.Face]float64, centre geom.LPS, say func(share float64, doing string)) ([]proposal, error) {
	const spacing = 1.5 // mm: levels are compared coarsely
	grey, inside, corner, err := greyFace(p, m, spacing)
	if err != nil {
		return nil, err
	}
	h, _ := p.FaceMM()
	middle := h.MM(p.MiddlePx())
	f, _ := frameOfFace(p)
	var out []proposal
	var all []float64
	for k, facing := range plane.Faces() {
		up := p.PhotoUp
		if up == section.UnknownFacing {
			up = usualUp(facing)
		}
		square, err := section.SquarePose(facing, up, geom.LPS{X: centre.X, Y: centre.Y, Z: centre.Z})
		if err != nil {
			return nil, err
		}
		square = f.back(square)
		square = square.Shift(centre.Sub(square.At(middle)))
		var mine []section.Face
		var at []float64
		for _, face := range faces {
			if level, ok := levels[face]; ok && face.Facing == facing {
				mine = append(mine, face)
				at = append(at, (level-register.Along(plane, centre))*axisSign(square.Normal()))
			}
		}
		if len(mine) == 0 {
			continue
		}
		likeness, err := register.Likeness(ctx, grey, spacing, square, at, v, register.Options{Corner: corner, Inside: inside,
			Rough:   register.Rough{Shift: 25, Turn: 0.2},
			Advance: func(share float64, doing string) { say((float64(k)+share)/2, doing) }})
		if err != nil {
			return nil, err
		}
		for i, face := range mine {
			out = append(out, proposal{face: face, likeness: likeness[i]})
			all = append(all, likeness[i])
		}
	}
	if len(out) == 0 {
		return nil, register.ErrNothingToSee
	}
	slices.Sort(all)
	usual := all[len(all)/2]
	slices.SortStableFunc(out, func(a, z proposal) int { return compareFloat(z.likeness, a.likeness) })
	for i := range out {
		out[i].words = Word("find.reason", out[i].likeness, usual)
	}
	return out, nil
}

// axisSign tells whether a normal leads up or down its axis of the body.
func axisSign(n geom.Vec) float64 {
	if n.X+n.Y+n.Z < 0 {
		return -1
	}
	return 1
}

// proposePlaces lets a person choose among the likeliest places.
func (b *Bench) proposePlaces(id string, found []proposal, assumed string) {
	m := Message{Title: Word("find.title")}
	var lines []string
	if len(found) > 0 && !b.empty(found[0].face) {
		lines = append(lines, Word("find.taken", b.FaceName(found[0].face), found[0].words))
	}
	for _, p := range found {
		if !b.empty(p.face) || len(m.Choices) == mostPlaces {
			continue
		}
		lines = append(lines, Word("find.line", upperFirst(b.FaceName(p.face)), p.words))
		m.Choices = append(m.Choices, Choice{Word("find.lay", b.FaceName(p.face)), func() {
			if err := b.Place(id, p.face); err != nil {
				b.Report(err)
				return
			}
			b.ChooseFace(p.face)
		}})
	}
	m.Choices = append(m.Choices, Choice{Word("find.none"), nil})
	if assumed != "" {
		lines = append(lines, assumed)
	}
	m.Hint = strings.Join(append(lines, Word("find.hint")), "\n")
	b.say(m)
}
