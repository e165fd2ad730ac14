package scan

import (
	"encoding/binary"
	"fmt"
	"math"

	"sectionary/slices/geom"
)

// niftiHead is what this reader uses of a NIfTI-1 or NIfTI-2 header (nifti1.h, nifti2.h of the NIfTI data format
// working group). The affine is in LPS millimetres: the two flips from RAS happen here and nowhere else.
type niftiHead struct {
	order            binary.ByteOrder
	pair             bool // voxels in a file of their own (.hdr and .img)
	size             [3]int
	volumes          int
	kind             int // data type code
	offset           int64
	slope, intercept float64
	low, high        float64 // cal_min, cal_max
	toLPS            geom.Affine
	oriented         bool
	length           int // bytes of the header itself
}

const (
	nifti1Length = 348
	nifti2Length = 540
)

// niftiMagic reports whether data starts like a NIfTI header, and of which version.
func niftiMagic(data []byte) (version int, pair, ok bool) {
	if len(data) >= nifti2Length {
		switch m := string(data[4:8]); m {
		case "n+2\x00", "ni2\x00":
			return 2, m[1] == 'i', true
		}
	}
	if len(data) >= nifti1Length {
		switch m := string(data[344:348]); m {
		case "n+1\x00", "ni1\x00":
			return 1, m[1] == 'i', true
		}
	}
	return 0, false, false
}

// parseNIfTI reads a header. Byte order is told by the header's own length.
func parseNIfTI(data []byte) (*niftiHead, error) {
	version, pair, ok := niftiMagic(data)
	if !ok {
		return nil, fmt.Errorf("%w: no NIfTI header", ErrNotScan)
	}
	length := []uint32{1: nifti1Length, 2: nifti2Length}[version]
	h := &niftiHead{order: binary.LittleEndian, pair: pair, length: int(length)}
	if binary.LittleEndian.Uint32(data) != length {
		if h.order = binary.BigEndian; binary.BigEndian.Uint32(data) != length {
			return nil, fmt.Errorf("%w: the NIfTI header does not state its length", ErrDamaged)
		}
	}
	f := niftiFields{data: data, order: h.order, two: version == 2}
	if err := h.shape(f); err != nil {
		return nil, err
	}
	h.kind = f.short(70, 12)
	h.slope, h.intercept = f.real(112, 176), f.real(116, 184)
	if h.slope == 0 || !isFinite(h.slope) || !isFinite(h.intercept) { // "no scaling", written in several ways
		h.slope, h.intercept = 1, 0
	}
	h.high, h.low = f.real(124, 192), f.real(128, 200)
	h.place(f)
	return h, nil
}

func isFinite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// shape reads sizes and the place of the voxels.
func (h *niftiHead) shape(f niftiFields) error {
	dims := f.dim(0)
	if dims < 1 || dims > 7 {
		return fmt.Errorf("%w: a NIfTI image of %d dimensions", ErrDamaged, dims)
	}
	h.size, h.volumes = [3]int{1, 1, 1}, 1
	total := 1.0
	for n := 1; n <= dims; n++ {
		d := f.dim(n)
		if d < 1 || d > 1<<31 {
			return fmt.Errorf("%w: a NIfTI image with a side of %d", ErrDamaged, d)
		}
		if n <= 3 {
			h.size[n-1] = d
			total *= float64(d)
		} else if h.volumes *= d; h.volumes > 1<<24 {
			return fmt.Errorf("%w: %d volumes", ErrTooLarge, h.volumes)
		}
	}
	if total > maxVoxels {
		return fmt.Errorf("%w: %d x %d x %d voxels, the limit is %d million", ErrTooLarge, h.size[0], h.size[1], h.size[2], maxVoxels>>20)
	}
	least := int64(h.length) + 4
	if h.pair {
		least = 0
	}
	if offset := f.real(108, -168); offset >= float64(least) && offset < 1<<40 {
		h.offset = int64(offset)
	} else {
		h.offset = least
	}
	return nil
}

