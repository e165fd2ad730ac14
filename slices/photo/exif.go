package photo

import (
	"encoding/binary"
	"fmt"
	"io"
	"time"

	"github.com/bep/imagemeta"
)

var metaFormats = map[string]imagemeta.ImageFormat{
	"jpeg": imagemeta.JPEG, "png": imagemeta.PNG, "tiff": imagemeta.TIFF, "webp": imagemeta.WebP,
}

// readEXIF returns the orientation (1 when none or nonsense) and the time taken, with the part of a second where the
// camera wrote it. EXIF times carry no zone unless the offset is given; without one they are taken as UTC. Faulty
// metadata never bars a picture.
func readEXIF(r io.ReadSeeker, format string) (orientation int, taken time.Time) {
	orientation = 1
	defer func() { _ = recover() }()
	if rewind(r) != nil {
		return
	}
	var original, digitised, changed, zone string
	err := imagemeta.Decode(imagemeta.Options{
		R: r, ImageFormat: metaFormats[format], Sources: imagemeta.EXIF, LimitNumTags: 2000, LimitTagSize: 1000,
		ShouldHandleTag: func(t imagemeta.TagInfo) bool {
			switch t.Tag {
			case "Orientation":
				return t.Namespace == "IFD0"
			case "DateTimeOriginal", "DateTimeDigitized", "CreateDate", "DateTime", "ModifyDate", "OffsetTimeOriginal":
				return true
			}
			return false
		},
		HandleTag: func(t imagemeta.TagInfo) error {
			text, _ := t.Value.(string)
			switch t.Tag {
			case "Orientation":
				if n := wholeNumber(t.Value); n >= 1 && n <= 8 {
					orientation = n
				}
			case "DateTimeOriginal":
				original = text
			case "DateTimeDigitized", "CreateDate":
				digitised = text
			case "OffsetTimeOriginal":
				zone = text
			default:
				changed = text
			}
			return nil
		},
	})
	_ = err // a picture without readable metadata is still a picture
	for i, text := range []string{original, digitised, changed} {
		if taken = exifTime(text, zone); !taken.IsZero() {
			if format == "jpeg" {
				taken = taken.Add(secondPart(subSecond(r, i)))
			}
			return
		}
	}
	return
}

func wholeNumber(v any) int {
	switch n := v.(type) {
	case uint16:
		return int(n)
	case uint32:
		return int(min(n, 1<<16))
	case uint8:
		return int(n)
	case int:
		return n
	}
	return 0
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
