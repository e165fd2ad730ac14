package scan

import "image"

// Function is the way a window turns values into grey (DICOM VOI LUT Function).
type Function uint8

// Window functions of DICOM PS3.3 C.11.2.1.2.1, C.11.2.1.3.2 and C.11.2.1.3.1.
const (
	Linear Function = iota
	LinearExact
	Sigmoid
)

// Window turns values into grey. Width is how wide a span of values is shown, Centre (the window level) its middle.
type Window struct {
	Centre   float64   `json:"centre"`
	Width    float64   `json:"width"`
	Function Function  `json:"function,omitempty"`
	Name     string    `json:"name,omitempty"`
	Inverse  bool      `json:"inverse,omitempty"` // low values white
	Table    []float64 `json:"table,omitempty"`   // grey 0..1 for values First, First+1, ...: a VOI LUT in place of the function
	First    float64   `json:"first,omitempty"`
}

// Check reports whether w can be applied: a linear width of at least 1, other widths above 0, all finite.
// It fails with ErrWindow.
func (w Window) Check() error { return nil }

// Level returns the grey of value x, from 0 (black) to 255 (white), unrounded.
func (w Window) Level(x float64) float64 { return 0 }

// Gray paints width x height values as 8-bit grey, rounded to the nearest. NaN (outside the scan) becomes 0; whoever
// shows the picture hatches those places from the same values.
func (w Window) Gray(src []float32, width, height int) *image.Gray { return nil }

// Preset is a window for a tissue, with where its figures come from.
type Preset struct {
	Name     string
	Window   Window
	Source   string
	Embalmed bool // for fixed bodies, whose soft tissues differ less
}

// Presets returns the CT windows by tissue, living values first, then those for embalmed bodies.
func Presets() []Preset { return nil }

// StartWindow is the window to begin with: the header's first, else for CT the soft tissue preset, else the span between
// the 1st and 99th percentile of the values.
func (v *Volume) StartWindow() Window { return Window{} }
