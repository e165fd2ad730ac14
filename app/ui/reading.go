package ui

import (
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
)

// readingPart is the second reading of a face: who reads, beginning and ending it, and how both readings agree, row by row.
type readingPart struct {
	w       *Window
	box     *fyne.Container
	now     *words
	reader  *field
	named   *fyne.Container
	begin   *button
	end     *button
	pause   *button
	compare *button
	head    *words
	list    *fyne.Container
	rows    []*comparedRow
	agree   *button
	discuss *button
	settle  *fyne.Container
}

type comparedRow struct {
	box     *fyne.Container
	pick    *button
	state   *words
	measure *words
	differs *words
	n       int
}

func newReadingPart(w *Window) *readingPart {
	d := w.desk
	p := &readingPart{w: w, now: newWords(body, ""), head: newWords(caption, ""), list: newColumn(6)}
	p.reader = w.field("second:reader", d.Signer())
	p.reader.SetPlaceHolder(say("second.reader.hint"))
	p.reader.OnChanged = func(s string) { d.SetSigner(s) }
	do := func() { d.Do("second"); w.keyboardToPicture() }
	p.reader.onEnter = do
	p.named = captioned(say("card.signer"), p.reader)
	p.begin = w.button("second:begin", "outline", "", edged, do).tipped(say("second.begin.tip"))
	p.end = w.button("second:end", "check", say("second.end"), primary, do).tipped(say("second.end.tip"))
	p.pause = w.button("second:pause", "", say("second.pause"), edged, d.PauseReading).tipped(say("second.pause.tip"))
	p.compare = w.button("second:compare", "", say("second.compare"), choice, do).tipped(say("second.compare.tip"))
	p.agree = w.button("second:agree", "check", say("second.agree"), edged, func() { d.Report(d.AgreeCompared()) }).tipped(say("second.agree.tip"))
	p.discuss = w.button("second:discuss", "", say("second.discuss"), edged, func() { d.Report(d.DiscussCompared()) }).tipped(say("second.discuss.tip"))
	p.settle = newFlow(6, p.agree, p.discuss)
	p.box = part(say("second.head"), p.now, p.named, newFlow(6, p.begin, p.end, p.pause, p.compare), p.head, p.settle, p.list)
	return p
}

func (p *readingPart) refresh() {
	d := p.w.desk
	s := d.Reading()
	p.now.set(d.ReadingWords())
	p.reader.show(d.Signer())
	p.named.Hidden, p.begin.Hidden = s.Blind || s.Comparing, s.Blind || s.Comparing
	p.end.Hidden, p.pause.Hidden, p.compare.Hidden = !s.Blind, !s.Blind, !s.Ended || s.Blind
	label := say("second.begin")
	switch {
	case s.There && !s.Ended:
		label = say("second.goon")
	case s.Ended:
		label = say("second.anew")
	}
	p.begin.state(label, false, false)
	p.begin.tapped = func() { d.Report(d.BeginReading()); p.w.keyboardToPicture() }
	p.compare.setOn(s.Comparing)
	p.list.Hidden, p.settle.Hidden = !s.Comparing, !s.Comparing
	p.head.set("")
	if s.Comparing {
		p.head.set(say("second.how"))
	}
	p.showRows(d.CompareRows())
}

func (p *readingPart) showRows(rows []bench.CompareRow) {
	for len(p.rows) < len(rows) {
		r := &comparedRow{state: newWords(strong, ""), measure: newWords(caption, ""), differs: newWords(caption, "").colored(theme.ColorNameWarning)}
		r.pick = p.w.button("second:row", "", "", lined, func() { p.w.desk.ChooseCompared(r.n) })
		r.box = newColumn(2, r.pick, newInset(14, 0, newColumn(2, r.state, r.measure, r.differs)))
		p.rows = append(p.rows, r)
		p.list.Objects = append(p.list.Objects, r.box)
	}
	room := panelWidth() - 28 - 8 - 24
	p.agree.setOff(true)
	p.discuss.setOff(true)
	for i, r := range p.rows {
		r.box.Hidden = i >= len(rows)
		if r.box.Hidden {
			continue
		}
		x := rows[i]
		r.n = i
		name := x.Name
		if name == "" {
			name = x.Other
		}
		r.pick.state(fitted(name, room), x.Chosen, false)
		r.state.set(comparedState(x))
		r.measure.set(x.Measure)
		r.differs.set(comparedDiffers(x))
		if x.Chosen {
			p.agree.setOff(!x.CanAgree)
			p.discuss.setOff(x.Discuss)
		}
	}
}

// comparedState says by a sign and in words how a row stands.
func comparedState(x bench.CompareRow) string {
	switch {
	case x.Agreed:
		return say("second.state.agreed")
	case x.Discuss:
		return say("second.state.discuss")
	}
	return say("second.state.open")
}

// comparedDiffers says what differs, with both names where names or sides do.
func comparedDiffers(x bench.CompareRow) string {
	if x.First == "" || x.Second == "" || x.Differs == "" {
		return x.Differs
	}
	return strings.Join([]string{x.Differs, say("second.reads", x.Name, x.Other)}, ": ")
}

// askReader takes the keyboard to the field of who reads again when a second reading is to begin and no one is named yet.
func (w *Window) askReader() bool {
	s, ok := w.shown.(*faceScreen)
	r := w.desk.Reading()
	if !ok || r.Blind || r.Ended || w.desk.Signer() != "" {
		return false
	}
	w.focusOn(s.read.reader)
	return true
}
