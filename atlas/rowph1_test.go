package atlas

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"image"
	"image/color"
	"os"
	"path/filepath"
	"testing"
	"time"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/photo/phototest"
	"sectionary/slices/section"
)

// turnedBack is a picture as a camera stores it whose file says that value: doing what Exif 2.32 (tag 0112) says of the
// value to it gives upright again. The first row of the stored picture is the named side of the upright one, the first
// column the other.
func turnedBack(upright *image.RGBA, value int) *image.RGBA {
	w, h := upright.Rect.Dx(), upright.Rect.Dy()
	// what the standard says of row 0 and column 0: 1 top left, 2 top right, 3 bottom right, 4 bottom left, 5 left top,
	// 6 right top, 7 right bottom, 8 left bottom
	at := func(row, column int) (x, y int) {
		switch value {
		case 2:
			return w - 1 - column, row
		case 3:
			return w - 1 - column, h - 1 - row
		case 4:
			return column, h - 1 - row
		case 5:
			return row, column
		case 6:
			return w - 1 - row, column
		case 7:
			return w - 1 - row, h - 1 - column
		case 8:
			return row, h - 1 - column
		}
		return column, row
	}
	m := image.NewRGBA(upright.Rect)
	if value >= 5 {
		m = image.NewRGBA(image.Rect(0, 0, h, w))
	}
	for row := range m.Rect.Dy() {
		for column := range m.Rect.Dx() {
			m.SetRGBA(column, row, upright.RGBAAt(at(row, column)))
		}
	}
	return m
}

// TestPH1EightTurnsOnePicture: eight files, one for each EXIF value, give the same upright pixels by one hash; 2, 4, 5 and 7
// raise a question; the bytes are kept as they came, under their SHA-256, and are known again.
func TestPH1EightTurnsOnePicture(t *testing.T) {
	upright := image.NewRGBA(image.Rect(0, 0, 37, 22))
	for y := range 22 {
		for x := range 37 {
			upright.SetRGBA(x, y, color.RGBA{uint8(x * 6), uint8(y * 11), uint8((x*y)%200 + 20), 255})
		}
	}
	l, _ := lab(t)
	ctx := context.Background()
	hashes := map[[32]byte]int{}
	for value := 1; value <= 8; value++ {
		stored := turnedBack(upright, value)
		taken := time.Date(2026, 3, 4, 5, 6, value, 0, time.UTC)
		file := [][]byte{phototest.PNG(stored, phototest.EXIF(value, taken)), phototest.WebP(stored, phototest.EXIF(value, taken))}[value%2]
		p, err := l.AddPhoto(ctx, section.Face{}, code, "IMG.JPG", bytes.NewReader(file))
		if err != nil {
			t.Fatal(err)
		}
		asked := value == 2 || value == 4 || value == 5 || value == 7
		if p.Photo.Orientation != value || p.Photo.Mirrored != asked || p.Photo.Size != upright.Rect.Size() || !p.Photo.Taken.Equal(taken) {
			t.Errorf("value %d: %+v", value, p.Photo)
		}
		p.Face, p.PhotoUp = section.Face{Run: "R", Slab: 1, Facing: section.Superior}, section.Anterior
		if p.LettersUnknown() != asked {
			t.Errorf("value %d: the question stands: %v, want %v", value, p.LettersUnknown(), asked)
		}
		m, err := l.Photo(ctx, p.ID)
		if err != nil {
			t.Fatal(err)
		}
		hashes[pixelHash(m)]++
		if p.Photo.SHA256 != sha256.Sum256(file) {
			t.Errorf("value %d: kept under %s", value, p.Photo.SHA256)
		}
		name := p.Photo.SHA256.String()
		kept, err := os.ReadFile(filepath.Join(l.Dir(), originalsName, name[:2], name+extensions[p.Photo.Format]))
		if err != nil || !bytes.Equal(kept, file) {
			t.Errorf("value %d: the bytes were not kept as they came: %v", value, err)
		}
		var known *KnownPhoto
		if _, err := l.AddPhoto(ctx, section.Face{}, code, "again.png", bytes.NewReader(file)); !errors.As(err, &known) || known.Plate != p.ID {
			t.Errorf("value %d: not known again: %v", value, err)
		}
	}
	if len(hashes) != 1 || hashes[pixelHash(photo.NewImage(upright))] != 8 {
		t.Errorf("%d different pictures of eight files", len(hashes))
	}
}

func pixelHash(m *photo.Image) [32]byte {
	var b bytes.Buffer
	for y := range m.Size().Y {
		for x := range m.Size().X {
			c := m.At(geom.Px{X: float64(x), Y: float64(y)})
			b.Write([]byte{c.R, c.G, c.B})
		}
	}
	return sha256.Sum256(b.Bytes())
}

// BenchmarkKeptPreview reads the preview of a photograph that is in the library, of 24 and of 50 megapixels, ready to be
// painted. The budget is 150 ms.
func BenchmarkKeptPreview(b *testing.B) {
	for name, size := range map[string]image.Point{"24MP": {X: 6000, Y: 4000}, "50MP": {X: 8688, Y: 5792}} {
		b.Run(name, func(b *testing.B) {
			l, p := withLarge(b, size)
			for b.Loop() {
				m, err := l.Preview(context.Background(), p.ID)
				if err != nil {
					b.Fatal(err)
				}
				photo.NewImage(m)
			}
		})
	}
}

// BenchmarkKeptPhoto reads and checks the original of 24 megapixels and decodes it. The budget is 1.5 s.
func BenchmarkKeptPhoto(b *testing.B) {
	l, p := withLarge(b, image.Pt(6000, 4000))
	for b.Loop() {
		if _, err := l.Photo(context.Background(), p.ID); err != nil {
			b.Fatal(err)
		}
	}
}

func withLarge(b *testing.B, size image.Point) (*Library, Plate) {
	b.Helper()
	m := image.NewYCbCr(image.Rectangle{Max: size}, image.YCbCrSubsampleRatio420)
	for i := range m.Y {
		m.Y[i] = uint8(40 + i%size.X*120/size.X + i*i>>7&15)
	}
	for i := range m.Cb {
		m.Cb[i], m.Cr[i] = 120, 140
	}
	var file bytes.Buffer
	if err := photo.EncodeJPEG(&file, m, 90); err != nil {
		b.Fatal(err)
	}
	l, r := lab(b)
	p, err := l.AddPhoto(context.Background(), upper(r, 1), code, "large.jpg", &file)
	if err != nil {
		b.Fatal(err)
	}
	return l, p
}
