package photo

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"slices"
)

// ErrNoEmbedded says that a photograph carries no smaller copy of itself, or none that can be trusted.
var ErrNoEmbedded = errors.New("photo: no smaller copy is embedded")

// Bounds of what is read; common practice, no source.
const (
	embeddedHead   = 1 << 20  // of the file that is searched for smaller copies
	embeddedBytes  = 8 << 20  // of a smaller copy's own file
	embeddedPixels = 12 << 20 // of a smaller copy
	embeddedEnough = 1000     // longer side in pixels of a copy that fills a window well
)

// Embedded returns the smaller copy of itself that a camera laid into a JPEG: the thumbnail of its EXIF (Exif 2.32,
// 4.5.2) or a preview of the Multi-Picture Format (CIPA DC-007), whichever fills a window best. It comes upright by
// the photograph's own EXIF value, in sRGB, with black bars cut off, and takes milliseconds where Open takes a
// second, so it can stand in while Open is at work. It may be older than an edited picture: nothing is measured,
// named or handed out from it. r is left anywhere.
//
// Errors: ErrNoEmbedded where there is none, or where it is damaged, too large or of another shape than the
// photograph; else those of Probe.
func Embedded(r io.ReadSeeker) (*image.RGBA, error) {
	info, err := Probe(r)
	if err != nil {
		return nil, err
	}
	if info.Format != "jpeg" {
		return nil, fmt.Errorf("%w in a %s file", ErrNoEmbedded, info.Format)
	}
	head, err := io.ReadAll(io.LimitReader(r, embeddedHead))
	if err != nil {
		return nil, fmt.Errorf("photo: %w", err)
	}
	whole := turns[info.Orientation].upright(info.Size) // as stored; a turn by a quarter is its own inverse in size
	profile, _, carried := readProfile(head, "jpeg")
	for _, piece := range bestFirst(r, embeddedPieces(head, info.Bytes)) {
		m := piece.read(r, whole)
		if m == nil {
			continue
		}
		if carried {
			m = profile.toSRGB(m)
		}
		small := newImage(m, info.Orientation)
		return small.Preview(max(small.size.X, small.size.Y)), nil
	}
	return nil, ErrNoEmbedded
}

// piece is where in a file a smaller copy stands.
type piece struct {
	at, bytes int64
	longest   int // side in pixels, as its header claims
}

// embeddedPieces lists what the first part of a JPEG says of smaller copies within a file of that many bytes.
func embeddedPieces(head []byte, bytesInFile int64) (list []piece) {
	add := func(at, n int64) {
		if at > 0 && n > 0 && n <= embeddedBytes && at <= bytesInFile-n {
			list = append(list, piece{at: at, bytes: n})
		}
	}
	unread := bytes.NewReader(head)
	in := bufio.NewReader(unread)
	_ = eachSegment(in, func(marker byte, body []byte) bool { // what was found before the head breaks off counts
		at := int64(len(head) - unread.Len() - in.Buffered() - len(body))
		switch {
		case marker == markerAPP1 && bytes.HasPrefix(body, exifName):
			block := body[len(exifName):]
			if from, n := exifThumbnail(block); n > 0 && from+n <= int64(len(block)) {
				add(at+int64(len(exifName))+from, n)
			}
		case marker == markerAPP2 && bytes.HasPrefix(body, mpfName):
			for _, e := range multiPictures(body[len(mpfName):]) {
				add(at+int64(len(mpfName))+e[0], e[1])
			}
		}
		return true
	})
	return list
}

var (
	exifName = []byte("Exif\x00\x00")
	mpfName  = []byte("MPF\x00")
)

// exifThumbnail finds the JPEG of the second directory of an EXIF block; n is 0 when there is none.
func exifThumbnail(block []byte) (from, n int64) {
	r := bytes.NewReader(block)
	order, first, err := tiffHeader(r)
	if err != nil {
		return 0, 0
	}
	_, next, err := readDirectory(r, order, first)
	if err != nil || next == 0 {
		return 0, 0
	}
	fields, _, err := readDirectory(r, order, next)
	if err != nil {
		return 0, 0
	}
	return int64(fields[0x0201].value), int64(fields[0x0202].value)
}

