package phototest

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"testing"
	"time"

	"golang.org/x/image/tiff"
	"golang.org/x/image/webp"
)

// Files come back as they were written, by the decoders of the standard library and x/image.
func TestFilesReadBack(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for n := range 200 {
		m := image.NewRGBA(image.Rect(0, 0, 1+r.IntN(40), 1+r.IntN(40)))
		base := color.RGBA{uint8(60 + r.IntN(130)), uint8(60 + r.IntN(130)), uint8(60 + r.IntN(130)), 255}
		for i := range m.Pix {
			m.Pix[i] = []uint8{base.R, base.G, base.B, 255}[i%4]
			if i%4 < 3 {
				m.Pix[i] += uint8(r.IntN(8))
			}
		}
		exif := EXIF(1+n%8, time.Now())
		check := func(name string, got image.Image, err error, most int) {
			t.Helper()
			if err != nil {
				t.Fatalf("%s %v: %v", name, m.Rect, err)
			}
			if got.Bounds().Size() != m.Rect.Size() {
				t.Fatalf("%s: %v, want %v", name, got.Bounds(), m.Rect)
			}
			for y := range m.Rect.Dy() {
				for x := range m.Rect.Dx() {
					a, b := color.RGBAModel.Convert(got.At(x, y)).(color.RGBA), m.RGBAAt(x, y)
					for _, d := range [3]int{int(a.R) - int(b.R), int(a.G) - int(b.G), int(a.B) - int(b.B)} {
						if max(d, -d) > most {
							t.Fatalf("%s %v at %d,%d: %v, want %v", name, m.Rect, x, y, a, b)
						}
					}
				}
			}
		}
		got, err := png.Decode(bytes.NewReader(PNG(m, exif)))
		check("png", got, err, 0)
		got, err = webp.Decode(bytes.NewReader(WebP(m, exif)))
		check("webp", got, err, 0)
		got, err = tiff.Decode(bytes.NewReader(TIFF(m, binary.LittleEndian, false, 1+r.IntN(50), n%9)))
		check("tiff", got, err, 0)
		got, err = tiff.Decode(bytes.NewReader(TIFF(m, binary.BigEndian, true, 1+r.IntN(50), n%9)))
		check("tiff 16", got, err, 0)
		for name, s := range Samplings {
			got, err = jpeg.Decode(bytes.NewReader(JPEG(m, JPEGKind{Sampling: s, EXIF: exif, Restart: n % 4})))
			check("jpeg "+name, got, err, 14)
		}
		got, err = jpeg.Decode(bytes.NewReader(JPEG(m, JPEGKind{RGB: true})))
		check("jpeg RGB", got, err, 6)
		got, err = jpeg.Decode(bytes.NewReader(JPEG(m, JPEGKind{Grey: true})))
		for i := 0; i < len(m.Pix); i += 4 {
			y := color.GrayModel.Convert(color.RGBA{m.Pix[i], m.Pix[i+1], m.Pix[i+2], 255}).(color.Gray).Y
			m.Pix[i], m.Pix[i+1], m.Pix[i+2] = y, y, y
		}
		check("jpeg grey", got, err, 6)
	}
}
