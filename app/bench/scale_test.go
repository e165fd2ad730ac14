package bench

import (
	"math"
	"strings"
	"testing"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// Scale by two ticks: 100 mm over 200 px is 0.5 mm per pixel. A scale 25 mm below the face under a camera 1,000 mm above
// it reads 2.5 % long (similar triangles).
func TestScaleByTwoTicks(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	b.ClearScale()
	if b.MeasureWords() != "no scale" || f.perMM(b.doc) != 0 {
		t.Fatal("lengths show without a scale")
	}
	b.SetTool(ToolScale)
	clickAt(f, geom.Px{X: 200, Y: 500})
	clickAt(f, geom.Px{X: 400, Y: 500})
	if s := b.Scale(); s.Ready || !has(s.Needs, "mm") {
		t.Fatalf("%+v", s)
	}
	b.SetScaleLength(102.5)
	if s := b.Scale(); s.Ready || !has(s.Needs, "level") {
		t.Fatalf("%+v", s)
	}
	b.SetScaleLevel(atlas.No, 25, 1000)
	if s := b.Scale(); !s.Ready || !has(s.Fit, "0.5000", "2.5% long") {
		t.Fatalf("%+v", s)
	}
	if err := b.AcceptScale(); err != nil {
		t.Fatal(err)
	}
	b.SetTool(ToolMeasure)
	at := func(x, y float64) geom.Px { return b.doc.view.Device(geom.Px{X: x, Y: y}) }
	f.Down(at(100, 100), Primary, Mods{})
	f.Drag(at(500, 100))
	f.Up(at(500, 100))
	if w := b.MeasureWords(); !strings.HasPrefix(w, "200.0 mm") {
		t.Fatalf("400 px measure %q", w)
	}
	if b.UndoName() != "set scale" {
		t.Fatalf("undo %q", b.UndoName())
	}
	b.Back()
	b.Undo()
	if _, ok := b.hasScale(); ok {
		t.Fatal("undo left the scale")
	}
}

func TestScaleByFourCornersEitherWayRound(t *testing.T) {
	for _, clicks := range [][]geom.Px{
		{{X: 200, Y: 200}, {X: 400, Y: 210}, {X: 405, Y: 300}, {X: 198, Y: 305}},
		{{X: 198, Y: 305}, {X: 405, Y: 300}, {X: 400, Y: 210}, {X: 200, Y: 200}},
	} {
		b, _, _, f := onBench(t, 900, 700)
		b.SetTool(ToolScale)
		b.SetScaleMode(FourCorners)
		for _, p := range clicks {
			clickAt(f, p)
		}
		b.SetScaleSize(100, 50)
		b.SetScaleLevel(atlas.Yes, 0, 0)
		if err := b.AcceptScale(); err != nil {
			t.Fatalf("%v: %+v", err, b.Scale())
		}
		c, _ := b.hasScale()
		if c.Status != photo.Rectified || math.Abs(c.MM(clicks[0]).Dist(c.MM(clicks[1]))-100) > 1e-6 {
			t.Fatalf("status %v, side %.3f", c.Status, c.MM(clicks[0]).Dist(c.MM(clicks[1])))
		}
		j := c.ToMM.Jacobian(geom.Px{X: 300, Y: 250})
		if j[0]*j[3]-j[1]*j[2] <= 0 {
			t.Fatal("the scale mirrors the face")
		}
	}
}

func TestMaskAndGrid(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	b.Key("T", Mods{})
	at := func(x, y float64) geom.Px { return b.doc.view.Device(geom.Px{X: x, Y: y}) }
	f.Down(at(600, 480), Primary, Mods{})
	f.Drag(at(760, 560))
	f.Up(at(760, 560))
	if p, _ := b.Plate(); len(p.Mask) != 1 || math.Abs(p.Mask[0].AreaPx()-160*80) > 1 {
		t.Fatalf("mask %+v", p.Mask)
	}
	clickAt(f, geom.Px{X: 700, Y: 500})
	if p, _ := b.Plate(); len(p.Mask) != 0 {
		t.Fatal("a click did not take the mask away")
	}
	b.Key("G", Mods{})
	if !b.Grid() {
		t.Fatal("no grid")
	}
}
