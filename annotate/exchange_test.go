package annotate

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

func TestSVGComesBackEqual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var list []Label
		for i := range rapid.IntRange(0, 4).Draw(t, "labels") {
			x := drawLabel(t, string(rune('a'+i)))
			x.Note = strings.Map(func(r rune) rune { // XML has no way to hold control characters
				if r < ' ' || r == 0xFFFD || r == 0xFFFE || r == 0xFFFF {
					return -1
				}
				return r
			}, x.Note)
			list = append(list, x)
		}
		l, err := Labels{}.AddAll(list)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := l.WriteSVG(&b, 5000, 4000, nil); err != nil {
			t.Fatal(err)
		}
		back, err := ReadSVG(bytes.NewReader(b.Bytes()))
		if err != nil || !same(l, back) {
			t.Fatalf("%v\n%s", err, b.String())
		}
		for d := xml.NewDecoder(&b); ; { // well-formed by the standard library's own reader, strict
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatal(err)
			}
		}
	})
}

func FuzzReadSVG(f *testing.F) {
	l, err := Labels{}.Add(liver("a", 10))
	if err != nil {
		f.Fatal(err)
	}
	var b bytes.Buffer
	if err := l.WriteSVG(&b, 10, 10, nil); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Add([]byte(`<svg><path data-id="a" d="M0,0L9,0L9,9Z" data-parts="1" data-side="left" data-changed="2026-01-05T09:30:00Z"/></svg>`))
	f.Fuzz(func(t *testing.T, in []byte) {
		l, err := ReadSVG(bytes.NewReader(in))
		if err != nil {
			return
		}
		for x := range l.All() {
			if err := checkRegions(x.Regions); err != nil {
				t.Fatal(err)
			}
		}
	})
}

func TestReadSVGRefuses(t *testing.T) {
	head := `<svg><path data-id="a" data-side="left" data-changed="2026-01-05T09:30:00Z" `
	for name, text := range map[string]string{"curves": head + `data-parts="1" d="M0,0C1,1,2,2,3,3Z"/></svg>`, "open ring": head + `data-parts="1" d="M0,0L9,0L9,9"/></svg>`,
		"rings left over": head + `data-parts="1" d="M0,0L9,0L9,9ZM1,1L2,1L2,2Z"/></svg>`, "not XML": head, "side": `<svg><path data-id="a" data-side="up"/></svg>`, "crossing": head + `data-parts="1" d="M0,0L9,9L9,0L0,9Z"/></svg>`} {
		if _, err := ReadSVG(strings.NewReader(text)); err == nil {
			t.Errorf("%s passes", name)
		}
	}
}

func TestCSVTable(t *testing.T) {
	x := liver("a", 100)
	x.Note = "=HYPERLINK(1)"
	carried := liver("b", 10)
	carried.Carried = true
	l, err := Labels{}.AddAll([]Label{x, carried})
	if err != nil {
		t.Fatal(err)
	}
	scale, err := photo.TwoTicks(geom.Px{X: 0, Y: 0}, geom.Px{X: 1000, Y: 0}, 500) // 0.5 mm per pixel
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		scale photo.Calibration
		area  string
	}{{scale, "2500.00"}, {photo.Calibration{}, "no scale"}} {
		var b bytes.Buffer
		if err := l.WriteCSV(&b, c.scale, "photo", shippedTerms(t)); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(&b).ReadAll()
		if err != nil || len(rows) != 2 {
			t.Fatalf("%v: %d rows", err, len(rows))
		}
		if r := rows[1]; r[2] != "liver" || r[6] != c.area || r[13] != "'=HYPERLINK(1)" {
			t.Errorf("%q", r)
		}
	}
	for in, want := range map[string]string{"=1": "'=1", "+x": "'+x", "-5.2": "-5.2", "@a": "'@a", "liver": "liver", "": ""} {
		if got := guardCell(in); got != want {
			t.Errorf("%q became %q", in, got)
		}
	}
}

// MS1: a 100 x 50 mm rectangle has 5,000 mm2 within 1 %; mirror and turn change nothing; no scale, no millimetres.
func TestMeasuresOnTheFace(t *testing.T) {
	scale, err := photo.TwoTicks(geom.Px{X: 100, Y: 100}, geom.Px{X: 2100, Y: 100}, 200) // 0.1 mm per pixel
	if err != nil {
		t.Fatal(err)
	}
	p := Polygon{Outer: []geom.Px{{X: 500, Y: 500}, {X: 1500, Y: 500}, {X: 1500, Y: 1000}, {X: 500, Y: 1000}}}
	area, sd := p.Area(scale)
	if !near(area, 5000, 1e-9*5000) || sd <= 0 || sd > 50 {
		t.Errorf("area %v +/- %v", area, sd)
	}
	length, lsd := p.Perimeter(scale)
	if !near(length, 300, 1e-9*300) || lsd <= 0 || lsd > 3 {
		t.Errorf("perimeter %v +/- %v", length, lsd)
	}
	p.Holes = [][]geom.Px{square(600, 600, 100)}
	if less, _ := p.Area(scale); !near(less, 4900, 1e-6) {
		t.Errorf("with a hole of 100 mm2: %v", less)
	}
	angle, asd := Angle(scale, geom.Px{X: 1500, Y: 500}, geom.Px{X: 500, Y: 500}, geom.Px{X: 500, Y: 1500})
	if !near(angle, math.Pi/2, 1e-12) || asd <= 0 {
		t.Errorf("angle %v +/- %v", angle, asd)
	}
	for _, v := range func() []float64 {
		a, b := p.Area(photo.Calibration{})
		c, d := p.Perimeter(photo.Calibration{})
		return []float64{a, b, c, d}
	}() {
		if !math.IsNaN(v) {
			t.Errorf("without a scale there is a number: %v", v)
		}
	}
}

