package register

import (
	"context"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"testing"

	"sectionary/slices/geom"
)

// flat is one picture as a scan without depth: pixel (i, j) lies at X = i, Y = j, at every Z.
type flat struct {
	v    []float32
	w, h int
}

func (f flat) Slice(dst []float32, w, h int, p geom.Pose, spacing float64) {
	s := stack{levels: []float64{0}, frames: [][]float32{f.v}, w: f.w, h: f.h}
	s.Slice(dst, w, h, p, spacing)
}

func brain(t testing.TB, name string) *image.Gray {
	t.Helper()
	f, err := os.Open(sharedFile(t, "data", "brain-pairs", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	b := img.Bounds()
	out := image.NewGray(image.Rect(0, 0, b.Dx(), b.Dy()))
	for y := range b.Dy() {
		for x := range b.Dx() {
			out.Set(x, y, color.GrayModel.Convert(img.At(b.Min.X+x, b.Min.Y+y)))
		}
	}
	return out
}

// Brain slices of two contrasts (T1 and proton density), shifted and turned as their file names tell; within 0.5 pixel and 0.5
// degree. For the turned one the toolkit the pictures come from (ITK, its example of rigid registration in the plane)
// prints 10.003 degrees about (110, 128) with a shift of 13.09, 15.91.
func TestKnownTurnsAndShiftsOfBrainSlices(t *testing.T) {
	fixed := brain(t, "BrainT1SliceBorder20.png")
	w, h := fixed.Rect.Dx(), fixed.Rect.Dy()
	for _, c := range []struct {
		name         string
		turn, dx, dy float64
	}{
		{"BrainProtonDensitySliceBorder20.png", 0, 0, 0},
		{"BrainProtonDensitySliceShifted13x17y.png", 0, 13, 17},
		{"BrainProtonDensitySliceR10X13Y17.png", 10.003, 13.09, 15.91},
	} {
		moving := brain(t, c.name)
		f := flat{make([]float32, len(moving.Pix)), moving.Rect.Dx(), moving.Rect.Dy()}
		for i, v := range moving.Pix {
			f.v[i] = float32(v)
		}
		from := Registration{Pose: geom.Pose{X: geom.Vec{X: 1}, Y: geom.Vec{Y: 1}, Scale: 1}, Method: ByLevel}
		r, err := Refine(context.Background(), from, fixed, 1, f, Options{Finest: 1, Rough: Rough{Shift: 14, Level: 0.1, Tilt: 1e-3, Turn: 0.15, Stretch: 1e-3}})
		if err != nil {
			t.Fatal(err)
		}
		centre := geom.MM{X: float64(w-1) / 2, Y: float64(h-1) / 2}
		at := r.Pose.At(centre)
		turn := math.Atan2(r.Pose.X.Y, r.Pose.X.X) * 180 / math.Pi
		t.Logf("%s (%dx%d): turn %.2f, shift %.2f %.2f, score %.3f", c.name, f.w, f.h, turn, at.X-centre.X, at.Y-centre.Y, r.Score)
		near(t, c.name+" turn", turn, c.turn, 0.5)
		near(t, c.name+" x", at.X-centre.X, c.dx, 0.5)
		near(t, c.name+" y", at.Y-centre.Y, c.dy, 0.5)
	}
}
