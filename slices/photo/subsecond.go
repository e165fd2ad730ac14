package photo

import (
	"bytes"
	"encoding/binary"
	"io"
	"strings"
	"time"
)

// subSecond is the text of the part of a second that a JPEG's EXIF holds for one of its times: 0 of the shot, 1 of the
// digitising, 2 of the last change (Exif 2.32, tags 9291, 9292, 9290); "" when there is none. The metadata module makes
// a number of it, but its leading noughts count.
func subSecond(r io.ReadSeeker, which int) (text string) {
	if rewind(r) != nil {
		return ""
	}
	head, err := io.ReadAll(io.LimitReader(r, 1<<17)) // EXIF stands first
	if err != nil {
		return ""
	}
	for s := range segments(head) {
		if s.marker == markerAPP1 && bytes.HasPrefix(s.body, exifName) {
			return subSecondIn(s.body[len(exifName):], which)
		}
	}
	return ""
}

func subSecondIn(block []byte, which int) string {
	in := bytes.NewReader(block)
	order, first, err := tiffHeader(in)
	if err != nil {
		return ""
	}
	fields, _, err := readDirectory(in, order, first)
	if err != nil || fields[0x8769].value == 0 {
		return ""
	}
	if fields, _, err = readDirectory(in, order, fields[0x8769].value); err != nil {
		return ""
	}
	f := fields[[3]uint16{0x9291, 0x9292, 0x9290}[which]]
	switch {
	case f.kind != 2 || f.count == 0: // not ASCII
		return ""
	case f.count <= 4: // the text stands in the field itself
		var b [4]byte
		if order == binary.LittleEndian {
			binary.LittleEndian.PutUint32(b[:], f.value)
		} else {
			binary.BigEndian.PutUint32(b[:], f.value)
		}
		return strings.TrimRight(string(b[:f.count]), "\x00 ")
	case uint64(f.value)+uint64(f.count) <= uint64(len(block)):
		return strings.TrimRight(string(block[f.value:f.value+f.count]), "\x00 ")
	}
	return ""
}

// secondPart turns the digits behind the point of a second into a duration, to the nanosecond; 0 for anything but digits.
func secondPart(digits string) (d time.Duration) {
	unit := time.Second / 10
	for _, c := range digits {
		if c < '0' || c > '9' {
			return 0
		}
		d += time.Duration(c-'0') * unit
		unit /= 10
	}
	return d
}
