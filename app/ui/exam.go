package ui

import (
	"strconv"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
)

// stations is where an exam is built: its stations in order at the left, the picture of the chosen one large, and at the
// right what is asked there, what speaks against it, and what concerns the whole exam.
type stations struct {
	w        *Window
	picture_ *pane
	box      *fyne.Container
	left     *roll
	panel    *roll
	foot     *fyne.Container
	tab      *table
	lead     *words
	follow   *button // to the current pictures
	empty    *words
	list     *fyne.Container
	rows     []*stationRow
	order    *fyne.Container
	form     *stationForm
	whole    *examWhole
	refusal  *words
	fresh    *button
	room     *button
	release  *button
}

// stationRow is one station of the list: what is asked, and in words whether it needs a look.
type stationRow struct {
	box  *fyne.Container
	pick *button
	note *words
	id   string
}

func newStations(w *Window) *stations {
	s := &stations{w: w, picture_: w.newPane("station", w.desk.StationPane()), list: newColumn(2)}
	d := w.desk
	s.lead, s.empty = newWords(body, ""), newWords(body, say("stations.none")).colored(colorMuted)
	pick := w.button("stations:pick", "name", say("stations.pick"), edged, w.showAskable).tipped(say("stations.pick.tip"))
	plan := w.button("stations:blueprint", "grid", say("stations.blueprint"), edged, w.showBlueprint).tipped(say("stations.blueprint.tip"))
	s.order = newFlow(4,
		w.button("station:earlier", "earlier", say("station.earlier"), edged, func() { d.MoveStation(-1) }).tipped(say("station.earlier.tip")),
		w.button("station:later", "later", say("station.later"), edged, func() { d.MoveStation(1) }).tipped(say("station.later.tip")),
		w.button("station:remove", "remove", say("station.remove"), edged, d.RemoveStation).tipped(say("station.remove.tip")))
	s.follow = w.button("stations:follow", "later", "", edged, func() { w.report(d.FollowPictures()) }).tipped(say("stations.follow.tip"))
	s.left = w.roll(14, newColumn(12, newWords(heading, say("stations.title")), s.lead, newFlow(6, s.follow), newFlow(6, pick, plan), s.empty, s.list, s.order))
	s.form, s.whole = newStationForm(w), newExamWhole(w)
	s.panel = w.roll(14, newColumn(18, s.form.box, s.whole.box))
	s.refusal = newWords(strong, "").colored(theme.ColorNameWarning)
	s.fresh = w.button("stations:fresh", "view", say("stations.fresh"), edged, d.LookFresh).tipped(say("stations.fresh.tip"))
	s.room = w.button("stations:room", "window", say("stations.room"), edged, d.ShowRoom).tipped(say("stations.room.tip"))
	s.release = w.button("stations:release", "handout", say("stations.release"), primary, w.showExamSlip)
	// The answer to "may it leave?" and what comes next stay in sight whatever is read above.
	s.foot = bar(14, 8, newRow(12, 0, container.New(&middle{}, s.refusal), s.fresh, s.room, s.release))
	s.tab = &table{left: bar(0, 0, s.left.Container), leftW: panelWidth() * 0.82, middle: s.picture_, right: bar(0, 0, s.panel.Container), rightW: panelWidth(), bottom: s.foot, gap: 1}
	if panelWidth() > 380 { // large words: the three answers under the refusal
		s.foot = bar(14, 8, newColumn(6, s.refusal, newFlow(6, s.fresh, s.room, s.release)))
		s.tab.bottom = s.foot
	}
	s.box = s.tab.object()
	return s
}

func (s *stations) object() fyne.CanvasObject { return s.box }
func (s *stations) picture() *pane            { return s.picture_ }

func (s *stations) refresh(c bench.Change) {
	if c&^(bench.PointerChanged|bench.ViewChanged|bench.JobsChanged|bench.SavedChanged|bench.TimeChanged) == 0 {
		return
	}
	d := s.w.desk
	list := d.Stations()
	s.empty.Hidden, s.order.Hidden = len(list) > 0, len(list) == 0
	s.lead.set(d.StationsLead())
	old := d.OldPictures()
	s.follow.Hidden = old == 0
	s.follow.state(say("stations.follow", old), false, d.Lab().ReadOnly)
	s.showRows(list)
	s.form.refresh()
	s.whole.refresh()
	why := d.ExamRefusal()
	s.refusal.set(why)
	s.fresh.setOff(len(list) == 0)
	s.room.setOff(len(list) == 0)
	s.release.setOff(why != "")
	relayDeep(s.box)
	s.left.relay()
	s.panel.relay()
}

