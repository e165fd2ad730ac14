package ui

import (
	"strconv"
	"strings"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
)

// seconds reads a time in seconds; what cannot be read is none.
func seconds(s string) time.Duration {
	v, ok := number(s)
	if !ok {
		return 0
	}
	return time.Duration(v * float64(time.Second))
}

func secondsWords(d desk) string { return strconv.Itoa(int(d.StationTime() / time.Second)) }

// fillDisplay takes the strips away and the display whole for a screen that fills it, and gives both back after.
func (w *Window) fillDisplay(at bench.Screen) {
	full := at.Fills()
	w.head.object.Hidden, w.foot.object.Hidden = full, full
	if w.win.FullScreen() != full {
		w.win.SetFullScreen(full)
		w.after(800*time.Millisecond, w.noteStatus) // the desktop takes its time to give the window its size
	}
}

// fresh shows each finished picture of an exam as candidates will see it, to be accepted or sent back.
type fresh struct {
	w    *Window
	full *pane
	box  *fyne.Container
	row  *fyne.Container
	why  *field
	lead *words
	ok   *button
	no   *button
	prev *button
	next *button
	done *button
}

func newFresh(w *Window) *fresh {
	f := &fresh{w: w, full: w.newPane("fresh", w.desk.FreshPane()), lead: newWords(body, "")}
	d := w.desk
	f.ok = w.button("fresh:accept", "check", say("fresh.accept"), primary, func() { d.Do("fresh.accept") })
	f.no = w.button("fresh:back", "undo", say("fresh.back"), edged, func() { d.SendBack(strings.TrimSpace(f.why.Text)) })
	f.prev = w.button("fresh:prev", "earlier", say("fresh.prev"), edged, func() { d.Do("fresh.prev") })
	f.next = w.button("fresh:next", "later", say("fresh.next"), edged, func() { d.Do("fresh.next") })
	f.done = w.button("fresh:done", "back", say("fresh.done"), edged, d.Back)
	f.why = w.field("fresh:why", "")
	f.why.SetPlaceHolder(say("fresh.why"))
	f.why.onEnter = func() { d.SendBack(strings.TrimSpace(f.why.Text)); w.keyboardToPicture() }
	f.row = newFlow(8, f.ok, newLineHolder(f.why, 260), f.no, f.prev, f.next, f.done)
	foot := bar(14, 8, newColumn(6, f.lead, f.row))
	f.box = (&table{middle: f.full, bottom: foot, gap: 1}).object()
	return f
}

func (f *fresh) object() fyne.CanvasObject { return f.box }
func (f *fresh) picture() *pane            { return f.full }

func (f *fresh) refresh(c bench.Change) {
	if c&(bench.ExamChanged|bench.ScreenChanged|bench.JobsChanged) == 0 {
		return
	}
	i := f.w.desk.Fresh()
	color := theme.ColorNameForeground
	if i.SentBack {
		color = theme.ColorNameWarning
	}
	f.lead.setColored(i.Words, color)
	f.ok.setOff(!i.Ready)
	f.no.setOff(!i.Ready)
	f.prev.setOff(i.N <= 1)
	f.next.setOff(i.N >= i.Of)
	if f.why.Text != "" && !f.why.typing() {
		f.why.SetText("")
	}
	relayDeep(f.box)
}

// room shows the exam to a room: one picture, the station's number, the time left, and no answer. Keys move it, so that
// nothing but the station stands on the wall.
type room struct {
	full *pane
	box  *fyne.Container
}

func newRoom(w *Window) *room {
	r := &room{full: w.newPane("room", w.desk.RoomPane())}
	r.full.plain = true
	r.box = (&table{middle: r.full}).object()
	return r
}

func (r *room) object() fyne.CanvasObject { return r.box }
func (r *room) picture() *pane            { return r.full }
func (r *room) refresh(bench.Change)      {}
