package photo

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"

	"golang.org/x/image/tiff"
	"golang.org/x/image/webp"
)

// Probe reads the header of a photograph and nothing of its pixels. It leaves r at its start. Kinds that
// cannot be opened are refused by name with ErrFormat, claims beyond DefaultPixels with ErrTooLarge.
func Probe(r io.ReadSeeker) (Info, error) {
	return probe(r, Limit{})
}

func probe(r io.ReadSeeker, limit Limit) (info Info, err error) {
	defer guard(&err)
	if info.Bytes, err = r.Seek(0, io.SeekEnd); err != nil {
		return info, fmt.Errorf("photo: %w", err)
	}
	if err = rewind(r); err != nil {
		return info, err
	}
	var start [64]byte
	n, err := io.ReadFull(r, start[:])
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) && err != io.EOF {
		return info, fmt.Errorf("photo: %w", err)
	}
	if info.Format, err = sniff(start[:n]); err != nil {
		return info, err
	}
	if err = rewind(r); err != nil {
		return info, err
	}
	stored, err := storedSize(r, info.Format)
	if err != nil {
		return info, err
	}
	info.Orientation, info.Taken = readEXIF(r, info.Format)
	info.Mirrored = turns[info.Orientation].mirrored
	info.Size = turns[info.Orientation].upright(stored)
	if info.Format == "tiff" {
		info.Pages = tiffPages(r)
	}
	if err = limit.check(stored, info.Bytes); err != nil {
		return info, err
	}
	return info, rewind(r)
}

func rewind(r io.Seeker) error {
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return fmt.Errorf("photo: %w", err)
	}
	return nil
}

// guard turns a panic of an outside decoder into ErrDamaged.
func guard(err *error) {
	if p := recover(); p != nil {
		*err = fmt.Errorf("%w: %v", ErrDamaged, p)
	}
}

// pixelsPerByte is more than any honest photograph reaches; beyond it the header is a bomb.
const pixelsPerByte = 2048

func (l Limit) check(size image.Point, bytes int64) error {
	pixels := int64(size.X) * int64(size.Y)
	switch {
	case size.X <= 0 || size.Y <= 0:
		return fmt.Errorf("%w: its header claims %d x %d pixels", ErrDamaged, size.X, size.Y)
	case pixels > l.pixels():
		return fmt.Errorf("%w: %d x %d pixels, at most %d million can be opened; save a smaller copy", ErrTooLarge,
			size.X, size.Y, l.pixels()>>20)
	case pixels > pixelsPerByte*bytes:
		return fmt.Errorf("%w: its header claims %d x %d pixels in only %d bytes", ErrTooLarge, size.X, size.Y, bytes)
	}
	return nil
}

func (l Limit) pixels() int64 {
	if l.Pixels > 0 {
		return l.Pixels
	}
	return DefaultPixels
}

func (l Limit) bytes() int64 {
	if l.Bytes > 0 {
		return l.Bytes
	}
	return DefaultBytes
}

// kinds lists how files begin. An empty hint means that the kind can be opened.
var kinds = []struct {
	name, hint string
	at         int
	magic      string
}{
	{"jpeg", "", 0, "\xff\xd8\xff"},
	{"png", "", 0, "\x89PNG\r\n\x1a\n"},
	{"webp", "", 8, "WEBP"},
	{"Canon RAW (CR2)", hintRaw, 8, "CR\x02"},
	{"Olympus RAW (ORF)", hintRaw, 0, "IIRO"},
	{"Olympus RAW (ORF)", hintRaw, 0, "IIRS"},
	{"Panasonic RAW (RW2)", hintRaw, 0, "IIU\x00"},
	{"Fujifilm RAW (RAF)", hintRaw, 0, "FUJIFILMCCD-RAW"},
	{"BigTIFF", "save it as ordinary TIFF or JPEG", 0, "II+\x00"},
	{"BigTIFF", "save it as ordinary TIFF or JPEG", 0, "MM\x00+"},
	{"tiff", "", 0, "II*\x00"},
	{"tiff", "", 0, "MM\x00*"},
	{"Canon RAW (CR3)", hintRaw, 4, "ftypcrx"},
	{"AVIF", hintJPEG, 4, "ftypavi"},
	{"HEIC", hintHEIC, 4, "ftyphe"},
	{"HEIC", hintHEIC, 4, "ftypmif1"},
	{"HEIC", hintHEIC, 4, "ftypmsf1"},
	{"film", "take a photograph, or save one picture of the film as JPEG", 4, "ftyp"},
	{"JPEG XL", hintJPEG, 0, "\xff\x0a"},
	{"JPEG XL", hintJPEG, 4, "JXL "},
	{"JPEG 2000", hintJPEG, 4, "jP  "},
	{"JPEG 2000", hintJPEG, 0, "\xff\x4f\xff\x51"},
	{"GIF", hintJPEG, 0, "GIF8"},
	{"BMP", hintJPEG, 0, "BM"},
	{"Photoshop document", hintJPEG, 0, "8BPS"},
	{"PDF", "export its picture as JPEG", 0, "%PDF"},
	{"DICOM", "add it as a scan, not as a photograph", 128, "DICM"},
}

const (
	hintHEIC = "set the camera to \"most compatible\" (JPEG), or export this picture as JPEG in full size"
	hintRaw  = "develop it to JPEG or TIFF first"
	hintJPEG = "save it as JPEG, PNG, TIFF or WebP"
)

func sniff(start []byte) (string, error) {
	for _, k := range kinds {
		if len(start) >= k.at && bytes.HasPrefix(start[k.at:], []byte(k.magic)) {
			if k.hint != "" {
				return "", refuse(k.name, k.hint)
			}
			return k.name, nil
		}
	}
	if len(start) == 0 {
		return "", fmt.Errorf("%w: the file is empty", ErrDamaged)
	}
	return "", fmt.Errorf("%w: not a JPEG, PNG, TIFF or WebP file", ErrFormat)
}

func refuse(name, hint string) error { return fmt.Errorf("%w: %s; %s", ErrFormat, name, hint) }

// storedSize reads the size in pixels before any turn, and refuses variants that cannot be decoded.
func storedSize(r io.ReadSeeker, format string) (image.Point, error) {
	var c image.Config
	var err error
	switch format {
	case "jpeg":
		return jpegSize(r)
	case "png":
		c, err = png.DecodeConfig(r)
	case "webp":
		if err = checkWebP(r); err != nil {
			return image.Point{}, err
		}
		c, err = webp.DecodeConfig(r)
	case "tiff":
		if err = checkTIFF(r); err != nil {
			return image.Point{}, err
		}
		c, err = tiff.DecodeConfig(r)
	}
	if err != nil {
		return image.Point{}, fmt.Errorf("%w: %s header: %w", ErrDamaged, format, err)
	}
	return image.Pt(c.Width, c.Height), nil
}

// checkWebP refuses what moves (RFC 9649, 2.7.1.1 and 2.7: the flag A of the extended header).
func checkWebP(r io.ReadSeeker) error {
	var start [21]byte
	n, err := io.ReadFull(r, start[:])
	if err == nil && string(start[12:16]) == "VP8X" && start[20]&2 != 0 {
		return refuse("animated WebP", hintJPEG)
	}
	if n == 0 && err != nil {
		return fmt.Errorf("%w: webp header: %w", ErrDamaged, err)
	}
	return rewind(r)
}
