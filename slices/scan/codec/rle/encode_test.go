package rle_test

import (
	"encoding/binary"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sectionary/slices/scan/codec"
	"sectionary/slices/scan/codec/internal/frametest"
	"sectionary/slices/scan/codec/rle"
)

// encode packs samples after PS3.5 Annex G: the inverse used to check Decode.
func encode(samples []uint32, w codec.Want) []byte {
	size := w.BitsAllocated / 8
	out := make([]byte, 64)
	binary.LittleEndian.PutUint32(out, uint32(size*w.SamplesPerPixel))
	for s := range w.SamplesPerPixel {
		for b := range size {
			binary.LittleEndian.PutUint32(out[4+4*(s*size+b):], uint32(len(out)))
			var plane []byte
			for i := s; i < len(samples); i += w.SamplesPerPixel {
				plane = append(plane, byte(samples[i]>>(8*(size-1-b))))
			}
			out = pack(out, plane)
			if len(out)%2 == 1 {
				out = append(out, 0)
			}
		}
	}
	return out
}

func pack(out, plane []byte) []byte {
	for len(plane) > 0 {
		run := 1
		for run < len(plane) && run < 128 && plane[run] == plane[0] {
			run++
		}
		if run > 2 {
			out, plane = append(out, byte(257-run), plane[0]), plane[run:]
			continue
		}
		n := 1
		for n < len(plane) && n < 128 && (n+2 >= len(plane) || plane[n] != plane[n+1] || plane[n] != plane[n+2]) {
			n++
		}
		out, plane = append(append(out, byte(n-1)), plane[:n]...), plane[n:]
	}
	return out
}

func TestDecodeUndoesEncode(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := codec.Want{
			Rows: rapid.IntRange(1, 40).Draw(t, "rows"), Columns: rapid.IntRange(1, 300).Draw(t, "columns"),
			SamplesPerPixel: rapid.SampledFrom([]int{1, 3}).Draw(t, "samples"), BitsAllocated: rapid.SampledFrom([]int{8, 16, 32}).Draw(t, "bits"),
		}
		w.BitsStored = w.BitsAllocated
		n := w.Rows * w.Columns * w.SamplesPerPixel
		values := rapid.SliceOfN(rapid.Uint32(), 1, 4).Draw(t, "values")
		turns := rapid.SliceOfN(rapid.IntRange(1, 200), 1, 20).Draw(t, "turns")
		samples := make([]uint32, 0, n)
		for i := 0; len(samples) < n; i++ {
			for range min(turns[i%len(turns)], n-len(samples)) {
				samples = append(samples, (values[i%len(values)]+uint32(i/3))&(1<<w.BitsAllocated-1))
			}
		}
		f, err := rle.Decode(encode(samples, w), w)
		if err != nil {
			t.Fatal(err)
		}
		got := f.Wide
		for _, v := range f.Pix {
			got = append(got, uint32(v))
		}
		if !slices.Equal(got, samples) {
			t.Fatalf("samples differ for %+v", w)
		}
	})
}

func BenchmarkDecode512x512x16(b *testing.B) {
	w := codec.Want{Rows: 512, Columns: 512, SamplesPerPixel: 1, BitsAllocated: 16, BitsStored: 12}
	var samples []uint32
	for _, v := range frametest.Phantom(512, 512) {
		samples = append(samples, uint32(v))
	}
	data := encode(samples, w)
	b.SetBytes(512 * 512 * 2)
	for b.Loop() {
		if _, err := rle.Decode(data, w); err != nil {
			b.Fatal(err)
		}
	}
}
