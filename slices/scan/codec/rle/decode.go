// Package rle decodes run-length coded frames: the PackBits scheme of DICOM
// PS3.5 Annex G, transfer syntax 1.2.840.10008.1.2.5.
package rle

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"slices"
	"sync"

	"sectionary/slices/scan/codec"
)

// headerSize is that of the sixteen 32-bit words before the segments (G.5).
const headerSize = 64

// Decode decodes one whole frame. Each segment holds one byte of one sample of
// every pixel: samples in order, the most significant byte of each first (G.2).
// One bit allocated is taken as eight pixels to the byte, the first lowest.
func Decode(data []byte, want codec.Want) (codec.Frame, error) {
	n, err := want.Samples()
	if err != nil {
		return codec.Frame{}, err
	}
	planeBytes := want.Rows * want.Columns
	perSample := want.BitsAllocated / 8
	line := max(2, min(want.Rows, want.Columns)) // no padding is as long
	if want.BitsAllocated == 1 {
		planeBytes, perSample, line = (planeBytes+7)/8, 1, max(2, line/8)
	}
	segs, err := segments(data, want.SamplesPerPixel*perSample)
	if err != nil {
		return codec.Frame{}, err
	}
	for i, s := range segs {
		// Two bytes stand for at most 128.
		if 64*len(s) < planeBytes {
			return codec.Frame{}, fmt.Errorf("rle: segment %d is cut short: %d bytes cannot hold %d: %w", i+1, len(s), planeBytes, codec.ErrCorrupt)
		}
	}
	f := codec.Frame{Width: want.Columns, Height: want.Rows, Samples: want.SamplesPerPixel, Bits: want.BitsAllocated}
	if perSample == 4 {
		f.Wide = make([]uint32, n)
	} else {
		f.Pix = make([]uint16, n)
	}
	scratch := pool.Get().(*[]byte)
	defer pool.Put(scratch)
	*scratch = slices.Grow((*scratch)[:0], planeBytes*perSample)
	planes := (*scratch)[:planeBytes*perSample]
	for s := range want.SamplesPerPixel {
		for b := range perSample {
			i := s*perSample + b
			over, err := unpack(planes[b*planeBytes:(b+1)*planeBytes], segs[i])
			if err == nil && over >= line {
				err = fmt.Errorf("holds at least a row or column more than %d x %d: %w", want.Columns, want.Rows, codec.ErrMismatch)
			}
			if err != nil {
				return codec.Frame{}, fmt.Errorf("rle: segment %d: %w", i+1, err)
			}
		}
		merge(f, s, want.BitsAllocated, planes)
	}
	return f, nil
}

// pool keeps the byte planes between frames: made anew for each they would cost
// a third of the time.
var pool = sync.Pool{New: func() any { return new([]byte) }}

// segments cuts the frame at the offsets of its header. A header with more
// segments than the data set accounts for, or fewer, is refused.
func segments(data []byte, count int) ([][]byte, error) {
	if len(data) < headerSize {
		return nil, fmt.Errorf("rle: %d bytes, the header alone has %d: %w", len(data), headerSize, codec.ErrCorrupt)
	}
	if got := binary.LittleEndian.Uint32(data); got != uint32(count) {
		return nil, fmt.Errorf("rle: header counts %d segments, the data set needs %d: %w", got, count, codec.ErrMismatch)
	}
	segs := make([][]byte, count)
	for i := range segs {
		from := uint64(binary.LittleEndian.Uint32(data[4+4*i:]))
		to := uint64(len(data))
		if i+1 < count {
			to = uint64(binary.LittleEndian.Uint32(data[8+4*i:]))
		}
		if from < headerSize || from > to || to > uint64(len(data)) {
			return nil, fmt.Errorf("rle: segment %d lies at bytes %d to %d of %d: %w", i+1, from, to, len(data), codec.ErrCorrupt)
		}
		segs[i] = data[from:to]
	}
	return segs, nil
}

// unpack fills dst from one PackBits segment (G.3.1) and counts the bytes the
// segment holds beyond. It has no size of its own, so a data set that says too
// little would else give a skewed picture without a word.
func unpack(dst, src []byte) (over int, err error) {
	for len(dst) > 0 {
		if len(src) < 2 {
			return 0, fmt.Errorf("ends %d bytes early: %w", len(dst), codec.ErrCorrupt)
		}
		switch c := int(src[0]); {
		case c < 128: // c+1 bytes as they are
			n := min(c+1, len(dst))
			if len(src) < 1+n {
				return 0, fmt.Errorf("ends inside a literal run: %w", codec.ErrCorrupt)
			}
			copy(dst[:n], src[1:])
			over = c + 1 - n
			dst, src = dst[n:], src[min(c+2, len(src)):]
		case c > 128: // the next byte 257-c times
			n, v := min(257-c, len(dst)), src[1]
			run := dst[:n]
			for i := range run {
				run[i] = v
			}
			over = 257 - c - n
			dst, src = dst[n:], src[2:]
		default: // 128 stands for nothing
			src = src[1:]
		}
	}
	src = bytes.TrimRight(src, "\x00") // padding
	for len(src) > 1 {
		switch c := int(src[0]); {
		case c < 128:
			over, src = over+c+1, src[min(c+2, len(src)):]
		case c > 128:
			over, src = over+257-c, src[2:]
		default:
			src = src[1:]
		}
	}
	return over, nil
}

// merge writes sample s of every pixel from its byte planes, high byte first.
func merge(f codec.Frame, s, bits int, planes []byte) {
	step := f.Samples
	switch bits {
	case 1:
		for i := range f.Pix {
			f.Pix[i] = uint16(planes[i/8] >> (i % 8) & 1)
		}
	case 8:
		for i, v := range planes {
			f.Pix[s+i*step] = uint16(v)
		}
	case 16:
		n := len(planes) / 2
		hi, lo := planes[:n], planes[n:][:n]
		if step == 1 {
			pix := f.Pix[:n]
			for i, v := range hi {
				pix[i] = uint16(v)<<8 | uint16(lo[i])
			}
			return
		}
		for i, v := range hi {
			f.Pix[s+i*step] = uint16(v)<<8 | uint16(lo[i])
		}
	case 32:
		n := len(planes) / 4
		b3, b2, b1, b0 := planes[:n], planes[n:2*n], planes[2*n:3*n], planes[3*n:]
		for i := range n {
			f.Wide[s+i*step] = uint32(b3[i])<<24 | uint32(b2[i])<<16 | uint32(b1[i])<<8 | uint32(b0[i])
		}
	}
}
