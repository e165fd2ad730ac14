package bench

import (
	"errors"
	"math"
	"slices"
	"strings"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// ties are the landmarks of the chosen face in the chosen series: those kept with the plate, or picks not yet kept.
func (b *Bench) ties() []register.Tie {
	switch {
	case b.doc == nil:
		return nil
	case b.doc.picks != nil:
		return b.doc.picks
	}
	p := b.doc.plate()
	if r := p.Registration; r != nil && r.Series == b.pair.series {
		return r.Ties
	}
	if p.Picks != nil && p.Picks.Series == b.pair.series {
		return p.Picks.Ties
	}
	return nil
}

// pickFace takes a landmark clicked on the face.
func (b *Bench) pickFace(p geom.Px) {
	if ok, why := b.PairingReady(); !ok {
		b.hint(why, true)
		return
	}
	b.pair.half.face = &p
	b.pickDone()
}

// pickScan takes a landmark clicked on the scan.
func (b *Bench) pickScan(p geom.LPS) {
	if ok, why := b.PairingReady(); !ok {
		b.hint(why, true)
		return
	}
	b.pair.half.scan = &p
	b.pickDone()
}

// pickDone makes a tie once both halves are there, whichever came first.
func (b *Bench) pickDone() {
	h := b.pair.half
	if h.face == nil || h.scan == nil {
		b.hint("", false)
		b.changed(ScanChanged | SelectionChanged)
		return
	}
	b.pair.half = halfTie{}
	b.tryTies(Word("step.tie", len(b.ties())+1), append(slices.Clone(b.ties()), register.Tie{Face: *h.face, Scan: *h.scan}))
}

// RemoveTie removes landmark n, from 1.
func (b *Bench) RemoveTie(n int) {
	t := b.ties()
	if n >= 1 && n <= len(t) {
		b.tryTies(Word("step.untie", n), slices.Delete(slices.Clone(t), n-1, n))
	}
}

// tryTies lays the face by these landmarks. What does not hold is not kept: the picks stay in hand to be looked at.
func (b *Bench) tryTies(name string, ties []register.Tie) {
	if b.doc == nil {
		return
	}
	err := b.edit(name, "", func(p atlas.Plate) (atlas.Plate, error) {
		return b.withTies(p, ties)
	})
	switch {
	case err == nil:
		b.doc.picks = nil
	case errors.Is(err, register.ErrTurnedOver):
		b.doc.picks = ties
		b.turnedOver()
	case errors.Is(err, atlas.ErrOtherTop):
		b.doc.picks = ties
		b.otherTop(err)
	case errors.Is(err, geom.ErrDegenerate):
		b.doc.picks = ties
		b.hint(Word("ties.line"), true)
	default:
		b.Report(err)
	}
	b.changed(ScanChanged | SelectionChanged | PlateChanged)
}

// withTies lays a plate by landmarks: by ties from three on, else by level with the landmarks kept beside it, else the
// landmarks wait with the plate for more of them or for a level.
func (b *Bench) withTies(p atlas.Plate, ties []register.Tie) (atlas.Plate, error) {
	p.Picks = nil
	if len(ties) >= 3 {
		return p.Lay(b.pair.series, ties, false)
	}
	p.Registration = nil
	h, scaled := faceMM(p)
	_, up := honestFacing(p)
	if len(ties) == 0 {
		return p, nil
	}
	if !scaled {
		p.Picks = &atlas.Picks{Series: b.pair.series, Ties: ties}
		return p, nil
	}
	r, err := register.FromLevel(b.pair.series, b.pair.levels, b.Run(), p.Face, up, h.MM(p.MiddlePx()), b.pair.tied.Centre)
	if err != nil {
		p.Picks = &atlas.Picks{Series: b.pair.series, Ties: ties} // no level tied
		return p, nil
	}
	f, _ := frameOfFace(p)
	r.Pose = pictureFrame{right: geom.MM{X: f.right.X, Y: -f.right.Y}}.pose(r.Pose) // back to the axes of the scale
	r.Ties = ties
	p.Registration = &r
	return p, nil
}

// relaid lays a plate anew after its scale, its top or its mirror changed. Without landmarks there is nothing to do.
func (b *Bench) relaid(p atlas.Plate) (atlas.Plate, error) {
	if k := p.Picks; p.Registration == nil && k != nil && k.Series == b.pair.series {
		return b.withTies(p, k.Ties)
	}
	if r := p.Registration; r != nil && len(r.Ties) < 3 {
		if r.Series == b.pair.series {
			return b.withTies(p, r.Ties)
		}
		return p, nil
	} else if r != nil && r.Method == register.ByRefined { // what was fitted falls, its landmarks stay
		return p.Lay(r.Series, r.Ties, false)
	}
	return p.Relaid()
}

// otherTop stops: the landmarks show another side of the body at the top of the picture than was said.
func (b *Bench) otherTop(err error) {
	p, picks := b.doc.plate(), b.doc.picks
	h, _ := p.FaceMM()
	r, fitErr := register.FromTies(b.pair.series, h, picks, p.Face.Facing, false)
	f, ok := frameOfFace(p)
	if fitErr != nil || !ok {
		b.Report(err)
		return
	}
	top := section.FacingOf(f.pose(r.Pose).Y.Neg())
	m := Explain(err)
	m.Hint = Word("err.othertop.hint")
	m.Choices = []Choice{
		{Word("othertop.turn", top.Letter()), func() {
			b.SetPhotoUp(top)
			b.tryTies(Word("step.tie", len(picks)), picks)
		}},
		{Word("turned.check"), nil},
	}
	b.say(m)
}

// turnedOver stops: the landmarks fit only with the face turned over. Nothing was kept; the person chooses.
func (b *Bench) turnedOver() {
	d := b.doc
	again := func() {
		if b.doc == d || b.doc != nil {
			if b.doc.picks == nil {
				b.doc.picks = d.picks
			}
			if picks := b.doc.picks; picks != nil {
				b.tryTies(Word("step.tie", len(picks)), picks)
			}
		}
	}
	m := Explain(register.ErrTurnedOver)
	m.Hint = Word("err.turnedover.hint")
	m.Choices = []Choice{
		{Word("turned.face"), func() {
			if err := b.swapFaces(); err != nil {
				b.Report(err)
				return
			}
			again()
		}},
		{Word("turned.mirrored"), func() {
			next := atlas.Yes
			if d.plate().Mirrored == atlas.Yes {
				next = atlas.No
			}
			b.SetMirrored(next)
			again()
		}},
		{Word("turned.check"), nil},
	}
	b.say(m)
}

// swapFaces moves the photograph of the chosen face to the other face of its slab; a photograph that lies there
// comes here.
func (b *Bench) swapFaces() error {
	f := b.Face()
	other := f
	other.Facing = f.Facing.Opposite()
	here, there := b.rule.facts[f], b.rule.facts[other]
	on := map[string]section.Face{here.plate: other}
	if there.plate != "" {
		on[there.plate] = f
	}
	picks := b.doc.picks
	if err := b.lay(Word("step.swap", b.FaceName(other)), on); err != nil {
		return err
	}
	b.ChooseFace(other)
	if b.doc != nil {
		b.doc.picks = picks
	}
	return nil
}

// kept is the registration of the chosen face in the chosen series, nil when landmarks have not laid it.
func (b *Bench) kept() *register.Registration {
	p, ok := b.Plate()
	if !ok || p.Registration == nil || p.Registration.Series != b.pair.series || p.Registration.Method == register.ByLevel {
		return nil
	}
	return p.Registration
}

// TieRows lists the landmarks found on both, the worst first.
func (b *Bench) TieRows() []TieRow {
	ties, r := b.ties(), b.kept()
	out := make([]TieRow, len(ties))
	for i := range ties {
		row := TieRow{N: i + 1, Residual: math.NaN(), LeaveOneOut: math.NaN(), Note: ties[i].Note}
		if r != nil && b.doc.picks == nil {
			if i < len(r.Fit.Each) {
				row.Residual = r.Fit.Each[i]
			}
			if i < len(r.LeaveOneOut) && r.Method != register.ByRefined { // that was the landmarks' own fit
				row.LeaveOneOut = r.LeaveOneOut[i]
			}
			row.Suspect = slices.Contains(r.Suspects(), i) && r.Method != register.ByRefined
		}
		row.Words = tieWords(row)
		out[i] = row
	}
	slices.SortStableFunc(out, func(x, y TieRow) int {
		a, b := off(x), off(y)
		switch {
		case a > b:
			return -1
		case a < b:
			return 1
		}
		return 0
	})
	return out
}

// off is what a landmark is judged by: leave-one-out, else the residual, else nothing.
func off(r TieRow) float64 {
	for _, d := range []float64{r.LeaveOneOut, r.Residual} {
		if !math.IsNaN(d) {
			return d
		}
	}
	return -1
}

func tieWords(r TieRow) string {
	switch {
	case math.IsNaN(r.Residual):
		return Word("tie.only", r.N)
	case math.IsNaN(r.LeaveOneOut):
		return Word("tie.residual", r.N, r.Residual)
	case r.Suspect:
		return Word("tie.suspect", r.N, r.Residual, r.LeaveOneOut)
	}
	return Word("tie.both", r.N, r.Residual, r.LeaveOneOut)
}

// FitWords tells how good the pairing is. The residual never stands alone: beside it leave-one-out and the expected
// error at the worst place of the face's edge.
func (b *Bench) FitWords() string {
	n, r := len(b.ties()), b.kept()
	switch {
	case b.doc != nil && b.doc.picks != nil && n >= 3:
		return Word("fit.notkept", n)
	case r != nil && r.Method == register.ByRefined && b.doc.picks == nil:
		return b.fittedWords(*r)
	case n == 0:
		return Word("fit.none")
	case r == nil || n < 3:
		return count("fit.few", n)
	case n == 3:
		return strings.Join(r.Words(), " ")
	}
	_, edge := r.WorstEdge(b.edgeMM())
	worst := 0.0
	var sum float64
	known := 0
	for _, d := range r.LeaveOneOut {
		if !math.IsNaN(d) {
			sum, worst, known = sum+d*d, math.Max(worst, d), known+1
		}
	}
	w := Word("fit.good", n, math.Sqrt(sum/math.Max(1, float64(known))), worst, edge, r.Fit.RMS)
	if more := r.Words(); len(more) > 0 {
		w += " " + strings.Join(more, " ")
	}
	return w
}

// edgeMM are places round the edge of the face: its border, else an ellipse as large as the picture allows.
func (b *Bench) edgeMM() []geom.MM {
	p, _ := b.Plate()
	h, ok := p.FaceMM()
	if !ok {
		return nil
	}
	var out []geom.MM
	for _, poly := range p.Border {
		for _, q := range poly.Outer {
			out = append(out, h.MM(q))
		}
	}
	if len(out) > 0 {
		return out
	}
	c := p.MiddlePx()
	for i := range 32 {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 32)
		out = append(out, h.MM(geom.Px{X: c.X * (1 + 0.9*cos), Y: c.Y * (1 + 0.9*sin)}))
	}
	return out
}

// pairHint says what to do next on the pairing.
func (b *Bench) pairHint() string {
	ok, why := b.PairingReady()
	switch _, how, has := b.basePose(); {
	case b.pair.measure.on:
		return scanMeasureHint(b.pair.measure.kind)
	case has && how == freely:
		return Word("hint.level")
	case !ok:
		return why
	case b.pair.half.face != nil:
		return Word("hint.tie.scan")
	case b.pair.half.scan != nil:
		return Word("hint.tie.face")
	}
	return Word("hint.tie")
}
