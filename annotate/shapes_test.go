package annotate

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sectionary/slices/geom"
)

// Closed form: an ellipse has area pi a b; the polygon lies inside it by a fifth of a pixel at most.
func TestRound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.Float64Range(1, 500).Draw(t, "a"), rapid.Float64Range(1, 500).Draw(t, "b")
		p, err := Round(geom.Px{X: 900, Y: 700}, a, b, rapid.Float64Range(0, 7).Draw(t, "turn"))
		if err != nil {
			t.Fatal(err)
		}
		if got, want := p.AreaPx(), math.Pi*a*b; got > want || got < want-0.25*p.PerimeterPx()-0.1*want {
			t.Fatalf("area %v, ellipse %v", got, want)
		}
		if d := p.Centroid().Dist(geom.Px{X: 900, Y: 700}); d > 1e-6*(a+b) {
			t.Fatalf("the centre slipped by %v", d)
		}
	})
	for _, v := range []float64{0, math.NaN(), math.Inf(1)} {
		if _, err := Round(geom.Px{}, v, 5, 0); err == nil {
			t.Errorf("a half-axis of %v passes", v)
		}
	}
}

func TestFreehandAndSmooth(t *testing.T) {
	stroke := oval(300, 300, 120, 80, 900)
	p, err := Freehand(append(stroke, stroke[0]), 0.5)
	if err != nil || len(p.Outer) > 120 || !near(p.AreaPx(), math.Pi*120*80, 0.01*math.Pi*120*80) {
		t.Errorf("%d points, area %v, %v", len(p.Outer), p.AreaPx(), err)
	}
	if _, err := Freehand([]geom.Px{{X: 0, Y: 0}, {X: 10, Y: 10}, {X: 10, Y: 0}, {X: 0, Y: 10}}, 0.5); !errors.Is(err, ErrCrossing) {
		t.Errorf("a crossing stroke: %v", err)
	}
	rapid.Check(t, func(t *rapid.T) {
		p := drawPolygon(t)
		s := p.Smooth()
		if err := s.Check(); err != nil || s.AreaPx() < 0.6*p.AreaPx() || s.AreaPx() > 1.2*p.AreaPx() {
			t.Fatalf("area %v became %v, %v", p.AreaPx(), s.AreaPx(), err)
		}
	})
}

// Two neighbours share a border; moving one of its points keeps their common area at nothing and their union whole.
func TestSharedBorderFollows(t *testing.T) {
	at := func(id string, x float64, mid bool) Label {
		r := square(x, 0, 100)
		if mid { // a point of its own in the middle of the border
			r = []geom.Px{{X: 0, Y: 0}, {X: 100, Y: 0}, {X: 100, Y: 50}, {X: 100, Y: 100}, {X: 0, Y: 100}}
		}
		return Label{ID: id, Regions: []Polygon{{Outer: r}}}
	}
	l, err := Labels{}.AddAll([]Label{at("left", 0, true), at("right", 100, false)})
	if err != nil {
		t.Fatal(err)
	}
	moved, err := l.MoveShared(stamp("AB"), geom.Px{X: 100, Y: 50}, geom.Px{X: 130, Y: 55})
	if err != nil {
		t.Fatal(err)
	}
	a, _ := moved.Find("left")
	b, _ := moved.Find("right")
	common, err1 := Common(a.Regions, b.Regions)
	union, err2 := Join(a.Regions, b.Regions)
	if errors.Join(err1, err2) != nil || areaOf(common) > 1e-9 || !near(areaOf(union), 20000, 1e-6) || len(union) != 1 || len(union[0].Holes) != 0 {
		t.Errorf("common %v, union %v in %d parts", areaOf(common), areaOf(union), len(union))
	}
	if !near(a.AreaPx(), 11500, 1e-9) || !near(b.AreaPx(), 8500, 1e-9) {
		t.Errorf("areas %v and %v", a.AreaPx(), b.AreaPx())
	}
	if _, err := l.MoveShared(stamp("AB"), geom.Px{X: 100, Y: 50}, geom.Px{X: 500, Y: 50}); !errors.Is(err, ErrCrossing) {
		t.Errorf("a move that crosses: %v", err)
	}
	if q, ok := l.Snap(geom.Px{X: 98, Y: 51}, 4, ""); !ok || q != (geom.Px{X: 100, Y: 50}) {
		t.Errorf("snapped to %v", q)
	}
	if q, ok := l.Snap(geom.Px{X: 30, Y: 3}, 4, ""); !ok || q != (geom.Px{X: 30, Y: 0}) {
		t.Errorf("snapped to %v", q)
	}
	if _, ok := l.Snap(geom.Px{X: 50, Y: 50}, 4, ""); ok {
		t.Error("snapped to nothing near")
	}
}

