package ui

import (
	"path/filepath"
	"slices"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
	"sectionary/atlas"
	"sectionary/slices/section"
)

// handOut is a slip of paper: what leaves, which faces, for which purpose. It fills itself with the lines of the
// agreement and cannot be released while one is unmet.
type handOut struct {
	w        *Window
	preview  *pane
	panel    *roll
	box      *fyne.Container
	slip     *fyne.Container
	kind     *options
	purpose  *options
	paper    *options
	title    *field
	faces    *fyne.Container
	faceRows []*button
	all      *button
	english  *button
	latin    *button
	langBox  *fyne.Container
	view     *options
	noTags   *button
	signed   *button
	consent  *words
	refusal  *words
	release  *button
	dir      *field
	files    *words
	open     *button
	done     *fyne.Container
	code     string // of the hand-out listed
}

var (
	paperNames = []string{"A4", "Letter"}
)

func newHandOut(w *Window) *handOut {
	h := &handOut{w: w, preview: w.newPane("preview", w.desk.PreviewPane())}
	change := func(f func(*bench.Draft)) {
		d := w.desk.HandOut()
		d.Faces, d.Languages = slices.Clone(d.Faces), slices.Clone(d.Languages)
		f(&d)
		w.desk.SetHandOut(d)
	}
	h.kind = w.options("handout:kind", []string{say("handout.study"), say("handout.exam")}, 0, func(i int) { change(func(d *bench.Draft) { d.Kind = bench.HandOutKind(i) }) })
	var purposes []string
	for _, p := range atlas.Purposes {
		purposes = append(purposes, say("purpose."+string(p)))
	}
	h.purpose = w.options("handout:purpose", purposes, -1, func(i int) { change(func(d *bench.Draft) { d.Purpose = atlas.Purposes[i] }) })
	h.paper = w.options("handout:paper", paperNames, 0, func(i int) { change(func(d *bench.Draft) { d.Paper = paperNames[i] }) })
	h.title = w.field("handout:title", "")
	h.title.OnChanged = func(s string) {
		if h.title.typing() {
			change(func(d *bench.Draft) { d.Title = s })
		}
	}
	language := func(id, name string) *button {
		return w.button("handout:"+id, "", say("language."+id), choice, func() {
			change(func(d *bench.Draft) { d.Languages = toggled(d.Languages, name) })
		})
	}
	h.english, h.latin = language("english", "English"), language("latin", "Latin")
	h.langBox = captioned(say("handout.languages"), newFlow(4, h.english, h.latin))
	h.view = w.options("handout:view", []string{say("view.bench"), say("view.scan"), say("view.otherside")}, 0, func(i int) { change(func(d *bench.Draft) { d.View = section.View(i) }) })
	h.noTags = w.button("handout:notags", "", say("handout.notags"), choice, func() { change(func(d *bench.Draft) { d.NoTags = !d.NoTags }) }).tipped(say("handout.notags.tip"))
	h.signed = w.button("handout:signed", "", say("handout.signed"), choice, func() { change(func(d *bench.Draft) { d.SignedOnly = !d.SignedOnly }) })
	h.faces = newFlow(4)
	h.consent, h.refusal = newWords(body, ""), newWords(strong, "").colored(theme.ColorNameWarning)
	h.dir = w.field("handout:dir", "")
	choose := w.button("handout:choose", "folder", "", edged, func() {
		w.pick(pick{title: say("handout.dir"), folders: true, done: func(p []string) { h.dir.SetText(p[0]) }})
	}).tipped(say("handout.dir"))
	h.release = w.button("handout:release", "handout", say("handout.release"), primary, h.doRelease)
	h.files = newWords(body, "")
	h.open = w.button("handout:open", "folder", say("handout.open"), edged, h.openFolder)
	h.done = part(say("handout.done"), h.files, newFlow(6, h.open))
	slip := newColumn(14,
		newWords(heading, say("handout.title")),
		captioned(say("handout.kind"), h.kind.box),
		captioned(say("handout.purpose"), h.purpose.box),
		captioned(say("handout.faces"), h.faces),
		captioned(say("handout.view"), h.view.box),
		h.langBox,
		captioned(say("handout.checked"), newFlow(4, h.noTags, h.signed)),
		captioned(say("handout.name"), h.title),
		captioned(say("handout.paper"), h.paper.box),
		part(say("handout.agreement"), h.consent, newFlow(6, w.button("handout:agreement", "agreement", say("run.agreement"), edged, w.showAgreement))),
		captioned(say("handout.dir"), newRow(6, 0, h.dir, choose)),
		h.done,
		newWords(caption, say("ethics")), newWords(caption, say("diagnosis")))
	h.panel = w.roll(18, slip)
	// The answer to "may it leave?" stays in sight whatever part of the slip is read.
	foot := bar(18, 12, newColumn(10, h.refusal, newFlow(6, h.release)))
	h.slip = (&table{middle: bar(0, 0, h.panel.Container), bottom: foot, gap: 1}).object()
	h.box = (&table{left: h.slip, leftW: panelWidth() * 1.2, middle: h.preview, gap: 1}).object()
	return h
}

