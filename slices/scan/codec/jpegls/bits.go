package jpegls

import (
	"bytes"
	"encoding/binary"
	"math/bits"
)

// bitReader reads one interval whose stuffed bits are out. Past the end it
// yields zero bits; the caller compares pos and end after each line.
type bitReader struct {
	buf []byte // followed by room for a whole 64-bit word
	pos int    // next bit
	end int    // bits in the interval
	bad bool   // a code that cannot be was met
}

// peek returns the next 57 or more bits, left-aligned.
func (b *bitReader) peek() uint64 {
	i := b.pos >> 3
	if i < 0 || i+8 > len(b.buf) {
		return 0
	}
	return binary.BigEndian.Uint64(b.buf[i:i+8]) << (b.pos & 7)
}

// take returns the next n bits, n at most 57.
func (b *bitReader) take(n int) int {
	v := b.peek() >> 1 >> (63 - n)
	b.pos += n
	return int(v)
}

// golomb reads one limited-length Golomb code with parameter k (T.87 A.5.3):
// up to limit-1 zeros, a one and k bits; or limit zeros, a one and the value
// less one in escape bits.
func (b *bitReader) golomb(k, limit, escape int) (v int) {
	word := b.peek()
	zeros := bits.LeadingZeros64(word)
	switch {
	case zeros < limit && zeros+k < 57:
		b.pos += zeros + 1 + k
		v = zeros<<k | int(word<<zeros<<1>>1>>(63-k))
	case zeros < limit:
		b.pos += zeros + 1
		v = zeros<<k | b.take(k)
	default:
		b.pos += limit + 1
		v = b.take(escape) + 1
		b.bad = b.bad || zeros > limit
	}
	if v > maxMapped {
		b.bad = true
		return 0
	}
	return v
}

// maxMapped is above every mapped error of 16-bit samples. With it no damaged
// code can drive a context out of range.
const maxMapped = 1 << 18

// interval returns the coded bits from here to the next marker or the end of
// the data, valid until the next call. After a byte 0xFF the encoder puts one
// zero bit, so that no marker can arise (T.87 A.1); it is taken out here and
// the bits are closed up.
func (s *stream) interval() bitReader {
	src := s.data[s.pos:]
	n := 0 // bytes up to the marker
	for {
		i := bytes.IndexByte(src[n:], 0xFF)
		if i < 0 {
			n = len(src)
			break
		}
		n += i
		if n+1 >= len(src) || src[n+1] >= 0x80 {
			break
		}
		n += 2
	}
	src, s.pos = src[:n], s.pos+n
	if len(s.clean) < n+16 {
		s.clean = make([]byte, n+16)
	}
	out, k := s.clean, 0
	var acc uint64 // its low have bits, at most 7 between turns, are to be written
	have := 0
	for len(src) > 0 {
		if len(src) >= 4 {
			w := binary.BigEndian.Uint32(src)
			if (^w-0x01010101)&w&0x80808080 == 0 { // no byte is 0xFF
				acc = acc<<32 | uint64(w)
				binary.BigEndian.PutUint32(out[k:], uint32(acc>>have))
				k, src = k+4, src[4:]
				continue
			}
		}
		acc, have = acc<<8|uint64(src[0]), have+8
		if src[0] == 0xFF && len(src) > 1 {
			acc, have = acc<<7|uint64(src[1]), have+7
			src = src[1:]
		}
		src = src[1:]
		for ; have >= 8; have -= 8 {
			out[k] = byte(acc >> (have - 8))
			k++
		}
	}
	end := 8*k + have
	clear(out[k : k+16])
	out[k] = byte(acc << (8 - have))
	return bitReader{buf: out[:k+9], end: end}
}
