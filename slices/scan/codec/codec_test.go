package codec_test

import (
	"bytes"
	"testing"

	"sectionary/slices/scan/codec"
)

func TestBytesAreLittleEndianWords(t *testing.T) {
	f := codec.Frame{Pix: []uint16{0x0102, 0xFF80}}
	for bits, want := range map[int][]byte{1: {2, 0x80}, 8: {2, 0x80}, 16: {2, 1, 0x80, 0xFF}, 32: {2, 1, 0, 0, 0x80, 0xFF, 0, 0}} {
		if got := f.Bytes(bits); !bytes.Equal(got, want) {
			t.Errorf("%d bits: % x, want % x", bits, got, want)
		}
	}
	if got := (codec.Frame{Wide: []uint32{0x01020304}}).Bytes(32); !bytes.Equal(got, []byte{4, 3, 2, 1}) {
		t.Errorf("wide: % x", got)
	}
}

// The limit is met from either side before any memory is taken.
func TestSamplesLimit(t *testing.T) {
	w := codec.Want{Rows: 11585, Columns: 11585, SamplesPerPixel: 1, BitsAllocated: 16, BitsStored: 16}
	if n, err := w.Samples(); err != nil || n != 11585*11585 {
		t.Errorf("%d, %v", n, err)
	}
	w.Rows = 11586
	if _, err := w.Samples(); err == nil {
		t.Error("a frame above the limit was let through")
	}
}
