package ui

import (
	"math"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
)

// Words wrap, so how tall something is depends on how wide it may be. Fyne's layouts ask only for a smallest
// size; ours ask heightFor, which every wrapping thing answers, so nothing needs two passes.
type wrapping interface{ heightFor(width float32) float32 }

type wrappingLayout interface {
	heightFor(objects []fyne.CanvasObject, width float32) float32
}

func heightFor(o fyne.CanvasObject, width float32) float32 {
	if w, ok := o.(wrapping); ok {
		return w.heightFor(width)
	}
	if c, ok := o.(*fyne.Container); ok {
		if l, ok := c.Layout.(wrappingLayout); ok {
			return l.heightFor(c.Objects, width)
		}
	}
	return o.MinSize().Height
}

func shown(objects []fyne.CanvasObject) []fyne.CanvasObject {
	out := make([]fyne.CanvasObject, 0, len(objects))
	for _, o := range objects {
		if w, ok := o.(*words); ok && w.text == "" {
			continue // nothing said takes no room, not even a gap
		}
		if o.Visible() {
			out = append(out, o)
		}
	}
	return out
}

func widest(objects []fyne.CanvasObject) float32 {
	var w float32
	for _, o := range objects {
		w = max(w, o.MinSize().Width)
	}
	return w
}

// column lays objects one under the other at full width.
type column struct{ gap float32 }

func newColumn(gap float32, objects ...fyne.CanvasObject) *fyne.Container {
	return container.New(&column{gap}, objects...)
}

func (l *column) heightFor(objects []fyne.CanvasObject, width float32) float32 {
	var h float32
	for i, o := range shown(objects) {
		if i > 0 {
			h += l.gap
		}
		h += heightFor(o, width)
	}
	return h
}

func (l *column) MinSize(objects []fyne.CanvasObject) fyne.Size {
	w := widest(shown(objects))
	return fyne.NewSize(w, l.heightFor(objects, w))
}

func (l *column) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	var y float32
	for _, o := range shown(objects) {
		h := heightFor(o, size.Width)
		o.Move(fyne.NewPos(0, y))
		o.Resize(fyne.NewSize(size.Width, h))
		y += h + l.gap
	}
}

// row lays objects side by side. The one at index stretch takes the room that is left; the others keep their
// smallest width. All get the full height.
type row struct {
	gap     float32
	stretch int     // -1: none
	least   float32 // width of those that do not stretch
}

func newRow(gap float32, stretch int, objects ...fyne.CanvasObject) *fyne.Container {
	return container.New(&row{gap: gap, stretch: stretch}, objects...)
}

func (l *row) widths(objects []fyne.CanvasObject, width float32) []float32 {
	out := make([]float32, len(objects))
	used, n := float32(0), 0
	for i, o := range objects {
		if !o.Visible() {
			continue
		}
		n++
		if i != l.stretch {
			out[i] = max(l.least, o.MinSize().Width)
			used += out[i]
		}
	}
	if l.stretch >= 0 && l.stretch < len(objects) && objects[l.stretch].Visible() {
		out[l.stretch] = max(0, width-used-l.gap*float32(max(0, n-1)))
	}
	return out
}

func (l *row) heightFor(objects []fyne.CanvasObject, width float32) float32 {
	var h float32
	ws := l.widths(objects, width)
	for i, o := range objects {
		if o.Visible() {
			h = max(h, heightFor(o, ws[i]))
		}
	}
	return h
}

func (l *row) MinSize(objects []fyne.CanvasObject) fyne.Size {
	var w, h float32
	vis := shown(objects)
	for _, o := range vis {
		m := o.MinSize()
		w, h = w+m.Width, max(h, m.Height)
	}
	return fyne.NewSize(w+l.gap*float32(max(0, len(vis)-1)), h)
}

func (l *row) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	ws := l.widths(objects, size.Width)
	var x float32
	for i, o := range objects {
		if !o.Visible() {
			continue
		}
		o.Move(fyne.NewPos(x, 0))
		o.Resize(fyne.NewSize(ws[i], size.Height))
		x += ws[i] + l.gap
	}
}

// flow lays objects like words on a line and goes on below when the line is full.
type flow struct{ gap float32 }

func newFlow(gap float32, objects ...fyne.CanvasObject) *fyne.Container {
	return container.New(&flow{gap}, objects...)
}

func (l *flow) run(objects []fyne.CanvasObject, width float32, put func(o fyne.CanvasObject, x, y, w, h float32)) float32 {
	var x, y, line float32
	for _, o := range shown(objects) {
		m := o.MinSize()
		w := min(m.Width, width)
		h := heightFor(o, w)
		if x > 0 && x+w > width+0.5 {
			x, y, line = 0, y+line+l.gap, 0
		}
		if put != nil {
			put(o, x, y, w, h)
		}
		x, line = x+w+l.gap, max(line, h)
	}
	return y + line
}

