package ui

import (
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/theme"
)

// tips is a layer above the window that says what a button does once the pointer has rested on it. Fyne's own
// pop-ups would swallow the click, so the layer takes no events at all.
type tips struct {
	layer *fyne.Container
	slip  *fyne.Container
	text  *words
	paint func() // paints the window anew
	wait  func() // stops the clock
	clock func(d time.Duration, f func()) (cancel func())
}

func newTips(clock func(time.Duration, func()) func(), paint func()) *tips {
	t := &tips{clock: clock, paint: paint, text: newLine(caption, "").colored(theme.ColorNameForeground)}
	ground := canvas.NewRectangle(ink(theme.ColorNameInputBackground))
	ground.StrokeColor, ground.StrokeWidth, ground.CornerRadius = ink(theme.ColorNameInputBorder), 1, 2
	t.slip = container.New(&inset{8, 5}, ground, t.text)
	t.slip.Hide()
	t.layer = container.NewWithoutLayout(t.slip)
	return t
}

func (t *tips) after(b *button) {
	t.hide()
	if b.tip == "" || b.tip == b.label {
		return
	}
	t.wait = t.clock(500*time.Millisecond, func() { t.show(b) })
}

func (t *tips) show(b *button) {
	if !b.hover {
		return
	}
	t.text.set(b.tip)
	size := t.slip.MinSize()
	at := fyne.CurrentApp().Driver().AbsolutePositionForObject(b)
	room := t.layer.Size()
	x := min(max(4, at.X), max(4, room.Width-size.Width-4))
	y := at.Y + b.Size().Height + 4
	if y+size.Height > room.Height {
		y = at.Y - size.Height - 4
	}
	t.slip.Resize(size)
	t.slip.Move(fyne.NewPos(x, y))
	t.slip.Show()
	t.paint() // showing a container alone paints nothing
}

func (t *tips) hide() {
	if t.wait != nil {
		t.wait()
		t.wait = nil
	}
	if t.slip.Visible() {
		t.slip.Hide()
	}
}
