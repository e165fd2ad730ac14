package ui

import (
	"encoding/json"
	"os"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"

	"sectionary/app/bench"
)

// status writes what the window shows as JSON lines into the file named by SECTIONARY_STATUS, one line when it
// has changed: a test that drives the real window waits for a state instead of sleeping, and finds things by
// name instead of by place.
type status struct {
	w    *Window
	path string
	wait func()
	last string
}

func newStatus(w *Window, path string) *status { return &status{w: w, path: path} }

// noteStatus writes the state soon, once for many changes.
func (w *Window) noteStatus() {
	s := w.status
	if s.path == "" || s.wait != nil {
		return
	}
	s.wait = w.after(60*time.Millisecond, func() { s.wait = nil; s.write() })
}

type state struct {
	Screen   string            `json:"screen"`
	Lab      string            `json:"lab,omitempty"`
	Run      string            `json:"run,omitempty"`
	Face     string            `json:"face,omitempty"`
	Photo    bool              `json:"photo"`
	Scale    bool              `json:"scale"`
	Edges    string            `json:"edges,omitempty"` // left, right, up, down in the view shown
	Levels   int               `json:"levels"`
	Series   int               `json:"series"`
	Tool     string            `json:"tool"`
	Labels   []string          `json:"labels"`
	Chosen   string            `json:"chosen,omitempty"`
	Undo     string            `json:"undo,omitempty"`
	Redo     string            `json:"redo,omitempty"`
	Saved    string            `json:"saved"`
	Unsafe   bool              `json:"unsafe"`
	Jobs     int               `json:"jobs"`
	Message  string            `json:"message,omitempty"`
	Sheet    bool              `json:"sheet"`
	Blanked  bool              `json:"blanked"`
	Band     string            `json:"band,omitempty"`
	Ties     int               `json:"ties"`
	Fit      string            `json:"fit,omitempty"`
	Hint     string            `json:"hint,omitempty"`
	Whole    string            `json:"whole,omitempty"`
	Refusal  string            `json:"refusal,omitempty"`
	Item     string            `json:"item,omitempty"` // on the rack
	Said     string            `json:"said,omitempty"`
	Form     string            `json:"form,omitempty"`
	Due      int               `json:"due,omitempty"`
	Files    []string          `json:"files,omitempty"`
	Stations int               `json:"stations,omitempty"`
	Asked    string            `json:"asked,omitempty"` // by the drill, or said of a finished picture
	Dir      string            `json:"dir,omitempty"`
	Focus    string            `json:"focus,omitempty"`
	Painted  map[string][2]int `json:"painted,omitempty"` // of each pane on show: paintings, and frames with its linked pointer moved
	Targets  map[string][4]int `json:"targets"`           // x, y, width, height in device pixels of the window
}

var screenNames = map[bench.Screen]string{bench.StartScreen: "start", bench.RunScreen: "run", bench.FaceScreen: "bench",
	bench.PairingScreen: "pairing", bench.HandOutScreen: "handout", bench.StationsScreen: "stations", bench.FreshScreen: "fresh",
	bench.RoomScreen: "room", bench.PackScreen: "pack", bench.StudyScreen: "study", bench.DrillScreen: "drill", bench.BookScreen: "book",
	bench.RackScreen: "rack", bench.LedgerScreen: "ledger", bench.AgainScreen: "again",
	bench.ReceivingScreen: "receiving"}

var toolNames = map[bench.Tool]string{bench.ToolPan: "hand", bench.ToolScale: "scale", bench.ToolAxes: "axes",
	bench.ToolOutline: "outline", bench.ToolName: "name", bench.ToolMeasure: "measure", bench.ToolMask: "mask", bench.ToolColour: "colour", bench.ToolBorder: "border"}

