package photo

import (
	"image"
	"image/color"
	"math"

	"sectionary/slices/geom"
)

// Image is an upright photograph ready to be painted at any zoom. Its finest level stays as decoded (for a JPEG
// the luma and chroma planes, a third of the memory of RGBA) and as stored: the turn is part of every map.
// Coarser levels are averages of 2 x 2 pixels. It never changes and may be read from many goroutines.
type Image struct {
	info   Info
	size   image.Point  // upright
	stored image.Point  // as in the planes
	turn   [6]float64   // upright pixel centres to stored ones
	ycc    *image.YCbCr // finest level, or nil
	levels []level      // levels[0].pix is nil where ycc holds it
}

// level holds opaque pixels, R in the lowest byte.
type level struct {
	pix  []uint32
	w, h int
}

// NewImage makes a photograph of pixels that are upright already. Transparent parts are laid over white.
func NewImage(src image.Image) *Image {
	m := newImage(src, 1)
	m.info = Info{Size: m.size, Orientation: 1}
	return m
}

func newImage(src image.Image, orientation int) *Image {
	b := src.Bounds()
	m := &Image{stored: b.Size(), levels: []level{{w: b.Dx(), h: b.Dy()}}}
	t := turns[orientation]
	m.size, m.turn = t.upright(m.stored), t.toStored(m.stored)
	switch src := src.(type) {
	case *image.YCbCr:
		m.ycc = ownPlanes(src)
	case *image.Gray:
		m.ycc = grayPlanes(src)
	default:
		m.levels[0].pix = packed(src)
	}
	m.buildLevels()
	return m
}

// ownPlanes makes plane offsets count from the first pixel.
func ownPlanes(src *image.YCbCr) *image.YCbCr {
	if src.Rect.Min == (image.Point{}) {
		return src
	}
	if src.Rect.Empty() {
		return &image.YCbCr{}
	}
	// A chroma sample may straddle the edge of a cut-out, so a cut-out is copied at full chroma.
	d := image.NewYCbCr(image.Rectangle{Max: src.Rect.Size()}, image.YCbCrSubsampleRatio444)
	for y := range src.Rect.Dy() {
		for x := range src.Rect.Dx() {
			c := src.YCbCrAt(src.Rect.Min.X+x, src.Rect.Min.Y+y)
			i := y*d.YStride + x
			d.Y[i], d.Cb[i], d.Cr[i] = c.Y, c.Cb, c.Cr
		}
	}
	return d
}

// grayPlanes gives a grey picture neutral chroma at an eighth of the resolution.
func grayPlanes(src *image.Gray) *image.YCbCr {
	d := image.NewYCbCr(image.Rectangle{Max: src.Rect.Size()}, image.YCbCrSubsampleRatio410)
	for y := range src.Rect.Dy() {
		copy(d.Y[y*d.YStride:(y+1)*d.YStride], src.Pix[y*src.Stride:])
	}
	for i := range d.Cb {
		d.Cb[i], d.Cr[i] = 128, 128
	}
	return d
}

// packed copies any picture into opaque pixels.
func packed(src image.Image) []uint32 {
	b := src.Bounds()
	w := b.Dx()
	pix := make([]uint32, w*b.Dy())
	inBands(b.Dy(), func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			packRow(pix[y*w:(y+1)*w], src, b.Min.X, b.Min.Y+y)
		}
	})
	return pix
}

func packRow(row []uint32, src image.Image, x0, y int) {
	switch src := src.(type) {
	case *image.RGBA:
		for x := range row {
			p := src.Pix[src.PixOffset(x0+x, y):][:4]
			row[x] = overWhite(uint32(p[0]), uint32(p[1]), uint32(p[2]), uint32(p[3]))
		}
	case *image.NRGBA:
		for x := range row {
			p := src.Pix[src.PixOffset(x0+x, y):][:4]
			if p[3] == 255 {
				row[x] = uint32(p[0]) | uint32(p[1])<<8 | uint32(p[2])<<16 | opaque
				continue
			}
			r, g, b, a := src.NRGBAAt(x0+x, y).RGBA()
			row[x] = overWhite(r>>8, g>>8, b>>8, a>>8)
		}
	default:
		for x := range row {
			r, g, b, a := src.At(x0+x, y).RGBA()
			row[x] = overWhite(r>>8, g>>8, b>>8, a>>8)
		}
	}
}

const opaque = 0xff000000

// overWhite takes parts multiplied by alpha, 0 to 255.
func overWhite(r, g, b, a uint32) uint32 {
	rest := 255 - a
	return min(r+rest, 255) | min(g+rest, 255)<<8 | min(b+rest, 255)<<16 | opaque
}

