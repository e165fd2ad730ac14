package ui

import (
	"slices"
	"strconv"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
)

// sheetFields say how a chequer sheet is made: corners along a row, down a column, and the side of a square.
type sheetFields struct {
	w                   *Window
	box                 *fyne.Container
	columns, rows, side *field
}

func newSheetFields(w *Window, id string) *sheetFields {
	p := &sheetFields{w: w}
	make := func(name string) *field {
		f := w.field(id+":"+name, "")
		f.OnChanged = func(string) {
			if f.typing() {
				p.set()
			}
		}
		f.onEnter = w.keyboardToPicture
		return f
	}
	p.columns, p.rows, p.side = make("columns"), make("rows"), make("side")
	p.box = newColumn(4, newShelf(grown(84), 8, captioned(say("sheet.columns"), p.columns), captioned(say("sheet.rows"), p.rows),
		captioned(say("sheet.side"), p.side)), newWords(caption, say("sheet.count")))
	return p
}

func (p *sheetFields) set() {
	whole := func(f *field) int { n, _ := strconv.Atoi(f.Text); return n }
	side, _ := number(p.side.Text)
	p.w.desk.SetSheet(whole(p.columns), whole(p.rows), side)
}

func (p *sheetFields) refresh(s bench.SheetInfo) {
	show := func(f *field, n int) {
		if n > 0 {
			f.show(strconv.Itoa(n))
		} else {
			f.show("")
		}
	}
	show(p.columns, s.Columns)
	show(p.rows, s.Rows)
	p.side.show(mm(s.Side))
}

// sheetPart finds a chequer sheet in the picture of the face, to be its scale.
type sheetPart struct {
	w      *Window
	box    *fyne.Container
	fields *sheetFields
	find   *button
	found  *words
}

func newSheetPart(w *Window) *sheetPart {
	p := &sheetPart{w: w, fields: newSheetFields(w, "sheet"), found: newWords(body, "")}
	p.find = w.button("sheet:find", "scale", say("sheet.find"), edged, w.desk.FindSheet).tipped(say("sheet.find.tip"))
	p.box = newColumn(8, p.fields.box, newFlow(6, p.find), p.found)
	return p
}

func (p *sheetPart) refresh(s bench.ScaleDraft) {
	p.box.Hidden = s.Mode != bench.ChequerSheet
	i := p.w.desk.Sheet()
	p.fields.refresh(i)
	p.find.setOff(i.Columns < 3 || i.Rows < 3 || !(i.Side > 0))
	p.found.Hidden = len(s.Sheet) == 0
	p.found.set(say("sheet.found", len(s.Sheet)))
}

// standPart keeps what was measured on a camera stand, and measures its lens.
type standPart struct {
	w           *Window
	box         *fyne.Container
	pick        *fyne.Container
	names       []string
	stands      *options
	words       *words
	again, gone *button
	name        *field
	keep        *button
	lens        *lensPart
}

func newStandPart(w *Window) *standPart {
	p := &standPart{w: w, pick: newColumn(0), words: newWords(body, ""), name: w.field("stand:name", ""), lens: newLensPart(w)}
	d := w.desk
	p.again = w.button("stand:through", "scale", say("stand.through"), edged, func() { w.report(d.ScaleThroughLens()) }).tipped(say("stand.through.tip"))
	keep := func() { w.report(d.KeepStand(p.name.Text)) }
	p.name.onEnter = keep
	p.keep = w.button("stand:keep", "check", say("stand.keep"), edged, keep).tipped(say("stand.keep.tip"))
	p.gone = w.button("stand:remove", "remove", say("stand.remove"), edged, func() {
		for _, s := range d.Stands() {
			if s.Chosen {
				d.RemoveStand(s.Name)
			}
		}
	}).tipped(say("stand.remove.tip"))
	p.box = part(say("stand.head"), p.words, newFlow(6, p.again), p.lens.box,
		captioned(say("stand.name"), p.name), newFlow(6, p.keep, p.gone))
	return p
}

func (p *standPart) refresh() {
	d := p.w.desk
	names, now := []string{""}, 0
	for i, s := range d.Stands() {
		names = append(names, s.Name)
		if s.Chosen {
			now = i + 1
		}
	}
	if p.stands == nil || !slices.Equal(names, p.names) {
		p.names = names
		labels := append([]string{say("stand.no")}, names[1:]...)
		p.stands = p.w.options("stand:pick", labels, now, func(i int) {
			if i < len(p.names) {
				d.ChooseStand(p.names[i])
			}
		})
		p.pick.Objects = []fyne.CanvasObject{captioned(say("stand.pick"), p.stands.box)}
		if now > 0 {
			p.name.show(names[now])
		}
	}
	p.pick.Hidden = len(names) == 1
	p.stands.show(now)
	p.words.set(d.StandWords())
	p.again.Hidden = !d.LensWaits()
	p.gone.Hidden = now == 0
	p.lens.refresh()
}

// lensPart measures the lens of a stand from pictures of a chequer sheet.
type lensPart struct {
	w                    *Window
	box, open, rows      *fyne.Container
	fields               *sheetFields
	begin, back          *button
	choose, measure      *button
	next, found, problem *words
	shown                string // of the rows as they stand
}

