package jpegll_test

import (
	"encoding/binary"
	"math/bits"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sectionary/slices/scan/codec"
	"sectionary/slices/scan/codec/internal/frametest"
	"sectionary/slices/scan/codec/jpegll"
)

// params are the choices a lossless encoder has.
type params struct {
	precision, predictor, point int
	lines                       int // in a restart interval, 0 for none
	split                       bool
}

// codeCounts are Huffman code lengths that suit a noisy scan: short codes for
// differences of 3 to 6 bits, every category has one.
var codeCounts = [16]byte{0, 0, 5, 3, 3, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0}
var codeSymbols = []byte{3, 4, 5, 0, 6, 2, 1, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16}

// encode codes samples after T.81 Annex H: the inverse used to check Decode.
func encode(pix []uint16, width, height, samples int, p params) []byte {
	out := []byte{0xFF, 0xD8}
	segment := func(marker byte, body ...byte) {
		out = append(binary.BigEndian.AppendUint16(append(out, 0xFF, marker), uint16(len(body)+2)), body...)
	}
	sof := []byte{byte(p.precision), byte(height >> 8), byte(height), byte(width >> 8), byte(width), byte(samples)}
	for c := range samples {
		sof = append(sof, byte(c+1), 0x11, 0)
	}
	segment(0xC3, sof...)
	segment(0xC4, slices.Concat([]byte{0}, codeCounts[:], codeSymbols)...)
	if p.lines > 0 {
		segment(0xDD, byte(p.lines*width>>8), byte(p.lines*width))
	}
	scans := [][]int{[]int{0, 1, 2}[:samples]}
	if p.split {
		scans = [][]int{{0}, {1}, {2}}[:samples]
	}
	for _, comps := range scans {
		sos := []byte{byte(len(comps))}
		for _, c := range comps {
			sos = append(sos, byte(c+1), 0)
		}
		segment(0xDA, append(sos, byte(p.predictor), 0, byte(p.point))...)
		step := p.lines
		if step == 0 {
			step = height
		}
		for top := 0; top < height; top += step {
			if top > 0 {
				out = append(out, 0xFF, 0xD0+byte((top/step-1)%8))
			}
			w := writer{out: out}
			for y := top; y < min(top+step, height); y++ {
				for x := range width {
					for _, c := range comps {
						w.difference(difference(pix, width, samples, c, x, y, y == top, p))
					}
				}
			}
			out = w.flush()
		}
	}
	return append(out, 0xFF, 0xD9)
}

func difference(pix []uint16, width, samples, c, x, y int, first bool, p params) uint16 {
	at := func(x, y int) int { return int(pix[(y*width+x)*samples+c]) >> p.point }
	var px int
	switch {
	case first && x == 0:
		px = 1 << (p.precision - p.point - 1)
	case first:
		px = at(x-1, y)
	case x == 0:
		px = at(x, y-1)
	default:
		a, b, d := at(x-1, y), at(x, y-1), at(x-1, y-1)
		px = []int{a, b, d, a + b - d, a + (b-d)>>1, b + (a-d)>>1, (a + b) >> 1}[p.predictor-1]
	}
	return uint16(at(x, y) - px)
}

// writer packs bits, most significant first, with stuffed zero bytes.
type writer struct {
	out  []byte
	acc  uint64
	have int
}

func (w *writer) bits(v uint64, n int) {
	w.acc, w.have = w.acc<<n|v, w.have+n
	for ; w.have >= 8; w.have -= 8 {
		b := byte(w.acc >> (w.have - 8))
		if w.out = append(w.out, b); b == 0xFF {
			w.out = append(w.out, 0)
		}
	}
}

func (w *writer) difference(d uint16) {
	v := int(int16(d))
	size := bits.Len(uint(max(v, -v)))
	code, k := 0, 0
	for l, n := range codeCounts {
		for range n {
			if int(codeSymbols[k]) == size {
				w.bits(uint64(code), l+1)
			}
			code, k = code+1, k+1
		}
		code <<= 1
	}
	if size < 16 {
		if v < 0 {
			v += 1<<size - 1
		}
		w.bits(uint64(v), size)
	}
}

func (w *writer) flush() []byte {
	if w.have > 0 {
		w.bits(1<<(8-w.have)-1, 8-w.have)
	}
	return w.out
}

func TestDecodeUndoesEncode(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width, height := rapid.IntRange(1, 30).Draw(t, "width"), rapid.IntRange(1, 20).Draw(t, "height")
		samples := rapid.SampledFrom([]int{1, 3}).Draw(t, "samples")
		p := params{precision: rapid.IntRange(2, 16).Draw(t, "precision"), predictor: rapid.IntRange(1, 7).Draw(t, "predictor"),
			lines: rapid.IntRange(0, 5).Draw(t, "lines"), split: rapid.Bool().Draw(t, "split")}
		p.point = rapid.IntRange(0, p.precision-1).Draw(t, "point")
		pix := make([]uint16, width*height*samples)
		seed := rapid.SliceOfN(rapid.Uint16(), 1, 50).Draw(t, "pix")
		for i := range pix {
			pix[i] = (seed[i%len(seed)] + uint16(i/len(seed))) & (1<<p.precision - 1) >> p.point << p.point
		}
		w := codec.Want{Rows: height, Columns: width, SamplesPerPixel: samples, BitsAllocated: 16, BitsStored: p.precision}
		f, err := jpegll.Decode(encode(pix, width, height, samples, p), w)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(f.Pix, pix) {
			t.Fatalf("samples differ for %+v", p)
		}
	})
}

func BenchmarkDecode512x512x16(b *testing.B) {
	w := codec.Want{Rows: 512, Columns: 512, SamplesPerPixel: 1, BitsAllocated: 16, BitsStored: 12}
	for _, predictor := range []int{1, 6} {
		data := encode(frametest.Phantom(512, 512), 512, 512, 1, params{precision: 12, predictor: predictor})
		b.Run([]string{1: "predictor1", 6: "predictor6"}[predictor], func(b *testing.B) {
			b.SetBytes(512 * 512 * 2)
			for b.Loop() {
				if _, err := jpegll.Decode(data, w); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
