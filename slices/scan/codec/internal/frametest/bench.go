package frametest

import (
	"os"
	"testing"
)

// BenchPack times a decoder on its frame of the pack CODEC_BENCH_PACK names,
// made by testdata/gen/codec_bench.py, which prints outside decoders' times for
// the same frame.
func BenchPack(b *testing.B, decode Decoder, name string) {
	base := os.Getenv("CODEC_BENCH_PACK")
	if base == "" {
		b.Skip("CODEC_BENCH_PACK is not set; make a pack with testdata/gen/codec_bench.py BASE")
	}
	c := Named(b, Pack(b, base), name)
	if f, err := decode(c.Data, c.Want); err != nil || Digest(f, c.Want.BitsStored) != c.SHA256 {
		b.Fatalf("frame differs, error %v", err)
	}
	b.SetBytes(int64(2 * c.Want.Rows * c.Want.Columns))
	for b.Loop() {
		if _, err := decode(c.Data, c.Want); err != nil {
			b.Fatal(err)
		}
	}
}
