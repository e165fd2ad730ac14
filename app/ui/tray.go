package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"

	"sectionary/app/bench"
)

// tray counts the photographs not yet laid on a face, shows the first prints, and opens the receiving table.
type tray struct {
	w      *Window
	box    *fyne.Container
	head   *words
	empty  *words
	prints *fyne.Container
	shown  []*canvas.Image
	place  *button
	find   *button
	off    *button
	first  string // the plate of the first print
}

// firstPrints is how many prints are shown beside the ruler.
const firstPrints = 3

func newTray(w *Window) *tray {
	t := &tray{w: w, head: newWords(title, ""), empty: newWords(body, "").colored(colorMuted), prints: newFlow(6)}
	d := w.desk
	open := w.button("tray:open", "photo", say("tray.open"), edged, func() { d.Show(bench.ReceivingScreen) }).tipped(say("tray.open.tip"))
	t.place = w.button("tray:place", "", "", edged, func() { w.report(d.Place(t.first, d.Face())) }).tipped(say("tray.place.tip"))
	t.find = w.button("tray:find", "run", say("tray.find"), edged, func() { d.FindPlace(t.first) }).tipped(say("tray.find.tip"))
	t.off = w.button("tray:off", "photo", say("tray.off"), edged, func() { w.report(d.Unplace()) }).tipped(say("tray.off.tip"))
	add := w.button("tray:add", "plus", say("run.photos"), edged, w.addPhotos).tipped(say("run.photos.tip"))
	for range firstPrints {
		m := canvas.NewImageFromImage(nil)
		m.FillMode, m.ScaleMode = canvas.ImageFillContain, canvas.ImageScaleFastest
		m.SetMinSize(fyne.NewSize(84, 63))
		t.shown = append(t.shown, m)
		t.prints.Add(m)
	}
	t.box = part("", t.empty, t.prints, newFlow(6, open, add, t.place, t.find, t.off))
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
	t.off.Hidden = f.Slab == 0 || !info.Photo
	t.off.setOff(readOnly)
	t.first = ""
	if len(list) > 0 {
		t.first = list[0].ID
	}
	t.place.Hidden = t.first == "" || f.Slab == 0 || info.Photo
	t.place.state(say("tray.place", f.Slab, d.Run().FaceWords(f.Facing)), false, readOnly)
	t.find.Hidden = t.first == ""
	t.find.setOff(readOnly)
	t.prints.Hidden = len(list) == 0
	for i, m := range t.shown {
		m.Hidden = i >= len(list) || list[i].Preview == nil
		if !m.Hidden && m.Image != list[i].Preview {
			m.Image = list[i].Preview
			m.Refresh()
		}
	}
}

// mostPrints is how many prints of the tray are offered as the picture asked for.
const mostPrints = 12

// askPicture asks for one picture: a print of the tray, where there are any, or a file. Its buttons are named after id.
func (w *Window) askPicture(id, heading, lead string, file, print func(string)) {
	files := func() {
		w.pick(pick{title: heading, endings: photoEndings, done: func(p []string) { file(p[0]) }})
	}
	tray := w.desk.Tray()
	if len(tray) == 0 {
		files()
		return
	}
	var s *sheet
	rows := newColumn(8)
	for _, t := range tray[:min(len(tray), mostPrints)] {
		b := w.button(id+":print", "photo", fitted(t.Words, grown(420)), edged, func() { s.close(); print(t.ID) })
		rows.Add(newFlow(6, b))
	}
	from := w.button(id+":file", "plus", say("anew.file"), edged, func() { s.close(); files() })
	stay := w.button(id+":stay", "", say("cancel"), edged, func() { s.close() })
	s = w.sheet(560, newColumn(12, newWords(title, heading), newWords(body, lead), rows), from, stay)
	s.open(from)
}
