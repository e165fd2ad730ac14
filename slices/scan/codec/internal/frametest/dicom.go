package frametest

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
)

// Frames cuts the encapsulated frames out of a DICOM file in explicit little
// endian, knowing how many there are. It is no more of a reader than the tests
// of the decoders need (PS3.5 7.1.2, 7.5, A.4).
func Frames(file []byte, count int) ([][]byte, error) {
	if len(file) < 132 || string(file[128:132]) != "DICM" {
		return nil, errors.New("no file header")
	}
	d := &elements{data: file, pos: 132}
	for d.pos < len(d.data) {
		tag, vr, length := d.header()
		if tag == 0x7FE00010 && length == undefined {
			return d.fragments(count)
		}
		if d.skip(vr, length); d.bad {
			break
		}
	}
	// One listed file is implicit inside, against its own header.
	if i := bytes.Index(file, []byte("\xE0\x7F\x10\x00\xFF\xFF\xFF\xFF")); i >= 0 {
		d = &elements{data: file, pos: i + 8}
		return d.fragments(count)
	}
	return nil, errors.New("no encapsulated pixel data")
}

const (
	undefined = 0xFFFFFFFF
	item      = 0xFFFEE000
	itemEnd   = 0xFFFEE00D
	listEnd   = 0xFFFEE0DD
)

type elements struct {
	data []byte
	pos  int
	bad  bool
}

func (d *elements) bytes(n int) []byte {
	if n < 0 || d.pos+n > len(d.data) {
		d.bad, d.pos = true, len(d.data)
		return make([]byte, 8)
	}
	d.pos += n
	return d.data[d.pos-n : d.pos]
}

// header reads tag, representation ("" for items) and length.
func (d *elements) header() (tag uint32, vr string, length int) {
	b := d.bytes(4)
	tag = uint32(binary.LittleEndian.Uint16(b))<<16 | uint32(binary.LittleEndian.Uint16(b[2:]))
	if tag>>16 == 0xFFFE {
		return tag, "", int(binary.LittleEndian.Uint32(d.bytes(4)))
	}
	b = d.bytes(4)
	switch vr = string(b[:2]); vr {
	case "OB", "OD", "OF", "OL", "OV", "OW", "SQ", "SV", "UC", "UN", "UR", "UT", "UV":
		return tag, vr, int(binary.LittleEndian.Uint32(d.bytes(4)))
	}
	return tag, vr, int(binary.LittleEndian.Uint16(b[2:]))
}

// skip passes over a value; a sequence or item of undefined length is walked
// to its end mark.
func (d *elements) skip(vr string, length int) {
	if length != undefined {
		d.bytes(length)
		return
	}
	for !d.bad {
		tag, vr, length := d.header()
		if tag == itemEnd || tag == listEnd {
			return
		}
		d.skip(vr, length)
	}
}

// fragments reads the items of pixel data and shares them among the frames:
// one each, or all to a lone frame.
func (d *elements) fragments(count int) ([][]byte, error) {
	var parts [][]byte
	for !d.bad {
		tag, _, length := d.header()
		if tag != item {
			break
		}
		parts = append(parts, d.bytes(length))
	}
	if len(parts) == 0 {
		return nil, errors.New("no fragments")
	}
	parts = parts[1:] // the offset table
	if count == 1 {
		return [][]byte{bytes.Join(parts, nil)}, nil
	}
	if len(parts) == count {
		return parts, nil
	}
	return nil, fmt.Errorf("%d fragments for %d frames", len(parts), count)
}
