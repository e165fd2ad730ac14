package section_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// tilted lays a face of plane p on the slope that rises by tan(pitch) toward the first edge and by tan(roll)
// toward the second, and turns the picture so that the body lies turned clockwise by turn.
func tilted(f, up, edge1, edge2, axis section.Facing, pitch, roll, turn float64) geom.Pose {
	// a point of the slope above the in-plane displacement d
	slope := func(d geom.Vec) geom.Vec {
		rise := math.Tan(pitch)*d.Dot(edge1.Axis()) + math.Tan(roll)*d.Dot(edge2.Axis())
		return d.Add(axis.Axis().Mul(rise))
	}
	photoRight := up.Axis().Cross(f.Axis())
	y := slope(up.Axis()).Unit().Neg() // picture down before turning
	x := slope(photoRight)
	x = x.Sub(y.Mul(x.Dot(y))).Unit()
	// turning the body clockwise in the picture turns the picture's axes anticlockwise in the body
	sin, cos := math.Sincos(turn)
	return geom.Pose{X: x.Mul(cos).Sub(y.Mul(sin)), Y: y.Mul(cos).Add(x.Mul(sin)), Scale: 1}
}

// The signs as fixed for the prompt: pitch + = front edge higher (transverse), head edge further forward
// (frontal), head edge further left (sagittal); roll + = the donor's right edge higher, right edge further
// forward, front edge further left; turn + = clockwise as viewed.
func TestTiltSigns(t *testing.T) {
	edges := map[section.Plane][3]section.Facing{
		section.Transverse: {section.Anterior, section.Right, section.Superior},
		section.Frontal:    {section.Superior, section.Right, section.Anterior},
		section.Sagittal:   {section.Superior, section.Anterior, section.Left},
	}
	rapid.Check(t, func(t *rapid.T) {
		f := section.Facing(rapid.IntRange(1, 6).Draw(t, "face"))
		up := section.Facing(rapid.IntRange(1, 6).Draw(t, "up"))
		if up.Plane() == f.Plane() {
			return
		}
		e := edges[f.Plane()]
		a := rapid.Float64Range(-0.5, 0.5)
		pitch, roll, turn := a.Draw(t, "pitch"), a.Draw(t, "roll"), rapid.Float64Range(-3, 3).Draw(t, "turn")
		pose := tilted(f, up, e[0], e[1], e[2], pitch, roll, 0)
		if section.TurnedOver(pose, f) || !section.TurnedOver(pose, f.Opposite()) {
			t.Fatalf("%v: outward %v", f, pose.Outward())
		}
		got, err := section.TiltOf(pose, f, up)
		if err != nil || math.Abs(got.Pitch-pitch) > 1e-9 || math.Abs(got.Roll-roll) > 1e-9 {
			t.Fatalf("%v with %v up: %+v, want pitch %g, roll %g, %v", f, up, got, pitch, roll, err)
		}
		flat, err := section.TiltOf(tilted(f, up, e[0], e[1], e[2], 0, 0, turn), f, up)
		if err != nil || math.Abs(flat.Turn-turn) > 1e-9 || math.Abs(flat.Pitch)+math.Abs(flat.Roll) > 1e-9 {
			t.Fatalf("%v with %v up: %+v, want turn %g, %v", f, up, flat, turn, err)
		}
	})
}

// A quarter turn by hand: on the upper face photographed with the front at the top, the body lies turned
// clockwise by 90 degrees when its front points to picture right.
func TestTurnByHand(t *testing.T) {
	pose := geom.Pose{X: section.Anterior.Axis(), Y: section.Right.Axis(), Scale: 1}
	if section.TurnedOver(pose, section.Superior) {
		t.Fatal("the pose must show the upper face")
	}
	got, err := section.TiltOf(pose, section.Superior, section.Anterior)
	near(t, "turn", got.Turn, math.Pi/2, 1e-12)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := section.TiltOf(pose, section.Superior, section.UnknownFacing); !errors.Is(err, section.ErrUnknown) {
		t.Errorf("tilt of an undeclared picture: %v", err)
	}
}

func TestTiltInWords(t *testing.T) {
	// right side up over 300 mm at 2 degrees rises 10.5 mm; front side down over 200 mm at 1 degree falls 3.5 mm
	w := section.Tilt{Roll: 2 * math.Pi / 180, Pitch: -1 * math.Pi / 180}.Words(section.Transverse, 300, 200)
	for _, part := range []string{"tilt 2.2°", "right side 10 mm higher", "front side 3 mm lower"} {
		if !strings.Contains(w, part) {
			t.Errorf("%q lacks %q", w, part)
		}
	}
	if w := (section.Tilt{Roll: 0.004}).Words(section.Sagittal, 300, 200); !strings.Contains(w, "no tilt") {
		t.Errorf("a quarter of a degree: %q", w)
	}
}

// What a turn does to the letters round a picture.
func quarter(e section.Edges) section.Edges {
	return section.Edges{Up: e.Left, Right: e.Up, Down: e.Right, Left: e.Down}
}

func mirror(e section.Edges) section.Edges {
	e.Left, e.Right = e.Right, e.Left
	return e
}

func TestTurnsComeBack(t *testing.T) {
	seen := 0
	for f := section.Superior; f <= section.Right; f++ {
		for up := section.Superior; up <= section.Right; up++ {
			for v := section.Bench; v <= section.OtherSide; v++ {
				q, m, err := section.Turn(f, up, v)
				if err != nil {
					continue
				}
				seen++
				photo := section.PhotoEdges(f, up)
				turn := func(e section.Edges) section.Edges {
					for range q {
						e = quarter(e)
					}
					if m {
						e = mirror(e)
					}
					return e
				}
				if got := turn(photo); got != section.EdgeLetters(f, up, v) {
					t.Errorf("%v, %v up, %v: turned letters %v, want %v", f, up, v, got, section.EdgeLetters(f, up, v))
				}
				// turn and mirror together undo themselves; a plain turn is undone by the rest of the circle
				back := turn(turn(photo))
				if !m {
					back = turn(photo)
					for range (4 - q) % 4 {
						back = quarter(back)
					}
				}
				if back != photo {
					t.Errorf("%v, %v up, %v: %d turns, mirror %v come back as %v, want %v", f, up, v, q, m, back, photo)
				}
				if v == section.Bench && m {
					t.Errorf("%v, %v up: the bench never mirrors", f, up)
				}
			}
		}
	}
	if seen != 72 {
		t.Errorf("%d turns, want 24 pictures in 3 views", seen)
	}
}
