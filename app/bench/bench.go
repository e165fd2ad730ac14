// Package bench is the program without a window: which lab, run, face and scan are open, the tool in hand,
// what is being drawn, undo, autosave, jobs and messages. It paints every picture itself into an image.RGBA, so
// what a student sees is tested without a window, and it never imports the toolkit that shows it.
//
// Every method runs on one goroutine, the event loop's; a Runner carries long work elsewhere and brings the
// result back. Positions handed to panes are device pixels of that pane, the centre of the first pixel at (0, 0).
package bench

import (
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/ink"
	"sectionary/slices/section"
)

// Options are what a bench needs from outside. The zero value works.
type Options struct {
	DataDir string           // where the practice lab and the list of recent labs stand; "" keeps neither
	Font    []byte           // TrueType for painted words; nil uses the one that ships
	Author  string           // who labels, until SetAuthor
	Now     func() time.Time // the clock; nil is the machine's
	// OnPicture opens a run on its first photographed face instead of on none.
	OnPicture bool
}

// Change tells what is different since the last call, as flags.
type Change uint16

// The changes. A listener reads the parts it shows again.
const (
	ScreenChanged    Change = 1 << iota // another screen, or blanked
	LabChanged                          // lab opened, closed, agreement, list of runs, tray or series
	RunChanged                          // slabs, the chosen run, facts of its faces
	PlateChanged                        // the chosen face or what is known of it
	ViewChanged                         // zoom, turn, grid, picture loaded
	SelectionChanged                    // chosen outline, points, drafts, tool
	ScanChanged                         // the cut of the scan, its window, ties, level
	PointerChanged                      // only the linked pointers moved: nothing to repaint
	JobsChanged                         // a job began, ended or got on
	MessageChanged                      // Message is another
	SavedChanged                        // Saved is another
	PreviewChanged                      // the hand-out draft or its picture
	ExamChanged                         // stations, the study pack, the drill
	TimeChanged                         // only the time left in a room
	RackChanged                         // the rack, the ledger or what is chosen there
)

// Everything is every change at once.
const Everything Change = 1<<15 - 1

// Screen is one of the places of the program.
type Screen uint8

// The screens.
const (
	StartScreen Screen = iota
	RunScreen
	FaceScreen
	PairingScreen
	HandOutScreen
	StationsScreen // building an exam
	FreshScreen    // its finished pictures, one at a time, before release
	RoomScreen     // the exam shown to a room
	PackScreen     // making a study pack
	StudyScreen    // a study pack, as students see it
	DrillScreen    // one face, one question
	BookScreen
	RackScreen      // shelves, containers, pieces and who has what
	LedgerScreen    // every line of custody
	ReceivingScreen // photographs as prints on a table, beside the ruler
	AgainScreen     // a face photographed anew: both pictures side by side
)

// Bench is the state of one window. Make it with New.
type Bench struct {
	run     Runner
	terms   *annotate.Terms // of the open lab: the shipped ones and its own
	shipped *annotate.Terms
	o       Options

	listeners map[int]func(Change)
	lastHeard int
	screen    Screen
	blank     bool
	author    string
	messages  []Message
	jobs      []*job
	lastJob   int
	pal       Palette
	font      *ink.Font
	bold      *ink.Font

	lab     labRoom
	rule    runRoom
	take    intakeRoom
	table   tableRoom
	doc     *faceDoc // the chosen face's document, nil without a photograph
	ahead   aheadRoom
	decodes int                 // photographs being decoded, those that nobody waits for any more included
	docs    map[string]*faceDoc // every document of this sitting, by plate

	draw   drawRoom
	held   map[string]bool // keys
	pair   pairRoom
	out    outRoom
	role   Role
	exam   examRoom
	show   showRoom
	pack   packRoom
	study  studyRoom
	book   bookRoom
	shrink stretchRoom
	rack   rackRoom
	stand  standRoom

	face    *facePane
	scan    *scanPane
	ruler   *rulerPane
	strip   *rulerPane
	preview *previewPane

	station   *previewPane
	freshPane *fullPane
	roomPane  *fullPane

	studyFace, studyScan, drillPane *packPane
	drillRuler                      *drillRuler
	leaves                          *bookPane

	receiving *receivingPane
	shelves   *rackPane
	running   *ledgerPane

	again              againRoom
	againOld, againNow *againPane
}

