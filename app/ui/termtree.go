package ui

import (
	"strings"

	"fyne.io/fyne/v2"

	"sectionary/annotate"
	"sectionary/app/bench"
)

// mostParts is how many structures of one whole are shown at once.
const mostParts = 60

// showTerms lets a person go down the tree of parts, name the chosen outline from it, choose the language of names, and see
// or bring in lists.
func (w *Window) showTerms(p *namePart) {
	d := w.desk
	at := annotate.TermID("")
	way, rows := newFlow(4), newColumn(2)
	var s *sheet
	var show func()
	goTo := func(id annotate.TermID) func() { return func() { at = id; show(); s.relay() } }
	take := w.button("terms:take", "check", say("terms.take"), primary, nil)
	show = func() {
		path := d.TermPath(at)
		way.Objects = []fyne.CanvasObject{w.button("terms:top", "", say("terms.top"), edged, goTo(""))}
		for _, n := range path {
			way.Add(w.button("terms:way", "", n.Name, edged, goTo(n.ID)))
		}
		rows.Objects = nil
		parts := d.TermParts(at)
		for i, n := range parts {
			if i == mostParts {
				rows.Add(newWords(caption, say("terms.more", len(parts)-mostParts)))
				break
			}
			row := w.button("terms:row", "", n.Name, lined, goTo(n.ID))
			row.note = n.Letter
			rows.Add(newRow(8, 0, row, newLineHolder(newLine(caption, termNote(n)), 260)))
		}
		take.off = len(path) == 0 || p.chosen() == nil
		take.tapped = func() {
			if len(path) == 0 {
				return
			}
			s.close()
			p.found = []bench.TermRow{path[len(path)-1].TermRow}
			p.take(0)
		}
		take.Refresh()
		way.Refresh()
		rows.Refresh()
	}
	language := w.options("terms:language", []string{say("terms.english"), say("terms.latin"), say("terms.both")}, int(d.NameLanguage()),
		func(i int) { d.SetNameLanguage(bench.NameLanguage(i)) })
	add := w.button("terms:add", "folder", say("terms.add"), edged, func() {
		s.close()
		w.pick(pick{title: say("terms.add"), endings: []string{".obo"}, done: func(paths []string) { d.AddTermList(paths[0]) }})
	})
	lists := newColumn(8, newWords(caption, strings.Join(d.TermLists(), "\n")), newFlow(6, add))
	lists.Hidden = true
	open := w.button("terms:lists", "", say("terms.lists"), choice, nil)
	open.tapped = func() {
		lists.Hidden = !lists.Hidden
		open.setOn(!lists.Hidden)
		s.relay()
	}
	show()
	col := newColumn(10, newWords(title, say("terms.title")), captioned(say("terms.language"), language.box), newFlow(6, open), lists, way, rows)
	done := w.button("close", "", say("close"), edged, func() { s.close() })
	s = w.sheet(780, col, take, done)
	s.tall = true
	s.open(done)
}

// termNote is what stands beside a structure: its Latin name, its parts, and whether it is the lab's own.
func termNote(n bench.TermNode) string {
	var notes []string
	if n.Latin != "" {
		notes = append(notes, n.Latin)
	}
	switch {
	case n.Parts == 1:
		notes = append(notes, say("terms.part"))
	case n.Parts > 1:
		notes = append(notes, say("terms.parts", n.Parts))
	}
	if n.Local {
		notes = append(notes, say("terms.local"))
	}
	return strings.Join(notes, " · ")
}
