package jpegll_test

import (
	"testing"

	"sectionary/slices/scan/codec/internal/frametest"
	"sectionary/slices/scan/codec/jpegll"
)

// The digests are those of outside decoders: testdata/codec/jpegll.csv names them
// for each frame.
func TestDecodeEqualsOutsideDecoders(t *testing.T) {
	frametest.Check(t, jpegll.Decode, frametest.Cases(t, "jpegll"))
}

func TestDecodeRealFrames(t *testing.T) {

	frametest.Real(t, jpegll.Decode, "jpegll")
}

func TestDecodeDamaged(t *testing.T) {

	frametest.Damage(t, jpegll.Decode, frametest.Cases(t, "jpegll"), 60)
}

func FuzzDecode(f *testing.F) {
	frametest.Fuzz(f, jpegll.Decode, frametest.Cases(f, "jpegll"))
}

func BenchmarkPack(b *testing.B) {

	frametest.BenchPack(b, jpegll.Decode, "jpegll")
}
