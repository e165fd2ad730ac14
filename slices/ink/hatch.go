package ink

import (
	"image"
	"image/color"
	"math"
	"sync/atomic"

	"sectionary/slices/geom"
)

// Pattern is a way of hatching; the patterns can be told apart in grey.
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

// weave is a pattern ready to be looked up: for every pixel of a square that repeats, how much is ink.
type weave struct {
	p       Pattern
	spacing float64
	thick   float64 // of a line
	at      geom.Px
}

func (p Pattern) at(spacing float64, origin geom.Px) weave {
	if !(spacing >= 2) {
		spacing = 2
	}
	spacing = math.Min(spacing, maxWidth)
	return weave{p, spacing, math.Max(1, spacing/6), origin}
}

// ink returns how much of pixel (x, y) the pattern covers, 0 to 255.
func (w *weave) ink(x, y int) uint32 {
	dx, dy := float64(x)-w.at.X, float64(y)-w.at.Y
	var v float64
	switch w.p {
	case Rising:
		v = w.line((dx + dy) * (math.Sqrt2 / 2))
	case Falling:
		v = w.line((dx - dy) * (math.Sqrt2 / 2))
	case Upright:
		v = w.line(dx)
	case Level:
		v = w.line(dy)
	case Cross:
		v = max(w.line(dx), w.line(dy))
	case Diamond:
		v = max(w.line((dx+dy)*(math.Sqrt2/2)), w.line((dx-dy)*(math.Sqrt2/2)))
	case Dots:
		x, y := w.offset(dx), w.offset(dy)
		v = w.thick*1.2 + 0.5 - math.Sqrt(x*x+y*y)
	default:
		return 255
	}
	return uint32(max(0, min(1, v))*255 + 0.5)
}

// offset is the distance to the nearest line of the pattern, px, signed.
func (w *weave) offset(d float64) float64 { return d - math.Floor(d/w.spacing+0.5)*w.spacing }

// line is the coverage by lines across d, 0 to 1 after clamping.
func (w *weave) line(d float64) float64 { return w.thick/2 + 0.5 - math.Abs(w.offset(d)) }

// phases is the coverage across one spacing of lines, and what it was made for. Making it takes longer than a small
// shape, and a drawing has few spacings, so the last ones are kept.
type phases struct {
	spacing float64
	ink     [1 << phaseBits]uint8
}

const phaseBits = 10

var (
	lastPhases [4]atomic.Pointer[phases]
	madePhases atomic.Uint32
)

func (w *weave) phases() *phases {
	for i := range lastPhases {
		if p := lastPhases[i].Load(); p != nil && p.spacing == w.spacing {
			return p
		}
	}
	p := &phases{spacing: w.spacing}
	for i := range p.ink {
		v := w.line((float64(i) + 0.5) / float64(len(p.ink)) * w.spacing)
		p.ink[i] = uint8(max(0, min(1, v))*255 + 0.5)
	}
	lastPhases[madePhases.Add(1)%uint32(len(lastPhases))].Store(p)
	return p
}

// phase is a place across lines as a share of their spacing, 2^32 for the whole.
func (w *weave) phase(d float64) uint32 {
	f := d / w.spacing
	return uint32(int64((f - math.Floor(f)) * (1 << 32)))
}

// rowPhases are the places across the one or two sets of lines of a pattern at the first pixel of a row, and how far
// they go on from pixel to pixel. ok is false for patterns that are not lines.
func (w *weave) rowPhases(x, y int) (a, stepA, b, stepB uint32, two, ok bool) {
	dx, dy := float64(x)-w.at.X, float64(y)-w.at.Y
	const k = math.Sqrt2 / 2
	slant := w.phase(k)
	switch w.p {
	case Rising:
		return w.phase((dx + dy) * k), slant, 0, 0, false, true
	case Falling:
		return w.phase((dx - dy) * k), slant, 0, 0, false, true
	case Upright:
		return w.phase(dx), w.phase(1), 0, 0, false, true
	case Level:
		return w.phase(dy), 0, 0, 0, false, true
	case Cross:
		return w.phase(dx), w.phase(1), w.phase(dy), 0, true, true
	case Diamond:
		return w.phase((dx + dy) * k), slant, w.phase((dx - dy) * k), slant, true, true
	}
	return 0, 0, 0, 0, false, false
}

// paintHatch blends the pattern within the shape (even-odd) and leaves the raster empty.
func (r *raster) paintHatch(dst *image.RGBA, w weave, c color.RGBA) {
	if w.p == Solid || w.p >= Patterns {
		r.paint(dst, evenOdd, c)
		return
	}
	b := newBrush(c)
	t := w.phases()
	for i := range r.lo {
		if r.hi[i] < 0 {
			continue
		}
		y := r.clip.Min.Y + i
		cells := r.cells[i*r.stride : (i+1)*r.stride]
		o := dst.PixOffset(r.clip.Min.X, y)
		row := dst.Pix[o : o+4*(r.stride-1)]
		sum := int32(0)
		lo := int(r.lo[i])
		pa, stepA, pb, stepB, two, lines := w.rowPhases(r.clip.Min.X+lo, y)
		for x := lo; x < r.stride-1; x++ {
			sum += cells[x]
			cells[x] = 0
			if sum == 0 && x > int(r.hi[i]) {
				break
			}
			if covered := evenOdd.coverage(sum); covered != 0 {
				var v uint32
				if lines {
					v = uint32(t.ink[pa>>(32-phaseBits)])
					if two {
						v = max(v, uint32(t.ink[pb>>(32-phaseBits)]))
					}
				} else {
					v = w.ink(r.clip.Min.X+x, y)
				}
				if v *= covered; v >= 255 {
					b.dab(row[4*x:4*x+4], (v+127)/255)
				}
			}
			pa, pb = pa+stepA, pb+stepB
		}
		cells[r.stride-1] = 0
	}
}
