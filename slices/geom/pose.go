package geom

import (
	"fmt"
	"math"
)

// Pose places a flat face in the patient: face point (x, y) lies at Origin + Scale*(x*X + y*Y).
// X is picture right and Y picture down; both are unit vectors at right angles. Scale is patient
// mm per face mm: 1 unless the tissue shrank or swelled.
type Pose struct {
	Origin LPS     `json:"origin"`
	X      Vec     `json:"x"`
	Y      Vec     `json:"y"`
	Scale  float64 `json:"scale"`
}

// Normal points away from the viewer, into the slab: X x Y with Y running down the picture.
func (f Pose) Normal() Vec { return f.X.Cross(f.Y) }

// Outward is the face's outward normal, toward the viewer.
func (f Pose) Outward() Vec { return f.Normal().Neg() }

// At returns where the face point p lies in the patient.
func (f Pose) At(p MM) LPS {
	return f.Origin.Add(f.X.Mul(f.Scale * p.X)).Add(f.Y.Mul(f.Scale * p.Y))
}

// Project returns the foot of p on the face and its signed distance off it, in patient mm along Normal.
func (f Pose) Project(p LPS) (foot MM, off float64) {
	d := p.Sub(f.Origin)
	return MM{d.Dot(f.X) / f.Scale, d.Dot(f.Y) / f.Scale}, d.Dot(f.Normal())
}

// Shift returns the pose moved by v without turning.
func (f Pose) Shift(v Vec) Pose {
	f.Origin = f.Origin.Add(v)
	return f
}

// Check reports whether f can be used: finite, axes of unit length at right angles, scale above zero.
// Axes that are off by no more than one part in a thousand pass; Squared makes them exact.
func (f Pose) Check() error {
	if !finite(f.Origin.X, f.Origin.Y, f.Origin.Z, f.Scale) || !f.X.Finite() || !f.Y.Finite() {
		return fmt.Errorf("geom: pose holds a number that is not finite")
	}
	if f.Scale <= 0 {
		return fmt.Errorf("geom: pose scale %g must be above zero", f.Scale)
	}
	const slack = 1e-3
	if math.Abs(f.X.Len()-1) > slack || math.Abs(f.Y.Len()-1) > slack || math.Abs(f.X.Dot(f.Y)) > slack {
		return fmt.Errorf("geom: pose axes must be unit vectors at right angles")
	}
	return nil
}

// Squared returns f with its axes made exactly perpendicular and of unit length, turning X and Y alike.
func (f Pose) Squared() Pose {
	n := f.Normal().Unit()
	bisector := f.X.Unit().Add(f.Y.Unit()).Unit()
	side := n.Cross(bisector)
	f.X = bisector.Sub(side).Mul(math.Sqrt2 / 2)
	f.Y = bisector.Add(side).Mul(math.Sqrt2 / 2)
	return f
}
