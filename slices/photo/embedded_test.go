package photo

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"image"
	"image/color"
	"image/draw"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/photo/phototest"
)

// quarters is a picture whose four corners differ: red, green, blue and yellow, clockwise from the upper left.
func quarters(w, h int) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for i, c := range []color.RGBA{{200, 30, 30, 255}, {30, 180, 30, 255}, {40, 40, 200, 255}, {210, 200, 40, 255}} {
		right, low := i == 1 || i == 2, i >= 2
		r := image.Rect(0, 0, w/2, h/2)
		if right {
			r.Min.X, r.Max.X = w/2, w
		}
		if low {
			r.Min.Y, r.Max.Y = h/2, h
		}
		draw.Draw(m, r, image.NewUniform(c), image.Point{}, draw.Src)
	}
	return m
}

// withPreview hangs a preview behind the picture and names it in a Multi-Picture index (CIPA DC-007, table 3 and 4).
func withPreview(main, preview []byte, kind uint32) []byte {
	le := binary.LittleEndian
	b := []byte("MPF\x00II*\x00\x08\x00\x00\x00")
	b = append(b, 2, 0, 0x01, 0xb0, 4, 0, 1, 0, 0, 0, 2, 0, 0, 0, 0x02, 0xb0, 7, 0, 32, 0, 0, 0, 38, 0, 0, 0, 0, 0, 0, 0)
	size := 4 + len(b) + 32
	first := le.AppendUint32(nil, 0x20030000)
	first = append(le.AppendUint32(first, uint32(len(main)+size)), 0, 0, 0, 0, 0, 0, 0, 0)
	second := le.AppendUint32(le.AppendUint32(nil, kind), uint32(len(preview)))
	start := 2 + 4 + 4 // the block after its name
	second = append(le.AppendUint32(second, uint32(len(main)+size-start)), 0, 0, 0, 0)
	b = append(append(b, first...), second...)
	out := append([]byte{}, main[:2]...)
	out = append(binary.BigEndian.AppendUint16(append(out, 0xff, markerAPP2), uint16(len(b)+2)), b...)
	return append(append(out, main[2:]...), preview...)
}

// TestEmbedded: whatever the camera's turn, a thumbnail and a preview show the four corners where the upright
// photograph has them.
func TestEmbedded(t *testing.T) {
	upright := quarters(600, 400)
	for _, o := range orientations(t) {
		main := stored(upright, o.op)
		shrunk := NewImage(main)
		thumb, preview := shrunk.Preview(160), shrunk.Preview(300)
		barred := image.NewRGBA(image.Rect(0, 0, 160, 120))
		if main.Rect.Dx() < main.Rect.Dy() {
			barred.Rect, barred.Stride = image.Rect(0, 0, 120, 160), 480
		}
		for i := 3; i < len(barred.Pix); i += 4 {
			barred.Pix[i] = 255
		}
		off := barred.Rect.Size().Sub(thumb.Rect.Size()).Div(2)
		draw.Draw(barred, thumb.Rect.Add(off), thumb, image.Point{}, draw.Src)
		plain := jpegOf(t, main)
		photograph := open(t, WithEXIF(plain, o.value, exifTime("", "")))
		for name, data := range map[string][]byte{
			"thumbnail":        phototest.Thumbnail(plain, jpegOf(t, thumb), o.value),
			"bars":             phototest.Thumbnail(plain, jpegOf(t, barred), o.value),
			"preview":          phototest.Thumbnail(withPreview(plain, jpegOf(t, preview), 0x010002), jpegOf(t, thumb), o.value),
			"damaged, preview": phototest.Thumbnail(withPreview(plain, jpegOf(t, preview), 0x010001), jpegOf(t, thumb)[:300], o.value),
		} {
			m, err := Embedded(bytes.NewReader(data))
			if err != nil {
				t.Fatalf("%s %d: %v", name, o.value, err)
			}
			if name == "preview" && max(m.Rect.Dx(), m.Rect.Dy()) != 300 {
				t.Errorf("%s %d: %v, not the preview", name, o.value, m.Rect)
			}
			for _, p := range []geom.Px{{X: .25, Y: .25}, {X: .75, Y: .25}, {X: .25, Y: .75}, {X: .75, Y: .75}, {X: .06, Y: .06}, {X: .94, Y: .94}} {
				got := m.RGBAAt(int(p.X*float64(m.Rect.Dx())), int(p.Y*float64(m.Rect.Dy())))
				want := photograph.At(geom.Px{X: p.X * 600, Y: p.Y * 400})
				for _, d := range [3]int{int(got.R) - int(want.R), int(got.G) - int(want.G), int(got.B) - int(want.B)} {
					if max(d, -d) > 12 {
						t.Errorf("%s %d at %v: %v, want %v", name, o.value, p, got, want)
					}
				}
			}
		}
	}
}

// TestEmbeddedRefused: what cannot stand for the photograph is not shown.
func TestEmbeddedRefused(t *testing.T) {
	plain := jpegOf(t, quarters(600, 400))
	thumb := jpegOf(t, quarters(160, 106))
	turned, cropped := jpegOf(t, quarters(106, 160)), jpegOf(t, quarters(160, 160))
	bomb := bytes.Clone(thumb)
	copy(bomb[bytes.Index(bomb, []byte{0xff, 0xc0})+5:], []byte{0xff, 0xff, 0xff, 0xff})
	beyond := withPreview(plain, thumb, 0x010001)
	var p bytes.Buffer
	if err := EncodePNG(&p, quarters(60, 40)); err != nil {
		t.Fatal(err)
	}
	for name, data := range map[string][]byte{
		"none": plain, "turned": phototest.Thumbnail(plain, turned, 1), "another shape": phototest.Thumbnail(plain, cropped, 1),
		"claims too much": phototest.Thumbnail(plain, bomb, 1), "half": phototest.Thumbnail(plain, thumb[:len(thumb)/2], 1),
		"no JPEG": phototest.Thumbnail(plain, make([]byte, 900), 1), "behind the end": beyond[:len(beyond)-len(thumb)/2],
		"a stereo partner": withPreview(plain, thumb, 0x020002), "larger than the photograph": phototest.Thumbnail(thumb, plain, 1),
		"png": p.Bytes(),
	} {
		if m, err := Embedded(bytes.NewReader(data)); !errors.Is(err, ErrNoEmbedded) {
			t.Errorf("%s: %v, %v", name, m != nil, err)
		}
		if _, err := Open(context.Background(), bytes.NewReader(data), Limit{}); err != nil {
			t.Errorf("%s: the photograph itself: %v", name, err)
		}
	}
	if _, err := Embedded(bytes.NewReader([]byte("GIF89a"))); !errors.Is(err, ErrFormat) {
		t.Error(err)
	}
}

// FuzzEmbedded: no bytes bring it to panic or to hand out a picture of another shape than the photograph's.
func FuzzEmbedded(f *testing.F) {
	plain, thumb := jpegOf(f, quarters(60, 40)), jpegOf(f, quarters(30, 20))
	f.Add(phototest.Thumbnail(plain, thumb, 6))
	f.Add(withPreview(plain, thumb, 0x010001))
	f.Add(testFile(f, "exif_input.jpg"))
	f.Fuzz(func(t *testing.T, b []byte) {
		m, err := Embedded(bytes.NewReader(b))
		if err != nil {
			return
		}
		info, err := Probe(bytes.NewReader(b))
		if err != nil || m.Rect.Dx() > info.Size.X || m.Rect.Dy() > info.Size.Y || m.Rect.Empty() {
			t.Fatalf("%v for %v: %v", m.Rect, info.Size, err)
		}
	})
}
