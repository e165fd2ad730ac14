package atlas

import (
	"errors"
	"fmt"
	"math"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// ErrOtherTop says that landmarks speak against the declared photo-up, by which left and right are told.
var ErrOtherTop = errors.New("atlas: the landmarks show another direction at the top of the picture")

// FaceMM is the map from pixels to mm of the face as it lies: where the picture shows it mirrored, x is turned
// round. ok is false without a scale.
func (p Plate) FaceMM() (h photo.Mapping, ok bool) {
	h = p.Calibration.Map()
	if p.Mirrored == Yes {
		h.ToMM[0], h.ToMM[1], h.ToMM[2] = -h.ToMM[0], -h.ToMM[1], -h.ToMM[2]
	}
	return h, p.Calibration.Status != photo.Nominal
}

// Lay returns p laid in a series by landmarks; free lets the tissue have shrunk or swelled. It fails with
// photo.ErrNoScale, ErrNotOriented, ErrUnplaced, ErrOtherTop, and as register.FromTies, among them register.ErrTurnedOver.
func (p Plate) Lay(series string, ties []register.Tie, free bool) (Plate, error) {
	h, scaled := p.FaceMM()
	switch {
	case p.Face == (section.Face{}):
		return p, naming("photograph "+p.ID, ErrUnplaced)
	case p.LettersUnknown():
		return p, naming(p.Face.Name(), ErrNotOriented)
	case !scaled:
		return p, naming(p.Face.Name(), photo.ErrNoScale)
	}
	r, err := register.FromTies(series, h, ties, p.Face.Facing, free)
	if err != nil {
		return p, fmt.Errorf("%s: %w", p.Face.Name(), err)
	}
	right := p.pictureRight(h) // the axes of the face's mm may lie askew in the picture
	if top := section.FacingOf(r.Pose.X.Mul(right.Y).Sub(r.Pose.Y.Mul(right.X))); top != p.PhotoUp {
		return p, fmt.Errorf("%s: %w: they show %s there, but %s was declared", p.Face.Name(), ErrOtherTop, top, p.PhotoUp)
	}
	p.Registration = &r
	return p, nil
}

// Relaid lays p anew on the landmarks it has, after its scale, photo-up or mirror answer changed; a pose that
// does not rest on landmarks alone falls away. Errors as Lay.
func (p Plate) Relaid() (Plate, error) {
	old := p.Registration
	if old == nil {
		return p, nil
	}
	if old.Method != register.ByTies {
		p.Registration = nil
		return p, nil
	}
	return p.Lay(old.Series, old.Ties, old.Pose.Scale != 1)
}

// pictureRight is the direction of the face as it lies, in face mm, that runs to the right of the picture (of the
// picture mirrored back, where it shows the face mirrored), of unit length.
func (p Plate) pictureRight(h photo.Mapping) geom.MM {
	j := h.Jacobian(p.MiddlePx())
	n := math.Hypot(j[0], j[2])
	if p.Mirrored == Yes {
		n = -n // right of the face as it lies is left of the picture
	}
	if n == 0 || math.IsNaN(n) || math.IsInf(n, 0) {
		return geom.MM{X: 1}
	}
	return geom.MM{X: j[0] / n, Y: j[2] / n}
}

// square places p by level, square to its picture. The axes of the face's mm may lie askew in the picture, when
// they are those of a scale plate.
func (p Plate) square(series string, levels register.Levels, run section.Run, centre geom.LPS) (register.Registration, error) {
	h, scaled := p.FaceMM()
	var middle geom.MM
	right := geom.MM{X: 1} // picture right, in face mm
	if scaled {
		if m := h.MM(p.MiddlePx()); !math.IsNaN(m.X+m.Y) && !math.IsInf(m.X+m.Y, 0) {
			middle, right = m, p.pictureRight(h)
		}
	}
	r, err := register.FromLevel(series, levels, run, p.Face, p.PhotoUp, middle, centre)
	if err != nil {
		return r, err
	}
	at, x, y := r.Pose.At(middle), r.Pose.X, r.Pose.Y
	r.Pose.X = x.Mul(right.X).Add(y.Mul(-right.Y))
	r.Pose.Y = x.Mul(right.Y).Add(y.Mul(right.X))
	r.Pose = r.Pose.Shift(at.Sub(r.Pose.At(middle)))
	return r, nil
}
