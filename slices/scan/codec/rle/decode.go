// Package rle decodes run-length coded frames (DICOM PS3.5 Annex G).
package rle

import (
	"fmt"

	"sectionary/slices/scan/codec"
)

// Decode decodes one whole frame after holding its header against want.
func Decode(data []byte, want codec.Want) (codec.Frame, error) {
	return codec.Frame{}, fmt.Errorf("rle: decoder not written yet: %w", codec.ErrNotBuilt)
}
