package ui

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/storage"
	"fyne.io/fyne/v2/test"

	"sectionary/app/bench"
	"sectionary/atlas"
)

func TestPointerReachesThePane(t *testing.T) {
	f := newFake()
	f.screen = bench.FaceScreen
	w := open(t, f, sizes[0], 100, false)
	v := w.shown.picture()
	p := v.p.(*fakePane)
	v.paint(int(v.Size().Width)*2, int(v.Size().Height)*2) // a screen with two device pixels to a unit
	if p.scale != 2 {
		t.Errorf("scale %g, want 2 device pixels to a unit", p.scale)
	}
	at := func(x, y float32) fyne.PointEvent { return fyne.PointEvent{Position: fyne.NewPos(x, y)} }
	v.MouseDown(&desktop.MouseEvent{PointEvent: at(10, 20), Button: desktop.MouseButtonPrimary})
	// The centre of the first pixel is (0, 0), so unit 10 lies at device pixel 20 - 0.5.
	if p.at.X != 19.5 || p.at.Y != 39.5 {
		t.Errorf("pressed at %v, want 19.5, 39.5", p.at)
	}
	if w.focused() != fyne.Focusable(v) {
		t.Error("a press does not give the picture the keyboard")
	}
	v.Dragged(&fyne.DragEvent{PointEvent: at(14, 20)})
	v.MouseUp(&desktop.MouseEvent{PointEvent: at(14, 20)})
	v.DragEnd()
	v.MouseDown(&desktop.MouseEvent{PointEvent: at(14, 20), Button: desktop.MouseButtonPrimary})
	v.MouseUp(&desktop.MouseEvent{PointEvent: at(14, 20)})
	v.MouseDown(&desktop.MouseEvent{PointEvent: at(30, 30), Button: desktop.MouseButtonSecondary})
	v.MouseMoved(&desktop.MouseEvent{PointEvent: at(33, 30), Button: desktop.MouseButtonSecondary}) // Fyne makes no drag of it
	v.MouseMoved(&desktop.MouseEvent{PointEvent: at(34, 30)})                                       // let go outside: the press ends
	v.MouseOut()
	want := "down drag up down up down secondary drag up hover leave"
	got := strings.Join(slices.DeleteFunc(slices.Clone(p.events), func(s string) bool { return s == "double" }), " ")
	if got != want {
		t.Errorf("the pane saw %q, want %q", got, want)
	}
	v.Scrolled(&fyne.ScrollEvent{PointEvent: at(50, 60), Scrolled: fyne.NewDelta(0, 25)})
	if p.at.X != 99.5 || p.at.Y != 119.5 {
		t.Errorf("wheel at %v, want the pointer's place 99.5, 119.5", p.at)
	}
}

func TestDoubleClickIsCounted(t *testing.T) {
	f := newFake()
	f.screen = bench.FaceScreen
	w := open(t, f, sizes[0], 100, false)
	v := w.shown.picture()
	e := &desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: fyne.NewPos(40, 40)}, Button: desktop.MouseButtonPrimary}
	for range 2 {
		v.MouseDown(e)
		v.MouseUp(e)
	}
	if !slices.Contains(v.p.(*fakePane).events, "double") {
		t.Error("two quick clicks at one place are no double click")
	}
}

