package ui

import (
	"fyne.io/fyne/v2"

	"sectionary/app/bench"
)

// rulerPart finds the ticks of a ruler in the photograph and asks how long one step is.
type rulerPart struct {
	w     *Window
	box   *fyne.Container
	find  *button
	found *words
	steps *options
	ask   *fyne.Container
}

func newRulerPart(w *Window) *rulerPart {
	p := &rulerPart{w: w, found: newWords(body, "")}
	d := w.desk
	p.find = w.button("scale:find", "scale", say("ruler.find"), edged, d.FindRuler).tipped(say("ruler.find.tip"))
	labels := make([]string, len(bench.RulerSteps))
	for i, s := range bench.RulerSteps {
		labels[i] = say("ruler.mm", mm(s))
	}
	p.steps = w.options("scale:step", labels, -1, func(i int) { d.SetRulerStep(bench.RulerSteps[i]) })
	p.ask = captioned(say("ruler.step"), p.steps.box)
	p.box = newColumn(8, newFlow(6, p.find), p.found, p.ask)
	return p
}

// refresh shows what was found; the part is hidden while corners are clicked.
func (p *rulerPart) refresh(s bench.ScaleDraft) {
	p.box.Hidden = s.Mode != bench.TwoTicks
	p.find.setOff(p.w.desk.Seeking())
	p.ask.Hidden, p.found.Hidden = s.Ruler == nil, s.Ruler == nil
	if s.Ruler == nil {
		return
	}
	p.found.set(s.Ruler.Words)
	now := -1
	for i, step := range bench.RulerSteps {
		if step == s.Ruler.Step {
			now = i
		}
	}
	p.steps.show(now)
}
