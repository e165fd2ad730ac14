package bench

import (
	"math"

	"sectionary/annotate"
	"sectionary/slices/geom"
)

// Manner is a way to outline.
type Manner uint8

// The ways to outline, in the order they are offered.
const (
	ByPoints Manner = iota
	ByFreehand
	ByFollowing // the edge is followed between clicks
	ByFilling   // what is of like colour round a click
	ByRound     // a circle or an ellipse
)

// Into is what becomes of the next outline: an outline of its own, or a change to the chosen one.
type Into uint8

// What becomes of the next outline.
const (
	OfItsOwn Into = iota
	AnotherPart
	Hole
	Joined    // added to the chosen one
	TakenOff  // taken away from it
	CutAcross // the line cuts the chosen one in two
)

// SetManner chooses the way to outline. What is half drawn is dropped.
func (b *Bench) SetManner(m Manner) {
	if m > ByRound || b.draw.manner == m {
		return
	}
	b.draw.manner = m
	if b.draw.into == CutAcross && (m == ByFilling || m == ByRound) {
		b.draw.into = OfItsOwn
	}
	b.dropOutline()
	b.wantFollower()
	b.changed(SelectionChanged)
}

// Manner is the way to outline.
func (b *Bench) Manner() Manner { return b.draw.manner }

// SetInto says what becomes of the next outline. All but the first need a chosen outline.
func (b *Bench) SetInto(i Into) {
	if i > CutAcross || (i != OfItsOwn && b.draw.chosen == "") {
		return
	}
	b.draw.into = i
	if i == CutAcross && (b.draw.manner == ByFilling || b.draw.manner == ByRound) {
		b.draw.manner = ByPoints
		b.dropOutline()
	}
	b.changed(SelectionChanged)
}

// Into is what becomes of the next outline.
func (b *Bench) Into() Into { return b.draw.into }

// SetApart says whether a new outline leaves out what its neighbours cover, so that both share one border.
func (b *Bench) SetApart(on bool) { b.draw.apart = on; b.changed(SelectionChanged) }

// Apart reports whether a new outline leaves out what its neighbours cover.
func (b *Bench) Apart() bool { return b.draw.apart }

// dropOutline forgets the outline half drawn.
func (b *Bench) dropOutline() {
	d := &b.draw
	d.outline, d.stroking, d.knots, d.live, d.fill = nil, false, nil, nil, nil
	d.closing, d.pending = false, 0
	d.draft++
}

// snapReach is how near, in units, a point must be set to a neighbour's border to lie on it.
const snapReach = 7

// snapped is px, or the place on a neighbour's border within reach.
func (f *facePane) snapped(px geom.Px, skip string) geom.Px {
	d := f.b.doc
	q, _ := d.plate().Labels.Snap(px, f.scale*snapReach/d.view.Zoom, skip)
	return q
}

// setPoint takes a click, or Enter at the keyboard's cross, while outlining.
func (f *facePane) setPoint(px geom.Px) {
	b, d := f.b, f.b.doc
	o := b.draw.outline
	if b.draw.closing {
		return
	}
	at := d.view.Device(px)
	line := b.draw.manner == ByPoints || b.draw.manner == ByFollowing
	if n := len(o); line && n > 0 {
		if d.view.Device(o[n-1]).Dist(at) < 1 {
			return // the second half of a double click
		}
		if n > 2 && b.draw.into != CutAcross && d.view.Device(o[0]).Dist(at) < f.scale*reach*0.6 {
			b.CloseOutline()
			return
		}
	}
	switch b.draw.manner {
	case ByFreehand:
		b.hint(Word("hint.freehand.keys"), true)
		return
	case ByFilling:
		b.fillFrom(px, 0)
	case ByFollowing:
		b.followTo(px)
	case ByRound:
		b.draw.outline = append(o, px)
		if len(b.draw.outline) == 3 {
			b.CloseOutline()
		}
	default:
		b.draw.outline = append(o, f.snapped(px, ""))
	}
	b.changed(SelectionChanged)
}