func TestKeysTakeOneRoad(t *testing.T) {
	f := newFake()
	f.screen = bench.FaceScreen
	w := open(t, f, sizes[0], 100, false)
	v := w.shown.picture()
	w.focusOn(v)
	f.calls = nil
	v.TypedKey(&fyne.KeyEvent{Name: fyne.KeyPageDown})
	v.TypedRune('k')
	v.TypedKey(&fyne.KeyEvent{Name: fyne.KeyK}) // the same press again, as a key: must not count twice
	v.TypedRune('[')
	v.KeyDown(&fyne.KeyEvent{Name: fyne.KeyW})
	v.TypedRune('w')
	v.KeyUp(&fyne.KeyEvent{Name: fyne.KeyW})
	v.TypedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
	want := []string{"key Page Down", "key K", "key [", "key W", "up W", "key Escape"}
	if !slices.Equal(f.calls, want) {
		t.Errorf("the bench got %q, want %q", f.calls, want)
	}
	// A button with the keyboard passes on what it does not use.
	f.calls = nil
	b := w.shown.(*faceScreen).rail[bench.ToolScale]
	w.focusOn(b)
	b.TypedRune('u')
	b.TypedKey(&fyne.KeyEvent{Name: fyne.KeyDown})
	b.TypedKey(&fyne.KeyEvent{Name: fyne.KeySpace})
	if want := []string{"key U", "key Down", "tool"}; !slices.Equal(f.calls, want) {
		t.Errorf("through a button the bench got %q, want %q", f.calls, want)
	}
}

func TestLettersInAFieldReachNothingElse(t *testing.T) {
	f := newFake()
	w := open(t, f, sizes[0], 100, false)
	s := w.shown.(*runScreen)
	w.focusOn(s.runs.length)
	f.calls = nil
	s.runs.length.SetText("")
	test.Type(s.runs.length, "kfv5")
	if len(f.calls) != 0 {
		t.Errorf("typing in a field did %q", f.calls)
	}
	if s.runs.length.Text != "kfv5" {
		t.Errorf("the field says %q", s.runs.length.Text)
	}
	s.runs.length.TypedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
	if w.focused() == fyne.Focusable(s.runs.length) {
		t.Error("Escape does not leave the field")
	}
}

func TestNamingByKeyboard(t *testing.T) {
	f := newFake()
	f.screen = bench.FaceScreen
	w := open(t, f, sizes[0], 100, false)
	f.SetTool(bench.ToolName)
	p := w.shown.(*faceScreen).name
	if w.focused() != fyne.Focusable(p.typed) {
		t.Fatal("taking the name tool does not put the keyboard into the field")
	}
	test.Type(p.typed, "vein")
	p.typed.TypedKey(&fyne.KeyEvent{Name: fyne.KeyDown})
	p.typed.TypedKey(&fyne.KeyEvent{Name: fyne.KeyReturn})
	if want := "name B left"; f.calls[len(f.calls)-1] != want { // the outline lies on the left
		t.Errorf("did %q, want %q", f.calls[len(f.calls)-1], want)
	}
	if w.focused() != fyne.Focusable(w.shown.picture()) {
		t.Error("after naming, the keyboard is not the picture's")
	}
	// A structure with two sides and an outline that does not say which: it asks, by keyboard too.
	w.focusOn(p.typed)
	test.Type(p.typed, "psoas")
	p.typed.TypedKey(&fyne.KeyEvent{Name: fyne.KeyDown})
	p.typed.TypedKey(&fyne.KeyEvent{Name: fyne.KeyDown})
	p.typed.TypedKey(&fyne.KeyEvent{Name: fyne.KeyReturn})
	b, ok := w.focused().(*button)
	if !ok || b.label != say("side.left") {
		t.Fatalf("the side is not asked for; the keyboard is at %v", w.focused())
	}
	p.sides.buttons[1].TypedKey(&fyne.KeyEvent{Name: fyne.KeySpace})
	if want := "name C right"; f.calls[len(f.calls)-1] != want {
		t.Errorf("did %q, want %q", f.calls[len(f.calls)-1], want)
	}
}