// New returns a bench on the start page. terms may be nil in tests that name nothing.
func New(r Runner, terms *annotate.Terms, o Options) *Bench {
	if o.Now == nil {
		o.Now = time.Now
	}
	b := &Bench{run: r, terms: terms, o: o, author: o.Author, pal: LightPalette(), font: ink.Default(), bold: ink.Bold(),
		listeners: map[int]func(Change){}, docs: map[string]*faceDoc{}, held: map[string]bool{}}
	if o.Font != nil {
		if f, err := ink.NewFont(o.Font); err == nil {
			b.font = f
		}
	}
	b.shipped = terms
	b.face = &facePane{b: b, press: press{point: noPoint}}
	b.scan = &scanPane{b: b}
	b.ruler = &rulerPane{b: b}
	b.strip = &rulerPane{b: b, strip: true}
	b.receiving = newReceivingPane(b)
	b.preview = &previewPane{b: b, page: b.handOutPage, wants: PreviewChanged}
	b.station = &previewPane{b: b, page: b.stationPage, wants: ExamChanged}
	b.freshPane = &fullPane{b: b, content: b.freshContent, wants: ExamChanged}
	b.roomPane = &fullPane{b: b, content: b.roomContent, wants: TimeChanged}
	b.studyFace = &packPane{b: b, content: b.studyContent}
	b.studyScan = &packPane{b: b, content: b.studyScanContent}
	b.drillPane = &packPane{b: b, content: b.drillContent, click: b.answerAt}
	b.drillRuler = &drillRuler{b: b}
	b.leaves = &bookPane{b: b}
	b.againOld, b.againNow = &againPane{b: b, old: true, tie: -1}, &againPane{b: b, tie: -1}
	b.shelves, b.running = &rackPane{b: b}, &ledgerPane{b: b}
	b.draw.point = noPoint
	b.out.draft = Draft{Kind: Study, Purpose: atlas.Teaching, Languages: []string{English}, Paper: "A4"}
	return b
}

// OnChange calls f after every change, until stop.
func (b *Bench) OnChange(f func(Change)) (stop func()) {
	b.lastHeard++
	id := b.lastHeard
	b.listeners[id] = f
	return func() { delete(b.listeners, id) }
}

func (b *Bench) changed(c Change) {
	for id := 1; id <= b.lastHeard; id++ {
		if f := b.listeners[id]; f != nil {
			f(c)
		}
	}
}

// Screen is where the person is.
func (b *Bench) Screen() Screen { return b.screen }

// Show goes to a screen; it stays where it is and says why when there is nothing to show there.
func (b *Bench) Show(s Screen) {
	switch {
	case s == b.screen:
		return
	case s != StartScreen && !b.Role().mayShow(s):
		b.say(Message{Title: Word("show.notrole"), Hint: Word("role." + b.Role().String())})
		return
	case studyScreens[s] && b.study.open():
	case s != StartScreen && b.lab.lib == nil:
		b.say(Message{Title: Word("show.nolab"), Hint: Word("show.nolab.hint")})
		return
	case s != StartScreen && b.Run().ID == "":
		b.say(Message{Title: Word("show.norun"), Hint: Word("show.norun.hint")})
		return
	case (s == FaceScreen || s == PairingScreen || s == BookScreen) && b.Face() == (section.Face{}):
		b.say(Message{Title: Word("show.noface"), Hint: Word("show.noface.hint")})
		return
	}
	b.enter(s)
}

