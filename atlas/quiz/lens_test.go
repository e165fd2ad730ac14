package quiz

import (
	"image"
	"image/color"
	"math"
	"testing"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// A photograph taken through a bent lens is straight on paper: dots that lie on a square grid of the face, photographed through the lens,
// are printed on that grid, and a map without the lens prints them elsewhere. Places are known by construction.
func TestPaperIsStraightThroughALens(t *testing.T) {
	lens := &photo.Lens{FX: 900, FY: 900, CX: 399.5, CY: 299.5, K1: -0.15, K2: 0.02, Size: image.Pt(800, 600)}
	if err := lens.Fits(lens.Size); err != nil {
		t.Fatal(err)
	}
	const per = 0.5 // mm a straightened pixel
	var dots []geom.MM
	for y := 40.0; y <= 260; y += 44 {
		for x := 50.0; x <= 350; x += 50 {
			dots = append(dots, geom.MM{X: x, Y: y})
		}
	}
	m := image.NewGray(image.Rectangle{Max: lens.Size})
	for i := range m.Pix {
		m.Pix[i] = 200
	}
	for _, d := range dots {
		at := lens.Bent(geom.Px{X: d.X / per, Y: d.Y / per})
		for y := int(at.Y) - 6; y <= int(at.Y)+7; y++ {
			for x := int(at.X) - 6; x <= int(at.X)+7; x++ {
				if at.Dist(geom.Px{X: float64(x), Y: float64(y)}) < 4 {
					m.SetGray(x, y, color.Gray{Y: 10})
				}
			}
		}
	}
	p := atlas.Plate{Face: section.Face{Run: "R", Slab: 1, Facing: section.Inferior}, Photo: photo.Info{Size: lens.Size}, PhotoUp: section.Anterior,
		Mirrored: atlas.No, Calibration: photo.Calibration{Status: photo.Scaled, ToMM: geom.Homography{per, 0, 0, 0, per, 0, 0, 0, 1}, Lens: lens}}
	worst := func(p atlas.Plate) (off float64) {
		f, err := newFaceView(p, photo.NewImage(m), section.Bench)
		if err != nil {
			t.Fatal(err)
		}
		f.fitTo(1, area{0, 0, f.box.W, f.box.H})
		const dpmm = 4
		w, h := int(f.box.W*dpmm), int(f.box.H*dpmm)
		out := f.render(w, h)
		for _, d := range dots {
			// nothing is turned: the lens is centred and the plane lies square to the picture
			want := f.onPaper(spot{f.l[0]*d.X + f.l[1]*d.Y, f.l[2]*d.X + f.l[3]*d.Y})
			x, y := want.X*dpmm-0.5, want.Y*dpmm-0.5
			var sum, sx, sy float64
			for j := -24; j <= 24; j++ {
				for i := -24; i <= 24; i++ {
					c := out.RGBAAt(int(math.Round(x))+i, int(math.Round(y))+j)
					if dark := math.Max(0, 120-float64(c.R)); c.A == 255 && dark > 0 {
						sum, sx, sy = sum+dark, sx+dark*(math.Round(x)+float64(i)), sy+dark*(math.Round(y)+float64(j))
					}
				}
			}
			if sum == 0 {
				return math.Inf(1)
			}
			off = math.Max(off, math.Hypot(sx/sum-x, sy/sum-y)/dpmm)
		}
		return off
	}
	through := worst(p)
	p.Calibration.Lens = nil
	plain := worst(p)
	t.Logf("dots are printed %.2f mm off at most through the lens, %.2f mm without", through, plain)
	if through > 0.3 || plain < 2 {
		t.Errorf("dots are printed %.2f mm off through the lens, %.2f mm without", through, plain)
	}
}
