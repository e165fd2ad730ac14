package register

import (
	"image"
	"image/color"
	"math"
	"testing"

	"sectionary/slices/geom"
)

// A brightness that rises evenly over the face must stay even after a leaning camera and back.
func TestFlatten(t *testing.T) {
	px := []geom.Px{{X: 30, Y: 20}, {X: 770, Y: 45}, {X: 740, Y: 560}, {X: 50, Y: 575}}
	mm := []geom.MM{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 200, Y: 150}, {X: 0, Y: 150}}
	h, _, err := geom.FitHomography(px, mm)
	if err != nil {
		t.Fatal(err)
	}
	bright := func(p geom.MM) float64 { return 40 + 0.6*p.X + 0.4*p.Y }
	gray := image.NewGray(image.Rect(5, 7, 805, 607)) // bounds that do not begin at 0
	rgba := image.NewRGBA(gray.Rect)
	ycc := image.NewYCbCr(gray.Rect, image.YCbCrSubsampleRatio420)
	for y := range 600 {
		for x := range 800 {
			v := uint8(min(max(bright(h.MM(geom.Px{X: float64(x), Y: float64(y)})), 0), 255))
			gray.SetGray(5+x, 7+y, color.Gray{Y: v})
			rgba.Set(5+x, 7+y, color.Gray{Y: v})
			ycc.Y[ycc.YOffset(5+x, 7+y)] = v
		}
	}
	for name, img := range map[string]image.Image{"grey": gray, "colour": rgba, "jpeg": ycc} {
		face, inside, corner, err := Flatten(img, h, 1)
		if err != nil {
			t.Fatal(err)
		}
		seen := 0
		for j := range face.Rect.Dy() {
			for i := range face.Rect.Dx() {
				p := geom.MM{X: corner.X + float64(i), Y: corner.Y + float64(j)}
				if inside.AlphaAt(i, j).A == 0 || p.X < 0 || p.Y < 0 || p.X > 200 || p.Y > 150 {
					continue
				}
				seen++
				if got := float64(face.GrayAt(i, j).Y); math.Abs(got-bright(p)) > 1.5 {
					t.Fatalf("%s: %v is %g, want %.1f", name, p, got, bright(p))
				}
			}
		}
		if seen < 200*150 {
			t.Errorf("%s: only %d mm² lie inside", name, seen)
		}
	}
	for _, spacing := range []float64{0, -1, 1e-4, math.NaN()} {
		if _, _, _, err := Flatten(gray, h, spacing); err == nil {
			t.Errorf("spacing %g was taken", spacing)
		}
	}
	if _, _, _, err := Flatten(gray, geom.Homography{}, 1); err == nil {
		t.Error("no calibration was taken")
	}
}
