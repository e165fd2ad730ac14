package scan

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"errors"
	"fmt"
	"io"

	"sectionary/slices/scan/codec"
	"sectionary/slices/scan/codec/jpeg12"
	"sectionary/slices/scan/codec/jpeg2k"
	"sectionary/slices/scan/codec/jpegll"
	"sectionary/slices/scan/codec/jpegls"
	"sectionary/slices/scan/codec/rle"
)

const (
	tagExtendedOffsets tag = 0x7FE00001
	tagExtendedLengths tag = 0x7FE00002
)

// splitFrames gathers the fragments of encapsulated pixel data into frames (PS3.5 A.4): by count where there is one
// fragment a frame, else by the offset tables, else by where code streams begin.
func splitFrames(f *file, l layout) ([][]byte, error) {
	offsets, fragments, starts, err := fragmentsOf(f.pixels.value)
	if err != nil {
		return nil, err
	}
	if len(fragments) == 0 {
		return nil, fmt.Errorf("%w: no picture behind the header", ErrDamaged)
	}
	switch {
	case l.frames == 1:
		return [][]byte{bytes.Join(fragments, nil)}, nil
	case len(fragments) == l.frames:
		return fragments, nil
	case len(fragments) < l.frames:
		return nil, fmt.Errorf("%w: %d of %d pictures are there", ErrDamaged, len(fragments), l.frames)
	}
	if e := f.find(tagExtendedOffsets); e != nil {
		offsets = nil
		for b := e.value; len(b) >= 8; b = b[8:] {
			offsets = append(offsets, f.enc.order().Uint64(b))
		}
	}
	if frames := byOffset(offsets, fragments, starts, l.frames); frames != nil {
		return frames, nil
	}
	if frames := byStart(fragments, l); frames != nil {
		return frames, nil
	}
	return nil, fmt.Errorf("%w: %d fragments cannot be shared among %d pictures", ErrDamaged, len(fragments), l.frames)
}

// fragmentsOf lists the fragments, where each one's item starts behind the offset table, and that table's offsets.
func fragmentsOf(data []byte) (offsets []uint64, fragments [][]byte, starts []uint64, err error) {
	base := 0
	for pos := 0; len(data)-pos >= 8; {
		t := encoding{}.tag(data[pos:])
		if t == tagSequenceEnd {
			break
		}
		if t != tagItem {
			return nil, nil, nil, fmt.Errorf("%w: %v stands where a fragment should", ErrDamaged, t)
		}
		length := uint64(binary.LittleEndian.Uint32(data[pos+4:]))
		body := data[pos+8:]
		part := body[:min(length, uint64(len(body)))] // a last fragment cut short is left to its decoder
		if base == 0 {
			for b := part; len(b) >= 4; b = b[4:] {
				offsets = append(offsets, uint64(binary.LittleEndian.Uint32(b)))
			}
			base = pos + 8 + len(part)
		} else {
			fragments, starts = append(fragments, part), append(starts, uint64(pos-base))
		}
		pos += 8 + len(part)
	}
	return offsets, fragments, starts, nil
}

// byOffset joins fragments as the offset table says, or returns nil when it does not fit them.
func byOffset(offsets []uint64, fragments [][]byte, starts []uint64, frames int) [][]byte {
	if len(offsets) != frames || offsets[0] != 0 {
		return nil
	}
	var list [][]byte
	k := 0
	for n := range offsets {
		from := k
		for k < len(starts) && (n+1 == frames || starts[k] < offsets[n+1]) {
			k++
		}
		if k == from || starts[from] != offsets[n] {
			return nil
		}
		list = append(list, bytes.Join(fragments[from:k], nil))
	}
	return list
}

