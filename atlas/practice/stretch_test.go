package practice

import (
	"math"
	"testing"

	"sectionary/slices/register"
)

// MS3 on the practice material: the stretch told from the landmarks agrees with the sag each slab was given, and the stated standard errors are
// honest: root mean square of (told - true) / error near one. The truth is the material's own.
func TestMS3StretchAgainstTruth(t *testing.T) {
	_, truth := truthOf(t)
	var sum float64
	n := 0
	worst := 0.0
	for _, f := range truth.Faces {
		if len(f.Ties) < 5 {
			continue
		}
		var ties []register.Tie
		for _, x := range f.Ties {
			ties = append(ties, register.Tie{Face: x.Px, Scan: x.Scan})
		}
		r, err := register.FromTies("s", f.PxToMM, ties, f.Face.Facing, false)
		if err != nil {
			t.Fatalf("%s: %v", f.Face.Name(), err)
		}
		right, down, err := r.Across()
		if err != nil {
			continue
		}
		for i, p := range []register.Percent{right, down} {
			want := 100 * (1/(1+f.Sag[i]) - 1) // the scan against a slab that lies wider than it is
			off := p.Value - want
			worst = math.Max(worst, math.Abs(off))
			sum, n = sum+off*off/(p.SE*p.SE), n+1
		}
	}
	z := math.Sqrt(sum / float64(n))
	t.Logf("%d figures: worst %.2f %%, off by %.2f of the stated error", n, worst, z)
	if n < 20 || worst > 1.5 || z > 1.6 || z < 0.6 {
		t.Errorf("%d figures: worst %.2f %% off, %.2f of the stated error", n, worst, z)
	}
}