func (s *stations) showRows(list []bench.StationRow) {
	for len(s.rows) < len(list) {
		r := &stationRow{note: newWords(caption, "")}
		r.pick = s.w.button("", "", "", lined, func() { s.w.desk.ChooseStation(r.id) })
		r.box = newColumn(0, r.pick, newInset(14, 0, r.note))
		s.rows = append(s.rows, r)
		s.list.Objects = append(s.list.Objects, r.box)
	}
	room := panelWidth()*0.82 - 28 - 8 - 24
	for i, r := range s.rows {
		if r.box.Hidden = i >= len(list); r.box.Hidden {
			continue
		}
		x := list[i]
		r.id, r.pick.id, r.pick.tip = x.ID, "station:"+strconv.Itoa(i+1), x.Name
		r.pick.state(fitted(strconv.Itoa(x.N)+"  "+x.Name, room), x.Chosen, false)
		color := colorMuted
		if x.Look {
			color = theme.ColorNameWarning
		}
		r.note.setColored(x.Words, color)
	}
}

// stationForm is what is asked at the chosen station and how it is marked.
type stationForm struct {
	w         *Window
	box       *fyne.Container
	head      *words
	where     *words
	checks    *words
	elsewhere *button
	marker    *options
	approach  *options
	place     *options
	places    *fyne.Container
	letters   string // of the places offered now
	which     *options
	whiches   *fyne.Container
	count     int
	drop      *button
	order     *options
	form      *options
	offer     *field
	offers    *fyne.Container
	question  *field
	answer    *field
	accepts   *field
	id        string
}

func newStationForm(w *Window) *stationForm {
	f := &stationForm{w: w, head: newWords(title, ""), where: newWords(body, ""), places: newColumn(0), whiches: newColumn(0)}
	f.checks = newWords(body, "").colored(theme.ColorNameWarning)
	change := func(set func(*bench.StationForm)) {
		if x, ok := w.desk.Station(); ok {
			set(&x)
			w.desk.SetStation(x)
		}
	}
	f.marker = w.options("station:marker", []string{say("marker.pin"), say("marker.arrow"), say("marker.ring"), say("marker.outline")}, 0,
		func(i int) { change(func(x *bench.StationForm) { x.Marker = i }) })
	f.approach = w.options("station:approach", []string{say("approach.any"), say("approach.left"), say("approach.right"), say("approach.above"), say("approach.below")}, 0,
		func(i int) { change(func(x *bench.StationForm) { x.Approach = i }) })
	f.order = w.options("station:order", []string{say("order.first"), say("order.second")}, 0,
		func(i int) { change(func(x *bench.StationForm) { x.Second = i == 1 }) })
	text := func(id string, set func(x *bench.StationForm, s string)) *field {
		e := w.field(id, "")
		e.OnChanged = func(s string) {
			if e.typing() {
				change(func(x *bench.StationForm) { set(x, s) })
			}
		}
		e.onEnter = w.keyboardToPicture
		return e
	}
	f.question = text("station:question", func(x *bench.StationForm, s string) { x.Question = s }).tall(3)
	f.answer = text("station:answer", func(x *bench.StationForm, s string) { x.Answer = s })
	f.accepts = text("station:accepts", func(x *bench.StationForm, s string) { x.Accepts = s }).tall(2)
	f.elsewhere = w.button("station:elsewhere", "across", say("station.elsewhere"), edged, w.showElsewhere).tipped(say("station.elsewhere.tip"))
	f.form = w.options("station:form", []string{say("form.text"), say("form.choice"), say("form.hotspot")}, 0,
		func(i int) { change(func(x *bench.StationForm) { x.Form = i }) })
	f.offer = text("station:options", func(x *bench.StationForm, s string) { x.Options = s }).tall(2)
	f.offers = captioned(say("station.options"), f.offer)
	more := w.button("station:more", "plus", say("station.question.add"), edged, w.desk.AddQuestion)
	f.drop = w.button("station:drop", "remove", say("station.question.drop"), edged, w.desk.DropQuestion)
	f.box = newColumn(10, f.head, f.where, f.checks, f.places, f.whiches,
		captioned(say("station.question"), f.question),
		captioned(say("station.answer"), f.answer),
		captioned(say("station.accepts"), f.accepts), f.offers,
		captioned(say("station.order"), f.order.box),
		captioned(say("station.form"), f.form.box),
		captioned(say("station.marker"), f.marker.box),
		captioned(say("station.approach"), f.approach.box),
		newFlow(6, f.elsewhere, more, f.drop))
	return f
}

