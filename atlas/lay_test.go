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
