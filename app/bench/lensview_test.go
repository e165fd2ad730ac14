package bench

import (
	"image"
	"math"
	"testing"

	"sectionary/annotate"
	"sectionary/slices/geom"
)

// bend lays the scale of the chosen face anew through bentLens.
func bend(t *testing.T, b *Bench) {
	t.Helper()
	b.stand.sheet.lens = &bentLens
	if err := b.ScaleThroughLens(); err != nil {
		t.Fatal(err)
	}
}

// The scan shown in place of a photograph that a lens bent lies as the photograph does: under each pixel is what the volume holds where
// the pose lays that pixel's place on the face, which straight painting does not show.
func TestScanInThePhotographIsBentByTheLens(t *testing.T) {
	b, _, _, f, s := onPairing(t)
	bend(t, b)
	b.Key("B", Mods{})
	m := painted(f, 700, 560, 1)
	b.KeyUp("B")
	pose, _, _ := b.cutPose()
	v, linked := b.mmView(b.doc, f.in)
	h, _ := faceMM(b.doc.plate())
	if !linked || h.Lens == nil {
		t.Fatal("not linked, or no lens")
	}
	off, straight, n := 0, 0, 0
	for i := range 600 {
		p := geom.Px{X: float64(f.in.Min.X + 20 + i*37%(f.in.Dx()-40)), Y: float64(f.in.Min.Y + 60 + i*53%(f.in.Dy()-160))}
		level := func(at geom.MM) float64 { return b.Window().Level(b.pair.volume.Sample(pose.At(at))) }
		want := level(h.MM(b.doc.view.Picture(p)))
		q := v.Picture(p)
		if math.IsNaN(want) {
			continue
		}
		n++
		got := float64(m.RGBAAt(int(p.X), int(p.Y)).R)
		if math.Abs(got-want) > 12 {
			off++
		}
		if math.Abs(got-level(geom.MM{X: q.X, Y: q.Y})) > 12 {
			straight++
		}
	}
	t.Logf("%d of %d pixels do not show what lies there; painted straight %d would not", off, n, straight)
	if n < 200 || off > n/30 || straight < 3*off+5 {
		t.Errorf("%d of %d pixels are wrong, %d if painted straight", off, n, straight)
	}
	thereAndBack(t, b, f, s)
}

// thereAndBack takes the linked pointer from the photograph to the scan and back, within half a pixel (row CP1).
func thereAndBack(t *testing.T, b *Bench, f, s Pane) {
	t.Helper()
	for _, px := range places(8) {
		f.Hover(b.doc.view.Device(px))
		at, _, ok := s.Pointer()
		if !ok {
			t.Fatalf("%v does not show on the scan", px)
		}
		s.Hover(at)
		back, _, ok := f.Pointer()
		if d := back.Dist(b.doc.view.Device(px)); !ok || d > 0.5 {
			t.Errorf("%v comes back %.2f pixels off", px, d)
		}
	}
}

// The 10 mm grid follows the lens: every line of it passes through the pixels that show its mm, and is curved.
func TestGridFollowsTheLens(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	straight := func() *image.RGBA { b.SetGrid(true); return painted(f, 900, 700, 1) }
	before := straight()
	bend(t, b)
	after := straight()
	b.SetGrid(false)
	bare := painted(f, 900, 700, 1)
	if same(before.Pix, after.Pix) {
		t.Fatal("the grid is the same with and without the lens")
	}
	c, _ := b.hasScale()
	seen, lines := 0, 0
	for x := -1000.0; x <= 1000; x += 50 {
		for y := -1000.0; y < 1000; y += 7 {
			px := c.Px(geom.MM{X: x, Y: y})
			if !(px.X > 20 && px.Y > 40 && px.X < 780 && px.Y < 480) {
				continue
			}
			lines++
			at := b.doc.view.Device(px)
			for d := -1; d <= 1; d++ {
				if i := image.Pt(int(math.Round(at.X))+d, int(math.Round(at.Y))); after.RGBAAt(i.X, i.Y) != bare.RGBAAt(i.X, i.Y) {
					seen++
					break
				}
			}
		}
	}
	if lines < 50 || seen < lines*95/100 {
		t.Errorf("%d of %d places of the lines carry one", seen, lines)
	}
}

// The pages of an open cut lay a photograph taken through a lens so that it meets its outline: each place of the pane shows the pixel whose
// mm lie there, to a tenth of a pixel.
func TestBookPageIsLaidThroughTheLens(t *testing.T) {
	b, _, _, _ := onBench(t, 900, 700)
	bend(t, b)
	p := b.doc.plate()
	border := []annotate.Polygon{{Outer: []geom.Px{{X: 60, Y: 40}, {X: 740, Y: 40}, {X: 740, Y: 560}, {X: 60, Y: 560}}}}
	o, err := p.Outline(border)
	if err != nil {
		t.Fatal(err)
	}
	page := bookPage{plate: p, border: border, outline: o, picture: b.doc.picture}
	same := func(m geom.MM) geom.MM { return m }
	to := [6]float64{1.4, 0, 300, 0, 1.4, 250}
	near, ok := page.toDevice(to, same)
	if !ok {
		t.Fatal("no map")
	}
	straight := 0.0
	for _, q := range places(12) {
		m := o.To(q)
		at := geom.Px{X: to[0]*m.X + to[2], Y: to[4]*m.Y + to[5]}
		if got := page.pictureAt(at, near, to, same); got.Dist(q) > 0.1 {
			t.Errorf("%v is laid where %v belongs", got, q)
		}
		straight = math.Max(straight, q.Dist(geom.Px{X: near[0]*at.X + near[1]*at.Y + near[2], Y: near[3]*at.X + near[4]*at.Y + near[5]}))
	}
	if straight < 0.5 {
		t.Errorf("a straight map is off by %.2f px at most: the lens hardly bends", straight)
	}
}
