package bench

import (
	"image"
	"math"
	"testing"

	"sectionary/slices/geom"
)

// CP5: with D held a straight seam through the pointer parts face and scan; arrows and wheel turn it, near the edge letters'
// directions it lies along them; let go, the face is whole again.
func TestCP5Seam(t *testing.T) {
	b, _, _, f, s := onPairing(t)
	s.Resize(700, 560, 1)
	plain, scan := painted(f, 700, 560, 1), painted(s, 700, 560, 1)
	at := geom.Px{X: 300, Y: 280}
	f.Hover(at)
	is := func(m *image.RGBA, x, y int, what string, wantScan bool) {
		t.Helper()
		want, from := plain, "the face"
		if wantScan {
			want, from = scan, "the scan"
		}
		if !near(m.RGBAAt(x, y), want.RGBAAt(x, y)) {
			t.Fatalf("%s: pixel %d, %d is %v, %s has %v", what, x, y, m.RGBAAt(x, y), from, want.RGBAAt(x, y))
		}
	}
	b.Key("D", Mods{})
	m := painted(f, 700, 560, 1)
	is(m, 330, 250, "upright seam", true)
	is(m, 330, 310, "upright seam", true)
	is(m, 270, 250, "upright seam", false)
	b.Key("Down", Mods{}) // a quarter clockwise: the scan lies below
	m = painted(f, 700, 560, 1)
	is(m, 330, 250, "level seam", false)
	is(m, 330, 310, "level seam", true)
	is(m, 270, 310, "level seam", true)
	b.Key("Right", Mods{})
	if got := b.seamTurn(); got != 90 {
		t.Errorf("five degrees off the letters the seam lies at %g, want 90", got)
	}
	f.Wheel(at, 1, Mods{})
	if got := b.seamTurn(); got != 100 {
		t.Errorf("ten degrees off the letters the seam lies at %g, want 100", got)
	}
	if b.Face() != f.b.doc.plate().Face {
		t.Error("an arrow left the face while the seam was held")
	}
	b.KeyUp("D")
	is(painted(f, 700, 560, 1), 330, 310, "let go", false)
}

// The pixels right of a line are those whose cross product with its direction says so, for lines at any turn.
func TestRightOfALine(t *testing.T) {
	for turn := 0.0; turn < 360; turn += 7.5 {
		sin, cos := math.Sincos(turn * math.Pi / 180)
		at, along := geom.Px{X: 20.3, Y: 15.6}, geom.Px{X: sin, Y: -cos}
		for y := range 30 {
			from, to := rightOf(at, along, y, 0, 40)
			for x := range 40 {
				side := along.X*(float64(y)-at.Y) - along.Y*(float64(x)-at.X)
				if in := x >= from && x < to; math.Abs(side) > 1e-6 && in != (side > 0) {
					t.Fatalf("turn %g: pixel %d, %d, side %g: %v", turn, x, y, side, in)
				}
			}
		}
	}
}
