package annotate

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"sectionary/slices/geom"
)

var day = time.Date(2026, 1, 5, 9, 30, 0, 0, time.UTC)

func stamp(who string) Stamp { return Stamp{who, day} }

func liver(id string, side float64) Label {
	return Label{ID: id, Term: "UBERON:0002107", Sure: Certain, Author: "AB", Changed: day, Regions: []Polygon{{Outer: square(0, 0, side)}}}
}

func same(a, b Labels) bool { return cmp.Equal(slices.Collect(a.All()), slices.Collect(b.All())) }

func TestLabelsRefuse(t *testing.T) {
	l, err := Labels{}.Add(liver("a", 10))
	if err != nil {
		t.Fatal(err)
	}
	bow := Polygon{Outer: []geom.Px{{X: 0, Y: 0}, {X: 10, Y: 10}, {X: 10, Y: 0}, {X: 0, Y: 10}}}
	for name, try := range map[string]func() (Labels, error){
		"the same id":       func() (Labels, error) { return l.Add(liver("a", 5)) },
		"no id":             func() (Labels, error) { return l.Add(liver("", 5)) },
		"no outline":        func() (Labels, error) { return l.Add(Label{ID: "b"}) },
		"a crossing":        func() (Labels, error) { return l.Reshape("a", stamp("AB"), bow) },
		"an unknown id":     func() (Labels, error) { return l.Reshape("z", stamp("AB"), Polygon{Outer: square(0, 0, 3)}) },
		"an unknown name":   func() (Labels, error) { return l.Rename("z", stamp("AB"), "X:1", Left) },
		"removing nothing":  func() (Labels, error) { return l.Remove("z") },
		"signing one's own": func() (Labels, error) { return l.Sign("a", stamp("AB")) },
		"signing unnamed":   func() (Labels, error) { return l.Sign("a", Stamp{At: day}) },
		"two alike at once": func() (Labels, error) { return l.AddAll([]Label{liver("c", 4), liver("c", 4)}) },
	} {
		next, err := try()
		if err == nil {
			t.Errorf("%s passes", name)
		}
		if !same(next, l) {
			t.Errorf("%s: the labels changed though refused", name)
		}
	}
}

func TestLabelStates(t *testing.T) {
	l, _ := Labels{}.Add(liver("a", 10))
	signed, err := l.Sign("a", stamp("CD"))
	if err != nil {
		t.Fatal(err)
	}
	x, _ := signed.Find("a")
	if x.Signed == nil || x.Signed.By != "CD" || !x.Examinable() {
		t.Errorf("%+v", x)
	}
	noted, _ := signed.Annotate("a", stamp("EF"), "fatty")
	if x, _ := noted.Find("a"); x.Signed == nil || x.Note != "fatty" {
		t.Error("a note took the signature away")
	}
	for name, edit := range map[string]func() (Labels, error){
		"reshape": func() (Labels, error) { return signed.Reshape("a", stamp("EF"), Polygon{Outer: square(0, 0, 4)}) },
		"rename":  func() (Labels, error) { return signed.Rename("a", stamp("EF"), "X:2", Left) },
		"judge":   func() (Labels, error) { return signed.Judge("a", stamp("EF"), Discuss) },
	} {
		next, err := edit()
		x, _ := next.Find("a")
		if err != nil || x.Signed != nil || x.Author != "EF" {
			t.Errorf("%s: %v %+v", name, err, x)
		}
	}
	unsure, _ := l.Judge("a", stamp("AB"), Probable)
	if x, _ := unsure.Find("a"); x.Examinable() || !x.Counts() {
		t.Error("an unsure label may stand in an exam")
	}
	carried := liver("b", 5)
	carried.Carried, carried.From = true, "face 3 lower"
	l, _ = l.Add(carried)
	if x, _ := l.Find("b"); x.Counts() || x.Examinable() {
		t.Error("a carried outline counts before it is confirmed")
	}
	if _, err := l.Sign("b", stamp("CD")); !errors.Is(err, ErrNotReady) {
		t.Errorf("a carried outline can be signed: %v", err)
	}
	l, _ = l.Confirm("b", stamp("CD"))
	if x, _ := l.Find("b"); !x.Counts() || x.Author != "CD" {
		t.Error("confirming does not make it count")
	}
	if m := (Label{}).Missing(); len(m) != 5 {
		t.Errorf("an empty label lacks %v", m)
	}
}