// enter changes the screen without asking.
func (b *Bench) enter(s Screen) {
	if b.screen == FaceScreen || b.screen == PairingScreen {
		b.saveNow()
	}
	b.dropDrafts()
	b.blind(false)
	b.stopComparing()
	b.screen = s
	switch s {
	case PairingScreen:
		b.wantVolume()
	case HandOutScreen:
		b.openHandOut()
	case StationsScreen:
		b.openStations()
	case PackScreen:
		b.openPack()
	case DrillScreen:
		b.openDrill()
	case BookScreen:
		b.wantBook()
	case RackScreen:
		b.openRack()
	case LedgerScreen:
		b.openLedger()
	case ReceivingScreen:
		b.openTable()
	}
	b.changed(Everything)
}

// Back goes one step back: closes the message, drops the draft, puts the tool away, leaves the screen. Always safe.
func (b *Bench) Back() {
	switch {
	case b.blank:
		b.Blank()
	case b.Message() != nil:
		b.Dismiss()
	case b.screen == AgainScreen:
		b.leaveAgain()
	case b.draw.inHand() || b.pair.inHand():
		b.dropDrafts()
		b.changed(SelectionChanged | ScanChanged)
	case b.pair.measure.on && b.screen == PairingScreen:
		b.backFromScanMeasure()
	case b.draw.point != noPoint && b.screen == FaceScreen:
		b.draw.point = noPoint
		b.changed(SelectionChanged)
	case b.draw.tool != ToolPan && b.screen == FaceScreen:
		b.SetTool(ToolPan)
	case b.doc != nil && b.doc.unshone != nil && b.screen == FaceScreen:
		b.DropGlare()
	case b.draw.compared != nil && b.screen == FaceScreen:
		b.stopComparing()
	case b.draw.chosen != "" && b.screen == FaceScreen:
		b.ChooseLabel("")
	case b.rack.form != nil && (b.screen == RackScreen || b.screen == LedgerScreen):
		b.LeaveRackForm()
	case b.screen == LedgerScreen:
		b.enter(RackScreen)
	case b.screen == RackScreen && b.rack.chosen != "":
		b.ChooseItem("")
	case b.screen == RackScreen:
		b.enter(RunScreen)
	case b.screen == ReceivingScreen:
		b.backFromTable()
	case b.screen == RoomScreen:
		b.leaveRoom()
	case b.screen == FreshScreen:
		b.enter(StationsScreen)
	case b.screen == DrillScreen && b.study.open():
		b.enter(StudyScreen)
	case b.screen == FaceScreen, b.screen == HandOutScreen, b.screen == StationsScreen, b.screen == PackScreen, b.screen == DrillScreen:
		b.enter(RunScreen)
	case b.screen == PairingScreen, b.screen == BookScreen:
		b.enter(FaceScreen)
	case b.screen == RunScreen:
		b.enter(StartScreen)
	}
}

// Blank hides or shows everything at once; while hidden, panes paint only their ground.
func (b *Bench) Blank() { b.blank = !b.blank; b.changed(Everything) }

// Blanked reports whether everything is hidden.
func (b *Bench) Blanked() bool { return b.blank }

// SetPalette changes the colours of the panes.
func (b *Bench) SetPalette(p Palette) { b.pal = p; b.changed(Everything) }

// SetAuthor sets who labels and signs from now on.
func (b *Bench) SetAuthor(name string) { b.author = name; b.changed(LabChanged) }

// Author is who labels.
func (b *Bench) Author() string { return b.author }

// Quit saves everything and ends all jobs. It returns an error when something could not be saved.
func (b *Bench) Quit() error {
	for _, j := range b.jobs {
		j.stop()
	}
	return b.CloseLab()
}

// LosingFocus saves now.
func (b *Bench) LosingFocus() { b.saveNow() }

// stamp says who makes a change: whoever labels, or the second reader while at work.
func (b *Bench) stamp() annotate.Stamp {
	by := annotate.Stamp{Author: b.author, At: b.o.Now()}
	if s := b.Reading(); s.Blind {
		by.Author = s.Reader
	}
	return by
}
