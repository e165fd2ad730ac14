package atlas

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

var (
	// ErrRetired says that a photograph is an earlier one of its face: what it shows stays as it was.
	ErrRetired = errors.New("atlas: this is an earlier photograph; what it shows stays as it was")
	// ErrOtherFace says that ties between two photographs fit only when one is turned over: they show the two faces of a cut, or one is
	// mirrored.
	ErrOtherFace = errors.New("atlas: these ties fit only when the picture is turned over")
	// ErrCrossedTies says that ties between two photographs cannot be of one flat face: two are crossed.
	ErrCrossedTies = errors.New("atlas: these ties cannot be of one face; two of them are crossed")
)

// DoubtPart is what of a plate came over from an earlier photograph.
type DoubtPart string

// The parts of which a person must say that they are right.
const (
	OnLabel  DoubtPart = "label"
	OnBorder DoubtPart = "border"
	OnMask   DoubtPart = "mask" // always: a tag may lie elsewhere than it did
)

// Doubt is one thing that came over from an earlier photograph and that a person must look at.
type Doubt struct {
	Part  DoubtPart `json:"part"`
	Label string    `json:"label,omitempty"` // of OnLabel
	Off   float64   `json:"off,omitempty"`   // mm, error of the nearest tie; 0 where it cannot be told
}

// Earlier is what a plate took over from an earlier photograph of its face.
type Earlier struct {
	Plate string                `json:"plate"`
	Ties  []annotate.PictureTie `json:"ties"` // pixels of both upright pictures
	Error []*float64            `json:"error"`
	By    string                `json:"by"`
	At    time.Time             `json:"at"`
}

// LookAgain lists what came over from an earlier photograph and still waits for a person: a label until it is confirmed or gone.
func (p Plate) LookAgain() (out []Doubt) {
	for _, x := range p.Again {
		if x.Part == OnLabel {
			if l, there := p.Labels.Find(x.Label); !there || !l.Carried {
				continue
			}
		}
		out = append(out, x)
	}
	return out
}

// Doubtful reports whether a part that came over from an earlier photograph waits for a person.
func (p Plate) Doubtful(part DoubtPart) bool {
	return slices.ContainsFunc(p.LookAgain(), func(x Doubt) bool { return x.Part == part })
}

// Looked returns p with border or mask found right as they are.
func (p Plate) Looked(part DoubtPart) Plate {
	p.Again = slices.DeleteFunc(slices.Clone(p.Again), func(x Doubt) bool { return x.Part == part && part != OnLabel })
	if len(p.Again) == 0 {
		p.Again = nil
	}
	return p
}

// Edited returns next, which a person made of p: a border or mask drawn anew needs no second look, nor does an outline that was shaped
// anew by hand.
func (p Plate) Edited(next Plate) Plate {
	if len(next.Again) == 0 {
		return next
	}
	if !slices.EqualFunc(p.Border, next.Border, annotate.Polygon.Equal) {
		next = next.Looked(OnBorder)
	}
	if !slices.EqualFunc(p.Mask, next.Mask, annotate.Polygon.Equal) {
		next = next.Looked(OnMask)
	}
	for _, x := range next.LookAgain() {
		was, _ := p.Labels.Find(x.Label)
		is, there := next.Labels.Find(x.Label)
		if there && x.Part == OnLabel && !slices.EqualFunc(was.Regions, is.Regions, annotate.Polygon.Equal) {
			if l, err := next.Labels.Confirm(is.ID, annotate.Stamp{Author: is.Author, At: is.Changed}); err == nil {
				next.Labels = l
			}
		}
	}
	return next
}

// Succession is a new photograph of a face taking the place of the one it has, before it is kept: both plates as they will be, and
// what a person should know first.
type Succession struct {
	Old, New Plate
	Fit      annotate.Rephotograph
	Scale    bool     // the scale came over
	Turned   bool     // the new picture lies turned against the old by more than 30 degrees off a quarter, so its top is a guess
	Lost     []string // ids of labels that have no place on the new picture; they stay on the old one
	Unsigned int      // labels that were signed and must be signed again
}

