package bench

import (
	"bytes"
	"math"
	"strings"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// Row PH2 on the bench: mm per pixel, residual, date and spread are shown of a scale.
func TestPH2ScaleIsShown(t *testing.T) {
	b, q, _, f := onBench(t, 900, 700)
	b.SetTool(ToolScale)
	b.SetScaleMode(FourCorners)
	for _, p := range []geom.Px{{X: 200, Y: 200}, {X: 400, Y: 204}, {X: 402, Y: 300}, {X: 198, Y: 301}} {
		clickAt(f, p)
	}
	b.SetScaleSize(100, 50)
	b.SetScaleLevel(atlas.Yes, 0, 0)
	if err := b.AcceptScale(); err != nil {
		t.Fatal(err)
	}
	date := q.now.Local().Format("2 January 2006")
	if w := b.ScaleInForce(); !has(w, "mm per pixel in the middle", "at the corners", "Lengths are good to", "Set "+date) {
		t.Errorf("%q", w)
	}
	// four corners fit any plane: a residual is shown from five ties on
	var ties []photo.Tie
	for i := range 12 {
		at := geom.Px{X: 200 + 40*float64(i%4), Y: 200 + 45*float64(i/4)}
		ties = append(ties, photo.Tie{Px: at, MM: geom.MM{X: 20 * float64(i%4), Y: 22.5*float64(i/4) + 0.3*float64(i%2)}})
	}
	c, err := photo.Grid(ties)
	if err != nil {
		t.Fatal(err)
	}
	if w := b.scaleWords(c); !has(w, "fit to 0.1") {
		t.Errorf("%q", w)
	}
}

// Row PH2 on the bench: without a scale every mm reads "no scale", never pixels dressed as mm.
func TestPH2NoScaleNoMM(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	b.ClearScale()
	x := annotate.Label{ID: "a", Term: "UBERON:0000948", Side: annotate.Midline, Sure: annotate.Certain, Author: "A", Changed: time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC),
		Regions: []annotate.Polygon{{Outer: []geom.Px{{X: 300, Y: 200}, {X: 500, Y: 200}, {X: 500, Y: 350}}}}}
	if err := b.editLabels("x", "", func(l annotate.Labels) (annotate.Labels, error) { return l.Add(x) }); err != nil {
		t.Fatal(err)
	}
	b.ChooseLabel("a")
	b.SetTool(ToolMeasure)
	at := func(x, y float64) geom.Px { return b.doc.view.Device(geom.Px{X: x, Y: y}) }
	f.Down(at(100, 100), Primary, Mods{})
	f.Drag(at(500, 100))
	f.Up(at(500, 100))
	fields := map[string]string{"scale in force": b.ScaleInForce(), "measure": b.MeasureWords()}
	for _, r := range b.Labels() {
		fields["area of "+r.ID] = r.Area
	}
	for _, r := range b.MeasureTable() {
		fields["table area"], fields["table length"] = r.Area, r.Perimeter
	}
	if len(fields) < 5 {
		t.Fatalf("%v", fields)
	}
	for name, words := range fields {
		if words != "no scale" {
			t.Errorf("%s reads %q", name, words)
		}
	}
	if f.perMM(b.doc) != 0 {
		t.Error("the scale bar has a length")
	}
	var csv bytes.Buffer
	p, _ := b.Plate()
	if err := p.Labels.WriteCSV(&csv, p.Calibration, "photo", nil); err != nil {
		t.Fatal(err)
	}
	rows := strings.Split(strings.TrimSpace(csv.String()), "\r\n")
	if len(rows) != 2 || strings.Count(rows[1], "no scale") != 4 {
		t.Errorf("the table reads\n%s", csv.String())
	}
	a, sd := x.Regions[0].Area(p.Calibration)
	l, lsd := x.Regions[0].Perimeter(p.Calibration)
	if !math.IsNaN(a+sd) || !math.IsNaN(l+lsd) {
		t.Error("an area or a length without a scale")
	}
	if _, _, err := p.Calibration.Length(geom.Px{}, geom.Px{X: 10}); err == nil {
		t.Error("a length without a scale")
	}
}
