package quiz

import (
	"archive/zip"
	"bytes"
	"compress/zlib"
	"encoding/base64"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"hash/crc32"
	"image"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"sectionary/slices/photo"
)

// noisy is a picture whose packed bytes are as good as random.
func noisy(r *rand.Rand, w, h int) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range m.Pix {
		m.Pix[i] = uint8(r.Uint32()) | uint8(i%4/3*255)
	}
	return m
}

func pngOf(r *rand.Rand) []byte {
	var b bytes.Buffer
	png.Encode(&b, noisy(r, 40, 30))
	return withDensity(b.Bytes(), 7874)
}

func jpegOf(r *rand.Rand) []byte {
	var b bytes.Buffer
	jpeg.Encode(&b, noisy(r, 40, 30), nil)
	return b.Bytes()
}

// pdfOf is a page with a picture, in which plant may draw or note something.
func pdfOf(r *rand.Rand, plant func(*fpdf.Fpdf)) []byte {
	f := fpdf.New("P", "mm", "A4", "")
	f.SetCreationDate(Neutral)
	f.SetModificationDate(Neutral)
	f.SetCatalogSort(true)
	f.AddUTF8FontFromBytes("go", "", typefaces[0])
	for range r.IntN(4) { // so that the leak lies in another stream each time
		f.AddPage()
		f.SetFont("go", "", 9)
		f.Text(10, 20, "Another page")
	}
	f.AddPage()
	f.SetFont("go", "", 11)
	f.Text(10, 20, "Study picture of a face, seen from below")
	f.RegisterImageOptionsReader("x", fpdf.ImageOptions{ImageType: "JPG"}, bytes.NewReader(jpegOf(r)))
	f.ImageOptions("x", 10, 30, 40, 30, false, fpdf.ImageOptions{}, 0, "")
	plant(f)
	var b bytes.Buffer
	if err := f.Output(&b); err != nil {
		panic(err)
	}
	return b.Bytes()
}

func zipOf(member string, body []byte, t time.Time, note string) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	w, _ := z.CreateHeader(&zip.FileHeader{Name: member, Method: zip.Deflate, Modified: t, Comment: note})
	w.Write(body)
	z.Close()
	return b.Bytes()
}

// chunk puts one more chunk before the end of a PNG file.
func chunk(file []byte, kind string, body []byte) []byte {
	c := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	c = append(append(c, kind...), body...)
	c = binary.BigEndian.AppendUint32(c, crc32.ChecksumIEEE(c[4:]))
	end := len(file) - 12
	return append(append(append([]byte{}, file[:end]...), c...), file[end:]...)
}

// segment puts one more segment behind the first marker of a JPEG file.
func segment(file []byte, kind byte, body []byte) []byte {
	s := binary.BigEndian.AppendUint16([]byte{0xFF, kind}, uint16(len(body)+2))
	return append(append(append([]byte{}, file[:2]...), append(s, body...)...), file[2:]...)
}

func deflated(b []byte) []byte {
	var out bytes.Buffer
	z := zlib.NewWriter(&out)
	z.Write(b)
	z.Close()
	return out.Bytes()
}

// disguises are ways a word may be written.
func disguise(r *rand.Rand, word string) string {
	switch r.IntN(5) {
	case 0:
		return strings.ToLower(word)
	case 1:
		return strings.ToUpper(word)
	case 2:
		return strings.ReplaceAll(word, "-", "")
	case 3:
		return strings.ReplaceAll(word, "-", "_")
	}
	return word
}

