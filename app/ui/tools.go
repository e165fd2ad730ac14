package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
	"sectionary/atlas"
	"sectionary/slices/section"
)

// handPart is the panel with no tool in hand: what is known of the face.
type handPart struct {
	w     *Window
	box   *fyne.Container
	facts *words
	add   *button
	check *checkPart
	tags  *maskProposal
	batch *batchPart
}

func newHandPart(w *Window) *handPart {
	p := &handPart{w: w, facts: newWords(body, ""), check: newCheckPart(w), tags: newMaskProposal(w, "tags"), batch: newBatchPart(w, "hand")}
	p.add = w.button("bench:photos", "photo", say("run.photos"), edged, w.addPhotos).tipped(say("run.photos.tip"))
	p.box = newColumn(8, p.facts, p.tags.box,
		newFlow(6, p.add), p.batch.box, p.check.box)
	return p
}

func (p *handPart) object() *fyne.Container { return p.box }

func (p *handPart) refresh() {
	f := p.w.desk.Face()
	p.check.refresh()
	p.tags.refresh()
	p.batch.refresh()
	if b := p.w.desk.Batch(); !b.Offered || len(b.Rows) == 0 && b.Done == "" {
		p.batch.box.Hidden = true // with nothing to offer it stands with the scale alone
	}
	if f.Slab == 0 {
		p.facts.set(say("run.noface.words"))
		return
	}
	i := p.w.desk.Info(f)
	p.facts.set(factWords(i))
	p.add.Hidden = i.Photo
}

// scalePart lays a scale: two ticks of a ruler or the four corners of a plate.
type scalePart struct {
	w                    *Window
	box                  *fyne.Container
	mode, level          *options
	length, wide, high   *field
	drop, camera         *field
	lengthBox, sizeBox   *fyne.Container
	heightBox            *fyne.Container
	force, fit, problem  *words
	accept, clear        *button
	ruler                *rulerPart
	sheet                *sheetPart
	stand                *standPart
	batch                *batchPart
	shownDrop, shownHigh bool
}

func newScalePart(w *Window) *scalePart {
	p := &scalePart{w: w, force: newWords(strong, ""), fit: newWords(body, ""), problem: newWords(body, "").colored(theme.ColorNameWarning)}
	d := w.desk
	p.ruler, p.sheet, p.stand, p.batch = newRulerPart(w), newSheetPart(w), newStandPart(w), newBatchPart(w, "batch")
	p.mode = w.options("scale:mode", []string{say("scale.ticks"), say("scale.corners"), say("scale.sheet")}, 0, func(i int) { d.SetScaleMode(bench.ScaleMode(i)) })
	num := func(id string, set func()) *field {
		f := w.field(id, "")
		f.OnChanged = func(string) {
			if f.typing() {
				set()
			}
		}
		f.onEnter = w.keyboardToPicture
		return f
	}
	value := func(f *field) float64 { v, _ := number(f.Text); return v }
	p.length = num("scale:length", func() { d.SetScaleLength(value(p.length)) })
	size := func() { d.SetScaleSize(value(p.wide), value(p.high)) }
	p.wide, p.high = num("scale:width", size), num("scale:height", size)
	height := func() { d.SetScaleLevel(d.Scale().Level, value(p.drop), value(p.camera)) }
	p.drop, p.camera = num("scale:drop", height), num("scale:camera", height)
	p.level = w.options("scale:level", []string{say("answer.none"), say("answer.yes"), say("scale.level.no")}, 0, func(i int) {
		d.SetScaleLevel(atlas.Answer(i), value(p.drop), value(p.camera))
	})
	p.lengthBox = captioned(say("scale.length"), newRow(0, -1, newLineHolder(p.length, 110)))
	p.sizeBox = newShelf(grown(100), 8, captioned(say("scale.width"), p.wide), captioned(say("scale.height"), p.high))
	p.heightBox = newShelf(grown(100), 8, captioned(say("scale.drop"), p.drop), captioned(say("scale.camera"), p.camera))
	p.heightBox = newColumn(4, p.heightBox, newWords(caption, say("scale.unknown")))
	p.accept = w.button("scale:accept", "check", say("scale.accept"), primary, func() { w.report(d.AcceptScale()) })
	p.clear = w.button("scale:clear", "remove", say("scale.clear"), edged, d.ClearScale)
	p.box = newColumn(8, p.force, p.stand.pick, p.mode.box, p.ruler.box, p.sheet.box, p.lengthBox, p.sizeBox,
		captioned(say("scale.level"), p.level.box), p.heightBox, p.fit, p.problem, newFlow(6, p.accept, p.clear), p.batch.box, p.stand.box)
	return p
}

