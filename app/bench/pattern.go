package bench

import (
	"slices"

	"sectionary/slices/section"
)

// Pattern is the order in which the faces of a run were photographed.
type Pattern uint8

// The patterns.
const (
	TwoPerCut  Pattern = iota // after every cut both of its faces
	SlabBySlab                // both faces of a slab, then the next slab
	OnePerSlab                // the same face of every slab
)

// Sequence is a pattern with what else decides the order: which of two faces comes first (of OnePerSlab, which face it
// is), and whether the far end of the run was photographed first.
type Sequence struct {
	Pattern Pattern
	First   section.Facing
	FarEnd  bool
}

// faces lists the faces of a run in the order of the sequence. A cut has its two faces on two slabs; the ends of the run
// have one.
func (s Sequence) faces(r section.Run) (out []section.Face) {
	var groups [][]section.Face
	face := func(i int, facing section.Facing) section.Face {
		return section.Face{Run: r.ID, Slab: r.Slabs[i].Number, Facing: facing}
	}
	near, far := r.First, r.First.Opposite()
	first := s.First
	if first != near && first != far {
		first = s.usualFirst(r)
	}
	n := len(r.Slabs)
	if s.Pattern == TwoPerCut {
		for i := range n + 1 {
			var cut []section.Face
			if i > 0 {
				cut = append(cut, face(i-1, far))
			}
			if i < n {
				cut = append(cut, face(i, near))
			}
			if len(cut) == 2 && cut[0].Facing != first {
				slices.Reverse(cut)
			}
			groups = append(groups, cut)
		}
	} else {
		for i := range n {
			slab := []section.Face{face(i, first), face(i, first.Opposite())}
			if s.Pattern == OnePerSlab {
				slab = slab[:1]
			}
			groups = append(groups, slab)
		}
	}
	if s.FarEnd {
		slices.Reverse(groups)
	}
	return slices.Concat(groups...)
}

// usualFirst is the side that comes first when nobody has said: so that the faces follow the run.
func (s Sequence) usualFirst(r section.Run) section.Facing {
	if s.Pattern == TwoPerCut {
		return r.First.Opposite() // the slab before the cut lies nearer
	}
	return r.First
}

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
