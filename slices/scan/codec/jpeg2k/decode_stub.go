//go:build !openjp2 || !cgo

package jpeg2k

import (
	"fmt"

	"sectionary/slices/scan/codec"
)

// Built says whether this build can decode JPEG 2000.
const Built = false

// Decode refuses every frame: this build is without JPEG 2000.
func Decode(data []byte, want codec.Want) (codec.Frame, error) {
	return codec.Frame{}, fmt.Errorf("jpeg2k: JPEG 2000 frames cannot be opened by this build; use a build with tag openjp2: %w", codec.ErrNotBuilt)
}
