package jpegls

import (
	"encoding/binary"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sectionary/slices/scan/codec"
	"sectionary/slices/scan/codec/internal/frametest"
)

// encoder codes one grey scan after T.87 Annex A, the inverse used to check the
// decoder with presets CharLS cannot judge. It shares the decoder's contexts;
// CharLS's own frames stand for what both could have wrong.
type encoder struct {
	*model
	out      []byte
	acc      uint64
	have     int // bits in acc still to be written
	stuffing bool
}

func encodeGrey(pix []uint16, width, height, precision, near int, p preset) ([]byte, []uint16) {
	out := []byte{0xFF, 0xD8}
	segment := func(marker byte, body ...byte) {
		out = append(binary.BigEndian.AppendUint16(append(out, 0xFF, marker), uint16(len(body)+2)), body...)
	}
	segment(mSOF55, byte(precision), byte(height>>8), byte(height), byte(width>>8), byte(width), 1, 1, 0x11, 0)
	if p != (preset{}) {
		lse := []byte{1}
		for _, v := range []int{p.maxval, p.t1, p.t2, p.t3, p.reset} {
			lse = binary.BigEndian.AppendUint16(lse, uint16(v))
		}
		segment(mLSE, lse...)
	}
	segment(mSOS, 1, 1, 0, byte(near), 0, 0)
	m, err := newModel(precision, near, p)
	if err != nil {
		panic(err)
	}
	e := encoder{model: m, out: out}
	above, here := make([]int, width+2), make([]int, width+2)
	rebuilt := make([]uint16, 0, len(pix))
	for y := range height {
		above[width+1], here[0] = above[width], above[1]
		for x := 1; x <= width; {
			x = e.sample(above, here, pix[y*width:][:width], x)
		}
		for _, v := range here[1 : width+1] {
			rebuilt = append(rebuilt, uint16(v))
		}
		above, here = here, above
	}
	return append(e.flush(), 0xFF, mEOI), rebuilt
}

// sample codes the sample at x, or the run that begins there, and returns the
// next place.
func (e *encoder) sample(above, here []int, line []uint16, x int) int {
	a, b, c := here[x-1], above[x], above[x-1]
	r := e.region(a, b, c, above[x+1])
	if r != 0 {
		here[x] = e.regularSample(r, a, b, c, int(line[x-1]))
		return x + 1
	}
	n := 0
	for x+n <= len(line) && abs(int(line[x+n-1])-a) <= e.near {
		here[x+n] = a
		n++
	}
	left := n
	for left >= 1<<runBits[e.runIndex[0]] {
		left -= 1 << runBits[e.runIndex[0]]
		e.put(1, 1)
		e.runIndex[0] = min(e.runIndex[0]+1, 31)
	}
	if x+n > len(line) {
		if left > 0 {
			e.put(1, 1)
		}
		return x + n
	}
	e.put(0, 1)
	e.put(left, runBits[e.runIndex[0]])
	x += n
	here[x] = e.interruptionSample(a, above[x], int(line[x-1]))
	e.runIndex[0] = max(e.runIndex[0]-1, 0)
	return x + 1
}

func (e *encoder) regularSample(r, a, b, c, v int) int {
	sign := 1
	if r < 0 {
		sign, r = -1, -r
	}
	ctx := &e.contexts[r]
	p := a + b - c
	if c >= max(a, b) {
		p = min(a, b)
	} else if c <= min(a, b) {
		p = max(a, b)
	}
	p = min(max(p+sign*ctx.c, 0), e.maxval)
	err := e.quantise(sign * (v - p))
	k := 0
	for ctx.n<<k < ctx.a {
		k++
	}
	mapped := 2 * err
	if err < 0 {
		mapped = -2*err - 1
	}
	if e.near == 0 && k == 0 && 2*ctx.b <= -ctx.n {
		mapped ^= 1
	}
	e.golomb(mapped, k, e.limit)
	ctx.update(err, err*e.step, e.reset)
	return e.rebuild(p + sign*err*e.step)
}

