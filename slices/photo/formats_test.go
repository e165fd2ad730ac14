package photo

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sectionary/slices/geom"
)

// formatsDir holds what testdata/gen/photo_formats.py wrote: files of every kind, and beside each what an outside reader
// (Pillow with libtiff, libpng and libwebp; djpeg of libjpeg-turbo for JPEG) makes of it.
const formatsDir = "../../testdata/photo/formats"

// TestFormatsAsOthersReadThem: lossless kinds to the very level; JPEG within 4 levels, for T.81 leaves the rounding of the
// inverse transform open; lossy WebP in the mean and but for a twentieth of the samples, for its chroma is enlarged
// otherwise.
func TestFormatsAsOthersReadThem(t *testing.T) {
	wants, err := filepath.Glob(filepath.Join(formatsDir, "*.want.png"))
	if err != nil || len(wants) < 52 {
		t.Fatalf("%d files to compare with: %v", len(wants), err)
	}
	for _, path := range wants {
		name := strings.TrimSuffix(filepath.Base(path), ".want.png")
		t.Run(name, func(t *testing.T) {
			f, err := os.Open(path)
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			want, err := png.Decode(f)
			if err != nil {
				t.Fatal(err)
			}
			m := open(t, formatFile(t, name))
			if m.Size() != want.Bounds().Size() {
				t.Fatalf("%v, want %v", m.Size(), want.Bounds().Size())
			}
			most, few := 0, 0
			switch {
			case strings.HasPrefix(name, "jpeg"):
				most = 4
			case strings.HasPrefix(name, "webp_lossy"):
				most, few = 25, 3*m.Size().X*m.Size().Y/20
			case strings.Contains(name, "alpha"), strings.Contains(name, "icc"): // rounding over white and of the conversion
				most = 1
			}
			comparePixels(t, m, want, most, few)
		})
	}
}

