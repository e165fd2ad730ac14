package scan

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
)

type pixelTruth struct {
	SHA256                         string
	Frames, Rows, Columns, Samples int
	Refused, Why                   string // not, unsupported, damaged
	Syntax, Modality, SOP          string
}

// hashOf decodes every frame of a file and hashes the samples as scan_pixels.py does.
func hashOf(data []byte) (sum string, p *pixels, err error) {
	f, err := parseFile(data, true)
	if err != nil {
		return "", nil, err
	}
	if p, err = pixelsOf(f); err != nil {
		return "", nil, err
	}
	h := sha256.New()
	ints, reals := make([]int32, p.count()), make([]float64, p.count())
	for n := range p.frames {
		var out []byte
		if p.float != 0 {
			p.floats(n, reals)
			for _, x := range reals {
				out = binary.LittleEndian.AppendUint64(out, math.Float64bits(x))
			}
		} else {
			if _, err := p.integers(n, ints); err != nil {
				return "", p, err
			}
			for _, x := range ints {
				out = binary.LittleEndian.AppendUint32(out, uint32(x))
			}
		}
		h.Write(out)
	}
	return hex.EncodeToString(h.Sum(nil)), p, nil
}

var refusals = map[string]error{"not": ErrNotScan, "unsupported": ErrUnsupported, "damaged": ErrDamaged}

// TestPixelTable holds every file of three collections to testdata/scan/pixels.json: the same samples as pydicom, dcmtk or
// gdcm, or refused for the reason given there. A file that the table does not know, or knows and is gone, fails.
func TestPixelTable(t *testing.T) {
	var tables map[string]map[string]pixelTruth
	readJSON(t, root(t)+"/testdata/scan/pixels.json", &tables)
	for name, folder := range map[string]string{
		"syntaxes": "../shared/data/dicom-syntaxes", "series": "../shared/data/dicom-series",
		"pydicom": "/usr/lib/python3/dist-packages/pydicom/data",
	} {
		t.Run(name, func(t *testing.T) {
			if !filepath.IsAbs(folder) {
				folder = filepath.Join(root(t), folder)
			}
			if _, err := os.Stat(folder); err != nil {
				t.Skipf("%s is not here", filepath.Base(folder))
			}
			comparePixels(t, os.DirFS(folder), tables[name])
		})
	}
}

func comparePixels(t *testing.T, files fs.FS, table map[string]pixelTruth) {
	exact, refused, left := 0, 0, 0
	seen := map[string]bool{}
	fs.WalkDir(files, ".", func(path string, d fs.DirEntry, err error) error {
		ext := filepath.Ext(path)
		if err != nil || d.IsDir() || ext == ".py" || ext == ".pyc" || strings.HasSuffix(path, ".nii.gz") || path == "LICENSE" {
			return err
		}
		want, known := table[path]
		if seen[path] = true; !known {
			t.Errorf("%s is not in the table", path)
			return nil
		}
		data, err := fs.ReadFile(files, path)
		if err != nil {
			t.Fatal(err)
		}
		got, p, err := hashOf(data)
		switch {
		case err != nil && strings.Contains(err.Error(), "in this build"):
			left++ // JPEG 2000 without openjp2: refused by name
			if !errors.Is(err, ErrUnsupported) || !strings.HasSuffix(want.Syntax, ".90") && !strings.HasSuffix(want.Syntax, ".91") {
				t.Errorf("%s: %v", path, err)
			}
		case want.SHA256 == "":
			if refused++; !errors.Is(err, refusals[want.Refused]) {
				t.Errorf("%s: %v, want %s: %s", path, err, want.Refused, want.Why)
			}
		case err != nil:
			t.Errorf("%s: %v", path, err)
		case got != want.SHA256 || p.frames != want.Frames || p.rows != want.Rows || p.columns != want.Columns || p.samples != want.Samples:
			t.Errorf("%s: %s: other samples than the reference's: %d frames of %d x %d x %d", path, p.name, p.frames, p.columns, p.rows, p.samples)
		default:
			exact++
		}
		return nil
	})
	for path := range table {
		if !seen[path] {
			t.Errorf("%s is in the table and not in the folder", path)
		}
	}
	t.Logf("%d files: %d exact, %d refused as they should, %d JPEG 2000 not in this build", len(seen), exact, refused, left)
}

// TestWordsEqualIntegers: the fast road for 16-bit words gives what the general one gives, for every depth and order.
func TestWordsEqualIntegers(t *testing.T) {
	data := make([]byte, 2*7*3)
	for i := range data {
		data[i] = byte(i*83 + i*i*7)
	}
	for stored := 1; stored <= 16; stored++ {
		for _, signed := range []bool{false, true} {
			for _, big := range []bool{false, true} {
				p := &pixels{layout: layout{rows: 3, columns: 7, frames: 1, samples: 1, allocated: 16, stored: stored, high: stored - 1,
					signed: signed, photometric: "MONOCHROME2"}, enc: encoding{big: big}, native: data}
				want, got := make([]int32, 21), make([]int16, 21)
				if _, err := p.integers(0, want); err != nil {
					t.Fatal(err)
				}
				offset := 0
				if stored == 16 && !signed {
					offset = 1 << 15
				}
				p.words16(0, got)
				p.settleWords(got, offset)
				for i := range want {
					if int(got[i])+offset != int(want[i]) {
						t.Fatalf("%d bits signed %v big %v: %d, want %d", stored, signed, big, int(got[i])+offset, want[i])
					}
				}
			}
		}
	}
}

// TestDirectEqualsWhole: a file read straight into the volume gives what the same file read whole gives, for every depth;
// one byte short, both refuse it.
func TestDirectEqualsWhole(t *testing.T) {
	for stored := 9; stored <= 16; stored++ {
		for _, signed := range []int{0, 1} {
			f := slice{rows: 101, columns: 97, fill: 60000}.file()
			f.Data = bytes.Replace(f.Data, []byte("\x01\x01US\x02\x00\x10\x00"), []byte{1, 1, 'U', 'S', 2, 0, byte(stored), 0}, 1)
			f.Data = bytes.Replace(f.Data, []byte("\x02\x01US\x02\x00\x0f\x00"), []byte{2, 1, 'U', 'S', 2, 0, byte(stored - 1), 0}, 1)
			f.Data = bytes.Replace(f.Data, []byte("\x03\x01US\x02\x00\x00\x00"), []byte{3, 1, 'U', 'S', 2, 0, byte(signed), 0}, 1)
			files := fstest.MapFS{"f": f}
			s, v := only(t, files)
			parsed, err := parseFile(f.Data, true)
			if err != nil {
				t.Fatal(err)
			}
			p, err := pixelsOf(parsed)
			if err != nil || p.stored != stored {
				t.Fatal(err, p.stored)
			}
			want := make([]int32, p.count())
			if _, err := p.integers(0, want); err != nil {
				t.Fatal(err)
			}
			for i, x := range want {
				if got := v.Value(i%97, i/97, 0); got != float64(x) {
					t.Fatalf("%d bits signed %d: value %d is %g, want %d", stored, signed, i, got, x)
				}
			}
			files["f"] = &fstest.MapFile{Data: f.Data[:len(f.Data)-1]}
			if _, err := Load(context.Background(), files, s, nil); !errors.Is(err, ErrDamaged) {
				t.Errorf("a byte short: %v", err)
			}
		}
	}
}
