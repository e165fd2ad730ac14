package bench

import (
	"image"
	"math"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
)

// sagging is the drawn face with both flanks hanging: what lay at y is seen drop pixels lower at the sides.
func sagging(drop float64) *photo.Image {
	from := drawnFace(800, 600)
	m := image.NewRGBA(from.Rect)
	for y := range 600 {
		for x := range 800 {
			u := (float64(x) - 400) / 400
			src := min(max(int(math.Round(float64(y)-drop*u*u)), 0), 599)
			m.SetRGBA(x, y, from.RGBAAt(x, src))
		}
	}
	return photo.NewImage(m)
}

// edgeMiss is how far, in mm, the edge of the sagging face lies from the edge of the made-up body (an ellipse of 5*sqrt(1300) by
// 5*sqrt(600) mm, as bodyVolume lays it down) by the way the bench places it: root mean square.
func edgeMiss(b *Bench, drop float64) float64 {
	pose, _, _ := b.basePose()
	h, _ := faceMM(b.doc.plate())
	bent := b.bentHere()
	var sum float64
	const n = 72
	for i := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / n)
		q := geom.Px{X: 400 + 800/2.3*cos, Y: 300 + 600/2.6*sin}
		u := (q.X - 400) / 400
		q.Y += drop * u * u
		p := pose.At(bent.flat(h.MM(q)))
		x, y := p.X/5, p.Y/5
		d := math.Sqrt(x*x/1300+y*y/600) - 1
		sum += d * d * 150 * 150 // mm at the body's mean radius
	}
	return math.Sqrt(sum / n)
}

// After the fit a second step follows the sag within the plane: the edge comes nearer to that of the body, the pointer goes over and
// back, held A shows the face flat, and undo takes the step back.
func TestFollowSag(t *testing.T) {
	const drop = 24
	b, q, m, f, s := onPairing(t)
	m.photos["p2"] = sagging(drop)
	b.doc.picture = m.photos["p2"]
	if b.FollowSag(); b.doc.fitting != nil {
		t.Fatal("sag was followed before the face was fitted")
	}
	b.FitByContent()
	q.run()
	flat := edgeMiss(b, drop)
	if !b.Key("R", Mods{}) || len(b.Jobs()) != 1 {
		t.Fatal("no job")
	}
	q.run()
	r := b.kept()
	if r == nil || r.Warp == nil || b.UndoName() != "follow sag and stretch" {
		w, _ := b.Hint()
		t.Fatalf("not bent: %q, %+v", w, b.Message())
	}
	bentMiss := edgeMiss(b, drop)
	t.Logf("edge off by %.2f mm flat, %.2f mm bent; %s", flat, bentMiss, b.FitWords())
	if bentMiss > 0.6*flat {
		t.Errorf("the edge lies %.2f mm off bent, %.2f mm flat", bentMiss, flat)
	}
	for _, p := range bentPlaces(b.doc.plate()) {
		if s := r.Warp.Strain(p); s > register.StrainLimit*1.5 {
			t.Errorf("lengths change by %.0f %% at %v", 100*s, p)
		}
	}
	thereAndBack(t, b, f, s) // CP1, through the bend
	lens := painted(f, 700, 560, 1)
	b.Key("B", Mods{})
	bentCut := painted(f, 700, 560, 1)
	b.Key("A", Mods{})
	if b.bentHere().warp != nil || same(bentCut.Pix, painted(f, 700, 560, 1).Pix) {
		t.Error("held, the face is not shown flat")
	}
	b.KeyUp("A")
	b.KeyUp("B")
	if !same(lens.Pix, painted(f, 700, 560, 1).Pix) {
		t.Error("let go, the face is not back")
	}
	b.Undo()
	if r := b.kept(); r == nil || r.Warp != nil {
		t.Error("not taken back")
	}
}

// The bent cut shows under each pixel what the volume holds where that place of the face lies.
func TestBentCutShowsTheVolume(t *testing.T) {
	b, _, _, f, _ := onPairing(t)
	pose, _, _ := b.basePose()
	v, _ := b.mmView(b.doc, f.in)
	frame, _ := frameOfFace(b.doc.plate())
	h, _ := faceMM(b.doc.plate())
	var from, to []geom.MM
	for _, px := range append(places(8), geom.Px{X: 400, Y: 300}) {
		m := h.MM(px)
		from = append(from, frame.face(m))
		to = append(to, frame.face(geom.MM{X: m.X + 6*math.Sin(m.Y/40), Y: m.Y - 5*math.Cos(m.X/50)}))
	}
	w, err := register.FitWarp(from, to, 0)
	if err != nil {
		t.Fatal(err)
	}
	x := bent{frame, w}
	m := image.NewRGBA(f.in)
	f.scan.paintBent(m, b.pair.volume, pose, v, b.Window(), rgb(0x1b1a19), func(p geom.Px) geom.Px {
		q := v.Picture(p)
		to := x.flat(geom.MM{X: q.X, Y: q.Y})
		return v.Device(geom.Px{X: to.X, Y: to.Y})
	})
	missed := 0
	for i := range 400 {
		p := geom.Px{X: float64(150 + i*13%400), Y: float64(150 + i*29%250)}
		q := v.Picture(p)
		want := b.Window().Level(b.pair.volume.Sample(pose.At(x.flat(geom.MM{X: q.X, Y: q.Y}))))
		if c := m.RGBAAt(int(p.X), int(p.Y)); math.Abs(float64(c.R)-want) > 12 { // edges are steep: 250 levels in 5 mm
			missed++
		}
	}
	if missed > 8 {
		t.Errorf("%d of 400 pixels do not show what lies there", missed)
	}
}

// Landmarks have the last word: a bend that leaves them worse than they were is refused by name of both errors.
func TestSagGivesWayToLandmarks(t *testing.T) {
	each := func(rms float64) geom.Residuals { return geom.Residuals{RMS: rms, Each: []float64{rms, rms, rms}} }
	w := &register.Warp{Flat: [6]float64{0, 1, 0, 0, 0, 1}}
	for _, c := range []struct {
		flat, bent float64
		warp       *register.Warp
		want       []string
	}{
		{1.2, 1.0, w, nil}, {1.2, 1.25, w, nil}, {1.2, 1.6, w, []string{"1.6 mm", "1.2"}}, {1.2, 1.0, nil, []string{"stays flat"}},
	} {
		got := sagRefused(register.Registration{Fit: each(c.flat)}, register.Registration{Fit: each(c.bent), Warp: c.warp})
		if (got == "") != (c.want == nil) || !has(got, c.want...) {
			t.Errorf("%+v: %q", c, got)
		}
	}
}
