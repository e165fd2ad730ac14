// Package jpeg2k decodes JPEG 2000 frames, reversible and irreversible (ITU-T
// T.800), transfer syntaxes 1.2.840.10008.1.2.4.90 and .91.
//
// The decoding itself is done by the OpenJPEG library and is part of a build
// only with cgo and the tag openjp2 (Debian: libopenjp2-7-dev). Built says
// whether it is; without it Decode answers codec.ErrNotBuilt. The header is read
// here, in Go, so that sizes are held against the data set and bounded before
// the library sees the frame.
package jpeg2k

import (
	"bytes"
	"encoding/binary"
	"fmt"

	"sectionary/slices/scan/codec"
)

// Bounds above those of any scanner's frame, below what strains memory: the
// library takes 32 bits per sample and more than a hundred bytes per code
// block and precinct.
const (
	maxSamples = codec.MaxSamples / 4
	maxBlocks  = 1 << 21
	maxTiles   = 4096
)

// Markers of T.800 Table A.2.
const (
	mSOC, mSIZ, mCOD, mCOC = 0xFF4F, 0xFF51, 0xFF52, 0xFF53
	mSOT, mCAP             = 0xFF90, 0xFF50
)

// header is what the main header of a code stream says.
type header struct {
	width, height int
	samples, bits int
	signed        bool
	tileW, tileH  int
	tiles         int
	transformed   bool // components were turned into luma and chroma
}

func corrupt(format string, args ...any) error {
	return fmt.Errorf("jpeg2k: "+format+": %w", append(args, codec.ErrCorrupt)...)
}

func unsupported(format string, args ...any) error {
	return fmt.Errorf("jpeg2k: "+format+": %w", append(args, codec.ErrUnsupported)...)
}

// check finds the code stream in a frame, reads its header and holds it
// against want.
func check(data []byte, want codec.Want) (stream []byte, h header, err error) {
	n, err := want.Samples()
	if err != nil {
		return nil, h, err
	}
	if n > maxSamples {
		return nil, h, fmt.Errorf("jpeg2k: %d samples, the limit is %d: %w", n, maxSamples, codec.ErrTooLarge)
	}
	if stream, err = codestream(data); err != nil {
		return nil, h, err
	}
	if h, err = readHeader(stream); err != nil {
		return nil, h, err
	}
	if err := want.Match(h.width, h.height, h.samples, h.bits); err != nil {
		return nil, h, fmt.Errorf("jpeg2k: %w", err)
	}
	return stream, h, nil
}

// codestream finds the code stream inside a JP2 file (T.800 Annex I), which
// some data sets hold although PS3.5 A.4.4 asks for the bare stream.
func codestream(data []byte) ([]byte, error) {
	if !bytes.HasPrefix(data, []byte("\x00\x00\x00\x0cjP  \r\n\x87\n")) {
		return data, nil
	}
	for b := data; len(b) >= 8; {
		size, head := uint64(binary.BigEndian.Uint32(b)), uint64(8)
		switch {
		case size == 0:
			size = uint64(len(b))
		case size == 1 && len(b) >= 16:
			size, head = binary.BigEndian.Uint64(b[8:]), 16
		}
		if size < head || size > uint64(len(b)) {
			break
		}
		if string(b[4:8]) == "jp2c" {
			return b[head:size], nil
		}
		b = b[size:]
	}
	return nil, corrupt("file wrapper without a code stream")
}

// readHeader reads the main header up to the first tile part (A.4 to A.6).
func readHeader(d []byte) (header, error) {
	var h header
	if len(d) < 4 || binary.BigEndian.Uint16(d) != mSOC || binary.BigEndian.Uint16(d[2:]) != mSIZ {
		return h, corrupt("no code stream header")
	}
	coded := false
	for d = d[2:]; ; {
		if len(d) < 4 {
			return h, corrupt("ends in the header")
		}
		m, n := binary.BigEndian.Uint16(d), int(binary.BigEndian.Uint16(d[2:]))
		if m == mSOT {
			break
		}
		if m < 0xFF00 || n < 2 || len(d) < 2+n {
			return h, corrupt("header segment %#04x runs past the end", m)
		}
		var err error
		switch body := d[4 : 2+n]; m {
		case mSIZ:
			err = h.size(body)
		case mCAP:
			err = unsupported("high-throughput JPEG 2000")
		case mCOD:
			coded = true
			err = h.style(body)
		case mCOC:
			err = h.componentStyle(body)
		}
		if err != nil {
			return h, err
		}
		d = d[2+n:]
	}
	if !coded {
		return h, corrupt("no coding style in the header")
	}
	return h, nil
}

