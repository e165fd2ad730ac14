package photo

import (
	"bytes"
	"testing"
	"time"
)

// The digits behind the point of a second are a fraction, not a number: "050" is a twentieth, not a half (Exif 2.32, tag
// 9291 SubSecTimeOriginal).
func TestSubSeconds(t *testing.T) {
	var big bytes.Buffer
	if err := EncodeJPEG(&big, quarters(32, 24), 90); err != nil {
		t.Fatal(err)
	}
	for _, ms := range []int{0, 1, 50, 500, 999} {
		at := time.Date(2026, 3, 4, 15, 16, 17, ms*1e6, time.UTC)
		info, err := Probe(bytes.NewReader(WithEXIF(big.Bytes(), 1, at)))
		if err != nil || !info.Taken.Equal(at) {
			t.Errorf("%d ms: %v %v", ms, info.Taken, err)
		}
	}
	for text, want := range map[string]time.Duration{"": 0, "5": 500 * time.Millisecond, "05": 50 * time.Millisecond, "x": 0, "123456789123": 123456789} {
		if got := secondPart(text); got != want {
			t.Errorf("%q: %v, want %v", text, got, want)
		}
	}
	// Big-endian, longer than the field: as TIFF 6.0 (p. 15) lays values of more than four bytes elsewhere.
	block := []byte("MM\x00*\x00\x00\x00\x08" + "\x00\x01\x87\x69\x00\x04\x00\x00\x00\x01\x00\x00\x00\x1a\x00\x00\x00\x00" +
		"\x00\x02\x90\x03\x00\x02\x00\x00\x00\x14\x00\x00\x00\x3f" + "\x92\x91\x00\x02\x00\x00\x00\x07\x00\x00\x00\x38\x00\x00\x00\x00" +
		"001234\x00" + "2026:03:04 15:16:17\x00")
	want := time.Date(2026, 3, 4, 15, 16, 17, 1234000, time.UTC)
	if _, got := readEXIF(bytes.NewReader(block), "tiff"); !got.Equal(want) {
		t.Errorf("big-endian: %v, want %v", got, want)
	}
	for n := range block {
		readEXIF(bytes.NewReader(block[:n]), "tiff") // cut anywhere: no panic
	}
}
