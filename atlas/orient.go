package atlas

import (
	"errors"
	"math"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// ErrNotOriented says that left and right of a picture are not known, so no letter, label or hand-out may be
// made from it.
var ErrNotOriented = errors.New("atlas: left and right of this picture are not known yet")

// LettersUnknown reports whether the edge letters of p read "?": it is unplaced, photo-up is not declared, or a
// mirror in the camera's tag is not answered for.
func (p Plate) LettersUnknown() bool {
	if p.Photo.Mirrored && p.Mirrored == Unanswered {
		return true
	}
	_, _, err := section.Axes(p.Face.Facing.Plane(), p.Face.Facing, p.PhotoUp)
	return err != nil
}

// Edges are the letters round p in a view, "?" on all sides while anything is unknown.
func (p Plate) Edges(v section.View) section.Edges {
	if p.LettersUnknown() {
		return section.UnknownEdges
	}
	return section.EdgeLetters(p.Face.Facing, p.PhotoUp, v)
}

// PhotoEdges are the letters round the upright photograph as it was taken.
func (p Plate) PhotoEdges() section.Edges {
	if p.LettersUnknown() {
		return section.UnknownEdges
	}
	e := section.PhotoEdges(p.Face.Facing, p.PhotoUp)
	if p.Mirrored == Yes {
		e.Left, e.Right = e.Right, e.Left
	}
	return e
}

// Turn returns how the upright photograph is brought into a view: first a left-right mirror if unmirror is set
// (the picture shows the face mirrored; what is at the top stays there), then quarterTurns clockwise, then a
// left-right mirror if mirror is set. It fails with ErrNotOriented while letters are unknown.
func (p Plate) Turn(v section.View) (unmirror bool, quarterTurns int, mirror bool, err error) {
	if p.LettersUnknown() {
		return false, 0, false, ErrNotOriented
	}
	quarterTurns, mirror, err = section.Turn(p.Face.Facing, p.PhotoUp, v)
	return p.Mirrored == Yes, quarterTurns, mirror, err
}

// Middle is the middle of the face in face mm: of its border, else of the picture. Without a scale it is 0, 0.
func (p Plate) Middle() geom.MM {
	h, ok := p.FaceMM()
	if !ok {
		return geom.MM{}
	}
	m := h.MM(p.MiddlePx())
	if math.IsNaN(m.X+m.Y) || math.IsInf(m.X+m.Y, 0) {
		return geom.MM{}
	}
	return m
}

// MiddlePx is the middle of the face in pixels: of its border's box, else of the picture.
func (p Plate) MiddlePx() geom.Px {
	if len(p.Border) == 0 {
		return geom.Px{X: float64(p.Photo.Size.X-1) / 2, Y: float64(p.Photo.Size.Y-1) / 2}
	}
	box := bounds(p.Border)
	return geom.Px{X: (box.Min.X + box.Max.X) / 2, Y: (box.Min.Y + box.Max.Y) / 2}
}

func bounds(all []annotate.Polygon) annotate.Box {
	box := all[0].Bounds()
	for _, b := range all[1:] {
		box = box.Union(b.Bounds())
	}
	return box
}
