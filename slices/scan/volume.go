package scan

import (
	"context"
	"errors"
	"io"
	"io/fs"

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

	Slope, Intercept float64    // value = Slope*stored + Intercept
	Padding          *[2]int    // stored values between these (inclusive) mark places outside the scanned circle; nil: none
	ints             []int16    // stored values less offset, columns fastest; nil when floats are held
	floats           []float32  // stored values, columns fastest
	offset           int        // added to ints to get the stored value: 32768 for full-range unsigned data
	limits           [2]float32 // least and greatest value
}

// Survey looks at every file below the root of files, reading headers only, and returns the series found, each in true
// order along its normal and with its warnings. Files that cannot be used go to skip (which may be nil) with a path and
// a reason that wraps one of the package's errors; Survey itself fails only when ctx ends or the root cannot be read.
// files may be a folder, a zip archive or a disc with a DICOMDIR. skip is never called from two goroutines at once.
func Survey(ctx context.Context, files fs.FS, skip func(path string, err error)) ([]Series, error) {
	return SurveyProgress(ctx, files, skip, nil)
}

// SurveyProgress is Survey with a running count: done (which may be nil) hears how many of the files found so far were
// looked at. The total is final from the first call.
func SurveyProgress(ctx context.Context, files fs.FS, skip func(path string, err error), done func(read, total int)) ([]Series, error) {
	return nil, errors.New("scan: not built yet")
}

// Load reads one series of a survey of the same files. done (which may be nil) hears how many slices were read; it is
// never called from two goroutines at once. Errors name the file and wrap ErrUnsupported, ErrDamaged or ErrTooLarge.
func Load(ctx context.Context, files fs.FS, s Series, done func(read, total int)) (*Volume, error) {
	return nil, errors.New("scan: not built yet")
}

// Open returns the files to survey at a path of the disk: a folder, a zip archive or a single file. Close it when done.
func Open(path string) (files fs.FS, close func() error, err error) {
	return nil, nil, errors.New("scan: not built yet")
}

// ReadNIfTI reads a NIfTI-1 or NIfTI-2 image (.nii, plain or gzip). Of a time series it returns the first volume and
// says so in Warnings. Neither qform nor sform: Unoriented is set and the axes are taken as stored.
func ReadNIfTI(r io.Reader) (*Volume, error) { return nil, errors.New("scan: not built yet") }

// WriteNIfTI writes v as a NIfTI-1 image (.nii, little endian, uncompressed): int16 or float32 as held, qform and sform.
// What the format cannot hold goes into Side.
func (v *Volume) WriteNIfTI(w io.Writer) error { return errors.New("scan: not built yet") }

// ReadStored reads what WriteNIfTI and WriteSide wrote and puts them together again.
func ReadStored(nii, side io.Reader) (*Volume, error) {
	return nil, errors.New("scan: not built yet")
}

// WriteSide writes, as JSON, what NIfTI cannot hold: the place of every slice, gaps, warnings, windows, exact slope.
func (v *Volume) WriteSide(w io.Writer) error { return errors.New("scan: not built yet") }

// Value returns the real value (HU for CT) of voxel i, j, k: Slope*stored + Intercept. Outside the volume it is NaN.
func (v *Volume) Value(i, j, k int) float64 { return 0 }

// Sample returns the trilinear value at a place in the patient, NaN outside the scan and in gaps.
func (v *Volume) Sample(p geom.LPS) float64 { return 0 }

// Range returns the least and greatest value held, padding excluded.
func (v *Volume) Range() (least, greatest float64) { return 0, 0 }

// Bytes is the memory the voxels take, for the cache that holds the volume.
func (v *Volume) Bytes() int64 { return int64(2*len(v.ints) + 4*len(v.floats)) }

// Series returns the geometry of v as a series without files.
func (v *Volume) Series() Series { return Series{} }

// Slice cuts the volume by pose: pixel (i, j) of the w x h picture is face mm (i*spacing, j*spacing). dst holds w*h values,
// row by row. Values are trilinear between voxel centres, by the true position of each slice; NaN outside the scan and
// where slices are missing. Slice panics when dst is shorter than w*h.
func (v *Volume) Slice(dst []float32, w, h int, p geom.Pose, spacing float64) {
	v.Cut(dst, w, h, p, spacing, CutOptions{})
}

// Projection says how the values across a slab become one.
type Projection uint8

// Projections across a slab.
const (
	Mean Projection = iota
	Max
	Min
)

// CutOptions choose more than a thin trilinear cut. The zero value is the thin trilinear cut.
type CutOptions struct {
	Thickness  float64    // mm of patient, centred on the face; 0 is a thin cut
	Projection Projection // how values across the thickness become one
	Samples    int        // cuts across the thickness, at the middles of equal parts; 0 picks at least two per voxel
	Cubic      bool       // Keys's cubic (a = -1/2, IEEE TASSP 29:1153, 1981) in place of linear
}

// Cut is Slice with options. A slab that leaves the scan, or meets a gap, anywhere across its thickness is NaN there.
func (v *Volume) Cut(dst []float32, w, h int, p geom.Pose, spacing float64, o CutOptions) {}