// toggled adds s to the list, or takes it out.
func toggled(list []string, s string) []string {
	if i := slices.Index(list, s); i >= 0 {
		return slices.Delete(list, i, i+1)
	}
	return append(list, s)
}

func (h *handOut) object() fyne.CanvasObject { return h.box }
func (h *handOut) picture() *pane            { return h.preview }

func (h *handOut) refresh(c bench.Change) {
	if c&^(bench.PointerChanged|bench.ViewChanged|bench.JobsChanged|bench.SavedChanged) == 0 {
		return
	}
	d := h.w.desk
	draft := d.HandOut()
	h.kind.show(int(draft.Kind))
	h.purpose.show(slices.Index(atlas.Purposes, draft.Purpose))
	h.paper.show(slices.Index(paperNames, draft.Paper))
	h.title.show(draft.Title)
	h.english.setOn(slices.Contains(draft.Languages, "English"))
	h.latin.setOn(slices.Contains(draft.Languages, "Latin"))
	h.view.show(int(draft.View))
	h.noTags.setOn(draft.NoTags)
	h.signed.setOn(draft.SignedOnly)
	h.showFaces(draft)
	h.consent.set(usesWords(d.Agreement()))
	refusal := d.Refusal()
	h.refusal.set(refusal)
	h.release.setOff(refusal != "")
	if h.dir.Text == "" && d.Lab().Open {
		h.dir.show(filepath.Join(d.Lab().Dir, "hand-outs"))
	}
	slip := d.LastSlip()
	h.done.Hidden = slip == nil
	if slip != nil {
		h.files.set(slip.Words + "\n" + strings.Join(slip.Files, "\n"))
	}
	relayDeep(h.slip)
	h.panel.relay()
	if slip != nil && slip.Code != h.code {
		h.code = slip.Code
		h.panel.scroll.ScrollToBottom() // where the finished files are listed
	}
}

// showFaces offers the faces of the run that have a picture.
func (h *handOut) showFaces(draft bench.Draft) {
	d := h.w.desk
	var faces []section.Face
	for _, f := range d.Run().Faces() {
		if d.Info(f).Photo {
			faces = append(faces, f)
		}
	}
	h.faceRows = syncRows(h.faces, h.faceRows, len(faces), func(int) *button { return h.w.button("handout:face", "", "", choice, nil) })
	for i, f := range faces {
		on := slices.Contains(draft.Faces, f)
		h.faceRows[i].id = "handout:face:" + say("face.short", f.Slab, f.Facing.Letter())
		h.faceRows[i].tip = d.FaceName(f)
		h.faceRows[i].tapped = func() { h.toggle(f) }
		h.faceRows[i].state(say("face.short", f.Slab, f.Facing.Letter()), on, false)
	}
}

// toggle takes a face onto the slip or off it, keeping the order of the run.
func (h *handOut) toggle(f section.Face) {
	d := h.w.desk
	draft := d.HandOut()
	var next []section.Face
	for _, g := range d.Run().Faces() {
		if slices.Contains(draft.Faces, g) != (g == f) {
			next = append(next, g)
		}
	}
	draft.Faces = next
	d.SetHandOut(draft)
}

func (h *handOut) doRelease() {
	dir := strings.TrimSpace(h.dir.Text)
	if dir == "" {
		h.w.focusOn(h.dir)
		return
	}
	h.w.desk.Release(dir)
}

// openFolder shows the finished files in the desktop's own window for folders.
func (h *handOut) openFolder() {
	if slip := h.w.desk.LastSlip(); slip != nil {
		h.w.report(openPath(slip.Dir))
	}
}
