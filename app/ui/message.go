package ui

import (
	"strconv"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/theme"
)

// showMessage shows what the bench has to say, with its choices, or takes the slip away again.
func (w *Window) showMessage() {
	if w.message != nil {
		w.message.close()
		w.message = nil
	}
	m := w.desk.Message()
	if m == nil {
		return
	}
	var foot []fyne.CanvasObject
	var first fyne.Focusable
	for i, c := range m.Choices {
		b := w.button("choice:"+strconv.Itoa(i), "", c.Label, edged, func() { w.desk.Choose(i) })
		if first == nil {
			first = b
		}
		foot = append(foot, b)
	}
	if len(foot) == 0 {
		b := w.button("choice:0", "", say("message.close"), edged, w.desk.Dismiss)
		first, foot = b, append(foot, b)
	}
	w.message = w.sheet(520, newColumn(12, newWords(title, m.Title), newWords(body, m.Hint)), foot...)
	w.message.escape = w.desk.Dismiss
	w.message.open(first)
}

// ask puts a question of the window's own; yes runs on the second answer.
func (w *Window) ask(head, words, stay, yes string, do func()) {
	var s *sheet
	first := w.button("ask:stay", "", stay, edged, func() { s.close() })
	s = w.sheet(520, newColumn(12, newWords(title, head), newWords(body, words)), first,
		w.button("ask:yes", "", yes, edged, func() { s.close(); do() }))
	s.open(first)
}

// showSurvey asks which of the series found in a folder to take.
func (w *Window) showSurvey() {
	rows := w.desk.Survey()
	if (len(rows) > 0) == (w.survey != nil) {
		return
	}
	if len(rows) == 0 {
		w.survey.close()
		w.survey = nil
		return
	}
	col := newColumn(8, newWords(title, say("survey.title", len(rows))), newWords(body, say("survey.words")).colored(colorMuted))
	var first fyne.Focusable
	for _, r := range rows {
		b := w.button("series", "scan", say("survey.take"), edged, func() { w.desk.TakeSeries(r.UID) })
		b.off = !r.Usable
		if first == nil && r.Usable {
			first = b
		}
		text := newColumn(4, newWords(body, r.Words))
		for _, warning := range r.Warnings {
			text.Add(newWords(caption, warning).colored(theme.ColorNameWarning))
		}
		col.Add(paper(12, 10, newColumn(8, text, newFlow(0, b))))
	}
	left, foreign := w.desk.SurveyLeft()
	if len(left) > 0 {
		text := newColumn(4, newWords(body, say("survey.left", len(left))))
		const most = 200 // lines that a person may still read; thousands would only slow the window
		for _, line := range left[:min(len(left), most)] {
			text.Add(newWords(caption, line).colored(colorMuted))
		}
		col.Add(paper(12, 10, text))
	}
	if foreign > 0 {
		col.Add(newWords(caption, say("survey.foreign", foreign)).colored(colorMuted))
	}
	no := w.button("series:none", "", say("survey.none"), edged, w.desk.ForgetSurvey)
	if first == nil {
		first = no
	}
	w.survey = w.sheet(620, col, no)
	w.survey.escape = w.desk.ForgetSurvey
	w.survey.open(first)
}

// showBlank hides everything at once, or shows it again.
func (w *Window) showBlank() {
	overlays := w.win.Canvas().Overlays()
	if w.blank != nil && !w.desk.Blanked() {
		overlays.Remove(w.blank)
		w.blank = nil
		return
	}
	if w.blank == nil && w.desk.Blanked() {
		words := newWords(caption, say("blank")).centred()
		w.blank = container.NewStack(canvas.NewRectangle(ink(theme.ColorNameBackground)), newColumn(0, newMargin(600, 40, words)))
		overlays.Add(w.blank)
		w.blank.Resize(w.win.Canvas().Size())
	}
}
