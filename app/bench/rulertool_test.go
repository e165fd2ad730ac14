package bench

import (
	"image"
	"image/color"
	"math"
	"testing"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
)

// withRuler draws a ruler of 30 ticks, 12 px apart, into the photograph on the bench: 1 mm to a step would be 1/12 mm per px.
func withRuler(b *Bench) {
	img := image.NewRGBA(image.Rectangle{Max: b.doc.picture.Size()})
	b.doc.picture.Draw(img, [6]float64{1, 0, 0, 0, 1, 0})
	ink.FillRect(img, image.Rect(100, 440, 520, 500), color.RGBA{230, 226, 214, 255})
	for k := range 30 {
		long := 20
		if k%5 == 0 {
			long = 32
		}
		ink.FillRect(img, image.Rect(130+12*k, 446, 133+12*k, 446+long), color.RGBA{20, 20, 20, 255})
	}
	b.doc.picture, b.doc.whole = photo.NewImage(img), true
}

// A ruler is found unasked where there is no scale, lies on the picture as a suggestion, and becomes the scale in one undo
// step once a person has said what a step is.
func TestFindTheRuler(t *testing.T) {
	b, q, _, f := onBench(t, 900, 700)
	q.run()
	b.ClearScale()
	withRuler(b)
	b.SetTool(ToolScale)
	if !b.Seeking() || len(b.Jobs()) != 1 {
		t.Fatal("no ruler is looked for")
	}
	q.run()
	s := b.Scale()
	if s.Ruler == nil || s.Ruler.Steps != 29 || math.Abs(s.Ruler.Spacing-12) > 0.02 || s.Ready || !has(s.Needs, "one step") {
		t.Fatalf("%+v", s)
	}
	if s.Points[0].Dist(geom.Px{X: 131, Y: s.Points[0].Y}) > 0.5 && s.Points[1].Dist(geom.Px{X: 131, Y: s.Points[1].Y}) > 0.5 {
		t.Fatalf("ends at %v", s.Points)
	}
	b.SetRulerStep(5)
	b.SetScaleLevel(atlas.Yes, 0, 0)
	if s = b.Scale(); !s.Ready || s.Length != 145 {
		t.Fatalf("%+v", s)
	}
	// an end goes to another tick, and the length with it
	end := b.doc.view.Device(s.Points[0])
	to := b.doc.view.Device(s.Ruler.Ticks[9])
	f.Down(end, Primary, Mods{})
	f.Drag(geom.Px{X: to.X + 2, Y: to.Y + 1})
	f.Up(to)
	if s = b.Scale(); s.Length != 100 || s.Ruler.Steps != 20 || s.Points[0] != s.Ruler.Ticks[9] {
		t.Fatalf("%+v", s)
	}
	if err := b.AcceptScale(); err != nil {
		t.Fatal(err)
	}
	c, _ := b.hasScale()
	if x, _ := c.PerPixel(geom.Px{X: 300, Y: 300}); math.Abs(x-5.0/12) > 0.001 {
		t.Errorf("%.4f mm per pixel", x)
	}
	if b.UndoName() != Word("step.scale") {
		t.Errorf("undo %q", b.UndoName())
	}
	b.Undo()
	if _, ok := b.hasScale(); ok {
		t.Error("undo left the scale")
	}
}

// A click by hand lets the suggestion go; a search that finds none says so only when it was asked for; a tick clicked
// meanwhile is not overwritten.
func TestRulerGivesWayToTheHand(t *testing.T) {
	b, q, _, f := onBench(t, 900, 700)
	q.run()
	b.ClearScale()
	b.SetTool(ToolScale)
	q.run()
	if w, warn := b.Hint(); warn {
		t.Errorf("unasked: %q", w)
	}
	b.FindRuler()
	q.run()
	if w, warn := b.Hint(); !warn || !has(w, "No ruler") {
		t.Errorf("%q", w)
	}
	withRuler(b)
	b.FindRuler()
	clickAt(f, geom.Px{X: 300, Y: 300})
	q.run()
	if s := b.Scale(); s.Ruler != nil || len(s.Points) != 1 {
		t.Errorf("%+v", s)
	}
	b.FindRuler()
	q.run()
	clickAt(f, geom.Px{X: 300, Y: 300})
	if s := b.Scale(); s.Ruler != nil || len(s.Points) != 1 {
		t.Errorf("%+v", s)
	}
}
