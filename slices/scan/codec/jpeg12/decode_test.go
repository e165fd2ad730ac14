package jpeg12_test

import (
	"testing"

	"sectionary/slices/scan/codec/internal/frametest"
	"sectionary/slices/scan/codec/jpeg12"
)

// The digests are those of outside decoders: testdata/codec/jpeg12.csv names them
// for each frame.
func TestDecodeEqualsOutsideDecoders(t *testing.T) {
	frametest.Check(t, jpeg12.Decode, frametest.Cases(t, "jpeg12"))
}

func TestDecodeRealFrames(t *testing.T) {

	frametest.Real(t, jpeg12.Decode, "jpeg12")
}

func TestDecodeDamaged(t *testing.T) {

	frametest.Damage(t, jpeg12.Decode, frametest.Cases(t, "jpeg12"), 60)
}

func FuzzDecode(f *testing.F) {
	frametest.Fuzz(f, jpeg12.Decode, frametest.Cases(f, "jpeg12"))
}

func BenchmarkPack(b *testing.B) {

	frametest.BenchPack(b, jpeg12.Decode, "jpeg12")
}
