package ui

import (
	"fmt"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"

	"sectionary/app/bench"
	"sectionary/slices/section"
)

// open shows a window on a fake bench at a size in units and a text size in per cent.
func open(t *testing.T, f *fake, size fyne.Size, text int, evening bool) *Window {
	t.Helper()
	app := test.NewTempApp(t)
	w := newWindow(app, f, settings{Text: text, Evening: evening, Width: size.Width, Height: size.Height}, NewRunner())
	w.win.Resize(size)
	t.Cleanup(w.runner.Stop)
	return w
}

// piece is a visible text with its place in the window and the part of it that may be seen.
type piece struct {
	text      string
	at        fyne.Position
	size      fyne.Size
	min       fyne.Size
	seen      box // the clip of the scrolls and of the window
	scrolling bool
	owner     fyne.CanvasObject
}

type box struct{ x0, y0, x1, y1 float32 }

func (b box) clip(at fyne.Position, s fyne.Size) box {
	return box{max(b.x0, at.X), max(b.y0, at.Y), min(b.x1, at.X+s.Width), min(b.y1, at.Y+s.Height)}
}

// texts walks everything visible below o.
func texts(o fyne.CanvasObject) []piece {
	var out []piece
	var walk func(o fyne.CanvasObject, at fyne.Position, clip box, scrolling bool, owner fyne.CanvasObject)
	walk = func(o fyne.CanvasObject, at fyne.Position, clip box, scrolling bool, owner fyne.CanvasObject) {
		if o == nil || !o.Visible() {
			return
		}
		at = at.Add(o.Position())
		switch v := o.(type) {
		case *canvas.Text:
			if v.Text != "" {
				size := v.Size()
				p := at
				switch v.Alignment { // only the words count, not the room round them
				case fyne.TextAlignCenter:
					p.X += (size.Width - v.MinSize().Width) / 2
				case fyne.TextAlignTrailing:
					p.X += size.Width - v.MinSize().Width
				}
				out = append(out, piece{v.Text, p, size, v.MinSize(), clip, scrolling, owner})
			}
		case *fyne.Container:
			for _, k := range v.Objects {
				walk(k, at, clip, scrolling, owner)
			}
		case *container.Scroll:
			c := clip.clip(at, v.Size())
			for _, k := range test.WidgetRenderer(v).Objects() {
				walk(k, at, c, k == v.Content || scrolling, owner)
			}
		case fyne.Widget:
			c := clip
			switch v.(type) {
			case *field, *widget.RichText: // they scroll sideways
			default:
				c = clip.clip(at, v.Size())
			}
			for _, k := range test.WidgetRenderer(v).Objects() {
				walk(k, at, c, scrolling, v)
			}
		}
	}
	s := o.Size()
	walk(o, fyne.NewPos(0, 0).Subtract(o.Position()), box{0, 0, s.Width, s.Height}, false, nil)
	return out
}

// faults lists words that are cut at the sides, stand outside the window, or lie on other words.
func faults(o fyne.CanvasObject) []string {
	var out []string
	all := texts(o)
	const slack = 1
	for i, p := range all {
		_, isField := p.owner.(*widget.RichText)
		if p.at.X < p.seen.x0-slack || p.at.X+p.min.Width > p.seen.x1+slack {
			if !isField {
				out = append(out, fmt.Sprintf("%q is cut at the side: %.0f to %.0f, seen %.0f to %.0f", p.text, p.at.X, p.at.X+p.min.Width, p.seen.x0, p.seen.x1))
			}
		}
		if !p.scrolling && (p.at.Y < p.seen.y0-slack || p.at.Y+p.min.Height > p.seen.y1+slack) {
			out = append(out, fmt.Sprintf("%q is cut above or below: %.0f to %.0f, seen %.0f to %.0f", p.text, p.at.Y, p.at.Y+p.min.Height, p.seen.y0, p.seen.y1))
		}
		if !isField && (p.size.Width < p.min.Width-slack || p.size.Height < p.min.Height-slack) {
			out = append(out, fmt.Sprintf("%q has %v of the %v it needs", p.text, p.size, p.min))
		}
		for _, q := range all[i+1:] {
			a, b := p.seen.clip(p.at, p.min), q.seen.clip(q.at, q.min)
			w, h := min(a.x1, b.x1)-max(a.x0, b.x0), min(a.y1, b.y1)-max(a.y0, b.y0)
			if w > slack && h > slack+1 {
				out = append(out, fmt.Sprintf("%q lies on %q", p.text, q.text))
			}
		}
	}
	return out
}

