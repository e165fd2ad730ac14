package ui

import (
	"strconv"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
)

// studyScreen is a study pack as students see it: its faces in order, the chosen one large, beside the cut of the scan
// when that is asked for, and the names when they are.
type studyScreen struct {
	w       *Window
	face    *pane
	scan    *pane
	middle  *fyne.Container
	box     *fyne.Container
	left    *roll
	panel   *roll
	lead    *words
	list    *fyne.Container
	rows    []*button
	where   *words
	facts   *words
	names   *button
	compare *button
	drill   *button
	known   *words
	spread  *words
}

func newStudy(w *Window) *studyScreen {
	d := w.desk
	s := &studyScreen{w: w, face: w.newPane("study:face", d.StudyPane()), scan: w.newPane("study:scan", d.StudyScanPane()), list: newColumn(2)}
	s.lead, s.where, s.facts, s.known = newWords(caption, ""), newWords(title, ""), newWords(body, ""), newWords(body, "")
	s.left = w.roll(14, newColumn(12, newWords(heading, say("study.title")), s.lead, s.list))
	s.names = w.button("study:names", "name", say("study.names"), choice, func() { d.Do("study.names") }).tipped(say("study.names.tip"))
	s.compare = w.button("study:compare", "pairing", say("study.compare"), choice, func() { d.Do("study.compare") }).tipped(say("study.compare.tip"))
	s.drill = w.button("study:drill", "check", say("study.drill"), primary, func() { d.Do("drill") }).tipped(say("study.drill.tip"))
	shut := w.button("study:close", "folder", say("study.close"), edged, func() { d.Do("study.close") })
	s.spread = newWords(body, "")
	hand := w.button("study:handover", "handout", say("study.handover"), edged, func() {
		w.pick(pick{title: say("study.handover"), folders: true, done: func(p []string) { w.report(d.HandOverResults(p[0])) }})
	}).tipped(say("study.handover.tip"))
	class := w.button("study:class", "people", say("study.class"), edged, func() {
		w.pick(pick{title: say("study.class"), endings: []string{".json"}, done: func(p []string) { w.report(d.ReadClass(p)) }})
	}).tipped(say("study.class.tip"))
	s.middle = newPair(1, s.face, s.scan)
	s.panel = w.roll(14, newColumn(14, newColumn(6, s.where, s.facts), newFlow(6, s.names, s.compare), newFlow(6, s.drill),
		s.spread, part(say("study.known"), s.known), part(say("study.results"), newFlow(6, hand, class)), newFlow(6, shut), newWords(caption, say("ethics")), newWords(caption, say("diagnosis"))))
	s.box = (&table{left: bar(0, 0, s.left.Container), leftW: panelWidth() * 0.7, middle: s.middle, right: bar(0, 0, s.panel.Container), rightW: panelWidth(), gap: 1}).object()
	return s
}

func (s *studyScreen) object() fyne.CanvasObject { return s.box }
func (s *studyScreen) picture() *pane            { return s.face }

func (s *studyScreen) refresh(c bench.Change) {
	if c&(bench.ExamChanged|bench.ScreenChanged|bench.JobsChanged) == 0 {
		return
	}
	d := s.w.desk
	i := d.Study()
	s.lead.set(say("study.faces", len(i.Faces)))
	faces := i.Faces
	s.rows = syncRows(s.list, s.rows, len(faces), func(int) *button { return s.w.button("", "", "", lined, nil) })
	for n, f := range faces {
		s.rows[n].id = "study:" + strconv.Itoa(n+1)
		s.rows[n].tapped = func() { d.ChooseStudy(n) }
		s.rows[n].tip = f
		s.rows[n].state(fitted(f, panelWidth()*0.7-28-8-24), n == i.At, false)
	}
	s.where.set(i.Where)
	s.facts.set(i.Facts)
	s.spread.set(i.Spread)
	s.names.setOn(i.Names)
	s.names.setOff(i.Known == "")
	s.compare.setOn(i.Compare)
	s.compare.setOff(!i.HasScan)
	s.scan.Hidden = !i.Compare
	s.drill.setOff(!i.HasDrill)
	known := i.Known
	if known == "" || !i.Names {
		known = say("study.hidden")
	}
	s.known.set(known)
	s.middle.Layout = &pairOrOne{i.Stacked}
	relaid(s.middle)
	relayDeep(s.box)
	s.left.relay()
	s.panel.relay()
}

// pairOrOne lays two things side by side or one above the other, or the first alone while the second is hidden.
type pairOrOne struct{ stacked bool }

func (*pairOrOne) MinSize(o []fyne.CanvasObject) fyne.Size { return o[0].MinSize() }

