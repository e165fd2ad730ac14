package bench

import (
	"crypto/rand"
	"errors"
	"strings"

	"sectionary/annotate"
	"sectionary/slices/geom"
)

// CloseOutline closes the outline being drawn and keeps it as Into says. One that crosses itself is refused, with the
// place marked.
func (b *Bench) CloseOutline() {
	if len(b.draw.outline) == 0 || b.draw.closing {
		return
	}
	if err := b.nameable(); err != nil {
		b.Report(err)
		return
	}
	if b.draw.into == CutAcross {
		b.finish(b.cutChosen(b.draw.outline))
		return
	}
	if b.draw.manner == ByFollowing && b.followHome() {
		return // kept once the last way is found
	}
	poly, err := b.draftRing()
	if err != nil {
		b.refuse(err)
		return
	}
	b.finish(b.keepOutline(poly))
}

// finish puts the draft away once it is kept, or says why it cannot be.
func (b *Bench) finish(id string, err error) {
	if err != nil {
		b.refuse(err)
		return
	}
	b.dropDrafts()
	b.draw.chosen, b.draw.point, b.draw.into = id, noPoint, OfItsOwn
	b.hint(Word("outline.closed"), false)
	b.changed(SelectionChanged)
}

// keepOutline keeps poly as an outline of its own or as a change to the chosen one, and returns whose it is.
func (b *Bench) keepOutline(poly annotate.Polygon) (string, error) {
	if b.draw.into == OfItsOwn {
		return b.keepNew(poly)
	}
	_, x, err := b.chosenLabel()
	if err != nil {
		return "", err
	}
	regions, name := x.Regions, Word("step.part")
	switch b.draw.into {
	case AnotherPart, Joined:
		if b.draw.into == Joined {
			name = Word("step.join")
		}
		regions, err = annotate.Join(x.Regions, []annotate.Polygon{poly})
	case TakenOff:
		name = Word("step.takeoff")
		regions, err = annotate.Minus(x.Regions, []annotate.Polygon{poly})
		if err == nil && len(regions) == 0 {
			err = annotate.ErrTooSmall
		}
	case Hole:
		name = Word("step.hole")
		regions, err = withHole(x.Regions, poly.Outer)
	}
	if err != nil {
		return "", err
	}
	return x.ID, b.editLabels(name, "", func(l annotate.Labels) (annotate.Labels, error) {
		return l.Reshape(x.ID, b.stamp(), regions...)
	})
}

// withHole gives the part that holds the ring a hole there.
func withHole(regions []annotate.Polygon, ring []geom.Px) ([]annotate.Polygon, error) {
	err := annotate.ErrHole
	for i, p := range regions {
		if !p.Contains(ring[0]) {
			continue
		}
		q, e := p.AddHole(ring)
		if e != nil {
			return nil, e
		}
		out := append([]annotate.Polygon(nil), regions...)
		out[i] = q
		return out, nil
	}
	return nil, err
}

// keepNew adds an outline of its own. Apart leaves out what its neighbours cover.
func (b *Bench) keepNew(poly annotate.Polygon) (string, error) {
	id := newLabelID()
	return id, b.editLabels(Word("step.outline"), "", func(l annotate.Labels) (annotate.Labels, error) {
		regions := []annotate.Polygon{poly}
		if b.draw.apart {
			for x := range l.All() {
				left, err := annotate.Minus(regions, x.Regions)
				if err != nil {
					return l, err
				}
				if len(left) == 0 {
					return l, annotate.ErrTooSmall
				}
				regions = left
			}
		}
		return l.Add(annotate.Label{ID: id, Regions: regions, Author: b.author, Changed: b.o.Now()})
	})
}

func newLabelID() string { return strings.ToLower(rand.Text()[:12]) }

// cutChosen parts the chosen outline along a line: the larger piece stays what it was, the other becomes an outline of
// its own that waits for a name.
func (b *Bench) cutChosen(line []geom.Px) (string, error) {
	_, x, err := b.chosenLabel()
	if err != nil {
		return "", err
	}
	var stay, away []annotate.Polygon
	var why error
	for _, p := range x.Regions {
		pieces, err := annotate.Cut(p, line)
		if err != nil {
			if !errors.Is(err, annotate.ErrTooSmall) {
				return "", err
			}
			why = err
			stay = append(stay, p)
			continue
		}
		largest := 0
		for i := range pieces {
			if pieces[i].AreaPx() > pieces[largest].AreaPx() {
				largest = i
			}
		}
		stay = append(stay, pieces[largest])
		away = append(append(away, pieces[:largest]...), pieces[largest+1:]...)
	}
	if len(away) == 0 {
		return "", why
	}
	return x.ID, b.editLabels(Word("step.cut"), "", func(l annotate.Labels) (annotate.Labels, error) {
		next, err := l.Reshape(x.ID, b.stamp(), stay...)
		if err != nil {
			return l, err
		}
		return next.Add(annotate.Label{ID: newLabelID(), Regions: away, Author: b.author, Changed: b.o.Now()})
	})
}
