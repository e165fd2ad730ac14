package ui

import (
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
	"sectionary/slices/section"
)

// runScreen is the home of a run: the body-long ruler, and beside it one thing at a time, the picture of the
// chosen face.
type runScreen struct {
	w      *Window
	ruler  *pane
	face   *pane
	tab    *table
	box    *fyne.Container
	facts  *words
	odd    *words // unlike its neighbours
	where  *words
	again  *words // how much of the run waits to be looked at again
	open   *button
	across *button
	other  *button
	panel  *roll
	slab   *slabForm
	tray   *tray
	scans  *scans
	runs   *runList
}

func newRunScreen(w *Window) *runScreen {
	s := &runScreen{w: w}
	d := w.desk
	s.ruler, s.face = w.newPane("ruler", d.RulerPane()), w.newPane("face:run", d.FacePane())
	s.where, s.facts = newWords(title, ""), newWords(body, "")
	s.odd = newWords(body, "").colored("warning")
	s.open = w.button("run:bench", "face", say("run.bench"), edged, func() { d.Show(bench.FaceScreen) }).tipped(say("run.bench.tip"))
	s.across = w.button("run:across", "across", say("run.across"), edged, func() { w.key("K") }).tipped(say("run.across.tip"))
	s.other = w.button("run:other", "otherface", say("run.other"), edged, func() { w.key("F") }).tipped(say("run.other.tip"))
	s.again = newWords(body, "").colored(theme.ColorNameWarning)
	face := headless(s.where, s.facts, s.odd, s.again, newFlow(6, s.open, s.across, s.other))
	s.slab, s.tray, s.scans, s.runs = newSlabForm(w), newTray(w), newScans(w), newRunList(w)
	cautions := newColumn(10, newWords(body, say("run.cautions.words")).colored(colorMuted))
	for _, c := range cuttingCards {
		cautions.Add(w.card(c))
	}
	r, sheet := w.panel(face, s.tray.box, s.slab.box, s.scans.box, s.runs.box, part(say("run.cautions"), cautions))
	s.panel = r
	s.tab = &table{left: s.ruler, middle: s.face, right: sheet, gap: 1}
	s.box = s.tab.object()
	s.turn(section.Transverse)
	return s
}

// key does what a key does, for buttons that stand for one.
func (w *Window) key(name string) { w.desk.Key(name, bench.Mods{}); w.pointers() }

// turn lays the ruler along the true direction of the cut: top to bottom at the left for a transverse run, else
// left to right along the top.
func (s *runScreen) turn(p section.Plane) {
	s.tab.rightW, s.tab.leftW = panelWidth(), 120+grown(180)
	s.ruler.least, s.ruler.design = fyne.NewSize(160, 120+grown(90)), fyne.NewSize(290, 300)
	if p == section.Transverse || p == section.UnknownPlane {
		s.tab.left, s.tab.top = s.ruler, nil
	} else {
		s.tab.left, s.tab.top = nil, s.ruler
		s.ruler.design = fyne.NewSize(600, 205)
	}
	relaid(s.box)
}

func (s *runScreen) object() fyne.CanvasObject { return s.box }
func (s *runScreen) picture() *pane            { return s.ruler }

func (s *runScreen) refresh(c bench.Change) {
	if c&^(bench.ViewChanged|bench.PointerChanged|bench.JobsChanged|bench.SavedChanged) == 0 {
		return
	}
	d := s.w.desk
	f := d.Face()
	if f.Slab == 0 {
		s.where.set(say("run.noface"))
		s.facts.set(say("run.noface.words"))
		s.odd.set("")
	} else {
		i := d.Info(f)
		s.where.set(i.Name + ", " + d.Run().SeenFrom(f.Facing))
		s.facts.set(factWords(i))
		s.odd.set(i.Unlike)
	}
	s.again.set(d.LookWords())
	s.again.Hidden = d.LookWords() == ""
	r := d.Run()
	_, partner := r.Partner(f)
	s.open.setOff(f.Slab == 0)
	s.across.setOff(!partner)
	s.other.setOff(f.Slab == 0)
	s.slab.refresh()
	s.tray.refresh()
	s.scans.refresh()
	s.runs.refresh()
	s.turn(r.Plane)
	relayDeep(s.box)
	s.panel.relay()
}

// factWords are the facts of a face without its name, which stands above them.
func factWords(i bench.FaceInfo) string {
	return strings.TrimPrefix(i.Words, i.Name+", ")
}

// addPhotos takes photographs in, many at a time.
func (w *Window) addPhotos() {
	w.pick(pick{title: say("photos.title"), endings: photoEndings, done: w.desk.AddPhotos})
}

// addScan takes a folder, archive or file in.
func (w *Window) addScan() {
	w.pick(pick{title: say("scan.title"), anything: true, done: func(p []string) { w.desk.AddScan(p[0]) }})
}
