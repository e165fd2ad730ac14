package scan

import (
	"fmt"
	"math"

	"sectionary/slices/scan/codec"
	"sectionary/slices/scan/codec/jpeg2k"
)

const (
	tagSamples     tag = 0x00280002
	tagPhotometric tag = 0x00280004
	tagPlanar      tag = 0x00280006
	tagFrames      tag = 0x00280008
	tagRows        tag = 0x00280010
	tagColumns     tag = 0x00280011
	tagAllocated   tag = 0x00280100
	tagStored      tag = 0x00280101
	tagHighBit     tag = 0x00280102
	tagSigned      tag = 0x00280103
)

// layout says how a file's frames are stored (PS3.3 C.7.6.3).
type layout struct {
	rows, columns, frames     int
	samples                   int // per pixel
	allocated, stored, high   int // bits
	signed, planar            bool
	float                     int // bytes of a floating point sample, 0 for whole numbers
	photometric, syntax, name string
	coding                    coding
}

// layoutOf reads the layout from a header and holds it against what this reader can do.
func layoutOf(f *file) (layout, error) {
	if f.pixels == nil {
		if f.truncated {
			return layout{}, fmt.Errorf("%w: the file ends before its picture", ErrDamaged)
		}
		return layout{}, fmt.Errorf("%w: it holds no picture", ErrNotScan)
	}
	l := layout{
		rows: f.integerOr(tagRows, 0), columns: f.integerOr(tagColumns, 0), frames: 1,
		samples: f.integerOr(tagSamples, 1), allocated: f.integerOr(tagAllocated, 16),
		photometric: f.text(tagPhotometric), syntax: f.syntax,
	}
	l.stored = f.integerOr(tagStored, l.allocated)
	l.high = f.integerOr(tagHighBit, l.stored-1)
	l.signed = f.integerOr(tagSigned, 0) == 1
	l.planar = f.integerOr(tagPlanar, 0) == 1
	if n, ok := f.whole(tagFrames); ok && n > 0 {
		l.frames = n
	} else if s := f.text(tagFrames); !ok && s != "" {
		return l, fmt.Errorf("%w: a number of frames that reads %.16q", ErrDamaged, s)
	}
	if l.coding, l.name = codingOf(f.syntax); l.coding == native && f.pixels.open {
		return l, fmt.Errorf("%w: compressed pixel data without a syntax that says how", ErrUnsupported)
	} else if l.coding != native && l.coding != refused && !f.pixels.open {
		l.coding = native // the header's word is wrong: nothing is compressed
	}
	switch f.pixels.tag {
	case tagFloat:
		l.float, l.allocated, l.stored = 4, 32, 32
	case tagDouble:
		l.float, l.allocated, l.stored = 8, 64, 64
	}
	return l, l.check()
}

func (l *layout) check() error {
	switch {
	case l.rows < 1 || l.columns < 1 || l.rows > 65535 || l.columns > 65535:
		return fmt.Errorf("%w: a picture of %d x %d pixels", ErrDamaged, l.columns, l.rows)
	case int64(l.rows)*int64(l.columns)*int64(l.samples) > codec.MaxSamples:
		return fmt.Errorf("%w: one picture of %d x %d pixels", ErrTooLarge, l.columns, l.rows)
	case l.coding == refused:
		return fmt.Errorf("%w: %s cannot be opened", ErrUnsupported, l.name)
	case l.coding == jpeg2000 && !jpeg2k.Built:
		return fmt.Errorf("%w: %s pixel data cannot be opened in this build", ErrUnsupported, l.name)
	case l.samples != 1 && l.samples != 3:
		return fmt.Errorf("%w: %d values per pixel", ErrUnsupported, l.samples)
	case l.float != 0:
		if l.samples != 1 || l.coding != native {
			return fmt.Errorf("%w: floating point colour or compressed floating point", ErrUnsupported)
		}
		return nil
	case l.allocated != 1 && l.allocated != 8 && l.allocated != 16 && l.allocated != 32:
		return fmt.Errorf("%w: %d bits per value", ErrUnsupported, l.allocated)
	case l.stored < 1 || l.stored > l.allocated:
		return fmt.Errorf("%w: %d bits stored in %d", ErrDamaged, l.stored, l.allocated)
	case l.high < l.stored-1 || l.high >= l.allocated:
		l.high = l.stored - 1
	}
	if l.subsampled() && (l.samples != 3 || l.allocated != 8 || l.columns%2 != 0) {
		return fmt.Errorf("%w: half-width colour in %d bits", ErrUnsupported, l.allocated)
	}
	return nil
}

// subsampled reports whether a native frame shares its colour between two pixels (PS3.3 C.7.6.3.1.2).
func (l *layout) subsampled() bool { return l.coding == native && l.photometric == "YBR_FULL_422" }

// count is the number of samples in a frame.
func (l *layout) count() int { return l.rows * l.columns * l.samples }

// frameBits is the size of one native frame in bits.
func (l *layout) frameBits() int64 {
	if l.subsampled() {
		return int64(l.rows) * int64(l.columns) * 16
	}
	return int64(l.count()) * int64(l.allocated)
}

// pixels gives the frames of one file. It is safe for use by several goroutines.
type pixels struct {
	layout
	enc    encoding
	native []byte   // all frames, when not encapsulated
	packed [][]byte // one per frame, when encapsulated
	words  bool     // 8-bit samples stored in big endian words: bytes are swapped in pairs
}

