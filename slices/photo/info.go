// Package photo holds photographs of cut faces: what their header says, their upright pixels at any
// zoom, and their calibration from pixels to millimetres.
//
// Pixels are those of the upright photograph: the turn recorded in EXIF is applied exactly once, here.
package photo

import (
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"time"
)

var (
	// ErrFormat says that the file is of a kind that cannot be opened; the message names the kind and what to do.
	ErrFormat = errors.New("photo: this kind of picture cannot be opened")
	// ErrTooLarge says that the header claims more pixels or the file holds more bytes than the limit.
	ErrTooLarge = errors.New("photo: picture is too large")
	// ErrDamaged says that the file breaks off or contradicts itself.
	ErrDamaged = errors.New("photo: picture is damaged")
)

// Info is what the header of a photograph tells. Size is that of the upright picture in pixels.
// Orientation is the EXIF value 1 to 8 as stored (1 when the file has none); Mirrored says that it
// turns left and right over (2, 4, 5, 7). Taken is UTC, zero when the file does not say. SHA256 is
// filled by Open and by those who copy the file; Probe leaves it zero.
type Info struct {
	Format      string      `json:"format"` // "jpeg", "png", "tiff", "webp"
	Size        image.Point `json:"size"`
	Orientation int         `json:"orientation"`
	Mirrored    bool        `json:"mirrored"`
	Taken       time.Time   `json:"taken,omitzero"`
	SHA256      Hash        `json:"sha256"`
	Bytes       int64       `json:"bytes"`
	Profile     string      `json:"profile,omitempty"` // colour profile carried over to sRGB, "" for sRGB and none
	Unused      string      `json:"unused,omitempty"`  // colour profile of a kind that cannot be used; the colours are shown as if sRGB
	Pages       int         `json:"pages,omitempty"`   // pictures in the file where it holds several; the first is the photograph
}

// Hash is a SHA-256 sum; as text it is 64 lower-case hexadecimal digits.
type Hash [32]byte

// String returns the 64 digits.
func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// MarshalText writes the 64 digits.
func (h Hash) MarshalText() ([]byte, error) { return []byte(h.String()), nil }

// UnmarshalText reads 64 digits.
func (h *Hash) UnmarshalText(text []byte) error {
	if hex.DecodedLen(len(text)) != len(h) {
		return fmt.Errorf("photo: a SHA-256 has 64 digits, got %d", len(text))
	}
	if _, err := hex.Decode(h[:], text); err != nil {
		return fmt.Errorf("photo: SHA-256 digits: %w", err)
	}
	return nil
}

// Limit bounds what Open accepts; a zero field takes its default.
type Limit struct {
	Pixels int64 // width times height; default DefaultPixels
	Bytes  int64 // of the file; default DefaultBytes
}

const (
	// DefaultPixels lets through pictures of the largest medium-format backs.
	DefaultPixels = 160 << 20
	// DefaultBytes lets through an uncompressed 16-bit TIFF of that size.
	DefaultBytes = 1 << 30
)