func TestUnderFindsTheSmallestFirst(t *testing.T) {
	l, _ := Labels{}.AddAll([]Label{liver("small", 5), liver("large", 20), liver("middle", 10)})
	var ids []string
	for _, x := range l.Under(geom.Px{X: 2, Y: 2}) {
		ids = append(ids, x.ID)
	}
	if !slices.Equal(ids, []string{"small", "middle", "large"}) {
		t.Error(ids)
	}
	if len(l.Under(geom.Px{X: 15, Y: 15})) != 1 || l.Under(geom.Px{X: 50, Y: 50}) == nil && len(l.Under(geom.Px{X: 50, Y: 50})) != 0 {
		t.Error("the wrong ones lie under a point")
	}
}

func drawLabel(t *rapid.T, id string) Label {
	x := Label{ID: id, Term: TermID(rapid.SampledFrom([]string{"", "UBERON:1", "LOCAL:7"}).Draw(t, "term")), Side: Side(rapid.IntRange(0, 3).Draw(t, "side")), Sure: Sureness(rapid.IntRange(0, 3).Draw(t, "sure")),
		Note: rapid.String().Draw(t, "note"), Author: "AB", Changed: day, Carried: rapid.Bool().Draw(t, "carried"), Regions: []Polygon{drawPolygon(t)}}
	if rapid.Bool().Draw(t, "two parts") {
		x.Regions = append(x.Regions, drawPolygon(t))
	}
	if rapid.Bool().Draw(t, "signed") {
		x.Signed = &Signature{"CD", day}
	}
	return x
}

// 1,000 random edit sequences, each step kept as undo keeps it: going back gives the identical labels, in memory and as
// written, and no later edit wrote into an earlier value.
func TestRandomEditsUndone(t *testing.T) {
	for range 10 { // rapid runs a hundred sequences each time
		rapid.Check(t, randomEdits)
	}
}

func randomEdits(t *rapid.T) {
	var l Labels
	var past []Labels
	var written [][]byte
	keep := func() {
		b, err := json.Marshal(l)
		if err != nil {
			t.Fatal(err)
		}
		past, written = append(past, l), append(written, b)
	}
	keep()
	next := 0
	for range rapid.IntRange(1, 12).Draw(t, "steps") {
		var ids []string
		for x := range l.All() {
			ids = append(ids, x.ID)
		}
		var err error
		edit := rapid.SampledFrom([]string{"add", "reshape", "rename", "judge", "note", "remove", "map", "sign", "confirm", "point"}).Draw(t, "edit")
		if len(ids) == 0 {
			edit = "add"
		}
		id := ""
		if len(ids) > 0 {
			id = rapid.SampledFrom(ids).Draw(t, "id")
		}
		switch edit {
		case "add":
			l, err = l.Add(drawLabel(t, fmt.Sprint("L", next)))
			next++
		case "reshape":
			l, err = l.Reshape(id, stamp("EF"), drawPolygon(t))
		case "rename":
			l, err = l.Rename(id, stamp("EF"), "X:9", Right)
		case "judge":
			l, err = l.Judge(id, stamp("EF"), Discuss)
		case "note":
			l, err = l.Annotate(id, stamp("EF"), "n")
		case "remove":
			l, err = l.Remove(id)
		case "map":
			l = l.Map(func(q geom.Px) geom.Px { return geom.Px{X: q.X + 1, Y: q.Y} })
		case "sign":
			l, _ = l.Sign(id, stamp("GH"))
		case "confirm":
			l, err = l.Confirm(id, stamp("EF"))
		case "point":
			x, _ := l.Find(id)
			p, perr := x.Regions[0].MovePoint(0, 0, geom.Px{X: 3, Y: 4})
			if perr != nil {
				t.Fatal(perr)
			}
			if p.Check() == nil {
				l, err = l.Reshape(id, stamp("EF"), p)
			}
		}
		if err != nil {
			t.Fatalf("%s: %v", edit, err)
		}
		keep()
	}
	for i := range past {
		b, _ := json.Marshal(past[i])
		if string(b) != string(written[i]) {
			t.Fatalf("step %d changed after it was kept", i)
		}
		var back Labels
		if err := json.Unmarshal(b, &back); err != nil || !same(back, past[i]) {
			t.Fatalf("step %d does not come back from JSON: %v", i, err)
		}
	}
}

