package quiz

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/draw"
	"io"
	"math"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
)

// pixels is a brush into a picture that shows one area of a page.
type pixels struct {
	m    *image.RGBA
	a    area
	x, y float64 // pixels per mm
}

func newPixels(w, h int, a area) *pixels {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(m, m.Rect, image.NewUniform(paperWhite), image.Point{}, draw.Src)
	return &pixels{m: m, a: a, x: float64(w) / a.W, y: float64(h) / a.H}
}

// px is where a spot lies: the centre of the first pixel is (0, 0), half a pixel from the corner of the paper.
func (b *pixels) px(s spot) geom.Px {
	return geom.Px{X: (s.X-b.a.X)*b.x - 0.5, Y: (s.Y-b.a.Y)*b.y - 0.5}
}

func (b *pixels) all(pts []spot) []geom.Px {
	out := make([]geom.Px, len(pts))
	for i, s := range pts {
		out[i] = b.px(s)
	}
	return out
}

func (b *pixels) text(at spot, st style, size float64, c color.RGBA, s string) {
	rulers[st].Text(b.m, b.px(at), size*mmPerPoint*b.x, c, s)
}

func (b *pixels) line(pts []spot, closed bool, width float64, c color.RGBA) {
	ink.Stroke(b.m, b.all(pts), closed, width*b.x, c, nil)
}

func (b *pixels) fill(rings [][]spot, c color.RGBA) {
	all := make([][]geom.Px, len(rings))
	for i, r := range rings {
		all[i] = b.all(r)
	}
	ink.Fill(b.m, all, c)
}

func (b *pixels) disc(at spot, radius float64, c color.RGBA) {
	ink.Disc(b.m, b.px(at), radius*b.x, c)
}

func (b *pixels) picture(a area, make func(w, h int) *image.RGBA) {
	corner := b.px(spot{a.X, a.Y})
	at := image.Pt(int(math.Round(corner.X+0.5)), int(math.Round(corner.Y+0.5)))
	w, h := int(math.Round(a.W*b.x)), int(math.Round(a.H*b.y))
	if w < 1 || h < 1 {
		return
	}
	m := make(w, h)
	draw.Draw(b.m, m.Rect.Add(at), m, m.Rect.Min, draw.Over)
}

// dotsPerInch of PNG pages; a page is then about 2,300 pixels wide.
const dotsPerInch = 200

// writePNG paints a page into a PNG file that prints at its true size.
func (p *page) writePNG(w io.Writer) error {
	per := float64(dotsPerInch) / 25.4
	b := newPixels(int(math.Round(p.W*per)), int(math.Round(p.H*per)), area{0, 0, p.W, p.H})
	p.paint(b)
	var file bytes.Buffer
	if err := photo.EncodePNG(&file, b.m); err != nil {
		return fmt.Errorf("quiz: %w", err)
	}
	_, err := w.Write(withDensity(file.Bytes(), per*1000))
	return err
}

// withDensity puts a pHYs chunk behind the header of a PNG file (PNG 2nd edition, 11.3.5.3): pixels per metre, so
// that printing programs know how large it is.
func withDensity(png []byte, perMetre float64) []byte {
	const header = 8 + 12 + 13 // signature and IHDR
	chunk := make([]byte, 0, 21)
	chunk = binary.BigEndian.AppendUint32(chunk, 9)
	chunk = append(chunk, "pHYs"...)
	for range 2 {
		chunk = binary.BigEndian.AppendUint32(chunk, uint32(math.Round(perMetre)))
	}
	chunk = append(chunk, 1) // the unit is the metre
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(chunk[4:]))
	out := append([]byte{}, png[:header]...)
	return append(append(out, chunk...), png[header:]...)
}
