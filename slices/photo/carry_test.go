package photo

import (
	"errors"
	"math"
	"testing"

	"sectionary/slices/geom"
)

// A scale carried to a tilted second picture measures what the first measures, and says that it is less sure.
func TestCarriedScale(t *testing.T) {
	first, err := Grid([]Tie{{geom.Px{X: 0, Y: 0}, geom.MM{}}, {geom.Px{X: 1000, Y: 0}, geom.MM{X: 250}}, {geom.Px{X: 1000, Y: 800}, geom.MM{X: 250, Y: 200}}, {geom.Px{X: 0, Y: 800}, geom.MM{Y: 200}}})
	if err != nil {
		t.Fatal(err)
	}
	see := geom.Homography{0.9, 0.2, 30, -0.25, 1.05, 280, 2e-5, -1e-5, 1}
	var old, now []geom.Px
	for _, q := range []geom.Px{{X: 100, Y: 100}, {X: 900, Y: 150}, {X: 850, Y: 700}, {X: 150, Y: 650}, {X: 500, Y: 400}} {
		old, now = append(old, q), append(now, geom.Px(see.MM(q)))
	}
	c, err := CarryScale(first, see.Inverse(), old, now, false)
	if err != nil {
		t.Fatal(err)
	}
	a, b := geom.Px{X: 300, Y: 300}, geom.Px{X: 700, Y: 420}
	want, was, _ := first.Length(a, b)
	got, is, _ := c.Length(geom.Px(see.MM(a)), geom.Px(see.MM(b)))
	near(t, "length", got, want, 1e-6)
	if !(is > was) {
		t.Errorf("spread %.4f mm, before %.4f mm", is, was)
	}
	// By hand: clicks of 0.8 px at about 0.25 mm on both pictures are 0.28 mm at each end of the longest pair.
	if len(c.Doubts) != 1 || c.Doubts[0].Why != ByTies || c.Doubts[0].Share < math.Sqrt2*0.28/241 || c.Doubts[0].Share > 0.01 {
		t.Errorf("carried spread %+v", c.Doubts)
	}
	// Seen from behind the same pairs lie mirrored.
	flip := geom.Homography{-1, 0, 2000, 0, 1, 0, 0, 0, 1}
	behind := flip.Times(see).Inverse()
	over := make([]geom.Px, len(now))
	for i, q := range now {
		over[i] = geom.Px{X: 2000 - q.X, Y: q.Y}
	}
	if _, err := CarryScale(first, behind, old, over, false); !errors.Is(err, ErrMirroredTies) {
		t.Errorf("mirrored pairs: %v", err)
	}
	if _, err := CarryScale(first, behind, old, over, true); err != nil {
		t.Error(err)
	}
	if _, err := CarryScale(Calibration{}, see.Inverse(), old, now, false); !errors.Is(err, ErrNoScale) {
		t.Errorf("no scale: %v", err)
	}
	if _, err := CarryScale(first, see.Inverse(), old[:3], now, false); err == nil {
		t.Error("pixels without partners pass")
	}
}
