package ui

import (
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/atlas"
	"sectionary/slices/section"
)

// runList is what concerns the whole run: its length, closure and agreement, and the other runs of the lab.
type runList struct {
	w       *Window
	box     *fyne.Container
	length  *field
	closure *words
	suspect *words
	odd     *words // faces unlike their neighbours, each with a way there
	oddList *fyne.Container
	oddRows []*button
	goTo    *button
	kerf    *button
	piece   *button
	asked   *words
	turn    *button
	other   *button
	due     *words
	uses    *words
	rows    []*button
	list    *fyne.Container
	agree   *button
}

func newRunList(w *Window) *runList {
	r := &runList{w: w, closure: newWords(body, ""), suspect: newWords(body, ""), odd: newWords(body, "").colored(theme.ColorNameWarning), oddList: newColumn(2), asked: newWords(body, "").colored(theme.ColorNameWarning), due: newWords(body, ""), uses: newWords(body, ""), list: newColumn(2)}
	r.length = w.field("run:length", "")
	r.length.onEnter = func() { r.write(); w.keyboardToPicture() }
	r.length.onLeave = r.write
	d := w.desk
	r.goTo = w.button("run:suspect", "run", "", edged, func() {
		c := d.Closure()
		d.ChooseSuspect()
		w.toMeasure(c.Measure)
	}).tipped(say("run.suspect.tip"))
	r.kerf = w.button("run:kerf", "", "", edged, func() { w.report(d.CloseByKerf()) }).tipped(say("run.kerf.tip"))
	r.piece = w.button("run:piece", "people", say("run.piece"), edged, w.showPiece).tipped(say("run.piece.tip"))
	r.turn = w.button("run:turn", "otherface", say("run.turn"), edged, func() { w.report(d.TurnRound()) }).tipped(say("run.turn.tip"))
	r.other = w.button("run:otherend", "run", say("run.otherend"), edged, func() { w.report(d.CountFromOtherEnd()) }).tipped(say("run.otherend.tip"))
	r.agree = w.button("run:agreement", "agreement", say("run.agreement"), edged, w.showAgreement).tipped(say("run.agreement.tip"))
	send := w.button("run:send", "handout", say("send.open"), edged, w.showSend).tipped(say("send.open.tip"))
	take := w.button("run:takein", "folder", say("takein.open"), edged, w.showTakeIn).tipped(say("takein.open.tip"))
	begin := w.button("run:begin", "begin", say("run.begin"), edged, w.showBegin)
	shut := w.button("run:close", "folder", say("run.close"), edged, func() { w.report(w.desk.CloseLab()) })
	r.box = part(say("run.head"), captioned(say("run.length"), newRow(0, -1, newLineHolder(r.length, 110))), r.closure,
		r.suspect, newFlow(6, r.goTo, r.kerf), r.odd, r.oddList, r.asked, newFlow(6, r.piece, r.turn, r.other), r.due, r.uses, newFlow(6, r.agree),
		newWords(strong, say("run.others")), r.list, newFlow(6, begin, send, take, shut))
	return r
}

func (r *runList) write() {
	v, ok := number(r.length.Text)
	if !ok || v < 0 {
		r.closure.setColored(say("slab.unreadable"), theme.ColorNameWarning)
		return
	}
	if v != r.w.desk.Run().Length {
		r.w.report(r.w.desk.SetLength(v))
	}
}

