package bench

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"sectionary/slices/geom"
)

// Vertices must map back to the original pixel within 0.01 px after any chain of turns, mirrors, zooms and pans
// (capability LB1). A second way of reaching the same map, matrices multiplied one after another, checks the first.
func TestViewportComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := Viewport{W: rapid.IntRange(50, 4000).Draw(t, "w"), H: rapid.IntRange(50, 4000).Draw(t, "h"), Zoom: 1}
		size := geom.Px{X: rapid.Float64Range(100, 12000).Draw(t, "pw"), Y: rapid.Float64Range(100, 9000).Draw(t, "ph")}
		v = v.Fit(size.X, size.Y)
		for range rapid.IntRange(0, 40).Draw(t, "steps") {
			d := geom.Px{X: rapid.Float64Range(0, float64(v.W)).Draw(t, "x"), Y: rapid.Float64Range(0, float64(v.H)).Draw(t, "y")}
			switch rapid.IntRange(0, 3).Draw(t, "what") {
			case 0:
				hold := v.Picture(d)
				v = v.ZoomAt(d, rapid.Float64Range(0.2, 5).Draw(t, "by"), 1e-3, 64)
				if got := v.Device(hold); got.Dist(d) > 1e-6*(1+v.Zoom) {
					t.Fatalf("the point under the pointer moved by %g px", got.Dist(d))
				}
			case 1:
				hold := v.Picture(d)
				v = v.Pan(d.X-20, d.Y-20)
				if got := v.Device(hold); math.Hypot(got.X-(d.X+d.X-20), got.Y-(d.Y+d.Y-20)) > 1e-6*(1+v.Zoom) {
					t.Fatalf("panned to %v from %v", got, d)
				}
			case 2:
				v.Turns = (v.Turns + rapid.IntRange(-3, 3).Draw(t, "turn")) & 3
			case 3:
				v.Mirror = !v.Mirror
			}
		}
		p := geom.Px{X: rapid.Float64Range(0, size.X).Draw(t, "px"), Y: rapid.Float64Range(0, size.Y).Draw(t, "py")}
		if back := v.Picture(v.Device(p)); back.Dist(p) > 0.01 {
			t.Fatalf("%v came back as %v", p, back)
		}
		f, i := v.Forward(), v.Inverse()
		d := v.Device(p)
		if g := apply(f, p); g.Dist(d) > 1e-6*(1+math.Abs(d.X)+math.Abs(d.Y)) {
			t.Fatalf("Forward %v, Device %v", g, d)
		}
		if g := apply(i, apply(f, p)); g.Dist(p) > 0.01 {
			t.Fatalf("matrices bring %v back as %v", p, g)
		}
	})
}

// Turning one quarter clockwise carries the top of the picture to the right: worked by hand.
func TestViewportTurnsClockwise(t *testing.T) {
	v := Viewport{W: 101, H: 101, Zoom: 1, Centre: geom.Px{X: 50, Y: 50}, Turns: 1}
	if got := v.Device(geom.Px{X: 50, Y: 0}); got != (geom.Px{X: 100, Y: 50}) {
		t.Errorf("top went to %v, want the right edge", got)
	}
	v.Mirror = true
	if got := v.Device(geom.Px{X: 50, Y: 0}); got != (geom.Px{X: 0, Y: 50}) {
		t.Errorf("turned and mirrored, top went to %v, want the left edge", got)
	}
}

// A mirrored photograph is mirrored back before it is turned: checked against doing the two one after the other.
func TestHonestIsMirrorThenTurn(t *testing.T) {
	for turns := range 4 {
		for _, mirror := range []bool{false, true} {
			q, m := honest(turns, mirror, true)
			got := Viewport{Zoom: 1, W: 1, H: 1, Turns: q, Mirror: m}
			plain := Viewport{Zoom: 1, W: 1, H: 1, Turns: turns, Mirror: mirror}
			p := geom.Px{X: 3, Y: 5}
			if a, b := got.Device(p), plain.Device(geom.Px{X: -p.X, Y: p.Y}); a != b {
				t.Errorf("turns %d mirror %v: %v, want %v", turns, mirror, a, b)
			}
		}
	}
}

func apply(m [6]float64, p geom.Px) geom.Px {
	return geom.Px{X: m[0]*p.X + m[1]*p.Y + m[2], Y: m[3]*p.X + m[4]*p.Y + m[5]}
}
