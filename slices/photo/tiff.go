package photo

import (
	"encoding/binary"
	"fmt"
	"io"
)

// TIFF 6.0 tags that decide whether the decoder can read a file.
const (
	tagSubfileType  = 254
	tagCompression  = 259
	tagPhotometric  = 262
	tagPlanar       = 284
	tagSampleFormat = 339
	tagICC          = 34675
	tagDNGVersion   = 50706
)

type tiffField struct {
	kind  uint16
	count uint32
	value uint32 // first value when it fits, else the offset
}

// tiffHeader reads the byte order and the place of the first directory.
func tiffHeader(r io.ReadSeeker) (order binary.ByteOrder, first uint32, err error) {
	if err := rewind(r); err != nil {
		return nil, 0, err
	}
	var head [8]byte
	if _, err := io.ReadFull(r, head[:]); err != nil {
		return nil, 0, err
	}
	order = binary.LittleEndian
	if head[0] == 'M' {
		order = binary.BigEndian
	}
	return order, order.Uint32(head[4:]), nil
}

// readDirectory reads the fields of the directory at that place, and where the next one stands (0: nowhere).
func readDirectory(r io.ReadSeeker, order binary.ByteOrder, at uint32) (fields map[uint16]tiffField, next uint32, err error) {
	if _, err := r.Seek(int64(at), io.SeekStart); err != nil {
		return nil, 0, err
	}
	var count [2]byte
	if _, err := io.ReadFull(r, count[:]); err != nil {
		return nil, 0, err
	}
	fields = make(map[uint16]tiffField)
	for range order.Uint16(count[:]) {
		var e [12]byte
		if _, err := io.ReadFull(r, e[:]); err != nil {
			return nil, 0, err
		}
		f := tiffField{kind: order.Uint16(e[2:]), count: order.Uint32(e[4:]), value: order.Uint32(e[8:])}
		if f.kind == 3 { // SHORT
			f.value = uint32(order.Uint16(e[8:]))
		}
		fields[order.Uint16(e[:])] = f
	}
	var last [4]byte
	if _, err := io.ReadFull(r, last[:]); err == nil { // where it is missing, no directory follows
		next = order.Uint32(last[:])
	}
	return fields, next, nil
}

// readIFD reads the fields of the first directory and rewinds.
func readIFD(r io.ReadSeeker) (map[uint16]tiffField, error) {
	order, first, err := tiffHeader(r)
	if err != nil {
		return nil, err
	}
	fields, _, err := readDirectory(r, order, first)
	if err != nil {
		return nil, err
	}
	return fields, rewind(r)
}

// checkTIFF refuses by name what the decoder would misread.
func checkTIFF(r io.ReadSeeker) error {
	f, err := readIFD(r)
	if err != nil {
		return fmt.Errorf("%w: tiff directory: %w", ErrDamaged, err)
	}
	_, dng := f[tagDNGVersion]
	const again = "save it as 8- or 16-bit RGB TIFF or as JPEG"
	switch {
	case dng || f[tagSubfileType].value&1 != 0:
		return refuse("camera RAW", hintRaw)
	case f[tagPhotometric].value == 5:
		return refuse("CMYK TIFF", again)
	case f[tagPhotometric].value > 5:
		return refuse(fmt.Sprintf("TIFF of colour kind %d", f[tagPhotometric].value), again)
	case f[tagCompression].value == 6 || f[tagCompression].value == 7:
		return refuse("JPEG inside TIFF", again)
	case f[tagPlanar].value == 2:
		return refuse("TIFF with separate colour planes", again)
	case f[tagSampleFormat].kind == 3 && f[tagSampleFormat].count == 1 && f[tagSampleFormat].value == 3:
		return refuse("TIFF of floating-point numbers", again)
	}
	return nil
}
