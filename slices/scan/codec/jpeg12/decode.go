// Package jpeg12 decodes sequential JPEG frames coded with the cosine
// transform: the baseline process 1 (8 bits) and the extended processes 2 and 4
// (8 and 12 bits) of ITU-T T.81, transfer syntaxes 1.2.840.10008.1.2.4.50 and
// .51, with one or three components and whole-number subsampling.
//
// T.81 leaves the rounding of the inverse transform and the upsampling of
// chroma to the decoder. Here they are those of the reference software most
// DICOM toolkits carry, so that samples come out equal to theirs; the choices
// are written at idct and upsample.
package jpeg12

import (
	"fmt"

	"sectionary/slices/scan/codec"
	"sectionary/slices/scan/codec/internal/t81"
)

// Decode decodes one whole frame after holding its header against want.
// Components come out as coded: the caller turns luma and chroma into colour
// as the data set and Frame.Colour say.
func Decode(data []byte, want codec.Want) (codec.Frame, error) {
	f, err := decode(data, want)
	if err != nil {
		return codec.Frame{}, fmt.Errorf("jpeg12: %w", err)
	}
	return f, nil
}

func decode(data []byte, want codec.Want) (codec.Frame, error) {
	n, err := want.Samples()
	if err != nil {
		return codec.Frame{}, err
	}
	s, err := t81.Open(data)
	if err != nil {
		return codec.Frame{}, err
	}
	switch {
	case s.Process == t81.Lossless:
		return codec.Frame{}, fmt.Errorf("frame is lossless, not coded with the cosine transform: %w", codec.ErrUnsupported)
	case s.Precision != 8 && s.Precision != 12, s.Process == t81.Baseline && s.Precision != 8:
		return codec.Frame{}, fmt.Errorf("precision of %d bits: %w", s.Precision, codec.ErrCorrupt)
	}
	if err := want.Match(s.Width, s.Height, len(s.Components), s.Precision); err != nil {
		return codec.Frame{}, err
	}
	planes, blocks, err := layout(s)
	if err != nil {
		return codec.Frame{}, err
	}
	if blocks/4 > len(data) { // every block takes two codes of a bit at least
		return codec.Frame{}, fmt.Errorf("%d bytes cannot hold %d blocks: %w", len(data), blocks, codec.ErrCorrupt)
	}
	for i := range planes {
		planes[i].pix = make([]uint16, planes[i].stride*planes[i].lines)
	}
	for done := 0; done < len(planes); {
		sc, err := s.NextScan()
		if err != nil {
			return codec.Frame{}, err
		}
		if sc == nil {
			return codec.Frame{}, fmt.Errorf("ends with %d of %d components: %w", done, len(planes), codec.ErrCorrupt)
		}
		if err := decodeScan(s, sc, planes); err != nil {
			return codec.Frame{}, err
		}
		done += len(sc.Components)
	}
	f := codec.Frame{
		Width: s.Width, Height: s.Height, Samples: len(planes), Bits: s.Precision,
		Colour: s.Colour(), Pix: make([]uint16, n),
	}
	for i := range planes {
		planes[i].upsample(f, i)
	}
	return f, nil
}

// plane is one component: its true size, and its samples padded to whole MCUs.
type plane struct {
	h, v          int // sampling factors
	across, down  int // factors it is stretched by to full size
	width, height int // samples that count, T.81 A.1.1
	stride, lines int // padded to whole blocks of whole MCUs
	pix           []uint16
	done          bool
}

// layout works out the planes and the number of blocks that count.
func layout(s *t81.Stream) (planes []plane, blocks int, err error) {
	hmax, vmax := 1, 1
	for _, c := range s.Components {
		hmax, vmax = max(hmax, c.H), max(vmax, c.V)
	}
	if len(s.Components) == 1 { // sampling factors mean nothing then, A.2.2
		hmax, vmax = s.Components[0].H, s.Components[0].V
	}
	for _, c := range s.Components {
		if hmax%c.H != 0 || vmax%c.V != 0 {
			return nil, 0, fmt.Errorf("chroma subsampled by %d/%d across and %d/%d down: %w", hmax, c.H, vmax, c.V, codec.ErrUnsupported)
		}
		p := plane{h: c.H, v: c.V, across: hmax / c.H, down: vmax / c.V}
		p.width, p.height = ceil(s.Width, p.across), ceil(s.Height, p.down)
		p.stride = ceil(s.Width, 8*hmax) * 8 * c.H
		p.lines = ceil(s.Height, 8*vmax) * 8 * c.V
		blocks += ceil(p.width, 8) * ceil(p.height, 8)
		planes = append(planes, p)
	}
	return planes, blocks, nil
}

func ceil(a, b int) int { return (a + b - 1) / b }
