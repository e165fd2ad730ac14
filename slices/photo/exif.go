package photo

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"time"
)

// EXIF tags (Exif 2.32, 4.6): in the first directory, and in the one that tagExifIFD points to.
const (
	tagOrientation = 0x0112
	tagDateTime    = 0x0132
	tagExifIFD     = 0x8769
	tagOriginal    = 0x9003
	tagDigitised   = 0x9004
	tagOffset      = 0x9010 // of DateTime; those of the original and of digitising follow
	tagSubSec      = 0x9290 // likewise
)

// largestEXIF bounds an EXIF block; in a JPEG none can be larger than 64 kB.
const largestEXIF = 1 << 20

// readEXIF returns the orientation (1 when none or nonsense) and the time taken, with the part of a second where the
// camera wrote it. EXIF times carry no zone unless the offset is given; without one they are taken as UTC. Faulty
// metadata never bars a picture.
func readEXIF(r io.ReadSeeker, format string) (orientation int, taken time.Time) {
	orientation = 1
	if rewind(r) != nil {
		return
	}
	if format != "tiff" { // a TIFF file is an EXIF block itself
		block := bytes.TrimPrefix(exifBlock(r, format), exifName)
		r = bytes.NewReader(block)
	}
	order, first, err := tiffHeader(r)
	if err != nil {
		return
	}
	fields, _, err := readDirectory(r, order, first)
	if err != nil {
		return
	}
	if f := fields[tagOrientation]; f.kind != tiffASCII && f.count == 1 && f.value >= 1 && f.value <= 8 {
		orientation = int(f.value)
	}
	return orientation, takenOf(r, order, fields)
}

// takenOf is when a picture was taken, else when it was digitised, else when it was last changed; zero where the file tells none.
func takenOf(r io.ReadSeeker, order binary.ByteOrder, fields map[uint16]tiffField) time.Time {
	exif := map[uint16]tiffField{}
	if f, ok := fields[tagExifIFD]; ok {
		exif, _, _ = readDirectory(r, order, f.value)
	}
	text := func(f tiffField) string { return f.text(r, order) }
	for _, t := range []struct {
		at   tiffField
		more uint16 // how far its offset and fraction stand behind those of DateTime
	}{{exif[tagOriginal], 1}, {exif[tagDigitised], 2}, {fields[tagDateTime], 0}} {
		taken := exifTime(text(t.at), text(exif[tagOffset+t.more]))
		if !taken.IsZero() {
			return taken.Add(secondPart(text(exif[tagSubSec+t.more])))
		}
	}
	return time.Time{}
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

func exifTime(text, zone string) time.Time {
	if t, err := time.Parse("2006:01:02 15:04:05-07:00", text+zone); err == nil {
		return t.UTC()
	}
	if t, err := time.Parse("2006:01:02 15:04:05", text); err == nil {
		return t
	}
	return time.Time{}
}

// exifBlock finds the EXIF of a JPEG, PNG or WebP; nil where there is none.
func exifBlock(r io.ReadSeeker, format string) (block []byte) {
	switch format {
	case "jpeg":
		_ = eachSegment(bufio.NewReader(r), func(marker byte, body []byte) bool {
			if marker == markerAPP1 && bytes.HasPrefix(body, exifName) {
				block = bytes.Clone(body)
			}
			return block == nil
		})
	case "png": // PNG, third edition, 11.3.2.2: anywhere between header and end
		block = chunk(r, 8, "eXIf", binary.BigEndian, 4, 1)
	case "webp": // RFC 9649, 2.7.1.5
		block = chunk(r, 12, "EXIF", binary.LittleEndian, 0, 2)
	}
	return block
}

// chunk reads the first chunk of that name among chunks that begin at a place of the file. In PNG the length stands
// before the name (from 4) and a check of 4 bytes follows; in RIFF it stands behind (from 0) and an odd body is padded
// to even.
func chunk(r io.ReadSeeker, at int64, name string, order binary.ByteOrder, nameAt, even int64) []byte {
	const most = 1 << 20 // chunks
	for range most {
		var head [8]byte
		if _, err := r.Seek(at, io.SeekStart); err != nil {
			return nil
		}
		if _, err := io.ReadFull(r, head[:]); err != nil {
			return nil
		}
		n := int64(order.Uint32(head[4-nameAt:]))
		if string(head[nameAt:nameAt+4]) == name {
			body, _ := io.ReadAll(io.LimitReader(r, min(n, largestEXIF)))
			return body
		}
		at += 8 + (n+even-1)/even*even + nameAt // nameAt is also the length of the check
	}
	return nil
}

// WithEXIF returns jpeg with one EXIF segment put in behind its start, holding the orientation (1 to 8) and,
// unless taken is zero, DateTimeOriginal in UTC with its thousandths of a second, if any. What does not begin like a
// JPEG comes back unchanged.
func WithEXIF(jpeg []byte, orientation int, taken time.Time) []byte {
	if len(jpeg) < 2 || jpeg[0] != 0xff || jpeg[1] != markerSOI {
		return jpeg
	}
	body := exifBody(orientation, taken)
	out := make([]byte, 0, len(jpeg)+len(body)+4)
	out = append(out, 0xff, markerSOI, 0xff, markerAPP1)
	out = binary.BigEndian.AppendUint16(out, uint16(len(body)+2))
	out = append(out, body...)
	return append(out, jpeg[2:]...)
}

// exifBody writes a little-endian TIFF structure: IFD0 with the orientation, an EXIF IFD with the time.
func exifBody(orientation int, taken time.Time) []byte {
	le := binary.LittleEndian
	const ifd0 = 8
	entries := uint16(1)
	if !taken.IsZero() {
		entries = 2
	}
	b := append([]byte("Exif\x00\x00II*\x00"), ifd0, 0, 0, 0)
	b = le.AppendUint16(b, entries)
	entry := func(tag, kind uint16, count, value uint32) {
		b = le.AppendUint16(le.AppendUint16(b, tag), kind)
		b = le.AppendUint32(le.AppendUint32(b, count), value)
	}
	const short, ascii, long = 3, 2, 4
	entry(0x0112, short, 1, uint32(orientation))
	if taken.IsZero() {
		return le.AppendUint32(b, 0)
	}
	part := taken.Nanosecond() / 1e6
	more := min(part, 1)
	const exifIFD = ifd0 + 2 + 2*12 + 4
	text := uint32(exifIFD + 2 + 12*(1+more) + 4)
	entry(0x8769, long, 1, exifIFD)
	b = le.AppendUint32(b, 0)
	b = le.AppendUint16(b, uint16(1+more))
	entry(0x9003, ascii, 20, text)
	if more > 0 {
		entry(0x9291, ascii, 4, le.Uint32(fmt.Appendf(nil, "%03d\x00", part))) // four bytes fit in the field itself
	}
	b = le.AppendUint32(b, 0)
	return append(b, fmt.Sprintf("%-19.19s\x00", taken.UTC().Format("2006:01:02 15:04:05"))...)
}
