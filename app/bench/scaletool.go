package bench

import (
	"fmt"
	"math"
	"strings"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// hasScale returns the calibration of the chosen face when it tells lengths.
func (b *Bench) hasScale() (photo.Calibration, bool) {
	if b.doc == nil {
		return photo.Calibration{}, false
	}
	c := b.doc.plate().Calibration
	return c, c.Status != photo.Nominal
}

// Scale is the scale being laid.
func (b *Bench) Scale() ScaleDraft { return b.draw.scale }

// SetScaleMode starts again with two ticks or four corners.
func (b *Bench) SetScaleMode(m ScaleMode) {
	b.draw.scale.Mode, b.draw.scale.Points, b.draw.scale.Ruler, b.draw.scale.Sheet = m, nil, nil, nil
	b.checkScale()
}

// SetScaleLength says how many mm lie between the two ticks.
func (b *Bench) SetScaleLength(mm float64) {
	s := &b.draw.scale
	s.Length = mm
	if s.Ruler != nil {
		b.SetRulerStep(mm / float64(s.Ruler.Steps))
		return
	}
	b.checkScale()
}

// SetScaleSize says the plate's width and height in mm, along the first and the second side clicked.
func (b *Bench) SetScaleSize(width, height float64) {
	b.draw.scale.Width, b.draw.scale.Height = width, height
	b.checkScale()
}

// SetScaleLevel answers "Is the plate level with the face?"; with No, drop and camera in mm correct the lengths.
func (b *Bench) SetScaleLevel(a atlas.Answer, drop, camera float64) {
	b.draw.scale.Level, b.draw.scale.Drop, b.draw.scale.Camera = a, drop, camera
	b.checkScale()
}

func (s ScaleDraft) wants() int {
	switch s.Mode {
	case FourCorners:
		return 4
	case ChequerSheet:
		return 0
	}
	return 2
}

// scalePoint takes one more point, or begins again once all are there.
func (b *Bench) scalePoint(p geom.Px) {
	s := &b.draw.scale
	if s.wants() == 0 {
		return
	}
	s.dropRuler()
	s.Points = nextPoint(s.Points, p, s.wants())
	b.checkScale()
}

// nextPoint is points with one more, begun again once there are as many as wanted. The points given stay as they are.
func nextPoint(points []geom.Px, p geom.Px, wanted int) []geom.Px {
	if len(points) >= wanted {
		points = nil
	}
	return append(points[:len(points):len(points)], p)
}

// moveScalePoint moves point i of the draft.
func (b *Bench) moveScalePoint(i int, p geom.Px) {
	s := &b.draw.scale
	if s.Ruler != nil {
		if b.moveRulerEnd(i, p); s.Ruler != nil {
			return
		}
	}
	s.Points = append([]geom.Px(nil), s.Points...)
	s.Points[i] = p
	b.checkScale()
}

// checkScale works out what the draft says so far, in words.
func (b *Bench) checkScale() {
	s := &b.draw.scale
	s.Needs, s.Fit, s.Problem, s.Ready = "", "", "", false
	left := s.wants() - len(s.Points)
	lengths := s.Length > 0
	switch s.Mode {
	case FourCorners:
		lengths = s.Width > 0 && s.Height > 0
	case ChequerSheet:
		lengths = len(s.Sheet) > 0
	}
	switch {
	case left > 0 && s.Mode == TwoTicks:
		s.Needs = Word("scale.ticks", len(s.Points)+1)
	case left > 0:
		s.Needs = Word("scale.corners", len(s.Points)+1)
	case !lengths && s.Ruler != nil:
		s.Needs = Word("ruler.step")
	case !lengths && s.Mode == TwoTicks:
		s.Needs = Word("scale.length")
	case !lengths && s.Mode == ChequerSheet:
		s.Needs = Word("scale.sheet")
	case !lengths:
		s.Needs = Word("scale.size")
	case s.Level == atlas.Unanswered:
		s.Needs = Word("scale.level")
	}
	if left == 0 && lengths {
		c, err := b.scaleOf(*s)
		if err != nil {
			s.Problem = strings.ReplaceAll(Explain(err).Title, "\n", " ")
		} else {
			s.Fit = b.scaleWords(c)
			s.Ready = s.Needs == ""
		}
	}
	b.changed(SelectionChanged)
}

// scaleOf makes the calibration that the draft describes.
func (b *Bench) scaleOf(s ScaleDraft) (c photo.Calibration, err error) {
	if b.doc == nil {
		return c, ErrNoPhoto
	}
	switch s.Mode {
	case TwoTicks:
		c, err = photo.TwoTicks(s.Points[0], s.Points[1], s.Length)
	case ChequerSheet:
		c, err = photo.Grid(s.Sheet)
	default:
		c, err = photo.Grid(cornerTies(s.Points, s.Width, s.Height))
	}
	if err == nil {
		c, err = c.WithLens(b.lensFor(b.doc.plate().Photo.Size))
	}
	if err == nil {
		c, err = s.levelled(c)
	}
	if err == nil {
		err = c.Check(b.doc.plate().Photo.Size)
	}
	c = c.Squared(b.doc.plate().MiddlePx()) // a plate may lie askew; mm run along the picture
	c.Set = b.o.Now().UTC()
	return c, err
}

// cornerTies lays the corners as clicked, in a row round the plate, on a width x height rectangle. Whichever way round
// they were clicked, the face is never mirrored: the order in the picture decides.
func cornerTies(p []geom.Px, width, height float64) []photo.Tie {
	at := []geom.MM{{}, {X: width}, {X: width, Y: height}, {Y: height}}
	var area float64
	for i := range p {
		q := p[(i+1)%len(p)]
		area += p[i].X*q.Y - q.X*p[i].Y
	}
	if area < 0 { // clicked anticlockwise: the second side runs up the picture
		at = []geom.MM{{}, {X: width}, {X: width, Y: -height}, {Y: -height}}
	}
	ties := make([]photo.Tie, len(p))
	for i := range p {
		ties[i] = photo.Tie{Px: p[i], MM: at[i]}
	}
	return ties
}

// scaleWords tells a calibration: mm per pixel in the middle and at the corners, and how well the ties fit.
func (b *Bench) scaleWords(c photo.Calibration) string {
	r := c.Report(b.doc.plate().Photo.Size)
	lo, hi := r.MMPerPixel.Corners[0], r.MMPerPixel.Corners[0]
	for _, x := range r.MMPerPixel.Corners {
		lo, hi = math.Min(lo, x), math.Max(hi, x)
	}
	w := Word("scale.mmpx", r.MMPerPixel.Centre)
	if hi-lo > 1e-3*r.MMPerPixel.Centre {
		w = Word("scale.mmpx.corners", r.MMPerPixel.Centre, lo, hi)
	}
	if c.Fit.Freedom > 0 {
		w += " " + Word("scale.rms", r.RMS)
	}
	if r.Factor != 0 && math.Abs(r.Factor-1) > 1e-4 {
		w += " " + Word("scale.factor", 100*(1/r.Factor-1))
	}
	if c.Status == photo.Scaled {
		w += " " + Word("scale.blind")
	}
	if doubts := doubtWords(c, b.doc.plate().Photo.Size); doubts != "" {
		w += " " + doubts
	}
	return w
}

// AcceptScale makes the draft the scale of the face, one undo step.
func (b *Bench) AcceptScale() error {
	if !b.draw.scale.Ready {
		why := b.draw.scale.Problem
		if why == "" {
			why = b.draw.scale.Needs
		}
		return fmt.Errorf("%w: %s", ErrForm, why)
	}
	c, err := b.scaleOf(b.draw.scale)
	if err != nil {
		return err
	}
	err = b.edit(Word("step.scale"), "", func(p atlas.Plate) (atlas.Plate, error) {
		p.Calibration = c
		return b.relaid(p)
	})
	if err == nil {
		b.SetTool(ToolPan)
		b.LookBatch() // who else was taken like this?
	}
	return err
}

// ClearScale takes the scale away.
func (b *Bench) ClearScale() {
	b.Report(b.edit(Word("step.noscale"), "", func(p atlas.Plate) (atlas.Plate, error) {
		p.Calibration = photo.Calibration{}
		if p.Registration != nil && len(p.Registration.Ties) >= 3 {
			return p, fmt.Errorf("%w: %s", ErrForm, Word("scale.tied"))
		}
		return p, nil
	}))
}

// ScaleInForce tells the scale of the face in words, "no scale" without one.
func (b *Bench) ScaleInForce() string {
	c, ok := b.hasScale()
	if !ok {
		return Word("noscale")
	}
	w := b.scaleWords(c)
	if !c.Set.IsZero() {
		w += " " + Word("scale.set", c.Set.Local().Format("2 January 2006"))
	}
	return w
}