// keep writes a picture of the window where SECTIONARY_SHOTS says, for looking at.
func keep(t *testing.T, w *Window, name string) {
	dir := os.Getenv("SECTIONARY_SHOTS")
	if dir == "" {
		return
	}
	f, err := os.Create(filepath.Join(dir, name+".png"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := png.Encode(f, w.win.Canvas().Capture()); err != nil {
		t.Fatal(err)
	}
}

var sizes = []fyne.Size{{Width: 1280, Height: 800}, {Width: 1920, Height: 1080}}

// Every screen, every tool and every slip of paper must show its words whole and apart at both window sizes and
// both text sizes that the programme promises.
func TestNothingCutNothingOverlapping(t *testing.T) {
	type scene struct {
		name  string
		ready func(f *fake)
		then  func(w *Window)
	}
	on := func(s bench.Screen) func(*fake) { return func(f *fake) { f.screen = s } }
	scenes := []scene{
		{"start", on(bench.StartScreen), nil},
		{"run", on(bench.RunScreen), nil},
		{"run-frontal", func(f *fake) { f.screen, f.plane = bench.RunScreen, section.Frontal }, nil},
		{"run-empty", func(f *fake) { f.screen, f.empty = bench.RunScreen, true }, nil},
		{"pairing", on(bench.PairingScreen), nil},
		{"pairing-empty", func(f *fake) { f.screen, f.empty = bench.PairingScreen, true }, nil},
		{"handout", on(bench.HandOutScreen), nil},
		{"handout-empty", func(f *fake) { f.screen, f.empty, f.ended = bench.HandOutScreen, true, false }, nil},
		{"stations", on(bench.StationsScreen), nil},
		{"stations-empty", func(f *fake) { f.screen, f.empty = bench.StationsScreen, true }, nil},
		{"askable", on(bench.StationsScreen), func(w *Window) { w.showAskable() }},
		{"blueprint", on(bench.StationsScreen), func(w *Window) { w.showBlueprint() }},
		{"elsewhere", on(bench.StationsScreen), func(w *Window) { w.showElsewhere() }},
		{"send", on(bench.RunScreen), func(w *Window) { w.showSend() }},
		{"takein", on(bench.RunScreen), func(w *Window) { w.showTakeIn() }},
		{"examslip", on(bench.StationsScreen), func(w *Window) { w.showExamSlip() }},
		{"fresh", on(bench.FreshScreen), nil},
		{"pack", on(bench.PackScreen), nil},
		{"study", on(bench.StudyScreen), nil},
		{"drill", func(f *fake) { f.screen, f.ended = bench.DrillScreen, false }, nil},
		{"drill-revealed", on(bench.DrillScreen), nil},
		{"drill-empty", func(f *fake) { f.screen, f.empty = bench.DrillScreen, true }, nil},
		{"rack", on(bench.RackScreen), nil},
		{"rack-empty", func(f *fake) { f.screen, f.empty = bench.RackScreen, true }, nil},
		{"rack-form", func(f *fake) { f.screen, f.form = bench.RackScreen, lookForm() }, nil},
		{"ledger", on(bench.LedgerScreen), nil},
		{"ledger-empty", func(f *fake) { f.screen, f.empty = bench.LedgerScreen, true }, nil},
		{"ledger-form", func(f *fake) { f.screen, f.form = bench.LedgerScreen, lookForm() }, nil},
		{"again", func(f *fake) { f.screen, f.ended = bench.AgainScreen, false }, nil},
		{"again-earlier", on(bench.AgainScreen), nil},
		{"again-from", on(bench.FaceScreen), func(w *Window) { w.newPicture() }},
		{"bench-empty", func(f *fake) { f.screen, f.empty = bench.FaceScreen, true }, nil},
		{"jobs", func(f *fake) {
			f.screen = bench.RunScreen
			f.jobs = []bench.Job{{ID: 1, Name: "Reading the scan, slice by slice", Done: 120, Total: 640}, {ID: 2, Name: "Taking in 24 photographs"}}
		}, nil},
		{"message", func(f *fake) {
			f.screen = bench.PairingScreen
			f.message = &bench.Message{Title: "These landmarks fit, but only with the face turned over.", Hint: "The picture may be mirrored, or this may be the upper face. Nothing was saved.",
				Choices: []bench.Choice{{Label: "The picture is mirrored"}, {Label: "It is the other face"}, {Label: "Look at the landmarks again"}}}
		}, nil},
		{"begin", on(bench.StartScreen), func(w *Window) { w.showBegin() }},
		{"letters", on(bench.RunScreen), func(w *Window) { w.showLetters() }},
		{"book", on(bench.BookScreen), nil},
		{"vertebra", on(bench.PairingScreen), func(w *Window) { w.showVertebra() }},
		{"stretch", on(bench.PairingScreen), func(w *Window) {
			t := bench.StretchTable{Ways: [2]string{"side to side", "front to back"}}
			for i := range 12 {
				t.Rows = append(t.Rows, bench.StretchLine{Slab: i + 1, Along: "-12.0 % ± 11.6", Across: [2]string{"+10.1 % ± 10.2", "not told"}, Words: "This slab is no longer or shorter, as far as can be told, along the cut than the scan; this slab is 3.0 % shorter front to back than the scan."})
			}
			w.showStretch(t)
		}},
		{"cautions", on(bench.RunScreen), func(w *Window) { w.showCautions() }},
		{"keys", on(bench.RunScreen), func(w *Window) { w.showKeys() }},
		{"agreement", on(bench.RunScreen), func(w *Window) { w.showAgreement() }},
		{"pick", on(bench.RunScreen), func(w *Window) { w.lastDir = "."; w.addPhotos() }},
		{"receiving", func(f *fake) { f.screen = bench.ReceivingScreen }, nil},
		{"receiving-laying", func(f *fake) { f.screen, f.ended = bench.ReceivingScreen, false }, nil},
		{"receiving-frontal", func(f *fake) { f.screen, f.plane = bench.ReceivingScreen, section.Frontal }, nil},
		{"receiving-empty", func(f *fake) { f.screen, f.empty = bench.ReceivingScreen, true }, nil},
		{"name-list", func(f *fake) { f.screen, f.tool = bench.FaceScreen, bench.ToolName }, func(w *Window) {
			p := w.screen(bench.FaceScreen).(*faceScreen).name
			p.typed.SetText("v")
			p.take(2)
		}},
		{"second-reading", func(f *fake) {
			f.screen, f.reading = bench.FaceScreen, bench.ReadingState{There: true, Blind: true, Reader: "CD"}
		}, showSecond},
		{"second-compared", func(f *fake) {
			f.screen, f.reading = bench.FaceScreen, bench.ReadingState{There: true, Ended: true, Comparing: true, Reader: "CD"}
		}, showSecond},
		{"bench-lens", func(f *fake) { f.screen, f.tool, f.sheet = bench.FaceScreen, bench.ToolScale, true }, nil},
		{"bench-glare", func(f *fake) { f.screen, f.glare, f.tags = bench.FaceScreen, true, true }, nil},
		{"bench-mask-proposed", func(f *fake) { f.screen, f.tool, f.tags = bench.FaceScreen, bench.ToolMask, true }, nil},
		{"glare-second", on(bench.FaceScreen), func(w *Window) {
			w.screen(bench.FaceScreen).(*faceScreen).hand[bench.ToolPan].(*handPart).check.glare.ask()
		}},
		{"bench-ruler", func(f *fake) { f.screen, f.tool, f.ruler = bench.FaceScreen, bench.ToolScale, true }, nil},
		{"name-none", func(f *fake) { f.screen, f.tool = bench.FaceScreen, bench.ToolName }, func(w *Window) {
			w.screen(bench.FaceScreen).(*faceScreen).name.typed.SetText("zzz")
		}},
	}
	for _, tool := range railTools {
		scenes = append(scenes, scene{"bench-" + tool.id, func(f *fake) { f.screen, f.tool = bench.FaceScreen, tool.tool }, nil})
	}
	for _, s := range scenes {
		for _, size := range sizes {
			for _, text := range []int{100, 200} {
				for _, evening := range []bool{false, true} {
					if evening && (text != 100 || size.Width > 1300) {
						continue // the lamp changes no lengths
					}
					name := fmt.Sprintf("%s-%.0f-%d", s.name, size.Width, text)
					if evening {
						name += "-evening"
					}
					t.Run(name, func(t *testing.T) {
						f := newFake()
						s.ready(f)
						w := open(t, f, size, text, evening)
						if s.then != nil {
							s.then(w)
						}
						keep(t, w, name)
						c := w.win.Canvas()
						root := c.Content()
						if top := c.Overlays().Top(); top != nil {
							root = top
						}
						if root.Size().Width > size.Width+0.5 || root.Size().Height > size.Height+0.5 {
							t.Errorf("the window grew to %v", root.Size())
						}
						if len(texts(root)) < 3 {
							t.Error("hardly any words on this screen")
						}
						for _, fault := range smallTargets(root) {
							t.Error("LB8:", fault)
						}
						for _, fault := range faults(root) {
							t.Error(fault)
						}
					})
				}
			}
		}
	}
}

// The check itself must be able to fail.
func TestFaultsAreFound(t *testing.T) {
	test.NewTempApp(t)
	a, b := canvas.NewText("first words", nil), canvas.NewText("second words", nil)
	a.Resize(a.MinSize())
	b.Resize(b.MinSize())
	b.Move(fyne.NewPos(10, 4))
	c := container.NewWithoutLayout(a, b)
	c.Resize(fyne.NewSize(400, 100))
	if len(faults(c)) == 0 {
		t.Error("words lying on words were not found")
	}
	b.Move(fyne.NewPos(350, 50))
	if len(faults(c)) == 0 {
		t.Error("words cut at the side were not found")
	}
	b.Move(fyne.NewPos(0, 50))
	if got := faults(c); len(got) != 0 {
		t.Errorf("words in their place were called %v", got)
	}
	b.Resize(fyne.NewSize(10, 5))
	if len(faults(c)) == 0 {
		t.Error("words with too little room were not found")
	}
}

// showSecond scrolls the panel down to the second reading.
func showSecond(w *Window) {
	s := w.screen(bench.FaceScreen).(*faceScreen)
	s.panel.scroll.ScrollToBottom()
}

// smallTargets lists what a gloved hand could miss or a keyboard could not reach: whatever can be pressed must be at least 44 units
// high and wide, and take the keyboard.
func smallTargets(root fyne.CanvasObject) (out []string) {
	const least = 44
	var walk func(o fyne.CanvasObject)
	walk = func(o fyne.CanvasObject) {
		if o == nil || !o.Visible() {
			return
		}
		switch v := o.(type) {
		case *fyne.Container:
			for _, k := range v.Objects {
				walk(k)
			}
			return
		case *container.Scroll:
			walk(v.Content) // its bars are for the pointer; the keyboard brings what it goes to into sight
			return
		case *widget.List:
			return // takes the keyboard as a whole
		case *button:
			if s := v.Size(); s.Width < least-0.5 || s.Height < least-0.5 {
				out = append(out, fmt.Sprintf("%q (%s) is %v large", v.label, v.id, s))
			}
		case *field:
			if s := v.Size(); s.Width < least-0.5 || s.Height < least-0.5 {
				out = append(out, fmt.Sprintf("the field %s is %v large", v.id, s))
			}
			return
		}
		if _, tappable := o.(fyne.Tappable); tappable {
			if _, takes := o.(fyne.Focusable); !takes {
				out = append(out, fmt.Sprintf("%T can be pressed but takes no keyboard", o))
			}
		}
		if w, ok := o.(fyne.Widget); ok {
			for _, k := range test.WidgetRenderer(w).Objects() {
				walk(k)
			}
		}
	}
	walk(root)
	return out
}
