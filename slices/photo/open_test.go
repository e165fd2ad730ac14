package photo

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/csv"
	"encoding/json"
	"errors"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/image/tiff"

	"sectionary/slices/geom"
)

// placeUpright says where a stored pixel of a picture w x h lands when the named operation is done. It is written
// from the names alone (testdata/laterality/exif.csv, after Exif 2.32 tag 0112) and shares nothing with the code.
var placeUpright = map[string]func(x, y, w, h int) (int, int){
	"none":                 func(x, y, w, h int) (int, int) { return x, y },
	"mirror_lr":            func(x, y, w, h int) (int, int) { return w - 1 - x, y },
	"rotate_180":           func(x, y, w, h int) (int, int) { return w - 1 - x, h - 1 - y },
	"mirror_ud":            func(x, y, w, h int) (int, int) { return x, h - 1 - y },
	"transpose":            func(x, y, w, h int) (int, int) { return y, x },
	"rotate_90_cw":         func(x, y, w, h int) (int, int) { return h - 1 - y, x },
	"transverse_transpose": func(x, y, w, h int) (int, int) { return h - 1 - y, w - 1 - x },
	"rotate_270_cw":        func(x, y, w, h int) (int, int) { return y, w - 1 - x },
}

type orientation struct {
	value    int
	op       string
	mirrored bool
}

func orientations(t *testing.T) (list []orientation) {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "laterality", "exif.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows[1:] {
		list = append(list, orientation{int(row[0][0] - '0'), row[1], row[2] == "true"})
	}
	if len(list) != 8 {
		t.Fatalf("%d orientations", len(list))
	}
	return list
}

// stored turns upright back so that doing op gives it again.
func stored(upright *image.RGBA, op string) *image.RGBA {
	size := upright.Rect.Size()
	if strings.Contains(op, "trans") || strings.Contains(op, "90") || strings.Contains(op, "270") {
		size.X, size.Y = size.Y, size.X
	}
	m := image.NewRGBA(image.Rectangle{Max: size})
	for y := range size.Y {
		for x := range size.X {
			u, v := placeUpright[op](x, y, size.X, size.Y)
			m.SetRGBA(x, y, upright.RGBAAt(u, v))
		}
	}
	return m
}

// blocks makes a picture of 16 x 16 pixel squares of one colour each, which JPEG keeps alike however they are turned.
func blocks(w, h int) *image.RGBA {
	small := noise(w, h, 11)
	m := image.NewRGBA(image.Rect(0, 0, 16*w, 16*h))
	for y := range 16 * h {
		for x := range 16 * w {
			m.SetRGBA(x, y, small.RGBAAt(x/16, y/16))
		}
	}
	return m
}

func pngWithEXIF(t *testing.T, m image.Image, orientation int, taken time.Time) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := EncodePNG(&b, m); err != nil {
		t.Fatal(err)
	}
	body := exifBody(orientation, taken)[6:]
	chunk := append([]byte("eXIf"), body...)
	const header = 8 + 25 // signature and IHDR
	out := bytes.Clone(b.Bytes()[:header])
	out = binary.BigEndian.AppendUint32(out, uint32(len(body)))
	out = append(out, chunk...)
	out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(chunk))
	return append(out, b.Bytes()[header:]...)
}

// tiffWithEXIF sorts an orientation into the directory of a TIFF written by x/image.
func tiffWithEXIF(t *testing.T, m image.Image, orientation int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := tiff.Encode(&b, m, nil); err != nil {
		t.Fatal(err)
	}
	data, le := b.Bytes(), binary.LittleEndian
	at := le.Uint32(data[4:])
	n := le.Uint16(data[at:])
	entries, rest := data[at+2:at+2+12*uint32(n)], data[at+2+12*uint32(n):]
	// the new directory goes to the end of the file; fields point to absolute places and stay
	out := bytes.Clone(data)
	le.PutUint32(out[4:], uint32(len(out)))
	out = le.AppendUint16(out, n+1)
	done := false
	for ; len(entries) > 0; entries = entries[12:] {
		if !done && le.Uint16(entries) > 0x112 {
			out = append(out, 0x12, 1, 3, 0, 1, 0, 0, 0, byte(orientation), 0, 0, 0)
			done = true
		}
		out = append(out, entries[:12]...)
	}
	return append(out, rest[:4]...)
}

