package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
	"sectionary/slices/section"
)

// faceScreen is the bench: one face fills the screen in a plain frame, the tools stand on a rail at its side,
// and the panel is that of the tool in hand.
type faceScreen struct {
	w     *Window
	face  *pane
	rail  map[bench.Tool]*button
	views map[section.View]*button
	grid  *button
	panel *roll
	hand  map[bench.Tool]toolPart
	name  *namePart
	head  *words
	hint  *words
	list  *labelList
	look  *lookPart
	card  *labelCard
	read  *readingPart
	box   *fyne.Container
	tool  bench.Tool
}

// toolPart is the part of the panel that belongs to one tool.
type toolPart interface {
	object() *fyne.Container
	refresh()
}

// railTools are the tools in the order of the work, with the key that takes each.
var railTools = []struct {
	tool           bench.Tool
	id, icon, note string
}{
	{bench.ToolPan, "hand", "hand", ""},
	{bench.ToolScale, "scale", "scale", "S"},
	{bench.ToolAxes, "axes", "axes", "X"},
	{bench.ToolOutline, "outline", "outline", "O"},
	{bench.ToolName, "name", "name", "N"},
	{bench.ToolMeasure, "measure", "measure", "M"},
	{bench.ToolBorder, "border", "border", "B"},
	{bench.ToolMask, "mask", "mask", "T"},
	{bench.ToolColour, "colour", "lamp", "R"},
}

func newFaceScreen(w *Window) *faceScreen {
	s := &faceScreen{w: w, rail: map[bench.Tool]*button{}, views: map[section.View]*button{}, face: w.newPane("face", w.desk.FacePane())}
	d := w.desk
	rail := newColumn(2)
	for _, t := range railTools {
		b := w.button("tool:"+t.id, t.icon, say("tool."+t.id), railed, func() { d.SetTool(t.tool) }).tipped(say("tool." + t.id + ".tip"))
		b.note = t.note
		s.rail[t.tool] = b
		rail.Add(b)
	}
	rail.Add(newInset(6, 8, newWords(caption, say("view.head"))))
	for _, v := range []struct {
		view section.View
		id   string
	}{{section.Bench, "bench"}, {section.Scan, "scan"}, {section.OtherSide, "otherside"}} {
		b := w.button("view:"+v.id, "view", say("view."+v.id), railed, func() { d.SetView(v.view) }).tipped(say("view." + v.id + ".tip"))
		s.views[v.view] = b
		rail.Add(b)
	}
	s.grid = w.button("view:grid", "grid", say("view.grid"), railed, func() { d.SetGrid(!d.Grid()) }).tipped(say("view.grid.tip"))
	s.grid.note = "G"
	rail.Add(s.grid)
	rail.Add(w.button("view:fit", "fit", say("view.fit"), railed, d.FitView).tipped(say("view.fit.tip")))
	rail.Add(w.button("step:up", "earlier", say("step.up"), railed, func() { w.key("Up") }).tipped(say("step.up.tip")))
	rail.Add(w.button("step:down", "later", say("step.down"), railed, func() { w.key("Down") }).tipped(say("step.down.tip")))
	left := bar(0, 0, w.roll(4, rail).Container)

	s.name, s.list, s.card, s.read = newNamePart(w), newLabelList(w), newLabelCard(w), newReadingPart(w)
	s.look = newLookPart(w)
	s.hand = map[bench.Tool]toolPart{
		bench.ToolPan: newHandPart(w), bench.ToolScale: newScalePart(w), bench.ToolAxes: newAxesPart(w),
		bench.ToolOutline: newOutlinePart(w), bench.ToolName: s.name, bench.ToolMeasure: newMeasurePart(w), bench.ToolMask: newMaskPart(w),
		bench.ToolColour: newColourPart(w), bench.ToolBorder: newBorderPart(w),
	}
	s.head, s.hint = newWords(title, ""), newWords(body, "")
	parts := []fyne.CanvasObject{newColumn(6, s.head, s.hint), s.look.wait}
	for _, t := range railTools {
		o := s.hand[t.tool].object()
		o.Hidden = true
		parts = append(parts, o)
	}
	parts = append(parts, s.look.box, s.card.box, s.list.box, s.read.box)
	r, sheet := w.panel(parts...)
	s.panel = r
	railWidth := rail.MinSize().Width + 18
	s.box = (&table{left: left, leftW: railWidth, middle: s.face, right: sheet, rightW: panelWidth(), gap: 1}).object()
	return s
}

func (s *faceScreen) object() fyne.CanvasObject { return s.box }
func (s *faceScreen) picture() *pane            { return s.face }

func (s *faceScreen) refresh(c bench.Change) {
	if c&^(bench.PointerChanged|bench.JobsChanged|bench.SavedChanged) == 0 {
		return
	}
	d := s.w.desk
	for v, b := range s.views {
		b.setOn(d.View() == v)
	}
	s.grid.setOn(d.Grid())
	if c&^(bench.ViewChanged|bench.PointerChanged|bench.JobsChanged|bench.SavedChanged) == 0 {
		return
	}
	now := d.Tool()
	for t, b := range s.rail {
		b.setOn(t == now)
		s.hand[t].object().Hidden = t != now
	}
	s.hand[now].refresh()
	s.head.set(s.headWords(now))
	showHint(s.hint, d)
	s.list.refresh()
	s.card.refresh()
	s.read.refresh()
	s.look.refresh()
	r := d.Reading()
	s.look.box.Hidden = r.Comparing || r.Blind || now != bench.ToolPan
	s.look.wait.Hidden = s.look.wait.Hidden || r.Comparing
	s.list.box.Hidden = r.Comparing // its rows stand in the comparison
	s.card.box.Hidden = s.card.box.Hidden || r.Comparing || r.Blind
	s.panel.relay()
	if now != s.tool {
		s.tool = now
		if now == bench.ToolName {
			s.name.begin()
		}
	}
}

// headWords head the panel: the tool in hand, or the face when none is.
func (s *faceScreen) headWords(now bench.Tool) string {
	if now == bench.ToolPan {
		if f := s.w.desk.Face(); f.Slab != 0 {
			return s.w.desk.Info(f).Name
		}
		return say("run.noface")
	}
	for _, t := range railTools {
		if t.tool == now {
			return say("tool." + t.id)
		}
	}
	return ""
}

// showHint shows the line that says what to do next, or why something was refused.
func showHint(w *words, d desk) {
	text, warn := d.Hint()
	color := theme.ColorNameForeground
	if warn {
		color = theme.ColorNameWarning
	}
	w.setColored(text, color)
}
