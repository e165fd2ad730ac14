package scan

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"math"

	"sectionary/slices/geom"
)

// WriteNIfTI writes v as a NIfTI-1 image (.nii, little endian, uncompressed): integers or float32 as held, sform always
// and qform where the axes stand at right angles. What the format cannot hold goes into WriteSide.
func (v *Volume) WriteNIfTI(w io.Writer) error {
	for _, n := range v.Size {
		if n < 1 || n > math.MaxInt16 {
			return fmt.Errorf("scan: a NIfTI-1 file cannot hold %d x %d x %d voxels", v.Size[0], v.Size[1], v.Size[2])
		}
	}
	if _, err := w.Write(v.niftiHeader()); err != nil {
		return fmt.Errorf("scan: writing NIfTI: %w", err)
	}
	buffer := make([]byte, 0, 4*niftiChunk)
	for at := 0; at < len(v.ints)+len(v.floats); at += niftiChunk {
		buffer = buffer[:0]
		if v.ints != nil {
			for _, x := range v.ints[at:min(at+niftiChunk, len(v.ints))] {
				buffer = binary.LittleEndian.AppendUint16(buffer, uint16(int(x)+v.offset))
			}
		} else {
			for _, x := range v.floats[at:min(at+niftiChunk, len(v.floats))] {
				buffer = binary.LittleEndian.AppendUint32(buffer, math.Float32bits(x))
			}
		}
		if _, err := w.Write(buffer); err != nil {
			return fmt.Errorf("scan: writing NIfTI: %w", err)
		}
	}
	return nil
}

// niftiHeader returns the 352 bytes before the voxels.
func (v *Volume) niftiHeader() []byte {
	h := make([]byte, nifti1Length+4)
	le := binary.LittleEndian
	short := func(at, x int) { le.PutUint16(h[at:], uint16(int16(x))) }
	real := func(at int, x float64) { le.PutUint32(h[at:], math.Float32bits(float32(x))) }
	le.PutUint32(h, nifti1Length)
	for n, d := range [8]int{3, v.Size[0], v.Size[1], v.Size[2], 1, 1, 1, 1} {
		short(40+2*n, d)
	}
	kind, bits := 4, 16
	if v.floats != nil {
		kind, bits = 16, 32
	} else if v.offset != 0 {
		kind = 512
	}
	if v.Modality == "SEG" {
		short(68, 1002) // NIFTI_INTENT_LABEL: every value names something
	}
	short(70, kind)
	short(72, bits)
	real(108, nifti1Length+4)
	real(112, v.Slope)
	real(116, v.Intercept)
	h[123] = 2 // mm
	ras := rasOf(v.ToLPS)
	q, handed, square := quaternion(ras)
	real(76, handed)
	for n := range 3 {
		real(80+4*n, ras.Column(n).Len())
	}
	if !v.Unoriented {
		if square {
			short(252, 1) // scanner coordinates
			for n, x := range [3]float64{q[1], q[2], q[3]} {
				real(256+4*n, x)
				real(268+4*n, ras[4*n+3])
			}
		}
		short(254, 1)
		for n, x := range ras {
			real(280+4*n, x)
		}
	}
	copy(h[344:], "n+1\x00")
	return h
}

// quaternion returns the turn of an affine whose axes stand at right angles, and -1 when its third axis is turned round.
func quaternion(a geom.Affine) (q [4]float64, handed float64, square bool) {
	x, y, z := a.Column(0).Unit(), a.Column(1).Unit(), a.Column(2).Unit()
	const within = 1e-5
	square = math.Abs(x.Dot(y)) < within && math.Abs(x.Dot(z)) < within && math.Abs(y.Dot(z)) < within
	handed = 1
	if x.Cross(y).Dot(z) < 0 {
		handed, z = -1, z.Neg()
	}
	// the largest of the four squares is divided by (Shepperd, J. Guidance and Control 1:223, 1978)
	squares := [4]float64{1 + x.X + y.Y + z.Z, 1 + x.X - y.Y - z.Z, 1 - x.X + y.Y - z.Z, 1 - x.X - y.Y + z.Z}
	most := 0
	for n := range squares {
		if squares[n] > squares[most] {
			most = n
		}
	}
	q[most] = math.Sqrt(squares[most]) / 2
	s := 1 / (4 * q[most])
	a01, a02, a03 := y.Z-z.Y, z.X-x.Z, x.Y-y.X
	b12, b13, b23 := x.Y+y.X, x.Z+z.X, y.Z+z.Y
	switch most {
	case 0:
		q[1], q[2], q[3] = a01*s, a02*s, a03*s
	case 1:
		q[0], q[2], q[3] = a01*s, b12*s, b13*s
	case 2:
		q[0], q[1], q[3] = a02*s, b12*s, b23*s
	default:
		q[0], q[1], q[2] = a03*s, b13*s, b23*s
	}
	if q[0] < 0 { // NIfTI leaves the first part out: it is taken as not negative
		for n := range q {
			q[n] = -q[n]
		}
	}
	return q, handed, square
}

