package bench

import (
	"slices"

	"sectionary/slices/section"
)

// The order in which the faces of a run were photographed is the geometry of the run.
type (
	Pattern  = section.Pattern
	Sequence = section.Sequence
)

// The patterns.
const (
	TwoPerCut  = section.TwoPerCut
	SlabBySlab = section.SlabBySlab
	OnePerSlab = section.OnePerSlab
)

// from drops the faces before start; where start is not in the sequence, those before its slab.
func from(faces []section.Face, start section.Face) []section.Face {
	if i := slices.Index(faces, start); i >= 0 {
		return faces[i:]
	}
	if i := slices.IndexFunc(faces, func(f section.Face) bool { return f.Slab == start.Slab }); i >= 0 {
		return faces[i:]
	}
	return faces
}

// proposal of a whole sequence: which prints, in order, with what a person changed of it.
type proposed struct {
	keys []string
	out  map[string]bool // stay on the table
	gap  map[string]int  // faces that stay empty before a print
}

// lie gives every print that stays in the proposal its face of faces. What finds none is left.
func (p *proposed) lie(faces []section.Face) (on map[string]section.Face, left int) {
	on = map[string]section.Face{}
	k := 0
	for _, key := range p.keys {
		if p.out[key] {
			left++
			continue
		}
		if k += p.gap[key]; k < len(faces) {
			on[key] = faces[k]
		} else {
			left++
		}
		k++
	}
	return on, left
}

// shift moves a print and all after it by faces, never onto those before it; false when it cannot go there.
func (p *proposed) shift(key string, by int) bool {
	if p.out[key] || !slices.Contains(p.keys, key) || p.gap[key]+by < 0 {
		return false
	}
	p.gap[key] += by
	return true
}

// leaveOut takes a print out of the proposal, so that all after it move up by one face, or takes it in again. What was
// left empty before it stays so before the next one.
func (p *proposed) leaveOut(key string) {
	i := slices.Index(p.keys, key)
	if i < 0 {
		return
	}
	p.out[key] = !p.out[key]
	for _, next := range p.keys[i+1:] {
		if !p.out[next] {
			if p.out[key] {
				p.gap[next], p.gap[key] = p.gap[next]+p.gap[key], 0
			}
			return
		}
	}
}

// Propose shows where the chosen prints (all, when fewer than two are chosen) would lie by the sequence, from the chosen
// edge on. Nothing is laid before AcceptProposal.
func (b *Bench) Propose() {
	prints := b.chosenPrints()
	if len(prints) < 2 {
		prints = b.Prints()
	}
	if len(prints) == 0 || len(b.freeFrom(b.table.edge)) == 0 {
		b.hint(upperFirst(Word("tray.nothing")), true)
		return
	}
	p := &proposed{out: map[string]bool{}, gap: map[string]int{}}
	for _, x := range prints {
		p.keys = append(p.keys, x.key)
	}
	b.table.proposal, b.table.large = p, nil
	b.hint("", false)
	b.tableChanged()
}

// proposal is where every print would lie, and how many would stay.
func (b *Bench) proposal() (on map[string]section.Face, left int) {
	if b.table.proposal == nil {
		return nil, 0
	}
	return b.table.proposal.lie(b.freeFrom(b.table.edge))
}

// DropProposal puts it away.
func (b *Bench) DropProposal() {
	b.table.proposal = nil
	b.hint("", false)
	b.tableChanged()
}

// AcceptProposal lays what is proposed, as one step.
func (b *Bench) AcceptProposal() {
	on, _ := b.proposal()
	byID := map[string]section.Face{}
	for _, p := range b.Prints() {
		f, there := on[p.key]
		if !there {
			continue
		}
		if p.ID == "" {
			b.hint(upperFirst(Word("table.coming")), true)
			return
		}
		byID[p.ID] = f
	}
	if len(byID) == 0 {
		return
	}
	if err := b.lay(Word("step.pattern", len(byID)), byID); err != nil {
		b.mend(err)
		return
	}
	b.chooseLaid(byID)
	b.table.proposal = nil
	b.table.chosen = map[string]bool{}
	b.table.edge = section.Face{}
	b.openTable()
	b.hint(count("table.laid", len(byID), len(b.lab.tray)), false)
	b.tableChanged()
}

// ShiftFrom moves the print the keyboard is on, and all after it, by faces: a picture of a face is missing.
func (b *Bench) ShiftFrom(by int) {
	p := b.table.proposal
	if p == nil || b.table.at == "" {
		b.hint(Word("table.shift.choose"), true)
		return
	}
	if !p.shift(b.table.at, by) {
		b.hint(Word("table.shift.not"), true)
		return
	}
	b.hint("", false)
	b.tableChanged()
}

// LeaveOut takes the chosen prints out of the proposal, or in again: a face was photographed twice.
func (b *Bench) LeaveOut() {
	p := b.table.proposal
	if p == nil {
		return
	}
	for _, x := range b.chosenPrints() {
		p.leaveOut(x.key)
	}
	b.tableChanged()
}

// proposeOn moves a print of the proposal, and all after it, so that it lies on f.
func (b *Bench) proposeOn(key string, f section.Face) {
	p := b.table.proposal
	faces := b.freeFrom(b.table.edge)
	on, _ := p.lie(faces)
	to, now := slices.Index(faces, f), slices.Index(faces, on[key])
	switch {
	case to < 0 && !b.empty(f):
		b.edgeTaken(f)
	case to < 0 || now < 0 || !p.shift(key, to-now):
		b.hint(Word("table.shift.not"), true)
	default:
		b.hint("", false)
	}
	b.tableChanged()
}
