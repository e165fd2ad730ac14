package ui

import (
	"fyne.io/fyne/v2"

	"sectionary/app/bench"
)

// scanMeasurePart measures on the cut of the scan and says that it is the scan that is measured.
type scanMeasurePart struct {
	w      *Window
	box    *fyne.Container
	on     *button
	kind   *options
	out    *words
	inside *fyne.Container
}

func newScanMeasurePart(w *Window) *scanMeasurePart {
	p := &scanMeasurePart{w: w, out: newWords(heading, "")}
	p.on = w.button("pairing:measure", "measure", say("pairing.measure"), choice, func() { w.desk.Do("scan.measure"); w.keyboardToPicture() }).tipped(say("pairing.measure.tip"))
	p.kind = w.options("scanmeasure:kind", []string{say("measure.length"), say("measure.angle"), say("measure.area")}, 0,
		func(i int) { w.desk.SetScanMeasureKind(bench.MeasureKind(i)); w.keyboardToPicture() })
	p.inside = newColumn(6, p.kind.box, p.out, newWords(caption, say("measure.onscan")))
	p.box = newColumn(6, newFlow(6, p.on), p.inside)
	return p
}

func (p *scanMeasurePart) refresh() {
	on := p.w.desk.ScanMeasuring()
	p.on.setOn(on)
	p.inside.Hidden = !on
	p.kind.show(int(p.w.desk.ScanMeasureKind()))
	p.out.set(p.w.desk.ScanMeasureWords())
}
