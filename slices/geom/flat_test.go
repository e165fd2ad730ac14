package geom

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// A known affine map is found again, three points fit exactly, and what is left over is at right angles to everything the map can do: the
// normal equations of least squares (Gauss), which need no second program to be checked by.
func TestFitAffineFlat(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 12).Draw(t, "n")
		v := rapid.Float64Range(-2, 2)
		want := Homography{v.Draw(t, "a"), v.Draw(t, "b"), 100 * v.Draw(t, "c"), v.Draw(t, "d"), v.Draw(t, "e"), 100 * v.Draw(t, "f"), 0, 0, 1}
		px, mm := make([]Px, n), make([]MM, n)
		at, slip := rapid.Float64Range(0, 1000), rapid.Float64Range(-3, 3)
		noisy := rapid.Bool().Draw(t, "noisy")
		for i := range px {
			px[i] = Px{at.Draw(t, "x"), at.Draw(t, "y")}
			mm[i] = want.MM(px[i])
			if noisy {
				mm[i].X, mm[i].Y = mm[i].X+slip.Draw(t, "u"), mm[i].Y+slip.Draw(t, "v")
			}
		}
		h, res, err := FitAffineFlat(px, mm)
		if errors.Is(err, ErrDegenerate) {
			return
		}
		if err != nil || res.Freedom != 2*n-6 || len(res.Each) != n {
			t.Fatalf("%v %+v", err, res)
		}
		var sums [6]float64
		size, wide := 1.0, 1.0
		for i, q := range px {
			p := h.MM(q)
			u, w := p.X-mm[i].X, p.Y-mm[i].Y
			for k, f := range [3]float64{q.X, q.Y, 1} {
				sums[k], sums[3+k] = sums[k]+f*u, sums[3+k]+f*w
			}
			size, wide = math.Max(size, math.Abs(p.X)+math.Abs(p.Y)), math.Max(wide, q.X+q.Y)
			if !noisy && p.Dist(mm[i]) > 1e-6*size {
				t.Fatalf("point %d is %g off", i, p.Dist(mm[i]))
			}
			if n == 3 && p.Dist(mm[i]) > 1e-4*size {
				t.Fatalf("three points do not fit: %g", p.Dist(mm[i]))
			}
		}
		for k, s := range sums {
			if math.Abs(s) > 1e-6*size*wide*float64(n) {
				t.Fatalf("normal equation %d: %g", k, s)
			}
		}
	})
	if _, _, err := FitAffineFlat([]Px{{X: 1}, {X: 2}}, make([]MM, 2)); !errors.Is(err, ErrTooFewPoints) {
		t.Errorf("two points: %v", err)
	}
	if _, _, err := FitAffineFlat([]Px{{X: 1, Y: 1}, {X: 2, Y: 2}, {X: 3, Y: 3}, {X: 9, Y: 9}}, make([]MM, 4)); !errors.Is(err, ErrDegenerate) {
		t.Errorf("points on a line: %v", err)
	}
	if _, _, err := FitAffineFlat([]Px{{X: math.NaN()}, {X: 2}, {Y: 3}}, make([]MM, 3)); !errors.Is(err, ErrDegenerate) {
		t.Errorf("no number: %v", err)
	}
	if _, _, err := FitAffineFlat([]Px{{}, {X: 2}, {Y: 3}}, []MM{{X: math.Inf(1)}, {}, {}}); !errors.Is(err, ErrDegenerate) {
		t.Errorf("no end: %v", err)
	}
}
