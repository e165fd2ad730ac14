package ui

import (
	"path/filepath"
	"slices"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
	"sectionary/slices/section"
)

// packScreen is a slip for students: which faces, with which names, cuts of the scan and drills go into a study pack.
type packScreen struct {
	w       *Window
	face    *pane
	box     *fyne.Container
	panel   *roll
	slip    *fyne.Container
	title   *field
	faces   *fyne.Container
	rows    []*button
	cuts    *button
	asks    []*button
	signed  *button
	noTags  *button
	uses    *words
	what    *words
	refusal *words
	dir     *field
	make    *button
	done    *words
	doneBox *fyne.Container
}

func newPack(w *Window) *packScreen {
	d := w.desk
	s := &packScreen{w: w, face: w.newPane("pack:face", d.FacePane()), faces: newFlow(4)}
	change := func(f func(*bench.PackDraft)) func() {
		return func() { x := d.Pack(); f(&x); d.SetPack(x) }
	}
	s.title = w.field("pack:title", "")
	s.title.OnChanged = func(t string) {
		if s.title.typing() {
			change(func(x *bench.PackDraft) { x.Title = t })()
		}
	}
	s.title.onEnter = w.keyboardToPicture
	s.cuts = w.button("pack:cuts", "", say("pack.cuts"), choice, change(func(x *bench.PackDraft) { x.Cuts = !x.Cuts }))
	asks := newFlow(4)
	for _, a := range d.PackAsks() {
		k := w.button("pack:ask:"+a, "", say("ask.kind."+a), choice, change(func(x *bench.PackDraft) { x.Asks = toggled(x.Asks, a) }))
		s.asks = append(s.asks, k)
		asks.Add(k)
	}
	s.signed = w.button("pack:signed", "", say("handout.signed"), choice, change(func(x *bench.PackDraft) { x.SignedOnly = !x.SignedOnly }))
	s.noTags = w.button("pack:notags", "", say("handout.notags"), choice, change(func(x *bench.PackDraft) { x.NoTags = !x.NoTags })).tipped(say("handout.notags.tip"))
	s.uses, s.what, s.done = newWords(body, ""), newWords(body, ""), newWords(body, "")
	s.refusal = newWords(strong, "").colored(theme.ColorNameWarning)
	s.dir = w.field("pack:dir", "")
	choose := w.button("pack:choose", "folder", "", edged, func() {
		w.pick(pick{title: say("handout.dir"), folders: true, done: func(p []string) { s.dir.SetText(p[0]) }})
	}).tipped(say("handout.dir"))
	s.make = w.button("pack:make", "handout", say("pack.make"), primary, func() {
		if dir := strings.TrimSpace(s.dir.Text); dir != "" {
			d.MakePack(dir)
		}
	})
	all := w.button("pack:all", "", say("pack.all"), edged, func() {
		x := d.Pack()
		x.Faces = s.photographed()
		d.SetPack(x)
	})
	s.doneBox = part(say("handout.done"), s.done)
	s.panel = w.roll(18, newColumn(14, newWords(heading, say("pack.title")), newWords(body, say("pack.words")).colored(colorMuted),
		captioned(say("handout.name"), s.title), captioned(say("pack.faces"), s.faces), newFlow(6, all),
		captioned(say("pack.what"), newFlow(4, s.cuts)), captioned(say("pack.asks"), asks), captioned(say("handout.checked"), newFlow(4, s.signed, s.noTags)), s.what,
		part(say("handout.agreement"), s.uses, newFlow(6, w.button("pack:agreement", "agreement", say("run.agreement"), edged, w.showAgreement))),
		captioned(say("handout.dir"), newRow(6, 0, s.dir, choose)), s.doneBox, newWords(caption, say("ethics")), newWords(caption, say("diagnosis"))))
	foot := bar(18, 12, newColumn(10, s.refusal, newFlow(6, s.make)))
	s.slip = (&table{middle: bar(0, 0, s.panel.Container), bottom: foot, gap: 1}).object()
	s.box = (&table{left: s.slip, leftW: panelWidth() * 1.2, middle: s.face, gap: 1}).object()
	return s
}

func (s *packScreen) object() fyne.CanvasObject { return s.box }
func (s *packScreen) picture() *pane            { return s.face }

// photographed lists the faces of the run that have a picture.
func (s *packScreen) photographed() (out []section.Face) {
	d := s.w.desk
	for _, f := range d.Run().Faces() {
		if d.Info(f).Photo {
			out = append(out, f)
		}
	}
	return out
}

func (s *packScreen) refresh(c bench.Change) {
	if c&^(bench.PointerChanged|bench.ViewChanged|bench.SavedChanged|bench.TimeChanged) == 0 {
		return
	}
	d := s.w.desk
	x := d.Pack()
	s.title.show(x.Title)
	chosen := map[section.Face]bool{}
	for _, f := range x.Faces {
		chosen[f] = true
	}
	faces := s.photographed()
	s.rows = syncRows(s.faces, s.rows, len(faces), func(int) *button { return s.w.button("pack:face", "", "", choice, nil) })
	for i, f := range faces {
		short := say("face.short", f.Slab, f.Facing.Letter())
		s.rows[i].id, s.rows[i].tip = "pack:face:"+short, d.FaceName(f)
		s.rows[i].tapped = func() { d.TogglePackFace(f) }
		s.rows[i].state(short, chosen[f], false)
	}
	s.cuts.setOn(x.Cuts)
	for i, a := range d.PackAsks() {
		s.asks[i].setOn(slices.Contains(x.Asks, a))
	}
	s.signed.setOn(x.SignedOnly)
	s.noTags.setOn(x.NoTags)
	s.what.set(d.PackWords())
	s.uses.set(usesWords(d.Agreement()))
	why := d.PackRefusal()
	s.refusal.set(why)
	s.make.setOff(why != "" || len(d.Jobs()) > 0)
	if s.dir.Text == "" && d.Lab().Open {
		s.dir.show(filepath.Join(d.Lab().Dir, "hand-outs"))
	}
	done := d.PackDone()
	s.doneBox.Hidden = done == ""
	s.done.set(done)
	relayDeep(s.slip)
	s.panel.relay()
}

// openPack asks for a study pack and opens it: whoever does is a student from then on, until it is closed.
func (w *Window) openPack() {
	w.pick(pick{title: say("start.pack"), anything: true, done: func(p []string) { w.desk.OpenStudy(p[0]) }})
}