// The kinds of leak, each planted in its own way. The word may be "", for kinds that need none.
var kinds = map[string]func(r *rand.Rand, word string) (name string, file []byte){
	"text, UTF-8": func(r *rand.Rand, w string) (string, []byte) { return "a.csv", []byte("no,name\n1," + w + "\n") },
	"text, UTF-16 little": func(r *rand.Rand, w string) (string, []byte) {
		return "a.csv", append([]byte{0xFF, 0xFE}, wideAs("1;"+w+";", true)...)
	},
	"text, UTF-16 big": func(r *rand.Rand, w string) (string, []byte) {
		return "a.csv", append([]byte{0xFE, 0xFF}, wideAs("1;"+w+";", false)...)
	},
	"file name": func(r *rand.Rand, w string) (string, []byte) { return "slab 5 " + w + ".png", pngOf(r) },
	"PNG text": func(r *rand.Rand, w string) (string, []byte) {
		return "a.png", chunk(pngOf(r), "tEXt", []byte("Title\x00"+w))
	},
	"PNG packed text": func(r *rand.Rand, w string) (string, []byte) {
		return "a.png", chunk(pngOf(r), "zTXt", append([]byte("Title\x00\x00"), deflated([]byte(w))...))
	},
	"PNG wide text": func(r *rand.Rand, w string) (string, []byte) {
		return "a.png", chunk(pngOf(r), "iTXt", append([]byte("Title\x00\x01\x00\x00\x00"), deflated([]byte(w))...))
	},
	"PNG EXIF": func(r *rand.Rand, w string) (string, []byte) {
		return "a.png", chunk(pngOf(r), "eXIf", []byte("MM\x00*"+w))
	},
	"PNG date": func(r *rand.Rand, w string) (string, []byte) {
		return "a.png", chunk(pngOf(r), "tIME", []byte{7, 234, 3, 2, 1, 1, 1})
	},
	"PNG after the end": func(r *rand.Rand, w string) (string, []byte) { return "a.png", append(pngOf(r), w...) },
	"JPEG EXIF": func(r *rand.Rand, w string) (string, []byte) {
		return "a.jpg", photo.WithEXIF(jpegOf(r), 1+r.IntN(8), time.Date(2026, 1, 2, 3, 4, 5, 0, time.UTC))
	},
	"JPEG XMP": func(r *rand.Rand, w string) (string, []byte) {
		return "a.jpg", segment(jpegOf(r), 0xE1, []byte("http://ns.adobe.com/xap/1.0/\x00<x:xmpmeta>"))
	},
	"JPEG IPTC": func(r *rand.Rand, w string) (string, []byte) {
		return "a.jpg", segment(jpegOf(r), 0xED, []byte("Photoshop 3.0\x008BIM"))
	},
	"JPEG note": func(r *rand.Rand, w string) (string, []byte) { return "a.jpg", segment(jpegOf(r), 0xFE, []byte(w)) },
	"JPEG thumbnail": func(r *rand.Rand, w string) (string, []byte) {
		return "a.jpg", segment(jpegOf(r), 0xE0, append([]byte("JFXX\x00\x10"), jpegOf(r)...))
	},
	"JPEG after the end": func(r *rand.Rand, w string) (string, []byte) { return "a.jpg", append(jpegOf(r), w...) },
	"PDF drawn text": func(r *rand.Rand, w string) (string, []byte) {
		return "a.pdf", pdfOf(r, func(f *fpdf.Fpdf) { f.Text(10, 200, "from "+w+" (left)") })
	},
	"PDF letter by letter": func(r *rand.Rand, w string) (string, []byte) {
		return "a.pdf", pdfOf(r, func(f *fpdf.Fpdf) {
			for i, c := range w {
				f.Text(10+4*float64(i), 200, string(c))
			}
		})
	},
	"PDF hex text": func(r *rand.Rand, w string) (string, []byte) {
		return "a.pdf", pdfOf(r, func(f *fpdf.Fpdf) { f.RawWriteStr("BT <" + hex.EncodeToString([]byte(w)) + "> Tj ET\n") })
	},
	"PDF title": func(r *rand.Rand, w string) (string, []byte) {
		return "a.pdf", pdfOf(r, func(f *fpdf.Fpdf) { f.SetTitle(w, true) })
	},
	"PDF keywords": func(r *rand.Rand, w string) (string, []byte) {
		return "a.pdf", pdfOf(r, func(f *fpdf.Fpdf) { f.SetKeywords(w, false) })
	},
	"PDF bookmark": func(r *rand.Rand, w string) (string, []byte) {
		return "a.pdf", pdfOf(r, func(f *fpdf.Fpdf) { f.Bookmark("face of "+w, 0, -1) })
	},
	"PDF link": func(r *rand.Rand, w string) (string, []byte) {
		return "a.pdf", pdfOf(r, func(f *fpdf.Fpdf) { f.LinkString(1, 1, 9, 9, "https://lab/"+w) })
	},
	"PDF date": func(r *rand.Rand, w string) (string, []byte) {
		return "a.pdf", pdfOf(r, func(f *fpdf.Fpdf) { f.SetCreationDate(time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)) })
	},
	"PDF picture with EXIF": func(r *rand.Rand, w string) (string, []byte) {
		return "a.pdf", pdfOf(r, func(f *fpdf.Fpdf) {
			b := photo.WithEXIF(jpegOf(r), 1, time.Date(2026, 1, 2, 3, 4, 5, 0, time.UTC))
			f.RegisterImageOptionsReader("y", fpdf.ImageOptions{ImageType: "JPG"}, bytes.NewReader(b))
			f.ImageOptions("y", 10, 100, 40, 30, false, fpdf.ImageOptions{}, 0, "")
		})
	},
	"PDF attachment": func(r *rand.Rand, w string) (string, []byte) {
		return "a.pdf", pdfOf(r, func(f *fpdf.Fpdf) { f.SetAttachments([]fpdf.Attachment{{Content: []byte("x"), Filename: "a.txt"}}) })
	},
	"PDF metadata": func(r *rand.Rand, w string) (string, []byte) {
		return "a.pdf", pdfOf(r, func(f *fpdf.Fpdf) { f.SetXmpMetadata([]byte("<x:xmpmeta/>")) })
	},
	"ZIP member": func(r *rand.Rand, w string) (string, []byte) {
		return "a.zip", zipOf("manifest.json", []byte(`{"donor":"`+w+`"}`), Neutral, "")
	},
	"ZIP member name": func(r *rand.Rand, w string) (string, []byte) {
		return "a.zip", zipOf(w+"/face.png", pngOf(r), Neutral, "")
	},
	"ZIP note": func(r *rand.Rand, w string) (string, []byte) { return "a.zip", zipOf("face.png", pngOf(r), Neutral, w) },
	"ZIP date": func(r *rand.Rand, w string) (string, []byte) {
		return "a.zip", zipOf("face.png", pngOf(r), time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC), "")
	},
	"ZIP in a ZIP": func(r *rand.Rand, w string) (string, []byte) {
		return "a.zip", zipOf("b.zip", zipOf("x.txt", []byte(w), Neutral, ""), Neutral, "")
	},
	"XML references": func(r *rand.Rand, w string) (string, []byte) {
		refs := ""
		for _, c := range w {
			refs += fmt.Sprintf("&#%d;", c)
		}
		return "a.zip", zipOf("items/a.xml", []byte("<p>"+refs+"</p>"), Neutral, "")
	},
	"ZIP with a PNG with text": func(r *rand.Rand, w string) (string, []byte) {
		return "a.zip", zipOf("face.png", chunk(pngOf(r), "zTXt", append([]byte("t\x00\x00"), deflated([]byte(w))...)), Neutral, "")
	},
}

