package ui

import (
	"path/filepath"
	"strconv"
	"strings"

	"fyne.io/fyne/v2"

	"sectionary/app/bench"
	"sectionary/atlas"
	"sectionary/slices/section"
)

var planes = []section.Plane{section.Transverse, section.Frontal, section.Sagittal}

// begin is the slip that begins a run: code, body part, plane, the end where slab 1 lies, planned thickness and
// kerf, and what the donor's agreement permits.
type begin struct {
	w                      *Window
	sheet                  *sheet
	dir, donor, part       *field
	thickness, kerf, slabs *field
	plane, first, piece    *options
	firstBox               *fyne.Container
	permitted              map[atlas.Purpose]*button
	problem                *words
	laid                   int  // the plane whose ends are offered
	open                   bool // a lab is open already
}

func (w *Window) showBegin() { w.showBeginIn("") }

// showBeginIn lays the slip with the folder of the lab filled in.
func (w *Window) showBeginIn(dir string) {
	b := &begin{w: w, permitted: map[atlas.Purpose]*button{}, open: w.desk.Lab().Open && !w.desk.Lab().ReadOnly}
	b.dir, b.donor, b.part = w.field("begin:dir", dir), w.field("begin:donor", ""), w.field("begin:part", "")
	b.thickness, b.kerf, b.slabs = w.field("begin:thickness", "20"), w.field("begin:kerf", "1.2"), w.field("begin:slabs", "12")
	b.part.SetPlaceHolder(say("begin.part.hint"))
	b.donor.SetPlaceHolder(say("begin.donor.hint"))
	b.firstBox = newColumn(0)
	b.piece = w.options("begin:piece", pieceLabels(), 0, func(int) { b.setPlane(b.plane.chosen) })
	b.plane = w.options("begin:plane", []string{say("plane.transverse"), say("plane.frontal"), say("plane.sagittal")}, 0, b.setPlane)
	b.setPlane(0)
	choose := w.button("begin:choose", "folder", say("begin.choose"), edged, func() {
		w.pick(pick{title: say("begin.dir"), folders: true, done: func(p []string) { b.dir.SetText(p[0]) }})
	})
	where := newColumn(8, captioned(say("begin.dir"), newRow(8, 0, b.dir, choose)))
	where.Hidden = b.open
	uses := newFlow(4)
	for _, p := range []atlas.Purpose{atlas.Teaching, atlas.Exam} {
		k := w.button("begin:"+string(p), "", say("purpose."+string(p)), choice, nil)
		k.tapped = func() { k.setOn(!k.on) }
		b.permitted[p] = k
		uses.Add(k)
	}
	b.problem = newWords(body, "").colored("warning")
	form := newColumn(14,
		newWords(heading, say("start.begin")),
		where,
		newShelf(grown(190), 12, captioned(say("begin.donor"), b.donor), captioned(say("begin.part"), b.part)),
		captioned(say("begin.piece"), b.piece.box),
		captioned(say("begin.plane"), b.plane.box),
		captioned(say("begin.first"), b.firstBox),
		newShelf(grown(120), 12, captioned(say("begin.thickness"), b.thickness), captioned(say("begin.kerf"), b.kerf), captioned(say("begin.slabs"), b.slabs)),
		captioned(say("begin.uses"), uses),
		newWords(caption, say("begin.uses.hint")),
		b.problem)
	ok := w.button("begin:ok", "check", say("begin.ok"), primary, b.accept)
	b.sheet = w.sheet(620, form, ok, w.button("begin:no", "", say("cancel"), edged, func() { b.sheet.close() }))
	first := fyne.Focusable(b.dir)
	if b.open {
		first = b.donor
	}
	b.sheet.open(first)
}

func (b *begin) setPlane(i int) {
	var labels []string
	limb, half := pieceOf(b.piece.chosen)
	for _, f := range planes[i].Faces() {
		key := f.String()
		switch w := (section.Run{Limb: limb, Half: half}).DirectionWord(f); {
		case w == "medial" && half != section.UnknownFacing:
			key = "midline"
		case w != "":
			key = w
		}
		labels = append(labels, say("end."+key))
	}
	chosen := b.usualEnd(planes[i])
	if b.first != nil && i == b.laid {
		chosen = b.first.chosen // another name for the same end
	}
	b.laid = i
	b.first = b.w.options("begin:first", labels, chosen, nil)
	b.firstBox.Objects = []fyne.CanvasObject{b.first.box}
	if b.sheet != nil {
		b.sheet.relay()
	}
}

// usualEnd is the end along which the ruler is read: head, front, and the patient's right.
func (b *begin) usualEnd(p section.Plane) int {
	if p == section.Sagittal {
		return 1
	}
	return 0
}

func (b *begin) accept() {
	p := planes[b.plane.chosen]
	n := bench.NewRun{Dir: strings.TrimSpace(b.dir.Text), Donor: strings.TrimSpace(b.donor.Text), Part: strings.TrimSpace(b.part.Text),
		Plane: p, First: p.Faces()[b.first.chosen]}
	n.Limb, n.Half = pieceOf(b.piece.chosen)
	var okT, okK bool
	n.Thickness, okT = number(b.thickness.Text)
	n.Kerf, okK = number(b.kerf.Text)
	slabs, err := strconv.Atoi(strings.TrimSpace(b.slabs.Text))
	n.Slabs = slabs
	for _, use := range atlas.Purposes {
		if k := b.permitted[use]; k != nil && k.on {
			n.Permitted = append(n.Permitted, use)
		}
	}
	problem := ""
	switch {
	case !b.open && n.Dir == "":
		problem = say("begin.nodir")
	case n.Donor == "":
		problem = say("begin.nodonor")
	case n.Part == "":
		problem = say("begin.nopart")
	case !okT || !okK || n.Thickness <= 0 || n.Kerf < 0:
		problem = say("begin.nolength")
	case err != nil || slabs < 0 || slabs > 500:
		problem = say("begin.noslabs")
	}
	if problem == "" {
		if !b.open {
			n.Dir = filepath.Clean(n.Dir)
		}
		if err := b.w.desk.BeginRun(n); err != nil {
			m := bench.Explain(err)
			problem = strings.TrimSpace(m.Title + " " + m.Hint)
			if problem == "" {
				problem = err.Error()
			}
		}
	}
	if problem != "" {
		b.problem.set(problem)
		b.sheet.relay()
		return
	}
	b.sheet.close()
}

func (w *Window) openLab() {
	w.pick(pick{title: say("open.title"), folders: true, done: func(p []string) { w.Open(p[0]) }})
}