// The spread of an angle and of a perimeter against simulation: clicks off by photo.ClickSpread on each axis (JCGM 101:2008,
// propagation by Monte Carlo), 5 %.
func TestSpreadsAgainstSimulation(t *testing.T) {
	scale, err := photo.TwoTicks(geom.Px{X: 0, Y: 0}, geom.Px{X: 1e6, Y: 0}, 1e5)
	if err != nil {
		t.Fatal(err)
	}
	scale.Ties = nil // a scale without its ties has no spread of its own, so only the clicks are left
	a, c, b := geom.Px{X: 700, Y: 300}, geom.Px{X: 500, Y: 500}, geom.Px{X: 650, Y: 820}
	_, sd := Angle(scale, a, c, b)
	noise := newNoise(7)
	var sum, square float64
	const n = 40_000
	for range n {
		v, _ := Angle(scale, noise(a), noise(c), noise(b))
		sum, square = sum+v, square+v*v
	}
	if got := math.Sqrt(square/n - sum/n*sum/n); !near(got, sd, 0.05*sd) {
		t.Errorf("angle: said %v, simulated %v", sd, got)
	}
}

func TestOutlineReports(t *testing.T) {
	got, err := ReportOutlines([]byte(`{"outlines":[{"outer":[[0,0],[10,0],[10,10],[0,10],[0,0]]},{"outer":[[0,0],[10,10],[10,0],[0,10]]},{"outer":[]}]}`))
	if err != nil || len(got) != 3 {
		t.Fatal(err, got)
	}
	if !got[0].OK || *got[0].Area != 100 || *got[0].Perimeter != 40 || *got[0].Centroid != [2]float64{5, 5} || math.Hypot(got[0].Inside[0]-5, got[0].Inside[1]-5) > 0.01 {
		t.Errorf("%+v", got[0])
	}
	if got[1].OK || !strings.Contains(got[1].Error, "5.0, 5.0") || got[1].Area != nil || got[2].OK {
		t.Errorf("%+v %+v", got[1], got[2])
	}
	if _, err := ReportOutlines([]byte(`{"outlines":3}`)); err == nil {
		t.Error("nonsense passes")
	}
}

func TestShippedLevels(t *testing.T) {
	levels, err := LoadLevels(bytes.NewReader(readFile(t, "../assets/levels.tsv")))
	if err != nil || len(levels) < 40 {
		t.Fatal(err, len(levels))
	}
	terms := shippedTerms(t)
	for _, l := range levels {
		if _, ok := terms.ByID(l.Term); l.Term != "" && !ok {
			t.Errorf("%s: the list has no %s", l.Structure, l.Term)
		}
		if l.Source == "" {
			t.Errorf("%s has no source", l.Structure)
		}
	}
	// Source: Lee 2004 AJR 182 and Tokgoz 2014 by way of the levels of the truth table: the aorta parts at L4.
	found := false
	for _, l := range LevelsAt(levels, "L4") {
		found = found || strings.HasPrefix(l.Structure, "aortic bifurcation") && l.Imaging
	}
	if !found {
		t.Error("L4 does not show the aortic bifurcation")
	}
	for name, text := range map[string]string{"header": "a\tb\n", "range": "structure\tterm\tfrom\tto\tpart\tbasis\tnote\tsource\nx\t\tL3\tL1\tbody\ttextbook\t\ts\n", "basis": "structure\tterm\tfrom\tto\tpart\tbasis\tnote\tsource\nx\t\tL1\tL1\tbody\thearsay\t\ts\n"} {
		if _, err := LoadLevels(strings.NewReader(text)); !errors.Is(err, ErrLevels) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func FuzzLoadLevels(f *testing.F) {
	f.Add("structure\tterm\tfrom\tto\tpart\tbasis\tnote\tsource\nx\t\tL1\tL2\tbody\ttextbook\t\ts\n")
	f.Fuzz(func(t *testing.T, text string) {
		if levels, err := LoadLevels(strings.NewReader(text)); err == nil {
			LevelsAt(levels, "L1")
		}
	})
}

// newNoise returns a function that moves a point as a hand does.
func newNoise(seed uint64) func(geom.Px) geom.Px {
	rng := rand.New(rand.NewPCG(seed, 1))
	return func(q geom.Px) geom.Px {
		return geom.Px{X: q.X + photo.ClickSpread*rng.NormFloat64(), Y: q.Y + photo.ClickSpread*rng.NormFloat64()}
	}
}
