package ui

import (
	"path/filepath"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
	"sectionary/atlas"
)

// parcelPurposes are what a whole run may be handed over for.
var parcelPurposes = []atlas.Purpose{atlas.OtherInstitution, atlas.Teaching, atlas.Research}

// showSend is the slip by which a whole run goes to another lab.
func (w *Window) showSend() {
	d := w.desk
	x := bench.ParcelDraft{Purpose: parcelPurposes[0]}
	refusal := newWords(strong, "").colored(theme.ColorNameWarning)
	var s *sheet
	send := w.button("send:ok", "handout", say("handout.release"), primary, nil)
	again := func() {
		why := d.ParcelRefusal(x)
		refusal.set(why)
		send.setOff(why != "")
		if s != nil {
			s.relay()
		}
	}
	var names []string
	for _, p := range parcelPurposes {
		names = append(names, say("purpose."+string(p)))
	}
	purpose := w.options("send:purpose", names, 0, func(i int) { x.Purpose = parcelPurposes[i]; again() })
	form := w.options("send:form", []string{say("send.folder"), say("send.zip")}, 0, func(i int) { x.Zip = i == 1 })
	scans := w.button("send:scans", "", say("send.scans"), choice, nil)
	scans.tapped = func() { x.Scans = !x.Scans; scans.setOn(x.Scans) }
	earlier := w.button("send:earlier", "", say("send.earlier"), choice, nil)
	earlier.tapped = func() { x.Earlier = !x.Earlier; earlier.setOn(x.Earlier) }
	noTags := w.button("send:notags", "", say("handout.notags"), choice, nil).tipped(say("handout.notags.tip"))
	noTags.tapped = func() { x.NoTags = !x.NoTags; noTags.setOn(x.NoTags) }
	dir := w.field("send:dir", filepath.Join(d.Lab().Dir, "hand-outs", "run"))
	choose := w.button("send:choose", "folder", "", edged, func() {
		w.pick(pick{title: say("handout.dir"), folders: true, done: func(p []string) { dir.SetText(p[0]) }})
	}).tipped(say("handout.dir"))
	send.tapped = func() {
		to := strings.TrimSpace(dir.Text)
		s.close()
		d.SendRun(x, to)
	}
	again()
	col := newColumn(14, newWords(heading, say("send.title")), newWords(body, say("send.words")).colored(colorMuted),
		captioned(say("handout.purpose"), purpose.box), part(say("handout.agreement"), newWords(body, usesWords(d.Agreement()))),
		captioned(say("send.form"), form.box), captioned(say("send.with"), newFlow(4, scans, earlier)), captioned(say("handout.checked"), newFlow(4, noTags)),
		captioned(say("handout.dir"), newRow(6, 0, dir, choose)), refusal, newWords(caption, say("ethics")))
	s = w.sheet(640, col, send, w.button("send:no", "", say("cancel"), edged, func() { s.close() }))
	s.open(fyne.Focusable(dir))
}

// showTakeIn is the slip by which a run of another lab is taken into a new lab of this one.
func (w *Window) showTakeIn() {
	from, to, donor := w.field("takein:from", ""), w.field("takein:to", ""), w.field("takein:donor", "")
	donor.SetPlaceHolder(say("begin.donor.hint"))
	problem := newWords(body, "").colored(theme.ColorNameWarning)
	var s *sheet
	choose := func(id string, f *field, folders bool) *button {
		return w.button(id, "folder", "", edged, func() {
			w.pick(pick{title: say("takein.title"), folders: folders, anything: !folders, done: func(p []string) { f.SetText(p[0]) }})
		})
	}
	take := w.button("takein:ok", "check", say("takein.do"), primary, func() {
		if err := w.desk.TakeRun(strings.TrimSpace(from.Text), strings.TrimSpace(to.Text), strings.TrimSpace(donor.Text)); err != nil {
			m := bench.Explain(err)
			problem.set(m.Title + " " + m.Hint)
			s.relay()
			return
		}
		s.close()
	})
	col := newColumn(14, newWords(heading, say("takein.title")), newWords(body, say("takein.words")).colored(colorMuted),
		captioned(say("takein.from"), newRow(6, 0, from, choose("takein:choose", from, false))),
		captioned(say("takein.to"), newRow(6, 0, to, choose("takein:chooseto", to, true))),
		captioned(say("takein.donor"), donor), problem)
	s = w.sheet(640, col, take, w.button("takein:no", "", say("cancel"), edged, func() { s.close() }))
	s.open(fyne.Focusable(from))
}
