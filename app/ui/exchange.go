package ui

import (
	"os"
	"path/filepath"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"
)

// showExchange writes the labels of the face to a file or brings them in.
func (w *Window) showExchange() {
	dir := w.lastDir
	if dir == "" {
		dir, _ = os.UserHomeDir()
	}
	name := strings.NewReplacer(",", "", " ", "-").Replace(w.desk.Face().Name()) + ".svg"
	place := w.field("exchange:place", filepath.Join(dir, name))
	problem := newWords(body, "").colored(theme.ColorNameWarning)
	var s *sheet
	choose := w.button("exchange:choose", "folder", say("exchange.choose"), edged, func() {
		w.pick(pick{title: say("exchange.title"), folders: true, done: func(p []string) {
			place.SetText(filepath.Join(p[0], filepath.Base(place.Text)))
		}})
	})
	do := func(f func(path string) error) func() {
		return func() {
			if err := f(strings.TrimSpace(place.Text)); err != nil {
				problem.set(err.Error())
				s.relay()
				return
			}
			w.lastDir = filepath.Dir(place.Text)
			s.close()
		}
	}
	write := w.button("exchange:write", "", say("exchange.write"), primary, do(w.desk.ExportLabels))
	read := w.button("exchange:read", "", say("exchange.read"), edged, do(w.desk.ImportLabels))
	col := newColumn(12, newWords(title, say("exchange.title")), newWords(body, say("exchange.words")).colored(colorMuted),
		captioned(say("exchange.place"), newRow(8, 0, place, choose)), problem)
	s = w.sheet(700, col, write, read, w.button("exchange:no", "", say("cancel"), edged, func() { s.close() }))
	s.open(fyne.Focusable(place))
}