// byStart joins fragments so that each frame begins with the mark of a code stream, or returns nil.
func byStart(fragments [][]byte, l layout) [][]byte {
	mark := []byte{0xff, 0xd8} // JPEG and JPEG-LS: start of image
	switch l.coding {
	case jpeg2000:
		mark = []byte{0xff, 0x4f}
	case runLength, deflatedFrames:
		return nil
	}
	var list [][]byte
	for _, part := range fragments {
		if bytes.HasPrefix(part, mark) {
			list = append(list, part)
		} else if len(list) == 0 {
			return nil
		} else {
			list[len(list)-1] = append(list[len(list)-1][:len(list[len(list)-1]):len(list[len(list)-1])], part...)
		}
	}
	if len(list) != l.frames {
		return nil
	}
	return list
}

// decode unpacks encapsulated frame n into dst and names the colour space of the result.
func (p *pixels) decode(n int, dst []int32) (space string, err error) {
	want := codec.Want{Rows: p.rows, Columns: p.columns, SamplesPerPixel: p.samples,
		BitsAllocated: p.allocated, BitsStored: p.stored, Signed: p.signed}
	var frame codec.Frame
	switch data := p.packed[n]; p.coding {
	case deflatedFrames:
		return p.photometric, p.inflate(data, dst)
	case runLength:
		frame, err = rle.Decode(data, want)
	case jpegBaseline, jpegExtended:
		frame, err = jpeg12.Decode(data, want)
	case jpegLossless:
		frame, err = jpegll.Decode(data, want)
	case jpegLS:
		frame, err = jpegls.Decode(data, want)
	case jpeg2000:
		frame, err = jpeg2k.Decode(data, want)
	}
	if err != nil {
		return "", p.codecError(err)
	}
	return p.take(frame, dst)
}

// codecError puts a decoder's error among this package's own.
func (p *pixels) codecError(err error) error {
	switch {
	case errors.Is(err, codec.ErrNotBuilt):
		return fmt.Errorf("%w: %s pixel data cannot be opened in this build", ErrUnsupported, p.name)
	case errors.Is(err, codec.ErrUnsupported):
		return fmt.Errorf("%w: %s: %w", ErrUnsupported, p.name, err)
	case errors.Is(err, codec.ErrTooLarge):
		return fmt.Errorf("%w: %s: %w", ErrTooLarge, p.name, err)
	}
	return fmt.Errorf("%w: %s: %w", ErrDamaged, p.name, err)
}

// take copies a decoded frame, extending signs by BitsStored, and names its colour space.
func (p *pixels) take(f codec.Frame, dst []int32) (string, error) {
	if len(f.Pix) != len(dst) && len(f.Wide) != len(dst) {
		return "", fmt.Errorf("%w: %s gave %d values for %d", ErrDamaged, p.name, len(f.Pix)+len(f.Wide), len(dst))
	}
	for i, v := range f.Pix {
		dst[i] = int32(v)
	}
	for i, v := range f.Wide {
		dst[i] = int32(v)
	}
	if f.Signed && !p.signed { // the stream knows better than the header that its values are signed
		for i, v := range dst {
			dst[i] = int32(int16(v))
		}
	} else {
		p.settle(dst, 0)
	}
	switch {
	case f.Colour == codec.RGB:
		return "RGB", nil
	case f.Colour == codec.YCbCr:
		return "YBR_FULL", nil
	case p.coding == jpeg2000 && p.samples == 3: // the component transform is undone by the decoder
		return "RGB", nil
	}
	return p.photometric, nil
}

// inflate unpacks a frame that was deflated by itself (PS3.5 A.4.13).
func (p *pixels) inflate(data []byte, dst []int32) error {
	want := (p.frameBits() + 7) / 8
	plain, err := io.ReadAll(io.LimitReader(flate.NewReader(bytes.NewReader(data)), want+1))
	if int64(len(plain)) < want {
		return fmt.Errorf("%w: deflated picture cut short: %w", ErrDamaged, errors.Join(err))
	}
	one := *p
	one.coding, one.native, one.packed, one.frames = native, plain, nil, 1
	_, err = one.integers(0, dst)
	return err
}
