// Package ui is the window: widgets of our own on Fyne that show a bench and hand it what hands do. It decides
// nothing and keeps no state beyond widgets, the text size and the size of the window.
package ui

import (
	"errors"
	"os"
	"path/filepath"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/theme"

	"sectionary/annotate"
	"sectionary/app/bench"
	"sectionary/assets"
	"sectionary/atlas"
)

// Title is the name in the window's frame.
const Title = "Sectionary"

// Window is the one window of the program.
type Window struct {
	app      fyne.App
	win      fyne.Window
	desk     desk
	runner   *Runner
	settings settings
	look     *look

	root    *fyne.Container
	head    *head
	foot    *foot
	tips    *tips
	body    *fyne.Container
	ground  *canvas.Rectangle
	screens map[bench.Screen]screen
	shown   screen
	panes   []*pane
	rolls   []*roll
	sheets  []*sheet
	message *sheet
	survey  *sheet
	blank   fyne.CanvasObject
	status  *status
	gone    bool   // the window is closed
	lastDir string // where files were last looked for
}

// screen is one of the places of the program.
type screen interface {
	object() fyne.CanvasObject
	refresh(c bench.Change)
	picture() *pane // has the keyboard when nothing else needs it; may be nil
}

// dataDir is where the practice lab, the list of labs and the window's settings stand.
func dataDir() string {
	if d := os.Getenv("SECTIONARY_DATA"); d != "" {
		return d
	}
	if d, err := os.UserConfigDir(); err == nil {
		return filepath.Join(d, "sectionary")
	}
	return ""
}

// New makes the window with a bench of its own. Call Open or Practice, then ShowAndRun.
func New(app fyne.App) (*Window, error) {
	terms, err := annotate.LoadTerms(assets.Terms())
	if err != nil {
		return nil, err
	}
	r := NewRunner()
	dir := dataDir()
	font := theme.DefaultTheme().Font(fyne.TextStyle{}).Content()
	b := bench.New(r, terms, bench.Options{DataDir: dir, Font: font, Author: author(), OnPicture: true})
	w := newWindow(app, b, loadSettings(dir), r)
	w.win.SetCloseIntercept(w.quit)
	app.Lifecycle().SetOnExitedForeground(b.LosingFocus)
	app.Lifecycle().SetOnStopped(func() { // the machine shuts down: no one is asked, but all is saved
		if !w.gone {
			w.gone = true
			r.Stop()
			_ = b.Quit()
		}
	})
	return w, nil
}

// author is the name that stands on labels until the lab says another.
func author() string {
	for _, k := range []string{"SECTIONARY_AUTHOR", "USER", "USERNAME"} {
		if n := os.Getenv(k); n != "" {
			return n
		}
	}
	return "lab"
}

func newWindow(app fyne.App, d desk, s settings, r *Runner) *Window {
	w := &Window{app: app, desk: d, runner: r, settings: s}
	app.SetIcon(fyne.NewStaticResource("sectionary.svg", assets.Mark))
	w.win = app.NewWindow(Title)
	w.win.SetPadded(false)
	w.win.SetMaster()
	w.status = newStatus(w, os.Getenv("SECTIONARY_STATUS"))
	w.build()
	w.listenToKeys()
	w.win.SetOnDropped(w.dropped)
	w.win.Resize(fyne.NewSize(s.Width, s.Height))
	d.OnChange(w.changed)
	r.onNews = func() { w.changed(bench.JobsChanged) }
	return w
}

// Open opens a lab's folder, or a study pack when it is a file; where there is no lab yet, a run can be begun instead.
func (w *Window) Open(dir string) {
	if info, err := os.Stat(dir); err == nil && info.Mode().IsRegular() {
		w.desk.OpenStudy(dir)
		return
	}
	err := w.desk.OpenLab(dir)
	if errors.Is(err, atlas.ErrNotFound) {
		w.ask(say("open.none"), say("open.none.words", dir), say("cancel"), say("open.none.begin"), func() { w.showBeginIn(dir) })
		return
	}
	w.report(err)
}

// Practice opens the practice lab, making it first when it is not there.
func (w *Window) Practice() { w.desk.MakePractice() }

// ShowAndRun shows the window until it is closed.
func (w *Window) ShowAndRun() { w.win.ShowAndRun() }

// build makes everything in the window anew, in the look of the settings. Nothing is lost: all state is the
// bench's.
func (w *Window) build() {
	w.look = newLook(w.settings.Evening, w.settings.Text)
	w.app.Settings().SetTheme(w.look)
	w.desk.SetPalette(w.look.benchPalette())
	for len(w.sheets) > 0 {
		w.sheets[0].close()
	}
	w.message, w.survey, w.panes, w.rolls, w.shown = nil, nil, nil, nil, nil
	w.tips = newTips(w.after, w.repaint)
	w.screens = map[bench.Screen]screen{}
	w.head, w.foot = newHead(w), newFoot(w)
	w.body = container.NewStack()
	w.ground = canvas.NewRectangle(ink(theme.ColorNameBackground))
	w.root = (&table{top: w.head.object, bottom: w.foot.object, middle: w.body, least: fyne.NewSize(640, 480)}).object()
	w.win.SetContent(container.NewStack(w.ground, w.root, w.tips.layer))
	w.changed(bench.Everything)
}

