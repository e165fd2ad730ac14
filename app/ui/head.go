package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"

	"sectionary/app/bench"
)

// head is the strip at the top: the step back, where one is in words, the places one can go to, undo and redo,
// and what concerns the whole window.
type head struct {
	w          *Window
	object     *fyne.Container
	back       *button
	where      *words
	places     map[bench.Screen]*button
	undo, redo *button
}

// needsFace are the places where there is nothing to see without a chosen face.
var needsFace = map[bench.Screen]bool{bench.FaceScreen: true, bench.PairingScreen: true, bench.BookScreen: true}

// withParent are the places that stand in the head only while one is there or at the place they belong to, so that the rest fits on a line.
var withParent = map[bench.Screen]bench.Screen{bench.BookScreen: bench.PairingScreen, bench.LedgerScreen: bench.RackScreen,
	bench.PackScreen: bench.HandOutScreen}

// inHead reports whether a place stands in the head while one is at now.
func inHead(s, now bench.Screen) bool {
	parent, has := withParent[s]
	return !has || now == s || now == parent
}

// headLayout lays out where one is, the places and the tools of the window: on one line where they fit, else the places below
// the other two.
type headLayout struct{ gap float32 }

// line is how wide the shown objects of a flow are side by side.
func line(o fyne.CanvasObject) float32 {
	c := o.(*fyne.Container)
	var w float32
	for i, k := range shown(c.Objects) {
		if i > 0 {
			w += c.Layout.(*flow).gap
		}
		w += k.MinSize().Width
	}
	return w
}

// widths are those of where one is, of the places and of the tools.
func (l *headLayout) widths(o []fyne.CanvasObject, width float32) (lead, places, tools float32, oneLine bool) {
	places, tools = line(o[1]), line(o[2])
	if lead = width - places - tools - 2*l.gap; lead >= grown(300)-l.gap {
		return lead, places, tools, true
	}
	return width - tools - l.gap, width, tools, false
}

func (l *headLayout) heightFor(o []fyne.CanvasObject, width float32) float32 {
	lead, places, _, oneLine := l.widths(o, width)
	if h := max(target(), heightFor(o[0], lead)); oneLine {
		return h
	} else {
		return h + 4 + heightFor(o[1], places)
	}
}

func (l *headLayout) MinSize([]fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(200, target())
}

func (l *headLayout) Layout(o []fyne.CanvasObject, size fyne.Size) {
	lead, places, tools, oneLine := l.widths(o, size.Width)
	top := size.Height
	if !oneLine {
		top = max(target(), heightFor(o[0], lead))
	}
	put := func(o fyne.CanvasObject, x, y, w, h float32) {
		o.Move(fyne.NewPos(x, y))
		o.Resize(fyne.NewSize(w, h))
	}
	put(o[0], 0, 0, lead, top)
	put(o[2], size.Width-tools, (top-target())/2, tools, target())
	if oneLine {
		put(o[1], lead+l.gap, (top-target())/2, places, target())
	} else {
		put(o[1], 0, top+4, places, size.Height-top-4)
	}
}

func newHead(w *Window) *head {
	h := &head{w: w, places: map[bench.Screen]*button{}}
	h.back = w.button("back", "back", "", flat, w.desk.Back).tipped(say("head.back.tip"))
	h.where = newWords(strong, "")
	places, tools := newFlow(4), newFlow(4)
	place := func(s bench.Screen, id, icon string) {
		b := w.button("go:"+id, icon, say("head."+id), flat, func() { w.desk.Show(s) }).tipped(say("head." + id + ".tip"))
		h.places[s] = b
		places.Add(b)
	}
	place(bench.RunScreen, "run", "run")
	place(bench.FaceScreen, "bench", "face")
	place(bench.PairingScreen, "pairing", "pairing")
	place(bench.BookScreen, "book", "across")
	place(bench.HandOutScreen, "handout", "handout")
	place(bench.RackScreen, "rack", "rack")
	place(bench.LedgerScreen, "ledger", "ledger")
	place(bench.StationsScreen, "stations", "name")
	place(bench.PackScreen, "pack", "people")
	place(bench.StudyScreen, "study", "face")
	place(bench.DrillScreen, "drill", "check")
	h.undo = w.button("undo", "undo", "", flat, w.desk.Undo)
	h.redo = w.button("redo", "redo", "", flat, w.desk.Redo)
	tools.Add(h.undo)
	tools.Add(h.redo)
	tools.Add(w.button("letters", "letters", "", flat, w.showLetters).tipped(say("head.letters.tip")))
	tools.Add(w.button("cautions", "caution", "", flat, w.showCautions).tipped(say("head.cautions.tip")))
	tools.Add(w.button("keys", "keys", "", flat, w.showKeys).tipped(say("head.keys.tip")))
	lead := newRow(8, 1, h.back, container.New(&middle{}, h.where))
	h.object = bar(10, 6, container.New(&headLayout{gap: 12}, lead, places, tools))
	return h
}

