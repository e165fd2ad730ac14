package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/theme"
)

// roll is a column that scrolls up and down when it is longer than its place. Its words wrap at the width of
// the place, less the scroll bar.
type roll struct {
	*fyne.Container
	w      *Window
	scroll *container.Scroll
	inner  *rollInner
	col    fyne.CanvasObject
}

type rollInner struct {
	width float32
	pad   float32
}

func (l *rollInner) MinSize(o []fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(0, heightFor(o[0], l.width-2*l.pad)+2*l.pad)
}

func (l *rollInner) Layout(o []fyne.CanvasObject, size fyne.Size) {
	o[0].Move(fyne.NewPos(l.pad, l.pad))
	o[0].Resize(fyne.NewSize(l.width-2*l.pad, max(0, size.Height-2*l.pad)))
}

func (w *Window) roll(pad float32, col fyne.CanvasObject) *roll {
	r := &roll{w: w, inner: &rollInner{width: grown(200), pad: pad}, col: col}
	r.scroll = container.NewVScroll(container.New(r.inner, col))
	r.Container = container.New(r, r.scroll)
	w.rolls = append(w.rolls, r)
	return r
}

func (r *roll) MinSize([]fyne.CanvasObject) fyne.Size { return fyne.NewSize(80, 60) }

// heightFor is the height that needs no scrolling.
func (r *roll) heightFor(_ []fyne.CanvasObject, width float32) float32 {
	return heightFor(r.col, width-r.barWidth()-2*r.inner.pad) + 2*r.inner.pad
}

func (r *roll) barWidth() float32 { return theme.Size(theme.SizeNameScrollBarSmall) + 3 }

func (r *roll) Layout(o []fyne.CanvasObject, size fyne.Size) {
	r.inner.width = max(40, size.Width-r.barWidth())
	r.scroll.Resize(size)
	r.scroll.Refresh()
}

// relay lays the column out again after its contents changed.
func (r *roll) relay() {
	relaid(r.Container)
	if c, ok := r.scroll.Content.(*fyne.Container); ok {
		relaid(c)
	}
	relayDeep(r.col)
}

// relayDeep lays out every container below o again at the size it has.
func relayDeep(o fyne.CanvasObject) {
	if c, ok := o.(*fyne.Container); ok && c.Layout != nil {
		relaid(c)
		for _, k := range c.Objects {
			relayDeep(k)
		}
	}
}

// contains reports whether o stands somewhere in the column.
func contains(in, o fyne.CanvasObject) bool {
	if in == o {
		return true
	}
	if c, ok := in.(*fyne.Container); ok {
		for _, k := range c.Objects {
			if contains(k, o) {
				return true
			}
		}
	}
	return false
}

// reveal scrolls so that o, which has the keyboard now, can be seen.
func (w *Window) reveal(o fyne.CanvasObject) {
	for _, r := range w.rolls {
		if !contains(r.col, o) {
			continue
		}
		d := fyne.CurrentApp().Driver()
		y := d.AbsolutePositionForObject(o).Y - d.AbsolutePositionForObject(r.scroll).Y
		room := r.scroll.Size().Height
		off := r.scroll.Offset
		switch {
		case y < 0:
			off.Y += y - 8
		case y+o.Size().Height > room:
			off.Y += y + o.Size().Height - room + 8
		default:
			return
		}
		r.scroll.ScrollToOffset(off)
	}
}