// Succeed returns how next, a photograph in the tray of the same donor, takes the place of p on its face: outlines, border, tag mask and
// landmarks come over by ties between the two pictures, the scale with them, and what is doubtful is marked to be looked at. p stays as it
// was but for being retired. Errors: ErrUnplaced, ErrRetired, ErrFaceTaken for a photograph that lies on a face, ErrNotOriented
// while a mirror in a camera's tag is not answered for, geom.ErrTooFewPoints, geom.ErrDegenerate, ErrOtherFace, ErrCrossedTies.
func (p Plate) Succeed(next Plate, ties []annotate.PictureTie, by annotate.Stamp) (s Succession, err error) {
	open := func(x Plate) bool { return x.Photo.Mirrored && x.Mirrored == Unanswered }
	switch {
	case p.Face == (section.Face{}):
		return s, naming("photograph "+p.ID, ErrUnplaced)
	case p.Retired || next.Retired:
		return s, naming(p.Face.Name(), ErrRetired)
	case next.Face != (section.Face{}):
		return s, naming("photograph "+next.ID+" lies on "+next.Face.Name(), ErrFaceTaken)
	case next.Donor != p.Donor:
		return s, fmt.Errorf("atlas: photograph %s is of another donor than %s", next.ID, p.Face.Name())
	case open(p) || open(next):
		return s, fmt.Errorf("%s: %w: answer first whether the picture is mirrored", p.Face.Name(), ErrNotOriented)
	}
	turned := (p.Mirrored == Yes) != (next.Mirrored == Yes)
	fit, err := annotate.FitRephotograph(ties, next.Calibration)
	if err != nil {
		return s, err
	}
	if len(ties) < annotate.LeastToLeaveOut && uneven(fit, ties) {
		return s, naming(p.Face.Name(), ErrCrossedTies)
	}
	if err := sameWay(fit, ties, turned); err != nil {
		return s, naming(p.Face.Name(), err)
	}
	n := next
	n.Face, n.PhotoUp = p.Face, section.UnknownFacing
	if next.Calibration.Status == photo.Nominal && p.Calibration.Status != photo.Nominal {
		if n.Calibration, fit, err = p.carriedScale(ties, fit, turned); err != nil {
			return s, fmt.Errorf("%s: the scale: %w", p.Face.Name(), err)
		}
		n.Calibration.Set, s.Scale = by.At.UTC(), true
	}
	if uneven(fit, ties) {
		return s, naming(p.Face.Name(), ErrCrossedTies)
	}
	s.Fit = fit
	n.PhotoUp, s.Turned = p.topOf(fit.Map, n)
	s.outlines(p, &n)
	s.places(p, &n)
	n.History = slices.Clone(p.History)
	for x := range n.Labels.All() {
		n.History = append(n.History, annotate.Change{Label: x.ID, What: []string{"rephotographed"}, By: by.Author, At: by.At.UTC()})
	}
	n.Earlier = &Earlier{Plate: p.ID, Ties: slices.Clone(ties), Error: known(fit.Error), By: by.Author, At: by.At.UTC()}
	n.Synthetic = p.Synthetic
	s.Old, s.New = p, n
	s.Old.Retired = true
	return s, nil
}

// known are errors in mm as JSON can hold them: nil where nothing can be told.
func known(off []float64) []*float64 {
	out := make([]*float64, len(off))
	for i, e := range off {
		if !math.IsNaN(e) && !math.IsInf(e, 0) {
			out[i] = &off[i]
		}
	}
	return out
}

// carriedScale lays the scale of the old picture on the new, by the ties that agree: only with a scale can a tie be found to be off.
func (p Plate) carriedScale(ties []annotate.PictureTie, fit annotate.Rephotograph, turned bool) (c photo.Calibration, _ annotate.Rephotograph, err error) {
	for range 2 {
		var old, now []geom.Px
		for i, t := range ties {
			if !fit.LeftOut[i] {
				old, now = append(old, t.Old), append(now, t.New)
			}
		}
		if c, err = photo.CarryScale(p.Calibration, fit.Map.Inverse(), old, now, turned); err != nil {
			return c, fit, err
		}
		if fit, err = annotate.FitRephotograph(ties, c); err != nil {
			return c, fit, err
		}
	}
	return c, fit, nil
}

// mostUneven is the share of the ties' own extent by which they may miss a flat map, root mean square; beyond it two of them are crossed.
const mostUneven = 0.12

// uneven reports whether the ties that were not left out lie on no flat map at all.
func uneven(fit annotate.Rephotograph, ties []annotate.PictureTie) bool {
	var c geom.Px
	n := 0.0
	for i, t := range ties {
		if !fit.LeftOut[i] {
			c.X, c.Y, n = c.X+t.New.X, c.Y+t.New.Y, n+1
		}
	}
	c = geom.Px{X: c.X / n, Y: c.Y / n}
	off, wide := 0.0, 0.0
	for i, t := range ties {
		if !fit.LeftOut[i] {
			off, wide = off+fit.Fit.Each[i]*fit.Fit.Each[i], wide+t.New.Dist(c)*t.New.Dist(c)
		}
	}
	return !(math.Sqrt(off) <= mostUneven*math.Sqrt(wide))
}

// sameWay refuses a map between two pictures that turns the face over, unless one of them shows it mirrored.
func sameWay(fit annotate.Rephotograph, ties []annotate.PictureTie, turned bool) error {
	over := 0
	for _, t := range ties {
		j := fit.Map.Jacobian(t.Old)
		if (j[0]*j[3]-j[1]*j[2] < 0) != turned {
			over++
		}
	}
	switch {
	case over == len(ties):
		return ErrOtherFace
	case over > 0:
		return ErrCrossedTies
	}
	return nil
}