// multiPictures lists offset and length of the previews in the index of a Multi-Picture block (CIPA DC-007, 5.2.3),
// counted from the block's start. Other pictures of the same file, such as the second of a stereo pair, are left out.
func multiPictures(block []byte) (list [][2]int64) {
	r := bytes.NewReader(block)
	order, first, err := tiffHeader(r)
	if err != nil {
		return nil
	}
	fields, _, err := readDirectory(r, order, first)
	f, ok := fields[0xb002]
	if err != nil || !ok || uint64(f.value)+uint64(f.count) > uint64(len(block)) {
		return nil
	}
	for e := block[f.value : f.value+f.count]; len(e) >= 16 && len(list) < 16; e = e[16:] {
		const preview = 0x010000 // large thumbnail, of any class
		if kind := order.Uint32(e) & 0xffffff; kind&0xff0000 == preview {
			list = append(list, [2]int64{int64(order.Uint32(e[8:])), int64(order.Uint32(e[4:]))})
		}
	}
	return list
}

// bestFirst reads the claimed sizes and puts the smallest copy that fills a window first, then the others, the largest
// first. What is no JPEG falls out.
func bestFirst(r io.ReadSeeker, list []piece) (kept []piece) {
	for _, p := range list {
		if _, err := r.Seek(p.at, io.SeekStart); err != nil {
			continue
		}
		size, err := jpegSize(io.LimitReader(r, p.bytes))
		if err == nil {
			p.longest = max(size.X, size.Y)
			kept = append(kept, p)
		}
	}
	slices.SortStableFunc(kept, func(a, b piece) int {
		if a.longest >= embeddedEnough && b.longest >= embeddedEnough {
			return cmp.Compare(a.longest, b.longest)
		}
		return cmp.Compare(b.longest, a.longest)
	})
	return kept
}

// read decodes a smaller copy as stored, without bars; nil when it cannot stand for a photograph of that stored size.
func (p piece) read(r io.ReadSeeker, whole image.Point) image.Image {
	if _, err := r.Seek(p.at, io.SeekStart); err != nil {
		return nil
	}
	data, err := io.ReadAll(io.LimitReader(r, p.bytes))
	if err != nil {
		return nil
	}
	in := bytes.NewReader(data)
	if _, err = probe(in, Limit{Pixels: embeddedPixels}); err != nil {
		return nil
	}
	m, err := decode(&cancelReader{context.Background(), in}, "jpeg")
	if err != nil || m.Bounds().Dx() > whole.X || m.Bounds().Dy() > whole.Y {
		return nil
	}
	return withoutBars(m, whole)
}

// withoutBars cuts a copy to the shape of the whole. Cameras fill a thumbnail of 4 to 3 with black bars; what is cut off
// and is not black shows that the copy is of something else, and gives nil.
func withoutBars(m image.Image, whole image.Point) image.Image {
	b := m.Bounds()
	w, h := b.Dx(), b.Dy()
	fit := image.Pt(w, (w*whole.Y+whole.X/2)/whole.X)
	if fit.Y > h {
		fit = image.Pt((h*whole.X+whole.Y/2)/whole.Y, h)
	}
	if fit.X < 1 || fit.Y < 1 {
		return nil
	}
	dx, dy := w-fit.X, h-fit.Y
	if dx <= 1+w/100 && dy <= 1+h/100 { // rounding of the sizes
		return m
	}
	inner := image.Rectangle{Max: fit}.Add(b.Min).Add(image.Pt(dx/2, dy/2))
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			beside := x < inner.Min.X-1 || x > inner.Max.X || y < inner.Min.Y-1 || y > inner.Max.Y
			if r, g, bl, _ := m.At(x, y).RGBA(); beside && max(r, g, bl) > 0x3000 {
				return nil
			}
		}
	}
	inner = inner.Inset(1) // the bars' edge rings in a JPEG
	cut, ok := m.(interface {
		SubImage(image.Rectangle) image.Image
	})
	if !ok || inner.Empty() {
		return nil
	}
	return cut.SubImage(inner)
}
