package ui

import (
	"image"
	"image/color"
	"image/draw"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"sectionary/app/bench"
)

// swatch tells a structure's kind by its letter and hatch, so that nothing hangs on colour.
type swatch struct {
	widget.BaseWidget
	letter string
}

func newSwatch() *swatch {
	s := &swatch{}
	s.ExtendBaseWidget(s)
	return s
}

func (s *swatch) set(letter string) {
	if s.letter != letter {
		s.letter = letter
		s.Refresh()
	}
}

func (s *swatch) side() float32 { return grown(26) }

func (s *swatch) MinSize() fyne.Size { return fyne.NewSize(2*s.side(), s.side()) }

func (s *swatch) CreateRenderer() fyne.WidgetRenderer {
	r := &swatchRenderer{s: s, box: canvas.NewRectangle(nil), text: canvas.NewText("", nil)}
	r.hatch = canvas.NewRaster(func(w, h int) image.Image { return hatched(w, h, s.letter) })
	r.hatch.ScaleMode = canvas.ImageScalePixels
	r.style()
	return r
}

type swatchRenderer struct {
	s     *swatch
	box   *canvas.Rectangle
	hatch *canvas.Raster
	text  *canvas.Text
}

func (r *swatchRenderer) style() {
	r.box.StrokeColor, r.box.StrokeWidth = ink(theme.ColorNameInputBorder), 1
	r.text.Text, r.text.Color, r.text.TextSize = r.s.letter, ink(theme.ColorNameForeground), caption.size()
	r.text.TextStyle, r.text.Alignment = fyne.TextStyle{Bold: true}, fyne.TextAlignCenter
}

func (r *swatchRenderer) Layout(size fyne.Size) {
	a := min(r.s.side(), size.Height)
	y := (size.Height - a) / 2
	r.box.Move(fyne.NewPos(0, y))
	r.box.Resize(fyne.NewSize(2*a, a))
	r.hatch.Move(fyne.NewPos(a, y+1))
	r.hatch.Resize(fyne.NewSize(a-1, a-2))
	h := r.text.MinSize().Height
	r.text.Move(fyne.NewPos(0, (size.Height-h)/2))
	r.text.Resize(fyne.NewSize(a, h))
}

func (r *swatchRenderer) MinSize() fyne.Size { return r.s.MinSize() }

func (r *swatchRenderer) Refresh() {
	r.style()
	r.Layout(r.s.Size())
	r.box.Refresh()
	r.hatch.Refresh()
	r.text.Refresh()
}

func (r *swatchRenderer) Objects() []fyne.CanvasObject {
	return []fyne.CanvasObject{r.hatch, r.box, r.text}
}

func (r *swatchRenderer) Destroy() {}

// hatched draws a small piece of the hatch of the kind with this letter, in ink on the ground of a field.
func hatched(w, h int, letter string) image.Image {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	ground, line := color.RGBAModel.Convert(ink(theme.ColorNameInputBackground)).(color.RGBA), color.RGBAModel.Convert(ink(theme.ColorNameForeground)).(color.RGBA)
	draw.Draw(m, m.Rect, image.NewUniform(ground), image.Point{}, draw.Src)
	bench.PaintHatch(m, letter, 6, line)
	return m
}