// LB3: liver, spleen, stomach, descending aorta and inferior vena cava; a label side against the picture side.
func TestSideSentinel(t *testing.T) {
	terms := shippedTerms(t)
	usual, err := LoadOneSided(bytes.NewReader(readFile(t, "../assets/one_sided.tsv")))
	if err != nil {
		t.Fatal(err)
	}
	for id := range usual {
		if x, ok := terms.ByID(id); !ok || x.Paired {
			t.Errorf("%s is not an unpaired structure of the list", id)
		}
	}
	mid := Midplane{On: geom.Px{X: 1000, Y: 0}, Leftish: geom.Px{X: 2, Y: 0}} // the donor's left on the picture's right
	lying := func(name string, side Side, x float64) Label {
		return Label{ID: "a", Term: byName(t, terms, name).ID, Side: side, Regions: []Polygon{{Outer: square(x-10, 500, 20)}}}
	}
	for _, c := range []struct {
		name  string
		side  Side
		x     float64
		warns bool
	}{{"liver", NoSide, 700, false}, {"liver", NoSide, 1300, true}, {"spleen", NoSide, 1300, false}, {"spleen", NoSide, 700, true}, {"stomach", NoSide, 700, true}, {"inferior vena cava", NoSide, 1300, true},
		{"descending thoracic aorta", NoSide, 700, true}, {"kidney", Left, 1300, false}, {"kidney", Left, 700, true}, {"kidney", Right, 1300, true}, {"kidney", Right, 700, false}, {"liver", NoSide, 1001, false},
		{"spinal cord", Midline, 700, false}} {
		w := mid.Watch(lying(c.name, c.side, c.x), terms, usual, 5)
		if (w != nil) != c.warns {
			t.Errorf("%s %v at %v: %+v", c.name, c.side, c.x, w)
		}
		if w != nil && w.Usual && !strings.Contains(w.Message, "situs variant?") {
			t.Errorf("%q", w.Message)
		}
	}
	unknown := Midplane{On: geom.Px{X: 1000, Y: 0}}
	if w := unknown.Watch(lying("kidney", Left, 700), terms, usual, 5); w != nil || unknown.Suggest(lying("kidney", Left, 700), 5) != NoSide {
		t.Error("something is said though left and right are unknown")
	}
	if mid.Suggest(lying("kidney", NoSide, 1300), 5) != Left || mid.Suggest(lying("kidney", NoSide, 1002), 5) != Midline {
		t.Error("the wrong side is suggested")
	}
}

// Source of the sample: the OBO 1.4 guide's own form of stanzas, written for this test.
const oboSample = `format-version: 1.2
data-version: test/2026
ontology: test

[Term]
id: T:1
name: coeliac trunk
synonym: "celiac artery" EXACT []
synonym: "truncus coeliacus" EXACT LATIN []
xref: FMA:50737
relationship: part_of T:2 ! abdominal aorta

[Term]
id: T:2
name: abdominal aorta
synonym: "aorta, \"abdominal\" part" RELATED []

[Term]
id: T:3
name: gone
is_obsolete: true

[Typedef]
id: part_of
name: part of
`

func TestOBO(t *testing.T) {
	terms, err := LoadOBO(strings.NewReader(oboSample))
	if err != nil || terms.Len() != 2 {
		t.Fatal(err)
	}
	x, _ := terms.ByID("T:1")
	if x.Latin != "truncus coeliacus" || x.PartOf != "T:2" || x.FMA != "FMA:50737" || x.Source != "test/2026" || !slices.Equal(x.Synonyms, []string{"celiac artery"}) || x.Kind != Vessel {
		t.Errorf("%+v", x)
	}
	if c := terms.Children("T:2"); len(c) != 1 || c[0].ID != "T:1" {
		t.Errorf("children %v", c)
	}
	joined, err := shippedTerms(t).Join(terms)
	if err != nil || !joined.Accepts("T:1", "celiac artery") || joined.Len() != shippedTerms(t).Len()+2 {
		t.Errorf("joined: %v", err)
	}
	for _, bad := range []string{"", "hello", "[Term]\nid: T:1\nname: a\n\n[Term]\nid: T:1\nname: b\n"} {
		if _, err := LoadOBO(strings.NewReader(bad)); !errors.Is(err, ErrTerms) {
			t.Errorf("%q: %v", bad, err)
		}
	}
}