func (e *encoder) interruptionSample(a, b, v int) int {
	kind, p, sign := 0, b, 1
	if abs(a-b) <= e.near {
		kind, p = 1, a
	} else if b < a {
		sign = -1
	}
	err := e.quantise(sign * (v - p))
	ctx := &e.runs[kind]
	temp := ctx.a + kind*(ctx.n>>1)
	k := 0
	for ctx.n<<k < temp {
		k++
	}
	flip := 0
	if k == 0 && err > 0 && 2*ctx.negative < ctx.n || err < 0 && (2*ctx.negative >= ctx.n || k != 0) {
		flip = 1
	}
	mapped := 2*abs(err) - kind - flip
	e.golomb(mapped, k, e.limit-runBits[e.runIndex[0]]-1)
	if err < 0 {
		ctx.negative++
	}
	ctx.a += (mapped + 1 - kind) >> 1
	if ctx.n == e.reset {
		ctx.a, ctx.n, ctx.negative = ctx.a>>1, ctx.n>>1, ctx.negative>>1
	}
	ctx.n++
	return e.rebuild(p + sign*err*e.step)
}

// quantise divides an error by the allowed step and brings it into half the
// range (A.4.4, A.4.5).
func (e *encoder) quantise(d int) int {
	if d > 0 {
		d = (d + e.near) / e.step
	} else {
		d = -((e.near - d) / e.step)
	}
	levels := e.span / e.step
	if d < 0 {
		d += levels
	}
	if d >= (levels+1)/2 {
		d -= levels
	}
	return d
}

func (e *encoder) golomb(mapped, k, limit int) {
	zeros := limit - e.qbpp - 1
	if mapped>>k < zeros {
		zeros = mapped >> k
		e.zeros(zeros)
		e.put(1, 1)
		e.put(mapped&(1<<k-1), k)
		return
	}
	e.zeros(zeros)
	e.put(1, 1)
	e.put(mapped-1, e.qbpp)
}

func (e *encoder) zeros(n int) {
	for range n {
		e.put(0, 1)
	}
}

func (e *encoder) put(v, n int) {
	e.acc, e.have = e.acc<<n|uint64(v), e.have+n
	for {
		size := 8
		if e.stuffing {
			size = 7
		}
		if e.have < size {
			return
		}
		b := byte(e.acc>>(e.have-size)) & (1<<size - 1)
		e.have -= size
		e.stuffing = b == 0xFF
		e.out = append(e.out, b)
	}
}

func (e *encoder) flush() []byte {
	for e.have > 0 || e.stuffing {
		e.put(0, 1)
		if e.have == 0 && !e.stuffing {
			break
		}
	}
	return e.out
}

func abs(v int) int { return max(v, -v) }

func TestDecodeUndoesEncode(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width, height := rapid.IntRange(1, 40).Draw(t, "width"), rapid.IntRange(1, 20).Draw(t, "height")
		precision := rapid.IntRange(2, 16).Draw(t, "precision")
		top := 1<<precision - 1
		var p preset
		if rapid.Bool().Draw(t, "preset") {
			p.maxval = rapid.IntRange(1<<(precision-1), top).Draw(t, "maxval")
			p.reset = rapid.IntRange(3, 255).Draw(t, "reset")
			top = p.maxval
		}
		near := rapid.IntRange(0, min(8, top/2)).Draw(t, "near")
		seed := rapid.SliceOfN(rapid.IntRange(0, top), 1, 50).Draw(t, "pix")
		slope := rapid.IntRange(0, 3).Draw(t, "slope")
		pix := make([]uint16, width*height)
		for i := range pix {
			pix[i] = uint16((seed[i/3%len(seed)] + slope*(i/len(seed))) % (top + 1))
		}
		data, rebuilt := encodeGrey(pix, width, height, precision, near, p)
		f, err := Decode(data, codec.Want{Rows: height, Columns: width, SamplesPerPixel: 1, BitsAllocated: 16, BitsStored: precision})
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(f.Pix, rebuilt) {
			t.Fatal("samples differ from what the encoder built")
		}
		for i, v := range f.Pix {
			if abs(int(v)-int(pix[i])) > near {
				t.Fatalf("sample %d is %d for %d, allowed error %d", i, v, pix[i], near)
			}
		}
	})
}

func BenchmarkDecode512x512x16(b *testing.B) {
	pix := frametest.Phantom(512, 512)
	data, _ := encodeGrey(pix, 512, 512, 12, 0, preset{})
	w := codec.Want{Rows: 512, Columns: 512, SamplesPerPixel: 1, BitsAllocated: 16, BitsStored: 12}
	b.SetBytes(512 * 512 * 2)
	b.ReportMetric(float64(8*len(data))/float64(len(pix)), "bits/sample")
	for b.Loop() {
		if _, err := Decode(data, w); err != nil {
			b.Fatal(err)
		}
	}
}
