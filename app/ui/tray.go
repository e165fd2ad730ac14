package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
)

// tray holds the prints not yet laid on a face, in the order they were taken, always counted.
type tray struct {
	w      *Window
	box    *fyne.Container
	head   *words
	empty  *words
	prints *fyne.Container
	rows   []*print1
	two    *button
	off    *button
}

// print1 is one print of the tray: the picture and where it could go.
type print1 struct {
	box   *fyne.Container
	image *canvas.Image
	text  *words
	look  *words // what the picture check says
	place *button
	find  *button
	id    string
}

// mostPrints is how many prints of the tray are shown; the head counts them all.
const mostPrints = 12

func newTray(w *Window) *tray {
	t := &tray{w: w, head: newWords(title, ""), empty: newWords(body, "").colored(colorMuted), prints: newColumn(8)}
	d := w.desk
	t.two = w.button("tray:two", "run", say("tray.two"), edged, func() { w.report(d.LayTwoPerCut()) }).tipped(say("tray.two.tip"))
	t.off = w.button("tray:off", "photo", say("tray.off"), edged, func() { w.report(d.Unplace()) }).tipped(say("tray.off.tip"))
	add := w.button("tray:add", "plus", say("run.photos"), edged, w.addPhotos).tipped(say("run.photos.tip"))
	t.box = part("", t.empty, t.prints, newFlow(6, t.two, t.off, add))
	t.box.Objects[1] = t.head
	return t
}

func (t *tray) refresh() {
	d := t.w.desk
	list := d.Tray()
	readOnly := d.Lab().ReadOnly
	t.head.set(say("tray.head", len(list)))
	t.empty.set("")
	if len(list) == 0 {
		t.empty.set(say("tray.empty"))
	}
	f := d.Face()
	info := d.Info(f)
	t.two.Hidden = len(list) < 2
	t.two.setOff(readOnly)
	t.off.Hidden = f.Slab == 0 || !info.Photo
	t.off.setOff(readOnly)
	for len(t.rows) < min(len(list), mostPrints) {
		t.rows = append(t.rows, t.print())
	}
	for i, r := range t.rows {
		r.box.Hidden = i >= len(list)
		if r.box.Hidden {
			continue
		}
		p := list[i]
		r.id = p.ID
		r.text.set(p.Words)
		r.look.set(p.Advice)
		r.look.Hidden = p.Advice == ""
		if p.Preview != nil && r.image.Image != p.Preview {
			r.image.Image = p.Preview
			r.image.Refresh()
		}
		r.image.Hidden = p.Preview == nil
		r.place.state(say("tray.place", f.Slab, say("facing."+f.Facing.String())), false, readOnly || f.Slab == 0 || info.Photo)
		r.place.Hidden = f.Slab == 0
		r.find.setOff(readOnly)
	}
}

func (t *tray) print() *print1 {
	r := &print1{image: canvas.NewImageFromImage(nil), text: newWords(caption, ""), look: newWords(caption, "").colored(theme.ColorNameWarning)}
	r.image.FillMode, r.image.ScaleMode = canvas.ImageFillContain, canvas.ImageScaleFastest
	r.place = t.w.button("tray:place", "", "", edged, func() { t.w.report(t.w.desk.Place(r.id, t.w.desk.Face())) })
	r.find = t.w.button("tray:find", "run", say("tray.find"), edged, func() { t.w.desk.FindPlace(r.id) }).tipped(say("tray.find.tip"))
	r.image.SetMinSize(fyne.NewSize(84, 63))
	r.box = paper(8, 8, newRow(10, 1, r.image, newColumn(6, r.text, r.look, newFlow(6, r.place, r.find))))
	t.prints.Objects = append(t.prints.Objects, r.box)
	return r
}
