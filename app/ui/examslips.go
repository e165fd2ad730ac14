package ui

import (
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"sectionary/app/bench"
)

// showAskable lists every label of the lab: those that can be asked to be taken or left, the others with the reason; a
// click on one of those goes where it can be put right.
func (w *Window) showAskable() {
	d := w.desk
	all := d.Askable()
	on, ready := map[string]bool{}, 0
	for _, x := range all {
		on[x.ID] = x.On
		if x.Ready {
			ready++
		}
	}
	var rows []bench.AskRow
	lead, typed := newWords(body, say("ask.lead", ready, len(all)-ready)), w.field("ask:find", "")
	switch {
	case len(all) == 0:
		lead.set(say("ask.none"))
	case ready == 0:
		lead.set(say("ask.lead.no", len(all), all[0].Why))
	case ready == len(all):
		lead.set(say("ask.lead.all", ready))
	}
	take := w.button("ask:ok", "check", "", primary, nil)
	var list *widget.List
	read := func() {
		rows = rows[:0]
		n := 0
		for _, x := range all {
			if on[x.ID] {
				n++
			}
			if askFits(x, typed.Text) {
				rows = append(rows, x)
			}
		}
		take.state(say("ask.ok", n), false, false)
		if list != nil {
			list.Refresh()
		}
	}
	var s *sheet
	list = widget.NewList(func() int { return len(rows) }, func() fyne.CanvasObject { return w.button("", "check", "x", lined, nil) },
		func(i widget.ListItemID, o fyne.CanvasObject) {
			if i >= len(rows) {
				return
			}
			x, b := rows[i], o.(*button)
			b.id, b.icon, b.note, b.tip = "ask:"+strconv.Itoa(i+1), "", x.Where, ""
			if on[x.ID] {
				b.icon = "check"
			}
			if !x.Ready {
				b.icon, b.note, b.tip = "caution", x.Why, x.Why
			}
			b.tapped = func() {
				if !x.Ready {
					s.close()
					d.GoToLabel(x.ID)
					return
				}
				on[x.ID] = !on[x.ID]
				read()
			}
			room := min(grown(860), w.win.Canvas().Size().Width-40) - 40 - 8 - 24 - 10 - theme.Size(theme.SizeNameInlineIcon) - 8
			b.label, b.on, b.off = fitted(x.Name, room*0.5), on[x.ID], false
			b.note = fitted(b.note, room*0.96-fyne.MeasureText(b.label, theme.Size(theme.SizeNameText), fyne.TextStyle{}).Width)
			b.Refresh()
		})
	list.HideSeparators = true
	list.OnSelected = func(i widget.ListItemID) {
		list.UnselectAll()
		if i < len(rows) && rows[i].Ready {
			on[rows[i].ID] = !on[rows[i].ID]
			read()
		}
	}
	typed.OnChanged = func(string) { read() }
	set := func(to bool) func() {
		return func() {
			for _, x := range rows {
				on[x.ID] = x.Ready && to
			}
			read()
		}
	}
	take.tapped = func() {
		var in, out []string
		for _, x := range all {
			if on[x.ID] && !x.On {
				in = append(in, x.ID)
			} else if x.On && !on[x.ID] {
				out = append(out, x.ID)
			}
		}
		s.close()
		d.Ask(in, out)
	}
	read()
	content := (&table{top: newColumn(8, newWords(title, say("ask.title")), lead, captioned(say("ask.find"), typed)), middle: list, gap: 8}).object()
	s = w.filled(860, content, take, w.button("ask:all", "", say("ask.all"), edged, set(true)), w.button("ask:nothing", "", say("ask.nothing"), edged, set(false)),
		w.button("ask:no", "", say("cancel"), edged, func() { s.close() }))
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
	if len(d.Blueprint()) == 0 {
		lead.set(say("blueprint.none"))
		if why := d.ExamRefusal(); why != "" {
			gaps.set(why)
		}
	}
	col := newColumn(10, newWords(title, say("blueprint.title")), lead,
		captioned(say("blueprint.count"), newRow(8, -1, newLineHolder(count, 90), even)), blueprintHead(), rows, gaps)
	fill := w.button("blueprint:fill", "check", say("blueprint.fill"), primary, func() { d.FillBlueprint(); s.close() })
	s = w.sheet(940, col, fill, w.button("blueprint:no", "", say("cancel"), edged, func() { s.close() }))
	s.tall = true
	s.open(fyne.Focusable(count))
}

func blueprintHead() *fyne.Container {
	line := newRow(8, 0, newWords(caption, say("blueprint.kinds")))
	for _, k := range []string{say("blueprint.there"), say("blueprint.wanted"), say("blueprint.actual")} {
		line.Add(newLineHolder(newWords(caption, k), 76))
	}
	return line
}

// blueprintCells is one row of the table.
type blueprintCells struct {
	box           *fyne.Container
	kinds         *words
	there, actual *words
	wanted        *field
	changed       func()
}

func newBlueprintCells(w *Window, i int) *blueprintCells {
	c := &blueprintCells{there: newWords(body, ""), actual: newWords(strong, "")}
	c.kinds = newWords(body, "")
	c.box = newRow(8, 0, container.New(&middle{}, c.kinds))
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
	c.kinds.set(strings.Join([]string{x.Region, x.System, x.Plane, x.Picture}, "  ·  "))
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

// showElsewhere lists the pictures on which the structure of the chosen station can be asked.
func (w *Window) showElsewhere() {
	d := w.desk
	d.Elsewhere(func(pictures []string) {
		x, _ := d.Station()
		rows := newColumn(2)
		var s *sheet
		var first fyne.Focusable
		for i, words := range pictures {
			b := w.button("elsewhere:"+strconv.Itoa(i+1), "", fitted(words, min(grown(640), w.win.Canvas().Size().Width-40)-40-8-24), lined, func() {
				s.close()
				d.ShowOn(i)
			})
			b.tip = words
			if first == nil {
				first = b
			}
			rows.Add(b)
		}
		s = w.sheet(640, newColumn(10, newWords(title, say("elsewhere.title")), newWords(body, x.Name), rows), w.button("elsewhere:no", "", say("cancel"), edged, func() { s.close() }))
		s.open(first)
	})
}
