// Package jpegll decodes lossless JPEG frames (ITU-T T.81 process 14).
package jpegll

import (
	"fmt"

	"sectionary/slices/scan/codec"
)

// Decode decodes one whole frame after holding its header against want.
func Decode(data []byte, want codec.Want) (codec.Frame, error) {
	return codec.Frame{}, fmt.Errorf("jpegll: decoder not written yet: %w", codec.ErrNotBuilt)
}
