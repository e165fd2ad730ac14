package photo

import (
	"bytes"
	"context"
	"errors"
	"image"
	"maps"
	"math/rand/v2"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
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
	for _, data := range formatFiles(f) {
		f.Add(data)
	}
}

// formatFiles are the small files of testdata/photo/formats, those that are refused among them.
func formatFiles(t testing.TB) map[string][]byte {
	t.Helper()
	all := map[string][]byte{}
	for _, ending := range []string{"jpg", "png", "tif", "webp"} {
		names, err := filepath.Glob(filepath.Join(formatsDir, "*."+ending))
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range names {
			if base := filepath.Base(name); !strings.Contains(base, ".want.") {
				all[base] = formatFile(t, base)
			}
		}
	}
	if len(all) < 55 {
		t.Fatalf("%d files", len(all))
	}
	return all
}

// TestTenThousandDamagedFiles: bytes changed, cut off, doubled. None panics, none takes memory for what it only claims, and
// what opens can be painted. A file of 4 kB may claim eight megapixels at most (pixelsPerByte), which take 16 bytes each
// while a decoder of 16 bits is at work.
func TestTenThousandDamagedFiles(t *testing.T) {
	const most = 400 << 20
	files := formatFiles(t)
	names := slices.Sorted(maps.Keys(files))
	count := 10000
	if testing.Short() {
		count = 1000
	}
	r := rand.New(rand.NewPCG(10, 25))
	opened := 0
	var before, after runtime.MemStats
	for n := range count {
		name := names[n%len(names)]
		b := bytes.Clone(files[name])
		for range 1 + r.IntN(5) {
			i := r.IntN(len(b))
			if r.IntN(2) == 0 {
				i = r.IntN(min(len(b), 200)) // where headers stand
			}
			switch r.IntN(8) {
			case 0:
				b = b[:max(i, 16)]
			case 1:
				b = append(b[:i:i], b[max(0, i-r.IntN(60)):]...)
			case 2:
				copy(b[i:], "\xff\xff\xff\xff")
			default:
				b[i] = byte(r.IntN(256))
			}
		}
		runtime.ReadMemStats(&before)
		_, probeErr := Probe(bytes.NewReader(b))
		_, _ = Embedded(bytes.NewReader(b))
		m, err := Open(context.Background(), bytes.NewReader(b), Limit{})
		runtime.ReadMemStats(&after)
		if took := after.TotalAlloc - before.TotalAlloc; took > most {
			t.Fatalf("%s, change %d: %d MB for a file of %d bytes", name, n, took>>20, len(b))
		}
		if probeErr != nil && err == nil {
			t.Fatalf("%s, change %d: opened what Probe refuses: %v", name, n, probeErr)
		}
		if err == nil {
			m.Preview(16)
			opened++
		} else if !errors.Is(err, ErrDamaged) && !errors.Is(err, ErrFormat) && !errors.Is(err, ErrTooLarge) {
			t.Fatalf("%s, change %d: %v", name, n, err)
		}
	}
	if opened < count/20 || opened > count*19/20 {
		t.Errorf("%d of %d opened: the changes are too weak or too strong to prove anything", opened, count)
	}
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
