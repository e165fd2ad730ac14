package section

import "slices"

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
	First   Facing
	FarEnd  bool
}

// Faces lists the faces of a run in the order of the sequence. A cut has its two faces on two slabs; the ends of the run
// have one.
func (s Sequence) Faces(r Run) (out []Face) {
	var groups [][]Face
	face := func(i int, facing Facing) Face {
		return Face{Run: r.ID, Slab: r.Slabs[i].Number, Facing: facing}
	}
	near, far := r.First, r.First.Opposite()
	first := s.First
	if first != near && first != far {
		first = s.UsualFirst(r)
	}
	n := len(r.Slabs)
	if s.Pattern == TwoPerCut {
		for i := range n + 1 {
			var cut []Face
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
			slab := []Face{face(i, first), face(i, first.Opposite())}
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

// UsualFirst is the side that comes first when nobody has said: so that the faces follow the run.
func (s Sequence) UsualFirst(r Run) Facing {
	if s.Pattern == TwoPerCut {
		return r.First.Opposite() // the slab before the cut lies nearer
	}
	return r.First
}
