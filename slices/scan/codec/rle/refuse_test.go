package rle_test

import (
	"testing"

	"sectionary/slices/scan/codec"
	"sectionary/slices/scan/codec/internal/frametest"
	"sectionary/slices/scan/codec/rle"
)

func TestDecodeRefuses(t *testing.T) {
	c := frametest.Named(t, frametest.Cases(t, "rle"), "mixed_16_1")
	list := append(frametest.WrongSizes(c),
		frametest.Refusal{Name: "segment before the header's end", Data: c.Patch(t, "\x40\x00\x00\x00", "\x3F\x00\x00\x00"), Want: c.Want, Err: codec.ErrCorrupt, Word: "segment 1"},
		frametest.Refusal{Name: "a line too many claimed", Data: c.Data, Want: codec.Want{Rows: 31, Columns: 34, SamplesPerPixel: 1, BitsAllocated: 16, BitsStored: 16}, Err: codec.ErrCorrupt, Word: "early"},
		frametest.Refusal{Name: "a size its bytes cannot hold", Data: c.Data, Want: codec.Want{Rows: 9000, Columns: 9000, SamplesPerPixel: 1, BitsAllocated: 16, BitsStored: 16}, Err: codec.ErrCorrupt, Word: "cut short"},
	)
	frametest.Refuse(t, rle.Decode, list)
}

// Bytes after the last sample are padding when they are zero or stand for less
// than a line.
func TestDecodeTakesPadding(t *testing.T) {
	c := frametest.Named(t, frametest.Cases(t, "rle"), "mixed_16_1")
	c.Data = append(c.Data, make([]byte, 500)...)
	frametest.Check(t, rle.Decode, []frametest.Case{c})
}
