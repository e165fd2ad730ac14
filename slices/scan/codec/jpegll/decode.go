// Package jpegll decodes lossless JPEG frames: process 14 of ITU-T T.81 (Annex
// H, Huffman coding) with all seven predictors, transfer syntaxes
// 1.2.840.10008.1.2.4.57 and .70.
package jpegll

import (
	"encoding/binary"
	"fmt"

	"sectionary/slices/scan/codec"
	"sectionary/slices/scan/codec/internal/t81"
)

// Decode decodes one whole frame after holding its header against want.
// Samples are bare codes: the process works modulo 65536 and leaves the sign
// to the data set.
func Decode(data []byte, want codec.Want) (codec.Frame, error) {
	f, err := decode(data, want)
	if err != nil {
		return codec.Frame{}, fmt.Errorf("jpegll: %w", err)
	}
	return f, nil
}

func decode(data []byte, want codec.Want) (codec.Frame, error) {
	n, err := want.Samples()
	if err != nil {
		return codec.Frame{}, err
	}
	s, err := t81.Open(data)
	if err != nil {
		return codec.Frame{}, err
	}
	if s.Process != t81.Lossless {
		return codec.Frame{}, fmt.Errorf("frame is coded with the cosine transform, not lossless: %w", codec.ErrUnsupported)
	}
	if s.Precision < 2 || s.Precision > 16 {
		return codec.Frame{}, fmt.Errorf("precision of %d bits: %w", s.Precision, codec.ErrCorrupt)
	}
	if err := want.Match(s.Width, s.Height, len(s.Components), s.Precision); err != nil {
		return codec.Frame{}, err
	}
	if n/8 > len(data) { // every sample takes a bit at least
		return codec.Frame{}, fmt.Errorf("%d bytes cannot hold %d samples: %w", len(data), n, codec.ErrCorrupt)
	}
	f := codec.Frame{
		Width: s.Width, Height: s.Height, Samples: len(s.Components), Bits: s.Precision,
		Colour: s.Colour(), Pix: make([]uint16, n),
	}
	var seen [3]bool
	for done := 0; done < f.Samples; {
		sc, err := s.NextScan()
		if err != nil {
			return codec.Frame{}, err
		}
		if sc == nil {
			return codec.Frame{}, fmt.Errorf("ends with %d of %d components: %w", done, f.Samples, codec.ErrCorrupt)
		}
		for _, c := range sc.Components {
			if seen[c.Index] {
				return codec.Frame{}, fmt.Errorf("component %d is coded twice: %w", c.Index+1, codec.ErrCorrupt)
			}
			seen[c.Index] = true
		}
		if err := decodeScan(s, sc, f); err != nil {
			return codec.Frame{}, err
		}
		done += len(sc.Components)
	}
	return f, nil
}

// decodeScan decodes all lines of the components of one scan into f.
func decodeScan(s *t81.Stream, sc *t81.Scan, f codec.Frame) error {
	pt := sc.Low
	if sc.Start < 1 || sc.Start > 7 || pt >= s.Precision {
		return fmt.Errorf("predictor %d with point transform %d: %w", sc.Start, pt, codec.ErrCorrupt)
	}
	tables := make([]*diffTable, len(sc.Components))
	for i, c := range sc.Components {
		if k := s.Components[c.Index]; len(sc.Components) > 1 && (k.H != 1 || k.V != 1) {
			return fmt.Errorf("subsampled components: %w", codec.ErrUnsupported)
		}
		if s.DC[c.DC] == nil {
			return fmt.Errorf("Huffman table %d is missing: %w", c.DC, codec.ErrCorrupt)
		}
		tables[i] = newDiffTable(s.DC[c.DC])
	}
	lines := f.Height // lines in one restart interval
	if s.Restart > 0 {
		if s.Restart%f.Width != 0 { // H.1.1: whole lines only
			return fmt.Errorf("restart interval of %d in lines of %d: %w", s.Restart, f.Width, codec.ErrCorrupt)
		}
		lines = s.Restart / f.Width
	}
	stride := f.Width * f.Samples
	for y := 0; y < f.Height; y += lines {
		if y > 0 {
			if err := s.RestartMarker(y/lines - 1); err != nil {
				return err
			}
		}
		bits := s.Interval()
		for r := y; r < min(y+lines, f.Height); r++ {
			row := f.Pix[r*stride:][:stride]
			if err := readDiffs(&bits, row, f.Samples, sc.Components, tables); err != nil {
				return fmt.Errorf("line %d: %w", r+1, err)
			}
			for _, c := range sc.Components {
				if r == y {
					firstLine(row[c.Index:], f.Samples, 1<<(s.Precision-pt-1))
				} else {
					predict(row[c.Index:], f.Pix[(r-1)*stride+c.Index:r*stride], f.Samples, sc.Start)
				}
			}
		}
	}
	if pt > 0 {
		for _, c := range sc.Components {
			for i := c.Index; i < len(f.Pix); i += f.Samples {
				f.Pix[i] <<= pt
			}
		}
	}
	return nil
}

