package bench

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// The figures of the rows are those of the project's table of capabilities.

// LB1: after any chain of views, mirrors, zooms and pans what is clicked lands on the original pixel within 0.01 px, and a
// drawn point lies within 1 device pixel of where it was clicked.
func TestLB1OutlinesAreFixedToTheFace(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	b.SetTool(ToolOutline)
	r := rand.New(rand.NewPCG(1, 2))
	views := []section.View{section.Bench, section.Scan, section.OtherSide}
	for n := range 60 {
		b.SetView(views[r.IntN(3)])
		if n%7 == 0 {
			b.SetMirrored([]atlas.Answer{atlas.Yes, atlas.No}[r.IntN(2)])
			b.SetTool(ToolOutline)
		}
		f.lay(b.doc)
		f.Wheel(geom.Px{X: 450, Y: 350}, 2*r.Float64()-1, Mods{})
		want := []geom.Px{}
		for len(want) < 3 {
			p := geom.Px{X: 250 + 300*r.Float64(), Y: 200 + 200*r.Float64()}
			want = append(want, p)
		}
		if (annotate.Polygon{Outer: want}).Check() != nil || tooNear(b, want) {
			continue
		}
		for _, p := range want {
			clickAt(f, p)
		}
		b.Key("Return", Mods{})
		x := chosen(t, b)
		for i, p := range x.Regions[0].Outer {
			if d := p.Dist(want[i]); d > 0.01 {
				t.Fatalf("chain %d: point %d is %g px off", n, i, d)
			}
			if d := b.doc.view.Device(p).Dist(b.doc.view.Device(want[i])); d > 1 {
				t.Fatalf("chain %d: drawn %g px off", n, d)
			}
		}
		b.draw.point = noPoint
		b.RemoveChosen()
	}
}

// tooNear reports whether points lie so close on the screen that a click on one is meant for another.
func tooNear(b *Bench, pts []geom.Px) bool {
	for i := range pts {
		for k := range i {
			if b.doc.view.Device(pts[i]).Dist(b.doc.view.Device(pts[k])) < 2*reach {
				return true
			}
		}
	}
	return false
}

// LB2: one that is single refuses left and right, one of a pair needs one of them; what is not certain never enters an
// exam; every change is dated and signed.
func TestLB2LabelIsWhole(t *testing.T) {
	b, q, _, _ := onBench(t, 900, 700)
	withSquare(t, b, 200, 300, 50)
	for _, side := range []annotate.Side{annotate.Left, annotate.Right} {
		if err := b.NameChosen("UBERON:0002107", side, annotate.Certain); !errors.Is(err, annotate.ErrSide) {
			t.Errorf("liver took %v: %v", side, err)
		}
	}
	for sure, exam := range map[annotate.Sureness]bool{annotate.Certain: true, annotate.Probable: false, annotate.Discuss: false, annotate.Unsaid: false} {
		if err := b.NameChosen("UBERON:0002107", annotate.NoSide, sure); err != nil {
			t.Fatal(err)
		}
		if x := chosen(t, b); x.Examinable() != exam || x.Author != "AB" || !x.Changed.Equal(q.now) {
			t.Errorf("%v: in an exam %v, by %s at %v", sure, x.Examinable(), x.Author, x.Changed)
		}
	}
}

// LB3: on the wrong side every usually one-sided structure of the row warns and stays as it was labelled; on the usual side
// none does. On a lower face with the front up the donor's right is at the picture's left (truth table of the faces).
func TestLB3SideSentinelWarnsAndLeavesTheLabel(t *testing.T) {
	usual := map[annotate.TermID]annotate.Side{"UBERON:0002107": annotate.Right, "UBERON:0002106": annotate.Left, "UBERON:0000945": annotate.Left,
		"UBERON:0001072": annotate.Right, "UBERON:0001514": annotate.Left} // liver, spleen, stomach, inferior vena cava, descending aorta
	for id, side := range usual {
		for _, lies := range []annotate.Side{annotate.Right, annotate.Left} {
			b, _, _, _ := onBench(t, 900, 700)
			x := 150.0
			if lies == annotate.Left {
				x = 650
			}
			withSquare(t, b, x, 300, 50)
			if err := b.NameChosen(id, annotate.NoSide, annotate.Certain); err != nil {
				t.Fatal(id, err)
			}
			m := b.Message()
			if (m != nil) != (lies != side) || (m != nil && !has(m.Hint, "situs variant")) {
				t.Errorf("%s on the %v: %+v", id, lies, m)
			}
			if got := chosen(t, b); got.Side != annotate.NoSide || got.Term != id {
				t.Errorf("%s was changed to %v %s", id, got.Side, got.Term)
			}
		}
	}
}

// TM1: a local term is marked so; renamed, every label that carries it keeps it; source, licence and version of the list
// are shown.
func TestTM1LocalTermsAndSources(t *testing.T) {
	b, _, m, _ := onBench(t, 900, 700)
	m.dir = t.TempDir()
	withSquare(t, b, 200, 300, 50)
	id, err := b.KeepLocalTerm("teaching window", annotate.Space, false)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.NameChosen(id, annotate.NoSide, annotate.Certain); err != nil {
		t.Fatal(err)
	}
	if n := b.TermPath(id); len(n) != 1 || !n[0].Local {
		t.Fatalf("not marked local: %+v", n)
	}
	next, err := b.terms.WithLocal(annotate.Term{ID: id, Name: "window for teaching", Kind: annotate.Space})
	if err != nil {
		t.Fatal(err)
	}
	b.terms = next
	if rows := b.Labels(); rows[0].Name != "window for teaching" || chosen(t, b).Term != id {
		t.Errorf("after renaming: %+v", rows[0])
	}
	text := ""
	for _, l := range b.TermLists() {
		text += l + "\n"
	}
	if !has(text, "Uberon", "CC BY 3.0", "Human Reference Atlas", "CC BY 4.0", "Version:", "Licence:", "Local terms of this lab: 1") {
		t.Errorf("lists told as %q", text)
	}
}

// MS1: the spread of a length is that of the scale and the two clicks: a longer one is surer in parts of itself.
func TestMS1SpreadIsTold(t *testing.T) {
	b, _, _, _ := onBench(t, 900, 700)
	c := b.doc.plate().Calibration
	short, ssd, err := c.Length(geom.Px{X: 200, Y: 200}, geom.Px{X: 240, Y: 200})
	long, lsd, err2 := c.Length(geom.Px{X: 200, Y: 200}, geom.Px{X: 600, Y: 200})
	if err != nil || err2 != nil || !(ssd > 0) || !(lsd > ssd) || math.Abs(long/short-10) > 1e-9 || lsd/long > ssd/short {
		t.Errorf("%g ± %g, %g ± %g", short, ssd, long, lsd)
	}
}