func TestMessageWaitsForAnAnswer(t *testing.T) {
	f := newFake()
	w := open(t, f, sizes[0], 100, false)
	chosen := false
	f.message = &bench.Message{Title: "t", Hint: "h", Choices: []bench.Choice{{Label: "a", Do: func() { chosen = true }}, {Label: "b"}}}
	f.changed(bench.MessageChanged)
	if w.topSheet() == nil {
		t.Fatal("a message is not shown")
	}
	f.calls = nil
	w.typedRune('o')
	if len(f.calls) != 0 {
		t.Errorf("keys reach the bench behind a message: %q", f.calls)
	}
	w.focused().TypedKey(&fyne.KeyEvent{Name: fyne.KeyReturn})
	if w.topSheet() != nil || !slices.Contains(f.calls, "choose") {
		t.Error("Return does not take the first answer")
	}
	_ = chosen
	f.message = &bench.Message{Title: "again"}
	f.changed(bench.MessageChanged)
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
	if w.topSheet() != nil || !slices.Contains(f.calls, "dismiss") {
		t.Error("Escape does not close a message")
	}
}

func TestTabReachesEveryButton(t *testing.T) {
	f := newFake()
	w := open(t, f, sizes[0], 100, false)
	seen := map[string]bool{}
	for range 120 {
		w.win.Canvas().FocusNext()
		if n, ok := w.focused().(named); ok {
			seen[n.targetName()] = true
		}
	}
	for _, id := range []string{"back", "go:run", "go:bench", "go:pairing", "go:handout", "letters", "cautions", "keys", "ruler", "face:run", "run:across", "slab:1", "slab:kerf", "run:length", "run:agreement"} {
		if !seen[id] {
			t.Errorf("Tab never reaches %s", id)
		}
	}
}