// side is what stands beside a stored volume, because NIfTI has no place for it.
type side struct {
	Version     int         `json:"version"`
	UID         string      `json:"uid"`
	Modality    string      `json:"modality"`
	Description string      `json:"description,omitempty"`
	Frame       string      `json:"frame"`
	Size        [3]int      `json:"size"`
	ToLPS       geom.Affine `json:"toLPS"`
	Origins     []geom.LPS  `json:"origins"` // first voxel of every slice, LPS mm
	Gaps        []int       `json:"gaps"`    // slices (from 0) behind which others are missing
	Unoriented  bool        `json:"unoriented,omitempty"`
	Inverse     bool        `json:"inverse,omitempty"`
	Windows     []Window    `json:"windows"`
	Warnings    []string    `json:"warnings"`
	Slope       float64     `json:"slope"`
	Intercept   float64     `json:"intercept"`
	Padding     *[2]int     `json:"padding,omitempty"`
	Cleaned     string      `json:"cleaned,omitempty"` // how identity was removed
}

const sideVersion = 1

// WriteSide writes, as JSON, what NIfTI cannot hold: the place of every slice, gaps, warnings, windows, exact slope.
func (v *Volume) WriteSide(w io.Writer) error {
	s := side{
		Version: sideVersion, UID: v.UID, Modality: v.Modality, Description: v.Description, Frame: v.Frame,
		Size: v.Size, ToLPS: v.ToLPS, Origins: v.Origins, Gaps: []int{}, Unoriented: v.Unoriented, Inverse: v.Inverse,
		Windows: append([]Window{}, v.Windows...), Warnings: append([]string{}, v.Warnings...),
		Slope: v.Slope, Intercept: v.Intercept, Padding: v.Padding, Cleaned: v.Cleaned,
	}
	for k, gap := range v.Gaps {
		if gap {
			s.Gaps = append(s.Gaps, k)
		}
	}
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	if err := e.Encode(s); err != nil {
		return fmt.Errorf("scan: writing what stands beside a volume: %w", err)
	}
	return nil
}

// maxSide bounds the JSON read beside a volume.
const maxSide = 64 << 20

// ReadStored reads what WriteNIfTI and WriteSide wrote and puts them together again.
func ReadStored(nii, beside io.Reader) (*Volume, error) {
	var s side
	if err := json.NewDecoder(io.LimitReader(beside, maxSide)).Decode(&s); err != nil {
		return nil, fmt.Errorf("scan: %w: what stands beside the volume: %w", ErrDamaged, err)
	}
	if s.Version != sideVersion {
		return nil, fmt.Errorf("scan: %w: a stored volume of version %d", ErrUnsupported, s.Version)
	}
	v, err := ReadNIfTI(nii)
	if err != nil {
		return nil, err
	}
	if v.Size != s.Size || len(s.Origins) != s.Size[2] {
		return nil, fmt.Errorf("scan: %w: the volume and what stands beside it are not of one series", ErrDamaged)
	}
	if _, err := s.ToLPS.Linear(); err != nil {
		return nil, fmt.Errorf("scan: %w: the stored volume has no thickness: %w", ErrDamaged, err)
	}
	v.UID, v.Modality, v.Description, v.Frame = s.UID, s.Modality, s.Description, s.Frame
	v.ToLPS, v.Origins, v.Unoriented, v.Inverse = s.ToLPS, s.Origins, s.Unoriented, s.Inverse
	v.Windows, v.Warnings, v.Slope, v.Intercept, v.Padding = s.Windows, s.Warnings, s.Slope, s.Intercept, s.Padding
	v.Cleaned = s.Cleaned
	v.Gaps = make([]bool, v.Size[2]-1)
	for _, k := range s.Gaps {
		if k < 0 || k >= len(v.Gaps) {
			return nil, fmt.Errorf("scan: %w: a gap behind slice %d of %d", ErrDamaged, k+1, v.Size[2])
		}
		v.Gaps[k] = true
	}
	return v, nil
}
