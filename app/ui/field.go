package ui

import (
	"strconv"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/widget"
)

// field is a text field under its caption. Escape steps out of it; what is typed in it reaches nothing else.
type field struct {
	widget.Entry
	w       *Window
	id      string
	onKey   func(*fyne.KeyEvent) bool // asked first; true when it used the key
	onEnter func()
	onLeave func() // the keyboard went elsewhere
}

func (w *Window) field(id, text string) *field {
	f := &field{w: w, id: id}
	f.Text = text
	f.Wrapping = fyne.TextWrapOff
	f.Scroll = fyne.ScrollHorizontalOnly
	f.ExtendBaseWidget(f)
	f.OnSubmitted = func(string) {
		if f.onEnter != nil {
			f.onEnter()
		}
	}
	return f
}

func (f *field) TypedKey(e *fyne.KeyEvent) {
	switch {
	case f.onKey != nil && f.onKey(e):
	case e.Name == fyne.KeyEscape:
		f.w.keyboardToPicture()
	case e.Name == fyne.KeyF9:
		f.w.typedKey(e)
	default:
		f.Entry.TypedKey(e)
	}
}

func (f *field) FocusGained() { f.Entry.FocusGained(); f.w.reveal(f); f.w.noteStatus() }

func (f *field) FocusLost() {
	f.Entry.FocusLost()
	if f.onLeave != nil {
		f.onLeave()
	}
}

func (f *field) MinSize() fyne.Size {
	m := f.Entry.MinSize()
	return fyne.NewSize(grown(60), max(m.Height, target()))
}

func (f *field) targetName() string { return f.id }

// tall makes a field of several lines that wraps its words; Return leaves it, as in any other field.
func (f *field) tall(rows int) *field {
	f.MultiLine, f.Wrapping, f.Scroll = true, fyne.TextWrapWord, fyne.ScrollVerticalOnly
	f.SetMinRowsVisible(rows)
	f.onKey = func(e *fyne.KeyEvent) bool {
		if e.Name == fyne.KeyReturn || e.Name == fyne.KeyEnter {
			f.w.keyboardToPicture()
			return true
		}
		return false
	}
	return f
}

// AcceptsTab is no: Tab goes on to the next field, also from one of several lines.
func (f *field) AcceptsTab() bool { return false }

// typing reports whether a person is writing in the field.
func (f *field) typing() bool { return f.w.focused() == fyne.Focusable(f) }

// show writes text unless a person is typing there.
func (f *field) show(text string) {
	if f.Text != text && !f.typing() {
		f.SetText(text)
	}
}

// captioned puts lesser words above an object.
func captioned(words string, o fyne.CanvasObject) *fyne.Container {
	return newColumn(2, newWords(caption, words), o)
}

// mm writes a length as people do: no more decimals than it has, nothing for 0.
func mm(v float64) string {
	if v == 0 {
		return ""
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// number reads a length; a comma may stand for the point. Empty is 0.
func number(s string) (v float64, ok bool) {
	s = strings.TrimSpace(strings.ReplaceAll(s, ",", "."))
	if s == "" {
		return 0, true
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

// options is one choice of several, laid out like words on a line.
type options struct {
	box     *fyne.Container
	buttons []*button
	chosen  int
	changed func(int)
}

func (w *Window) options(id string, labels []string, chosen int, changed func(int)) *options {
	o := &options{chosen: chosen, changed: changed}
	o.box = newFlow(4)
	for i, l := range labels {
		b := w.button(id+":"+strconv.Itoa(i), "", l, choice, func() { o.choose(i) })
		b.on = i == chosen
		o.buttons = append(o.buttons, b)
		o.box.Add(b)
	}
	return o
}

func (o *options) choose(i int) {
	o.show(i)
	if o.changed != nil {
		o.changed(i)
	}
}

// show marks option i without telling anyone.
func (o *options) show(i int) {
	o.chosen = i
	for j, b := range o.buttons {
		b.setOn(j == i)
	}
}
