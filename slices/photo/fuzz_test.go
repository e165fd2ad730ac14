package photo

import (
	"bytes"
	"context"
	"image"
	"testing"
	"time"

	"golang.org/x/image/tiff"
)

func seeds(f *testing.F) {
	small := blocks(2, 2)
	j := jpegOf(f, small)
	f.Add(j)
	f.Add(WithEXIF(j, 6, time.Date(2026, 1, 2, 3, 4, 5, 0, time.UTC)))
	f.Add(withICC(j, adobeRGB()))
	var p, t bytes.Buffer
	if err := EncodePNG(&p, small); err != nil {
		f.Fatal(err)
	}
	if err := tiff.Encode(&t, small, &tiff.Options{Compression: tiff.Deflate}); err != nil {
		f.Fatal(err)
	}
	f.Add(p.Bytes())
	f.Add(t.Bytes())
	f.Add(testFile(f, "exif_input.jpg"))
	f.Add(testFile(f, "small.webp"))
}

// FuzzOpen: no bytes may bring Probe or Open to panic or to hand out a picture that cannot be painted, and
// both agree on what is refused by its header.
func FuzzOpen(f *testing.F) {
	seeds(f)
	limit := Limit{Pixels: 1 << 20, Bytes: 1 << 20}
	f.Fuzz(func(t *testing.T, b []byte) {
		info, probeErr := Probe(bytes.NewReader(b))
		m, err := Open(context.Background(), bytes.NewReader(b), limit)
		if err != nil {
			return
		}
		if probeErr != nil {
			t.Fatalf("opened what Probe refuses: %v", probeErr)
		}
		if m.Size() != info.Size || info.Size.X < 1 || info.Size.Y < 1 {
			t.Fatalf("size %v, header %v", m.Size(), info.Size)
		}
		m.Draw(image.NewRGBA(image.Rect(0, 0, 9, 9)), [6]float64{1.5, 0.1, -1, 0.2, 1.5, -1})
		m.Preview(8)
	})
}

// FuzzStrip: a stripped file that decodes holds the same picture size, and stripping twice changes nothing more.
func FuzzStrip(f *testing.F) {
	seeds(f)
	f.Fuzz(func(t *testing.T, b []byte) {
		var once, twice bytes.Buffer
		if Strip(&once, bytes.NewReader(b)) != nil {
			return
		}
		if once.Len() > len(b)+2 {
			t.Fatalf("stripping made %d bytes of %d", once.Len(), len(b))
		}
		if err := Strip(&twice, bytes.NewReader(once.Bytes())); err != nil || !bytes.Equal(once.Bytes(), twice.Bytes()) {
			t.Fatalf("stripping again: %v", err)
		}
	})
}

func FuzzTies(f *testing.F) {
	f.Add("px,py,x,y\n1,2,3,4\n5,6,7,8\n")
	f.Fuzz(func(t *testing.T, s string) {
		ties, err := ReadTies(bytes.NewReader([]byte(s)))
		if err != nil {
			return
		}
		if c, err := FromTies(ties); err == nil {
			_ = c.Check(image.Pt(100, 100))
			_, _, _ = c.Length(ties[0].Px, ties[1].Px)
			c.Report(image.Pt(100, 100))
		}
		_, _, _ = GridRobust(ties)
	})
}