// TurnedOver reports whether three ties or more run round the other way on the new picture than on the old, by the signed area of
// their corners; it is what can be said before four ties are made.
func TurnedOver(ties []annotate.PictureTie, old, next Plate) bool {
	if len(ties) < 3 {
		return false
	}
	a, b := 0.0, 0.0
	cross := func(o, p, q geom.Px) float64 { return (p.X-o.X)*(q.Y-o.Y) - (p.Y-o.Y)*(q.X-o.X) }
	for i := 2; i < len(ties); i++ {
		u, v := cross(ties[0].Old, ties[i-1].Old, ties[i].Old), cross(ties[0].New, ties[i-1].New, ties[i].New)
		if u < 0 {
			u, v = -u, -v
		}
		a, b = a+u, b+v
	}
	return a > 0 && (b < 0) != ((old.Mirrored == Yes) != (next.Mirrored == Yes)) && b != 0
}

// topOf is the direction of the donor at the top of the new picture, unknown where it is unknown on the old; unsure when the pictures lie
// more than 30 degrees off a quarter turn.
func (p Plate) topOf(h geom.Homography, n Plate) (top section.Facing, unsure bool) {
	right, up, err := section.Axes(p.Face.Facing.Plane(), p.Face.Facing, p.PhotoUp)
	if err != nil {
		return section.UnknownFacing, false
	}
	if p.Mirrored == Yes {
		right = right.Neg()
	}
	size := n.Photo.Size
	j := h.Inverse().Jacobian(geom.Px{X: float64(size.X-1) / 2, Y: float64(size.Y-1) / 2})
	x, y := -j[1], -j[3] // up on the new picture, as it runs on the old
	l := math.Hypot(x, y)
	if !(l > 0) || math.IsInf(l, 0) {
		return section.UnknownFacing, false
	}
	way := right.Mul(x).Sub(up.Mul(y))
	return section.FacingOf(way), math.Max(math.Abs(x), math.Abs(y))/l < math.Cos(math.Pi/6)
}

// outlines brings labels, border and mask over and lists what is to be looked at.
func (s *Succession) outlines(p Plate, n *Plate) {
	where := "the earlier photograph"
	labels, again, lost := p.Labels.Rephotographed(s.Fit, where)
	s.Lost, n.Again = lost, nil
	for x := range labels.All() {
		on := x.Bounds()
		w, h := float64(n.Photo.Size.X)-0.5, float64(n.Photo.Size.Y)-0.5
		if on.Max.X < -0.5 || on.Max.Y < -0.5 || on.Min.X > w || on.Min.Y > h {
			s.Lost = append(s.Lost, x.ID)
			if without, err := labels.Remove(x.ID); err == nil {
				labels = without
			}
			continue
		}
		if off, listed := again[x.ID]; listed {
			n.Again = append(n.Again, Doubt{OnLabel, x.ID, told(off)})
		}
		if was, _ := p.Labels.Find(x.ID); was.Signed != nil {
			s.Unsigned++
		}
	}
	n.Labels = labels
	n.Border, n.Mask = s.carried(p.Border), s.carried(p.Mask)
	for _, b := range n.Border {
		if off := s.worstOn(b); !(off <= annotate.LookAgainMM) || len(n.Border) < len(p.Border) {
			n.Again = append(n.Again, Doubt{OnBorder, "", told(off)})
			break
		}
	}
	if len(n.Mask) > 0 {
		n.Again = append(n.Again, Doubt{Part: OnMask})
	}
	n.Second = nil
}

func told(off float64) float64 {
	if math.IsNaN(off) || math.IsInf(off, 0) {
		return 0
	}
	return off
}

// worstOn is the largest error in mm of the ties nearest to the corners of an outline; NaN where one cannot be told.
func (s *Succession) worstOn(p annotate.Polygon) (off float64) {
	for _, q := range p.Outer {
		e := s.Fit.ErrorNear(q)
		if math.IsNaN(e) {
			return e
		}
		off = math.Max(off, e)
	}
	return off
}

func (s *Succession) carried(all []annotate.Polygon) (out []annotate.Polygon) {
	for _, p := range all {
		if q := p.Map(s.Fit.At); q.Check() == nil {
			out = append(out, q)
		}
	}
	return out
}

// places brings over where the face lies in the scan. With the scale come the face's own mm, so a pose stays as it is; else the face is laid
// anew by its landmarks, and where that fails they wait.
func (s *Succession) places(p Plate, n *Plate) {
	move := func(ties []register.Tie) []register.Tie {
		out := slices.Clone(ties)
		for i := range out {
			out[i].Face = s.Fit.At(out[i].Face)
		}
		return out
	}
	n.Registration, n.Picks = nil, nil
	if k := p.Picks; k != nil {
		n.Picks = &Picks{Series: k.Series, Ties: move(k.Ties)}
	}
	r := p.Registration
	if r == nil {
		return
	}
	moved := *r
	moved.Ties = move(r.Ties)
	if s.Scale {
		n.Registration = &moved
		return
	}
	n.Registration = &moved
	laid, err := n.Relaid()
	if n.Registration = laid.Registration; err != nil || laid.Registration == nil {
		n.Registration = nil
		if len(moved.Ties) > 0 {
			n.Picks = &Picks{Series: r.Series, Ties: moved.Ties}
		}
	}
}
