package ui

import (
	"sectionary/slices/section"
)

// The pieces of a body that a run may be of, in the order in which they are offered: none in particular, the four limbs, and
// the two halves of what was cut in the midline.
func pieceLabels() []string {
	out := []string{say("piece.none")}
	for _, l := range section.Limbs() {
		out = append(out, say("piece."+l.String()))
	}
	return append(out, say("piece.right-half"), say("piece.left-half"))
}

// pieceOf is the limb or the half of the i-th of pieceLabels.
func pieceOf(i int) (section.Limb, section.Facing) {
	limbs := section.Limbs()
	switch {
	case i <= 0:
		return section.NoLimb, section.UnknownFacing
	case i <= len(limbs):
		return limbs[i-1], section.UnknownFacing
	case i == len(limbs)+1:
		return section.NoLimb, section.Right
	}
	return section.NoLimb, section.Left
}

// pieceAt is the inverse of pieceOf.
func pieceAt(l section.Limb, half section.Facing) int {
	for i := range pieceLabels() {
		if a, b := pieceOf(i); a == l && b == half {
			return i
		}
	}
	return 0
}

// showPiece asks which limb the run is of, or which half.
func (w *Window) showPiece() {
	run := w.desk.Run()
	which := w.options("piece", pieceLabels(), pieceAt(run.Limb, run.Half), nil)
	var s *sheet
	form := newColumn(14, newWords(heading, say("run.piece")), newWords(body, say("piece.words")), which.box)
	ok := w.button("piece:ok", "check", say("piece.ok"), primary, func() {
		s.close()
		l, half := pieceOf(which.chosen)
		w.report(w.desk.SetPiece(l, half))
	})
	s = w.sheet(520, form, ok, w.button("piece:no", "", say("cancel"), edged, func() { s.close() }))
	s.open(ok)
}

// toMeasure gives the keyboard to one of the measures of the chosen slab.
func (w *Window) toMeasure(i int) {
	if s, ok := w.screens[w.desk.Screen()].(*runScreen); ok && i >= 0 && i < len(s.slab.thickness) {
		w.win.Canvas().Focus(s.slab.thickness[i])
	}
}