// Info tells what Open read; an Image from NewImage knows only its size.
func (m *Image) Info() Info { return m.info }

// Size is that of the upright picture in pixels.
func (m *Image) Size() image.Point { return m.size }

// Bytes is the memory the pixels hold, for the cache that keeps the picture.
func (m *Image) Bytes() int64 {
	var n int64
	if m.ycc != nil {
		n = int64(len(m.ycc.Y) + len(m.ycc.Cb) + len(m.ycc.Cr))
	}
	for _, l := range m.levels {
		n += 4 * int64(len(l.pix))
	}
	return n
}

// At returns the colour of the pixel that holds p; outside the picture it is transparent.
func (m *Image) At(p geom.Px) color.RGBA {
	q := apply(m.turn, geom.Px{X: math.Round(p.X), Y: math.Round(p.Y)})
	if !(q.X >= 0 && q.Y >= 0 && q.X < float64(m.stored.X) && q.Y < float64(m.stored.Y)) {
		return color.RGBA{}
	}
	v := m.finest(int(q.X), int(q.Y))
	return color.RGBA{uint8(v), uint8(v >> 8), uint8(v >> 16), 255}
}

// finest returns the stored pixel (x, y), which must lie inside.
func (m *Image) finest(x, y int) uint32 {
	if m.ycc == nil {
		return m.levels[0].pix[y*m.levels[0].w+x]
	}
	c := m.ycc.COffset(x, y)
	return rgb(int32(m.ycc.Y[m.ycc.YOffset(x, y)])<<16, m.ycc.Cb[c], m.ycc.Cr[c])
}

// Preview returns a copy of the whole picture whose longer side is longest pixels, or the picture's own where
// that is smaller.
func (m *Image) Preview(longest int) *image.RGBA {
	return m.small(longest, (*Image).DrawFine)
}

// draft is Preview for eyes that only count and compare: one sample for each pixel, of the level nearest in size.
func (m *Image) draft(longest int) *image.RGBA { return m.small(longest, (*Image).Draw) }

func (m *Image) small(longest int, draw func(m *Image, dst *image.RGBA, toPhoto [6]float64)) *image.RGBA {
	long := max(m.size.X, m.size.Y)
	longest = max(1, min(longest, long))
	scale := float64(long) / float64(longest)
	w := max(1, int(math.Round(float64(m.size.X)/scale)))
	h := max(1, int(math.Round(float64(m.size.Y)/scale)))
	dst := image.NewRGBA(image.Rect(0, 0, w, h))
	sx, sy := float64(m.size.X)/float64(w), float64(m.size.Y)/float64(h)
	to := [6]float64{sx, 0, (sx - 1) / 2, 0, sy, (sy - 1) / 2}
	if longest == long {
		draw = (*Image).Draw
	}
	draw(m, dst, to)
	return dst
}

// DrawFine is Draw with four samples averaged for each pixel: slower, without the shimmer of fine grain. It is
// meant for pictures that are kept; it needs memory for four times dst.
func (m *Image) DrawFine(dst *image.RGBA, toPhoto [6]float64) {
	r := dst.Rect
	if r.Empty() {
		return
	}
	twice := image.NewRGBA(image.Rect(2*r.Min.X, 2*r.Min.Y, 2*r.Max.X, 2*r.Max.Y))
	half := [6]float64{0.5, 0, -0.25, 0, 0.5, -0.25} // centres of the fine pixels in those of dst
	m.Draw(twice, after(toPhoto, half))
	inBands(r.Dy(), func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			top := twice.Pix[2*y*twice.Stride:][:twice.Stride]
			low := twice.Pix[(2*y+1)*twice.Stride:][:twice.Stride]
			averageRow(dst.Pix[y*dst.Stride:][:4*r.Dx()], top, low)
		}
	})
}

// averageRow lays the mean of 2 x 2 pixels over row; samples that missed the photograph count as transparent.
func averageRow(row, top, low []byte) {
	for x := 0; x < len(row); x += 4 {
		t, l := top[2*x:][:8], low[2*x:][:8]
		rest := 1020 - (int(t[3]) + int(t[7]) + int(l[3]) + int(l[7])) // four times what stays of dst
		for k := range 4 {
			sum := int(t[k]) + int(t[k+4]) + int(l[k]) + int(l[k+4])
			row[x+k] = byte((sum + int(row[x+k])*rest/255 + 2) / 4)
		}
	}
}
