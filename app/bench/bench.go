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
)

// Options are what a bench needs from outside. The zero value works.
type Options struct {
	DataDir string           // where the practice lab and the list of recent labs stand; "" keeps neither
	Font    []byte           // TrueType for painted words; nil uses the one that ships
	Author  string           // who labels, until SetAuthor
	Now     func() time.Time // the clock; nil is the machine's
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
)

// Everything is every change at once.
const Everything Change = 1<<12 - 1

// Screen is one of the places of the program.
type Screen uint8

// The screens.
const (
	StartScreen Screen = iota
	RunScreen
	FaceScreen
	PairingScreen
	HandOutScreen
)

// Bench is the state of one window. Make it with New.
type Bench struct {
	core
}

// New returns a bench on the start page. terms may be nil in tests that name nothing.
func New(r Runner, terms *annotate.Terms, o Options) *Bench { return newBench(r, terms, o) }
