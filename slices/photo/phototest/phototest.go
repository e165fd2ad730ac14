// Package phototest writes small photographs of every kind, for tests: JPEG of any subsampling, PNG, TIFF and lossless
// WebP, each with an EXIF orientation. It follows the standards alone and shares nothing with the readers it tests.
package phototest

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/png"
	"time"
)

// EXIF is the block that every format carries (Exif 2.32, 4.5): little-endian, an IFD0 with the orientation (1 to 8) and,
// unless taken is zero, an Exif IFD with DateTimeOriginal.
func EXIF(orientation int, taken time.Time) []byte {
	le := binary.LittleEndian
	field := func(b []byte, tag, kind uint16, count, value uint32) []byte {
		b = le.AppendUint16(le.AppendUint16(b, tag), kind)
		return le.AppendUint32(le.AppendUint32(b, count), value)
	}
	b := []byte{'I', 'I', 42, 0, 8, 0, 0, 0}
	if taken.IsZero() {
		b = field(le.AppendUint16(b, 1), 0x0112, 3, 1, uint32(orientation))
		return le.AppendUint32(b, 0)
	}
	b = field(le.AppendUint16(b, 2), 0x0112, 3, 1, uint32(orientation))
	b = le.AppendUint32(field(b, 0x8769, 4, 1, 38), 0)
	b = le.AppendUint32(field(le.AppendUint16(b, 1), 0x9003, 2, 20, 56), 0)
	return append(b, taken.Format("2006:01:02 15:04:05")+"\x00"...)
}

// PNG is m losslessly, with the EXIF block in a chunk eXIf before the pixels; nil leaves it out.
func PNG(m image.Image, exif []byte) []byte {
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		panic(fmt.Sprintf("phototest: %v", err)) // only a picture without pixels
	}
	if exif == nil {
		return b.Bytes()
	}
	return PNGChunk(b.Bytes(), "eXIf", exif)
}

// PNGChunk puts a chunk behind the header of a PNG file.
func PNGChunk(file []byte, name string, body []byte) []byte {
	const header = 8 + 25 // signature and IHDR
	out := bytes.Clone(file[:header])
	out = binary.BigEndian.AppendUint32(out, uint32(len(body)))
	out = append(append(out, name...), body...)
	out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[len(out)-4-len(body):]))
	return append(out, file[header:]...)
}

// TIFF is m as RGB of 8 bits, or of 16, uncompressed, in strips of that many rows, with the orientation in tag 274
// (TIFF 6.0, section 8; 0 leaves it out).
func TIFF(m image.Image, order binary.AppendByteOrder, deep bool, rows, orientation int) []byte {
	w, h := m.Bounds().Dx(), m.Bounds().Dy()
	each, bits := 3, uint16(8)
	if deep {
		each, bits = 6, 16
	}
	out := []byte("II")
	if order == binary.AppendByteOrder(binary.BigEndian) {
		out = []byte("MM")
	}
	out = order.AppendUint16(out, 42)
	out = order.AppendUint32(out, uint32(8+w*h*each+(w*h*each)&1))
	var at, lengths []uint32
	for y := range h {
		if y%rows == 0 {
			at, lengths = append(at, uint32(len(out))), append(lengths, uint32(min(rows, h-y)*w*each))
		}
		for x := range w {
			r, g, b, _ := m.At(m.Bounds().Min.X+x, m.Bounds().Min.Y+y).RGBA()
			for _, v := range [3]uint32{r, g, b} {
				if deep {
					out = order.AppendUint16(out, uint16(v))
				} else {
					out = append(out, byte(v>>8))
				}
			}
		}
	}
	if len(out)&1 == 1 {
		out = append(out, 0)
	}
	type field struct {
		tag, kind uint16
		values    []uint32
	}
	fields := []field{{256, 4, []uint32{uint32(w)}}, {257, 4, []uint32{uint32(h)}}, {258, 3, []uint32{uint32(bits), uint32(bits), uint32(bits)}},
		{259, 3, []uint32{1}}, {262, 3, []uint32{2}}, {273, 4, at}, {274, 3, []uint32{uint32(orientation)}}, {277, 3, []uint32{3}},
		{278, 4, []uint32{uint32(rows)}}, {279, 4, lengths}}
	if orientation == 0 {
		fields = append(fields[:6], fields[7:]...)
	}
	out = order.AppendUint16(out, uint16(len(fields)))
	later := len(out) + 12*len(fields) + 4 // where values stand that do not fit into their field
	var rest []byte
	for _, f := range fields {
		out = order.AppendUint32(order.AppendUint16(order.AppendUint16(out, f.tag), f.kind), uint32(len(f.values)))
		var packed []byte
		for _, v := range f.values {
			if f.kind == 3 {
				packed = order.AppendUint16(packed, uint16(v))
			} else {
				packed = order.AppendUint32(packed, v)
			}
		}
		if len(packed) > 4 {
			out = order.AppendUint32(out, uint32(later+len(rest)))
			rest = append(rest, packed...)
			continue
		}
		out = append(append(out, packed...), make([]byte, 4-len(packed))...)
	}
	return append(order.AppendUint32(out, 0), rest...)
}

