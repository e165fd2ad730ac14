package quiz

import (
	"image"
	"image/color"
	"strings"

	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/goregular"

	"sectionary/slices/ink"
)

// spot is a place on paper in mm from the upper left corner, x right, y down.
type spot struct{ X, Y float64 }

// area is an upright rectangle of paper in mm.
type area struct{ X, Y, W, H float64 }

func (a area) right() float64  { return a.X + a.W }
func (a area) bottom() float64 { return a.Y + a.H }
func (a area) middle() spot    { return spot{a.X + a.W/2, a.Y + a.H/2} }

// inset is a made smaller by d mm on every side.
func (a area) inset(d float64) area { return area{a.X + d, a.Y + d, a.W - 2*d, a.H - 2*d} }

func (a area) corners() []spot {
	return []spot{{a.X, a.Y}, {a.right(), a.Y}, {a.right(), a.bottom()}, {a.X, a.bottom()}}
}

// style is a cut of the one typeface that all pages are set in.
type style int

const (
	regular style = iota
	bold
	italic
)

var typefaces = [][]byte{goregular.TTF, gobold.TTF, goitalic.TTF}

var rulers = func() (out [3]*ink.Font) {
	for i, ttf := range typefaces {
		f, err := ink.NewFont(ttf)
		if err != nil {
			panic(err) // compiled in
		}
		out[i] = f
	}
	return out
}()

// mmPerPoint is a printer's point, 1/72 inch.
const mmPerPoint = 25.4 / 72

// lineHeight of running text, as a multiple of its size.
const lineHeight = 1.22

// width is how wide text of a size in points is, in mm.
func width(st style, size float64, s string) float64 {
	const em = 200
	w, _, _ := rulers[st].Measure(em, printable(s))
	return w / em * size * mmPerPoint
}

// printable replaces what the typeface or the page format cannot show.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r < ' ' || r == 0x7F:
			return ' '
		case r > 0xFFFF:
			return '?'
		}
		return r
	}, s)
}

// wrap breaks s at spaces into lines no wider than most mm; a single longer word stays whole.
func wrap(st style, size, most float64, s string) (lines []string) {
	for _, w := range strings.Fields(s) {
		if n := len(lines); n > 0 && width(st, size, lines[n-1]+" "+w) <= most {
			lines[n-1] += " " + w
			continue
		}
		lines = append(lines, w)
	}
	return lines
}

// The inks. Paper is white, so that nothing is printed where nothing is.
var (
	paperWhite = color.RGBA{255, 255, 255, 255}
	black      = color.RGBA{24, 22, 20, 255}
	grey       = color.RGBA{110, 104, 96, 255}
	pale       = color.RGBA{196, 190, 180, 255}
	cover      = color.RGBA{176, 170, 160, 255} // over tags
)

// brush paints a page: mm of paper, sizes in points, line widths in mm.
type brush interface {
	text(at spot, st style, size float64, c color.RGBA, s string) // at: left end of the baseline
	line(pts []spot, closed bool, width float64, c color.RGBA)
	fill(rings [][]spot, c color.RGBA) // even-odd
	disc(at spot, radius float64, c color.RGBA)
	picture(a area, make func(w, h int) *image.RGBA)
}

// page is one sheet: what is to be painted, in order, and the words on it.
type page struct {
	W, H  float64
	draw  []func(brush)
	words []string
}

func (p *page) do(f func(brush)) { p.draw = append(p.draw, f) }

func (p *page) text(at spot, st style, size float64, c color.RGBA, s string) {
	s = printable(s)
	p.words = append(p.words, s)
	p.do(func(b brush) { b.text(at, st, size, c, s) })
}

// textRight ends at a place, textMiddle is centred on it.
func (p *page) textRight(at spot, st style, size float64, c color.RGBA, s string) {
	p.text(spot{at.X - width(st, size, s), at.Y}, st, size, c, s)
}

func (p *page) textMiddle(at spot, st style, size float64, c color.RGBA, s string) {
	p.text(spot{at.X - width(st, size, s)/2, at.Y}, st, size, c, s)
}

// textWithin makes text smaller, down to 7 points, and then shorter, until it is no wider than most mm.
func (p *page) textWithin(at spot, most float64, st style, size float64, c color.RGBA, s string) {
	for size > 7 && width(st, size, s) > most {
		size -= 0.5
	}
	if width(st, size, s) > most {
		r := []rune(s)
		for len(r) > 0 && width(st, size, string(r)+"…") > most {
			r = r[:len(r)-1]
		}
		s = string(r) + "…"
	}
	p.text(at, st, size, c, s)
}

func (p *page) line(a, b spot, width float64, c color.RGBA) {
	p.do(func(x brush) { x.line([]spot{a, b}, false, width, c) })
}

// numbered is a black disc with a white number or letter in it.
func (p *page) numbered(at spot, radius float64, s string) {
	size := radius * 1.25 / mmPerPoint
	if len(s) > 2 {
		size *= 0.8
	}
	p.do(func(b brush) {
		b.disc(at, radius+0.25, paperWhite)
		b.disc(at, radius, black)
	})
	p.textMiddle(spot{at.X, at.Y + size*mmPerPoint*0.36}, bold, size, paperWhite, s)
}

// flat paints what f puts on a page into pixels, so that no words or shapes of it are left in the file.
func (p *page) flat(a area, f func(*page)) {
	inner := &page{W: p.W, H: p.H}
	f(inner)
	p.do(func(b brush) {
		b.picture(a, func(w, h int) *image.RGBA {
			x := newPixels(w, h, a)
			for _, d := range inner.draw {
				d(x)
			}
			return x.m
		})
	})
}

// paint gives the page to a brush.
func (p *page) paint(b brush) {
	for _, d := range p.draw {
		d(b)
	}
}
