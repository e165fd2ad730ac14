package ui

import (
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
)

// What lies at the linked pointer stands beside it, within the pane wherever there is room and never over the place itself.
func TestPointerWordsStandBeside(t *testing.T) {
	test.NewApp()
	x, size := newPointerCross(), fyne.NewSize(480, 590)
	for _, c := range []fyne.Position{{X: 240, Y: 300}, {X: 470, Y: 300}, {X: 240, Y: 5}, {X: 475, Y: 4}, {X: 2, Y: 588}} {
		for _, radius := range []float32{0, 0.4, 30} {
			x.show(c, radius, "superior vena cava, ± 0.6 mm", size)
			p, s := x.ground.Position(), x.ground.Size()
			if p.X < 0 || p.Y < 0 || p.X+s.Width > size.Width || p.Y+s.Height > size.Height {
				t.Errorf("at %v, radius %g: %v %v leaves the pane", c, radius, p, s)
			}
			if p.X < c.X+radius && c.X-radius < p.X+s.Width && p.Y < c.Y+radius && c.Y-radius < p.Y+s.Height {
				t.Errorf("at %v, radius %g: %v %v hides the place", c, radius, p, s)
			}
			if !x.said.Visible() || x.circle.Visible() != (radius > 0) {
				t.Errorf("at %v, radius %g: words %v, circle %v", c, radius, x.said.Visible(), x.circle.Visible())
			}
		}
	}
	x.show(fyne.NewPos(9, 9), 0, "", size)
	if x.said.Visible() || x.ground.Visible() || !x.lines[3].Visible() {
		t.Error("without words the cross stands alone")
	}
	x.hide()
	for _, o := range x.objects() {
		if o.Visible() {
			t.Error("something stays when the pointer is gone")
		}
	}
}