// repaint has the window painted again: Fyne does not do so by itself for a container that is only shown again, nor
// for anything it has never painted, so something always on screen is asked.
func (w *Window) repaint() { canvas.Refresh(w.ground) }

// screen returns one of the places, made when it is first gone to.
func (w *Window) screen(at bench.Screen) screen {
	if s, ok := w.screens[at]; ok {
		return s
	}
	var s screen
	switch at {
	case bench.RunScreen:
		s = newRunScreen(w)
	case bench.FaceScreen:
		s = newFaceScreen(w)
	case bench.PairingScreen:
		s = newPairing(w)
	case bench.HandOutScreen:
		s = newHandOut(w)
	case bench.StationsScreen:
		s = newStations(w)
	case bench.FreshScreen:
		s = newFresh(w)
	case bench.RoomScreen:
		s = newRoom(w)
	case bench.PackScreen:
		s = newPack(w)
	case bench.StudyScreen:
		s = newStudy(w)
	case bench.DrillScreen:
		s = newDrill(w)
	case bench.BookScreen:
		s = newBook(w)
	case bench.RackScreen:
		s = newRackScreen(w)
	case bench.LedgerScreen:
		s = newLedgerScreen(w)
	case bench.ReceivingScreen:
		s = newReceiving(w)
	case bench.AgainScreen:
		s = newAgain(w)
	default:
		s = newStart(w)
	}
	w.screens[at] = s
	return s
}

// after runs f on the event loop once d has passed.
func (w *Window) after(d time.Duration, f func()) (cancel func()) { return w.runner.After(d, f) }

// changed shows what is different; the bench calls it after every change.
func (w *Window) changed(c bench.Change) {
	if w.gone {
		return
	}
	s := w.screen(w.desk.Screen())
	if s != w.shown {
		w.tips.hide() // the button it spoke of goes away
		w.shown = s
		w.fillDisplay(w.desk.Screen())
		w.body.Objects = []fyne.CanvasObject{s.object()}
		w.body.Refresh()
		c = bench.Everything
		defer w.keyboardToPicture()
	}
	if c&^(bench.PointerChanged|bench.ViewChanged|bench.TimeChanged) != 0 {
		w.head.refresh()
		w.foot.refresh()
		s.refresh(c)
		relaid(w.root)
	} else if c&bench.ViewChanged != 0 {
		s.refresh(c)
	}
	for _, p := range w.panes {
		if w.onScreen(p) {
			p.changed(c)
		}
	}
	w.repaint()
	if c&bench.MessageChanged != 0 {
		w.showMessage()
	}
	w.showSurvey()
	if c&bench.ScreenChanged != 0 {
		w.showBlank()
	}
	w.noteStatus()
}

// onScreen reports whether the pane belongs to the screen shown.
func (w *Window) onScreen(p *pane) bool {
	return w.shown != nil && contains(w.shown.object(), p)
}

// newPane makes a pane and keeps it among those told of changes.
func (w *Window) newPane(id string, p bench.Pane) *pane {
	v := w.pane(id, p)
	v.design = fyne.NewSize(330, 300)
	w.panes = append(w.panes, v)
	return v
}

// pointers moves the linked pointer on every pane shown.
func (w *Window) pointers() {
	for _, p := range w.panes {
		if w.onScreen(p) {
			p.point()
		}
	}
}

// report shows an error, if it is one.
func (w *Window) report(err error) {
	if err != nil {
		w.desk.Report(err)
	}
}

func (w *Window) dropped(_ fyne.Position, uris []fyne.URI) {
	var paths []string
	for _, u := range uris {
		if u.Scheme() == "file" {
			paths = append(paths, u.Path())
		}
	}
	if len(paths) > 0 {
		w.desk.DropPaths(paths)
	}
}

// quit saves and closes; when something cannot be saved it says so and stays.
func (w *Window) quit() {
	if err := w.desk.Quit(); err != nil {
		w.ask(say("quit.title"), err.Error()+"\n"+say("quit.hint"), say("quit.stay"), say("quit.leave"), w.leave)
		return
	}
	w.leave()
}

func (w *Window) leave() {
	size := w.win.Canvas().Size()
	w.settings.Width, w.settings.Height = size.Width, size.Height
	w.settings.save()
	w.gone = true
	w.runner.Stop()
	w.win.Close()
}