// expected is what a kind must be found as; kinds not named here carry the word.
var expected = map[string]string{
	"PNG EXIF": "EXIF", "PNG date": "date", "JPEG EXIF": "EXIF", "JPEG XMP": "XMP", "JPEG IPTC": "IPTC", "JPEG thumbnail": "a thumbnail",
	"PDF date": "date", "PDF picture with EXIF": "EXIF", "PDF attachment": "an attached file", "PDF metadata": "an attached file", "ZIP date": "date",
}

func wideAs(s string, little bool) []byte {
	var out []byte
	for _, r := range s { // the planted words lie in the basic plane
		if little {
			out = append(out, byte(r), byte(r>>8))
		} else {
			out = append(out, byte(r>>8), byte(r))
		}
	}
	return out
}

var plantedWords = []string{"SH-31M", "A7K", "trunk.014", "KX-2209-B", "Žofie Černá", "Gate 5 lab"}

// A hundred leaks of each kind, none missed.
func TestPlantedLeaksAreFound(t *testing.T) {
	dir := t.TempDir()
	for kind, plant := range kinds {
		missed := 0
		for i := range 100 {
			r := rand.New(rand.NewPCG(uint64(i), 11))
			word := plantedWords[i%len(plantedWords)]
			name, file := plant(r, disguise(r, word))
			path := filepath.Join(dir, name)
			if err := os.WriteFile(path, file, 0o600); err != nil {
				t.Fatal(err)
			}
			s, err := ScanFiles([]string{path}, []string{"another", word})
			if err != nil {
				t.Fatalf("%s %d: %v", kind, i, err)
			}
			want := expected[kind]
			if want == "" {
				want = "donor code or word 2"
			}
			if !slices.ContainsFunc(s.Leaks, func(l Leak) bool { return l.What == want }) {
				missed++
			}
			for _, l := range s.Leaks {
				if strings.Contains(strings.ToLower(fmt.Sprint(l)), strings.ToLower(word)) && kind != "file name" {
					t.Errorf("%s: the report repeats the word: %v", kind, l)
				}
			}
			os.Remove(path)
		}
		if missed > 0 {
			t.Errorf("%s: %d of 100 missed", kind, missed)
		}
	}
	t.Logf("%d kinds of leak, 100 each", len(kinds))
}

