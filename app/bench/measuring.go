package bench

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"sectionary/annotate"
	"sectionary/slices/geom"
)

// MeasureKind is what the measuring tool measures.
type MeasureKind uint8

// A length between two places, an angle at the second of three, or the area and perimeter of a shape.
const (
	MeasureLength MeasureKind = iota
	MeasureAngle
	MeasureArea
)

// measureDraft is a measure being taken, on the photograph in its pixels or on the scan in mm along the cut.
type measureDraft struct {
	kind  MeasureKind
	at    []geom.Px
	whole bool
}

// mostMeasured bounds the points of a shape that is measured.
const mostMeasured = 2000

func (m measureDraft) open() bool { return len(m.at) > 0 && !m.whole }

func (m *measureDraft) drop() { m.at, m.whole = nil, false }

// take chooses what is measured and drops what was; false when that is what it measures already.
func (m *measureDraft) take(k MeasureKind) bool {
	if k > MeasureArea || k == m.kind {
		return false
	}
	*m = measureDraft{kind: k}
	return true
}

// add sets the next place; a measure that is whole is begun anew. onFirst tells whether the place is the first again, seen on the screen: it
// closes a shape.
func (m *measureDraft) add(p geom.Px, onFirst func(first geom.Px) bool) {
	if m.whole || len(m.at) >= mostMeasured {
		m.drop()
	}
	n := len(m.at)
	if n > 2 && m.kind == MeasureArea && onFirst(m.at[0]) {
		m.whole = true
		return
	}
	m.at = append(m.at[:n:n], p)
	m.whole = (m.kind == MeasureLength && n == 1) || (m.kind == MeasureAngle && n == 2)
}

// shut ends the shape being measured; false when there is none.
func (m *measureDraft) shut() bool {
	if m.whole || m.kind != MeasureArea || len(m.at) < 3 {
		return false
	}
	m.whole = true
	return true
}

// crosses reports whether the border of the shape measured crosses itself, so that it has no area.
func (m measureDraft) crosses() bool {
	return m.whole && m.kind == MeasureArea && (annotate.Polygon{Outer: m.at}).Check() != nil
}

// measuredValue is one measure with its spread.
type measuredValue struct {
	what      string // length, angle, area or perimeter: "measure.WHAT" shows it
	value, sd float64
	unit      string
}

// measuredWords says what was measured, a line each.
func measuredWords(m measureDraft, values []measuredValue) string {
	if m.crosses() {
		return Word("measure.crosses")
	}
	var lines []string
	for _, v := range values {
		if !math.IsNaN(v.value) {
			lines = append(lines, Word("measure."+v.what, v.value, v.sd))
		}
	}
	return strings.Join(lines, "\n")
}

// measuredRows are measures as rows of a table: what, measured on what, value, spread, unit.
func measuredRows(on string, values []measuredValue) (rows [][]string) {
	for _, v := range values {
		if !math.IsNaN(v.value) {
			rows = append(rows, []string{v.what, on, strconv.FormatFloat(v.value, 'f', 2, 64), strconv.FormatFloat(v.sd, 'f', 2, 64), v.unit})
		}
	}
	return rows
}

// SetMeasureKind chooses what is measured. What was measured is dropped.
func (b *Bench) SetMeasureKind(k MeasureKind) {
	if b.draw.measure.take(k) {
		b.changed(SelectionChanged)
	}
}

// MeasureKind is what the measuring tool measures.
func (b *Bench) MeasureKind() MeasureKind { return b.draw.measure.kind }

// measurePoint sets the next point of a measure on the photograph.
func (f *facePane) measurePoint(px geom.Px) {
	view := f.b.doc.view
	f.b.draw.measure.add(px, func(first geom.Px) bool { return view.Device(first).Dist(view.Device(px)) < f.scale*reach*0.6 })
	f.b.changed(SelectionChanged)
}

// closeMeasure ends the shape being measured.
func (b *Bench) closeMeasure() {
	if b.draw.measure.shut() {
		b.changed(SelectionChanged)
	}
}

// MeasureWords is what was measured with its spread, and on what; "no scale" without one.
func (b *Bench) MeasureWords() string {
	if _, ok := b.hasScale(); !ok {
		return Word("noscale")
	}
	return measuredWords(b.draw.measure, b.faceMeasured())
}

// faceMeasured is what the measuring tool holds on the photograph, nothing while it is open or without a scale.
func (b *Bench) faceMeasured() []measuredValue {
	m := b.draw.measure
	c, ok := b.hasScale()
	if !ok || !m.whole || m.crosses() {
		return nil
	}
	switch m.kind {
	case MeasureAngle:
		a, sd := annotate.Angle(c, m.at[0], m.at[1], m.at[2])
		return []measuredValue{{"angle", a * 180 / math.Pi, sd * 180 / math.Pi, "degrees"}}
	case MeasureArea:
		p := annotate.Polygon{Outer: m.at}
		a, asd := p.Area(c)
		l, lsd := p.Perimeter(c)
		return []measuredValue{{"area", a, asd, "mm2"}, {"perimeter", l, lsd, "mm"}}
	}
	mm, sd, err := c.Length(m.at[0], m.at[1])
	if err != nil {
		return nil
	}
	return []measuredValue{{"length", mm, sd, "mm"}}
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
	rows := append(measuredRows(measuredOn, b.faceMeasured()), measuredRows(onScan, b.scanMeasured())...)
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

func measureHint(k MeasureKind) string {
	switch k {
	case MeasureAngle:
		return Word("hint.measure.angle")
	case MeasureArea:
		return Word("hint.measure.area")
	}
	return Word("hint.measure")
}
