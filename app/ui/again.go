package ui

import (
	"fmt"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
	"sectionary/atlas"
)

// againDesk is what the screens of a face photographed anew need of a bench.
type againDesk interface {
	Again() bench.AgainInfo
	AgainWaits() bool
	ResumeAgain()
	NewPicture(path string)
	NewPictureFrom(id string)
	RemoveAgainTie(n int)
	SeekTies()
	TakeOffers()
	DropOffers()
	AnswerNewMirrored(atlas.Answer)
	SetAgainOutlines(bool)
	TurnNewPicture()
	AcceptAgain() error
	LookAgain() []bench.LookRow
	ChooseLook(n int)
	LookRight(n int) error
	LookWords() string
	EarlierPictures() []bench.EarlierRow
	ShowEarlier(id string)
	MakeCurrentAgain() error
	OldPictures() int
	FollowPictures() error
	AgainOldPane() bench.Pane
	AgainNowPane() bench.Pane
}

// againScreen lays the picture a face has and a new one side by side, or an earlier picture and the one there is.
type againScreen struct {
	w                      *Window
	old, now               *pane
	box                    *fyne.Container
	panel                  *roll
	band, state            *words
	next, why, how         *words
	asks                   *fyne.Container
	mirrored               *options
	ties                   *fyne.Container
	rows                   []*removable
	seek, take, drop       *button
	outcomeHead, outcome   *words
	examsHead, exams       *words
	turn, outlines         *button
	accept, current, leave *button
	laying, earlier        *fyne.Container
	list                   *earlierList
}

func newAgain(w *Window) *againScreen {
	d := w.desk
	s := &againScreen{w: w, old: w.newPane("again:old", d.AgainOldPane()), now: w.newPane("again:new", d.AgainNowPane())}
	s.band, s.state = newWords(title, ""), newWords(body, "")
	s.next, s.why = newWords(strong, ""), newWords(caption, "")
	s.mirrored = w.options("again:mirrored", []string{say("again.mirrored.yes"), say("again.mirrored.no")}, -1, func(i int) {
		d.AnswerNewMirrored([]atlas.Answer{atlas.Yes, atlas.No}[i])
	})
	s.asks = captioned(say("again.mirrored"), s.mirrored.box)
	s.ties = newColumn(2)
	s.seek = w.button("again:seek", "tie", say("again.seek"), edged, func() { d.Do("again.seek") }).tipped(say("again.seek.tip"))
	s.take = w.button("again:take", "check", say("again.take"), edged, d.TakeOffers).tipped(say("again.take.tip"))
	s.drop = w.button("again:drop", "remove", say("again.drop"), edged, d.DropOffers)
	s.turn = w.button("again:turn", "", say("again.turn"), edged, d.TurnNewPicture).tipped(say("again.turn.tip"))
	s.outlines = w.button("again:outlines", "outline", say("again.outlines"), choice, func() { d.SetAgainOutlines(!d.Again().Outlines) }).tipped(say("again.outlines.tip"))
	s.accept = w.button("again:accept", "check", say("again.accept"), primary, func() { w.report(d.AcceptAgain()) }).tipped(say("again.accept.tip"))
	s.current = w.button("again:current", "earlier", say("again.current"), edged, func() {
		w.ask(say("again.current.ask"), say("again.current.words"), say("cancel"), say("again.current"), func() { w.report(d.MakeCurrentAgain()) })
	}).tipped(say("again.current.tip"))
	s.leave = w.button("again:leave", "back", say("again.leave"), edged, d.Back).tipped(say("again.leave.tip"))
	s.outcomeHead, s.outcome = newWords(title, say("again.outcome")), newWords(body, "")
	s.examsHead, s.exams = newWords(title, say("again.exams")), newWords(body, "")
	s.list = newEarlierList(w)
	s.how = newWords(caption, say("again.how"))
	s.laying = newColumn(8, s.next, s.asks, newFlow(6, s.seek, s.take, s.drop))
	s.earlier = newColumn(8, newWords(body, say("again.readonly")), s.list.box)
	r, sheet := w.panel(s.laying, s.earlier, newColumn(8, s.why, newFlow(6, s.accept, s.current, s.leave)),
		newColumn(6, s.outcomeHead, s.outcome), newColumn(6, s.examsHead, s.exams), s.ties, newFlow(6, s.outlines, s.turn), s.how)
	s.panel = r
	top := bar(14, 10, newColumn(2, s.band, s.state))
	s.box = (&table{top: top, middle: newPair(2, s.old, s.now), right: sheet, rightW: panelWidth(), gap: 1}).object()
	return s
}

func (s *againScreen) object() fyne.CanvasObject { return s.box }
func (s *againScreen) picture() *pane            { return s.old }