// The same files without anything planted raise no alarm, though short words stand against random pixels.
func TestCleanFilesRaiseNoAlarm(t *testing.T) {
	dir := t.TempDir()
	n := 0
	for i := range 200 {
		r := rand.New(rand.NewPCG(uint64(i), 12))
		for name, file := range map[string][]byte{
			"a.png": pngOf(r), "a.jpg": jpegOf(r), "a.pdf": pdfOf(r, func(*fpdf.Fpdf) {}),
			"a.zip": zipOf("face.png", pngOf(r), Neutral, ""), "a.csv": []byte("no,name\n1,left kidney\n"),
		} {
			path := filepath.Join(dir, name)
			os.WriteFile(path, file, 0o600)
			s, err := ScanFiles([]string{path}, plantedWords)
			if err != nil || !s.Clean() {
				t.Errorf("%s %d: %v, %v", name, i, err, s.Leaks)
			}
			n++
		}
	}
	big := noisy(rand.New(rand.NewPCG(3, 3)), 1500, 1000)
	var b bytes.Buffer
	png.Encode(&b, big)
	path := filepath.Join(dir, "big.png")
	os.WriteFile(path, b.Bytes(), 0o600)
	if s, err := ScanFiles([]string{path}, plantedWords); err != nil || !s.Clean() {
		t.Errorf("%v %v", err, s.Leaks)
	}
	t.Logf("%d clean files", n+1)
}

func TestWordsTooShortToSearchFor(t *testing.T) {
	for _, w := range []string{"", "A", "-- -", "7-"} {
		if _, err := ScanFiles(nil, []string{w}); err == nil {
			t.Errorf("%q was taken", w)
		}
	}
}

// A file that would unpack without end, or lies in too many others, is refused, not searched in part.
func TestBombs(t *testing.T) {
	deep := []byte("SH-31M")
	for range maxDepth + 2 {
		deep = zipOf("x.zip", deep, Neutral, "")
	}
	for name, b := range map[string][]byte{
		"zip": zipOf("zeros", make([]byte, 3000), Neutral, ""), "two members": zipOf("zeros", zipOf("zeros", make([]byte, 1500), Neutral, ""), Neutral, ""),
		"png": chunk(pngOf(rand.New(rand.NewPCG(1, 1))), "zTXt", append([]byte("t\x00\x00"), deflated(make([]byte, 3000))...)), "deep": deep,
	} {
		s := &search{found: map[Leak]bool{}, limit: 1400}
		if name == "deep" {
			s.limit = maxFile
		}
		if s.data("bytes", b, 0); s.err == nil {
			t.Errorf("%s: searched", name)
		}
	}
}

func FuzzScan(f *testing.F) {
	r := rand.New(rand.NewPCG(1, 1))
	for _, plant := range kinds {
		_, file := plant(r, "SH-31M")
		f.Add(file)
	}
	f.Add([]byte("%PDF-1.3\n1 0 obj <</Length 3>> stream\n(((\\"))
	f.Add([]byte(base64.StdEncoding.EncodeToString([]byte("x"))))
	f.Fuzz(func(t *testing.T, b []byte) {
		n, err := needlesOf([]string{"SH-31M"})
		if err != nil {
			t.Fatal(err)
		}
		s := &search{needles: n, found: map[Leak]bool{}, file: "x", limit: 1 << 20}
		s.data("bytes", b, 0)
		if bytes.Contains(b, []byte("SH-31M")) && s.err == nil && len(s.found) == 0 {
			t.Errorf("missed a word that stands there plainly")
		}
	})
}
