package bench

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// editLabels makes one undo step of a change to the labels.
func (b *Bench) editLabels(name, merge string, change func(annotate.Labels) (annotate.Labels, error)) error {
	return b.edit(name, merge, func(p atlas.Plate) (atlas.Plate, error) {
		l, err := change(p.Labels)
		p.Labels = l
		return p, err
	})
}

// refuse says in one line why an outline cannot stand and marks the place where it meets itself.
func (b *Bench) refuse(err error) {
	var x *annotate.CrossingError
	b.draw.crossing = nil
	if errors.As(err, &x) {
		at := x.At
		b.draw.crossing = &at
	}
	switch {
	case errors.Is(err, annotate.ErrCrossing), errors.Is(err, annotate.ErrTooSmall), errors.Is(err, annotate.ErrHole):
		b.hint(Explain(err).Title, true)
	case err != nil:
		b.Report(err)
	}
	b.changed(SelectionChanged)
}

// Labels lists the labels of the face, the latest first.
func (b *Bench) Labels() []LabelRow {
	p, ok := b.Plate()
	if !ok {
		return nil
	}
	out := make([]LabelRow, 0, p.Labels.Len())
	for x := range p.Labels.All() {
		out = append(out, b.labelRow(p, x))
	}
	for i, j := 0, len(out)-1; i < j; i, j = i+1, j-1 {
		out[i], out[j] = out[j], out[i]
	}
	return out
}

func (b *Bench) labelRow(p atlas.Plate, x annotate.Label) LabelRow {
	r := LabelRow{ID: x.ID, Name: Word("label.unnamed"), Letter: "?", Side: x.Side, Sure: x.Sure, Carried: x.Carried,
		Signed: x.Signed != nil, Chosen: x.ID == b.draw.chosen, Area: Word("noscale"), Missing: strings.Join(x.Missing(), ", ")}
	if t, ok := b.term(x.Term); ok {
		r.Name, r.Latin, r.Letter, r.Kind = t.Name, t.Latin, t.Kind.Letter(), t.Kind.String()
		r.Warning = b.sentinel(p, x, t)
	}
	if c, ok := b.hasScale(); ok {
		var sum float64
		for _, reg := range x.Regions {
			for n := range reg.Rings() {
				a, _, err := c.RingArea(reg.Ring(n))
				if err != nil {
					return r
				}
				if n > 0 {
					a = -a
				}
				sum += a
			}
		}
		r.Area = areaWords(sum)
	}
	return r
}

func areaWords(mm2 float64) string {
	if mm2 < 100 {
		return Word("area.mm2", mm2)
	}
	return Word("area.cm2", mm2/100)
}

func (b *Bench) term(id annotate.TermID) (annotate.Term, bool) {
	if b.terms == nil || id == "" {
		return annotate.Term{}, false
	}
	return b.terms.ByID(id)
}

// ChooseLabel chooses an outline; "" chooses none.
func (b *Bench) ChooseLabel(id string) {
	if id != "" {
		p, ok := b.Plate()
		if !ok {
			return
		}
		if _, ok := p.Labels.Find(id); !ok {
			return
		}
	}
	if b.draw.joining && id != "" {
		b.joinWith(id)
		return
	}
	if b.draw.chosen != id {
		b.draw.chosen, b.draw.point, b.draw.into = id, noPoint, OfItsOwn
		b.changed(SelectionChanged)
	}
}

// Chosen is the id of the chosen outline.
func (b *Bench) Chosen() string { return b.draw.chosen }

// chosenLabel returns the chosen label of the face.
func (b *Bench) chosenLabel() (atlas.Plate, annotate.Label, error) {
	p, ok := b.Plate()
	if !ok {
		return p, annotate.Label{}, ErrNoPhoto
	}
	x, ok := p.Labels.Find(b.draw.chosen)
	if !ok {
		return p, x, ErrNoOutline
	}
	return p, x, nil
}

// FindTerms finds structures by part-words, best first, with the sides each may take and the side its outline suggests.
func (b *Bench) FindTerms(typed string) []TermRow {
	if b.terms == nil || strings.TrimSpace(typed) == "" {
		return nil
	}
	var out []TermRow
	for _, t := range b.terms.Find(typed, 24) {
		out = append(out, b.termRow(t))
	}
	return out
}

// NameChosen names the chosen outline. It fails with ErrNoLetters while the sides of the face are not known and with
// annotate.ErrSide when the structure does not take that side. A warning of the side sentinel comes as a message.
func (b *Bench) NameChosen(id annotate.TermID, side annotate.Side, sure annotate.Sureness) error {
	if err := b.nameable(); err != nil {
		return err
	}
	_, x, err := b.chosenLabel()
	if err != nil {
		return err
	}
	t, ok := b.term(id)
	if !ok {
		return fmt.Errorf("%w: %s", ErrForm, Word("name.unknown"))
	}
	x.Term, x.Side, x.Sure = id, side, sure
	if err := b.terms.Check(x); err != nil {
		return err
	}
	err = b.editLabels(Word("step.name", t.Name), "", func(l annotate.Labels) (annotate.Labels, error) {
		l, err := l.Rename(x.ID, b.stamp(), id, side)
		if err != nil {
			return l, err
		}
		return l.Judge(x.ID, b.stamp(), sure)
	})
	if err != nil {
		return err
	}
	p, _ := b.Plate()
	if w := b.sentinel(p, x, t); w != "" {
		b.say(Message{Title: w, Hint: Word("sentinel.hint")})
	}
	return nil
}

