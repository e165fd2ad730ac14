package ui

import (
	"fyne.io/fyne/v2"

	"sectionary/app/bench"
)

// start is the empty bench: three slips of paper, the labs opened before, and one quiet line.
type start struct {
	w      *Window
	roll   *roll
	recent *fyne.Container
	rows   []*button
	title  *words
	layout *fyne.Container
	role   *options
}

func newStart(w *Window) *start {
	s := &start{w: w}
	slip := func(id, icon string, m manner, tapped func()) fyne.CanvasObject {
		b := w.button("start:"+id, icon, say("start."+id+".do"), m, tapped)
		words := newColumn(10, newWords(title, say("start."+id)), newWords(body, say("start."+id+".words")).colored(colorMuted))
		return paper(20, 18, &fyne.Container{Layout: &footed{14}, Objects: []fyne.CanvasObject{words, newFlow(8, b)}})
	}
	slips := newShelf(grown(225), 20,
		slip("begin", "begin", edged, w.showBegin),
		slip("open", "folder", edged, w.openLab),
		slip("practice", "practice", edged, w.desk.MakePractice),
		slip("pack", "people", edged, w.openPack))
	roles := []bench.Role{bench.Instructor, bench.Technician}
	s.role = w.options("role", []string{say("role.instructor"), say("role.technician")}, 0, func(i int) { w.desk.SetRole(roles[i]) })
	s.recent = newColumn(0)
	s.title = newWords(strong, say("start.recent"))
	col := newColumn(28,
		newColumn(6, newWords(heading, say("start.title")), newWords(body, say("start.lead")).colored(colorMuted)),
		slips,
		newColumn(6, newWords(strong, say("start.role")), s.role.box, newWords(caption, say("start.role.words"))),
		newColumn(6, s.title, s.recent),
		newWords(body, say("ethics")).colored(colorMuted))
	s.layout = newColumn(0, newMargin(1040, 36, col))
	s.roll = w.roll(0, s.layout)
	s.refresh(bench.Everything)
	return s
}

func (s *start) object() fyne.CanvasObject { return s.roll.Container }
func (s *start) picture() *pane            { return nil }

func (s *start) refresh(c bench.Change) {
	s.role.show(int(s.w.desk.Role()))
	recent := s.w.desk.Recent()
	if len(recent) > 6 {
		recent = recent[:6]
	}
	s.rows = syncRows(s.recent, s.rows, len(recent), func(i int) *button {
		return s.w.button("", "folder", "", lined, nil)
	})
	for i, dir := range recent {
		s.rows[i].id = "recent"
		s.rows[i].tapped = func() { s.w.Open(dir) }
		s.rows[i].state(shortPath(dir, 60), false, false)
		s.rows[i].tip = dir
	}
	s.title.Hidden = len(recent) == 0
	s.roll.relay()
}

// footed lays its second object at the foot of the room, the first above it.
type footed struct{ gap float32 }

func (l *footed) heightFor(o []fyne.CanvasObject, width float32) float32 {
	return heightFor(o[0], width) + l.gap + heightFor(o[1], width)
}

func (l *footed) MinSize(o []fyne.CanvasObject) fyne.Size {
	w := widest(o)
	return fyne.NewSize(w, l.heightFor(o, w))
}

func (l *footed) Layout(o []fyne.CanvasObject, size fyne.Size) {
	foot := heightFor(o[1], size.Width)
	o[0].Move(fyne.NewPos(0, 0))
	o[0].Resize(fyne.NewSize(size.Width, heightFor(o[0], size.Width)))
	o[1].Move(fyne.NewPos(0, size.Height-foot))
	o[1].Resize(fyne.NewSize(size.Width, foot))
}

// shortPath keeps the end of a long path: the lab's own folder is what one knows it by.
func shortPath(p string, most int) string {
	r := []rune(p)
	if len(r) <= most {
		return p
	}
	return "…" + string(r[len(r)-most+1:])
}

// shelf lays things of equal width side by side, as many as fit, all of a row as tall as the tallest.
type shelf struct{ least, gap float32 }

func newShelf(least, gap float32, objects ...fyne.CanvasObject) *fyne.Container {
	return &fyne.Container{Layout: &shelf{least, gap}, Objects: objects}
}

func (l *shelf) run(objects []fyne.CanvasObject, width float32, put func(o fyne.CanvasObject, x, y, w, h float32)) float32 {
	objects = shown(objects)
	if len(objects) == 0 {
		return 0
	}
	n := min(len(objects), max(1, int((width+l.gap)/(l.least+l.gap))))
	w := (width - l.gap*float32(n-1)) / float32(n)
	var y float32
	for i := 0; i < len(objects); i += n {
		line := objects[i:min(i+n, len(objects))]
		var h float32
		for _, o := range line {
			h = max(h, heightFor(o, w))
		}
		for j, o := range line {
			if put != nil {
				put(o, float32(j)*(w+l.gap), y, w, h)
			}
		}
		y += h + l.gap
	}
	return y - l.gap
}

func (l *shelf) heightFor(o []fyne.CanvasObject, width float32) float32 { return l.run(o, width, nil) }

func (l *shelf) MinSize(o []fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(l.least, l.run(o, l.least, nil))
}

func (l *shelf) Layout(o []fyne.CanvasObject, size fyne.Size) {
	l.run(o, size.Width, func(o fyne.CanvasObject, x, y, w, h float32) {
		o.Move(fyne.NewPos(x, y))
		o.Resize(fyne.NewSize(w, h))
	})
}

// margin keeps its object in the middle, no wider than most, with room above and below.
type margin struct{ most, room float32 }

func newMargin(most, room float32, o fyne.CanvasObject) *fyne.Container {
	return &fyne.Container{Layout: &margin{most, room}, Objects: []fyne.CanvasObject{o}}
}

func (l *margin) width(width float32) float32 { return min(grown(l.most), width-2*28) }

func (l *margin) heightFor(o []fyne.CanvasObject, width float32) float32 {
	return heightFor(o[0], l.width(width)) + 2*l.room
}

func (l *margin) MinSize(o []fyne.CanvasObject) fyne.Size {
	return o[0].MinSize().AddWidthHeight(56, 2*l.room)
}

func (l *margin) Layout(o []fyne.CanvasObject, size fyne.Size) {
	w := l.width(size.Width)
	o[0].Move(fyne.NewPos((size.Width-w)/2, l.room))
	o[0].Resize(fyne.NewSize(w, size.Height-2*l.room))
}
