package photo

import (
	"errors"
	"fmt"
	"time"

	"sectionary/slices/geom"
)

var (
	// ErrNoScale says that the picture has no scale, so there are no lengths to tell.
	ErrNoScale = errors.New("photo: this picture has no scale; lengths are hidden until there is one")
	// ErrMirroredTies says that the ties turn the picture over.
	ErrMirroredTies = errors.New("photo: the ties mirror the picture")
	// ErrHorizon says that the plane of the ties vanishes inside the picture.
	ErrHorizon = errors.New("photo: the plane of the ties vanishes inside the picture")
)

// Status tells how much a calibration knows.
type Status uint8

const (
	Nominal   Status = iota // no scale: lengths are not shown
	Scaled                  // one length: blind to tilt of the camera
	Rectified               // four ties or more
)

var statusNames = [...]string{"nominal", "scaled", "rectified"}

// String returns "nominal", "scaled" or "rectified".
func (s Status) String() string {
	if int(s) < len(statusNames) {
		return statusNames[s]
	}
	return fmt.Sprintf("status %d", uint8(s))
}

// MarshalText writes the name.
func (s Status) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads the name.
func (s *Status) UnmarshalText(text []byte) error {
	for i, name := range statusNames {
		if name == string(text) {
			*s = Status(i)
			return nil
		}
	}
	return fmt.Errorf("photo: unknown calibration status %q", text)
}

// Tie says that a pixel shows a known point of the face.
type Tie struct {
	Px geom.Px `json:"px"`
	MM geom.MM `json:"mm"`
}

// ScaleHeight tells that the scale lies Drop mm below the face (negative: above) while the camera
// stands Camera mm above the face. The zero value means that both lie in one plane.
type ScaleHeight struct {
	Drop   float64 `json:"drop"`
	Camera float64 `json:"camera"`
}

// Calibration is the map from pixels of the upright photograph to mm on the face, with what it
// rests on. Ties are in the plane of the scale and in pixels as photographed, ToMM already carries the scale height
// and takes pixels straightened by Lens, nil where the lens was not measured. The zero value is Nominal; its ToMM
// holds nothing.
type Calibration struct {
	ToMM   geom.Homography `json:"toMM"`
	Status Status          `json:"status"`
	Ties   []Tie           `json:"ties,omitempty"`
	Fit    geom.Residuals  `json:"fit"`
	Height ScaleHeight     `json:"height"`
	Set    time.Time       `json:"set,omitzero"`
	Lens   *Lens           `json:"lens,omitempty"`
	Doubts []Doubt         `json:"doubts,omitempty"`
}

// ScaleReport is a calibration in the words of the prompt. MMPerPixel is the square root of the area
// of one pixel.
type ScaleReport struct {
	Homography geom.Homography `json:"homography"`
	Status     Status          `json:"status"`
	RMS        float64         `json:"rms"`
	Max        float64         `json:"max"`
	MMPerPixel PixelSizes      `json:"mmPerPixel"`
	Factor     float64         `json:"factor"`
	Lens       *Lens           `json:"lens,omitempty"`
	Spread     float64         `json:"spread"` // relative standard uncertainty of lengths in the middle, from the scale
	Doubts     []Doubt         `json:"doubts,omitempty"`
}

// PixelSizes are mm per pixel at the picture's centre and at its corners: top left, top right,
// bottom right, bottom left.
type PixelSizes struct {
	Centre  float64    `json:"centre"`
	Corners [4]float64 `json:"corners"`
}
