package scan

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"testing"
)

// encapsulate packs frames, each cut into parts, with a basic offset table, an extended one, none or a false one.
func encapsulate(frames [][]byte, parts int, table string) (fragments, offsets, lengths []byte) {
	little := binary.LittleEndian
	item := func(b []byte) []byte {
		return append(little.AppendUint32([]byte{0xfe, 0xff, 0x00, 0xe0}, uint32(len(b))), b...)
	}
	var body, basic []byte
	for _, f := range frames {
		basic = little.AppendUint32(basic, uint32(len(body)))
		offsets = little.AppendUint64(offsets, uint64(len(body)))
		lengths = little.AppendUint64(lengths, uint64(len(f)))
		size := (len(f)/parts + 1) &^ 1
		for len(f) > size {
			body, f = append(body, item(f[:size])...), f[size:]
		}
		body = append(body, item(f)...)
	}
	switch table {
	case "basic":
	case "false":
		basic[4] ^= 0x10
	default:
		basic = nil
	}
	fragments = append(item(basic), body...)
	return append(fragments, 0xfe, 0xff, 0xdd, 0xe0, 0, 0, 0, 0), offsets, lengths
}

// TestFragments: the ten frames of a real JPEG-LS file, cut into one to four fragments each under every kind of offset
// table (PS3.5 A.4, PS3.3 C.7.6.3.1.8), decode to what the file decoded to before.
func TestFragments(t *testing.T) {
	data, err := os.ReadFile(filepath.Join(shared(t, "dicom-syntaxes/pydicom-data"), "emri_small_jpeg_ls_lossless.dcm"))
	if err != nil {
		t.Fatal(err)
	}
	want, p, err := hashOf(data)
	if err != nil {
		t.Fatal(err)
	}
	head := data[:bytes.LastIndex(data, []byte{0xe0, 0x7f, 0x10, 0x00, 'O'})]
	for _, table := range []string{"basic", "extended", "none", "false"} {
		for parts := 1; parts <= 4; parts++ {
			fragments, offsets, lengths := encapsulate(p.packed, parts, table)
			b := &build{body: bytes.Clone(head)}
			if table == "extended" {
				b.element(tagExtendedOffsets, "OV", offsets).element(tagExtendedLengths, "OV", lengths)
			}
			b.body = append(append(b.body, 0xe0, 0x7f, 0x10, 0x00, 'O', 'B', 0, 0, 0xff, 0xff, 0xff, 0xff), fragments...)
			got, _, err := hashOf(b.body)
			if err != nil || got != want {
				t.Errorf("%d parts, %s table: %v", parts, table, err)
			}
		}
	}
}

// TestFragmentRefusals: what cannot be shared out is refused, not guessed.
func TestFragmentRefusals(t *testing.T) {
	frames := [][]byte{{1, 2, 3, 4, 5, 6}, {7, 8, 9, 10}}
	l := layout{frames: 2, coding: runLength}
	for name, c := range map[string]struct {
		parts  int
		table  string
		frames int
	}{"no table": {2, "none", 2}, "false table": {2, "false", 2}, "too few": {1, "basic", 3}} {
		data, _, _ := encapsulate(frames, c.parts, c.table)
		l.frames = c.frames
		got, err := splitFrames(&file{pixels: &element{tag: tagPixels, value: data, open: true}}, l)
		if err == nil {
			t.Errorf("%s: %v", name, got)
		}
	}
	data, _, _ := encapsulate(frames, 2, "basic")
	l.frames = 2
	got, err := splitFrames(&file{pixels: &element{tag: tagPixels, value: data, open: true}}, l)
	if err != nil || fmt.Sprint(got) != fmt.Sprint(frames) {
		t.Errorf("%v, %v", got, err)
	}
}