func TestMapChainComesBack(t *testing.T) {
	// LB1: after any chain of turns, mirrors, zooms and crops the vertices map back within 0.01 px.
	rapid.Check(t, func(t *rapid.T) {
		l, err := Labels{}.Add(drawLabel(t, "a"))
		if err != nil {
			t.Fatal(err)
		}
		type step struct{ f, g func(geom.Px) geom.Px }
		m := l
		var chain []step
		for range rapid.IntRange(1, 20).Draw(t, "steps") {
			k := rapid.Float64Range(0.1, 10).Draw(t, "k")
			s := rapid.SampledFrom([]step{
				{func(q geom.Px) geom.Px { return geom.Px{X: -q.Y, Y: q.X} }, func(q geom.Px) geom.Px { return geom.Px{X: q.Y, Y: -q.X} }},
				{func(q geom.Px) geom.Px { return geom.Px{X: 4000 - q.X, Y: q.Y} }, func(q geom.Px) geom.Px { return geom.Px{X: 4000 - q.X, Y: q.Y} }},
				{func(q geom.Px) geom.Px { return geom.Px{X: q.X * k, Y: q.Y * k} }, func(q geom.Px) geom.Px { return geom.Px{X: q.X / k, Y: q.Y / k} }},
				{func(q geom.Px) geom.Px { return geom.Px{X: q.X - 317, Y: q.Y - 41} }, func(q geom.Px) geom.Px { return geom.Px{X: q.X + 317, Y: q.Y + 41} }},
			}).Draw(t, "step")
			chain, m = append(chain, s), m.Map(s.f)
		}
		for _, s := range slices.Backward(chain) {
			m = m.Map(s.g)
		}
		a, _ := l.Find("a")
		b, _ := m.Find("a")
		for i := range a.Regions {
			for n := range a.Regions[i].Rings() {
				for k, q := range a.Regions[i].Ring(n) {
					if d := q.Dist(b.Regions[i].Ring(n)[k]); d > 0.01 {
						t.Fatalf("a point slipped by %v px", d)
					}
				}
			}
		}
	})
}

func FuzzLabelsJSON(f *testing.F) {
	f.Add([]byte(`[{"id":"a","term":"X:1","side":"left","sure":"certain","regions":[{"outer":[[0,0],[9,0],[9,9]]}],"author":"A","changed":"2026-01-05T09:30:00Z"}]`))
	f.Add([]byte(`[]`))
	f.Add([]byte(`null`))
	f.Fuzz(func(t *testing.T, b []byte) {
		var l Labels
		if json.Unmarshal(b, &l) != nil {
			return
		}
		out, err := json.Marshal(l)
		if err != nil {
			t.Skip() // a date beyond the year 9999 can be read by no one
		}
		var again Labels
		if err := json.Unmarshal(out, &again); err != nil || !same(l, again) {
			t.Fatalf("%s: %v", out, err)
		}
	})
}

func BenchmarkUnder300(b *testing.B) {
	var list []Label
	for i := range 300 {
		x := liver(fmt.Sprint(i), 1)
		x.Regions = []Polygon{{Outer: oval(float64(i%20)*200, float64(i/20)*200, 150, 120, 100)}}
		list = append(list, x)
	}
	l, err := Labels{}.AddAll(list)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		l.Under(geom.Px{X: 1000, Y: 1000})
	}
}
