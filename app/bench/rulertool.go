package bench

import (
	"context"
	"errors"
	"image/color"
	"math"
	"slices"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
)

// RulerSteps are the usual distances of ticks, mm, offered beside the field for any other.
var RulerSteps = [...]float64{1, 5, 10}

// FoundRuler is a row of ticks that was found in the photograph and lies on it as a suggestion.
type FoundRuler struct {
	photo.Ruler
	Step  float64 // mm that a person says one step is; 0 until then
	Words string  // "18 ticks seen, 17 steps of 30.3 px (spread 0.03)."
}

// FindRuler looks for the ticks of a ruler in the photograph, as a job. What it finds is laid on the picture unless a
// person has clicked a tick meanwhile.
func (b *Bench) FindRuler() {
	if b.doc == nil {
		b.Report(ErrNoPhoto)
		return
	}
	if !b.doc.whole {
		b.hint(Word("face.reading"), false)
		return
	}
	b.draw.scale.Mode, b.draw.scale.Points = TwoTicks, nil
	b.seekRuler(true)
}

// seekRuler starts the job; asked tells that a person wants to know when there is no ruler.
func (b *Bench) seekRuler(asked bool) {
	d := b.doc
	if d.seeking {
		return
	}
	d.seeking = true
	m := d.picture
	b.start(Word("job.ruler"), func(ctx context.Context, _ func(done, total int)) (func(), error) {
		r, err := photo.FindRuler(ctx, m)
		none := errors.Is(err, photo.ErrNoRuler)
		if none {
			err = nil
		}
		return func() {
			d.seeking = false
			switch {
			case b.doc != d || b.draw.tool != ToolScale:
			case none && asked:
				b.hint(Word("ruler.none"), true)
			case none || err != nil || len(b.draw.scale.Points) > 0 || b.draw.scale.Mode != TwoTicks:
			default:
				b.layRuler(r)
			}
			b.changed(SelectionChanged)
		}, err
	})
}

// wantRuler looks for a ruler unasked where a face without a scale is to get one.
func (b *Bench) wantRuler() {
	d := b.doc
	if d == nil || !d.whole || d.sought || b.draw.tool != ToolScale || b.screen != FaceScreen {
		return
	}
	if _, has := b.hasScale(); has {
		return
	}
	d.sought = true
	b.seekRuler(false)
}

// Seeking reports whether the photograph is being searched for a ruler.
func (b *Bench) Seeking() bool { return b.doc != nil && b.doc.seeking }

// layRuler lays a suggestion on the picture: its end ticks are the two ticks of the draft.
func (b *Bench) layRuler(r photo.Ruler) {
	s := &b.draw.scale
	s.Ruler = &FoundRuler{Ruler: r, Words: rulerWords(r)}
	s.Points, s.Length = []geom.Px{r.First, r.Last}, 0
	b.checkScale()
}

func rulerWords(r photo.Ruler) string {
	w := Word("ruler.found", r.Seen, r.Steps, r.Spacing, r.SD)
	if math.Abs(r.Drift) > rulerDrift {
		w += " " + Word("ruler.drift", 100*math.Abs(r.Drift))
	}
	return w
}

// rulerDrift is the change of the step along the ruler from which the camera is said to lean, as a part of the step. Common practice, no source.
const rulerDrift = 0.01

// SetRulerStep says how many mm one step of the ruler found is.
func (b *Bench) SetRulerStep(mm float64) {
	s := &b.draw.scale
	if s.Ruler == nil {
		return
	}
	r := *s.Ruler
	r.Step = mm
	s.Ruler = &r
	s.Length = mm * float64(r.Steps)
	b.checkScale()
}

// dropRuler lets the suggestion go; the ticks of the draft stay.
func (s *ScaleDraft) dropRuler() { s.Ruler = nil }

// moveRulerEnd moves end i of the ruler to the tick nearest to p; taken well off the row, the suggestion is let go and the
// point stays where it was put.
func (b *Bench) moveRulerEnd(i int, p geom.Px) {
	s := &b.draw.scale
	r := s.Ruler
	k, off := nearestTick(r.Ruler, p)
	if off > max(0.6*r.Spacing, 3*math.Hypot(r.Tick.X, r.Tick.Y)) {
		s.dropRuler()
		return
	}
	other := 1 - i
	l, _ := nearestTick(r.Ruler, s.Points[other])
	if k == l {
		return
	}
	next := *r
	next.Steps = max(k-l, l-k)
	next.Words = Word("ruler.between", next.Steps, r.Spacing, r.SD)
	s.Ruler = &next
	s.Points = slices.Clone(s.Points)
	s.Points[i] = r.Ticks[k]
	s.Length = r.Step * float64(next.Steps)
	b.checkScale()
}

// nearestTick is the number of the tick nearest to p and how far off it lies, px.
func nearestTick(r photo.Ruler, p geom.Px) (k int, off float64) {
	off = math.Inf(1)
	for i, t := range r.Ticks {
		if d := t.Dist(p); d < off {
			k, off = i, d
		}
	}
	return k, off
}

// paintRuler draws the ticks found: between the ends in the colour of what is chosen, the others fainter.
func (f *facePane) paintRuler(r brush, v Viewport) {
	s := f.b.draw.scale
	if s.Ruler == nil || len(s.Points) != 2 {
		return
	}
	x := s.Ruler
	a, _ := nearestTick(x.Ruler, s.Points[0])
	z, _ := nearestTick(x.Ruler, s.Points[1])
	a, z = min(a, z), max(a, z)
	every := 1
	for x.Spacing*float64(every)*v.Zoom < r.u(3) { // so that they do not run together
		every *= 5
	}
	for k, p := range x.Ticks {
		if k%every != 0 && k != a && k != z {
			continue
		}
		long := 1.0
		if k == a || k == z {
			long = 1.6
		}
		from := v.Device(geom.Px{X: p.X - long*x.Tick.X, Y: p.Y - long*x.Tick.Y})
		to := v.Device(geom.Px{X: p.X + long*x.Tick.X, Y: p.Y + long*x.Tick.Y})
		c, width := r.pal.ChosenOnDark, 1.4
		if k < a || k > z {
			c, width = ink.Fade(r.pal.OnDark, 0.7), 1
		}
		ink.Line(r.dst, from, to, r.u(width+2), ink.Fade(color.RGBA{0, 0, 0, 255}, 0.5))
		ink.Line(r.dst, from, to, r.u(width), c)
	}
}
