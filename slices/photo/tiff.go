package photo

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"strings"
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

// tiffField is one entry of a directory. raw holds its value where that fits into four bytes, else the place of it.
type tiffField struct {
	kind  uint16
	count uint32
	value uint32 // the first value where it fits, else the place
	raw   [4]byte
}

// kinds of values that are read (TIFF 6.0, section 2).
const (
	tiffByte  = 1
	tiffASCII = 2
	tiffShort = 3
)

// longestText is more than any time or fraction needs.
const longestText = 64

// text reads an ASCII value up to its end, "" where it is none.
func (f tiffField) text(r io.ReadSeeker, order binary.ByteOrder) string {
	if f.kind != tiffASCII || f.count == 0 {
		return ""
	}
	b := f.raw[:min(f.count, 4)]
	if f.count > 4 {
		b = make([]byte, min(f.count, longestText))
		if _, err := r.Seek(int64(f.value), io.SeekStart); err != nil {
			return ""
		}
		n, _ := io.ReadFull(r, b)
		b = b[:n]
	}
	s, _, _ := strings.Cut(string(b), "\x00")
	return s
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
	switch string(head[:2]) {
	case "II":
		order = binary.LittleEndian
	case "MM":
		order = binary.BigEndian
	default:
		return nil, 0, errors.New("neither II nor MM at its start")
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
	entries := make([]byte, 12*int(order.Uint16(count[:])))
	if _, err := io.ReadFull(r, entries); err != nil {
		return nil, 0, err
	}
	fields = make(map[uint16]tiffField)
	for e := entries; len(e) > 0; e = e[12:] {
		f := tiffField{kind: order.Uint16(e[2:]), count: order.Uint32(e[4:]), value: order.Uint32(e[8:]), raw: [4]byte(e[8:12])}
		switch f.kind {
		case tiffByte:
			f.value = uint32(e[8])
		case tiffShort:
			f.value = uint32(order.Uint16(e[8:]))
		}
		tag := order.Uint16(e)
		if _, twice := fields[tag]; !twice {
			fields[tag] = f
		}
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

// mostPages bounds how far the chain of pictures is followed, for it may run in a circle.
const mostPages = 1000

// tiffPages counts the pictures of a file, 0 for a single one. Smaller copies of a picture do not count (TIFF 6.0, tag 254).
func tiffPages(r io.ReadSeeker) (pages int) {
	order, at, err := tiffHeader(r)
	seen := map[uint32]bool{}
	for err == nil && at != 0 && !seen[at] && len(seen) < mostPages {
		seen[at] = true
		var fields map[uint16]tiffField
		if fields, at, err = readDirectory(r, order, at); err == nil && fields[tagSubfileType].value&1 == 0 {
			pages++
		}
	}
	if pages == 1 {
		return 0
	}
	return pages
}
