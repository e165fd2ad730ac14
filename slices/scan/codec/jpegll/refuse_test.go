package jpegll_test

import (
	"testing"

	"sectionary/slices/scan/codec"
	"sectionary/slices/scan/codec/internal/frametest"
	"sectionary/slices/scan/codec/jpegll"
)

func TestDecodeRefuses(t *testing.T) {
	cases := frametest.Cases(t, "jpegll")
	c, rgb := frametest.Named(t, cases, "grey_12_sv1"), frametest.Named(t, cases, "own_restart_rgb")
	cosine := frametest.Cases(t, "jpeg12")[0]
	shallow := c.Want
	shallow.BitsAllocated, shallow.BitsStored = 8, 8
	list := append(frametest.WrongSizes(c), []frametest.Refusal{
		{Name: "arithmetic", Data: c.Patch(t, "\xFF\xC3", "\xFF\xCB"), Want: c.Want, Err: codec.ErrUnsupported, Word: "arithmetic"},
		{Name: "cosine transform", Data: cosine.Data, Want: cosine.Want, Err: codec.ErrUnsupported, Word: "cosine"},
		{Name: "deeper than allocated", Data: c.Data, Want: shallow, Err: codec.ErrMismatch, Word: "allocates 8"},
		{Name: "subsampled", Data: rgb.Patch(t, "\x01\x11\x00", "\x01\x22\x00"), Want: rgb.Want, Err: codec.ErrUnsupported, Word: "subsampled"},
		{Name: "wrong restart marker", Data: rgb.Patch(t, "\xFF\xD1", "\xFF\xD2"), Want: rgb.Want, Err: codec.ErrCorrupt, Word: "restart"},
		{Name: "no Huffman table", Data: rgb.Patch(t, "\xFF\xC4", "\xFF\xE4"), Want: rgb.Want, Err: codec.ErrCorrupt, Word: "Huffman"},
	}...)
	frametest.Refuse(t, jpegll.Decode, list)
}