func TestPickerCountsAsPeopleDo(t *testing.T) {
	dir := t.TempDir()
	for _, n := range []string{"img_10.jpg", "img_2.JPG", "notes.txt", "img_1.jpg", ".hidden.jpg"} {
		if err := os.WriteFile(filepath.Join(dir, n), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(filepath.Join(dir, "zz"), 0o700); err != nil {
		t.Fatal(err)
	}
	w := open(t, newFake(), sizes[0], 100, false)
	w.lastDir = dir
	var got []string
	w.pick(pick{title: "t", endings: photoEndings, done: func(p []string) { got = p }})
	press := func(id string) {
		t.Helper()
		for _, o := range w.topSheet().foot.Objects {
			if b, ok := o.(*button); ok && b.id == id {
				b.press()
				return
			}
		}
		t.Fatalf("no %s", id)
	}
	press("pick:ok")
	if got != nil {
		t.Fatal("nothing was marked, yet something was taken")
	}
	press("pick:all")
	press("pick:ok")
	var names []string
	for _, p := range got {
		names = append(names, filepath.Base(p))
	}
	if want := []string{"img_1.jpg", "img_2.JPG", "img_10.jpg"}; !slices.Equal(names, want) {
		t.Errorf("took %q, want %q", names, want)
	}
}

func TestSettingsOutliveTheWindow(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("SECTIONARY_TEXT", "")
	t.Setenv("SECTIONARY_LAMP", "")
	s := loadSettings(dir)
	if s.Text != 100 || s.Evening || s.Width != 1280 {
		t.Errorf("a first start has %+v", s)
	}
	s.Text, s.Evening = 150, true
	s.save()
	if again := loadSettings(dir); again.Text != 150 || !again.Evening {
		t.Errorf("read back %+v", again)
	}
	t.Setenv("SECTIONARY_TEXT", "200")
	if again := loadSettings(dir); again.Text != 200 {
		t.Errorf("the environment asks for 200, got %d", again.Text)
	}
	if err := os.WriteFile(filepath.Join(dir, "window.json"), []byte("{half"), 0o600); err != nil {
		t.Fatal(err)
	}
	t.Setenv("SECTIONARY_TEXT", "")
	if again := loadSettings(dir); again.Text != 100 || again.Width != 1280 {
		t.Errorf("a damaged file gives %+v", again)
	}
}

func TestTextSizeRebuildsTheWindow(t *testing.T) {
	f := newFake()
	w := open(t, f, sizes[0], 100, false)
	before := target()
	w.settings.Text = 200
	w.build()
	if target() <= before {
		t.Error("what can be pressed does not grow with the words")
	}
	if w.shown == nil || w.desk.Screen() != bench.RunScreen {
		t.Error("the place was lost")
	}
}

func TestDropReachesTheBench(t *testing.T) {
	f := newFake()
	w := open(t, f, sizes[0], 100, false)
	w.dropped(fyne.NewPos(1, 1), []fyne.URI{storage.NewFileURI("/photos/face 1.jpg"), storage.NewURI("https://example.org/x.jpg")})
	if want := "drop /photos/face 1.jpg"; f.calls[len(f.calls)-1] != want {
		t.Errorf("did %q, want %q: files only", f.calls, want)
	}
}

func TestBlankHidesEverything(t *testing.T) {
	f := newFake()
	w := open(t, f, sizes[0], 100, false)
	f.blanked = true
	f.changed(bench.ScreenChanged)
	top := w.win.Canvas().Overlays().Top()
	if top == nil || top.Size() != w.win.Canvas().Size() {
		t.Fatal("blanking does not cover the window")
	}
	for _, p := range texts(top) {
		if !strings.Contains(say("blank"), p.text) {
			t.Errorf("%q can still be read", p.text)
		}
	}
	w.typedKey(&fyne.KeyEvent{Name: fyne.KeyF9})
	if f.calls[len(f.calls)-1] != "key F9" {
		t.Errorf("F9 does not reach the bench: %q", f.calls)
	}
	f.blanked = false
	f.changed(bench.ScreenChanged)
	if w.win.Canvas().Overlays().Top() != nil {
		t.Error("the bench does not come back")
	}
}

func TestFolderWithoutALab(t *testing.T) {
	f := newFake()
	f.screen = bench.StartScreen
	f.openErr = fmt.Errorf("deep below: %w", atlas.ErrNotFound)
	w := open(t, f, sizes[0], 100, false)
	w.Open("/photos")
	if w.topSheet() == nil {
		t.Fatal("nothing is said about a folder without a lab")
	}
	for _, o := range w.topSheet().foot.Objects {
		if b := o.(*button); b.id == "ask:yes" {
			b.press()
		}
	}
	if w.topSheet() == nil || len(texts(w.topSheet().top)) < 10 {
		t.Error("a run cannot be begun there")
	}
	for _, call := range f.calls {
		if strings.HasPrefix(call, "report") {
			t.Errorf("an error for people who write programs is shown: %s", call)
		}
	}
}

// A refused agreement keeps its sheet, with what was typed and the reason.
func TestRefusedAgreementStays(t *testing.T) {
	f := newFake()
	w := open(t, f, sizes[0], 100, false)
	w.showAgreement() // the bench behind it has no lab, so nothing can be saved
	s := w.topSheet()
	s.foot.Objects[0].(*button).tapped()
	if w.topSheet() != s {
		t.Fatal("the sheet closed on a refusal")
	}
	want := bench.Explain(f.Bench.SetAgreement(f.Agreement())).Title
	found := false
	for _, p := range texts(s.top) {
		found = found || strings.HasPrefix(p.text, want)
	}
	if !found {
		t.Errorf("the sheet does not say %q", want)
	}
}

// The wheel over a field moves the column the field stands in.
func TestWheelOverAField(t *testing.T) {
	w := open(t, newFake(), sizes[0], 100, false)
	w.showAgreement()
	s := w.topSheet()
	s.w.win.Resize(fyne.NewSize(700, 400))
	s.top.Resize(fyne.NewSize(700, 400))
	s.relay()
	(&wheel{of: w.focused().(*field)}).Scrolled(&fyne.ScrollEvent{Scrolled: fyne.NewDelta(0, -30)})
	if s.roll.scroll.Offset.Y <= 0 {
		t.Error("the column stands still")
	}
}
