package ui

import (
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
)

// rackForm is the slip on which a line of the ledger is written. The bench says what it asks; this shows it.
type rackForm struct {
	w       *Window
	box     *fyne.Container
	of      *bench.RackForm // what it was laid out for
	title   *words
	words   *words
	problem *words
	fields  *fyne.Container
	cards   *fyne.Container
	ok, no  *button
	texts   map[string]*field
	choices map[string]*options
}

func newRackForm(w *Window) *rackForm {
	f := &rackForm{w: w, title: newWords(title, ""), words: newWords(body, "").colored(colorMuted), fields: newColumn(12), cards: newColumn(10)}
	f.problem = newWords(strong, "").colored(theme.ColorNameWarning)
	f.ok = w.button("form:ok", "check", "", primary, w.desk.SubmitRackForm)
	f.no = w.button("form:no", "", say("cancel"), edged, w.desk.LeaveRackForm)
	f.box = newColumn(14, f.title, f.words, f.fields, f.problem, newFlow(6, f.ok, f.no), f.cards)
	f.box.Hidden = true
	return f
}

// show lays the form out, or puts it away; what a person is typing stays.
func (f *rackForm) show(form *bench.RackForm) {
	f.box.Hidden = form == nil
	if form == nil {
		if f.of != nil {
			f.of = nil
			f.w.keyboardToPicture()
		}
		return
	}
	f.problem.set(form.Problem)
	f.problem.Hidden = form.Problem == ""
	if form != f.of {
		f.of = form
		f.lay(form)
		return
	}
	for _, x := range form.Fields {
		if t := f.texts[x.ID]; t != nil && t.Text != x.Value {
			t.SetText(x.Value)
		}
		if o := f.choices[x.ID]; o != nil {
			o.show(optionOf(x))
		}
	}
}

func optionOf(x bench.RackField) int {
	for i, o := range x.Options {
		if o == x.Value {
			return i
		}
	}
	return -1
}

func (f *rackForm) lay(form *bench.RackForm) {
	f.title.set(form.Title)
	f.words.set(form.Words)
	f.ok.state(form.OK, false, false)
	f.fields.Objects, f.cards.Objects = nil, nil
	f.texts, f.choices = map[string]*field{}, map[string]*options{}
	var order []*field
	for _, x := range form.Fields {
		col := newColumn(4, newWords(caption, x.Caption))
		if x.Free {
			t := f.text(x)
			order = append(order, t)
			if x.Folder {
				col.Add(newRow(6, 0, t, f.w.button("form:choose", "folder", "", edged, func() {
					f.w.pick(pick{title: x.Caption, folders: true, done: func(p []string) { f.w.desk.SetRackField(x.ID, p[0]); t.SetText(p[0]) }})
				}).tipped(x.Caption)))
			} else {
				col.Add(t)
			}
		}
		if len(x.Options) > 0 {
			o := f.w.options("form:"+x.ID, x.Options, optionOf(x), func(i int) { f.w.desk.SetRackField(x.ID, x.Options[i]) })
			f.choices[x.ID] = o
			col.Add(o.box)
		}
		if n := len(f.fields.Objects); x.Beside && n > 0 {
			f.fields.Objects[n-1] = beside(f.fields.Objects[n-1], col, strings.HasSuffix(x.ID, "mass"))
		} else {
			f.fields.Add(col)
		}
	}
	for _, c := range form.Cards {
		f.cards.Add(f.w.card(c))
	}
	f.follow(order, form)
}

// beside puts a field to the right of another; a mass is short, and leaves the room to the name before it.
func beside(left, right fyne.CanvasObject, mass bool) fyne.CanvasObject {
	if mass {
		return container.New(&row{gap: 10, stretch: 0, least: grown(96)}, left, right)
	}
	return newShelf(grown(140), 10, left, right)
}

func (f *rackForm) text(x bench.RackField) *field {
	t := f.w.field("form:"+x.ID, x.Value)
	t.OnChanged = func(s string) { f.w.desk.SetRackField(x.ID, s) }
	f.texts[x.ID] = t
	return t
}

// follow lets Return go from field to field, and from the last to the end of the form; Escape puts the form away.
func (f *rackForm) follow(order []*field, form *bench.RackForm) {
	for i, t := range order {
		t.onKey = func(e *fyne.KeyEvent) bool {
			if e.Name == fyne.KeyEscape {
				f.w.desk.LeaveRackForm()
				return true
			}
			return false
		}
		many := false
		for _, x := range form.Fields {
			many = many || x.Many && f.texts[x.ID] == t
		}
		t.onEnter = func() {
			switch {
			case many:
				t.SetText(t.Text + " ")
				t.CursorColumn = len([]rune(t.Text))
			case i+1 < len(order):
				f.write(order[i+1])
			default:
				f.w.focusOn(f.ok)
			}
		}
	}
	if len(order) > 0 {
		f.write(order[0])
	} else {
		f.w.focusOn(f.ok)
	}
}

// write gives the keyboard to a field with what stands in it chosen, so that typing replaces it.
func (f *rackForm) write(t *field) {
	f.w.focusOn(t)
	t.TypedShortcut(&fyne.ShortcutSelectAll{})
}
