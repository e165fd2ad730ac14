package ui

import (
	"fmt"
	"math"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
)

// pairing lays the face and the cut of the scan side by side under one pointer. The band across the top speaks
// their state in plain words, the strip below is 60 mm of the ruler round this face.
type pairing struct {
	w                 *Window
	face, scan, strip *pane
	band, why         *words
	tab               *table
	box               *fyne.Container
	panel             *roll
	fit, hint, off    *words
	ties, tieHead     *fyne.Container
	tieRows           []*tieRow
	levels            *fyne.Container
	levelRows         []*removable
	level             *button
	same              *options
	presets           *fyne.Container
	presetRows        []*button
	scans             *scans
	more              *pairingMore
	unseen            *unseen
	spine             *spinePart
	measure           *scanMeasurePart
}

type tieRow struct {
	box                *fyne.Container
	name, err, leaving *words
	note               *words
	n                  int
}

func newPairing(w *Window) *pairing {
	p := &pairing{w: w}
	d := w.desk
	p.face, p.scan, p.strip = w.newPane("face:pairing", d.FacePane()), w.newPane("scan", d.ScanPane()), w.newPane("strip", d.StripPane())
	p.strip.least, p.strip.design = fyne.NewSize(100, 50+grown(30)), fyne.NewSize(300, 80)
	p.band, p.why = newWords(title, ""), newWords(body, "").colored(theme.ColorNameWarning)
	top := bar(14, 10, newColumn(2, p.band, p.why))
	pictures := (&table{middle: newPair(2, p.face, p.scan), bottom: p.strip, gap: 1}).object()
	// panel
	p.fit, p.hint, p.off = newWords(body, ""), newWords(strong, ""), newWords(body, "")
	p.ties = newColumn(2)
	p.tieHead = tieLine(newLine(caption, say("tie.name")), newLine(caption, say("tie.error")), newLine(caption, say("tie.leave")), newColumn(0))
	p.levels = newColumn(2)
	p.level = w.button("pairing:level", "tie", say("pairing.level"), edged, d.TieLevelHere).tipped(say("pairing.level.tip"))
	p.same = w.options("pairing:same", []string{say("pairing.same"), say("pairing.other")}, 0, func(i int) { d.SetSameBody(i == 0) })
	p.presets = newFlow(4)
	step := func(id, icon string, n int) fyne.CanvasObject {
		return w.button("scan:"+id, icon, say("scan."+id), edged, func() { d.StepScan(n) }).tipped(say("scan." + id + ".tip"))
	}
	narrow := w.button("scan:narrower", "window", say("scan.narrower"), edged, d.Narrower).tipped(say("scan.narrower.tip"))
	wide := w.button("scan:wider", "window", say("scan.wider"), edged, d.Wider).tipped(say("scan.wider.tip"))
	home := w.button("scan:home", "home", say("scan.home"), edged, d.ScanHome).tipped(say("scan.home.tip"))
	p.scans = newScans(w)
	p.more = newPairingMore(w)
	p.unseen = newUnseen(w)
	p.spine = newSpinePart(w)
	p.measure = newScanMeasurePart(w)
	r, sheet := w.panel(
		headless(newWords(title, say("pairing.fit")), p.hint, p.fit, p.tieHead, p.ties),
		part(say("pairing.levels"), p.levels, newFlow(6, p.level), captioned(say("pairing.body"), p.same.box)),
		part(say("pairing.compare"), p.more.fitRow, p.measure.box),
		part(say("pairing.window"), p.presets, newFlow(6, narrow, wide), newWords(caption, say("pairing.window.how"))),
		part(say("pairing.step"), p.off, newFlow(6, step("up", "earlier", -1), step("down", "later", 1), home),
			newFlow(6, w.button("pairing:findface", "run", say("pairing.findface"), edged, func() { d.Do("find.face") }).tipped(say("pairing.findface.tip")))),
		p.spine.box,
		p.unseen.box,
		p.scans.box, newWords(caption, say("finding")))
	p.panel = r
	p.tab = &table{top: top, middle: pictures, right: sheet, rightW: panelWidth(), gap: 1}
	p.box = p.tab.object()
	return p
}