func newLensPart(w *Window) *lensPart {
	p := &lensPart{w: w, fields: newSheetFields(w, "lens"), rows: newColumn(8), next: newWords(body, ""), found: newWords(strong, ""),
		problem: newWords(body, "").colored(theme.ColorNameWarning)}
	d := w.desk
	p.begin = w.button("lens:open", "photo", say("lens.open"), edged, func() { d.OpenSheet(true) }).tipped(say("lens.open.tip"))
	p.choose = w.button("lens:choose", "photo", say("lens.choose"), edged, func() {
		w.pick(pick{title: say("lens.choose"), endings: photoEndings, done: d.AddSheetPictures})
	})
	p.measure = w.button("lens:measure", "check", say("lens.measure"), primary, func() { _ = d.MeasureLens() }) // says why beneath
	p.back = w.button("lens:back", "", say("lens.back"), edged, func() { d.OpenSheet(false) })
	p.open = newColumn(8, p.fields.box, p.next, newFlow(6, p.choose), p.rows, p.problem, newFlow(6, p.measure, p.back))
	p.box = newColumn(8, p.found, newFlow(6, p.begin), p.open)
	return p
}

func (p *lensPart) refresh() {
	i := p.w.desk.Sheet()
	p.fields.refresh(i)
	p.begin.Hidden, p.open.Hidden = i.Open, !i.Open
	p.next.set(i.Words)
	p.found.Hidden = i.Lens == ""
	p.found.set(i.Lens)
	p.problem.set(i.Problem)
	p.choose.setOff(i.Columns < 3 || i.Rows < 3 || !(i.Side > 0))
	p.measure.setOff(i.Accepted == 0 || i.Busy)
	p.list(i.Shots)
}

// list shows the pictures of the sheet: which are right is a person's to say.
func (p *lensPart) list(shots []bench.SheetRow) {
	d := p.w.desk
	shown := ""
	for _, s := range shots {
		shown += s.Name + s.Words + strconv.FormatBool(s.Accepted) + strconv.FormatBool(s.Shown) + "\n"
	}
	if shown == p.shown {
		return
	}
	p.shown, p.rows.Objects = shown, nil
	for i, s := range shots {
		n := strconv.Itoa(i)
		look := p.w.button("lens:look:"+n, "view", say("lens.look"), edged, func() { d.ShowSheet(i) })
		look.on = s.Shown
		yes := p.w.button("lens:accept:"+n, "check", say("lens.accept"), edged, func() { d.AcceptSheet(i, !s.Accepted) })
		yes.on, yes.off = s.Accepted, !s.Found
		drop := p.w.button("lens:drop:"+n, "remove", say("lens.drop"), edged, func() { d.DropSheet(i) })
		p.rows.Add(newColumn(4, newWords(strong, s.Name), newWords(body, s.Words), newFlow(6, look, yes, drop)))
	}
}

// mostBatchRows are the pictures listed one by one; more are counted.
const mostBatchRows = 24

// batchPart offers the scale of the face to the other pictures of its sitting.
type batchPart struct {
	w           *Window
	box, list   *fyne.Container
	find, carry *button
	back        *button
	colour      *options
	colourBox   *fyne.Container
	words, done *words
	shown       []bench.BatchRow
}

func newBatchPart(w *Window, id string) *batchPart {
	p := &batchPart{w: w, list: newColumn(2), words: newWords(body, ""), done: newWords(strong, "")}
	d := w.desk
	p.find = w.button(id+":find", "photo", say("batch.find"), edged, d.LookBatch).tipped(say("batch.find.tip"))
	p.colour = w.options(id+":colour", []string{say("batch.colour.no"), say("batch.colour.yes")}, 0, func(i int) { d.SetBatchColour(i == 1) })
	p.colourBox = captioned(say("batch.colour"), p.colour.box)
	p.carry = w.button(id+":carry", "check", say("batch.carry"), primary, func() { w.report(d.CarryScale()) }).tipped(say("batch.carry.tip"))
	p.back = w.button(id+":back", "undo", say("batch.back"), edged, d.TakeBackScale).tipped(say("batch.back.tip"))
	p.box = part(say("batch.head"), p.done, p.words, p.colourBox, newFlow(6, p.carry, p.find, p.back), p.list)
	return p
}

func (p *batchPart) refresh() {
	i := p.w.desk.Batch()
	plate, ok := p.w.desk.Plate()
	p.box.Hidden = !ok || !p.w.desk.Info(plate.Face).Scale
	p.words.set(i.Words)
	if !i.Offered {
		p.words.set(say("batch.words"))
	}
	p.done.Hidden, p.back.Hidden = i.Done == "", i.Done == ""
	p.done.set(i.Done)
	none := len(i.Rows) == 0
	p.carry.Hidden, p.colourBox.Hidden = none, none || !i.HasColour
	p.carry.state(say("batch.carry", len(i.Rows)), false, i.Looking)
	p.colour.show(map[bool]int{true: 1}[i.Colour])
	if slices.Equal(i.Rows, p.shown) {
		return
	}
	p.shown, p.list.Objects = i.Rows, nil
	for k, r := range i.Rows {
		if k == mostBatchRows {
			p.list.Add(newWords(caption, say("batch.more", len(i.Rows)-k)))
			break
		}
		p.list.Add(newWords(caption, r.Words))
	}
}
