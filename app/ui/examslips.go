package ui

import (
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"sectionary/app/bench"
)

// showAskable lists every label of the run's faces: those that can be asked to be taken or left, the others with the reason
// and the way to put it right.
func (w *Window) showAskable() {
	d := w.desk
	var rows []bench.AskRow
	var list *widget.List
	lead, typed := newWords(body, ""), w.field("ask:find", "")
	var s *sheet
	read := func() {
		rows = rows[:0]
		ready := 0
		all := d.Askable()
		for _, x := range all {
			if x.Ready {
				ready++
			}
			if askFits(x, typed.Text) {
				rows = append(rows, x)
			}
		}
		lead.set(say("ask.lead", ready, len(all)-ready))
		if len(all) == 0 {
			lead.set(say("ask.none"))
		}
		if list != nil {
			list.Refresh()
		}
		if s != nil {
			s.relay()
		}
	}
	list = widget.NewList(func() int { return len(rows) }, func() fyne.CanvasObject { return w.button("", "", "x", lined, nil) },
		func(i widget.ListItemID, o fyne.CanvasObject) {
			if i >= len(rows) {
				return
			}
			x, b := rows[i], o.(*button)
			b.id = "ask:" + strconv.Itoa(i+1)
			b.icon, b.note = "", x.Where
			if x.On {
				b.icon = "check"
			}
			if !x.Ready {
				b.note = x.Why
			}
			b.tapped = func() {
				if !x.Ready {
					s.close()
					d.GoToLabel(x.ID)
					return
				}
				d.Ask(x.ID, !x.On)
				read()
			}
			b.label, b.on, b.off = fitted(x.Name, grown(330)), x.On, false
			b.note = fitted(b.note, grown(300))
			b.tip = x.Why
			b.Refresh()
		})
	list.HideSeparators = true
	list.OnSelected = func(i widget.ListItemID) { list.UnselectAll() }
	typed.OnChanged = func(string) { read() }
	all := w.button("ask:all", "", say("ask.all"), edged, func() {
		for _, x := range rows {
			if x.Ready && !x.On {
				d.Ask(x.ID, true)
			}
		}
		read()
	})
	none := w.button("ask:nothing", "", say("ask.nothing"), edged, func() {
		for _, x := range rows {
			if x.On {
				d.Ask(x.ID, false)
			}
		}
		read()
	})
	read()
	content := (&table{top: newColumn(8, newWords(title, say("ask.title")), lead, captioned(say("ask.find"), typed)), middle: list, gap: 8}).object()
	s = w.filled(860, content, w.button("ask:ok", "check", say("ask.ok"), primary, func() { s.close() }), all, none)
	s.open(typed)
}

// askFits reports whether a label is among those looked for: every word typed stands in its name, kind or place.
func askFits(x bench.AskRow, typed string) bool {
	text := strings.ToLower(x.Name + " " + x.Where + " " + x.Kind + " " + x.Region)
	for _, word := range strings.Fields(strings.ToLower(typed)) {
		if !strings.Contains(text, word) {
			return false
		}
	}
	return true
}

// showBlueprint is the table of what is wanted: each region, system, plane and kind of picture with how many can be asked,
// are wanted and are in the exam, and the gaps in words.
func (w *Window) showBlueprint() {
	d := w.desk
	rows, gaps, lead := newColumn(4), newWords(body, "").colored(theme.ColorNameWarning), newWords(body, say("blueprint.words")).colored(colorMuted)
	count := w.field("blueprint:count", "")
	var s *sheet
	var cells []*blueprintCells
	show := func() {
		plan := d.Blueprint()
		for len(cells) < len(plan) {
			c := newBlueprintCells(w, len(cells))
			cells = append(cells, c)
			rows.Objects = append(rows.Objects, c.box)
		}
		for i, c := range cells {
			if c.box.Hidden = i >= len(plan); !c.box.Hidden {
				c.show(plan[i])
			}
		}
		gaps.set(strings.Join(d.BlueprintGaps(), "\n"))
		rows.Refresh()
		if s != nil {
			s.relay()
		}
	}
	for range d.Blueprint() {
		c := newBlueprintCells(w, len(cells))
		c.changed = show
		cells = append(cells, c)
		rows.Objects = append(rows.Objects, c.box)
	}
	spread := func() {
		if n, err := strconv.Atoi(strings.TrimSpace(count.Text)); err == nil {
			d.SpreadBlueprint(n)
			show()
		}
	}
	count.onEnter = spread
	even := w.button("blueprint:spread", "", say("blueprint.spread"), edged, spread)
	show()
	col := newColumn(10, newWords(title, say("blueprint.title")), lead,
		captioned(say("blueprint.count"), newRow(8, -1, newLineHolder(count, 90), even)), blueprintHead(), rows, gaps)
	fill := w.button("blueprint:fill", "check", say("blueprint.fill"), primary, func() { d.FillBlueprint(); s.close() })
	s = w.sheet(940, col, fill, w.button("blueprint:no", "", say("cancel"), edged, func() { s.close() }))
	s.tall = true
	s.open(fyne.Focusable(count))
}

