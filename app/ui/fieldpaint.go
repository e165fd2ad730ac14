package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"
)

// fieldPaint lays a field of one line out: its words stand in the middle of the height a finger needs, and the wheel over
// it goes to the column it stands in, which would otherwise stand still under a hand that meets a field on its way down.
type fieldPaint struct {
	fyne.WidgetRenderer
	f     *field
	wheel *wheel
}

// CreateRenderer implements fyne.Widget.
func (f *field) CreateRenderer() fyne.WidgetRenderer {
	inner := f.Entry.CreateRenderer()
	if f.MultiLine { // its own words scroll
		return inner
	}
	w := &wheel{of: f}
	w.ExtendBaseWidget(w)
	return &fieldPaint{WidgetRenderer: inner, f: f, wheel: w}
}

func (p *fieldPaint) Layout(size fyne.Size) {
	p.WidgetRenderer.Layout(size)
	p.wheel.Resize(size)
	over := size.Height - p.WidgetRenderer.MinSize().Height
	if over <= 0 {
		return
	}
	for _, o := range p.WidgetRenderer.Objects() {
		if s, ok := o.(*container.Scroll); ok {
			s.Move(s.Position().AddXY(0, over/2))
			s.Resize(s.Size().SubtractWidthHeight(0, over))
		}
	}
}

func (p *fieldPaint) Objects() []fyne.CanvasObject {
	inner := p.WidgetRenderer.Objects()
	return append(inner[:len(inner):len(inner)], p.wheel)
}

// wheel lies unseen over a field and takes nothing but the wheel.
type wheel struct {
	widget.BaseWidget
	of *field
}

func (w *wheel) CreateRenderer() fyne.WidgetRenderer {
	return widget.NewSimpleRenderer(container.NewWithoutLayout())
}

// Scrolled hands the wheel to the column the field stands in.
func (w *wheel) Scrolled(e *fyne.ScrollEvent) {
	for _, r := range w.of.w.rolls {
		if contains(r.col, w.of) {
			r.scroll.Scrolled(e)
			return
		}
	}
}
