package bench

import (
	"image"
	"math"
	"testing"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// opened is the cut between slabs 2 and 3 of the sample opened, both faces showing the same drawn face: the second photograph is
// the first mirrored, as the other side of one cut is.
func opened(t *testing.T) (*Bench, *queue, *bookPane) {
	b, q, m := sample(t)
	p := m.plates["p1"]
	p.Face = face(3, section.Superior)
	m.plates["p1"] = p
	delete(b.docs, "p1")
	delete(b.rule.facts, face(1, section.Superior))
	b.rule.facts[p.Face] = factOf(p)
	b.ChooseFace(face(2, section.Inferior))
	b.Show(FaceScreen)
	q.run()
	if !b.Key("Z", Mods{}) || b.Screen() != BookScreen {
		t.Fatalf("not opened: %+v", b.Message())
	}
	q.run()
	k := b.BookPane().(*bookPane)
	painted(k, 900, 560, 1)
	q.run()
	return b, q, k
}

// CP3: both faces of a cut side by side, one the mirror image of the other, the kerf in mm between; letters by the truth table of
// viewing conventions: from below the donor's right is at the left, from above at the right.
func TestCP3Book(t *testing.T) {
	b, _, k := opened(t)
	if kerf, first, second := b.BookKerf(); kerf != 1.2 || first != "slab 2, lower face" || second != "slab 3, upper face" {
		t.Fatalf("%g, %s, %s", kerf, first, second)
	}
	words, _, _ := b.BookWords()
	// the sample shows one picture on both faces, so the second lies mirrored on the first: the ellipse is the same
	if !b.book.match || b.book.laid.Dice < 0.99 || !has(words, "overlap by") {
		t.Fatalf("%+v, %q", b.book.laid, words)
	}
	if len(k.leafs) != 2 || k.leafs[0].to[0] != -k.leafs[1].to[0] || k.leafs[0].to[4] != k.leafs[1].to[4] {
		t.Fatalf("pages %+v", k.leafs)
	}
	// a place on the left shows the same place of the body on the right, as far from the spine
	l, r := k.leafs[0].rect, k.leafs[1].rect
	at := geom.Px{X: float64(l.Max.X - 100), Y: float64(l.Min.Y + 150)}
	k.Hover(at)
	got, _, ok := k.Pointer()
	if want := (geom.Px{X: float64(r.Min.X + 99), Y: at.Y}); !ok || got.Dist(want) > 1 {
		t.Errorf("across the kerf from %v lies %v, want %v", at, got, want)
	}
	k.Hover(got)
	if back, _, ok := k.Pointer(); !ok || back.Dist(at) > 0.5 {
		t.Errorf("and back at %v", back)
	}
	// laid over, the slider goes from one face to the other; no difference where both are alike
	b.Key("2", Mods{})
	b.SetBookMix(0)
	first := painted(k, 900, 560, 1)
	b.SetBookMix(1)
	second := painted(k, 900, 560, 1)
	spot := image.Pt(450, 200)
	if near(first.RGBAAt(300, 260), second.RGBAAt(300, 260)) && near(first.RGBAAt(560, 260), second.RGBAAt(560, 260)) {
		t.Error("the organ lies at one side on one face and at the other on its mirror image; the slider changes nothing")
	}
	b.SetBookMix(0.5)
	k.Down(geom.Px{X: float64(k.track.Max.X), Y: float64(k.track.Min.Y + 10)}, Primary, Mods{})
	k.Up(geom.Px{})
	if b.book.mix < 0.98 {
		t.Errorf("at its end the slider says %g", b.book.mix)
	}
	b.Key("3", Mods{})
	differ := painted(k, 900, 560, 1)
	if c := differ.RGBAAt(spot.X, spot.Y); c.R != c.G || c.G != c.B || c.R > 60 {
		t.Errorf("muscle against muscle differs by %v", c)
	}
	if b.Back(); b.Screen() != FaceScreen {
		t.Error("back leads elsewhere")
	}
}

// The ends of a run have no partner: said, not shown.
func TestBookAtTheEnd(t *testing.T) {
	b, _, _ := sample(t)
	b.ChooseFace(face(1, section.Superior))
	b.Show(FaceScreen)
	b.Key("Z", Mods{})
	if w, warn := b.Hint(); b.Screen() == BookScreen || !warn || !has(w, "end of the run") {
		t.Errorf("%v, %q", b.Screen(), w)
	}
	// Come to an end with the book open, a step leads to the cut nearest to it.
	run := b.Run()
	last := run.Slabs[len(run.Slabs)-1].Number
	for _, c := range []struct{ end, cut section.Face }{
		{face(1, section.Superior), face(1, section.Inferior)}, {face(last, section.Inferior), face(last-1, section.Inferior)}} {
		for _, n := range []int{-1, 1} {
			b.ChooseFace(c.end)
			b.Show(BookScreen)
			if cut, _, _ := b.BookWords(); !has(cut, "end of the run") {
				t.Errorf("%s says %q", c.end.Name(), cut)
			}
			if b.StepCut(n); b.Face() != c.cut {
				t.Errorf("%d from %s leads to %s", n, c.end.Name(), b.Face().Name())
			}
		}
	}
}

// Outlines of known shapes: Dice of two discs of radii 50 and 60 about one middle is 2*50²/(50²+60²); laid best, a shift costs nothing.
func TestDiceOfDiscs(t *testing.T) {
	_, _, m := sample(t)
	disc := func(r, x float64) atlas.Outline {
		p := m.plates["p2"]
		ring, err := annotate.Round(geom.Px{X: 400 + x, Y: 300}, 2*r, 2*r, 0) // 0.5 mm a pixel
		if err != nil {
			t.Fatal(err)
		}
		o, err := p.Outline([]annotate.Polygon{ring})
		if err != nil {
			t.Fatal(err)
		}
		return o
	}
	laid := disc(50, 30).On(disc(60, 0))
	if want := 2 * 2500.0 / (2500 + 3600); math.Abs(laid.Dice-want) > 0.01 {
		t.Errorf("Dice %.4f, want %.4f", laid.Dice, want)
	}
	if same := disc(50, 30).On(disc(50, 0)); same.Dice < 0.99 {
		t.Errorf("the same disc overlaps by %.4f", same.Dice)
	}
}
