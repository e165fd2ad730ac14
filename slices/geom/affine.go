package geom

import "math"

// Affine is a row-major 3x4 matrix from voxels to patient millimetres (IJK to LPS).
type Affine [12]float64

// LPS returns where voxel p lies in the patient.
func (a Affine) LPS(p IJK) LPS {
	return LPS{
		a[0]*p.I + a[1]*p.J + a[2]*p.K + a[3],
		a[4]*p.I + a[5]*p.J + a[6]*p.K + a[7],
		a[8]*p.I + a[9]*p.J + a[10]*p.K + a[11],
	}
}

// Column returns the step in mm from one column (0), row (1) or slice (2) to the next.
func (a Affine) Column(n int) Vec { return Vec{a[n], a[4+n], a[8+n]} }

// Origin returns the place of the first voxel's centre.
func (a Affine) Origin() LPS { return LPS{a[3], a[7], a[11]} }

// NewAffine builds the map whose steps are col, row and slice and whose first voxel lies at o.
func NewAffine(col, row, slice Vec, o LPS) Affine {
	return Affine{
		col.X, row.X, slice.X, o.X,
		col.Y, row.Y, slice.Y, o.Y,
		col.Z, row.Z, slice.Z, o.Z,
	}
}

// Linear returns the part of the inverse that maps displacements: patient mm to voxels.
// It fails with ErrDegenerate when the steps lie in one plane.
func (a Affine) Linear() (func(Vec) IJK, error) {
	c, r, s := a.Column(0), a.Column(1), a.Column(2)
	det := c.Dot(r.Cross(s))
	size := c.Len() * r.Len() * s.Len()
	if !finite(a[:]...) || size == 0 || math.Abs(det) < 1e-9*size {
		return nil, ErrDegenerate
	}
	u, v, w := r.Cross(s).Mul(1/det), s.Cross(c).Mul(1/det), c.Cross(r).Mul(1/det)
	return func(d Vec) IJK { return IJK{u.Dot(d), v.Dot(d), w.Dot(d)} }, nil
}

// Inverse returns the map from the patient back to voxels, or ErrDegenerate.
func (a Affine) Inverse() (func(LPS) IJK, error) {
	linear, err := a.Linear()
	if err != nil {
		return nil, err
	}
	o := a.Origin()
	return func(p LPS) IJK { return linear(p.Sub(o)) }, nil
}

// CornerAff3 turns a map between pixel centres (ours: the first centre is 0, 0) into the same map
// between pixel corners, as Go's image packages count. It is the only place that adds the half pixel.
// m is row-major 2x3.
func CornerAff3(m [6]float64) [6]float64 {
	m[2] += 0.5 - 0.5*(m[0]+m[1])
	m[5] += 0.5 - 0.5*(m[3]+m[4])
	return m
}
