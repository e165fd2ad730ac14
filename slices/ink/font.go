package ink

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"sectionary/slices/geom"
)

// Font draws text of one typeface in any size. Glyphs are kept once drawn. It may be used from many goroutines.
type Font struct {
	parsed *sfnt.Font
	mu     sync.RWMutex
	faces  map[int]font.Face // by size in 64ths of a pixel; a face may be used by one goroutine at a time
	glyphs map[glyphKey]*glyph
}

type glyphKey struct {
	r    rune
	size int // 64ths of a pixel
	turn int // quarter turns clockwise
}

// glyph is a mask with the place of its upper left corner relative to the pen, px.
type glyph struct {
	mask    []uint8
	r       image.Rectangle
	advance float64
}

const (
	mostGlyphs = 8192 // then all are forgotten
	smallest   = 3.0  // px to the em
	largest    = 800.0
)

// NewFont reads a TrueType or OpenType font.
func NewFont(ttf []byte) (f *Font, err error) {
	defer func() {
		if p := recover(); p != nil {
			f, err = nil, fmt.Errorf("ink: damaged font: %v", p)
		}
	}()
	parsed, err := opentype.Parse(ttf)
	if err != nil {
		return nil, fmt.Errorf("ink: font: %w", err)
	}
	return &Font{parsed: parsed, faces: map[int]font.Face{}, glyphs: map[glyphKey]*glyph{}}, nil
}

// Default returns the regular typeface, Go Regular: Latin, Greek and Cyrillic.
var Default = sync.OnceValue(func() *Font { return must(goregular.TTF) })

// Bold returns the bold typeface, Go Bold.
var Bold = sync.OnceValue(func() *Font { return must(gobold.TTF) })

func must(ttf []byte) *Font {
	f, err := NewFont(ttf)
	if err != nil {
		panic(err) // the font is part of the program
	}
	return f
}

// Text draws s from left to right, its baseline starting at the point at, size pixels to the em. Letters stand on
// whole pixels. A character the typeface lacks is drawn as its empty box.
func (f *Font) Text(dst *image.RGBA, at geom.Px, size float64, c color.RGBA, s string) {
	f.TextTurned(dst, at, size, c, s, 0)
}

// TextTurned is Text turned clockwise about at by quarter turns: 1 runs down, 3 runs up.
func (f *Font) TextTurned(dst *image.RGBA, at geom.Px, size float64, c color.RGBA, s string, quarterTurns int) {
	if !sane(at) {
		return
	}
	key := glyphKey{size: sizeKey(size), turn: quarterTurns & 3}
	along := [4]geom.Px{{X: 1}, {Y: 1}, {X: -1}, {Y: -1}}[key.turn]
	b := newBrush(c)
	far := 0.0
	for _, key.r = range s {
		g := f.glyph(key)
		pen := image.Pt(int(math.Round(at.X+far*along.X)), int(math.Round(at.Y+far*along.Y)))
		g.paint(dst, pen, b)
		far += g.advance
	}
}

// Measure returns the width of s, and how far the typeface rises above and hangs below the baseline, in pixels.
func (f *Font) Measure(size float64, s string) (width, ascent, descent float64) {
	key := glyphKey{size: sizeKey(size)}
	for _, key.r = range s {
		width += f.glyph(key).advance
	}
	f.mu.Lock()
	m := f.face(key.size).Metrics()
	f.mu.Unlock()
	return width, float64(m.Ascent) / 64, float64(m.Descent) / 64
}

func sizeKey(size float64) int {
	if !(size > smallest) {
		size = smallest
	}
	return int(math.Round(math.Min(size, largest) * 64))
}

func (f *Font) glyph(key glyphKey) *glyph {
	f.mu.RLock()
	g := f.glyphs[key]
	f.mu.RUnlock()
	if g != nil {
		return g
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	g = f.draw(key)
	if len(f.glyphs) >= mostGlyphs {
		clear(f.glyphs)
	}
	f.glyphs[key] = g
	return g
}

// face must be called with the lock held.
func (f *Font) face(size int) font.Face {
	if face := f.faces[size]; face != nil {
		return face
	}
	// NewFace fails only on options that are not used here.
	face, _ := opentype.NewFace(f.parsed, &opentype.FaceOptions{Size: float64(size) / 64, DPI: 72, Hinting: font.HintingNone})
	if len(f.faces) >= 64 {
		clear(f.faces)
	}
	f.faces[size] = face
	return face
}

func (f *Font) draw(key glyphKey) (g *glyph) {
	g = new(glyph)
	defer func() { _ = recover() }() // a damaged outline in an outside font leaves a gap
	r, mask, at, advance, ok := f.face(key.size).Glyph(fixed.Point26_6{}, key.r)
	if !ok {
		return g
	}
	g.advance = float64(advance) / 64
	if r.Empty() {
		return g
	}
	turned := func(p image.Point) image.Point { return p }
	switch key.turn { // of pixels about the pen's pixel
	case 1:
		turned = func(p image.Point) image.Point { return image.Pt(-p.Y, p.X) }
	case 2:
		turned = func(p image.Point) image.Point { return image.Pt(-p.X, -p.Y) }
	case 3:
		turned = func(p image.Point) image.Point { return image.Pt(p.Y, -p.X) }
	}
	last := r.Max.Sub(image.Pt(1, 1))
	a, b := turned(r.Min), turned(last)
	g.r = image.Rect(a.X, a.Y, b.X, b.Y) // ordered
	g.r.Max = g.r.Max.Add(image.Pt(1, 1))
	g.mask = make([]uint8, g.r.Dx()*g.r.Dy())
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			_, _, _, alpha := mask.At(at.X+x-r.Min.X, at.Y+y-r.Min.Y).RGBA()
			to := turned(image.Pt(x, y)).Sub(g.r.Min)
			g.mask[to.Y*g.r.Dx()+to.X] = uint8(alpha >> 8)
		}
	}
	return g
}

func (g *glyph) paint(dst *image.RGBA, pen image.Point, b brush) {
	r := g.r.Add(pen)
	part := r.Intersect(dst.Rect)
	for y := part.Min.Y; y < part.Max.Y; y++ {
		o := dst.PixOffset(part.Min.X, y)
		row := dst.Pix[o : o+4*part.Dx()]
		mask := g.mask[(y-r.Min.Y)*r.Dx()+part.Min.X-r.Min.X:][:part.Dx()]
		for x, m := range mask {
			if m != 0 {
				b.dab(row[4*x:4*x+4], uint32(m))
			}
		}
	}
}
