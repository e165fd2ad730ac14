package jpegls_test

import (
	"testing"

	"sectionary/slices/scan/codec"
	"sectionary/slices/scan/codec/internal/frametest"
	"sectionary/slices/scan/codec/jpegls"
)

func TestDecodeRefuses(t *testing.T) {
	cases := frametest.Cases(t, "jpegls")
	c, rgb := frametest.Named(t, cases, "grey_12"), frametest.Named(t, cases, "rgb_line_near0_08")
	restart := frametest.Named(t, cases, "restart_1_12_0")
	list := append(frametest.WrongSizes(c), []frametest.Refusal{
		{Name: "mapping table", Data: c.Patch(t, "\xFF\xDA", "\xFF\xF8\x00\x06\x02\x01\x01\x00\xFF\xDA"), Want: c.Want, Err: codec.ErrUnsupported, Word: "mapping table"},
		{Name: "mapping table used", Data: c.Patch(t, "\xFF\xDA\x00\x08\x01\x01\x00", "\xFF\xDA\x00\x08\x01\x01\x01"), Want: c.Want, Err: codec.ErrUnsupported, Word: "mapping table"},
		{Name: "colour transform", Data: rgb.Patch(t, "\xFF\xDA", "\xFF\xE8\x00\x07mrfx\x01\xFF\xDA"), Want: rgb.Want, Err: codec.ErrUnsupported, Word: "colour transform"},
		{Name: "older JPEG", Data: c.Patch(t, "\xFF\xF7", "\xFF\xC3"), Want: c.Want, Err: codec.ErrUnsupported, Word: "older"},
		{Name: "wrong restart marker", Data: restart.Patch(t, "\xFF\xD0", "\xFF\xD3"), Want: restart.Want, Err: codec.ErrCorrupt, Word: "restart"},
		{Name: "thresholds out of order", Data: c.Patch(t, "\xFF\xDA", "\xFF\xF8\x00\x0D\x01\x0F\xFF\x00\x20\x00\x10\x00\x30\x00\x40\xFF\xDA"), Want: c.Want, Err: codec.ErrCorrupt, Word: "thresholds"},
	}...)
	frametest.Refuse(t, jpegls.Decode, list)
}