func (h *head) refresh() {
	d := h.w.desk
	now, lab := d.Screen(), d.Lab()
	h.back.setOff(now == bench.StartScreen && !lab.Open)
	if now == bench.StudyScreen {
		h.back.setOff(true) // a pack is closed on purpose
	}
	h.where.set(h.place())
	for s, b := range h.places {
		b.Hidden = !d.Offers(s) || !inHead(s, now)
		b.state(b.label, s == now || s == bench.RunScreen && now == bench.ReceivingScreen, needsFace[s] && d.Face().Slab == 0)
	}
	undo, redo := d.UndoName(), d.RedoName()
	steps := lab.Open && (now == bench.RunScreen || now == bench.ReceivingScreen || now == bench.FaceScreen || now == bench.PairingScreen || now == bench.AgainScreen)
	h.undo.Hidden, h.redo.Hidden = !steps, !steps
	h.undo.setOff(undo == "")
	h.redo.setOff(redo == "")
	h.undo.tip, h.redo.tip = say("head.undo.tip", undo), say("head.redo.tip", redo)
	relaid(h.object)
	relayDeep(h.object)
}

// place says where one is: the lab, the run, the face and from where it is seen.
func (h *head) place() string {
	d := h.w.desk
	lab := d.Lab()
	if words := d.Study().Lead; words != "" {
		return words
	}
	if !lab.Open || d.Screen() == bench.StartScreen {
		return Title
	}
	r := d.Run()
	if r.ID == "" {
		return lab.Name
	}
	place := r.Donor + " / " + r.PartWords() + " / " + r.Plane.String()
	if f := d.Face(); f.Slab != 0 {
		place += "  ·  " + r.Name(f) + ", " + r.SeenFrom(f.Facing)
	}
	return place
}

// middle puts its object half way down, as tall as its words need.
type middle struct{}

func (middle) heightFor(o []fyne.CanvasObject, width float32) float32 {
	return max(target(), heightFor(o[0], width))
}
func (middle) MinSize(o []fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(o[0].MinSize().Width, target())
}
func (middle) Layout(o []fyne.CanvasObject, size fyne.Size) {
	h := min(size.Height, heightFor(o[0], size.Width))
	o[0].Move(fyne.NewPos(0, (size.Height-h)/2))
	o[0].Resize(fyne.NewSize(size.Width, h))
}

// foot is the strip at the bottom: work under way, whether all is on disk, and what kind of lab this is.
type foot struct {
	w      *Window
	object *fyne.Container
	saved  *words
	lab    *words
	jobs   *fyne.Container
	rows   []*jobRow
}

type jobRow struct {
	box    *fyne.Container
	name   *words
	bar    *progress
	cancel *button
	id     int
}

func newFoot(w *Window) *foot {
	f := &foot{w: w, saved: newWords(caption, ""), lab: newWords(caption, "")}
	f.lab.align = fyne.TextAlignTrailing
	f.jobs = newColumn(4)
	line := newRow(16, 1, f.saved, f.lab)
	f.saved.whole = true
	f.object = bar(12, 5, newColumn(4, f.jobs, line))
	return f
}

func (f *foot) refresh() {
	d := f.w.desk
	s := d.Saved()
	color := colorMuted
	if s.Failed {
		color = "warning"
	}
	f.saved.setColored(s.Words, color)
	f.lab.set(f.labWords())
	jobs := d.Jobs()
	for len(f.rows) < len(jobs) {
		r := &jobRow{name: newWords(caption, "").colored("foreground"), bar: newProgress()}
		r.cancel = f.w.button("cancel", "", say("foot.cancel"), edged, func() { d.CancelJob(r.id) })
		r.box = newRow(12, 1, newLineHolder(r.name, 260), r.bar.Container, r.cancel)
		f.rows = append(f.rows, r)
		f.jobs.Objects = append(f.jobs.Objects, r.box)
	}
	for i, r := range f.rows {
		r.box.Hidden = i >= len(jobs)
		if r.box.Hidden {
			continue
		}
		j := jobs[i]
		r.id = j.ID
		r.name.set(j.Name)
		r.bar.set(j.Done, j.Total)
	}
	f.jobs.Hidden = len(jobs) == 0
	relaid(f.object)
	relayDeep(f.object)
}

func (f *foot) labWords() string {
	lab := f.w.desk.Lab()
	if !lab.Open {
		return ""
	}
	words := lab.Name
	if lab.Synthetic {
		words += "  ·  " + say("foot.practice")
	}
	if lab.ReadOnly {
		words += "  ·  " + say("foot.readonly")
	}
	if c := f.w.desk.Closure(); c.Bad && f.w.desk.Screen() == bench.RunScreen {
		words += "  ·  " + say("foot.closure", c.By)
	}
	if lab.Unplaced > 0 {
		words += "  ·  " + say("foot.unplaced", lab.Unplaced)
	}
	return words
}

// newLineHolder gives words a fixed width, grown with the text.
func newLineHolder(o fyne.CanvasObject, width float32) *fyne.Container {
	return container.New(&fixedWidth{width}, o)
}

type fixedWidth struct{ width float32 }

func (l *fixedWidth) heightFor(o []fyne.CanvasObject, _ float32) float32 {
	return heightFor(o[0], grown(l.width))
}

func (l *fixedWidth) MinSize(o []fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(grown(l.width), heightFor(o[0], grown(l.width)))
}

func (l *fixedWidth) Layout(o []fyne.CanvasObject, size fyne.Size) {
	h := min(size.Height, heightFor(o[0], size.Width))
	o[0].Move(fyne.NewPos(0, (size.Height-h)/2))
	o[0].Resize(fyne.NewSize(size.Width, h))
}
