package bench

import (
	"bytes"
	"encoding/csv"
	"math"
	"strings"
	"testing"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// MS1: a rectangle of 100 x 50 mm reads 5,000 mm² within 1 %, with a spread; turn and mirror change nothing. The sample's
// scale is 0.5 mm per pixel, so the rectangle is 200 x 100 pixels.
func TestMS1LengthAngleArea(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	b.SetTool(ToolMeasure)
	corners := []geom.Px{{X: 200, Y: 200}, {X: 400, Y: 200}, {X: 400, Y: 300}, {X: 200, Y: 300}}
	measure := func() (length, angle, area string) {
		f.lay(b.doc)
		b.SetMeasureKind(MeasureLength)
		clickDrag(f, corners[0], corners[1])
		length = b.MeasureWords()
		b.SetMeasureKind(MeasureAngle)
		for _, p := range corners[:3] {
			clickAt(f, p)
		}
		angle = b.MeasureWords()
		b.SetMeasureKind(MeasureArea)
		for _, p := range corners {
			clickAt(f, p)
		}
		if b.MeasureWords() != "" {
			t.Fatal("an open shape has an area")
		}
		b.Key("Return", Mods{})
		return length, angle, b.MeasureWords()
	}
	length, angle, area := measure()
	rows := measuredRows(measuredOn, b.faceMeasured())
	if len(rows) != 2 || rows[0][0] != "area" || rows[0][1] != "photo" {
		t.Fatalf("rows %q", rows)
	}
	c := b.doc.plate().Calibration
	mm2, sd := annotate.Polygon{Outer: corners}.Area(c)
	if math.Abs(mm2-5000) > 50 || !(sd > 0) {
		t.Errorf("area %g ± %g mm²", mm2, sd)
	}
	if !has(length, "100.0 mm ±") || !has(angle, "90.0° ±") || !has(area, "5000 mm² ±", "perimeter 300.0 mm ±") {
		t.Errorf("%q, %q, %q", length, angle, area)
	}
	for _, v := range []section.View{section.Scan, section.OtherSide} {
		b.SetView(v)
		f.lay(b.doc)
		if l, a, s := measure(); l != length || a != angle || s != area {
			t.Errorf("view %v: %q, %q, %q", v, l, a, s)
		}
	}
	b.SetMirrored(atlas.Yes)
	if l, a, s := measure(); l != length || a != angle || s != area {
		t.Errorf("mirrored: %q, %q, %q", l, a, s)
	}
	b.ClearScale()
	if w := b.MeasureWords(); w != Word("noscale") {
		t.Errorf("without a scale: %q", w)
	}
}

func clickDrag(f *facePane, from, to geom.Px) {
	a, z := f.b.doc.view.Device(from), f.b.doc.view.Device(to)
	f.Down(a, Primary, Mods{Clicks: 1})
	f.Drag(z)
	f.Up(z)
}

// The table says of each label what it was measured on, and a spreadsheet reads it.
func TestTableOfMeasures(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	withSquare(t, b, 200, 300, 50)
	if err := b.NameChosen("UBERON:0002107", annotate.NoSide, annotate.Certain); err != nil {
		t.Fatal(err)
	}
	rows := b.MeasureTable()
	if len(rows) != 1 || rows[0].Name != "liver" || !has(rows[0].Area, "2500 mm² ±") || !has(rows[0].Perimeter, "200.0 mm ±") {
		t.Fatalf("%+v", rows) // 100 px square: 50 mm by 50 mm
	}
	b.SetTool(ToolMeasure)
	clickDrag(f, geom.Px{X: 100, Y: 100}, geom.Px{X: 300, Y: 100})
	var out bytes.Buffer
	if err := b.WriteMeasures(&out); err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(out.String()))
	r.FieldsPerRecord = -1
	all, err := r.ReadAll()
	if err != nil || len(all) < 4 {
		t.Fatalf("%v: %q", err, all)
	}
	if all[1][2] != "liver" || all[1][5] != "photo" || all[1][6] != "2500.00" {
		t.Errorf("label row %q", all[1])
	}
	if last := all[len(all)-1]; last[0] != "length" || last[2] != "100.00" {
		t.Errorf("tool row %q", last)
	}
}

// A length set by keys alone.
func TestMeasureByKeys(t *testing.T) {
	b, _, _, _ := onBench(t, 900, 700)
	for _, k := range []string{"M", "Right", "Return", "Right", "Right", "Right", "Right", "Return"} {
		if !b.Key(k, Mods{}) {
			t.Fatalf("key %s was not used", k)
		}
	}
	if w := b.MeasureWords(); !has(w, "mm ±") {
		t.Fatalf("%q", w)
	}
}
