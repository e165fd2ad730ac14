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

// readIFD reads the fields of the first directory and rewinds.
func readIFD(r io.ReadSeeker) (map[uint16]tiffField, error) {
	if err := rewind(r); err != nil {
		return nil, err
	}
	var head [8]byte
	if _, err := io.ReadFull(r, head[:]); err != nil {
		return nil, err
	}
	var order binary.ByteOrder = binary.LittleEndian
	if head[0] == 'M' {
		order = binary.BigEndian
	}
	if _, err := r.Seek(int64(order.Uint32(head[4:])), io.SeekStart); err != nil {
		return nil, err
	}
	var count [2]byte
	if _, err := io.ReadFull(r, count[:]); err != nil {
		return nil, err
	}
	fields := make(map[uint16]tiffField)
	for range order.Uint16(count[:]) {
		var e [12]byte
		if _, err := io.ReadFull(r, e[:]); err != nil {
			return nil, err
		}
		f := tiffField{kind: order.Uint16(e[2:]), count: order.Uint32(e[4:]), value: order.Uint32(e[8:])}
		if f.kind == 3 { // SHORT
			f.value = uint32(order.Uint16(e[8:]))
		}
		fields[order.Uint16(e[:])] = f
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
