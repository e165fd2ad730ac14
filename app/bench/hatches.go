package bench

import (
	"image"
	"image/color"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
)

// Hatches are hatchStep units from line to line, in the kind's colour that much see-through.
const (
	hatchStep = 9
	hatchInk  = 0.38
)

// kindLook is how a kind of structure is told apart: a muted colour for the faint filling, and always a hatch.
var kindLook = map[annotate.Kind]color.RGBA{
	annotate.Vessel: rgb(0xd07a6b), annotate.Nerve: rgb(0xe0c25c), annotate.Muscle: rgb(0xc08a78), annotate.Bone: rgb(0xded3a8),
	annotate.Organ: rgb(0xa98cc0), annotate.Space: rgb(0x84b4c8), annotate.Lymph: rgb(0x9dbf86),
}

// kindHatch is how outlines of a kind are hatched: the pattern, and how many times as wide as usual it is set. No two kinds are
// hatched alike.
func kindHatch(k annotate.Kind) (p ink.Pattern, wide float64) {
	patterns := [...]ink.Pattern{ink.Solid, ink.Rising, ink.Falling, ink.Upright, ink.Level, ink.Diamond, ink.Dots, ink.Cross,
		ink.Rising, ink.Falling, ink.Cross, ink.Dots}
	n := k.Hatch() % len(patterns)
	if n < 8 {
		return patterns[n], 1
	}
	return patterns[n], 2
}

func lookOf(t annotate.Term, known bool) (fill color.RGBA, hatch ink.Pattern, wide float64) {
	if !known {
		return rgb(0xcfcac0), ink.Solid, 1
	}
	fill, ok := kindLook[t.Kind]
	if !ok {
		fill = rgb(0xb9b4a4)
	}
	hatch, wide = kindHatch(t.Kind)
	return fill, hatch, wide
}

// PaintHatch fills dst with the hatch of the kind with this letter in a colour, step pixels from line to line where the kind is not
// hatched wide; nothing for a kind without one.
func PaintHatch(dst *image.RGBA, letter string, step float64, line color.RGBA) {
	for _, k := range annotate.Kinds() {
		p, wide := kindHatch(k)
		if k.Letter() != letter || p == ink.Solid {
			continue
		}
		r := dst.Rect
		a, z := geom.Px{X: float64(r.Min.X) - 0.5, Y: float64(r.Min.Y) - 0.5}, geom.Px{X: float64(r.Max.X) - 0.5, Y: float64(r.Max.Y) - 0.5}
		ink.Hatch(dst, [][]geom.Px{{a, {X: z.X, Y: a.Y}, z, {X: a.X, Y: z.Y}}}, p, step*wide, line)
	}
}
