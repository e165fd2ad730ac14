package ui

import (
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/annotate"
	"sectionary/app/bench"
)

// labelList is the list of outlines on the face: kind by letter and hatch, name, side and how sure.
type labelList struct {
	w       *Window
	box     *fyne.Container
	head    *words
	empty   *words
	list    *fyne.Container
	rows    []*labelRow
	confirm *button
	carry   *button
	remove  *button
}

type labelRow struct {
	box    *fyne.Container
	swatch *swatch
	pick   *button
	note   *words
	warn   *words
	id     string
}

func newLabelList(w *Window) *labelList {
	l := &labelList{w: w, head: newWords(title, ""), empty: newWords(body, "").colored(colorMuted), list: newColumn(4)}
	d := w.desk
	l.confirm = w.button("label:confirm", "check", say("label.confirm"), edged, d.ConfirmChosen).tipped(say("label.confirm.tip"))
	l.remove = w.button("label:remove", "remove", say("label.remove"), edged, d.RemoveChosen).tipped(say("label.remove.tip"))
	l.carry = w.button("label:carry", "across", say("label.carry"), edged, func() { d.Do("carry") }).tipped(say("label.carry.tip"))
	files := l.w.button("label:exchange", "", say("exchange.open"), edged, l.w.showExchange).tipped(say("exchange.open.tip"))
	l.box = part("", l.empty, newFlow(6, files), l.list, newFlow(6, l.confirm, l.remove, l.carry))
	l.box.Objects[1] = l.head
	return l
}

func (l *labelList) refresh() {
	labels := l.w.desk.Labels()
	l.head.set(say("label.head", len(labels)))
	l.empty.set("")
	if len(labels) == 0 {
		l.empty.set(say("label.none"))
	}
	for len(l.rows) < len(labels) {
		r := &labelRow{swatch: newSwatch(), note: newWords(caption, ""), warn: newWords(caption, "").colored(theme.ColorNameWarning)}
		r.pick = l.w.button("label", "", "", lined, func() { l.w.desk.ChooseLabel(r.id) })
		r.box = newColumn(0, newRow(4, 1, r.swatch, r.pick), newInset(14, 0, newColumn(2, r.note, r.warn)))
		l.rows = append(l.rows, r)
		l.list.Objects = append(l.list.Objects, r.box)
	}
	room := panelWidth() - 28 - 8 - grown(52) - 4 - 24 // the panel less margins, scroll bar, swatch and the button's own
	var chosen *bench.LabelRow
	for i, r := range l.rows {
		r.box.Hidden = i >= len(labels)
		if r.box.Hidden {
			continue
		}
		x := labels[i]
		if x.Chosen {
			chosen = &labels[i]
		}
		name := x.Name
		if name == "" {
			name = say("name.unnamed")
		}
		r.id = x.ID
		r.swatch.set(x.Letter)
		r.pick.tip = x.Latin
		note := labelNote(x)
		if long := withSide(name, x.Side); fitted(long, room) == long {
			name = long
		} else if long != name {
			note = say("side."+x.Side.String()) + "  ·  " + note // the side is never what is cut off
		}
		r.pick.state(fitted(name, room), x.Chosen, false)
		r.note.set(note)
		r.warn.set(x.Warning)
	}
	l.confirm.Hidden = chosen == nil || !chosen.Carried
	l.remove.Hidden = chosen == nil
}

// labelNote is the second line of a label: how sure, how large, what it still needs.
func labelNote(x bench.LabelRow) string {
	var notes []string
	add := func(s string) {
		if s != "" {
			notes = append(notes, s)
		}
	}
	if x.Sure != annotate.Unsaid {
		add(say("sure." + x.Sure.String()))
	}
	add(x.Area)
	if x.Carried {
		add(say("label.carried"))
	}
	if x.Signed {
		add(say("label.signed"))
	}
	if x.Missing != "" {
		add(say("label.missing", x.Missing))
	}
	return strings.Join(notes, "  ·  ")
}
