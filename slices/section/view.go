package section

import (
	"fmt"
	"math"

	"sectionary/slices/geom"
)

// Axes returns the patient directions of picture right and picture up for a face photographed with photoUp
// at the top: right x up = outward normal. It fails with ErrUnknown while anything is undeclared and with
// ErrNotAFace when the face does not belong to the plane or photo-up does not lie in it.
func Axes(p Plane, f Facing, photoUp Facing) (right, up geom.Vec, err error) {
	if p == UnknownPlane || f == UnknownFacing || photoUp == UnknownFacing {
		return geom.Vec{}, geom.Vec{}, ErrUnknown
	}
	if f.Plane() != p {
		return geom.Vec{}, geom.Vec{}, fmt.Errorf("%w: a %s run has no %s face", ErrNotAFace, p, f)
	}
	if photoUp.Plane() == p {
		return geom.Vec{}, geom.Vec{}, fmt.Errorf("%w: %s cannot be at the top of a %s face", ErrNotAFace, photoUp, p)
	}
	up = photoUp.Axis()
	return up.Cross(f.Axis()), up, nil // up x outward = right, the law turned round
}

// Edges are the letters at the four sides of a picture, "?" where the direction is not known.
type Edges struct {
	Left  string `json:"left"`
	Right string `json:"right"`
	Up    string `json:"up"`
	Down  string `json:"down"`
}

// UnknownEdges stand on a picture whose plane, face or photo-up is not declared.
var UnknownEdges = Edges{"?", "?", "?", "?"}

// EdgesOf returns the letters for a picture whose right and down sides point along these patient directions.
// They come from the cosines alone, so feet-first and prone scans need no special case.
func EdgesOf(right, down geom.Vec) Edges {
	return Edges{
		Left: ObliqueLetter(right.Neg()), Right: ObliqueLetter(right),
		Up: ObliqueLetter(down.Neg()), Down: ObliqueLetter(down),
	}
}

// viewAxes gives picture right and up of a plane in a view; for Bench the face decides.
func viewAxes(f Facing, v View) (right, up geom.Vec) {
	p := f.Plane()
	up = Superior.Axis()
	if p == Transverse {
		up = Anterior.Axis()
	}
	stand := f.Axis()
	if v != Bench {
		// Scans are looked at from the feet, from the front and from the left.
		stand = map[Plane]Facing{Transverse: Inferior, Frontal: Anterior, Sagittal: Left}[p].Axis()
		if v == OtherSide {
			stand = stand.Neg()
		}
	}
	return up.Cross(stand), up
}

// Turn returns how an upright photograph of face f with photoUp at its top is brought into view v: first
// quarterTurns clockwise, then, if mirror is set, one left-right mirror. Errors as Axes.
func Turn(f Facing, photoUp Facing, v View) (quarterTurns int, mirror bool, err error) {
	right, up, err := Axes(f.Plane(), f, photoUp)
	if err != nil {
		return 0, false, err
	}
	wantRight, wantUp := viewAxes(f, v)
	for q := range 4 {
		switch {
		case up == wantUp && right == wantRight:
			return q, false, nil
		case up == wantUp && right == wantRight.Neg():
			return q, true, nil
		}
		right, up = up, right.Neg() // one quarter clockwise: what was up is now at the right
	}
	return 0, false, ErrUnknown // not reached: four turns meet every direction of the plane
}

// EdgeLetters returns the letters round face f in view v, "?" on all four sides while anything is unknown.
func EdgeLetters(f Facing, photoUp Facing, v View) Edges {
	if _, _, err := Axes(f.Plane(), f, photoUp); err != nil {
		return UnknownEdges
	}
	right, up := viewAxes(f, v)
	return EdgesOf(right, up.Neg())
}

// PhotoEdges returns the letters round the upright photograph as it was taken.
func PhotoEdges(f Facing, photoUp Facing) Edges {
	right, up, err := Axes(f.Plane(), f, photoUp)
	if err != nil {
		return UnknownEdges
	}
	return EdgesOf(right, up.Neg())
}

// SquarePose places a face exactly along its declared axes with face point (0, 0) at origin.
func SquarePose(f Facing, photoUp Facing, origin geom.LPS) (geom.Pose, error) {
	right, up, err := Axes(f.Plane(), f, photoUp)
	if err != nil {
		return geom.Pose{}, err
	}
	return geom.Pose{Origin: origin, X: right, Y: up.Neg(), Scale: 1}, nil
}

// TurnedOver reports whether the pose shows the face from behind: its outward normal points away from the
// declared face. The picture is then mirrored or the face is the other one, however small the fit residual.
func TurnedOver(pose geom.Pose, f Facing) bool { return pose.Outward().Dot(f.Axis()) < 0 }

// Tilt tells how far a cut leans from its plane, in radians. Signs: transverse, pitch + = front edge
// higher, roll + = the donor's right edge higher; frontal, pitch + = head edge further forward, roll + =
// right edge further forward; sagittal, pitch + = head edge further left, roll + = front edge further left.
// Turn + = the body lies turned clockwise in the picture, as viewed.
type Tilt struct{ Pitch, Roll, Turn float64 }

// TiltOf measures how pose leans from plane f.Plane(), and turns from having photoUp straight up.
func TiltOf(pose geom.Pose, f Facing, photoUp Facing) (Tilt, error) {
	if _, _, err := Axes(f.Plane(), f, photoUp); err != nil {
		return Tilt{}, err
	}
	axis := f.Plane().Faces()[0].Axis()
	n := pose.Normal()
	if n.Dot(axis) < 0 {
		n = n.Neg()
	}
	e1, e2 := tiltEdges(f.Plane())
	up := photoUp.Axis()
	return Tilt{
		Pitch: math.Atan2(-n.Dot(e1.Axis()), n.Dot(axis)),
		Roll:  math.Atan2(-n.Dot(e2.Axis()), n.Dot(axis)),
		Turn:  math.Atan2(up.Dot(pose.X), -up.Dot(pose.Y)),
	}, nil
}

// tiltEdges are the edges whose rise pitch and roll count.
func tiltEdges(p Plane) (pitch, roll Facing) {
	switch p {
	case Transverse:
		return Anterior, Right
	case Frontal:
		return Superior, Right
	}
	return Superior, Anterior
}

// Words tells the tilt of a face of the given width and height (mm, along roll and pitch) as a person at
// the saw would say it.
func (t Tilt) Words(p Plane, acrossRoll, acrossPitch float64) string {
	rise := map[Plane][2]string{Transverse: {"higher", "lower"}, Frontal: {"further forward", "further back"},
		Sagittal: {"further left", "further right"}}[p]
	e1, e2 := tiltEdges(p)
	edge := map[Facing]string{Anterior: "front", Superior: "head", Right: "right"}
	part := func(e Facing, angle, across float64) string {
		mm := across * math.Tan(angle)
		word := rise[0]
		if mm < 0 {
			word = rise[1]
		}
		return fmt.Sprintf("%s side %.0f mm %s", edge[e], math.Abs(mm), word)
	}
	total := math.Atan(math.Hypot(math.Tan(t.Pitch), math.Tan(t.Roll)))
	if degrees(total) < 0.5 {
		return "no tilt to speak of"
	}
	return fmt.Sprintf("tilt %.1f°: %s, %s", degrees(total), part(e2, t.Roll, acrossRoll), part(e1, t.Pitch, acrossPitch))
}
