package photo

import (
	"context"
	"image"
	"image/color"
	"math"
	"testing"

	"sectionary/slices/geom"
)

// sheetScene is a picture of a chequer sheet of columns x rows corners, 20 mm apart, laid by plane (mm to px of a straight lens) and
// bent by a lens; what lies outside the sheet is told by beside.
type sheetScene struct {
	size          image.Point
	plane         geom.Homography
	lens          Lens
	columns, rows int
	beside        func(p geom.Px) float64
}

func (s sheetScene) corner(i int) geom.Px {
	return s.lens.Bent(geom.Px(s.plane.MM(geom.Px{X: 20 * float64(i%s.columns), Y: 20 * float64(i/s.columns)})))
}

// photograph renders the scene with n x n samples a pixel.
func (s sheetScene) photograph() *image.Gray {
	back := s.plane.Inverse()
	n := 2
	if s.lens.FX > 0 {
		n = 3 // slanting edges everywhere
	}
	step := 1 / float64(n)
	m := image.NewGray(image.Rectangle{Max: s.size})
	for y := range s.size.Y {
		for x := range s.size.X {
			sum := 0.0
			for k := range n * n {
				p := geom.Px{X: float64(x) - 0.5 + (float64(k%n)+0.5)*step, Y: float64(y) - 0.5 + (float64(k/n)+0.5)*step}
				straight, _ := s.lens.Straight(p)
				q := back.MM(straight)
				i, j := math.Floor(q.X/20), math.Floor(q.Y/20)
				switch {
				case i >= -1 && j >= -1 && i < float64(s.columns) && j < float64(s.rows):
					sum += 225
					if int(i+j)&1 == 0 {
						sum -= 190
					}
				case q.X > -35 && q.Y > -35 && q.X < 20*float64(s.columns)+15 && q.Y < 20*float64(s.rows)+15:
					sum += 230 // the paper round it
				default:
					sum += s.beside(p)
				}
			}
			m.SetGray(x, y, color.Gray{Y: uint8(sum / float64(n*n))})
		}
	}
	return m
}

// clutter is a ruler and a tag: edges and corners of their own.
func clutter(p geom.Px) float64 {
	switch {
	case p.Y > 980 && p.Y < 1040:
		if math.Mod(p.X, 24) < 6 {
			return 20
		}
		return 240
	case p.X > 900 && p.X < 1200 && p.Y > 100 && p.Y < 300:
		if math.Mod(p.X, 40) < 18 && math.Mod(p.Y, 50) < 24 {
			return 15
		}
		return 250
	}
	return 120 + 60*math.Sin(p.X/31)*math.Cos(p.Y/27)
}

// Corners are known by construction; 0.3 px is the hard limit of the reference rendering.
func TestFindChequerAmongOtherThings(t *testing.T) {
	for name, s := range map[string]sheetScene{
		"in a corner of a face picture": {size: image.Pt(1400, 1050), plane: geom.Homography{2.1, 0.1, 240, -0.12, 2.2, 460, 1e-4, 5e-5, 1}, columns: 8, rows: 6, beside: clutter},
		"on its side":                   {size: image.Pt(1400, 1050), plane: geom.Homography{0.1, -2.3, 520, 2.2, 0.1, 340, 1e-5, 3e-5, 1}, columns: 8, rows: 6, beside: clutter},
		"seen very aslant":              {size: image.Pt(1400, 1050), plane: geom.Homography{3.2, -0.5, 520, 0.3, 3.4, 400, 2.6e-3, 3e-4, 1}, columns: 8, rows: 6, beside: func(geom.Px) float64 { return 100 }},
		"through a strongly bent lens": {size: image.Pt(1400, 1050), plane: geom.Homography{8.6, 0.1, 95, -0.1, 8.6, 90, 0, 0, 1},
			lens: Lens{FX: 1250, FY: 1250, CX: 700, CY: 520, K1: -0.16, K2: 0.03}, columns: 8, rows: 6, beside: func(geom.Px) float64 { return 110 }},
	} {
		m := NewImage(s.photograph())
		ties, err := FindChequer(context.Background(), m, s.columns, s.rows, 20)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		most := 0.0
		for i, tie := range ties {
			most = max(most, tie.Px.Dist(s.corner(i)))
		}
		t.Logf("%s: corners off by %.3f px at most", name, most)
		if most > 0.3 {
			t.Errorf("%s: corners are off by %.2f px", name, most)
		}
		if _, err := Grid(ties); err != nil {
			t.Errorf("%s: %v", name, err) // a mirrored order shows here
		}
		for _, wrong := range [][2]int{{9, 6}, {8, 7}, {10, 8}, {7, 5}} {
			if got, err := FindChequer(context.Background(), m, wrong[0], wrong[1], 20); err == nil {
				t.Errorf("%s: a sheet of %d x %d corners was found at %v", name, wrong[0], wrong[1], got[0].Px)
			}
		}
	}
}
