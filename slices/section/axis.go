// Package section knows how bodies are cut: planes, slabs, kerf, faces, and which way each face is
// seen. Everything about left and right follows from one law: for an honest picture, right x up is
// the outward normal of the face.
package section

import (
	"encoding"
	"errors"
	"fmt"
	"math"
	"strings"

	"sectionary/slices/geom"
)

// ErrUnknown says that plane, face or photo-up is not declared, so no letter may be shown.
var ErrUnknown = errors.New("section: plane, face or photo-up is not known")

// ErrNotAFace says that a face or photo-up cannot belong to the plane it was given for.
var ErrNotAFace = errors.New("section: that direction does not belong to that plane")

// Plane is one of the three anatomical planes of cutting.
type Plane uint8

// The planes. The zero value is not yet declared.
const (
	UnknownPlane Plane = iota
	Transverse
	Frontal
	Sagittal
)

// Facing is a direction of the patient: the way a face looks out of its slab, or the way photo-up points.
type Facing uint8

// The directions. The zero value is not yet declared.
const (
	UnknownFacing Facing = iota
	Superior
	Inferior
	Anterior
	Posterior
	Left
	Right
)

var (
	planeNames  = []string{"unknown", "transverse", "frontal", "sagittal"}
	facingNames = []string{"unknown", "superior", "inferior", "anterior", "posterior", "left", "right"}
	viewNames   = []string{"bench", "scan", "otherside"}
)

const letters = "?SIAPLR"

func (p Plane) String() string  { return nameOf(planeNames, int(p)) }
func (f Facing) String() string { return nameOf(facingNames, int(f)) }

// Letter is the edge letter of f: one of S I A P L R, or "?" when unknown.
func (f Facing) Letter() string {
	if int(f) >= len(letters) {
		return "?"
	}
	return letters[f : f+1]
}

// Opposite is the other end of the same axis.
func (f Facing) Opposite() Facing {
	switch {
	case f == UnknownFacing || f > Right:
		return UnknownFacing
	case f%2 == 1:
		return f + 1
	}
	return f - 1
}

// Axis is the unit vector of f in LPS, zero when unknown.
func (f Facing) Axis() geom.Vec {
	switch f {
	case Superior:
		return geom.Vec{Z: 1}
	case Inferior:
		return geom.Vec{Z: -1}
	case Anterior:
		return geom.Vec{Y: -1}
	case Posterior:
		return geom.Vec{Y: 1}
	case Left:
		return geom.Vec{X: 1}
	case Right:
		return geom.Vec{X: -1}
	}
	return geom.Vec{}
}

// Plane is the plane whose faces may look along f.
func (f Facing) Plane() Plane { return Plane((f + 1) / 2) }

// Faces returns the two ways a face of this plane can look, the upper, front or left one first.
func (p Plane) Faces() [2]Facing {
	if p == UnknownPlane || p > Sagittal {
		return [2]Facing{}
	}
	return [2]Facing{Facing(2*p - 1), Facing(2 * p)}
}

// ParsePlane reads a plane by its lower-case name.
func ParsePlane(s string) (Plane, error) {
	i, err := parse(planeNames, s, "a plane (transverse, frontal or sagittal)")
	return Plane(i), err
}

// ParseFacing reads a direction by its lower-case name or its edge letter; "?" and "unknown" are UnknownFacing.
func ParseFacing(s string) (Facing, error) {
	if len(s) == 1 {
		if i := strings.IndexByte(letters, s[0]&^0x20); i > 0 {
			return Facing(i), nil
		}
		if s == "?" {
			return UnknownFacing, nil
		}
	}
	i, err := parse(facingNames, s, "a direction (superior, inferior, anterior, posterior, left, right or unknown)")
	return Facing(i), err
}

// FacingOf returns the direction nearest to v, or UnknownFacing for a zero vector.
func FacingOf(v geom.Vec) Facing {
	best, most := UnknownFacing, 0.0
	for f := Superior; f <= Right; f++ {
		if d := v.Dot(f.Axis()); d > most {
			best, most = f, d
		}
	}
	return best
}

// ObliqueLetter names the direction v: the letter of its largest part, followed by a second letter when
// the next part is larger than 0.2 of unit length (as "AL"). "?" for a zero vector.
func ObliqueLetter(v geom.Vec) string {
	v = v.Unit()
	first := FacingOf(v)
	if first == UnknownFacing {
		return "?"
	}
	rest := v.Sub(first.Axis().Mul(v.Dot(first.Axis())))
	if second := FacingOf(rest); second != UnknownFacing && rest.Dot(second.Axis()) > 0.2 {
		return first.Letter() + second.Letter()
	}
	return first.Letter()
}

// View is a way of showing a face.
type View uint8

// Bench is the honest face with A (or S) up; Scan is as scans are shown; OtherSide is seen from the
// opposite station point.
const (
	Bench View = iota
	Scan
	OtherSide
)

func (v View) String() string { return nameOf(viewNames, int(v)) }

// ParseView reads a view by its lower-case name.
func ParseView(s string) (View, error) {
	i, err := parse(viewNames, s, "a view (bench, scan or otherside)")
	return View(i), err
}

func nameOf(names []string, i int) string {
	if i < 0 || i >= len(names) {
		return names[0]
	}
	return names[i]
}

func parse(names []string, s, what string) (int, error) {
	for i, n := range names {
		if strings.EqualFold(n, strings.TrimSpace(s)) {
			return i, nil
		}
	}
	return 0, fmt.Errorf("section: %q is not %s", s, what)
}

// The enums stand in JSON as their lower-case names.

func (p Plane) MarshalText() ([]byte, error)  { return []byte(p.String()), nil }
func (f Facing) MarshalText() ([]byte, error) { return []byte(f.String()), nil }

func (p *Plane) UnmarshalText(b []byte) (err error)  { *p, err = ParsePlane(string(b)); return }
func (f *Facing) UnmarshalText(b []byte) (err error) { *f, err = ParseFacing(string(b)); return }

var (
	_ encoding.TextMarshaler   = Transverse
	_ encoding.TextUnmarshaler = (*Facing)(nil)
)

func degrees(rad float64) float64 { return rad * 180 / math.Pi }