func (s *againScreen) refresh(c bench.Change) {
	if c&^(bench.PointerChanged|bench.ViewChanged) == 0 {
		return
	}
	d := s.w.desk
	i := d.Again()
	s.band.set(say("again.band.earlier", i.Face))
	if i.Laying {
		s.band.set(say("again.band", i.Face))
	}
	color := theme.ColorNameForeground
	if i.Warn {
		color = theme.ColorNameWarning
	}
	s.state.setColored(i.State, color)
	s.state.Hidden = i.State == ""
	s.laying.Hidden, s.earlier.Hidden = !i.Laying, i.Laying
	s.next.set(i.Next)
	s.asks.Hidden = !i.AsksMirrored
	s.mirrored.show(map[atlas.Answer]int{atlas.Unanswered: -1, atlas.Yes: 0, atlas.No: 1}[i.Mirrored])
	s.showTies(i.Ties)
	s.seek.state(say("again.seek"), false, i.Seeking)
	s.seek.Hidden = i.Offers > 0
	s.take.Hidden, s.drop.Hidden = i.Offers == 0, i.Offers == 0
	s.outlines.setOn(i.Outlines)
	s.turn.Hidden, s.how.Hidden = !i.Laying, !i.Laying
	s.outcomeHead.Hidden, s.outcome.Hidden = len(i.Outcome) == 0, len(i.Outcome) == 0
	s.outcome.set(strings.Join(i.Outcome, "\n"))
	s.examsHead.Hidden, s.exams.Hidden = len(i.Exams) == 0, len(i.Exams) == 0
	s.exams.set(strings.Join(i.Exams, "\n"))
	s.why.set(i.Why)
	s.why.Hidden = i.Why == "" || !i.Laying
	readOnly := d.Lab().ReadOnly
	s.accept.Hidden, s.current.Hidden = !i.Laying, i.Laying
	s.accept.setOff(!i.Ready || readOnly)
	s.current.setOff(readOnly)
	s.list.refresh()
	s.panel.relay()
	relaid(s.box)
}

// showTies lists the points, the worst first.
func (s *againScreen) showTies(rows []bench.AgainTie) {
	s.ties.Hidden = len(rows) == 0
	s.rows = s.w.syncRemovable(s.ties, s.rows, len(rows), "again:remove", say("again.remove.tip"))
	for i, x := range rows {
		color := theme.ColorNameForeground
		if x.LeftOut {
			color = theme.ColorNameWarning
		}
		s.rows[i].off.tapped = func() { s.w.desk.RemoveAgainTie(x.N) }
		s.rows[i].text.setColored(x.Words, color)
	}
}

// earlierList lists the earlier pictures of the face.
type earlierList struct {
	w    *Window
	box  *fyne.Container
	rows []*button
}

func newEarlierList(w *Window) *earlierList { return &earlierList{w: w, box: newColumn(4)} }

func (l *earlierList) refresh() {
	list := l.w.desk.EarlierPictures()
	l.box.Hidden = len(list) == 0
	l.rows = syncRows(l.box, l.rows, len(list), func(i int) *button { return l.w.button(fmt.Sprint("earlier:", i+1), "", "", lined, nil) })
	room := panelWidth() - 28 - 8 - 24
	for i, x := range list {
		b := l.rows[i]
		b.tapped = func() { l.w.desk.ShowEarlier(x.ID) }
		b.tip = x.Words
		b.state(fitted(x.Words, room), x.Shown, false)
	}
}

// lookPart is, on the face, what waits to be looked at since it was photographed anew, the way to a new picture, and the earlier
// pictures.
type lookPart struct {
	w       *Window
	box     *fyne.Container
	wait    *fyne.Container
	head    *words
	list    *fyne.Container
	rows    []*lookRow
	anew    *button
	earlier *fyne.Container
	photos  *earlierList
}

type lookRow struct {
	box   *fyne.Container
	pick  *button
	words *words
	right *button
	n     int
}

func newLookPart(w *Window) *lookPart {
	p := &lookPart{w: w, head: newWords(title, ""), list: newColumn(6), photos: newEarlierList(w)}
	p.anew = w.button("face:anew", "photo", say("face.anew"), edged, w.newPicture).tipped(say("face.anew.tip"))
	p.wait = newColumn(6, p.head, newWords(caption, say("look.how")), p.list)
	p.earlier = captioned(say("face.earlier"), p.photos.box)
	p.box = newColumn(12, newFlow(6, p.anew), p.earlier)
	return p
}

func (p *lookPart) refresh() {
	d := p.w.desk
	rows := d.LookAgain()
	p.wait.Hidden = len(rows) == 0
	p.head.set(say("look.head", len(rows)))
	for len(p.rows) < len(rows) {
		r := &lookRow{words: newWords(caption, "")}
		r.pick = p.w.button("look:pick", "", "", lined, func() { d.ChooseLook(r.n) })
		r.right = p.w.button("look:right", "check", say("look.right"), edged, func() { p.w.report(d.LookRight(r.n)) }).tipped(say("look.right.tip"))
		r.box = newColumn(2, r.pick, newInset(14, 0, newColumn(4, r.words, newFlow(4, r.right))))
		p.rows = append(p.rows, r)
		p.list.Objects = append(p.list.Objects, r.box)
	}
	readOnly, room := d.Lab().ReadOnly, panelWidth()-28-8-24
	for i, r := range p.rows {
		if r.box.Hidden = i >= len(rows); r.box.Hidden {
			continue
		}
		x := rows[i]
		r.n = x.N
		r.pick.tip = x.Name
		r.pick.state(fitted(x.Name, room), x.Chosen, false)
		r.words.set(x.Words)
		r.right.Hidden = !x.Chosen
		r.right.setOff(readOnly)
	}
	_, there := d.Plate()
	p.anew.Hidden = !there
	p.anew.tapped = p.w.newPicture
	p.anew.state(say("face.anew"), false, readOnly)
	if d.AgainWaits() {
		p.anew.tapped = d.ResumeAgain
		p.anew.state(say("face.anew.goon"), false, readOnly)
	}
	p.photos.refresh()
	p.earlier.Hidden = p.photos.box.Hidden
}

// newPicture asks where the new picture of the face is.
func (w *Window) newPicture() {
	w.askPicture("anew", say("anew.title"), say("anew.lead"), w.desk.NewPicture, w.desk.NewPictureFrom)
}
