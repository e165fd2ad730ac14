package ui

import (
	"image"
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"sectionary/annotate"
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
	r.hatch = canvas.NewRaster(func(w, h int) image.Image { return hatched(w, h, hatchOf(s.letter)) })
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

// hatchOf is the hatch of the kind with this letter, 0 when there is none.
func hatchOf(letter string) int {
	for k := annotate.Other; k <= annotate.Part; k++ {
		if k.Letter() == letter {
			return k.Hatch()
		}
	}
	return 0
}

// hatched draws a small piece of one of annotate's hatch patterns in ink on the ground of a field.
func hatched(w, h, hatch int) image.Image {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	ground, line := color.RGBAModel.Convert(ink(theme.ColorNameInputBackground)).(color.RGBA), color.RGBAModel.Convert(ink(theme.ColorNameForeground)).(color.RGBA)
	const p = 6 // pixels from line to line
	mod := func(n, by int) int { return ((n % by) + by) % by }
	for y := range h {
		for x := range w {
			up, down := mod(x+y, p) == 0, mod(x-y, p) == 0
			on := false
			switch hatch {
			case 1:
				on = up
			case 2:
				on = down
			case 3:
				on = x%p == 2
			case 4:
				on = y%p == 2
			case 5:
				on = up || down
			case 6:
				on = x%4 < 2 && y%4 < 2 && (x/4+y/4)%2 == 0
			case 7:
				on = x%p == 0 || y%p == 0
			case 8:
				on = up && x%8 < 5
			case 9:
				on = down && x%8 < 5
			case 10:
				dx, dy := x%8-4, y%8-4
				d := dx*dx + dy*dy
				on = d >= 5 && d <= 10
			case 11:
				on = x%8 < 2 && y%8 < 2
			}
			c := ground
			if on {
				c = line
			}
			m.SetRGBA(x, y, c)
		}
	}
	return m
}
