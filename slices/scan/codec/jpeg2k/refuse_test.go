package jpeg2k_test

import (
	"encoding/binary"
	"testing"

	"sectionary/slices/scan/codec"
	"sectionary/slices/scan/codec/internal/frametest"
	"sectionary/slices/scan/codec/jpeg2k"
)

func TestDecodeRefuses(t *testing.T) {
	if !jpeg2k.Built {
		t.Skip("this build is without JPEG 2000 (tag openjp2)")
	}
	cases := frametest.Cases(t, "jpeg2k")
	c, rgb := frametest.Named(t, cases, "opj_1_12"), frametest.Named(t, cases, "opj_3_08")
	tiny := c.Patch(t, "\x00\x00\x00\x36\x00\x00\x00\x29\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x36\x00\x00\x00\x29",
		"\x00\x00\xEA\x60\x00\x00\x04\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x01\x00\x00\x00\x01")
	w := c.Want
	w.Columns, w.Rows = 0xEA60, 0x400
	list := append(frametest.WrongSizes(c), []frametest.Refusal{
		{Name: "high throughput", Data: c.Patch(t, "\xFF\x52", "\xFF\x50"), Want: c.Want, Err: codec.ErrUnsupported, Word: "high-throughput"},
		{Name: "subsampled", Data: rgb.Patch(t, "\x07\x01\x01\x07\x01\x01", "\x07\x01\x01\x07\x02\x01"), Want: rgb.Want, Err: codec.ErrUnsupported, Word: "subsampled"},
		{Name: "a tile to each sample", Data: tiny, Want: w, Err: codec.ErrTooLarge, Word: "limit"},
	}...)
	frametest.Refuse(t, jpeg2k.Decode, list)
}

// Some data sets hold a whole file, the code stream in a box (T.800 Annex I).
func TestDecodeFindsStreamInFile(t *testing.T) {
	if !jpeg2k.Built {
		t.Skip("this build is without JPEG 2000 (tag openjp2)")
	}
	c := frametest.Named(t, frametest.Cases(t, "jpeg2k"), "opj_1_12")
	box := func(kind string, body []byte) []byte {
		return append(append(binary.BigEndian.AppendUint32(nil, uint32(8+len(body))), kind...), body...)
	}
	c.Data = append(append(box("jP  ", []byte("\r\n\x87\n")), box("ftyp", []byte("jp2 \x00\x00\x00\x00jp2 "))...), box("jp2c", c.Data)...)
	frametest.Check(t, jpeg2k.Decode, []frametest.Case{c})
}
