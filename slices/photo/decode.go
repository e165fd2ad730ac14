package photo

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"

	"golang.org/x/image/tiff"
	"golang.org/x/image/webp"
)

// Open reads, checks and decodes a photograph and turns it upright by its EXIF orientation, once. An embedded
// colour profile of matrix form or of one grey curve is carried over to sRGB. Errors as Probe; a cancelled ctx ends it with the
// context's error. Samples of 16 bits are kept as 8.
func Open(ctx context.Context, r io.Reader, limit Limit) (*Image, error) {
	data, err := readAll(ctx, r, limit.bytes())
	if err != nil {
		return nil, err
	}
	in := bytes.NewReader(data)
	info, err := probe(in, limit)
	if err != nil {
		return nil, err
	}
	info.SHA256 = sha256.Sum256(data)
	pixels, err := decode(&cancelReader{ctx, in}, info.Format)
	if ctx.Err() != nil {
		return nil, fmt.Errorf("photo: %w", ctx.Err())
	}
	if err != nil {
		return nil, err
	}
	if size := turns[info.Orientation].upright(pixels.Bounds().Size()); size != info.Size {
		return nil, fmt.Errorf("%w: its header says %v pixels, its body holds %v", ErrDamaged, info.Size, size)
	}
	p, unused, carry := readProfile(data, info.Format)
	if carry {
		pixels = p.toSRGB(pixels)
	}
	info.Profile, info.Unused = p.name, unused
	m := newImage(pixels, info.Orientation)
	m.info = info
	if ctx.Err() != nil {
		return nil, fmt.Errorf("photo: %w", ctx.Err())
	}
	return m, nil
}

func readAll(ctx context.Context, r io.Reader, limit int64) ([]byte, error) {
	data, err := io.ReadAll(io.LimitReader(&cancelReader{ctx, r}, limit+1))
	if err != nil {
		return nil, fmt.Errorf("photo: %w", err)
	}
	if int64(len(data)) > limit {
		return nil, fmt.Errorf("%w: the file holds more than %d MB", ErrTooLarge, limit>>20)
	}
	return data, nil
}

// cancelReader fails with the context's error once that is done, which also stops a decoder reading from it.
type cancelReader struct {
	ctx context.Context
	r   io.Reader
}

func (c *cancelReader) Read(p []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	return c.r.Read(p[:min(len(p), 1<<16)])
}

func decode(r io.Reader, format string) (img image.Image, err error) {
	defer guard(&err)
	switch format {
	case "jpeg":
		img, err = jpeg.Decode(r)
	case "png":
		img, err = png.Decode(r)
	case "webp":
		if img, err = webp.Decode(r); err == nil {
			widenRange(img)
		}
	default:
		img, err = tiff.Decode(r)
	}
	if err != nil {
		return nil, fmt.Errorf("%w: %s: %w", ErrDamaged, format, err)
	}
	return img, nil
}

// widenRange stretches the planes of a lossy WebP, whose luma runs from 16 to 235 and chroma from 16 to 240 (RFC 6386,
// 9.2, after ITU-R BT.601), to the full range of a JPEG; the decoder hands them out as they are.
func widenRange(img image.Image) {
	var p *image.YCbCr
	switch img := img.(type) {
	case *image.YCbCr:
		p = img
	case *image.NYCbCrA:
		p = &img.YCbCr
	default:
		return
	}
	var luma, chroma [256]uint8
	for i := range 256 {
		luma[i] = uint8(max(0, min(255, ((i-16)*255+109)/219)))
		chroma[i] = uint8(max(0, min(255, ((i-128)*255+128*224+112)/224)))
	}
	for i, v := range p.Y {
		p.Y[i] = luma[v]
	}
	for i, v := range p.Cb {
		p.Cb[i], p.Cr[i] = chroma[v], chroma[p.Cr[i]]
	}
}

// EncodeJPEG writes img as JPEG of that quality (1 to 100) with no metadata at all.
func EncodeJPEG(w io.Writer, img image.Image, quality int) error {
	if err := jpeg.Encode(w, img, &jpeg.Options{Quality: quality}); err != nil {
		return fmt.Errorf("photo: writing JPEG: %w", err)
	}
	return nil
}

// EncodePNG writes img as PNG with no metadata at all.
func EncodePNG(w io.Writer, img image.Image) error {
	if err := png.Encode(w, img); err != nil {
		return fmt.Errorf("photo: writing PNG: %w", err)
	}
	return nil
}
