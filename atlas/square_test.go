package atlas

import (
	"image"
	"math"
	"testing"

	"pgregory.net/rapid"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// A face placed by level stands square to its picture however the scale plate lay in it: a step to the right of the
// picture runs along the axis that the law right x up = outward normal gives, and the middle meets the centre. Where
// the picture shows the face mirrored, right is that of the picture turned back.
func TestLevelPoseIsSquareToThePicture(t *testing.T) {
	run := section.Run{ID: "trunk", Plane: section.Transverse, First: section.Superior, Slabs: []section.Slab{{Number: 1, Thickness: [3]float64{20}}}}
	levels, err := register.NewLevels([]register.Level{{Run: 0, Scan: 100}}, register.Direction(run.First))
	if err != nil {
		t.Fatal(err)
	}
	centre := geom.LPS{X: 3, Y: -8, Z: 55}
	rapid.Check(t, func(t *rapid.T) {
		askew := rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "askew")
		mirrored := rapid.SampledFrom([]Answer{No, Yes}).Draw(t, "mirrored")
		up := rapid.SampledFrom([]section.Facing{section.Anterior, section.Posterior, section.Left, section.Right}).Draw(t, "up")
		facing := rapid.SampledFrom([]section.Facing{section.Superior, section.Inferior}).Draw(t, "facing")
		sin, cos := math.Sincos(askew)
		h := geom.Homography{0.25 * cos, -0.25 * sin, 7, 0.25 * sin, 0.25 * cos, -4, 0, 0, 1}
		p := Plate{Face: section.Face{Run: "trunk", Slab: 1, Facing: facing}, PhotoUp: up, Mirrored: mirrored,
			Photo: photo.Info{Size: image.Pt(400, 300)}, Calibration: photo.Calibration{ToMM: h, Status: photo.Rectified}}
		r, err := p.square("s", levels, run, centre)
		if err != nil {
			t.Fatal(err)
		}
		if err := r.Pose.Check(); err != nil {
			t.Fatal(err)
		}
		toMM, _ := p.FaceMM()
		at := func(x, y float64) geom.LPS { return r.Pose.At(toMM.MM(geom.Px{X: x, Y: y})) }
		middle := p.MiddlePx()
		wantZ := map[section.Facing]float64{section.Superior: 100, section.Inferior: 80}[facing]
		if d := at(middle.X, middle.Y).Dist(geom.LPS{X: centre.X, Y: centre.Y, Z: wantZ}); d > 1e-9 {
			t.Fatalf("the middle lies %g mm off", d)
		}
		right, top, err := section.Axes(section.Transverse, facing, up)
		if err != nil {
			t.Fatal(err)
		}
		step := 1.0
		if mirrored == Yes {
			step = -1
		}
		gotRight := at(middle.X+step, middle.Y).Sub(at(middle.X, middle.Y)).Mul(4)
		gotTop := at(middle.X, middle.Y-1).Sub(at(middle.X, middle.Y)).Mul(4)
		if gotRight.Sub(right).Len() > 1e-9 || gotTop.Sub(top).Len() > 1e-9 {
			t.Fatalf("right runs %v, want %v; up %v, want %v", gotRight, right, gotTop, top)
		}
	})
}
