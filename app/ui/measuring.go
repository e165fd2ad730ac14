package ui

import (
	"fyne.io/fyne/v2"

	"sectionary/app/bench"
)

// measurePart chooses what is measured and shows it with its spread.
type measurePart struct {
	w    *Window
	box  *fyne.Container
	kind *options
	out  *words
}

func newMeasurePart(w *Window) *measurePart {
	p := &measurePart{w: w, out: newWords(heading, "")}
	p.kind = w.options("measure:kind", []string{say("measure.length"), say("measure.angle"), say("measure.area")}, 0,
		func(i int) { w.desk.SetMeasureKind(bench.MeasureKind(i)); w.keyboardToPicture() })
	p.box = newColumn(8, p.kind.box, p.out, newWords(caption, say("measure.on")),
		newFlow(6, w.button("measure:table", "", say("measure.table"), edged, w.showMeasures)))
	return p
}

func (p *measurePart) object() *fyne.Container { return p.box }

func (p *measurePart) refresh() {
	p.kind.show(int(p.w.desk.MeasureKind()))
	p.out.set(p.w.desk.MeasureWords())
}

// showMeasures shows area and perimeter of every label of the face that counts.
func (w *Window) showMeasures() {
	col := newColumn(6, newWords(title, say("measure.table.title")))
	rows := w.desk.MeasureTable()
	for _, r := range rows {
		col.Add(newRow(12, 0, newWords(body, r.Name), newLineHolder(newLine(strong, r.Area), 170), newLineHolder(newLine(body, r.Perimeter), 170)))
	}
	if len(rows) == 0 {
		col.Add(newWords(body, say("measure.table.none")))
	}
	var s *sheet
	done := w.button("close", "", say("close"), edged, func() { s.close() })
	s = w.sheet(760, col, done)
	s.open(done)
}
