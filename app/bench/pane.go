package bench

import (
	"image"
	"image/color"

	"sectionary/slices/geom"
)

// Pane is one painted picture and what a pointer does in it. Sizes and places are device pixels.
type Pane interface {
	// Resize tells the size in device pixels, and how many of them make one unit of the text size (1 at 100 %).
	Resize(w, h int, scale float64)
	// Paint fills all of dst, which must be as large as Resize said, with its first pixel at (0, 0). Another size is
	// taken as a Resize.
	Paint(dst *image.RGBA)
	Down(at geom.Px, b Button, m Mods) // count 2 in m.Clicks for a double click
	Drag(at geom.Px)                   // moved with a button held
	Up(at geom.Px)
	Hover(at geom.Px) // moved with none held
	Leave()
	Wheel(at geom.Px, notches float64, m Mods) // positive away from the hand: nearer
	Cursor() Cursor
	// Pointer is the linked pointer, to be drawn over the pane without repainting it: a cross at at and a circle of
	// that radius (0: cross only). ok is false when there is none.
	Pointer() (at geom.Px, radius float64, ok bool)
	// Wants reports whether the pane must be painted again after these changes.
	Wants(c Change) bool
}

// Button is a button of the pointing device.
type Button uint8

// The buttons.
const (
	Primary Button = iota
	Secondary
	Middle
)

// Mods are keys held and the number of clicks in a row (0 and 1 are alike).
type Mods struct {
	Shift, Ctrl, Alt bool
	Clicks           int
}

// Cursor is the shape of the pointer over a pane.
type Cursor uint8

// The cursors.
const (
	Default Cursor = iota
	Cross
	Hand
	Grab
)

// Palette holds the colours of painted panes. Surround is round pictures and stays dark and neutral in every theme.
type Palette struct {
	Paper, Ink, Muted, Line    color.RGBA // ruler and preview: ground, words, lesser words, hair lines
	Slab, SlabEdge, Kerf       color.RGBA // ruler: block, its edges, hatch of the gap
	Surround, OnDark, OnDarkLo color.RGBA // round pictures: ground, words, lesser words
	Chosen, ChosenOnDark, Warn color.RGBA // the one accent on paper and on dark, and what needs attention
	Outline                    color.RGBA // outlines on pictures
}

// LightPalette is the off-white paper and black ink of the bench.
func LightPalette() Palette {
	return Palette{
		Paper: rgb(0xf6f3ec), Ink: rgb(0x1f1d1a), Muted: rgb(0x6a655c), Line: rgb(0xd5cfc2),
		Slab: rgb(0xe4dccb), SlabEdge: rgb(0x6b6354), Kerf: rgb(0xa79d8a),
		Surround: rgb(0x2b2a28), OnDark: rgb(0xf1ede4), OnDarkLo: rgb(0xb3ada1),
		Chosen: rgb(0x0f6d75), ChosenOnDark: rgb(0x62d0d6), Warn: rgb(0xa8440f), Outline: rgb(0xfff6df),
	}
}

// DarkPalette is the same bench with the lamps down.
func DarkPalette() Palette {
	p := LightPalette()
	p.Paper, p.Ink, p.Muted, p.Line = rgb(0x24231f), rgb(0xece7dc), rgb(0xa8a193), rgb(0x45423b)
	p.Slab, p.SlabEdge, p.Kerf = rgb(0x4a463d), rgb(0xa59c88), rgb(0x6e6758)
	p.Chosen, p.Warn = rgb(0x62d0d6), rgb(0xf0965a)
	return p
}

func rgb(hex uint32) color.RGBA {
	return color.RGBA{uint8(hex >> 16), uint8(hex >> 8), uint8(hex), 255}
}
