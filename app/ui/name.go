package ui

import (
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/annotate"
	"sectionary/app/bench"
)

// namePart names the chosen outline: type a part of the word, walk the list with the arrows, Return takes it.
type namePart struct {
	w        *Window
	box      *fyne.Container
	head     *words
	typed    *field
	note     *words
	rows     []*button
	list     *fyne.Container
	found    []bench.TermRow
	at       int // the row Return would take
	picked   *bench.TermRow
	sides    *options
	sideRow  []annotate.Side
	sideBox  *fyne.Container
	sure     *options
	sureBox  *fyne.Container
	localBox *fyne.Container
	kind     *options
	paired   *button
}

// mostTerms is how many structures are offered at once.
const mostTerms = 8

var localKinds = []annotate.Kind{annotate.Vessel, annotate.Nerve, annotate.Muscle, annotate.Bone, annotate.Organ, annotate.Space, annotate.Other}

func newNamePart(w *Window) *namePart {
	p := &namePart{w: w, head: newWords(strong, ""), note: newWords(caption, ""), list: newColumn(0)}
	p.typed = w.field("name:typed", "")
	p.typed.SetPlaceHolder(say("name.hint"))
	p.typed.OnChanged = func(string) { p.search() }
	p.typed.onKey = p.key
	p.sideBox, p.sureBox = newColumn(0), newColumn(0)
	p.sure = w.options("name:sure", []string{say("sure.certain"), say("sure.probable"), say("sure.discuss")}, -1, func(i int) {
		w.desk.SetSure(annotate.Certain + annotate.Sureness(i))
	})
	p.sureBox = captioned(say("sure.head"), p.sure.box)
	var kinds []string
	for _, k := range localKinds {
		kinds = append(kinds, say("kind."+k.String()))
	}
	p.kind = w.options("name:kind", kinds, len(kinds)-1, nil)
	p.paired = w.button("name:paired", "", say("name.paired"), choice, nil)
	p.paired.tapped = func() { p.paired.setOn(!p.paired.on) }
	keep := w.button("name:local", "plus", say("name.local"), edged, p.keepLocal)
	p.localBox = newColumn(8, captioned(say("name.kind"), p.kind.box), newFlow(6, p.paired, keep))
	p.localBox.Hidden = true
	browse := w.button("name:browse", "", say("terms.browse"), edged, func() { w.showTerms(p) }).tipped(say("terms.browse.tip"))
	p.box = newColumn(8, p.head, captioned(say("name.field"), p.typed), p.list, newFlow(6, browse), p.note, p.localBox, p.sideBox, p.sureBox)
	return p
}

func (p *namePart) object() *fyne.Container { return p.box }

// begin takes the keyboard for typing a name.
func (p *namePart) begin() {
	if p.chosen() == nil {
		return
	}
	p.typed.SetText("")
	p.search()
	p.w.focusOn(p.typed)
}

func (p *namePart) chosen() *bench.LabelRow {
	for _, l := range p.w.desk.Labels() {
		if l.Chosen {
			return &l
		}
	}
	return nil
}

func (p *namePart) refresh() {
	l := p.chosen()
	p.sureBox.Hidden = l == nil
	if l == nil {
		p.head.set(say("name.nothing"))
		return
	}
	if l.Name == "" {
		p.head.set(say("name.unnamed"))
	} else {
		p.head.set(withSide(l.Name, l.Side))
	}
	p.sure.show(int(l.Sure) - int(annotate.Certain))
}

func withSide(name string, s annotate.Side) string {
	if s == annotate.Left || s == annotate.Right || s == annotate.Midline {
		return name + ", " + say("side."+s.String())
	}
	return name
}

// search shows what fits what has been typed.
func (p *namePart) search() {
	text := strings.TrimSpace(p.typed.Text)
	p.found, p.at, p.picked = nil, 0, nil
	p.sideBox.Objects = nil
	if text != "" {
		p.found = p.w.desk.FindTerms(text)
		if len(p.found) > mostTerms {
			p.found = p.found[:mostTerms]
		}
	}
	p.note.set("")
	p.localBox.Hidden = true
	if text != "" && len(p.found) == 0 {
		p.note.set(say("name.nosuch"))
		p.localBox.Hidden = false
	}
	p.show()
}

func (p *namePart) show() {
	p.rows = syncRows(p.list, p.rows, len(p.found), func(i int) *button {
		b := p.w.button("name:row", "", "", lined, func() { p.take(i) })
		return b
	})
	for i, t := range p.found {
		r := p.rows[i]
		r.note = t.Letter
		r.tip = t.Latin
		r.state(fitted(t.Name, panelWidth()-28-8-24-grown(30)), i == p.at, false)
		r.Refresh()
	}
	p.w.screen(bench.FaceScreen).(*faceScreen).panel.relay()
	p.w.noteStatus()
}

// fitted shortens a name that is wider than its place.
func fitted(name string, width float32) string {
	for r := []rune(name); len(r) > 4; r = r[:len(r)-1] {
		s := string(r)
		if len(r) < len([]rune(name)) {
			s += "…"
		}
		if fyne.MeasureText(s, theme.Size(theme.SizeNameText), fyne.TextStyle{}).Width <= width {
			return s
		}
	}
	return name
}

// key walks the list while the field has the keyboard.
func (p *namePart) key(e *fyne.KeyEvent) bool {
	switch e.Name {
	case fyne.KeyDown:
		p.at = min(p.at+1, max(0, len(p.found)-1))
	case fyne.KeyUp:
		p.at = max(p.at-1, 0)
	case fyne.KeyReturn, fyne.KeyEnter:
		p.take(p.at)
		return true
	default:
		return false
	}
	p.show()
	return true
}

// take names the outline with row i; when the structure has sides and the outline does not say which, it asks.
func (p *namePart) take(i int) {
	if i >= len(p.found) || p.chosen() == nil {
		return
	}
	t := p.found[i]
	p.at, p.picked = i, &t
	if t.Suggested != annotate.NoSide || !t.Paired {
		p.name(t.Suggested)
		return
	}
	var labels []string
	for _, s := range t.Sides {
		labels = append(labels, say("side."+s.String()))
	}
	p.sideRow = t.Sides
	p.sides = p.w.options("name:side", labels, -1, func(i int) { p.name(p.sideRow[i]) })
	p.sideBox.Objects = []fyne.CanvasObject{captioned(say("name.side"), p.sides.box)}
	p.show()
	p.w.focusOn(p.sides.buttons[0])
}

func (p *namePart) name(side annotate.Side) {
	sure := annotate.Unsaid
	if l := p.chosen(); l != nil {
		sure = l.Sure
	}
	if err := p.w.desk.NameChosen(p.picked.ID, side, sure); err != nil {
		p.w.report(err)
		return
	}
	p.found, p.picked, p.sideBox.Objects = nil, nil, nil
	p.typed.SetText("")
	p.refresh()
	p.show()
	p.w.keyboardToPicture()
}

// keepLocal adds what was typed as a term of the lab's own and names the outline with it.
func (p *namePart) keepLocal() {
	id, err := p.w.desk.KeepLocalTerm(strings.TrimSpace(p.typed.Text), localKinds[p.kind.chosen], p.paired.on)
	if err != nil {
		p.w.report(err)
		return
	}
	for _, t := range p.w.desk.FindTerms(p.typed.Text) {
		if t.ID == id {
			p.found = []bench.TermRow{t}
			p.take(0)
			return
		}
	}
}
