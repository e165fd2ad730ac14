package ui

import (
	"strconv"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
)

// stations is where an exam is built: its stations in order at the left, the picture of the chosen one large, and at the
// right what is asked there, what speaks against it, and what concerns the whole exam.
type stations struct {
	w       *Window
	picture_ *pane
	box     *fyne.Container
	left    *roll
	panel   *roll
	sheet   *fyne.Container
	lead    *words
	empty   *words
	list    *fyne.Container
	rows    []*stationRow
	order   *fyne.Container
	form    *stationForm
	whole   *examWhole
	refusal *words
	fresh   *button
	room    *button
	release *button
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
	s.left = w.roll(14, newColumn(12, newWords(heading, say("stations.title")), s.lead, newFlow(6, pick, plan), s.empty, s.list, s.order))
	s.form, s.whole = newStationForm(w), newExamWhole(w)
	s.panel = w.roll(14, newColumn(18, s.form.box, s.whole.box))
	s.refusal = newWords(strong, "").colored(theme.ColorNameWarning)
	s.fresh = w.button("stations:fresh", "view", say("stations.fresh"), edged, d.LookFresh).tipped(say("stations.fresh.tip"))
	s.room = w.button("stations:room", "window", say("stations.room"), edged, d.ShowRoom).tipped(say("stations.room.tip"))
	s.release = w.button("stations:release", "handout", say("stations.release"), primary, w.showExamSlip)
	foot := bar(14, 12, newColumn(8, s.refusal, newFlow(6, s.fresh, s.room, s.release)))
	s.sheet = (&table{middle: bar(0, 0, s.panel.Container), bottom: foot, gap: 1}).object()
	s.box = (&table{left: bar(0, 0, s.left.Container), leftW: panelWidth() * 0.82, middle: s.picture_, right: s.sheet, rightW: panelWidth(), gap: 1}).object()
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
	w        *Window
	box      *fyne.Container
	head     *words
	where    *words
	checks   *words
	picture  *options
	pictures *fyne.Container
	kinds    string // of pictures offered now
	marker   *options
	approach *options
	order    *options
	question *field
	answer   *words
	accepts  *field
	id       string
}

func newStationForm(w *Window) *stationForm {
	f := &stationForm{w: w, head: newWords(title, ""), where: newWords(body, ""), answer: newWords(strong, ""), pictures: newColumn(0)}
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
	f.question = text("station:question", func(x *bench.StationForm, s string) { x.Question = s })
	f.accepts = text("station:accepts", func(x *bench.StationForm, s string) { x.Accepts = s })
	f.box = newColumn(10, f.head, f.where, f.checks,
		captioned(say("station.picture"), f.pictures),
		captioned(say("station.marker"), f.marker.box),
		captioned(say("station.approach"), f.approach.box),
		captioned(say("station.order"), f.order.box),
		captioned(say("station.question"), f.question),
		captioned(say("station.answer"), f.answer),
		captioned(say("station.accepts"), f.accepts))
	return f
}

func (f *stationForm) refresh() {
	x, ok := f.w.desk.Station()
	if f.box.Hidden = !ok; !ok {
		return
	}
	if x.ID != f.id { // another station: nothing typed for the one before may stay
		f.id = x.ID
		f.question.SetText(x.Question)
		f.accepts.SetText(x.Accepts)
	}
	f.head.set(say("station.head", x.N))
	f.where.set(x.Where)
	f.checks.set(strings.Join(x.Checks, "\n"))
	if kinds := strings.Join(x.Pictures, "\n"); kinds != f.kinds || f.picture == nil {
		f.kinds = kinds
		f.picture = f.w.options("station:picture", x.Pictures, x.Picture, func(i int) {
			if x, ok := f.w.desk.Station(); ok {
				x.Picture = i
				f.w.desk.SetStation(x)
			}
		})
		f.pictures.Objects = []fyne.CanvasObject{f.picture.box}
	}
	f.picture.show(x.Picture)
	f.marker.show(x.Marker)
	f.approach.show(x.Approach)
	f.order.show(map[bool]int{true: 1}[x.Second])
	f.question.show(x.Question)
	f.answer.set(x.Answer)
	f.accepts.show(x.Accepts)
}

// examWhole is what concerns the whole exam: its title, the number that fixes its order, and notes in words.
type examWhole struct {
	w     *Window
	box   *fyne.Container
	title *field
	seed  *field
	time  *field
	notes *words
	bad   *words
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
	e.box = part(say("exam.head"), e.bad, e.notes, captioned(say("exam.title"), e.title),
		newShelf(grown(110), 8, captioned(say("exam.seed"), e.seed), captioned(say("exam.time"), e.time)), newWords(caption, say("exam.seed.words")))
	return e
}

func (e *examWhole) refresh() {
	d := e.w.desk
	i := d.Exam()
	e.title.show(i.Title)
	e.seed.show(strconv.FormatUint(i.Seed, 10))
	e.time.show(secondsWords(d))
	e.bad.set(strings.Join(i.Warnings, "\n"))
	e.notes.set(strings.Join(i.Notes, "\n"))
}
