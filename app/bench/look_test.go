package bench

import (
	"image"
	"testing"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// painted is a pane painted at a size and text size.
func painted(p Pane, w, h int, scale float64) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	p.Resize(w, h, scale)
	p.Paint(m)
	return m
}

// withLabels puts two named outlines and a landmark or two on the face.
func withLabels(t testing.TB, b *Bench) {
	t.Helper()
	for _, x := range []struct {
		x, y, r float64
		term    annotate.TermID
		side    annotate.Side
	}{{260, 320, 70, "UBERON:0002107", annotate.NoSide}, {400, 430, 40, "UBERON:0001130", annotate.NoSide}} {
		b.draw.outline = square(x.x, x.y, x.r).Outer
		b.CloseOutline()
		terms := b.terms.All()
		id := x.term
		if _, ok := b.terms.ByID(id); !ok {
			id = terms[0].ID
		}
		if err := b.NameChosen(id, x.side, annotate.Certain); err != nil {
			t.Fatal(err)
		}
	}
}

// honestTies are landmarks where the face truly lies: square, its middle at the origin of the scan.
func honestTies(b *Bench, pose geom.Pose, places ...geom.Px) []register.Tie {
	h, _ := faceMM(b.doc.plate())
	var out []register.Tie
	for _, p := range places {
		out = append(out, register.Tie{Face: p, Scan: pose.At(h.MM(p))})
	}
	return out
}

func TestLookAtThePanes(t *testing.T) {
	for _, scale := range []float64{1, 2} {
		name := map[float64]string{1: "-100", 2: "-200"}[scale]
		b, q, _, _ := onBench(t, 900, 700)
		withLabels(t, b)
		show(t, "face"+name, painted(b.FacePane(), 900, 700, scale))
		b.SetTool(ToolAxes)
		show(t, "axes"+name, painted(b.FacePane(), 900, 700, scale))
		b.SetTool(ToolPan)
		b.SetGrid(true)
		b.SetView(section.Scan)
		b.ChooseFace(face(1, section.Superior))
		q.run()
		show(t, "mirrored"+name, painted(b.FacePane(), 900, 700, scale))
		b.ChooseFace(face(3, section.Inferior))
		show(t, "empty"+name, painted(b.FacePane(), 900, 700, scale))
		b.SetView(section.Bench)
		b.SetGrid(false)
		b.ChooseFace(face(2, section.Inferior))
		b.Show(RunScreen)
		show(t, "ruler"+name, painted(b.RulerPane(), 420, 800, scale))
		b.Show(PairingScreen)
		q.run()
		painted(b.FacePane(), 700, 560, scale)
		pose, _, _ := b.basePose()
		b.tryTies("t", honestTies(b, pose, geom.Px{X: 200, Y: 200}, geom.Px{X: 600, Y: 220}, geom.Px{X: 420, Y: 480}, geom.Px{X: 300, Y: 300}))
		show(t, "pairface"+name, painted(b.FacePane(), 700, 560, scale))
		show(t, "pairscan"+name, painted(b.ScanPane(), 700, 560, scale))
		b.StepScan(3)
		show(t, "strip"+name, painted(b.StripPane(), 1400, int(120*scale), scale))
		if msg := b.Message(); msg != nil {
			t.Logf("%+v", *msg)
		}
		t.Log(b.Band())
		t.Log(b.FitWords())
	}
}

func blankPicture(w, h int) *image.RGBA { return image.NewRGBA(image.Rect(0, 0, w, h)) }
