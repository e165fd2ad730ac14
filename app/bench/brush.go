package bench

import (
	"image"
	"image/color"
	"math"
	"strings"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/section"
)

// brush draws words and small signs of one pane; lengths given to it in units grow with the text size.
type brush struct {
	dst        *image.RGBA
	s          float64 // device pixels for each unit
	font, bold *ink.Font
	pal        *Palette
}

func (b *Bench) brush(dst *image.RGBA, scale float64) brush {
	return brush{dst, scale, b.font, b.bold, &b.pal}
}

// on is the same brush on another part of the picture.
func (r brush) on(dst *image.RGBA) brush { r.dst = dst; return r }

// u turns units into device pixels.
func (r brush) u(units float64) float64 { return units * r.s }

// n turns units into whole device pixels, at least one.
func (r brush) n(units float64) int { return max(1, int(math.Round(units*r.s))) }

// Text sizes in units.
const (
	smallText = 11.5
	bodyText  = 13.5
	bigText   = 20
)

// text writes s with its left end at x and its middle at y.
func (r brush) text(f *ink.Font, x, y, size float64, c color.RGBA, s string) {
	_, up, down := f.Measure(r.u(size), s)
	f.Text(r.dst, geom.Px{X: math.Round(x), Y: math.Round(y + (up-down)/2)}, r.u(size), c, s)
}

// centred writes s with its middle at (x, y).
func (r brush) centred(f *ink.Font, x, y, size float64, c color.RGBA, s string) {
	r.text(f, x-r.width(f, size, s)/2, y, size, c, s)
}

// ending writes s with its right end at x.
func (r brush) ending(f *ink.Font, x, y, size float64, c color.RGBA, s string) {
	r.text(f, x-r.width(f, size, s), y, size, c, s)
}

func (r brush) width(f *ink.Font, size float64, s string) float64 {
	w, _, _ := f.Measure(r.u(size), s)
	return w
}

// lineHeight is the way from one line of text to the next in device pixels.
func (r brush) lineHeight(size float64) float64 { return math.Ceil(r.u(size) * 1.36) }

// wrap breaks s into lines no wider than width device pixels.
func (r brush) wrap(f *ink.Font, size, width float64, s string) []string {
	var out []string
	for _, para := range strings.Split(s, "\n") {
		line := ""
		for _, word := range strings.Fields(para) {
			next := word
			if line != "" {
				next = line + " " + word
			}
			if line != "" && r.width(f, size, next) > width {
				out = append(out, line)
				next = word
			}
			line = next
		}
		out = append(out, line)
	}
	return out
}

// block writes wrapped lines centred in rect.
func (r brush) block(f *ink.Font, rect image.Rectangle, size float64, c color.RGBA, s string) {
	lines := r.wrap(f, size, float64(rect.Dx())*0.86, s)
	h := r.lineHeight(size)
	y := float64(rect.Min.Y+rect.Max.Y)/2 - h*float64(len(lines)-1)/2
	for _, l := range lines {
		r.centred(f, float64(rect.Min.X+rect.Max.X)/2, y, size, c, l)
		y += h
	}
}

// plate writes s on a small dark plate whose upper left corner is at (x, y), and returns the plate.
func (r brush) plate(x, y int, c color.RGBA, ground color.RGBA, s string) image.Rectangle {
	w, h := r.plateSize(s)
	box := image.Rect(x, y, x+w, y+h)
	ink.RoundRect(r.dst, box, r.u(4), ground)
	r.text(r.font, float64(x)+r.u(7), float64(box.Min.Y+box.Max.Y)/2-0.5, smallText, c, s)
	return box
}

// note writes s on plates one under the other from y on, in the upper left of in and no wider than it, and returns where the next goes.
func (r brush) note(in image.Rectangle, y int, c color.RGBA, s string) int {
	for _, l := range r.wrap(r.font, smallText, float64(in.Dx())-r.u(30), s) {
		y = r.plate(in.Min.X+r.n(8), y, c, dark(), l).Max.Y
	}
	return y + r.n(4)
}

// plateSize is the size of the plate that s needs.
func (r brush) plateSize(s string) (w, h int) {
	return int(r.width(r.font, smallText, s)) + r.n(14), int(r.lineHeight(smallText)) + r.n(6)
}

// dark is the see-through ground of plates on pictures.
func dark() color.RGBA { return ink.Fade(color.RGBA{0x14, 0x13, 0x12, 255}, 0.78) }

