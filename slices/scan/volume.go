package scan

import (
	"fmt"
	"math"
	"sync"

	"sectionary/slices/geom"
)

// Volume is one series in memory, held once: as 16-bit integers where the values fit, else as float32.
// It is safe to read from several goroutines.
type Volume struct {
	UID, Modality, Description, Frame string

	Size       [3]int      // columns, rows, slices
	ToLPS      geom.Affine // voxel to patient mm, with the usual slice step
	Origins    []geom.LPS  // centre of the first voxel of each slice: the truth where spacing is uneven
	Gaps       []bool      // Gaps[k]: slices are missing between k and k+1; nothing is drawn there
	Unoriented bool        // sides unknown: edge letters are "?"
	Inverse    bool        // low values are shown white (DICOM MONOCHROME1)
	Windows    []Window    // from the header, best first; may be empty
	Warnings   []string    // one plain sentence each
	Cleaned    string      // how identity was removed; "" when it was not
	Left       []error     // slices left out by Load, with file and reason; not stored with the volume

	Slope, Intercept float64 // value = Slope*stored + Intercept
	Padding          *[2]int // stored values between these (inclusive) mark places outside the scanned circle; nil: none

	ints   []int16   // stored values less offset, columns fastest; nil when floats are held
	floats []float32 // stored values, columns fastest
	offset int       // added to ints to get the stored value: 32768 for full-range unsigned data

	once   sync.Once
	placed *cutter // the way from the patient to voxels, made at first use
}

// NewVolume returns a volume of CT-like values made in memory: size[0]*size[1]*size[2] of them, columns fastest, then
// rows. The values are kept, not copied. It fails when they do not fill the size or toLPS is flat.
func NewVolume(size [3]int, toLPS geom.Affine, values []int16) (*Volume, error) {
	if size[0] < 1 || size[1] < 1 || size[2] < 1 || len(values) != size[0]*size[1]*size[2] {
		return nil, fmt.Errorf("scan: %d values do not fill %d x %d x %d voxels", len(values), size[0], size[1], size[2])
	}
	if _, err := toLPS.Linear(); err != nil {
		return nil, fmt.Errorf("scan: %w", err)
	}
	v := &Volume{Size: size, ToLPS: toLPS, Slope: 1, ints: values}
	v.straighten()
	return v, nil
}

// straighten sets Origins and Gaps as the affine has them.
func (v *Volume) straighten() {
	v.Origins, v.Gaps = make([]geom.LPS, v.Size[2]), make([]bool, v.Size[2]-1)
	for k := range v.Origins {
		v.Origins[k] = v.ToLPS.LPS(geom.IJK{K: float64(k)})
	}
}

// stored returns the stored value of voxel number i.
func (v *Volume) stored(i int) float64 {
	if v.ints != nil {
		return float64(int(v.ints[i]) + v.offset)
	}
	return float64(v.floats[i])
}

// kept returns the value of voxel number i, and false for padding and numbers that are not finite.
func (v *Volume) kept(i int) (float64, bool) {
	x := v.stored(i)
	if v.Padding != nil && x >= float64(v.Padding[0]) && x <= float64(v.Padding[1]) {
		return 0, false
	}
	x = v.Slope*x + v.Intercept
	return x, !math.IsNaN(x) && !math.IsInf(x, 0)
}

// Value returns the real value (HU for CT) of voxel i, j, k: Slope*stored + Intercept. Outside the volume it is NaN.
func (v *Volume) Value(i, j, k int) float64 {
	if i < 0 || j < 0 || k < 0 || i >= v.Size[0] || j >= v.Size[1] || k >= v.Size[2] {
		return math.NaN()
	}
	return v.Slope*v.stored((k*v.Size[1]+j)*v.Size[0]+i) + v.Intercept
}

// Range returns the least and greatest value held, padding excluded; 0 and 0 when there is none.
func (v *Volume) Range() (least, greatest float64) {
	least, greatest = math.Inf(1), math.Inf(-1)
	for i := range len(v.ints) + len(v.floats) {
		if x, ok := v.kept(i); ok {
			least, greatest = math.Min(least, x), math.Max(greatest, x)
		}
	}
	if least > greatest {
		return 0, 0
	}
	return least, greatest
}

// Bytes is the memory the voxels take, for the cache that holds the volume.
func (v *Volume) Bytes() int64 { return int64(2*len(v.ints) + 4*len(v.floats)) }

// Series returns the geometry of v as a series without files.
func (v *Volume) Series() Series {
	s := Series{
		UID: v.UID, Modality: v.Modality, Description: v.Description, Frame: v.Frame,
		Size: v.Size, ToLPS: v.ToLPS, Origins: append([]geom.LPS(nil), v.Origins...), Gaps: append([]bool(nil), v.Gaps...),
		Unoriented: v.Unoriented, Windows: append([]Window(nil), v.Windows...), Warnings: append([]string(nil), v.Warnings...),
	}
	n := s.Normal()
	for _, o := range v.Origins {
		s.Positions = append(s.Positions, geom.Vec(o).Dot(n))
	}
	return s
}