func (r *runList) refresh() {
	d := r.w.desk
	run := d.Run()
	r.length.show(mm(run.Length))
	c := d.Closure()
	colour := theme.ColorNameForeground
	if c.Bad {
		colour = theme.ColorNameWarning
	}
	r.closure.setColored(c.Words, colour)
	r.suspect.set(c.Suspect)
	readOnly := d.Lab().ReadOnly
	r.goTo.Hidden, r.kerf.Hidden = c.Slab == 0, c.Kerf == 0
	r.goTo.state(say("run.suspect", c.Slab), false, false)
	r.kerf.state(say("run.kerf", c.Kerf), false, readOnly)
	odd := d.UnlikeFaces()
	r.odd.set("")
	if len(odd) > 0 {
		r.odd.set(say("run.unlike"))
	}
	r.oddRows = syncRows(r.oddList, r.oddRows, len(odd), func(int) *button { return r.w.button("run:unlike", "caution", "", lined, nil) })
	for i, x := range odd {
		r.oddRows[i].tapped = func() { d.ChooseFace(x.Face) }
		r.oddRows[i].tip = x.Words
		r.oddRows[i].state(d.Info(x.Face).Name, d.Face() == x.Face, false)
	}
	r.asked.set("")
	if names, _ := section.NamesLimb(run.Part); names && run.Limb == section.NoLimb {
		r.asked.set(say("run.whichlimb"))
	}
	for _, k := range []*button{r.piece, r.turn, r.other} {
		k.setOff(readOnly || run.ID == "")
	}
	a := d.Agreement()
	if words, presses := d.DueWords(); presses {
		r.due.setColored(words, theme.ColorNameWarning)
	} else {
		r.due.setColored(words, theme.ColorNameForeground)
	}
	r.uses.set(usesWords(a))
	runs := d.Runs()
	r.rows = syncRows(r.list, r.rows, len(runs), func(int) *button { return r.w.button("run:choose", "run", "", lined, nil) })
	for i, info := range runs {
		r.rows[i].tapped = func() { d.ChooseRun(info.ID) }
		r.rows[i].tip = info.Words
		r.rows[i].state(fitted(info.Words, panelWidth()-28-8-24-theme.Size(theme.SizeNameInlineIcon)-8), info.ID == run.ID, false)
	}
}

// usesWords lists what the agreement permits; nothing recorded means no.
func usesWords(a atlas.Agreement) string {
	var uses []string
	for _, p := range atlas.Purposes {
		if a.Permitted[p] {
			uses = append(uses, say("purpose."+string(p)))
		}
	}
	if len(uses) == 0 {
		return say("agreement.none")
	}
	return say("agreement.uses", strings.Join(uses, ", "))
}

// scans lists the scan series at hand.
type scans struct {
	w     *Window
	box   *fyne.Container
	empty *words
	list  *fyne.Container
	rows  []*scanRow
}

type scanRow struct {
	box   *fyne.Container
	pick  *button
	words *words
	warn  *words
	uid   string
}

func newScans(w *Window) *scans {
	s := &scans{w: w, empty: newWords(body, "").colored(colorMuted), list: newColumn(6)}
	add := w.button("scan:add", "scan", say("scan.add"), edged, w.addScan).tipped(say("scan.add.tip"))
	s.box = part(say("scan.head"), s.empty, s.list, newFlow(6, add))
	return s
}

func (s *scans) refresh() {
	list := s.w.desk.Series()
	s.empty.set("")
	if len(list) == 0 {
		s.empty.set(say("scan.none"))
	}
	for len(s.rows) < len(list) {
		r := &scanRow{words: newWords(body, ""), warn: newWords(caption, "").colored(theme.ColorNameWarning)}
		r.pick = s.w.button("scan:choose", "", "", choice, func() { s.w.desk.ChooseSeries(r.uid) })
		r.box = newColumn(4, r.words, r.warn, newFlow(0, r.pick))
		s.rows = append(s.rows, r)
		s.list.Objects = append(s.list.Objects, r.box)
	}
	for i, r := range s.rows {
		r.box.Hidden = i >= len(list)
		if r.box.Hidden {
			continue
		}
		x := list[i]
		r.uid = x.UID
		r.words.set(x.Words)
		r.warn.set(strings.Join(x.Warnings, "\n"))
		label := say("scan.choose")
		if x.Chosen {
			label = say("scan.chosen")
		}
		r.pick.state(label, x.Chosen, false)
	}
}
