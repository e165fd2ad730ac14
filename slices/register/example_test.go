package register_test

import (
	"fmt"

	"sectionary/slices/geom"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// Two tie levels place every other face of the run.
func ExampleNewLevels() {
	ties := []register.Level{{Run: 62.4, Scan: 812}, {Run: 316.8, Scan: 560}}
	levels, err := register.NewLevels(ties, register.Direction(section.Superior))
	if err != nil {
		fmt.Println(err)
		return
	}
	z, beyond := levels.Scan(189.6)
	fmt.Printf("%.1f mm, beyond the ties: %v, stretch %.2f %%\n", z, beyond, levels.Stretches()[0].Percent)
	// Output: 686.0 mm, beyond the ties: false, stretch -0.94 %
}

// Landmarks lay a face in the scan; a mirrored picture stops.
func ExampleFromTies() {
	var ties, mirrored []register.Tie
	for _, p := range []geom.Px{{X: 20, Y: 10}, {X: 250, Y: 30}, {X: 230, Y: 180}, {X: 40, Y: 160}} {
		at := geom.LPS{X: p.X - 150, Y: p.Y - 100, Z: 700} // the lower face seen from below, front at the top
		ties = append(ties, register.Tie{Face: p, Scan: at})
		mirrored = append(mirrored, register.Tie{Face: geom.Px{X: 300 - p.X, Y: p.Y}, Scan: at})
	}
	r, err := register.FromTies("1.2.3", register.Unity, ties, section.Inferior, false)
	fmt.Println(section.FacingOf(r.Pose.Outward()), err)
	_, err = register.FromTies("1.2.3", register.Unity, mirrored, section.Inferior, false)
	fmt.Println(err)
	// Output:
	// inferior <nil>
	// register: the ties fit only with the face turned over: it was declared the inferior face but looks superior; the picture may be mirrored, this may be the superior face, or landmarks may be exchanged
}
