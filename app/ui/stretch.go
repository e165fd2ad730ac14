package ui

import (
	"path/filepath"
	"strconv"

	"fyne.io/fyne/v2"

	"sectionary/app/bench"
)

// measureStretch compares the slabs with the scan and shows the table once it is there.
func (w *Window) measureStretch() { w.desk.MeasureStretch(w.showStretch) }

// showStretch shows how the slabs differ from the scan: a table, the same in words, and a page to print.
func (w *Window) showStretch(t bench.StretchTable) {
	col := newColumn(8, newWords(heading, say("stretch.title")), newWords(body, say("stretch.words")).colored(colorMuted))
	if t.Empty != "" {
		col.Add(newWords(body, t.Empty))
	} else {
		line := func(r rank, slab, along, first, second string) fyne.CanvasObject {
			return newRow(8, 3, newLineHolder(newWords(r, slab), 44), newLineHolder(newWords(r, along), 132), newLineHolder(newWords(r, first), 132), newWords(r, second))
		}
		col.Add(line(strong, say("stretch.slab"), say("stretch.along"), t.Ways[0], t.Ways[1]))
		for _, r := range t.Rows {
			col.Add(line(body, strconv.Itoa(r.Slab), r.Along, r.Across[0], r.Across[1]))
			col.Add(newWords(caption, r.Words))
		}
	}
	col.Add(newWords(caption, say("diagnosis")))
	where := newWords(body, "")
	col.Add(where)
	var s *sheet
	printed := ""
	open := w.button("stretch:open", "folder", say("handout.open"), edged, func() { w.report(openPath(filepath.Dir(printed))) })
	open.Hidden = true
	print := w.button("stretch:print", "handout", say("stretch.print"), primary, func() {
		path, err := w.desk.PrintStretch(paperNames[0])
		if err != nil {
			w.report(err)
			return
		}
		printed, open.Hidden = path, false
		where.set(say("stretch.printed", filepath.Base(path)))
		s.relay()
	})
	print.off = w.desk.Lab().ReadOnly || t.Empty != ""
	done := w.button("close", "", say("close"), edged, func() { s.close() })
	s = w.sheet(720, col, print, open, done)
	s.tall = true
	s.open(done)
}
