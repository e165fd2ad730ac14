package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
)

// pointerCross is the linked pointer drawn over a pane: a cross on a dark ground, so that it is seen on bone as on air, the
// circle of its error, and beside it what lies there.
type pointerCross struct {
	lines  [4]*canvas.Line // the dark ground of both, then both
	circle *canvas.Circle
	ground *canvas.Rectangle
	said   *canvas.Text

	room, asked float32 // the width of the pane and the size of text the words were set for
}

func newPointerCross() (x pointerCross) {
	for i := range x.lines {
		l := canvas.NewLine(evening.surround)
		l.StrokeWidth, l.Hidden = 3.5, true
		if i > 1 {
			l.StrokeColor, l.StrokeWidth = evening.chosen, 1.5
		}
		x.lines[i] = l
	}
	x.circle = canvas.NewCircle(nil)
	x.circle.StrokeColor, x.circle.StrokeWidth, x.circle.Hidden = evening.chosen, 1.5, true
	x.ground = canvas.NewRectangle(evening.surround)
	x.ground.CornerRadius, x.ground.Hidden = 3, true
	x.said = canvas.NewText("", evening.chosen)
	x.said.Hidden = true
	return x
}

func (x *pointerCross) objects() []fyne.CanvasObject {
	return []fyne.CanvasObject{x.lines[0], x.lines[1], x.lines[2], x.lines[3], x.circle, x.ground, x.said}
}

func (x *pointerCross) hide() {
	if !x.lines[0].Visible() {
		return
	}
	for _, o := range x.objects() {
		o.Hide()
	}
}

// show puts the cross at c of a pane of that size, with a circle of that radius where it is more than 0.
func (x *pointerCross) show(c fyne.Position, radius float32, said string, size fyne.Size) {
	const arm = 14
	for i, l := range x.lines {
		d := fyne.NewPos(arm, 0)
		if i%2 == 1 {
			d = fyne.NewPos(0, arm)
		}
		l.Position1, l.Position2, l.Hidden = c.Subtract(d), c.Add(d), false
		l.Refresh()
	}
	x.circle.Hidden = radius <= 0
	if radius > 0 {
		x.circle.Move(c.SubtractXY(radius, radius))
		x.circle.Resize(fyne.NewSize(2*radius, 2*radius))
	}
	x.circle.Refresh()
	x.say(c, radius, said, size)
}

// say writes what lies at c to its right and above, or on the side where there is room.
func (x *pointerCross) say(c fyne.Position, radius float32, said string, size fyne.Size) {
	x.ground.Hidden, x.said.Hidden = said == "", said == ""
	if said == "" {
		x.ground.Refresh()
		x.said.Refresh()
		return
	}
	if x.said.Text != said || x.room != size.Width || x.asked != caption.size() {
		x.room, x.asked = size.Width, caption.size()
		x.said.Text, x.said.TextSize = said, x.asked
		if w := x.said.MinSize().Width; w > x.room/2 { // large words would hide the picture that they speak of
			x.said.TextSize = max(min(12, x.asked), x.asked*x.room/2/w)
		}
		x.said.Refresh()
	}
	const pad, gap = 4, 18
	least := x.said.MinSize()
	box := least.AddWidthHeight(2*pad, 2*pad)
	off := max(radius, 0) + gap
	at := fyne.NewPos(c.X+off, c.Y-off-box.Height)
	if at.X+box.Width > size.Width {
		at.X = max(0, c.X-off-box.Width)
	}
	if at.Y < 0 {
		at.Y = c.Y + off
	}
	x.ground.Move(at)
	x.ground.Resize(box)
	x.said.Move(at.AddXY(pad, pad))
	x.said.Resize(least)
}
