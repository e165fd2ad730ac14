package rle_test

import (
	"testing"

	"sectionary/slices/scan/codec/internal/frametest"
	"sectionary/slices/scan/codec/rle"
)

// The digests are those of outside decoders: testdata/codec/rle.csv names them
// for each frame.
func TestDecodeEqualsOutsideDecoders(t *testing.T) {
	frametest.Check(t, rle.Decode, frametest.Cases(t, "rle"))
}

func TestDecodeRealFrames(t *testing.T) {

	frametest.Real(t, rle.Decode, "rle")
}

func TestDecodeDamaged(t *testing.T) {

	frametest.Damage(t, rle.Decode, frametest.Cases(t, "rle"), 60)
}

func FuzzDecode(f *testing.F) {
	frametest.Fuzz(f, rle.Decode, frametest.Cases(f, "rle"))
}

func BenchmarkPack(b *testing.B) {

	frametest.BenchPack(b, rle.Decode, "rle")
}
