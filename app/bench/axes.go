package bench

import (
	"sectionary/atlas"
	"sectionary/slices/section"
)

// UpChoices are the directions that can be at the top of the photograph.
func (b *Bench) UpChoices() [4]section.Facing {
	var out [4]section.Facing
	n := 0
	for f := section.Superior; f <= section.Right && n < 4; f++ {
		if f.Plane() != b.Run().Plane {
			out[n] = f
			n++
		}
	}
	return out
}

// SetPhotoUp says which side of the body is at the top of the photograph as taken. UnknownFacing takes the answer back.
func (b *Bench) SetPhotoUp(f section.Facing) {
	if b.doc == nil {
		b.Report(ErrNoPhoto)
		return
	}
	if f != section.UnknownFacing {
		face := b.doc.plate().Face.Facing
		if _, _, err := section.Axes(face.Plane(), face, f); err != nil {
			b.Report(err)
			return
		}
	}
	b.Report(b.edit(Word("step.up", f.Letter()), "", func(p atlas.Plate) (atlas.Plate, error) {
		p.PhotoUp = f
		return b.relaid(p)
	}))
	b.changed(ViewChanged)
}

// TurnUp turns the ring of letters by quarters clockwise: what is at the top of the photograph changes to the next.
func (b *Bench) TurnUp(quarters int) {
	p, ok := b.Plate()
	if !ok {
		return
	}
	up := p.PhotoUp
	if up == section.UnknownFacing {
		b.SetPhotoUp(b.UpChoices()[0])
		return
	}
	for range quarters & 3 {
		right, u, err := section.Axes(p.Face.Facing.Plane(), p.Face.Facing, up)
		if err != nil {
			return
		}
		_ = u
		up = section.FacingOf(right.Neg()) // turned clockwise, what was at the left comes to the top
	}
	b.SetPhotoUp(up)
}

// AsksMirrored reports whether the camera's tag holds a mirror that must be answered before letters show.
func (b *Bench) AsksMirrored() bool {
	p, ok := b.Plate()
	return ok && p.Photo.Mirrored && p.Mirrored == atlas.Unanswered
}

// SetMirrored answers whether the photograph shows the face mirrored.
func (b *Bench) SetMirrored(a atlas.Answer) {
	b.Report(b.edit(Word("step.mirrored"), "", func(p atlas.Plate) (atlas.Plate, error) {
		p.Mirrored = a
		return b.relaid(p)
	}))
	b.changed(ViewChanged)
}

// askMirrored asks about a mirror in the camera's tag.
func (b *Bench) askMirrored() {
	b.say(Message{Title: Word("mirrored.ask"), Hint: Word("mirrored.ask.hint"), Choices: []Choice{
		{Word("mirrored.keep"), func() { b.SetMirrored(atlas.No) }},
		{Word("mirrored.turn"), func() { b.SetMirrored(atlas.Yes) }},
		{Word("mirrored.later"), nil},
	}})
}

// Edges are the letters round the face in the view shown, "?" while anything is not known.
func (b *Bench) Edges() section.Edges {
	p, ok := b.Plate()
	if !ok {
		return section.UnknownEdges
	}
	return p.Edges(b.draw.view)
}

// turn is how the photograph is turned and mirrored to be shown; as taken while its sides are not known.
func (b *Bench) turn(p atlas.Plate) (turns int, mirror bool) {
	facing, up := honestFacing(p)
	q, m, err := section.Turn(facing, up, b.draw.view)
	if err != nil {
		return honest(0, false, p.Mirrored == atlas.Yes)
	}
	return honest(q, m, p.Mirrored == atlas.Yes)
}

// MirroredShown reports whether the view shown has left and right exchanged against the bench.
func (b *Bench) MirroredShown() bool {
	p, ok := b.Plate()
	if !ok {
		return false
	}
	facing, up := honestFacing(p)
	_, m, err := section.Turn(facing, up, b.draw.view)
	return err == nil && m
}

// View is how the face is shown.
func (b *Bench) View() section.View { return b.draw.view }

// SetView shows the face another way.
func (b *Bench) SetView(v section.View) {
	if b.draw.view != v {
		b.draw.view = v
		b.changed(ViewChanged | ScanChanged)
	}
}

// ToggleView goes back to bench view from any other, and from bench view to scan view.
func (b *Bench) ToggleView() {
	if b.draw.view != section.Bench {
		b.SetView(section.Bench)
	} else {
		b.SetView(section.Scan)
	}
}
