package ui

import (
	"slices"
	"strings"

	"fyne.io/fyne/v2"

	"sectionary/app/bench"
)

// spinePart tells the vertebral level of the cut shown and lists the vertebrae marked on the scan.
type spinePart struct {
	w            *Window
	here, usual  *words
	doubts, dash *words
	marks        *fyne.Container
	rows         []*removable
	box          *fyne.Container
}

func newSpinePart(w *Window) *spinePart {
	s := &spinePart{w: w, here: newWords(strong, ""), usual: newWords(caption, ""), doubts: newWords(body, "").colored("warning"), dash: newWords(caption, ""), marks: newColumn(2)}
	mark := w.button("spine:mark", "plus", say("spine.more"), edged, w.showVertebra).tipped(say("spine.more.tip"))
	s.box = part(say("spine.title"), s.here, s.usual, s.marks, s.doubts, s.dash, newFlow(6, mark))
	return s
}

func (s *spinePart) refresh() {
	d := s.w.desk
	marks, doubts := d.Vertebrae()
	here, usual := d.VertebraHere()
	s.dash.set(say("spine.dash"))
	if len(marks) == 0 {
		here, usual = "", nil
		s.dash.set(say("spine.none"))
	}
	s.here.set(here)
	s.usual.set(strings.Join(usual, "\n"))
	s.doubts.set(strings.Join(doubts, "\n"))
	s.rows = s.w.syncRemovable(s.marks, s.rows, len(marks), "spine:off", say("spine.off.tip"))
	for i, m := range marks {
		s.rows[i].off.tapped = func() { d.UnmarkVertebra(m.Name) }
		s.rows[i].text.set(m.Words)
	}
}

// showVertebra is the slip that says which vertebra was clicked, how it was counted, and the donor's own counts.
func (w *Window) showVertebra() { w.showVertebraOf(w.desk.SpineCounts(), "", len(bench.Countings)-1) }

// showVertebraOf is showVertebra with what was chosen so far: other counts of ribs or lumbar vertebrae give other vertebrae to choose from.
// Nothing is kept until it is accepted.
func (w *Window) showVertebraOf(counts bench.SpineCounts, name string, how int) {
	d := w.desk
	names := d.VertebraNames(counts)
	chosen := slices.Index(names, name)
	var s *sheet
	problem := newWords(body, "").colored("warning")
	which := w.options("vertebra:name", names, chosen, func(i int) { chosen = i })
	var ways []string
	for i := range bench.Countings {
		ways = append(ways, say("spine.how."+string(rune('0'+i))))
	}
	counted := w.options("vertebra:how", ways, how, func(i int) { how = i })
	again := func() {
		name := ""
		if chosen >= 0 {
			name = names[chosen]
		}
		s.close()
		w.showVertebraOf(counts, name, how)
	}
	pick := func(id string, from []int, now int, set func(int)) *options {
		var words []string
		for _, n := range from {
			words = append(words, string(rune('0'+n/10))+string(rune('0'+n%10)))
		}
		for i := range words {
			words[i] = strings.TrimPrefix(words[i], "0")
		}
		return w.options(id, words, slices.Index(from, now), func(i int) {
			set(from[i])
			again()
		})
	}
	if counts.RibPairs == 0 {
		counts.RibPairs = 12
	}
	if counts.Lumbar == 0 {
		counts.Lumbar = 5
	}
	ribs := pick("vertebra:ribs", []int{11, 12, 13}, counts.RibPairs, func(n int) { counts.RibPairs = n })
	lumbar := pick("vertebra:lumbar", []int{4, 5, 6}, counts.Lumbar, func(n int) { counts.Lumbar = n })
	trans := w.button("vertebra:trans", "", say("spine.trans"), choice, nil)
	trans.on = counts.Transitional
	trans.tapped = func() { counts.Transitional = !counts.Transitional; trans.setOn(counts.Transitional) }
	ok := w.button("vertebra:ok", "check", say("spine.ok"), primary, func() {
		err := d.SetSpineCounts(counts)
		if err == nil && chosen >= 0 {
			err = d.MarkVertebra(names[chosen], how)
		}
		if err != nil {
			problem.set(bench.Explain(err).Title + " " + bench.Explain(err).Hint)
			s.relay()
			return
		}
		s.close()
	})
	ok.off = d.Lab().ReadOnly
	col := newColumn(14, newWords(title, say("spine.title")), captioned(say("spine.which"), which.box), captioned(say("spine.how"), counted.box),
		captioned(say("spine.ribs"), ribs.box), captioned(say("spine.lumbar"), newColumn(4, lumbar.box, newFlow(4, trans))), problem)
	s = w.sheet(680, col, ok, w.button("vertebra:no", "", say("cancel"), edged, func() { s.close() }))
	s.open(ok)
}
