package bench

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// MeasureKind is what the measuring tool measures.
type MeasureKind uint8

// A length between two places, an angle at the second of three, or the area and perimeter of a shape.
const (
	MeasureLength MeasureKind = iota
	MeasureAngle
	MeasureArea
)

// SetMeasureKind chooses what is measured. What was measured is dropped.
func (b *Bench) SetMeasureKind(k MeasureKind) {
	if k <= MeasureArea && k != b.draw.measureKind {
		b.draw.measureKind, b.draw.measure, b.draw.measured = k, nil, false
		b.changed(SelectionChanged)
	}
}

// MeasureKind is what the measuring tool measures.
func (b *Bench) MeasureKind() MeasureKind { return b.draw.measureKind }

// measurePoint sets the next point of a measure; a measure that is whole is begun anew.
func (f *facePane) measurePoint(px geom.Px) {
	b := f.b
	d := &b.draw
	if d.measured || len(d.measure) >= mostMeasured {
		d.measure, d.measured = nil, false
	}
	if n := len(d.measure); n > 2 && d.measureKind == MeasureArea && b.doc.view.Device(d.measure[0]).Dist(b.doc.view.Device(px)) < f.scale*reach*0.6 {
		d.measured = true
	} else {
		d.measure = append(d.measure[:n:n], px)
		d.measured = (d.measureKind == MeasureLength && n == 1) || (d.measureKind == MeasureAngle && n == 2)
	}
	b.changed(SelectionChanged)
}

// mostMeasured bounds the points of a shape that is measured.
const mostMeasured = 2000

// closeMeasure ends the shape being measured.
func (b *Bench) closeMeasure() {
	if b.draw.measureKind == MeasureArea && len(b.draw.measure) > 2 {
		b.draw.measured = true
		b.changed(SelectionChanged)
	}
}

// MeasureWords is what was measured with its spread, and on what; "no scale" without one.
func (b *Bench) MeasureWords() string {
	m := b.draw.measure
	c, ok := b.hasScale()
	if !ok {
		return Word("noscale")
	}
	switch b.draw.measureKind {
	case MeasureAngle:
		if len(m) < 3 {
			return ""
		}
		return angleWords(annotate.Angle(c, m[0], m[1], m[2]))
	case MeasureArea:
		p := annotate.Polygon{Outer: m}
		if !b.draw.measured || p.Check() != nil {
			return ""
		}
		return areaPerimeterWords(p, c)
	}
	if len(m) < 2 {
		return ""
	}
	mm, sd, err := c.Length(m[0], m[1])
	if err != nil {
		return Word("noscale")
	}
	return Word("measure.length", mm, sd)
}

func angleWords(rad, sd float64) string {
	if math.IsNaN(rad) {
		return Word("noscale")
	}
	return Word("measure.angle", rad*180/math.Pi, sd*180/math.Pi)
}

func areaPerimeterWords(p annotate.Polygon, c photo.Calibration) string {
	a, asd := p.Area(c)
	l, lsd := p.Perimeter(c)
	if math.IsNaN(a) || math.IsNaN(l) {
		return Word("noscale")
	}
	return Word("measure.area", a, asd) + "\n" + Word("measure.perimeter", l, lsd)
}

// MeasureRow is one label in the table of measures.
type MeasureRow struct{ ID, Name, Area, Perimeter string }

// MeasureTable lists area and perimeter, with their spread, of every label of the face that counts.
func (b *Bench) MeasureTable() []MeasureRow {
	p, ok := b.Plate()
	if !ok {
		return nil
	}
	var out []MeasureRow
	for _, m := range p.Labels.Measure(p.Calibration) {
		r := MeasureRow{ID: m.ID, Name: string(m.Term), Area: Word("noscale"), Perimeter: Word("noscale")}
		if t, ok := b.term(m.Term); ok {
			r.Name = t.Name
		}
		switch m.Side {
		case annotate.Left, annotate.Right:
			r.Name += ", " + m.Side.String()
		}
		if m.Area != nil && m.Perimeter != nil {
			r.Area, r.Perimeter = Word("measure.area", *m.Area, *m.AreaSD), Word("measure.length", *m.Perimeter, *m.PerimSD)
		}
		out = append(out, r)
	}
	return out
}

// measuredOn is what the measures of a face are taken on; onScan what those on its cut of the scan are.
const measuredOn, onScan = "photo", "scan"

// WriteMeasures writes the table of measures of the face as CSV, and below it what the measuring tool holds.
func (b *Bench) WriteMeasures(w io.Writer) error {
	p, ok := b.Plate()
	if !ok {
		return ErrNoPhoto
	}
	if err := p.Labels.WriteCSV(w, p.Calibration, measuredOn, b.terms); err != nil {
		return err
	}
	rows := b.toolRows(p.Calibration)
	for _, m := range b.scanMeasured() {
		rows = append(rows, []string{m.what, onScan, strconv.FormatFloat(m.value, 'f', 2, 64), strconv.FormatFloat(m.sd, 'f', 2, 64), m.unit})
	}
	if len(rows) == 0 {
		return nil
	}
	out := csv.NewWriter(w)
	out.UseCRLF = true
	if err := out.WriteAll(append([][]string{{}, {"measure", "measured on", "value", "spread", "unit"}}, rows...)); err != nil {
		return fmt.Errorf("bench: table of measures: %w", err)
	}
	return nil
}

func (b *Bench) toolRows(c photo.Calibration) (rows [][]string) {
	m := b.draw.measure
	row := func(what string, v, sd float64, unit string) {
		if !math.IsNaN(v) {
			rows = append(rows, []string{what, measuredOn, strconv.FormatFloat(v, 'f', 2, 64), strconv.FormatFloat(sd, 'f', 2, 64), unit})
		}
	}
	if !b.draw.measured || c.Status == photo.Nominal {
		return nil
	}
	switch b.draw.measureKind {
	case MeasureLength:
		if mm, sd, err := c.Length(m[0], m[1]); err == nil {
			row("length", mm, sd, "mm")
		}
	case MeasureAngle:
		a, sd := annotate.Angle(c, m[0], m[1], m[2])
		row("angle", a*180/math.Pi, sd*180/math.Pi, "degrees")
	case MeasureArea:
		p := annotate.Polygon{Outer: m}
		if p.Check() == nil {
			a, asd := p.Area(c)
			l, lsd := p.Perimeter(c)
			row("area", a, asd, "mm2")
			row("perimeter", l, lsd, "mm")
		}
	}
	return rows
}

func measureHint(k MeasureKind) string {
	switch k {
	case MeasureAngle:
		return Word("hint.measure.angle")
	case MeasureArea:
		return Word("hint.measure.area")
	}
	return Word("hint.measure")
}
