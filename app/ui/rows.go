package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
)

// syncRows keeps n rows in box, making new ones only when there are too few, so that the keyboard stays where
// it was.
func syncRows(box *fyne.Container, rows []*button, n int, row func(i int) *button) []*button {
	for len(rows) < n {
		b := row(len(rows))
		rows = append(rows, b)
		box.Objects = append(box.Objects, b)
	}
	for i, r := range rows {
		r.Hidden = i >= n
	}
	return rows
}

// removable is a row of a list: words, and a button that takes away what they tell of.
type removable struct {
	box  *fyne.Container
	text *words
	off  *button
}

// syncRemovable is syncRows for such rows; their buttons are named id. What a row says and takes away is set anew each time.
func (w *Window) syncRemovable(box *fyne.Container, rows []*removable, n int, id, tip string) []*removable {
	for len(rows) < n {
		r := &removable{text: newWords(body, ""), off: w.button(id, "remove", "", flat, nil).tipped(tip)}
		r.box = newRow(4, 0, container.New(&middle{}, r.text), r.off)
		rows = append(rows, r)
		box.Objects = append(box.Objects, r.box)
	}
	for i, r := range rows {
		r.box.Hidden = i >= n
	}
	return rows
}