func (l *pairOrOne) Layout(o []fyne.CanvasObject, size fyne.Size) {
	o[0].Move(fyne.NewPos(0, 0))
	if !o[1].Visible() {
		o[0].Resize(size)
		return
	}
	if !l.stacked {
		(&pair{1}).Layout(o, size)
		return
	}
	half := floor((size.Height - 1) / 2)
	o[0].Resize(fyne.NewSize(size.Width, half))
	o[1].Move(fyne.NewPos(0, half+1))
	o[1].Resize(fyne.NewSize(size.Width, size.Height-half-1))
}

// drillScreen asks one thing of one face at a time: recall first, then the answer with its place on the ruler.
type drillScreen struct {
	w       *Window
	face    *pane
	ruler   *pane
	box     *fyne.Container
	panel   *roll
	lead    *words
	ask     *words
	hint    *words
	typed   *field
	typedIn *fyne.Container
	choices *fyne.Container
	offers  []*button
	answer  *button
	help    *button
	unknown *button
	result  *words
	reveal  *words
	next    *button
	unseen  *button
	spread  *words
	at      int
}

func newDrill(w *Window) *drillScreen {
	d := w.desk
	s := &drillScreen{w: w, face: w.newPane("drill:face", d.DrillPane()), ruler: w.newPane("drill:ruler", d.DrillRuler()), choices: newFlow(6)}
	s.ruler.design = fyne.NewSize(180, 300)
	s.lead, s.ask, s.hint, s.result, s.reveal, s.spread = newWords(caption, ""), newWords(title, ""), newWords(body, "").colored(colorMuted), newWords(title, ""), newWords(body, ""), newWords(caption, "")
	s.typed = w.field("drill:typed", "")
	s.typed.onEnter = func() { d.AnswerDrill(s.typed.Text) }
	s.answer = w.button("drill:answer", "check", say("drill.answer"), primary, func() { d.AnswerDrill(s.typed.Text) })
	s.help = w.button("drill:hint", "", say("drill.hint"), edged, d.DrillHint).tipped(say("drill.hint.tip"))
	s.unknown = w.button("drill:unknown", "", say("drill.unknown"), edged, func() { d.Do("drill.skip") }).tipped(say("drill.unknown.tip"))
	s.next = w.button("drill:next", "later", say("drill.next"), primary, func() { d.Do("drill.next") })
	s.unseen = w.button("drill:unseen", "face", say("drill.unseen"), edged, d.DrillUnseen)
	s.typedIn = captioned(say("drill.typed"), s.typed)
	s.panel = w.roll(16, newColumn(14, s.lead, s.ask, s.hint, s.typedIn, s.choices, newFlow(6, s.answer, s.help, s.unknown),
		s.result, s.reveal, newFlow(6, s.next, s.unseen), s.spread))
	s.box = (&table{left: s.ruler, leftW: 110 + grown(110), middle: s.face, right: bar(0, 0, s.panel.Container), rightW: panelWidth() * 1.08, gap: 1}).object()
	return s
}

func (s *drillScreen) object() fyne.CanvasObject { return s.box }
func (s *drillScreen) picture() *pane            { return s.face }

func (s *drillScreen) refresh(c bench.Change) {
	if c&(bench.ExamChanged|bench.ScreenChanged|bench.JobsChanged) == 0 {
		return
	}
	d := s.w.desk
	i := d.Drill()
	s.lead.set(i.Lead)
	s.ask.set(i.Question)
	s.hint.set(i.Hint)
	open := !i.Answered && !i.Nothing
	if s.at != i.Turn {
		s.at = i.Turn
		s.typed.SetText("")
	}
	s.typedIn.Hidden = !open || i.Kind != bench.DrillTyped
	s.choices.Hidden = !open || len(i.Choices) == 0
	s.offers = syncRows(s.choices, s.offers, len(i.Choices), func(int) *button { return s.w.button("", "", "", choice, nil) })
	for n, word := range i.Choices {
		s.offers[n].id = "drill:choice:" + strconv.Itoa(n+1)
		s.offers[n].tapped = func() { d.AnswerDrill(word) }
		s.offers[n].state(word, false, false)
	}
	s.answer.Hidden = !open || len(i.Choices) > 0
	s.answer.setOff(i.Kind != bench.DrillTyped && !i.Placed)
	s.help.Hidden, s.unknown.Hidden = !open || !i.HasHint, !open
	s.next.Hidden, s.unseen.Hidden = !i.Answered, !i.Nothing
	s.unseen.setOff(!i.HasUnseen)
	color := theme.ColorNameWarning
	if i.Right {
		color = theme.ColorNamePrimary
	}
	s.result.setColored(i.Result, color)
	s.reveal.set(i.Reveal)
	s.spread.set(i.Spread)
	relayDeep(s.box)
	s.panel.relay()
	if open && i.Kind == bench.DrillTyped && s.w.shown == screen(s) && s.w.topSheet() == nil {
		s.w.focusOn(s.typed)
	} else if s.w.shown == screen(s) && s.w.topSheet() == nil && s.w.focused() == fyne.Focusable(s.typed) {
		s.w.keyboardToPicture()
	}
}
