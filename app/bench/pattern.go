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