// pixelsOf opens the frames of a file that was parsed whole.
func pixelsOf(f *file) (*pixels, error) {
	l, err := layoutOf(f)
	if err != nil {
		return nil, err
	}
	p := &pixels{layout: l, enc: f.enc}
	if l.coding != native {
		p.packed, err = splitFrames(f, l)
		return p, err
	}
	p.native = f.pixels.value
	p.words = f.enc.big && l.allocated <= 8 && f.pixels.vr == "OW"
	want := (l.frameBits()*int64(l.frames) + 7) / 8
	if have := int64(len(p.native)); have < want {
		return nil, fmt.Errorf("%w: cut short, %d of %d picture bytes are there", ErrDamaged, have, want)
	}
	return p, nil
}

// raw returns the bytes of native frame n, or those around it for 1-bit frames, whose first bit is then skip.
func (p *pixels) raw(n int) (data []byte, skip int) {
	bits := p.frameBits()
	from, to := bits*int64(n), bits*int64(n+1)
	return p.native[from/8 : (to+7)/8], int(from % 8)
}

// integers writes the stored values of frame n into dst, which holds count() values: samples interleaved, bits above
// BitsStored masked off, signs extended. Colour stays in the space it is stored in; space names it.
func (p *pixels) integers(n int, dst []int32) (space string, err error) {
	if p.coding != native {
		return p.decode(n, dst)
	}
	data, skip := p.raw(n)
	if p.words {
		data = swapPairs(p.native, n, p)
	}
	switch {
	case p.allocated == 1:
		for i := range dst {
			bit := skip + i
			dst[i] = int32(data[bit>>3] >> (bit & 7) & 1)
		}
	case p.subsampled():
		for i := 0; i+6 <= len(dst); i += 6 { // Y1 Y2 Cb Cr
			q := data[i/6*4:]
			dst[i], dst[i+1], dst[i+2] = int32(q[0]), int32(q[2]), int32(q[3])
			dst[i+3], dst[i+4], dst[i+5] = int32(q[1]), int32(q[2]), int32(q[3])
		}
		return p.photometric, nil
	case p.allocated == 8:
		for i := range dst {
			dst[i] = int32(data[i])
		}
	case p.allocated == 16:
		for i := range dst {
			dst[i] = int32(p.enc.u16(data[2*i:]))
		}
	default:
		for i := range dst {
			dst[i] = int32(p.enc.u32(data[4*i:]))
		}
	}
	p.settle(dst, p.high-p.stored+1)
	if p.samples == 3 && p.planar {
		interleave(dst)
	}
	return p.photometric, nil
}

// settle drops shift low bits, masks what lies above BitsStored and extends the sign. 32-bit unsigned values keep
// their bits: they are read back as uint32.
func (l *layout) settle(v []int32, shift int) {
	up := 32 - l.stored
	if l.allocated == 32 && l.stored == 32 || l.allocated == l.stored && !l.signed && shift == 0 {
		return
	}
	if l.signed {
		for i, x := range v {
			v[i] = x >> shift << up >> up
		}
		return
	}
	for i, x := range v {
		v[i] = int32(uint32(x) >> shift << up >> up)
	}
}

// interleave turns colour planes into pixels.
func interleave(v []int32) {
	n := len(v) / 3
	planes := append([]int32(nil), v...)
	for i := range n {
		v[3*i], v[3*i+1], v[3*i+2] = planes[i], planes[n+i], planes[2*n+i]
	}
}

// swapPairs returns the bytes of frame n with neighbours exchanged, counted from the start of the pixel data.
func swapPairs(all []byte, n int, p *pixels) []byte {
	bits := p.frameBits()
	from, to := bits*int64(n)/8, (bits*int64(n+1)+7)/8
	out := make([]byte, 0, to-from)
	for i := from; i < to; i++ {
		if j := i ^ 1; j < int64(len(all)) {
			out = append(out, all[j])
		} else {
			out = append(out, all[i])
		}
	}
	return out
}

// floats writes the values of floating point frame n.
func (p *pixels) floats(n int, dst []float64) {
	data, _ := p.raw(n)
	order := p.enc.order()
	for i := range dst {
		if p.float == 4 {
			dst[i] = float64(math.Float32frombits(order.Uint32(data[4*i:])))
		} else {
			dst[i] = math.Float64frombits(order.Uint64(data[8*i:]))
		}
	}
}

// plain16 reports whether frames are 16-bit words that need no more than masking.
func (p *pixels) plain16() bool {
	return p.coding == native && p.allocated == 16 && p.samples == 1 && p.high == p.stored-1
}

// words16 writes the words of a plain16 frame as they stand.
func (p *pixels) words16(n int, dst []int16) {
	data, _ := p.raw(n)
	data = data[:2*len(dst)]
	if littleHost && !p.enc.big {
		copy(bytesOf(dst), data)
		return
	}
	for i := range dst {
		dst[i] = int16(p.enc.u16(data[2*i:]))
	}
}

// settleWords turns words into stored values less offset: bits above BitsStored are masked off and signs extended. Only
// full-range unsigned data has an offset, of 32768, which turns the top bit round.
func (l *layout) settleWords(v []int16, offset int) {
	switch up := 16 - l.stored; {
	case l.signed && up == 0:
	case l.signed:
		for i, x := range v {
			v[i] = x << (up & 15) >> (up & 15)
		}
	default:
		keep, flip := uint16(1<<l.stored-1), uint16(offset)
		four, rest := foursOf(v)
		keep4, flip4 := uint64(keep)*0x0001_0001_0001_0001, uint64(flip)*0x0001_0001_0001_0001
		for i, w := range four { // loading a series waits for this loop
			four[i] = w&keep4 ^ flip4
		}
		for i, x := range rest {
			rest[i] = int16(uint16(x)&keep ^ flip)
		}
	}
}