func open(t *testing.T, data []byte) *Image {
	t.Helper()
	m, err := Open(context.Background(), bytes.NewReader(data), Limit{})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// TestEightOrientations makes one upright picture into eight files of each format and wants the same upright pixels
// from all of them, by At, by Draw and by Preview.
func TestEightOrientations(t *testing.T) {
	taken := time.Date(2026, 3, 4, 15, 16, 17, 0, time.UTC)
	lossless, lossy := noise(23, 14, 8), blocks(5, 3)
	for _, o := range orientations(t) {
		var j bytes.Buffer
		if err := EncodeJPEG(&j, stored(lossy, o.op), 100); err != nil {
			t.Fatal(err)
		}
		for _, file := range []struct {
			format string
			data   []byte
			want   *image.RGBA
		}{
			{"png", pngWithEXIF(t, stored(lossless, o.op), o.value, taken), lossless},
			{"tiff", tiffWithEXIF(t, stored(lossless, o.op), o.value), lossless},
			{"jpeg", WithEXIF(j.Bytes(), o.value, taken), lossy},
		} {
			info, err := Probe(bytes.NewReader(file.data))
			if err != nil {
				t.Fatalf("%s %d: %v", file.format, o.value, err)
			}
			if info.Format != file.format || info.Orientation != o.value || info.Mirrored != o.mirrored ||
				info.Size != file.want.Rect.Size() || info.Bytes != int64(len(file.data)) {
				t.Errorf("%s %d: %+v", file.format, o.value, info)
			}
			if file.format != "tiff" && !info.Taken.Equal(taken) {
				t.Errorf("%s %d: taken %v, want %v", file.format, o.value, info.Taken, taken)
			}
			m := open(t, file.data)
			if m.Size() != file.want.Rect.Size() {
				t.Fatalf("%s %d: size %v", file.format, o.value, m.Size())
			}
			want := func(x, y int) color.RGBA { return file.want.RGBAAt(x, y) }
			if file.format == "jpeg" { // the same colours in the first orientation
				first := open(t, WithEXIF(jpegOf(t, lossy), 1, taken))
				want = func(x, y int) color.RGBA { return first.At(geom.Px{X: float64(x), Y: float64(y)}) }
			}
			drawn := image.NewRGBA(file.want.Rect)
			m.Draw(drawn, [6]float64{1, 0, 0, 0, 1, 0})
			whole := m.Preview(10000)
			for y := range m.Size().Y {
				for x := range m.Size().X {
					w := want(x, y)
					if a, d, p := m.At(geom.Px{X: float64(x), Y: float64(y)}), drawn.RGBAAt(x, y), whole.RGBAAt(x, y); a != w || d != w || p != w {
						t.Fatalf("%s %d (%s) at %d,%d: At %v, Draw %v, Preview %v, want %v", file.format, o.value, o.op, x, y, a, d, p, w)
					}
				}
			}
		}
	}
}

func jpegOf(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := EncodeJPEG(&b, m, 100); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestCameraFile reads the file that testdata/photo/README.md tells about: orientation 6, stored 48 x 32 with a green
// block at the top left, 24 x 16, which upright lies at the top right, 16 wide and 24 high.
func TestCameraFile(t *testing.T) {
	data := testFile(t, "exif_input.jpg")
	m := open(t, data)
	info := m.Info()
	if info.Orientation != 6 || info.Mirrored || info.Size != image.Pt(32, 48) || info.Taken.IsZero() {
		t.Errorf("%+v", info)
	}
	for _, p := range []struct {
		x, y  float64
		green bool
	}{{18, 2, true}, {30, 2, true}, {30, 21, true}, {12, 2, false}, {30, 28, false}, {3, 45, false}} {
		c := m.At(geom.Px{X: p.x, Y: p.y})
		if green := c.G > 100 && c.R < 90 && c.B < 90; green != p.green {
			t.Errorf("%v: %v", p, c)
		}
	}
	if m.At(geom.Px{X: -1}) != (color.RGBA{}) || m.At(geom.Px{X: 32}) != (color.RGBA{}) {
		t.Error("a colour outside the picture")
	}
}

// TestStrip: nothing that identifies is left, the pixels are the same, and the file is still one for the decoder. The
// words looked for are those the file was made with.
func TestStrip(t *testing.T) {
	data := append(testFile(t, "exif_input.jpg"), "secret behind the end"...)
	var out bytes.Buffer
	if err := Strip(&out, bytes.NewReader(data)); err != nil {
		t.Fatal(err)
	}
	for _, word := range []string{"Jane Doe", "SN12345", "LENS77", "secret", "MAKERNOTE", "Donor", "Exif", "http", "Photoshop"} {
		if !bytes.Contains(data, []byte(word)) && !strings.Contains("http Photoshop", word) {
			t.Errorf("%q is not in the input, the test proves nothing", word)
		}
		if bytes.Contains(out.Bytes(), []byte(word)) {
			t.Errorf("%q left", word)
		}
	}
	a, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	b, err := jpeg.Decode(&out)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a.(*image.YCbCr).Y, b.(*image.YCbCr).Y) || !bytes.Equal(a.(*image.YCbCr).Cr, b.(*image.YCbCr).Cr) {
		t.Error("pixels changed")
	}
	if err := Strip(io.Discard, strings.NewReader("\x89PNG")); !errors.Is(err, ErrFormat) {
		t.Error(err)
	}
	if err := Strip(io.Discard, bytes.NewReader(data[:len(data)/2])); !errors.Is(err, ErrDamaged) {
		t.Error(err)
	}
}

func TestStripKeepsProfile(t *testing.T) {
	icc := adobeRGB()
	data := withICC(jpegOf(t, blocks(2, 2)), icc)
	var out bytes.Buffer
	if err := Strip(&out, bytes.NewReader(data)); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(jpegProfile(out.Bytes()), icc) {
		t.Error("the colour profile is lost")
	}
}

func TestRefusedByName(t *testing.T) {
	j := jpegOf(t, blocks(3, 3))
	frame := bytes.Index(j, []byte{0xff, 0xc0})
	cmyk := bytes.Clone(j)
	cmyk[frame+9] = 4
	deep := bytes.Clone(j)
	deep[frame+4] = 12
	lossless := bytes.Clone(j)
	lossless[frame+1] = 0xc3
	bomb := bytes.Clone(j)
	copy(bomb[frame+5:], []byte{0xff, 0xff, 0xff, 0xff})
	empty := bytes.Clone(j)
	copy(empty[frame+5:], []byte{0, 0, 0, 0})
	big := bytes.Clone(j)
	copy(big[frame+5:], []byte{0x20, 0, 0x20, 0})
	for _, test := range []struct {
		name, data string
		want       error
		words      string
	}{
		{"CMYK", string(cmyk), ErrFormat, "CMYK JPEG"},
		{"12 bits", string(deep), ErrFormat, "12-bit JPEG"},
		{"lossless", string(lossless), ErrFormat, "lossless JPEG"},
		{"HEIC", "\x00\x00\x00\x18ftypheic\x00\x00\x00\x00", ErrFormat, "HEIC; set the camera"},
		{"AVIF", "\x00\x00\x00\x18ftypavif\x00\x00\x00\x00", ErrFormat, "AVIF"},
		{"CR3", "\x00\x00\x00\x18ftypcrx \x00\x00\x00\x00", ErrFormat, "RAW"},
		{"CR2", "II*\x00\x10\x00\x00\x00CR\x02\x00", ErrFormat, "RAW"},
		{"GIF", "GIF89a", ErrFormat, "GIF"},
		{"words", "hello", ErrFormat, "not a JPEG"},
		{"nothing", "", ErrDamaged, "empty"},
		{"no frame", "\xff\xd8\xff\xe0\x00\x04ab", ErrDamaged, "no frame header"},
		{"bomb", string(bomb), ErrTooLarge, "at most"},
		{"claims too much", string(big), ErrTooLarge, "in only"},
		{"no pixels", string(empty), ErrDamaged, "0 x 0"},
	} {
		_, err := Probe(strings.NewReader(test.data))
		if !errors.Is(err, test.want) || !strings.Contains(err.Error(), test.words) {
			t.Errorf("%s: %v", test.name, err)
		}
		if _, err := Open(context.Background(), strings.NewReader(test.data), Limit{}); !errors.Is(err, test.want) {
			t.Errorf("%s: opening: %v", test.name, err)
		}
	}
	for _, test := range []struct {
		limit Limit
		want  error
	}{{Limit{Pixels: 100}, ErrTooLarge}, {Limit{Bytes: 100}, ErrTooLarge}, {Limit{Pixels: 48 * 48}, nil}} {
		if _, err := Open(context.Background(), bytes.NewReader(j), test.limit); !errors.Is(err, test.want) {
			t.Errorf("%+v: %v", test.limit, err)
		}
	}
	if _, err := Open(context.Background(), bytes.NewReader(j[:len(j)/2]), Limit{}); !errors.Is(err, ErrDamaged) {
		t.Errorf("half a file: %v", err)
	}
	cancelled, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Open(cancelled, bytes.NewReader(j), Limit{}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// TestKinds opens what the decoders of the standard library and x/image write in every shape of pixel.
func TestKinds(t *testing.T) {
	src := noise(19, 11, 4)
	grey, deep := image.NewGray(src.Rect), image.NewRGBA64(src.Rect)
	clear := image.NewNRGBA(src.Rect)
	for y := range 11 {
		for x := range 19 {
			c := src.RGBAAt(x, y)
			grey.SetGray(x, y, color.Gray{c.G})
			deep.SetRGBA64(x, y, color.RGBA64{uint16(c.R)<<8 | 7, uint16(c.G)<<8 | 99, uint16(c.B) << 8, 0xffff})
			clear.SetNRGBA(x, y, color.NRGBA{c.R, c.G, c.B, uint8(x * 13)})
		}
	}
	for _, test := range []struct {
		name string
		src  image.Image
		want func(x, y int) color.RGBA
	}{
		{"colour", src, src.RGBAAt},
		{"grey", grey, func(x, y int) color.RGBA { v := grey.GrayAt(x, y).Y; return color.RGBA{v, v, v, 255} }},
		{"16 bits", deep, func(x, y int) color.RGBA { return color.RGBAModel.Convert(deep.At(x, y)).(color.RGBA) }},
		{"see-through", clear, func(x, y int) color.RGBA { // over white
			c := clear.NRGBAAt(x, y)
			over := func(v uint8) uint8 { return uint8((int(v)*int(c.A)+255*(255-int(c.A)))/255 + 0) }
			return color.RGBA{over(c.R), over(c.G), over(c.B), 255}
		}},
	} {
		var p, f bytes.Buffer
		if err := errors.Join(png.Encode(&p, test.src), tiff.Encode(&f, test.src, &tiff.Options{Compression: tiff.Deflate})); err != nil {
			t.Fatal(err)
		}
		for _, data := range [][]byte{p.Bytes(), f.Bytes()} {
			m := open(t, data)
			for y := range 11 {
				for x := range 19 {
					got, want := m.At(geom.Px{X: float64(x), Y: float64(y)}), test.want(x, y)
					for _, d := range [3]int{int(got.R) - int(want.R), int(got.G) - int(want.G), int(got.B) - int(want.B)} {
						if test.name != "see-through" && d != 0 || max(d, -d) > 2 || got.A != 255 {
							t.Fatalf("%s %s at %d,%d: %v, want %v", m.Info().Format, test.name, x, y, got, want)
						}
					}
				}
			}
		}
	}
}

// TestWebP compares with the picture that libwebp makes of the same file (through Pillow 9.4.0). Chroma is enlarged
// in another way, so the mean must agree and samples be far off only beside the sharp edges, a twentieth of the picture.
func TestWebP(t *testing.T) {
	want, err := png.Decode(bytes.NewReader(testFile(t, "small_webp.png")))
	if err != nil {
		t.Fatal(err)
	}
	m := open(t, testFile(t, "small.webp"))
	if m.Size() != want.Bounds().Size() {
		t.Fatal(m.Size())
	}
	var sum [3]float64
	far := 0
	for y := range 32 {
		for x := range 48 {
			a, b := m.At(geom.Px{X: float64(x), Y: float64(y)}), color.RGBAModel.Convert(want.At(x, y)).(color.RGBA)
			for k, d := range [3]int{int(a.R) - int(b.R), int(a.G) - int(b.G), int(a.B) - int(b.B)} {
				sum[k] += float64(d) / (32 * 48)
				if max(d, -d) > 25 {
					far++
				}
			}
		}
	}
	if far > 3*32*48/20 {
		t.Errorf("%d samples far off", far)
	}
	for k, d := range sum {
		if d > 1.5 || d < -1.5 {
			t.Errorf("part %d off by %.2f on average", k, d)
		}
	}
}

func TestInfoStores(t *testing.T) {
	m := open(t, testFile(t, "exif_input.jpg"))
	b, err := json.Marshal(m.Info())
	if err != nil {
		t.Fatal(err)
	}
	var back Info
	if err := json.Unmarshal(b, &back); err != nil || back != m.Info() {
		t.Errorf("%v\n%+v\n%+v", err, back, m.Info())
	}
	// sha256sum of the file
	if got := back.SHA256.String(); !strings.Contains(string(testFile(t, "exif_input.sha256")), got) {
		t.Errorf("SHA-256 %s", got)
	}
	if err := back.SHA256.UnmarshalText([]byte("12")); err == nil {
		t.Error("a short hash passed")
	}
}

func BenchmarkOpen24MP(b *testing.B) {
	data := jpegOf(b, photograph(6000, 4000))
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if _, err := Open(context.Background(), bytes.NewReader(data), Limit{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkProbe24MP(b *testing.B) {
	data := WithEXIF(jpegOf(b, photograph(6000, 4000)), 6, time.Now())
	for b.Loop() {
		if _, err := Probe(bytes.NewReader(data)); err != nil {
			b.Fatal(err)
		}
	}
}
