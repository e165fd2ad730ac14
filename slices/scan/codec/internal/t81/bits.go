package t81

import (
	"bytes"
	"encoding/binary"
)

// Bits is one entropy-coded interval with its stuffed zero bytes taken out.
// Reading past End yields zero bits; the caller asks Overrun now and then.
type Bits struct {
	Buf []byte // followed by room for a whole 64-bit word
	Pos int    // next bit
	End int    // bits in the interval
}

// Peek returns the next 57 or more bits, left-aligned.
func (b *Bits) Peek() uint64 {
	i := b.Pos >> 3
	if i < 0 || i+8 > len(b.Buf) {
		return 0
	}
	return binary.BigEndian.Uint64(b.Buf[i:i+8]) << (b.Pos & 7)
}

// Overrun tells whether more bits were taken than the interval holds.
func (b *Bits) Overrun() bool { return b.Pos > b.End }

// Interval returns the entropy-coded bytes from here to the next marker (or
// the end of the data). It is valid until the next call.
func (s *Stream) Interval() Bits {
	out := s.clean[:0]
	for s.pos < len(s.data) {
		rest := s.data[s.pos:]
		n := bytes.IndexByte(rest, 0xFF)
		if n < 0 {
			out = append(out, rest...)
			s.pos = len(s.data)
			break
		}
		if n+1 >= len(rest) || rest[n+1] != 0 {
			out = append(out, rest[:n]...)
			s.pos += n
			break
		}
		out = append(out, rest[:n+1]...)
		s.pos += n + 2
	}
	end := 8 * len(out)
	s.clean = append(out, 0, 0, 0, 0, 0, 0, 0, 0)
	return Bits{Buf: s.clean, End: end}
}

// RestartMarker reads the marker that must follow the n-th interval, counted
// from 0 (B.2.1: they count 0 to 7 and round again).
func (s *Stream) RestartMarker(n int) error {
	m, _, err := s.segment()
	if err != nil {
		return err
	}
	if want := byte(mRST0 + n&7); m != want {
		return corrupt("marker %#02x where restart marker %#02x should stand", m, want)
	}
	return nil
}