// What an ontology's head says of itself. Source: OBO format 1.4, header tags data-version, date, ontology, remark and property_value;
// licence and title by the terms of Dublin Core, as published ontologies write them.
func TestOBOSaysItsLicence(t *testing.T) {
	const body = "\n[Term]\nid: T:1\nname: liver\n"
	for head, want := range map[string]About{
		"data-version: test/2026\nontology: test\ndate: 25:11:2026 09:00": {Version: "test/2026", Source: "test", Date: "25:11:2026 09:00"},
		"ontology: test\nproperty_value: dcterms-license http://creativecommons.org/licenses/by/3.0/\nproperty_value: dc-title \"Test anatomy\" xsd:string": {Source: "test",
			Title: "Test anatomy", Licence: "http://creativecommons.org/licenses/by/3.0/"},
		"property_value: http://purl.org/dc/terms/license \"https://creativecommons.org/licenses/by/4.0/\" xsd:anyURI\nproperty_value: owl:versionInfo \"2026-01-01\" xsd:string": {
			Version: "2026-01-01", Licence: "https://creativecommons.org/licenses/by/4.0/"},
		"remark: made for tests\nremark: Licence: CC0": {Licence: "Licence: CC0"},
		"format-version: 1.4":                          {},
	} {
		terms, err := LoadOBO(strings.NewReader("format-version: 1.4\n" + head + "\n" + body))
		if err != nil || terms.About() != want {
			t.Errorf("%q: %+v, %v", head, terms.About(), err)
		}
	}
	if a := shippedTerms(t).About(); a != (About{}) {
		t.Errorf("the shipped list says %+v", a)
	}
}

func FuzzLoadOBO(f *testing.F) {
	f.Add(oboSample)
	f.Fuzz(func(t *testing.T, text string) {
		if terms, err := LoadOBO(strings.NewReader(text)); err == nil {
			terms.Find("a", 3)
		}
	})
}

func TestAnnotationsComeBackEqual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, err := Labels{}.AddAll([]Label{drawLabel(t, "a"), drawLabel(t, "b")})
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := l.WriteAnnotations(&b, "face-3.jpg", nil); err != nil {
			t.Fatal(err)
		}
		back, source, err := ReadAnnotations(&b)
		if err != nil || source != "face-3.jpg" || !same(l, back) {
			t.Fatalf("%v", err)
		}
	})
}

// Source: W3C Web Annotation Data Model, 2017: an annotation has @context, id, type Annotation, and a target; a selector of an SVG
// shape is of type SvgSelector.
func TestAnnotationShape(t *testing.T) {
	l, _ := Labels{}.Add(liver("a", 10))
	var b bytes.Buffer
	if err := l.WriteAnnotations(&b, "x.png", shippedTerms(t)); err != nil {
		t.Fatal(err)
	}
	var page map[string]any
	if err := json.Unmarshal(b.Bytes(), &page); err != nil {
		t.Fatal(err)
	}
	item := page["items"].([]any)[0].(map[string]any)
	selector := item["target"].(map[string]any)["selector"].(map[string]any)
	if page["@context"] != "http://www.w3.org/ns/anno.jsonld" || item["type"] != "Annotation" || selector["type"] != "SvgSelector" || !strings.HasPrefix(selector["value"].(string), "<svg") {
		t.Errorf("%s", b.String())
	}
}

func FuzzReadAnnotations(f *testing.F) {
	l, err := Labels{}.Add(liver("a", 10))
	if err != nil {
		f.Fatal(err)
	}
	var b bytes.Buffer
	if err := l.WriteAnnotations(&b, "x", nil); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Fuzz(func(t *testing.T, in []byte) { _, _, _ = ReadAnnotations(bytes.NewReader(in)) })
}

func TestChanges(t *testing.T) {
	old, _ := Labels{}.AddAll([]Label{liver("a", 10), liver("b", 20), liver("c", 30)})
	next, _ := old.Reshape("a", stamp("CD"), Polygon{Outer: square(0, 0, 12)})
	next, _ = next.Rename("a", stamp("CD"), "X:1", Left)
	next, _ = next.Remove("b")
	next, _ = next.Sign("c", stamp("EF"))
	next, _ = next.Add(liver("d", 5))
	got := Changes(old, next, stamp("GH"))
	want := []Change{{"a", []string{"outline", "structure", "side"}, "CD", day}, {"b", []string{"removed"}, "GH", day}, {"c", []string{"signed"}, "EF", day}, {"d", []string{"added"}, "AB", day}}
	if len(got) != len(want) {
		t.Fatalf("%+v", got)
	}
	for i := range want {
		if got[i].Label != want[i].Label || !slices.Equal(got[i].What, want[i].What) || got[i].By != want[i].By || !got[i].At.Equal(want[i].At) {
			t.Errorf("%+v, want %+v", got[i], want[i])
		}
	}
	if len(Changes(old, old, stamp("GH"))) != 0 {
		t.Error("nothing changed, yet something is listed")
	}
}
