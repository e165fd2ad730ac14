package bench

import (
	"math"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// The cut shows what the volume holds: values under the pixels against the volume's own trilinear samples.
func TestCutShowsTheVolume(t *testing.T) {
	b, _, _, _, s := onPairing(t)
	b.SetView(section.OtherSide)
	m := painted(s, 640, 560, 1)
	pose, _, _ := b.cutPose()
	v, _ := s.viewport(pose)
	for i := range 400 {
		x, y := 60+i*13%520, 120+i*29%300
		q := v.Picture(geom.Px{X: float64(x), Y: float64(y)})
		want := b.pair.volume.Sample(pose.At(geom.MM{X: q.X, Y: q.Y}))
		got := s.cut.values[(y-s.in.Min.Y)*s.cut.key.w+x-s.in.Min.X]
		if math.IsNaN(want) != (got != got) || (!math.IsNaN(want) && math.Abs(want-float64(got)) > 0.05) {
			t.Fatalf("pixel %d, %d: %.2f, want %.2f", x, y, got, want)
		}
		if g := b.Window().Level(want); !math.IsNaN(want) && x < 400 && y > 200 && y < 360 {
			if c := m.RGBAAt(x, y); math.Abs(float64(c.R)-g) > 1 {
				t.Fatalf("pixel %d, %d: grey %d, want %.1f", x, y, c.R, g)
			}
		}
	}
}

// Held keys: B shows the scan in the place of the face, Space shows it in a lens about the pointer; let go, the face is
// back.
func TestLensAndBlink(t *testing.T) {
	b, _, _, f, s := onPairing(t)
	s.Resize(700, 560, 1)
	plain := painted(f, 700, 560, 1)
	scan := painted(s, 700, 560, 1)
	at := geom.Px{X: 300, Y: 300}
	f.Hover(at)
	same := func(x, y int, what string, want bool) {
		t.Helper()
		m := painted(f, 700, 560, 1)
		if got := near(m.RGBAAt(x, y), scan.RGBAAt(x, y)); got != want {
			t.Fatalf("%s: pixel %d, %d is %v, the scan has %v, the face %v", what, x, y, m.RGBAAt(x, y), scan.RGBAAt(x, y), plain.RGBAAt(x, y))
		}
	}
	same(330, 280, "no key", false)
	b.Key("B", Mods{})
	same(330, 280, "B held", true)
	same(480, 280, "B held", true)
	b.KeyUp("B")
	b.Key("Space", Mods{})
	same(330, 280, "in the lens", true)
	same(480, 280, "beside the lens", false)
	b.KeyUp("Space")
	same(330, 280, "let go", false)
}

// The ramp shows what the window says, for every kind of window and far beyond its ends.
func TestRampFollowsTheWindow(t *testing.T) {
	for _, w := range []scan.Window{{Centre: 50, Width: 400}, {Centre: 0.4, Width: 0.9, Function: scan.LinearExact}, {Centre: 300, Width: 200, Function: scan.Sigmoid},
		{Centre: 50, Width: 400, Inverse: true}, {Table: []float64{0, 0.2, 0.9, 0.4, 1}, First: 10, Centre: 0, Width: 1}} {
		r := newRamp(w)
		for i := range 400 {
			x := w.Centre + w.Width*(float64(i)/40-5)
			if len(w.Table) > 0 {
				x = math.Round(x) + 12
			}
			if got, want := float64(r.grey(float32(x))), w.Level(x); math.Abs(got-want) > 1 {
				t.Errorf("%+v: %g is %.0f, want %.1f", w, x, got, want)
			}
		}
	}
}