func (p *pairing) object() fyne.CanvasObject { return p.box }
func (p *pairing) picture() *pane            { return p.face }

func (p *pairing) refresh(c bench.Change) {
	if c&^(bench.PointerChanged|bench.ViewChanged|bench.JobsChanged|bench.SavedChanged) == 0 {
		return
	}
	d := p.w.desk
	ok, why := d.PairingReady()
	p.band.set(d.Band())
	p.why.set("")
	if !ok && d.Band() == "" { // the band says it too
		p.why.set(why)
	}
	p.fit.set(d.FitWords())
	p.more.refresh()
	p.measure.refresh()
	showHint(p.hint, d)
	p.off.set(say("pairing.onface"))
	if off := d.ScanStep(); off != 0 {
		p.off.set(say("pairing.off", off))
	}
	p.showTies(d.TieRows())
	levels := d.LevelTies()
	p.levelRows = p.w.syncRemovable(p.levels, p.levelRows, len(levels), "pairing:untie", say("pairing.untie.tip"))
	for i, words := range levels {
		p.levelRows[i].off.tapped = func() { d.RemoveLevelTie(i) }
		p.levelRows[i].text.set(words)
	}
	body := 1
	if d.SameBody() {
		body = 0
	}
	p.same.show(body)
	presets := d.Presets()
	p.presetRows = syncRows(p.presets, p.presetRows, len(presets), func(i int) *button {
		return p.w.button(fmt.Sprint("preset:", i+1), "", "", choice, nil)
	})
	for i, x := range presets {
		b := p.presetRows[i]
		b.tapped = func() { p.w.key(x.Key) }
		b.state(x.Key+"  "+x.Name, x.Chosen, false)
	}
	p.unseen.refresh()
	p.spine.refresh()
	p.scans.refresh()
	p.panel.relay()
	relaid(p.box)
}

// showTies lists the landmarks, the worst first, with the error at each and the error when it is left out.
func (p *pairing) showTies(rows []bench.TieRow) {
	p.tieHead.Hidden = len(rows) == 0
	for len(p.tieRows) < len(rows) {
		r := &tieRow{name: newLine(body, ""), err: newLine(body, ""), leaving: newLine(body, ""), note: newWords(caption, "")}
		off := p.w.button("tie:remove", "remove", "", flat, func() { p.w.desk.RemoveTie(r.n) }).tipped(say("pairing.remove.tip"))
		r.box = newColumn(0, tieLine(r.name, r.err, r.leaving, off), r.note)
		p.tieRows = append(p.tieRows, r)
		p.ties.Objects = append(p.ties.Objects, r.box)
	}
	for i, r := range p.tieRows {
		r.box.Hidden = i >= len(rows)
		if r.box.Hidden {
			continue
		}
		x := rows[i]
		r.n = x.N
		color := theme.ColorNameForeground
		if x.Suspect {
			color = theme.ColorNameWarning
		}
		left := say("tie.noleave")
		if !math.IsNaN(x.LeaveOneOut) {
			left = fmt.Sprintf("%.1f", x.LeaveOneOut)
		}
		r.name.setColored(fmt.Sprint(x.N), color)
		r.err.setColored(fmt.Sprintf("%.1f", x.Residual), color)
		r.leaving.setColored(left, color)
		r.note.set(tieNote(x))
	}
}

// tieLine is one line of the table of landmarks: number, error, error when left out, and what stands at its end.
func tieLine(name, err, leaving *words, end fyne.CanvasObject) *fyne.Container {
	cell := func(o fyne.CanvasObject) fyne.CanvasObject { return newLineHolder(o, 58) }
	return newRow(6, 2, cell(name), cell(err), leaving, end)
}
