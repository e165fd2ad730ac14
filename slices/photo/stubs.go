package photo

import (
	"context"
	"errors"
	"image"
	"image/color"
	"io"
	"time"

	"sectionary/slices/geom"
)

var errSoon = errors.New("photo: not built yet")

// Probe reads the header only.
func Probe(r io.ReadSeeker) (Info, error) { return Info{}, errSoon }

// Image is an upright photograph ready to be painted at any zoom.
type Image struct{ rgba *image.RGBA }

// Open decodes a photograph and turns it upright.
func Open(ctx context.Context, r io.Reader, limit Limit) (*Image, error) { return nil, errSoon }

// NewImage makes a photograph of pixels already upright.
func NewImage(src image.Image) *Image { return &Image{} }

// Info tells what Open read; an Image from NewImage knows only its size.
func (m *Image) Info() Info { return Info{} }

// Size is that of the upright picture in pixels.
func (m *Image) Size() image.Point { return image.Point{} }

// Bytes is the memory the picture holds, for the cache that keeps it.
func (m *Image) Bytes() int64 { return 0 }

// At returns the colour of the pixel nearest to p, transparent outside the picture.
func (m *Image) At(p geom.Px) color.RGBA { return color.RGBA{} }

// Draw paints the photograph into dst; toPhoto is row-major 2x3, from dst pixel centres to photo pixel centres.
func (m *Image) Draw(dst *image.RGBA, toPhoto [6]float64) {}

// Preview returns a copy whose longer side is at most longest pixels.
func (m *Image) Preview(longest int) *image.RGBA { return image.NewRGBA(image.Rect(0, 0, 1, 1)) }

// EncodeJPEG writes img without any metadata.
func EncodeJPEG(w io.Writer, img image.Image, quality int) error { return errSoon }

// EncodePNG writes img without any metadata.
func EncodePNG(w io.Writer, img image.Image) error { return errSoon }

// Strip copies a JPEG without what identifies: EXIF, XMP, IPTC, comments, bytes after the end.
func Strip(w io.Writer, r io.Reader) error { return errSoon }

// WithEXIF returns jpeg with an EXIF segment holding the orientation and the time taken.
func WithEXIF(jpeg []byte, orientation int, taken time.Time) []byte { return jpeg }

// TwoTicks scales by one known length in mm between two pixels.
func TwoTicks(a, b geom.Px, length float64) (Calibration, error) { return Calibration{}, errSoon }

// TwoTies lays two ties on their face points by turn, shift and one scale.
func TwoTies(a, b Tie) (Calibration, error) { return Calibration{}, errSoon }

// Grid rectifies from four ties or more.
func Grid(ties []Tie) (Calibration, error) { return Calibration{}, errSoon }

// GridRobust is Grid after leaving out ties that disagree with the rest.
func GridRobust(ties []Tie) (c Calibration, outliers []int, err error) {
	return Calibration{}, nil, errSoon
}

// FromTies calibrates from two ties or from four and more.
func FromTies(ties []Tie) (Calibration, error) { return Calibration{}, errSoon }

// ReadTies reads lines px,py,x_mm,y_mm.
func ReadTies(r io.Reader) ([]Tie, error) { return nil, errSoon }

// Check refuses a calibration whose horizon lies inside a picture of that size.
func (c Calibration) Check(size image.Point) error { return errSoon }

// WithHeight corrects for a scale that does not lie in the plane of the face.
func (c Calibration) WithHeight(h ScaleHeight) (Calibration, error) { return c, errSoon }

// Squared returns the same map turned so that picture right at centre is +x of the face.
func (c Calibration) Squared(centre geom.Px) Calibration { return c }

// MM returns the face point under p.
func (c Calibration) MM(p geom.Px) geom.MM { return c.ToMM.MM(p) }

// Px returns the pixel that shows face point p.
func (c Calibration) Px(p geom.MM) geom.Px { return c.ToMM.Px(p) }

// PerPixel returns the mm per pixel along x and along y at p.
func (c Calibration) PerPixel(p geom.Px) (x, y float64) { return 1, 1 }

// Length returns the distance between two pixels in face mm and its standard uncertainty.
func (c Calibration) Length(a, b geom.Px) (mm, sd float64, err error) { return 0, 0, ErrNoScale }

// RingArea returns the area enclosed by a ring in mm2 and its standard uncertainty.
func (c Calibration) RingArea(ring []geom.Px) (mm2, sd float64, err error) { return 0, 0, ErrNoScale }

// ScaleSpread returns the relative standard uncertainty of lengths near p that comes from the scale itself.
func (c Calibration) ScaleSpread(p geom.Px) float64 { return 0 }

// Report tells what the prompt prints about a calibration of a picture of that size.
func (c Calibration) Report(size image.Point) ScaleReport { return ScaleReport{} }
