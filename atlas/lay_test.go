package atlas

import (
	"errors"
	"math"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// A scale plate may lie any way round in the picture: the axes of its mm say nothing about the top of the photograph.
// Landmarks are laid on a square pose by hand; only a top that was declared wrongly may be refused.
func TestLayWithAskewScale(t *testing.T) {
	for _, angle := range []float64{0, 0.4, math.Pi / 2, math.Pi, -2} {
		for _, mirrored := range []Answer{No, Yes} {
			sin, cos := math.Sincos(angle)
			p := Plate{ID: "p", Face: section.Face{Run: "r", Slab: 1, Facing: section.Inferior}, PhotoUp: section.Posterior, Mirrored: mirrored}
			p.Photo.Size.X, p.Photo.Size.Y = 800, 600
			p.Calibration = photo.Calibration{Status: photo.Scaled, ToMM: geom.Homography{0.5 * cos, -0.5 * sin, 7, 0.5 * sin, 0.5 * cos, 9, 0, 0, 1}}
			pose, err := section.SquarePose(p.Face.Facing, p.PhotoUp, geom.LPS{X: 3, Y: -20, Z: 40})
			if err != nil {
				t.Fatal(err)
			}
			var ties []register.Tie
			for _, q := range []geom.Px{{X: 100, Y: 100}, {X: 700, Y: 150}, {X: 650, Y: 500}, {X: 200, Y: 450}} {
				x := q.X
				if mirrored == Yes {
					x = 799 - x
				}
				ties = append(ties, register.Tie{Face: q, Scan: pose.At(geom.MM{X: 0.5 * x, Y: 0.5 * q.Y})})
			}
			got, err := p.Lay("s", ties, false)
			if err != nil || got.Registration.Fit.RMS > 1e-6 {
				t.Errorf("turned by %.1f, mirrored %v: %v", angle, mirrored, err)
			}
			p.PhotoUp = section.Anterior
			if _, err := p.Lay("s", ties, false); !errors.Is(err, ErrOtherTop) {
				t.Errorf("turned by %.1f, mirrored %v, wrong top: %v", angle, mirrored, err)
			}
		}
	}
}

// Landmarks on a photograph that a lens bent are straightened before the face is laid on them: where they were seen they lie on no plane
// of one scale. The places are laid by hand through the lens.
func TestLayThroughALens(t *testing.T) {
	for _, mirrored := range []Answer{No, Yes} {
		lens := standLens()
		p := Plate{ID: "p", Face: section.Face{Run: "r", Slab: 1, Facing: section.Inferior}, PhotoUp: section.Posterior, Mirrored: mirrored}
		p.Photo.Size = lens.Size
		p.Calibration = photo.Calibration{Status: photo.Scaled, ToMM: geom.Homography{0.1, 0, 0, 0, 0.1, 0, 0, 0, 1}, Lens: lens}
		pose, err := section.SquarePose(p.Face.Facing, p.PhotoUp, geom.LPS{X: 3, Y: -20, Z: 40})
		if err != nil {
			t.Fatal(err)
		}
		var ties []register.Tie
		for _, q := range []geom.MM{{X: 20, Y: 20}, {X: 380, Y: 25}, {X: 370, Y: 280}, {X: 40, Y: 270}, {X: 200, Y: 150}} {
			straight := geom.Px{X: q.X / 0.1, Y: q.Y / 0.1}
			at := q
			if mirrored == Yes {
				at.X = -q.X
			}
			ties = append(ties, register.Tie{Face: lens.Bent(straight), Scan: pose.At(at)})
		}
		got, err := p.Lay("s", ties, false)
		if err != nil || got.Registration.Fit.RMS > 1e-6 {
			t.Fatalf("mirrored %v: %v", mirrored, err)
		}
		p.Calibration.Lens = nil
		blind, err := p.Lay("s", ties, false)
		if err == nil && blind.Registration.Fit.RMS < 1 {
			t.Errorf("mirrored %v: without the lens the landmarks fit to %.2f mm, so they prove nothing", mirrored, blind.Registration.Fit.RMS)
		}
	}
}
