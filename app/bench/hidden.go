package bench

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/register"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// scanSpans are how far the structures of a label volume reach along a series, LPS mm along the cut at the middle of the faces.
type scanSpans struct {
	series string
	step   float64 // from one voxel to the next along the cut
	names  []string
	keys   []atlas.VolumeKey
	spans  [][2]float64
}

// spansOf measures the structures of a label volume along the cut as it leans: each voxel counts where the plane through it, parallel
// to the face at pose, meets the axis of the run. It runs away from the event loop.
func spansOf(ctx context.Context, v *scan.Volume, keys []atlas.VolumeKey, name func(atlas.VolumeKey) string, plane section.Plane, pose geom.Pose, centre geom.LPS) (s scanSpans, err error) {
	n := pose.Normal().Mul(axisSign(pose.Normal()))
	axis := geom.Vec{X: math.Abs(plane.Faces()[0].Axis().X), Y: math.Abs(plane.Faces()[0].Axis().Y), Z: math.Abs(plane.Faces()[0].Axis().Z)}
	lean := n.Dot(axis)
	if !(lean > 0.5) { // no cut leans that far
		n, lean = axis, 1
	}
	found, step, err := atlas.NumberSpans(ctx, v, centre, n.Mul(1/lean))
	if err != nil {
		return s, err
	}
	s.step = step
	zero := register.Along(plane, centre)
	for _, k := range keys {
		if x, ok := found[k.Number]; ok {
			s.names, s.keys = append(s.names, name(k)), append(s.keys, k)
			s.spans = append(s.spans, [2]float64{x[0] + zero, x[1] + zero})
		}
	}
	return s, nil
}

// keyName is what a number of a label volume is called.
func (b *Bench) keyName(k atlas.VolumeKey) string {
	words := string(k.Term)
	if t, ok := b.term(k.Term); ok {
		words = t.Name
	}
	if side := k.Side.String(); side == "left" || side == "right" {
		words = side + " " + words
	}
	return words
}

// UnseenRow is a structure that no face of the run cuts.
type UnseenRow struct {
	Words string
	Here  bool // the cut shown passes through it
}

// Unseen lists the structures of the scan's labels that no face cuts: hidden by thickness and lost to the saw. why tells what is missing
// before that can be said.
func (b *Bench) Unseen() (hidden, lost []UnseenRow, why string) {
	s := b.pair.spans
	switch {
	case b.pair.series == "":
		return nil, nil, Word("pair.noscan")
	case s.series != b.pair.series:
		return nil, nil, Word("unseen.nolabels")
	case !b.pair.levels.Known():
		return nil, nil, Word("hint.level")
	}
	run, onFace := b.Run(), b.drawnOnFaces()
	var spans []section.Span
	for i, x := range s.spans {
		if onFace[structure{s.keys[i].Term, s.keys[i].Side}] {
			continue // seen, whatever the levels say
		}
		from, _ := b.pair.levels.Run(x[0])
		to, _ := b.pair.levels.Run(x[1])
		spans = append(spans, section.Span{Name: s.names[i], From: math.Min(from, to), To: math.Max(from, to)})
	}
	h, l := run.Unseen(spans, s.step/2)
	depth, _, err := run.Depth(b.Face())
	depth += b.ScanStep()
	rows := func(in []section.Hiding) (out []UnseenRow) {
		for _, x := range in {
			here := err == nil && depth >= x.From-s.step/2 && depth <= x.To+s.step/2
			out = append(out, UnseenRow{Words: upperFirst(x.Words), Here: here})
		}
		slices.SortStableFunc(out, func(a, z UnseenRow) int { return cmp.Compare(truth(z.Here), truth(a.Here)) })
		return out
	}
	return rows(h), rows(l), ""
}

// drawnOnFaces are the structures outlined on faces of the run. One with no side stands for either side, and either side for one
// with none.
func (b *Bench) drawnOnFaces() map[structure]bool {
	out := map[structure]bool{}
	for _, f := range b.rule.facts {
		for _, x := range f.drawn {
			out[x], out[structure{x.term, annotate.NoSide}] = true, true
			if x.side != annotate.Left && x.side != annotate.Right {
				out[structure{x.term, annotate.Left}], out[structure{x.term, annotate.Right}], out[structure{x.term, annotate.Midline}] = true, true, true
			}
		}
	}
	return out
}

func truth(b bool) int {
	if b {
		return 1
	}
	return 0
}

// unseenHere names what the cut shown passes through and no face cuts, "" for nothing.
func (b *Bench) unseenHere() string {
	if b.pair.step == 0 {
		return ""
	}
	hidden, lost, _ := b.Unseen()
	var names []string
	for _, x := range append(hidden, lost...) {
		if x.Here {
			name, _, _ := strings.Cut(x.Words, ":")
			names = append(names, strings.ToLower(name[:1])+name[1:])
		}
	}
	if len(names) == 0 {
		return ""
	}
	return Word("unseen.here", strings.Join(names, ", "))
}