func (p *scalePart) object() *fyne.Container { return p.box }

func (p *scalePart) refresh() {
	s := p.w.desk.Scale()
	p.mode.show(int(s.Mode))
	p.level.show(int(s.Level))
	p.ruler.refresh(s)
	p.sheet.refresh(s)
	p.stand.refresh()
	p.batch.refresh()
	p.length.show(mm(s.Length))
	p.wide.show(mm(s.Width))
	p.high.show(mm(s.Height))
	p.drop.show(mm(s.Drop))
	p.camera.show(mm(s.Camera))
	p.lengthBox.Hidden = s.Mode != bench.TwoTicks
	p.sizeBox.Hidden = s.Mode != bench.FourCorners
	p.heightBox.Hidden = s.Level != atlas.No
	p.force.set(p.w.desk.ScaleInForce())
	p.fit.set(s.Fit)
	p.problem.set(s.Problem)
	p.accept.setOff(!s.Ready)
	plate, ok := p.w.desk.Plate()
	p.clear.Hidden = !ok || p.w.desk.Info(plate.Face).Scale == false
}

// axesPart declares which side of the body is at the top of the photograph, and whether it is mirrored.
type axesPart struct {
	w        *Window
	box      *fyne.Container
	up       *options
	upBox    *fyne.Container
	choices  [4]section.Facing
	mirrored *options
	mirror   *fyne.Container
	letters  *words
	same     *button
}

func newAxesPart(w *Window) *axesPart {
	p := &axesPart{w: w, upBox: newColumn(0), letters: newWords(body, "")}
	p.mirrored = w.options("axes:mirrored", []string{say("answer.none"), say("axes.mirrored.yes"), say("axes.mirrored.no")}, 0,
		func(i int) { w.desk.SetMirrored(atlas.Answer(i)) })
	p.mirror = newColumn(6, newWords(body, say("axes.mirrored")), p.mirrored.box)
	p.same = w.button("axes:same", "check", "", primary, w.desk.AcceptUp).tipped(say("axes.same.tip"))
	p.box = newColumn(8, newFlow(6, p.same), captioned(say("axes.up"), p.upBox), p.mirror, p.letters)
	return p
}

func (p *axesPart) object() *fyne.Container { return p.box }

func (p *axesPart) refresh() {
	d := p.w.desk
	if c := d.UpChoices(); c != p.choices || p.up == nil {
		p.choices = c
		var labels []string
		for _, f := range c {
			labels = append(labels, say("up."+f.String()))
		}
		p.up = p.w.options("axes:up", labels, -1, func(i int) { d.SetPhotoUp(p.choices[i]) })
		p.upBox.Objects = []fyne.CanvasObject{p.up.box}
	}
	plate, ok := d.Plate()
	now := -1
	for i, f := range p.choices {
		if ok && f == plate.PhotoUp && f != section.UnknownFacing {
			now = i
		}
	}
	p.up.show(now)
	proposal, proposed := d.ProposedUp()
	p.same.Hidden = !proposed
	if proposed {
		p.same.state(say("axes.same", say("up."+proposal.Up.String())), false, false)
	}
	p.mirror.Hidden = !d.AsksMirrored() && plate.Mirrored == atlas.Unanswered
	p.mirrored.show(int(plate.Mirrored))
	e := section.PhotoEdges(plate.Face.Facing, plate.PhotoUp) // the tool shows the photograph as it was taken
	p.letters.set(say("axes.letters", e.Left, e.Right, e.Up, e.Down))
}
