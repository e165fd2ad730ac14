package bench

import (
	"sectionary/slices/section"
)

// UpProposal is the side of the body that lay at the top of another photograph of the run, proposed for the one on the bench. Nothing is
// taken over unseen: a face laid the other way round under the camera looks much like the right one, so each is looked at and said yes to.
type UpProposal struct {
	From  section.Face
	Up    section.Facing
	Words string
}

// sameWay is a proposal read from another plate, kept with the document it is made for.
type sameWay struct {
	plate string
	rev   int
	up    section.Facing
}

// ProposedUp tells which side of the body is proposed for the top of the photograph: that of the nearest earlier face of the run that
// tells its sides, else of the nearest later one, where the photograph on the bench does not tell its own.
func (b *Bench) ProposedUp() (UpProposal, bool) {
	d := b.doc
	if d == nil || d.plate().PhotoUp != section.UnknownFacing || b.writable() != nil {
		return UpProposal{}, false
	}
	from, there := b.nearestFace(b.Face(), func(x fact) bool { return x.letters })
	if !there {
		return UpProposal{}, false
	}
	x := b.rule.facts[from]
	if d.sameWay.plate != x.plate || d.sameWay.rev != x.rev {
		d.sameWay = sameWay{plate: x.plate, rev: x.rev}
		if p, ok := b.plateOn(from); ok {
			d.sameWay.up = p.PhotoUp
		}
	}
	up := d.sameWay.up
	if up == section.UnknownFacing || up.Plane() == d.plate().Face.Facing.Plane() {
		return UpProposal{}, false
	}
	return UpProposal{from, up, Word("axes.proposed", b.FaceName(from), up.Letter())}, true
}

// AcceptUp says yes to what is proposed, one undo step.
func (b *Bench) AcceptUp() {
	p, ok := b.ProposedUp()
	if !ok {
		b.hint(Word("axes.noproposal"), true)
		return
	}
	b.SetPhotoUp(p.Up)
}

// proposedEdges are the letters that a yes would give: "?" where nothing is proposed, or a mirror in the camera's tag is not answered for.
func (b *Bench) proposedEdges() section.Edges {
	p, ok := b.ProposedUp()
	plate, there := b.Plate()
	if !ok || !there {
		return section.UnknownEdges
	}
	plate.PhotoUp = p.Up
	return plate.PhotoEdges()
}
