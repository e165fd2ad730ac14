package jpeg12

import (
	"fmt"

	"sectionary/slices/scan/codec"
	"sectionary/slices/scan/codec/internal/t81"
)

// zigzag gives the place of the k-th coded coefficient in a block of rows
// (T.81 Figure A.6).
var zigzag = func() (z [64]uint8) {
	x, y, up := 0, 0, true
	for k := range z {
		z[k] = uint8(8*y + x)
		switch {
		case up && x == 7:
			y, up = y+1, false
		case up && y == 0:
			x, up = x+1, false
		case !up && y == 7:
			x, up = x+1, true
		case !up && x == 0:
			y, up = y+1, true
		case up:
			x, y = x+1, y-1
		default:
			x, y = x-1, y+1
		}
	}
	return z
}()

// coder is one component of a scan.
type coder struct {
	*plane
	dc, ac *t81.Huffman
	quant  *[64]uint16
	last   int // DC prediction
}

// decodeScan decodes every block of the components of one scan.
func decodeScan(s *t81.Stream, sc *t81.Scan, planes []plane) error {
	// The spectral selection of a sequential scan can only be 0 to 63 (B.2.3);
	// encoders that write another are in use and mean the same.
	var coders []*coder
	for _, c := range sc.Components {
		k := &coder{plane: &planes[c.Index], dc: s.DC[c.DC], ac: s.AC[c.AC], quant: s.Quant[s.Components[c.Index].Quant]}
		switch {
		case k.done:
			return fmt.Errorf("component %d is coded twice: %w", c.Index+1, codec.ErrCorrupt)
		case k.dc == nil || k.ac == nil || k.quant == nil:
			return fmt.Errorf("a Huffman or quantisation table of component %d is missing: %w", c.Index+1, codec.ErrCorrupt)
		}
		k.done = true
		coders = append(coders, k)
	}
	mcusAcross, mcus := mcuGrid(coders)
	d := blockDecoder{shift: 1 << (s.Precision - 1), top: 1<<s.Precision - 1, guard: 2}
	if s.Precision == 12 {
		d.guard = 1
	}
	d.bits = s.Interval()
	for m := range mcus {
		if s.Restart > 0 && m > 0 && m%s.Restart == 0 {
			if err := s.RestartMarker(m/s.Restart - 1); err != nil {
				return err
			}
			d.bits = s.Interval()
			for _, k := range coders {
				k.last = 0
			}
		}
		if err := d.mcu(coders, m%mcusAcross, m/mcusAcross); err != nil {
			return fmt.Errorf("unit %d of %d: %w", m+1, mcus, err)
		}
	}
	return nil
}

// mcuGrid returns the MCUs in a row and in the whole scan. A lone component is
// not interleaved: its MCU is one block, and only blocks that count are coded
// (T.81 A.2.2, A.2.3).
func mcuGrid(coders []*coder) (across, total int) {
	k := coders[0]
	if len(coders) == 1 {
		across = ceil(k.width, 8)
		return across, across * ceil(k.height, 8)
	}
	across = k.stride / (8 * k.h)
	return across, across * (k.lines / (8 * k.v))
}

// blockDecoder decodes blocks of coefficients into samples.
type blockDecoder struct {
	bits       t81.Bits
	shift, top int // level shift and highest sample
	guard      uint
	block      [64]int
}

// mcu decodes the MCU in column x and row y of the scan.
func (d *blockDecoder) mcu(coders []*coder, x, y int) error {
	if len(coders) == 1 {
		return d.decode(coders[0], x, y)
	}
	for _, k := range coders {
		for v := range k.v {
			for h := range k.h {
				if err := d.decode(k, x*k.h+h, y*k.v+v); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// decode decodes the component's block in column bx and row by (F.2.2).
func (d *blockDecoder) decode(k *coder, bx, by int) error {
	clear(d.block[:])
	word := d.bits.Peek()
	size, n := k.dc.Decode(word)
	if n == 0 || size > 15 {
		return errCode
	}
	k.last += additional(word<<n, int(size))
	d.bits.Pos += n + int(size)
	d.block[0] = k.last * int(k.quant[0])
	flat := true
	for i := 1; i < 64; i++ {
		word := d.bits.Peek()
		rs, n := k.ac.Decode(word)
		if n == 0 {
			return errCode
		}
		run, size := int(rs>>4), int(rs&15)
		d.bits.Pos += n + size
		if size == 0 {
			if run < 15 {
				break // end of block
			}
			i += 15
			continue
		}
		i += run
		if i > 63 {
			return fmt.Errorf("run past the end of a block: %w", codec.ErrCorrupt)
		}
		d.block[zigzag[i]] = additional(word<<n, size) * int(k.quant[i])
		flat = false
	}
	if d.bits.Overrun() {
		return fmt.Errorf("coded data end early: %w", codec.ErrCorrupt)
	}
	out := k.pix[8*(by*k.stride+bx):]
	if flat {
		d.fill(out, k.stride)
	} else {
		d.idct(out, k.stride)
	}
	return nil
}

var errCode = fmt.Errorf("undefined Huffman code: %w", codec.ErrCorrupt)

// additional returns the value of the size bits that begin the word (F.2.2.1).
func additional(word uint64, size int) int {
	return t81.Extend(int(word>>1>>(63-size)), size)
}