// place sets the affine: sform if there is one, else qform, else the axes as stored and no orientation.
func (h *niftiHead) place(f niftiFields) {
	unit := 1.0
	switch f.units() & 7 {
	case 1: // metre
		unit = 1000
	case 3: // micrometre
		unit = 0.001
	}
	pix := [4]float64{}
	for n := range pix {
		pix[n] = math.Abs(f.pixdim(n))
		if n > 0 && (pix[n] == 0 || !isFinite(pix[n])) {
			pix[n] = 1
		}
	}
	for _, try := range []struct {
		on  bool
		ras func() geom.Affine
	}{{f.code(254, 348) > 0, f.sform}, {f.code(252, 344) > 0, func() geom.Affine { return f.qform(pix) }}} {
		if !try.on {
			continue
		}
		a := try.ras()
		for n := range a {
			a[n] *= unit
			if n < 8 { // RAS to LPS: x and y turn round
				a[n] = -a[n] + 0 // no negative zero
			}
		}
		if _, err := a.Linear(); err == nil {
			h.toLPS, h.oriented = a, true
			return
		}
	}
	h.toLPS = geom.NewAffine(geom.Vec{X: pix[1] * unit}, geom.Vec{Y: pix[2] * unit}, geom.Vec{Z: pix[3] * unit}, geom.LPS{})
}

// niftiFields reads fields by their places in NIfTI-1 and NIfTI-2.
type niftiFields struct {
	data  []byte
	order binary.ByteOrder
	two   bool
}

func (f niftiFields) short(one, two int) int {
	if f.two {
		one = two
	}
	return int(int16(f.order.Uint16(f.data[one:])))
}

func (f niftiFields) code(one, two int) int {
	if f.two {
		return int(int32(f.order.Uint32(f.data[two:])))
	}
	return f.short(one, 0)
}

func (f niftiFields) units() int {
	if f.two {
		return f.code(0, 500)
	}
	return int(f.data[123])
}

// real reads a floating point field; a negative place marks a whole number in NIfTI-2.
func (f niftiFields) real(one, two int) float64 {
	switch {
	case f.two && two < 0:
		return float64(int64(f.order.Uint64(f.data[-two:])))
	case f.two:
		return math.Float64frombits(f.order.Uint64(f.data[two:]))
	}
	return float64(math.Float32frombits(f.order.Uint32(f.data[one:])))
}

func (f niftiFields) dim(n int) int {
	if f.two {
		return int(int64(f.order.Uint64(f.data[16+8*n:])))
	}
	return f.short(40+2*n, 0)
}

func (f niftiFields) pixdim(n int) float64 { return f.real(76+4*n, 104+8*n) }

// sform is method 3 of the standard: the affine as it stands.
func (f niftiFields) sform() (a geom.Affine) {
	for n := range a {
		a[n] = f.real(280+4*n, 400+8*n)
	}
	return a
}

// qform is method 2: a quaternion, voxel sizes and an offset. pixdim[0] below zero turns the third axis.
func (f niftiFields) qform(pix [4]float64) geom.Affine {
	b, c, d := f.real(256, 352), f.real(260, 360), f.real(264, 368)
	a := math.Sqrt(math.Max(0, 1-(b*b+c*c+d*d)))
	n := 1 / math.Sqrt(a*a+b*b+c*c+d*d) // stored as float32, it is a unit only nearly
	a, b, c, d = a*n, b*n, c*n, d*n
	z := pix[3]
	if f.pixdim(0) < 0 {
		z = -z
	}
	col := geom.Vec{X: a*a + b*b - c*c - d*d, Y: 2 * (b*c + a*d), Z: 2 * (b*d - a*c)}
	row := geom.Vec{X: 2 * (b*c - a*d), Y: a*a + c*c - b*b - d*d, Z: 2 * (c*d + a*b)}
	lay := geom.Vec{X: 2 * (b*d + a*c), Y: 2 * (c*d - a*b), Z: a*a + d*d - b*b - c*c}
	return geom.NewAffine(col.Mul(pix[1]), row.Mul(pix[2]), lay.Mul(z),
		geom.LPS{X: f.real(268, 376), Y: f.real(272, 384), Z: f.real(276, 392)})
}