// WebP is m losslessly (RFC 9649, 3), opaque, with the EXIF block in a chunk of its own; nil leaves it out. No transform and no
// references back are used: every part of every pixel is a code of eight bits.
func WebP(m image.Image, exif []byte) []byte {
	w, h := m.Bounds().Dx(), m.Bounds().Dy()
	b := bits{}
	b.put(0x2f, 8)
	b.put(uint32(w-1), 14)
	b.put(uint32(h-1), 14)
	b.put(0, 1+3) // no alpha, version 0
	b.put(0, 1+1) // no transform, no colour cache
	b.put(0, 1)   // one set of codes for the whole picture
	b.eightBitCodes(256 + 24)
	b.eightBitCodes(256)
	b.eightBitCodes(256)
	b.put(1, 1) // alpha: a single symbol
	b.put(0, 1)
	b.put(1, 1)
	b.put(255, 8)
	b.put(1, 1) // distances: a single symbol
	b.put(0, 1)
	b.put(0, 1)
	b.put(0, 1)
	for y := range h {
		for x := range w {
			r, g, bl, _ := m.At(m.Bounds().Min.X+x, m.Bounds().Min.Y+y).RGBA()
			for _, v := range [3]uint32{g, r, bl} {
				b.reversed(v>>8, 8)
			}
		}
	}
	chunk := func(out []byte, name string, body []byte) []byte {
		out = binary.LittleEndian.AppendUint32(append(out, name...), uint32(len(body)))
		out = append(out, body...)
		return append(out, make([]byte, len(body)&1)...)
	}
	var body []byte
	if exif != nil {
		const hasEXIF = 8
		body = chunk(body, "VP8X", []byte{hasEXIF, 0, 0, 0, byte(w - 1), byte((w - 1) >> 8), 0, byte(h - 1), byte((h - 1) >> 8), 0})
	}
	body = chunk(body, "VP8L", b.bytes())
	if exif != nil {
		body = chunk(body, "EXIF", exif)
	}
	return chunk(nil, "RIFF", append([]byte("WEBP"), body...))
}

// bits gathers bits, the lowest first.
type bits struct {
	out  []byte
	held uint64
	n    int
}

func (b *bits) put(v uint32, n int) {
	b.held |= uint64(v) << b.n
	for b.n += n; b.n >= 8; b.n -= 8 {
		b.out = append(b.out, byte(b.held))
		b.held >>= 8
	}
}

// reversed puts a prefix code, whose highest bit comes first.
func (b *bits) reversed(v uint32, n int) {
	for i := n - 1; i >= 0; i-- {
		b.put(v>>i&1, 1)
	}
}

func (b *bits) bytes() []byte {
	if b.n > 0 {
		return append(b.out, byte(b.held))
	}
	return b.out
}

// eightBitCodes tells that the first 256 symbols of an alphabet have codes of eight bits and the rest none (RFC 9649,
// 3.7.2.1.2). The lengths themselves are coded with one bit: length 0 as 0, length 8 as 1.
func (b *bits) eightBitCodes(symbols int) {
	b.put(0, 1)
	order := [...]int{17, 18, 0, 1, 2, 3, 4, 5, 16, 6, 7, 8}
	b.put(uint32(len(order)-4), 4)
	for _, length := range order {
		if length == 0 || length == 8 {
			b.put(1, 3)
		} else {
			b.put(0, 3)
		}
	}
	b.put(0, 1) // every symbol's length is written
	for i := range symbols {
		if i < 256 {
			b.put(1, 1)
		} else {
			b.put(0, 1)
		}
	}
}
