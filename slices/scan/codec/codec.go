// Package codec holds what the decoders of encapsulated DICOM frames share:
// what the data set says of a frame (Want), the frame a decoder hands back
// (Frame), the bound on its size, and the errors a caller acts on.
//
// Each decoder stands in its own package and has the one function
//
//	Decode(data []byte, want codec.Want) (codec.Frame, error)
//
// data is one whole frame: its fragments joined end to end. Trailing padding is
// ignored. A decoder holds the frame's own header against want before it
// reserves memory for samples, never panics, and hands back a frame only when
// every sample was really coded: a frame cut short is an error, not grey.
package codec

import (
	"errors"
	"fmt"
)

// MaxSamples bounds one frame: columns x rows x samples per pixel. It leaves
// room for 11 585 x 11 585 grey; 16-bit samples then take 256 MB.
const MaxSamples = 1 << 27

// The errors a caller tells apart with errors.Is.
var (
	// ErrUnsupported marks a frame that is sound as far as it was read but
	// uses a feature this decoder does not have; the text names the feature.
	ErrUnsupported = errors.New("not supported")
	// ErrCorrupt marks a frame that breaks its standard or is cut short.
	ErrCorrupt = errors.New("damaged frame")
	// ErrMismatch marks a frame whose size or depth is not the data set's.
	ErrMismatch = errors.New("frame and data set disagree")
	// ErrTooLarge marks a frame above MaxSamples.
	ErrTooLarge = errors.New("frame too large")
	// ErrNotBuilt marks a decoder left out of this build.
	ErrNotBuilt = errors.New("not in this build")
)

// Want is what the data set says of each of its frames (PS3.3 C.7.6.3).
type Want struct {
	Rows, Columns   int  // (0028,0010), (0028,0011): pixels down and across
	SamplesPerPixel int  // (0028,0002): 1 or 3
	BitsAllocated   int  // (0028,0100): 1, 8, 16 or 32
	BitsStored      int  // (0028,0101): at most BitsAllocated
	Signed          bool // (0028,0103) Pixel Representation is 1
}

// Samples returns the number of samples in the frame, or an error when the
// description is impossible or above MaxSamples.
func (w Want) Samples() (int, error) {
	switch {
	case w.Rows < 1 || w.Rows > 65535 || w.Columns < 1 || w.Columns > 65535:
		return 0, fmt.Errorf("codec: %d rows and %d columns, each must be 1 to 65535: %w", w.Rows, w.Columns, ErrCorrupt)
	case w.SamplesPerPixel != 1 && w.SamplesPerPixel != 3:
		return 0, fmt.Errorf("codec: %d samples per pixel, only 1 and 3 are read: %w", w.SamplesPerPixel, ErrUnsupported)
	case w.BitsAllocated != 1 && w.BitsAllocated != 8 && w.BitsAllocated != 16 && w.BitsAllocated != 32:
		return 0, fmt.Errorf("codec: %d bits allocated, only 1, 8, 16 and 32 are read: %w", w.BitsAllocated, ErrUnsupported)
	case w.BitsStored < 1 || w.BitsStored > w.BitsAllocated:
		return 0, fmt.Errorf("codec: %d bits stored of %d allocated: %w", w.BitsStored, w.BitsAllocated, ErrCorrupt)
	}
	n := int64(w.Rows) * int64(w.Columns) * int64(w.SamplesPerPixel)
	if n > MaxSamples {
		return 0, fmt.Errorf("codec: %d x %d x %d samples, the limit is %d: %w", w.Columns, w.Rows, w.SamplesPerPixel, MaxSamples, ErrTooLarge)
	}
	return int(n), nil
}

// Match holds the size a frame states in its own header against the data set.
// bits is the frame's precision; a frame may be shallower than the data set
// says (common practice, no source) but must fit the bits allocated.
func (w Want) Match(width, height, samples, bits int) error {
	if width != w.Columns || height != w.Rows || samples != w.SamplesPerPixel {
		return fmt.Errorf("codec: frame is %d x %d x %d, data set says %d x %d x %d: %w",
			width, height, samples, w.Columns, w.Rows, w.SamplesPerPixel, ErrMismatch)
	}
	if bits < 1 || bits > w.BitsAllocated {
		return fmt.Errorf("codec: frame has %d-bit samples, data set allocates %d: %w", bits, w.BitsAllocated, ErrMismatch)
	}
	return nil
}

// Colour says how far the samples of a three-sample frame are from red, green
// and blue. The data set's Photometric Interpretation has the last word where
// a codec cannot know (Unstated).
type Colour uint8

// The states of colour a decoder can report.
const (
	Unstated Colour = iota // as coded; the frame itself says nothing
	YCbCr                  // as coded, and the frame says luma and chroma
	RGB                    // red, green, blue, any transform already undone
)

// String returns the name of c.
func (c Colour) String() string {
	switch c {
	case YCbCr:
		return "YCbCr"
	case RGB:
		return "RGB"
	}
	return "unstated"
}

// Frame is one decoded frame. Samples are interleaved (R G B R G B ...), rows
// from the top, columns from the left, whatever the order in the code stream.
type Frame struct {
	Width, Height int  // pixels
	Samples       int  // per pixel: 1 or 3
	Bits          int  // precision stated by the code stream, 1 to 32
	Signed        bool // the code stream states signed samples (JPEG 2000 only)
	Colour        Colour

	// Pix holds Width x Height x Samples codes when Bits <= 16, else nil.
	// A signed code stream gives two's complement in all 16 bits. Otherwise
	// the value is the bare code: the caller extends the sign from the data
	// set's Bits Stored, which is right in both cases.
	Pix []uint16
	// Wide holds the codes when Bits > 16 (run length only), else nil.
	Wide []uint32
}

// Bytes returns the samples as little-endian words of the given bits (8, 16
// or 32; 1 counts as 8, one byte per sample), the order of an uncompressed
// data set. Higher bits of a sample are dropped.
func (f Frame) Bytes(bits int) []byte {
	size := (bits + 7) / 8
	out := make([]byte, 0, (len(f.Pix)+len(f.Wide))*size)
	put := func(v uint32) {
		for k := range size {
			out = append(out, byte(v>>(8*k)))
		}
	}
	for _, v := range f.Pix {
		put(uint32(v))
	}
	for _, v := range f.Wide {
		put(v)
	}
	return out
}
