package ui

import (
	"strings"
	"unicode"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"

	"sectionary/app/bench"
)

// The keyboard reaches the bench by one road: named keys by TypedKey, characters by TypedRune (so that the
// person's own keyboard layout counts), and the three keys that are held by KeyDown and KeyUp. A text field
// with the keyboard keeps all of them to itself.

// benchKeys are the names the bench uses where Fyne has others.
var benchKeys = map[fyne.KeyName]string{
	fyne.KeyUp: "Up", fyne.KeyDown: "Down", fyne.KeyLeft: "Left", fyne.KeyRight: "Right",
	fyne.KeyPageUp: "Page Up", fyne.KeyPageDown: "Page Down", fyne.KeyHome: "Home", fyne.KeyEnd: "End",
	fyne.KeyEscape: "Escape", fyne.KeyReturn: "Return", fyne.KeyEnter: "Return",
	fyne.KeyDelete: "Delete", fyne.KeyBackspace: "Backspace", fyne.KeyF9: "F9", fyne.KeyF1: "F1",
}

var heldKeys = map[fyne.KeyName]string{fyne.KeyW: "W", fyne.KeyB: "B", fyne.KeySpace: "Space", fyne.KeyA: "A", fyne.KeyD: "D"}

func (w *Window) typedKey(e *fyne.KeyEvent) {
	name, ok := benchKeys[e.Name]
	if !ok {
		return
	}
	w.tips.hide()
	if w.blank != nil {
		w.desk.Key(name, heldMods())
		return
	}
	if w.topSheet() != nil {
		if name == "F9" {
			w.desk.Blank()
		} else if name == "Escape" {
			w.topSheet().escape()
		}
		return
	}
	if name == "F1" {
		w.showKeys()
		return
	}
	if name == "Return" && w.desk.Screen() == bench.RunScreen {
		w.desk.Show(bench.FaceScreen)
		return
	}
	w.desk.Key(name, heldMods())
	w.pointers()
}

func (w *Window) typedRune(r rune) {
	if w.topSheet() != nil {
		return
	}
	if s, ok := w.shown.(*rackScreen); ok && !w.desk.Blanked() {
		s.typed(r)
		return
	}
	switch unicode.ToUpper(r) {
	case 'W', 'B', 'A', 'D', ' ':
		return // held keys come by keyDown
	case 'C':
		if w.askSigner() {
			return
		}
	case 'L':
		if w.askReader() {
			return
		}
	}
	w.desk.Key(strings.ToUpper(string(r)), heldMods())
	w.pointers()
}

func (w *Window) keyDown(e *fyne.KeyEvent) {
	if name, ok := heldKeys[e.Name]; ok && w.topSheet() == nil && w.desk.Screen() != bench.RackScreen {
		w.desk.Key(name, heldMods())
	}
}

func (w *Window) keyUp(e *fyne.KeyEvent) {
	if name, ok := heldKeys[e.Name]; ok {
		w.desk.KeyUp(name)
	}
}

// listenToKeys takes the keys that no widget has, and the control keys of every command.
func (w *Window) listenToKeys() {
	c := w.win.Canvas()
	c.SetOnTypedKey(w.typedKey)
	c.SetOnTypedRune(w.typedRune)
	if d, ok := c.(desktop.Canvas); ok {
		d.SetOnKeyDown(w.keyDown)
		d.SetOnKeyUp(w.keyUp)
	}
	control := func(name fyne.KeyName, m fyne.KeyModifier) func(fyne.Shortcut) {
		return func(fyne.Shortcut) {
			if w.topSheet() == nil {
				w.desk.Key(string(name), mods(m))
			}
		}
	}
	c.AddShortcut(&fyne.ShortcutUndo{}, control(fyne.KeyZ, fyne.KeyModifierControl))
	c.AddShortcut(&fyne.ShortcutRedo{}, control(fyne.KeyY, fyne.KeyModifierControl))
	for name := range benchKeys {
		switch name {
		case fyne.KeyUp, fyne.KeyDown, fyne.KeyLeft, fyne.KeyRight: // with Ctrl they move the chosen outline
			for _, m := range [2]fyne.KeyModifier{fyne.KeyModifierControl, fyne.KeyModifierControl | fyne.KeyModifierShift} {
				c.AddShortcut(&desktop.CustomShortcut{KeyName: name, Modifier: m}, control(fyne.KeyName(benchKeys[name]), m))
			}
		}
	}
	again := &desktop.CustomShortcut{KeyName: fyne.KeyZ, Modifier: fyne.KeyModifierControl | fyne.KeyModifierShift}
	c.AddShortcut(again, control(fyne.KeyY, fyne.KeyModifierControl))
}

// focused is what has the keyboard.
func (w *Window) focused() fyne.Focusable { return w.win.Canvas().Focused() }

func (w *Window) focusOn(o fyne.Focusable) {
	if w.focused() != o {
		w.win.Canvas().Focus(o)
	}
}

// keyboardToPicture gives the keyboard to the picture of the screen shown, so that single keys work again.
func (w *Window) keyboardToPicture() {
	if w.topSheet() != nil {
		w.win.Canvas().Unfocus()
		return
	}
	if s := w.shown; s != nil {
		if p := s.picture(); p != nil {
			w.focusOn(p)
			return
		}
	}
	w.win.Canvas().Unfocus()
}