func formatFile(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(formatsDir, name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// comparePixels allows few samples to be further off than most.
func comparePixels(t *testing.T, m *Image, want image.Image, most, few int) {
	t.Helper()
	far, worst := 0, 0
	var sum [3]float64
	n := float64(m.Size().X * m.Size().Y)
	for y := range m.Size().Y {
		for x := range m.Size().X {
			a, b := m.At(geom.Px{X: float64(x), Y: float64(y)}), color.RGBAModel.Convert(want.At(x, y)).(color.RGBA)
			for k, d := range [3]int{int(a.R) - int(b.R), int(a.G) - int(b.G), int(a.B) - int(b.B)} {
				sum[k] += float64(d) / n
				worst = max(worst, d, -d)
				if max(d, -d) > most {
					far++
				}
			}
		}
	}
	if far > few {
		t.Errorf("%d samples off by more than %d, the worst by %d", far, most, worst)
	}
	for k, d := range sum {
		if max(d, -d) > 1.5 {
			t.Errorf("part %d off by %.2f on average", k, d)
		}
	}
}

// TestFormatsRefusedByName: what cannot be read faithfully is refused by its header, says what it is and what to do.
func TestFormatsRefusedByName(t *testing.T) {
	for name, words := range map[string]string{
		"refused_arithmetic.jpg": "arithmetic-coded JPEG; save", "refused_arithmetic_progressive.jpg": "arithmetic-coded JPEG; save",
		"refused_cmyk.jpg": "CMYK JPEG; save", "refused_ycck.jpg": "CMYK JPEG; save", "refused_cmyk.tif": "CMYK TIFF; save",
		"refused_jpeg_inside.tif": "JPEG inside TIFF; save", "refused_float.tif": "floating-point", "refused_planes.tif": "separate colour planes; save",
		"refused_animated.webp": "animated WebP; save",
	} {
		data := formatFile(t, name)
		if _, err := Probe(bytes.NewReader(data)); !errors.Is(err, ErrFormat) || !strings.Contains(err.Error(), words) {
			t.Errorf("%s: %v", name, err)
		}
		if _, err := Open(context.Background(), bytes.NewReader(data), Limit{}); !errors.Is(err, ErrFormat) {
			t.Errorf("%s: opening: %v", name, err)
		}
	}
	for brand, words := range map[string]string{"heic": "HEIC; ", "heix": "HEIC; ", "mif1": "HEIC; ", "hevc": "HEIC; ", "msf1": "HEIC; ", "avif": "AVIF; ",
		"avis": "AVIF; ", "isom": "film; ", "mp42": "film; ", "qt  ": "film; "} {
		_, err := Probe(strings.NewReader("\x00\x00\x00\x18ftyp" + brand + "\x00\x00\x00\x00mif1heic"))
		if !errors.Is(err, ErrFormat) || !strings.Contains(err.Error(), words) {
			t.Errorf("%s: %v", brand, err)
		}
	}
}

// TestSaidOfFormats: more pictures than one in a file and profiles that cannot be honoured are told.
func TestSaidOfFormats(t *testing.T) {
	for name, pages := range map[string]int{"tiff_three_pages.tif": 3, "tiff_rgb.tif": 0, "png_rgb.png": 0, "jpeg_s420.jpg": 0} {
		info, err := Probe(bytes.NewReader(formatFile(t, name)))
		if err != nil || info.Pages != pages {
			t.Errorf("%s: %d pages, want %d: %v", name, info.Pages, pages, err)
		}
	}
	table := profileTable(t)
	m := open(t, withICC(formatFile(t, "jpeg_s444.jpg"), table.Table))
	if info := m.Info(); info.Unused != "printer" || info.Profile != "" {
		t.Errorf("a profile of tables: %+v", info)
	}
	plain := open(t, formatFile(t, "jpeg_s444.jpg"))
	if plain.Info().Unused != "" || plain.At(geom.Px{X: 5, Y: 5}) != m.At(geom.Px{X: 5, Y: 5}) {
		t.Error("a profile that is not used changed the picture")
	}
	for _, name := range []string{"icc_p3.jpg", "icc_p3.png", "icc_p3.tif", "icc_p3.webp"} {
		if info := open(t, formatFile(t, name)).Info(); info.Profile != "Display P3" || info.Unused != "" {
			t.Errorf("%s: %+v", name, info)
		}
	}
	a, b := open(t, formatFile(t, "icc_p3.png")), open(t, formatFile(t, "icc_p3.tif"))
	w := open(t, formatFile(t, "icc_p3.webp"))
	for y := range a.Size().Y {
		for x := range a.Size().X {
			p := geom.Px{X: float64(x), Y: float64(y)}
			if a.At(p) != b.At(p) || a.At(p) != w.At(p) {
				t.Fatalf("the same profile in PNG, TIFF and WebP: %v, %v, %v", a.At(p), b.At(p), w.At(p))
			}
		}
	}
}

type colourTable struct {
	Profiles []struct {
		Name    string
		ICC     []byte
		In, Out json.RawMessage
	}
	Table []byte
}

func profileTable(t *testing.T) (table colourTable) {
	t.Helper()
	if err := json.Unmarshal(formatFile(t, "profiles.json"), &table); err != nil || len(table.Profiles) != 4 {
		t.Fatal(err)
	}
	return table
}

// TestProfilesAsLittleCMS: Display P3 of version 4, a wide space with a curve of 256 values, and two grey spaces.
func TestProfilesAsLittleCMS(t *testing.T) {
	for _, row := range profileTable(t).Profiles {
		p, ok := parseProfile(row.ICC)
		if !ok || p.name != row.Name || p.isSRGB() {
			t.Errorf("%s: %v %q", row.Name, ok, p.name)
			continue
		}
		var in, out [][3]uint8
		if strings.HasPrefix(row.Name, "grey") {
			var levels []int // for []uint8 would be read as base64
			if err := json.Unmarshal(row.In, &levels); err != nil {
				t.Fatal(err)
			}
			for _, v := range levels {
				in = append(in, [3]uint8{uint8(v), uint8(v), uint8(v)})
			}
		} else if err := json.Unmarshal(row.In, &in); err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(row.Out, &out); err != nil {
			t.Fatal(err)
		}
		src := image.NewRGBA(image.Rect(0, 0, len(in), 1))
		for i, c := range in {
			src.SetRGBA(i, 0, color.RGBA{c[0], c[1], c[2], 255})
		}
		dst := p.toSRGB(src)
		changed := 0
		for i, want := range out {
			c := dst.At(i, 0).(color.RGBA)
			for k, got := range [3]uint8{c.R, c.G, c.B} {
				most := 1
				if want[k] < 24 {
					most = 2
				}
				if d := int(got) - int(want[k]); max(d, -d) > most {
					t.Errorf("%s, %v: %v, want %v", row.Name, in[i], c, want)
				}
				if d := int(got) - int(in[i][k]); max(d, -d) > 6 {
					changed++
				}
			}
		}
		if row.Name != "grey 2.2" && changed < 40 { // that one is close to sRGB
			t.Errorf("%s: hardly anything changed", row.Name)
		}
	}
}
