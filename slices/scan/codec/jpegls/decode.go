// Package jpegls decodes JPEG-LS frames (ITU-T T.87).
package jpegls

import (
	"fmt"

	"sectionary/slices/scan/codec"
)

// Decode decodes one whole frame after holding its header against want.
func Decode(data []byte, want codec.Want) (codec.Frame, error) {
	return codec.Frame{}, fmt.Errorf("jpegls: decoder not written yet: %w", codec.ErrNotBuilt)
}
