package jpeg12_test

import (
	"testing"

	"sectionary/slices/scan/codec"
	"sectionary/slices/scan/codec/internal/frametest"
	"sectionary/slices/scan/codec/jpeg12"
)

func TestDecodeRefuses(t *testing.T) {
	cases := frametest.Cases(t, "jpeg12")
	c := frametest.Named(t, cases, "grey_12_q75_mixed")
	rgb := frametest.Named(t, cases, "turbo_2x1")
	lossless := frametest.Cases(t, "jpegll")[0]
	list := append(frametest.WrongSizes(c), []frametest.Refusal{
		{Name: "progressive", Data: c.Patch(t, "\xFF\xC1", "\xFF\xC2"), Want: c.Want, Err: codec.ErrUnsupported, Word: "progressive"},
		{Name: "arithmetic", Data: c.Patch(t, "\xFF\xC1", "\xFF\xC9"), Want: c.Want, Err: codec.ErrUnsupported, Word: "arithmetic"},
		{Name: "lossless", Data: lossless.Data, Want: lossless.Want, Err: codec.ErrUnsupported, Word: "lossless"},
		{Name: "12 bits in baseline", Data: c.Patch(t, "\xFF\xC1", "\xFF\xC0"), Want: c.Want, Err: codec.ErrCorrupt, Word: "precision"},
		{Name: "thirds", Data: rgb.Patch(t, "\x01\x21\x00\x02\x11", "\x01\x31\x00\x02\x21"), Want: rgb.Want, Err: codec.ErrUnsupported, Word: "subsampled by 3/2"},
		{Name: "no quantisation table", Data: c.Patch(t, "\xFF\xDB", "\xFF\xE4"), Want: c.Want, Err: codec.ErrCorrupt, Word: "quantisation"},
	}...)
	frametest.Refuse(t, jpeg12.Decode, list)
}