// SetSure says how sure the name of the chosen outline is.
func (b *Bench) SetSure(s annotate.Sureness) {
	_, x, err := b.chosenLabel()
	if err == nil {
		err = b.editLabels(Word("step.sure"), "", func(l annotate.Labels) (annotate.Labels, error) {
			return l.Judge(x.ID, b.stamp(), s)
		})
	}
	b.Report(err)
}

// NextSure goes from certain to probable to discuss and round again.
func (b *Bench) NextSure() {
	if _, x, err := b.chosenLabel(); err != nil {
		b.Report(err)
	} else {
		b.SetSure(x.Sure%annotate.Discuss + 1)
	}
}

// ConfirmChosen accepts a carried outline as checked.
func (b *Bench) ConfirmChosen() {
	_, x, err := b.chosenLabel()
	if err == nil {
		err = b.editLabels(Word("step.confirm"), "", func(l annotate.Labels) (annotate.Labels, error) {
			return l.Confirm(x.ID, b.stamp())
		})
	}
	b.Report(err)
}

// RemoveChosen removes the last point being drawn, the chosen point, or the chosen outline.
func (b *Bench) RemoveChosen() {
	if len(b.draw.outline) > 0 {
		b.lastBack()
		return
	}
	_, x, err := b.chosenLabel()
	if err != nil {
		return
	}
	if ref := b.draw.point; ref != noPoint && ref.region < len(x.Regions) {
		poly, err := x.Regions[ref.region].RemovePoint(ref.ring, ref.i)
		if err == nil {
			err = b.reshape(Word("step.point.remove"), "", x, ref.region, poly)
		}
		if err != nil {
			b.refuse(err)
			return
		}
		b.draw.point = noPoint
		b.changed(SelectionChanged)
		return
	}
	b.Report(b.editLabels(Word("step.label.remove"), "", func(l annotate.Labels) (annotate.Labels, error) { return l.Remove(x.ID) }))
}

// reshape replaces one part of a label.
func (b *Bench) reshape(name, merge string, x annotate.Label, region int, poly annotate.Polygon) error {
	regions := append([]annotate.Polygon(nil), x.Regions...)
	regions[region] = poly
	return b.editLabels(name, merge, func(l annotate.Labels) (annotate.Labels, error) {
		return l.Reshape(x.ID, b.stamp(), regions...)
	})
}

// sideOf tells on which side of the middle of the face an outline lies; beyond is false within a twentieth of the
// width, where nothing can be told. The middle is that of the face's border, else of the whole picture.
func sideOf(p atlas.Plate, x annotate.Label) (side annotate.Side, beyond bool) {
	facing, up := honestFacing(p)
	right, _, err := section.Axes(facing.Plane(), facing, up)
	if err != nil {
		return annotate.NoSide, false
	}
	_, upv, _ := section.Axes(facing.Plane(), facing, up)
	toLeft := geom.Vec{X: 1}
	// how far picture right and picture down lead to the donor's left
	rx, dy := right.Dot(toLeft), -upv.Dot(toLeft)
	if p.Mirrored == atlas.Yes {
		rx = -rx
	}
	if math.Abs(rx)+math.Abs(dy) < 0.5 {
		return annotate.NoSide, false // a sagittal face: left and right do not lie in the picture
	}
	box := annotate.Box{Max: geom.Px{X: float64(p.Photo.Size.X), Y: float64(p.Photo.Size.Y)}}
	for i, r := range p.Border {
		if i == 0 {
			box = r.Bounds()
		} else {
			box = box.Union(r.Bounds())
		}
	}
	c := centroid(x)
	off := rx*(c.X-(box.Min.X+box.Max.X)/2) + dy*(c.Y-(box.Min.Y+box.Max.Y)/2)
	width := math.Abs(rx)*box.W() + math.Abs(dy)*box.H()
	side = annotate.Right
	if off > 0 {
		side = annotate.Left
	}
	return side, math.Abs(off) > width/20
}

// centroid is the centre of gravity of all parts of a label.
func centroid(x annotate.Label) geom.Px {
	var sum geom.Px
	var area float64
	for _, p := range x.Regions {
		a, c := p.AreaPx(), p.Centroid()
		sum, area = geom.Px{X: sum.X + a*c.X, Y: sum.Y + a*c.Y}, area+a
	}
	if area == 0 {
		return sum
	}
	return geom.Px{X: sum.X / area, Y: sum.Y / area}
}

// sentinel warns when a label's side, or the side where its structure usually lies, is not the side of its outline.
// It never corrects: a situs variant is possible.
func (b *Bench) sentinel(p atlas.Plate, x annotate.Label, t annotate.Term) string {
	lies, clear := sideOf(p, x)
	if !clear || lies == annotate.NoSide {
		return ""
	}
	if (x.Side == annotate.Left || x.Side == annotate.Right) && x.Side != lies {
		return Word("sentinel.side", strings.ToUpper(x.Side.String()), t.Name, lies)
	}
	if usual, ok := b.lab.usual[x.Term]; ok && usual != lies {
		return Word("sentinel.organ", upperFirst(t.Name), usual, lies)
	}
	return ""
}