func (f *stationForm) refresh() {
	x, ok := f.w.desk.Station()
	if f.box.Hidden = !ok; !ok {
		return
	}
	if id := x.ID + " " + strconv.Itoa(x.Place) + " " + strconv.Itoa(x.Asked); id != f.id { // nothing typed for another question may stay
		f.id = id
		f.offer.SetText(x.Options)
		f.question.SetText(x.Question)
		f.answer.SetText(x.Answer)
		f.accepts.SetText(x.Accepts)
	}
	f.head.set(say("station.head", x.N))
	f.where.set(x.Where)
	f.checks.set(strings.Join(x.Checks, "\n"))
	if letters := strings.Join(x.Places, "\n"); letters != f.letters {
		f.letters = letters
		f.place = f.w.options("station:place", x.Places, x.Place, f.w.desk.ChoosePlace)
		f.places.Objects = []fyne.CanvasObject{captioned(say("station.place"), f.place.box)}
	}
	if f.places.Hidden = len(x.Places) < 2; !f.places.Hidden {
		f.place.show(x.Place)
	}
	if x.Questions != f.count {
		f.count = x.Questions
		var numbers []string
		for i := range x.Questions {
			numbers = append(numbers, strconv.Itoa(i+1))
		}
		f.which = f.w.options("station:which", numbers, x.Asked, f.w.desk.ChooseQuestion)
		f.whiches.Objects = []fyne.CanvasObject{captioned(say("station.question.which"), f.which.box)}
	}
	if f.whiches.Hidden = x.Questions < 2; !f.whiches.Hidden {
		f.which.show(x.Asked)
	}
	f.drop.Hidden = x.Questions < 2
	f.form.show(x.Form)
	f.offers.Hidden = x.Form != 1
	f.offer.show(x.Options)
	f.marker.show(x.Marker)
	f.approach.show(x.Approach)
	f.order.show(map[bool]int{true: 1}[x.Second])
	f.question.show(x.Question)
	f.answer.show(x.Answer)
	f.accepts.show(x.Accepts)
}

// examWhole is what concerns the whole exam: its title, the number that fixes its order, and notes in words.
type examWhole struct {
	noTags *button
	w      *Window
	box    *fyne.Container
	title  *field
	seed   *field
	time   *field
	notes  *words
	bad    *words
	done   *fyne.Container
	files  *words
	other  *fyne.Container
	rows   []*button
}

func newExamWhole(w *Window) *examWhole {
	e := &examWhole{w: w, notes: newWords(body, ""), bad: newWords(body, "").colored(theme.ColorNameWarning)}
	d := w.desk
	e.title = w.field("exam:title", "")
	e.title.OnChanged = func(s string) {
		if e.title.typing() {
			d.SetExamTitle(s)
		}
	}
	e.seed = w.field("exam:seed", "")
	e.seed.OnChanged = func(s string) {
		if n, err := strconv.ParseUint(strings.TrimSpace(s), 10, 64); err == nil && e.seed.typing() {
			d.SetExamSeed(n)
		}
	}
	e.time = w.field("exam:time", "")
	e.time.onLeave = func() { d.SetStationTime(seconds(e.time.Text)); e.time.show(secondsWords(d)) }
	for _, f := range []*field{e.title, e.seed, e.time} {
		f.onEnter = w.keyboardToPicture
	}
	e.files, e.other = newWords(body, ""), newColumn(2)
	e.done = part(say("handout.done"), e.files, newFlow(6, w.button("exam:open", "folder", say("handout.open"), edged, func() {
		if slip := d.ExamDone(); slip != nil {
			w.report(openPath(slip.Dir))
		}
	})))
	e.noTags = w.button("exam:notags", "", say("handout.notags"), choice, func() { d.SetExamNoTags(!d.Exam().NoTags) }).tipped(say("handout.notags.tip"))
	more := w.button("exam:new", "plus", say("exam.new"), edged, d.NewExam).tipped(say("exam.new.tip"))
	e.box = part(say("exam.head"), e.bad, e.notes, captioned(say("exam.title"), e.title),
		newShelf(grown(110), 8, captioned(say("exam.seed"), e.seed), captioned(say("exam.time"), e.time)), newWords(caption, say("exam.seed.words")), captioned(say("handout.checked"), newFlow(4, e.noTags)),
		e.done, part(say("exam.others"), e.other, newFlow(6, more)))
	return e
}

func (e *examWhole) refresh() {
	d := e.w.desk
	i := d.Exam()
	e.noTags.setOn(i.NoTags)
	e.title.show(i.Title)
	e.seed.show(strconv.FormatUint(i.Seed, 10))
	e.time.show(secondsWords(d))
	e.bad.set(strings.Join(i.Warnings, "\n"))
	e.notes.set(strings.Join(i.Notes, "\n"))
	slip := d.ExamDone()
	if e.done.Hidden = slip == nil; slip != nil {
		e.files.set(slip.Words + "\n" + strings.Join(slip.Files, "\n"))
	}
	exams := d.Exams()
	e.rows = syncRows(e.other, e.rows, len(exams), func(int) *button { return e.w.button("exam:choose", "", "", lined, nil) })
	for n, x := range exams {
		e.rows[n].tapped, e.rows[n].tip = func() { d.ChooseExam(x.ID) }, x.Words
		e.rows[n].state(fitted(x.Words, panelWidth()-28-8-24), x.Chosen, false)
	}
}
