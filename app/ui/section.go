package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
)

// panelWidth is the width of the panel at the right of a screen. It grows less than the words do, so that the
// picture keeps its place at 200 %.
func panelWidth() float32 {
	s := theme.Size(theme.SizeNameText) / 14
	return 316 * (1 + (s-1)*0.42)
}

// part is a headed part of a panel: a hairline, a heading and its things, a little apart.
func part(head string, objects ...fyne.CanvasObject) *fyne.Container {
	line := canvas.NewRectangle(ink(colorEdge))
	line.SetMinSize(fyne.NewSize(10, 1))
	all := append([]fyne.CanvasObject{line, newWords(title, head)}, objects...)
	return newColumn(8, all...)
}

// headless is the first part of a panel: no hairline above it.
func headless(head *words, objects ...fyne.CanvasObject) *fyne.Container {
	return newColumn(8, append([]fyne.CanvasObject{head}, objects...)...)
}

// panel is the sheet of paper at the right of a screen, scrolling when it is long.
func (w *Window) panel(parts ...fyne.CanvasObject) (*roll, *fyne.Container) {
	r := w.roll(14, newColumn(18, parts...))
	return r, bar(0, 0, r.Container)
}

// pair lays two things side by side, halving the width.
type pair struct{ gap float32 }

func newPair(gap float32, a, b fyne.CanvasObject) *fyne.Container {
	return &fyne.Container{Layout: &pair{gap}, Objects: []fyne.CanvasObject{a, b}}
}

func (l *pair) MinSize(o []fyne.CanvasObject) fyne.Size {
	a, b := o[0].MinSize(), o[1].MinSize()
	return fyne.NewSize(a.Width+b.Width+l.gap, max(a.Height, b.Height))
}

func (l *pair) Layout(o []fyne.CanvasObject, size fyne.Size) {
	half := floor((size.Width - l.gap) / 2)
	o[0].Move(fyne.NewPos(0, 0))
	o[0].Resize(fyne.NewSize(half, size.Height))
	o[1].Move(fyne.NewPos(half+l.gap, 0))
	o[1].Resize(fyne.NewSize(size.Width-half-l.gap, size.Height))
}