func (s *status) write() {
	d := s.w.desk
	now := state{Screen: screenNames[d.Screen()], Lab: d.Lab().Dir, Run: d.Run().ID, Tool: toolNames[d.Tool()],
		Labels: []string{}, Chosen: d.Chosen(), Undo: d.UndoName(), Redo: d.RedoName(), Saved: d.Saved().Words,
		Unsafe: d.Saved().Unsafe, Jobs: len(d.Jobs()), Sheet: s.w.topSheet() != nil, Blanked: d.Blanked(),
		Targets: map[string][4]int{}}
	if f := d.Face(); f.Slab != 0 {
		now.Face = d.FaceName(f)
		info, e := d.Info(f), d.Edges()
		now.Photo, now.Scale, now.Edges = info.Photo, info.Scale, e.Left+e.Right+e.Up+e.Down
	}
	for _, l := range d.Labels() {
		now.Labels = append(now.Labels, l.Name)
	}
	if m := d.Message(); m != nil {
		now.Message = m.Title
	}
	now.Series = len(d.Series())
	switch d.Screen() {
	case bench.PairingScreen:
		now.Band, now.Ties, now.Levels, now.Fit = d.Band(), len(d.TieRows()), len(d.LevelTies()), d.FitWords()
		now.Hint, _ = d.Hint()
		now.Whole = d.WholeWords()
	case bench.StationsScreen:
		now.Refusal, now.Stations = d.ExamRefusal(), len(d.Stations())
		if slip := d.ExamDone(); slip != nil {
			now.Files, now.Dir = slip.Files, slip.Dir
		}
	case bench.FreshScreen:
		i := d.Fresh()
		now.Stations, now.Asked = i.N, i.Words
	case bench.ReceivingScreen:
		i := d.Table()
		now.Said, now.Refusal = i.Words, i.Proposal
		now.Hint, _ = d.Hint()
	case bench.DrillScreen:
		now.Asked = d.Drill().Question
	case bench.RackScreen, bench.LedgerScreen:
		i := d.Rack()
		now.Item, now.Said, now.Due = i.Title, i.Said, len(i.Due)
		if f := d.RackForm(); f != nil {
			now.Form, now.Refusal = f.ID, f.Problem
		}
	case bench.HandOutScreen:
		now.Refusal = d.Refusal()
		if slip := d.LastSlip(); slip != nil {
			now.Files, now.Dir = slip.Files, slip.Dir
		}
	}
	if n, ok := s.w.focused().(named); ok {
		now.Focus = n.targetName()
	}
	now.Painted = map[string][2]int{}
	for _, v := range s.w.panes {
		if v.Visible() && v.painted > 0 {
			now.Painted[v.id] = [2]int{v.painted, v.frames}
		}
	}
	s.targets(now.Targets)
	b, err := json.Marshal(now)
	if err != nil || string(b) == s.last {
		return
	}
	s.last = string(b)
	f, err := os.OpenFile(s.path, os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o600)
	if err != nil {
		return
	}
	defer f.Close()
	_, _ = f.Write(append(b, '\n'))
}

// named is anything a test may want to find.
type named interface {
	fyne.CanvasObject
	targetName() string
}

// targets lists where the named things shown stand; of those under a slip that waits, none.
func (s *status) targets(into map[string][4]int) {
	c := s.w.win.Canvas()
	root := c.Content()
	if t := s.w.topSheet(); t != nil {
		root = t.top
	}
	scale := c.Scale()
	driver := fyne.CurrentApp().Driver()
	var walk func(o fyne.CanvasObject)
	walk = func(o fyne.CanvasObject) {
		if o == nil || !o.Visible() {
			return
		}
		switch v := o.(type) {
		case named:
			if v.targetName() != "" {
				p, z := driver.AbsolutePositionForObject(v), v.Size()
				into[v.targetName()] = [4]int{int(p.X * scale), int(p.Y * scale), int(z.Width * scale), int(z.Height * scale)}
			}
		case *fyne.Container:
			for _, k := range v.Objects {
				walk(k)
			}
		case *container.Scroll:
			walk(v.Content)
		}
	}
	walk(root)
}
