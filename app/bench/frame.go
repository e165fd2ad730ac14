package bench

import (
	"math"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// The mm of a face have the axes of whatever its scale was laid by: a plate may lie askew in the picture. What is shown
// has the axes of the picture. A picture frame carries points and poses from the one to the other; both belong to the
// face as it lies, with a mirrored photograph mirrored back.
type pictureFrame struct {
	toMM  photo.Mapping // photograph pixels to mm along the axes of the picture
	right geom.MM       // picture right, in face mm
}

// frameOfFace is the picture frame of a plate; ok is false without a scale.
func frameOfFace(p atlas.Plate) (f pictureFrame, ok bool) {
	h, ok := p.FaceMM()
	if !ok {
		return f, false
	}
	j := h.Jacobian(p.MiddlePx())
	n := math.Hypot(j[0], j[2])
	if !(n > 0) || math.IsInf(n, 0) {
		return f, false
	}
	if p.Mirrored == atlas.Yes {
		n = -n // right of the face as it lies is left of the picture
	}
	f.right = geom.MM{X: j[0] / n, Y: j[2] / n}
	f.toMM = h
	for k := range 3 {
		f.toMM.ToMM[k], f.toMM.ToMM[3+k] = f.right.X*h.ToMM[k]+f.right.Y*h.ToMM[3+k], -f.right.Y*h.ToMM[k]+f.right.X*h.ToMM[3+k]
	}
	return f, true
}

// pose turns a pose of face mm into one of picture mm: the same places in the patient.
func (f pictureFrame) pose(p geom.Pose) geom.Pose {
	x, y := p.X, p.Y
	p.X = x.Mul(f.right.X).Add(y.Mul(f.right.Y))
	p.Y = y.Mul(f.right.X).Sub(x.Mul(f.right.Y))
	return p
}

// face returns picture mm as face mm.
func (f pictureFrame) face(m geom.MM) geom.MM {
	return geom.MM{X: f.right.X*m.X - f.right.Y*m.Y, Y: f.right.Y*m.X + f.right.X*m.Y}
}

// faceMM is the map from photograph pixels to mm of the face as it lies, along the axes of the picture.
func faceMM(p atlas.Plate) (photo.Mapping, bool) {
	f, ok := frameOfFace(p)
	return f.toMM, ok
}