func (l *flow) heightFor(objects []fyne.CanvasObject, width float32) float32 {
	return l.run(objects, width, nil)
}

func (l *flow) MinSize(objects []fyne.CanvasObject) fyne.Size {
	w := widest(shown(objects))
	return fyne.NewSize(w, l.heightFor(objects, w))
}

func (l *flow) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	l.run(objects, size.Width, func(o fyne.CanvasObject, x, y, w, h float32) {
		o.Move(fyne.NewPos(x, y))
		o.Resize(fyne.NewSize(w, h))
	})
}

// inset keeps room on all sides of its last object and lays the ones before it, grounds and edges, under all.
type inset struct{ h, v float32 }

func (l *inset) heightFor(objects []fyne.CanvasObject, width float32) float32 {
	return heightFor(objects[len(objects)-1], width-2*l.h) + 2*l.v
}

func (l *inset) MinSize(objects []fyne.CanvasObject) fyne.Size {
	return objects[len(objects)-1].MinSize().AddWidthHeight(2*l.h, 2*l.v)
}

func (l *inset) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	last := len(objects) - 1
	for _, o := range objects[:last] {
		o.Move(fyne.NewPos(0, 0))
		o.Resize(size)
	}
	objects[last].Move(fyne.NewPos(l.h, l.v))
	objects[last].Resize(size.SubtractWidthHeight(2*l.h, 2*l.v))
}

func newInset(h, v float32, content fyne.CanvasObject) *fyne.Container {
	return container.New(&inset{h, v}, content)
}

// paper is a sheet of paper with a hairline edge under content.
func paper(h, v float32, content fyne.CanvasObject) *fyne.Container {
	r := canvas.NewRectangle(ink(colorPaper))
	r.StrokeColor, r.StrokeWidth, r.CornerRadius = ink(colorEdge), 1, 2
	return container.New(&inset{h, v}, r, content)
}

// bar is a strip of paper without an edge.
func bar(h, v float32, content fyne.CanvasObject) *fyne.Container {
	return container.New(&inset{h, v}, canvas.NewRectangle(ink(colorPaper)), content)
}

// table lays a screen: strips at top and bottom as tall as their words need, sides of a fixed width, and the
// middle with all the room that is left. Any of them may be nil.
type table struct {
	top, bottom, left, right, middle fyne.CanvasObject
	leftW, rightW, gap               float32
	least                            fyne.Size
}

func (l *table) object() *fyne.Container {
	c := container.New(l)
	for _, o := range []fyne.CanvasObject{l.middle, l.left, l.right, l.bottom, l.top} {
		if o != nil {
			c.Objects = append([]fyne.CanvasObject{o}, c.Objects...)
		}
	}
	return c
}

func (l *table) MinSize([]fyne.CanvasObject) fyne.Size { return l.least }

func (l *table) Layout(_ []fyne.CanvasObject, size fyne.Size) {
	size = fyne.NewSize(floor(size.Width), floor(size.Height)) // whole units keep pictures crisp
	put := func(o fyne.CanvasObject, x, y, w, h float32) {
		o.Move(fyne.NewPos(x, y))
		o.Resize(fyne.NewSize(max(0, w), max(0, h)))
	}
	x0, y0, x1, y1 := float32(0), float32(0), size.Width, size.Height
	if l.top != nil && l.top.Visible() {
		h := ceil(heightFor(l.top, size.Width))
		put(l.top, 0, 0, size.Width, h)
		y0 = h + l.gap
	}
	if l.bottom != nil && l.bottom.Visible() {
		h := ceil(heightFor(l.bottom, size.Width))
		put(l.bottom, 0, size.Height-h, size.Width, h)
		y1 -= h + l.gap
	}
	if l.left != nil && l.left.Visible() {
		put(l.left, 0, y0, ceil(l.leftW), y1-y0)
		x0 = ceil(l.leftW) + l.gap
	}
	if l.right != nil && l.right.Visible() {
		put(l.right, size.Width-ceil(l.rightW), y0, ceil(l.rightW), y1-y0)
		x1 -= ceil(l.rightW) + l.gap
	}
	if l.middle != nil {
		put(l.middle, x0, y0, x1-x0, y1-y0)
	}
}

func ceil(v float32) float32  { return float32(math.Ceil(float64(v))) }
func floor(v float32) float32 { return float32(math.Floor(float64(v))) }

// relaid lays a table out again after words in it changed their height.
func relaid(c *fyne.Container) {
	if s := c.Size(); s.Width > 0 {
		c.Layout.Layout(c.Objects, s)
	}
}
