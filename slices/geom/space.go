// Package geom holds the spaces of the job and the maps between them: pixels of a photograph,
// millimetres on a cut face, voxels of a scan and millimetres in the patient.
//
// Every space has a type of its own, so mixing two of them does not compile. Lengths are
// millimetres, angles radians, areas square millimetres.
package geom

import "math"

// Px is a point of an upright photograph or a slice picture, in pixels. The centre of the first
// pixel is (0, 0); X runs right and Y runs down.
type Px struct{ X, Y float64 }

// MM is a point of a cut face, in millimetres, X right and Y down as the photograph is viewed.
type MM struct{ X, Y float64 }

// LPS is a point of the patient, in millimetres: +X to the patient's left, +Y to the back, +Z to
// the head (DICOM PS3.3 C.7.6.2.1.1).
type LPS struct{ X, Y, Z float64 }

// IJK is a point of a scan, in voxels: column, row, slice. The centre of the first voxel is (0, 0, 0).
type IJK struct{ I, J, K float64 }

// Vec is a displacement in the patient, in millimetres along the axes of LPS.
type Vec struct{ X, Y, Z float64 }

// Add returns the point v away from p.
func (p LPS) Add(v Vec) LPS { return LPS{p.X + v.X, p.Y + v.Y, p.Z + v.Z} }

// Sub returns the displacement from q to p.
func (p LPS) Sub(q LPS) Vec { return Vec{p.X - q.X, p.Y - q.Y, p.Z - q.Z} }

// Dist returns the distance between p and q in mm.
func (p LPS) Dist(q LPS) float64 { return p.Sub(q).Len() }

// Add returns v + w.
func (v Vec) Add(w Vec) Vec { return Vec{v.X + w.X, v.Y + w.Y, v.Z + w.Z} }

// Sub returns v - w.
func (v Vec) Sub(w Vec) Vec { return Vec{v.X - w.X, v.Y - w.Y, v.Z - w.Z} }

// Mul returns v stretched by s.
func (v Vec) Mul(s float64) Vec { return Vec{v.X * s, v.Y * s, v.Z * s} }

// Neg returns the opposite of v.
func (v Vec) Neg() Vec { return Vec{-v.X, -v.Y, -v.Z} }

// Dot returns the inner product of v and w.
func (v Vec) Dot(w Vec) float64 { return v.X*w.X + v.Y*w.Y + v.Z*w.Z }

// Cross returns the vector product v x w.
func (v Vec) Cross(w Vec) Vec {
	return Vec{v.Y*w.Z - v.Z*w.Y, v.Z*w.X - v.X*w.Z, v.X*w.Y - v.Y*w.X}
}

// Len returns the length of v in mm.
func (v Vec) Len() float64 { return math.Sqrt(v.Dot(v)) }

// Unit returns v at length one, or the zero vector when v has no length.
func (v Vec) Unit() Vec {
	n := v.Len()
	if n == 0 {
		return Vec{}
	}
	return v.Mul(1 / n)
}

// Finite reports whether no part of v is infinite or not a number.
func (v Vec) Finite() bool { return finite(v.X, v.Y, v.Z) }

// Dist returns the distance between p and q in pixels.
func (p Px) Dist(q Px) float64 { return math.Hypot(p.X-q.X, p.Y-q.Y) }

// Dist returns the distance between p and q in mm.
func (p MM) Dist(q MM) float64 { return math.Hypot(p.X-q.X, p.Y-q.Y) }

func finite(xs ...float64) bool {
	for _, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}
