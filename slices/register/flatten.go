package register

import (
	"fmt"
	"image"
	"math"

	"sectionary/slices/geom"
)

// mostFlat bounds the picture Flatten makes, in pixels.
const mostFlat = 4 << 20

// Flatten lays an upright photograph flat for Refine and Likeness: a grey picture whose pixel (i, j) shows face mm
// (i, j)*spacing + corner, averaged over what falls into it; inside marks where the photograph reaches. It fails when the
// calibration cannot be turned round or the picture would be too large.
func Flatten(photo image.Image, toMM geom.Homography, spacing float64) (face *image.Gray, inside *image.Alpha, corner geom.MM, err error) {
	b := photo.Bounds()
	lo, hi := geom.MM{X: math.Inf(1), Y: math.Inf(1)}, geom.MM{X: math.Inf(-1), Y: math.Inf(-1)}
	w, h := float64(b.Dx()-1), float64(b.Dy()-1)
	for _, p := range []geom.Px{{}, {X: w}, {Y: h}, {X: w, Y: h}} {
		m := toMM.MM(p)
		lo, hi = geom.MM{X: math.Min(lo.X, m.X), Y: math.Min(lo.Y, m.Y)}, geom.MM{X: math.Max(hi.X, m.X), Y: math.Max(hi.Y, m.Y)}
	}
	nx, ny := math.Floor((hi.X-lo.X)/spacing)+1, math.Floor((hi.Y-lo.Y)/spacing)+1
	if !(spacing > 0) || !(nx >= 1 && ny >= 1 && nx*ny <= mostFlat) {
		return nil, nil, corner, fmt.Errorf("register: a photograph of %.0f x %.0f mm at %g mm cannot be laid flat", hi.X-lo.X, hi.Y-lo.Y, spacing)
	}
	middle := toMM.Jacobian(geom.Px{X: w / 2, Y: h / 2})
	perPixel := math.Sqrt(math.Abs(middle[0]*middle[3] - middle[1]*middle[2]))
	if !(perPixel > 0) {
		return nil, nil, corner, fmt.Errorf("register: the calibration cannot be turned round: %w", geom.ErrDegenerate)
	}
	parts := min(max(int(math.Round(spacing/perPixel)), 1), 4) // samples across one pixel
	grey := greyOf(photo)
	r := image.Rect(0, 0, int(nx), int(ny))
	face, inside = image.NewGray(r), image.NewAlpha(r)
	for j := range r.Dy() {
		for i := range r.Dx() {
			var sum, n float64
			for k := range parts * parts {
				fx, fy := (float64(k%parts)+0.5)/float64(parts)-0.5, (float64(k/parts)+0.5)/float64(parts)-0.5
				p := toMM.Px(geom.MM{X: lo.X + (float64(i)+fx)*spacing, Y: lo.Y + (float64(j)+fy)*spacing})
				x, y := math.Round(p.X), math.Round(p.Y)
				if x >= 0 && y >= 0 && x <= w && y <= h {
					sum, n = sum+grey(b.Min.X+int(x), b.Min.Y+int(y)), n+1
				}
			}
			if 2*n >= float64(parts*parts) {
				face.Pix[j*face.Stride+i], inside.Pix[j*inside.Stride+i] = uint8(sum/n+0.5), 255
			}
		}
	}
	return face, inside, lo, nil
}

// greyOf reads brightness, without going through colours where the picture holds it.
func greyOf(img image.Image) func(x, y int) float64 {
	switch m := img.(type) {
	case *image.YCbCr:
		return func(x, y int) float64 { return float64(m.Y[m.YOffset(x, y)]) }
	case *image.Gray:
		return func(x, y int) float64 { return float64(m.GrayAt(x, y).Y) }
	}
	return func(x, y int) float64 {
		r, g, b, _ := img.At(x, y).RGBA()
		return (0.299*float64(r) + 0.587*float64(g) + 0.114*float64(b)) / 257 // ITU-R BT.601
	}
}
