package scan

import (
	"fmt"
	"image"
	"math"
)

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
	Inverse  bool      `json:"inverse,omitempty"` // low values white (MONOCHROME1)
	Table    []float64 `json:"table,omitempty"`   // grey 0..1 for values First, First+1, ...: a VOI LUT in place of the function
	First    float64   `json:"first,omitempty"`
}

// Check reports whether w can be applied: a linear width of at least 1, other widths above 0, all finite.
// It fails with ErrWindow.
func (w Window) Check() error {
	least := 1.0
	if w.Function != Linear {
		least = math.SmallestNonzeroFloat64
	}
	if !(w.Width >= least) || math.IsInf(w.Width, 0) || math.IsNaN(w.Centre) || math.IsInf(w.Centre, 0) {
		return fmt.Errorf("%w: width %g at level %g", ErrWindow, w.Width, w.Centre)
	}
	return nil
}

// Level returns the grey of value x, from 0 (black) to 255 (white), unrounded. NaN gives NaN.
func (w Window) Level(x float64) float64 {
	y := 255 * w.share(x)
	if w.Inverse {
		return 255 - y
	}
	return y
}

// share is the grey of x from 0 to 1, before any inversion.
func (w Window) share(x float64) float64 {
	if len(w.Table) > 0 {
		if math.IsNaN(x) {
			return x
		}
		at := math.Round(math.Max(0, math.Min(x-w.First, float64(len(w.Table)-1))))
		return w.Table[int(at)]
	}
	switch w.Function {
	case Sigmoid:
		return 1 / (1 + math.Exp(-4*(x-w.Centre)/w.Width))
	case LinearExact:
		return ramp(x, w.Centre, w.Width, w.Centre-w.Width/2, w.Centre+w.Width/2)
	}
	middle, span := w.Centre-0.5, w.Width-1
	return ramp(x, middle, span, middle-span/2, middle+span/2)
}

// ramp is black up to low, white above high and straight between. Where low equals high nothing is divided.
func ramp(x, middle, span, low, high float64) float64 {
	switch {
	case x <= low:
		return 0
	case x > high:
		return 1
	}
	return (x-middle)/span + 0.5
}

// Gray paints width x height values as 8-bit grey, rounded to the nearest. NaN (outside the scan) becomes 0; whoever
// shows the picture hatches those places from the same values. It panics when src is shorter than width*height.
func (w Window) Gray(src []float32, width, height int) *image.Gray {
	m := image.NewGray(image.Rect(0, 0, width, height))
	src = src[:width*height]
	grey := w.levels()
	split(height, func(from, to int) {
		for i := from * width; i < to*width; i++ {
			m.Pix[i] = grey(float64(src[i]))
		}
	})
	return m
}

// levels returns Level rounded to 8 bits.
func (w Window) levels() func(float64) byte {
	if w.Function != Linear || len(w.Table) > 0 {
		return func(x float64) byte {
			y := w.Level(x)
			if y != y {
				return 0
			}
			return byte(y + 0.5)
		}
	}
	middle, span := w.Centre-0.5, w.Width-1
	low, high := middle-span/2, middle+span/2
	black, white, sign := 0.0, 255.0, 1.0
	if w.Inverse {
		black, white, sign = 255, 0, -1
	}
	return func(x float64) byte {
		switch {
		case x <= low:
			return byte(black)
		case x > high:
			return byte(white)
		case x != x:
			return 0
		}
		return byte(black + sign*255*((x-middle)/span+0.5) + 0.5)
	}
}