// readDiffs reads one line of differences, modulo 65536, into their places.
func readDiffs(bits *t81.Bits, row []uint16, step int, comps []t81.ScanComponent, tables []*diffTable) error {
	ok := true
	if len(comps) == 1 {
		ok = tables[0].readLine(bits, row[comps[0].Index:], step)
	} else {
		for x := 0; x < len(row); x += step {
			for i, c := range comps {
				d, n := tables[i].next(bits.Peek())
				row[x+c.Index] = d
				bits.Pos += n
				ok = ok && n > 0
			}
		}
	}
	if !ok {
		return fmt.Errorf("undefined Huffman code: %w", codec.ErrCorrupt)
	}
	if bits.Overrun() {
		return fmt.Errorf("coded data end early: %w", codec.ErrCorrupt)
	}
	return nil
}

// lookBits is the length of the code and additional bits found in one look.
const lookBits = 12

// diffTable finds whole differences, code and additional bits together.
type diffTable struct {
	look [1 << lookBits]uint32 // difference<<16 | bits taken, 0 for longer ones
	huff *t81.Huffman
}

func newDiffTable(h *t81.Huffman) *diffTable {
	t := &diffTable{huff: h}
	for i := range t.look {
		if d, n := t.slow(uint64(i) << (64 - lookBits)); n > 0 && n <= lookBits {
			t.look[i] = uint32(d)<<16 | uint32(n)
		}
	}
	return t
}

// next returns the difference that begins the left-aligned word, modulo 65536,
// and the bits it takes, 0 for none.
func (t *diffTable) next(word uint64) (diff uint16, n int) {
	if e := t.look[word>>(64-lookBits)]; e != 0 {
		return uint16(e >> 16), int(e & 0xFF)
	}
	return t.slow(word)
}

// slow is next by way of the Huffman table (H.1.2.2, Table H.2): category 16
// stands for 32768 and has no additional bits.
func (t *diffTable) slow(word uint64) (diff uint16, n int) {
	size, n := t.huff.Decode(word)
	switch {
	case n == 0 || size > 16:
		return 0, 0
	case size == 16:
		return 1 << 15, n
	}
	v := int(word << n >> 1 >> (63 - size))
	return uint16(t81.Extend(v, int(size))), n + int(size)
}

// readLine reads one component's line of differences; false means an
// undefined code. It is next in a loop, with the position held in a register.
func (t *diffTable) readLine(bits *t81.Bits, row []uint16, step int) bool {
	buf, pos := bits.Buf, bits.Pos
	for x := 0; x < len(row); x += step {
		var word uint64
		if i := pos >> 3; i >= 0 && i+8 <= len(buf) {
			word = binary.BigEndian.Uint64(buf[i:i+8]) << (pos & 7)
		}
		e := t.look[word>>(64-lookBits)]
		if e != 0 {
			row[x] = uint16(e >> 16)
			pos += int(e & 0xFF)
			continue
		}
		d, n := t.slow(word)
		if n == 0 {
			return false
		}
		row[x] = d
		pos += n
	}
	bits.Pos = pos
	return true
}
