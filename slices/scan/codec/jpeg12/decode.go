// Package jpeg12 decodes sequential DCT JPEG frames of 8 and 12 bits (ITU-T T.81 processes 1, 2 and 4).
package jpeg12

import (
	"fmt"

	"sectionary/slices/scan/codec"
)

// Decode decodes one whole frame after holding its header against want.
func Decode(data []byte, want codec.Want) (codec.Frame, error) {
	return codec.Frame{}, fmt.Errorf("jpeg12: decoder not written yet: %w", codec.ErrNotBuilt)
}
