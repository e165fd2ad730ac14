package bench

import (
	"sectionary/annotate"
	"sectionary/slices/geom"
)

// PointerWords name what lies at the linked pointer and say how far off the place may be; empty when there is no pointer.
func (s *scanPane) PointerWords() string { return s.b.pointerWords() }

// PointerWords name what lies at the linked pointer and say how far off the place may be; empty when there is no pointer.
func (f *facePane) PointerWords() string { return f.b.pointerWords() }

func (b *Bench) pointerWords() string {
	if b.pair.where == nil || b.doc == nil || b.screen != PairingScreen || b.blank {
		return ""
	}
	named := ""
	_, how, placed := b.cutPose()
	if !placed || how == freely {
		return "" // a guess places nothing
	}
	if h, ok := faceMM(b.doc.plate()); ok && !b.offFace() { // off the face nothing is known by name
		named = b.nameAt(h.Px(*b.pair.where))
	}
	off := b.errorRadius(*b.pair.where, 1)
	switch {
	case off == 0:
		return named
	case named == "":
		return Word("pointer.off", off)
	}
	return Word("pointer.named", named, off)
}

// nameAt is the name of the smallest outline of the face round px, with its side; empty outside all of them.
func (b *Bench) nameAt(px geom.Px) string {
	under := b.doc.plate().Labels.Under(px)
	if len(under) == 0 {
		return ""
	}
	x := under[0]
	t, known := b.term(x.Term)
	if !known {
		return Word("label.unnamed")
	}
	words := b.shownName(t)
	switch x.Side {
	case annotate.Left:
		words += " L"
	case annotate.Right:
		words += " R"
	}
	if x.Carried {
		return Word("pointer.carried", words)
	}
	return words
}