// The columns of the blueprint at 100 % text: kinds of things, then three numbers.
var blueprintWidths = []float32{150, 120, 110, 110}

func blueprintHead() *fyne.Container {
	line := newRow(8, -1)
	for i, k := range []string{say("blueprint.region"), say("blueprint.system"), say("blueprint.plane"), say("blueprint.picture")} {
		line.Add(newLineHolder(newWords(caption, k), blueprintWidths[i]))
	}
	for _, k := range []string{say("blueprint.there"), say("blueprint.wanted"), say("blueprint.actual")} {
		line.Add(newLineHolder(newWords(caption, k), 76))
	}
	return line
}

// blueprintCells is one row of the table.
type blueprintCells struct {
	box           *fyne.Container
	kinds         [4]*words
	there, actual *words
	wanted        *field
	changed       func()
}

func newBlueprintCells(w *Window, i int) *blueprintCells {
	c := &blueprintCells{there: newWords(body, ""), actual: newWords(strong, "")}
	c.box = newRow(8, -1)
	for k := range c.kinds {
		c.kinds[k] = newWords(body, "")
		c.box.Add(newLineHolder(c.kinds[k], blueprintWidths[k]))
	}
	c.wanted = w.field("blueprint:wanted:"+strconv.Itoa(i+1), "")
	c.wanted.OnChanged = func(s string) {
		n, err := strconv.Atoi(strings.TrimSpace(s))
		if c.wanted.typing() && (err == nil || s == "") {
			w.desk.WantBlueprint(i, n)
			if c.changed != nil {
				c.changed()
			}
		}
	}
	c.box.Add(newLineHolder(c.there, 76))
	c.box.Add(newLineHolder(c.wanted, 76))
	c.box.Add(newLineHolder(c.actual, 76))
	return c
}

func (c *blueprintCells) show(x bench.BlueprintRow) {
	for k, text := range []string{x.Region, x.System, x.Plane, x.Picture} {
		c.kinds[k].set(text)
	}
	c.there.set(strconv.Itoa(x.There))
	c.actual.set(strconv.Itoa(x.Actual))
	c.wanted.show(strconv.Itoa(x.Wanted))
	color := theme.ColorNameForeground
	if x.Actual < x.Wanted {
		color = theme.ColorNameWarning
	}
	c.actual.setColored(c.actual.text, color)
}

// showExamSlip is the slip by which an exam leaves: what, for which purpose, what the agreement says, and the folder.
func (w *Window) showExamSlip() {
	d := w.desk
	i := d.Exam()
	dir := w.field("exam:dir", filepath.Join(d.Lab().Dir, "hand-outs", "exam"))
	paper := w.options("exam:paper", paperNames, slices.Index(paperNames, i.Paper), func(n int) { d.SetExamPaper(paperNames[n]) })
	choose := w.button("exam:choose", "folder", "", edged, func() {
		w.pick(pick{title: say("handout.dir"), folders: true, done: func(p []string) { dir.SetText(p[0]) }})
	}).tipped(say("handout.dir"))
	refusal := newWords(strong, d.ExamRefusal()).colored(theme.ColorNameWarning)
	var s *sheet
	release := w.button("exam:release", "handout", say("handout.release"), primary, func() {
		to := strings.TrimSpace(dir.Text)
		if to == "" {
			w.focusOn(dir)
			return
		}
		s.close()
		d.ReleaseExam(to)
	})
	release.setOff(d.ExamRefusal() != "")
	col := newColumn(14, newWords(heading, say("examslip.title")), newWords(body, say("examslip.words", len(d.Stations()))),
		captioned(say("handout.purpose"), newWords(strong, say("purpose.exam"))),
		part(say("handout.agreement"), newWords(body, usesWords(d.Agreement()))),
		captioned(say("examslip.files"), newWords(body, say("examslip.files.words"))),
		captioned(say("handout.paper"), paper.box),
		captioned(say("handout.dir"), newRow(6, 0, dir, choose)), refusal,
		newWords(caption, say("ethics")), newWords(caption, say("diagnosis")))
	s = w.sheet(640, col, release, w.button("exam:no", "", say("cancel"), edged, func() { s.close() }))
	s.open(fyne.Focusable(dir))
}