// frameOf is the part of a pane inside its frame, with room at the four sides for the edge letters.
func frameOf(w, h int, scale float64) image.Rectangle {
	m := max(8, int(math.Round(30*scale)))
	if r := image.Rect(m, m, w-m, h-m); r.Dx() > 16 && r.Dy() > 16 {
		return r
	}
	return image.Rect(0, 0, max(w, 1), max(h, 1))
}

// frame draws the plain frame and the letters on its four sides; they are always there.
func (r brush) frame(in image.Rectangle, e section.Edges) {
	line := ink.Fade(r.pal.OnDarkLo, 0.55)
	ink.Rect(r.dst, in.Inset(-r.n(1)), r.n(1), line)
	w, h := r.dst.Rect.Dx(), r.dst.Rect.Dy()
	cx, cy := float64(in.Min.X+in.Max.X)/2, float64(in.Min.Y+in.Max.Y)/2
	sides := [4]struct {
		x, y float64
		s    string
	}{
		{float64(in.Min.X) / 2, cy, e.Left}, {float64(in.Max.X+w) / 2, cy, e.Right},
		{cx, float64(in.Min.Y) / 2, e.Up}, {cx, float64(in.Max.Y+h) / 2, e.Down},
	}
	for _, side := range sides {
		c := r.pal.OnDark
		if side.s == "?" {
			c = r.pal.OnDarkLo
		}
		size := float64(bigText)
		if len(side.s) > 1 {
			size = 15
		}
		r.centred(r.bold, side.x, side.y, size, c, side.s)
	}
}

// shortened cuts words that have no room and says so by an ellipsis.
func (r brush) shortened(f *ink.Font, size, room float64, s string) string {
	if r.width(f, size, s) <= room {
		return s
	}
	runes := []rune(s)
	for n := len(runes) - 1; n > 0; n-- {
		if cut := string(runes[:n]) + "…"; r.width(f, size, cut) <= room {
			return cut
		}
	}
	return "…"
}

// scaleBar draws a bar of a round length at the lower right of in and returns its plate; perMM is device pixels for each mm, 0 without a scale.
func (r brush) scaleBar(in image.Rectangle, perMM float64) (box image.Rectangle) {
	words := Word("noscale")
	length := 0.0
	if perMM > 0 && !math.IsInf(perMM, 0) {
		mm := roundLength(math.Min(r.u(150), 0.24*float64(in.Dx())) / perMM)
		length = mm * perMM
		words = mmWords(mm)
	}
	tw := r.width(r.font, smallText, words)
	w := int(math.Max(length, tw)) + r.n(20)
	h := int(r.lineHeight(smallText)) + r.n(8)
	if length > 0 {
		h += r.n(10)
	}
	box = image.Rect(in.Max.X-w-r.n(8), in.Max.Y-h-r.n(8), in.Max.X-r.n(8), in.Max.Y-r.n(8))
	if box.Min.X < in.Min.X || box.Min.Y < in.Min.Y {
		return image.Rectangle{}
	}
	ink.RoundRect(r.dst, box, r.u(4), dark())
	mid := float64(box.Min.X+box.Max.X) / 2
	ty := float64(box.Min.Y) + r.u(4) + r.lineHeight(smallText)/2
	r.centred(r.font, mid, ty, smallText, r.pal.OnDark, words)
	if length == 0 {
		return box
	}
	y := float64(box.Max.Y) - r.u(8)
	a, z := geom.Px{X: mid - length/2, Y: y}, geom.Px{X: mid + length/2, Y: y}
	ink.Line(r.dst, a, z, r.u(2), r.pal.OnDark)
	for _, p := range [2]geom.Px{a, z} {
		ink.Line(r.dst, geom.Px{X: p.X, Y: y - r.u(5)}, geom.Px{X: p.X, Y: y + r.u(3)}, r.u(1.5), r.pal.OnDark)
	}
	return box
}

// roundLength is the largest of 1, 2, 5, 10, 20, 50, ... that is not above most, from a tenth up.
func roundLength(most float64) float64 {
	if !(most > 0) {
		return 0
	}
	ten := math.Pow(10, math.Floor(math.Log10(most)))
	for _, k := range [3]float64{5, 2, 1} {
		if k*ten <= most*(1+1e-9) {
			return k * ten
		}
	}
	return ten
}

func mmWords(mm float64) string {
	if mm < 1 {
		return Word("mm.fine", mm)
	}
	return Word("mm", mm)
}