// size reads the image and tile size (A.5.1).
func (h *header) size(b []byte) error {
	if h.samples > 0 || len(b) < 39 {
		return corrupt("size segment")
	}
	v := func(i int) int64 { return int64(binary.BigEndian.Uint32(b[i:])) }
	x1, y1, x0, y0 := v(2), v(6), v(10), v(14)
	tw, th, tx, ty := v(18), v(22), v(26), v(30)
	n := int(binary.BigEndian.Uint16(b[34:]))
	switch {
	case n != 1 && n != 3:
		return unsupported("%d components", n)
	case len(b) != 36+3*n || x1 <= x0 || y1 <= y0 || tw < 1 || th < 1 ||
		tx > x0 || ty > y0 || tx+tw <= x0 || ty+th <= y0:
		return corrupt("size segment")
	case x1-x0 > 65535 || y1-y0 > 65535:
		return fmt.Errorf("jpeg2k: frame of %d x %d: %w", x1-x0, y1-y0, codec.ErrMismatch)
	}
	h.width, h.height, h.samples = int(x1-x0), int(y1-y0), n
	h.bits, h.signed = int(b[36]&0x7F)+1, b[36]&0x80 != 0
	for c := b[36:]; len(c) >= 3; c = c[3:] {
		if c[0] != b[36] {
			return unsupported("components of different depth")
		}
		if c[1] != 1 || c[2] != 1 {
			return unsupported("subsampled components")
		}
	}
	if h.bits > 16 {
		return unsupported("%d-bit samples", h.bits)
	}
	across, down := (x1-tx+tw-1)/tw, (y1-ty+th-1)/th
	if across*down > maxTiles {
		return fmt.Errorf("jpeg2k: %d tiles, the limit is %d: %w", across*down, maxTiles, codec.ErrTooLarge)
	}
	h.tiles = int(across * down)
	h.tileW, h.tileH = int(min(tw, x1-x0)), int(min(th, y1-y0))
	return nil
}

// style reads the default coding style (A.6.1).
func (h *header) style(b []byte) error {
	if h.samples == 0 || len(b) < 10 {
		return corrupt("coding style segment")
	}
	h.transformed = b[4] != 0
	return h.blocks(b[0]&1 != 0, b[5:])
}

// componentStyle reads one component's coding style (A.6.2).
func (h *header) componentStyle(b []byte) error {
	if h.samples == 0 || len(b) < 7 {
		return corrupt("coding style segment")
	}
	return h.blocks(b[1]&1 != 0, b[2:])
}

// blocks bounds the code blocks and precincts a coding style makes.
func (h *header) blocks(precincts bool, b []byte) error {
	levels, cw, ch := int(b[0]), int(b[1])+2, int(b[2])+2
	if levels > 32 || cw > 10 || ch > 10 || cw+ch > 12 {
		return corrupt("code blocks of 2^%d x 2^%d", cw, ch)
	}
	if precincts {
		if len(b) < 5+levels+1 {
			return corrupt("coding style segment")
		}
		for r, p := range b[5 : 5+levels+1] {
			pw, ph := int(p&15), int(p>>4)
			if r > 0 && (pw == 0 || ph == 0) {
				return corrupt("precincts of 2^%d x 2^%d", pw, ph)
			}
			cw, ch = min(cw, max(pw-1, 0)), min(ch, max(ph-1, 0))
		}
	}
	count := (h.tileW>>cw + 2) * (h.tileH>>ch + 2) * h.tiles * h.samples
	if count > maxBlocks {
		return fmt.Errorf("jpeg2k: %d code blocks, the limit is %d: %w", count, maxBlocks, codec.ErrTooLarge)
	}
	return nil
}
