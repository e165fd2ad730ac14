package bench

import (
	"context"
	"math"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/register"
)

// The drawn face and the made-up scan show one ellipse with one organ; the face is put 9 mm to the side and must come back
// by content, as one step. The body is a cylinder, so nothing can be told about the level.
func TestFitByContent(t *testing.T) {
	b, q, m, f, _ := onPairing(t)
	b.pair.tied.Centre = geom.LPS{X: b.pair.tied.Centre.X + 9, Y: b.pair.tied.Centre.Y - 6, Z: b.pair.tied.Centre.Z}
	before, _, _ := b.basePose()
	if !b.Key("C", Mods{}) || len(b.Jobs()) != 1 {
		t.Fatal("no job")
	}
	b.FitByContent()
	if w, warn := b.Hint(); !warn || !has(w, "already") {
		t.Fatalf("begun twice: %q", w)
	}
	q.run()
	r := b.kept()
	if r == nil || r.Method != register.ByRefined || b.UndoName() != "fit by picture content" {
		w, _ := b.Hint()
		t.Fatalf("not fitted: %+v, undo %q, %q, message %+v", r, b.UndoName(), w, b.Message())
	}
	pose, how, _ := b.basePose()
	h, _ := faceMM(b.doc.plate())
	middle := pose.At(h.MM(b.doc.plate().MiddlePx()))
	if off := math.Hypot(middle.X, middle.Y); how != byFit || off > 2 {
		t.Fatalf("%s: the middle lies %.1f mm from that of the body", how, off)
	}
	if !has(b.FitWords(), "No landmarks check it") || !has(b.Band(), "Fitted by picture content") {
		t.Fatal(b.FitWords(), b.Band())
	}
	// held: as it lay before
	fitted := painted(b.ScanPane(), 640, 560, 1)
	b.Key("A", Mods{})
	if held, how, _ := b.basePose(); held != before || how != byLevel {
		t.Fatalf("held: %s, %v, want %v", how, held, before)
	}
	if same(fitted.Pix, painted(b.ScanPane(), 640, 560, 1).Pix) {
		t.Fatal("held, the cut looks the same")
	}
	b.KeyUp("A")
	if now, _, _ := b.basePose(); now != pose {
		t.Fatal("let go, it is not back")
	}
	q.pass(savePause * 2)
	if kept := m.plates["p2"].Registration; kept == nil || kept.Method != register.ByRefined {
		t.Fatalf("on disk %+v", kept)
	}
	b.Undo()
	if b.kept() != nil {
		t.Fatal("not taken back")
	}
	_ = f
}

func same(a, z []byte) bool {
	for i := range a {
		if a[i] != z[i] {
			return false
		}
	}
	return true
}

// Three landmarks do not hold the fit; where it would leave them far off they stay, and the reason is said.
func TestFitByContentKeepsLandmarks(t *testing.T) {
	b, q, _, _, _ := onPairing(t)
	pose, _, _ := b.basePose()
	ties := honestTies(b, pose, places(3)...)
	for i := range ties {
		ties[i].Scan.X += 14
		ties[i].Note = "edge"
	}
	b.tryTies("t", ties)
	b.FitByContent()
	q.run()
	if r := b.kept(); r == nil || r.Method != register.ByTies || b.UndoName() == "fit by picture content" {
		t.Fatalf("the landmarks were replaced: %+v", r)
	}
	if w, warn := b.Hint(); !warn || !has(w, "The landmarks stay", "mm") {
		t.Fatalf("%q", w)
	}
}

// A face that changes while it is fitted keeps the change; a job that is stopped leaves everything as it was.
func TestFitByContentGivesWay(t *testing.T) {
	b, q, _, _, _ := onPairing(t)
	pose, _, _ := b.basePose()
	b.FitByContent()
	done := q.workOn(0)
	b.tryTies("t", honestTies(b, pose, places(4)...))
	done()
	if r := b.kept(); r == nil || r.Method != register.ByTies {
		t.Fatalf("%+v", r)
	}
	if w, warn := b.Hint(); !warn || !has(w, "changed while") {
		t.Fatalf("%q", w)
	}
	b.FitByContent()
	b.CancelJob(b.Jobs()[0].ID)
	q.run()
	if r := b.kept(); r.Method != register.ByTies || b.Message() != nil || len(b.Jobs()) != 0 || b.doc.fitting != nil {
		t.Fatalf("stopped: %+v, %+v", r, b.Message())
	}
}

// The grey face lies on the grid of its mm, mirrored or not: the organ of the drawn face is found where its mm say.
func TestGreyFace(t *testing.T) {
	b, _, _, _ := onBench(t, 700, 560)
	p := b.doc.plate()
	grey, inside, corner, err := greyFace(p, b.doc.picture, 1)
	if err != nil {
		t.Fatal(err)
	}
	h, _ := p.FaceMM()
	for _, want := range []struct {
		px   geom.Px
		grey float64
		in   bool
	}{{geom.Px{X: 262, Y: 308}, 0.299*118 + 0.587*72 + 0.114*58, true}, {geom.Px{X: 600, Y: 300}, 0.299*168 + 0.587*116 + 0.114*98, true}} {
		at := h.MM(want.px)
		x, y := int(math.Round(at.X-corner.X)), int(math.Round(at.Y-corner.Y))
		if g := float64(grey.GrayAt(x, y).Y); math.Abs(g-want.grey) > 14 || (inside.AlphaAt(x, y).A > 0) != want.in {
			t.Errorf("pixel %v: grey %.0f, want %.0f; inside %v", want.px, g, want.grey, inside.AlphaAt(x, y).A > 0)
		}
	}
	if a := inside.AlphaAt(0, 0).A; a != 0 {
		t.Error("the corner shows no body")
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := fitPlate(ctx, p, register.Registration{Pose: geom.Pose{X: geom.Vec{X: 1}, Y: geom.Vec{Y: 1}, Scale: 1}}, b.doc.picture, bodyVolume(t), register.Options{}, func(float64, string) {}); err == nil {
		t.Error("a stopped fit ended well")
	}
}
