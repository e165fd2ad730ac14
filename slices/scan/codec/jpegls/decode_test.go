package jpegls_test

import (
	"os"
	"testing"

	"sectionary/slices/scan/codec/internal/frametest"
	"sectionary/slices/scan/codec/jpegls"
)

// Every frame was encoded and decoded by CharLS 2.4.1 (testdata/codec/jpegls.csv).
func TestDecodeEqualsCharLS(t *testing.T) {
	frametest.Check(t, jpegls.Decode, frametest.Cases(t, "jpegls"))
}

// A long check: CODEC_JPEGLS_PACK names a pack made by
// testdata/gen/codec_jpegls.py N BASE.
func TestDecodeEqualsCharLSLong(t *testing.T) {
	base := os.Getenv("CODEC_JPEGLS_PACK")
	if base == "" {
		t.Skip("CODEC_JPEGLS_PACK is not set; make a pack with testdata/gen/codec_jpegls.py 6000 BASE")
	}
	frametest.Check(t, jpegls.Decode, frametest.Pack(t, base))
}

func TestDecodeRealFrames(t *testing.T) {

	frametest.Real(t, jpegls.Decode, "jpegls")
}

func TestDecodeDamaged(t *testing.T) {

	frametest.Damage(t, jpegls.Decode, frametest.Cases(t, "jpegls"), 60)
}

func FuzzDecode(f *testing.F) {
	frametest.Fuzz(f, jpegls.Decode, frametest.Cases(f, "jpegls"))
}

func BenchmarkPack(b *testing.B) {

	frametest.BenchPack(b, jpegls.Decode, "jpegls")
}