// lastBack takes back the last point of the outline half drawn: with an edge followed, the last click and its way.
func (b *Bench) lastBack() {
	d := &b.draw
	n := len(d.outline)
	switch {
	case d.manner == ByFilling:
		b.dropOutline()
	case d.manner == ByFollowing && len(d.knots) > 1:
		d.knots = d.knots[:len(d.knots)-1]
		n = d.knots[len(d.knots)-1] + 1
		d.outline = d.outline[:n:n]
	case d.manner == ByFollowing:
		b.dropOutline()
	default:
		d.outline = d.outline[: n-1 : n-1]
	}
	d.live, d.closing, d.crossing = nil, false, nil
	b.changed(SelectionChanged)
}

// roundOf is the circle over two ends of a line, or the ellipse with that line as one axis whose edge runs through
// the third point.
func roundOf(pts []geom.Px) (annotate.Polygon, error) {
	if len(pts) < 2 {
		return annotate.Polygon{}, annotate.ErrTooSmall
	}
	a, z := pts[0], pts[1]
	c := geom.Px{X: (a.X + z.X) / 2, Y: (a.Y + z.Y) / 2}
	long := a.Dist(z) / 2
	across := long
	turn := math.Atan2(z.Y-a.Y, z.X-a.X)
	if len(pts) > 2 && long > 0 {
		across = math.Abs((pts[2].Y-c.Y)*math.Cos(turn) - (pts[2].X-c.X)*math.Sin(turn))
	}
	return annotate.Round(c, long, across, turn)
}

// draftRing is the outline half drawn as it would be kept.
func (b *Bench) draftRing() (annotate.Polygon, error) {
	if b.draw.manner == ByRound {
		return roundOf(b.draw.outline)
	}
	p := annotate.Polygon{Outer: b.draw.outline}
	return p, p.Check()
}

// Smooth rounds the corners of the chosen outline.
func (b *Bench) Smooth() {
	_, x, err := b.chosenLabel()
	if err != nil {
		b.Report(err)
		return
	}
	regions := make([]annotate.Polygon, len(x.Regions))
	for i, p := range x.Regions {
		regions[i] = p.Smooth()
	}
	b.draw.point = noPoint
	b.Report(b.editLabels(Word("step.smooth"), "", func(l annotate.Labels) (annotate.Labels, error) {
		return l.Reshape(x.ID, b.stamp(), regions...)
	}))
}

// Join waits for another outline to be chosen, which then becomes one with the chosen one; a second time puts that off.
func (b *Bench) Join() {
	if _, _, err := b.chosenLabel(); err != nil {
		b.Report(err)
		return
	}
	b.draw.joining = !b.draw.joining
	b.hint("", false)
	b.changed(SelectionChanged)
}

// joinWith makes the chosen outline and another one, which goes.
func (b *Bench) joinWith(id string) {
	b.draw.joining = false
	p, x, err := b.chosenLabel()
	other, ok := p.Labels.Find(id)
	if err != nil || !ok || id == x.ID {
		b.changed(SelectionChanged)
		return
	}
	b.refuse(b.editLabels(Word("step.join"), "", func(l annotate.Labels) (annotate.Labels, error) {
		regions, err := annotate.Join(x.Regions, other.Regions)
		if err != nil {
			return l, err
		}
		next, err := l.Reshape(x.ID, b.stamp(), regions...)
		if err != nil {
			return l, err
		}
		return next.Remove(id)
	}))
}

// outlineHint says what to do next while outlining.
func (b *Bench) outlineHint() string {
	begun := len(b.draw.outline) > 0
	switch {
	case b.draw.into == CutAcross:
		return Word("hint.cut")
	case b.draw.manner == ByFreehand:
		return Word("hint.freehand")
	case b.draw.manner == ByFollowing && begun:
		return Word("hint.follow.more")
	case b.draw.manner == ByFollowing:
		return Word("hint.follow")
	case b.draw.manner == ByFilling && begun:
		return Word("hint.fill.more")
	case b.draw.manner == ByFilling:
		return Word("hint.fill")
	case b.draw.manner == ByRound && begun:
		return Word("hint.round.more")
	case b.draw.manner == ByRound:
		return Word("hint.round")
	case begun:
		return Word("hint.outline.more")
	}
	return Word("hint.outline")
}
