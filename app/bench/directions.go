package bench

import (
	"image"

	"sectionary/slices/ink"
	"sectionary/slices/section"
)

// directions writes what the edge letters mean on a limb or a half: proximal and distal, medial and lateral.
func (r brush) directions(in image.Rectangle, run section.Run, e section.Edges) {
	word := func(letter string) string {
		f, err := section.ParseFacing(letter)
		if err != nil {
			return ""
		}
		return run.DirectionWord(f)
	}
	cx, cy := (in.Min.X+in.Max.X)/2, (in.Min.Y+in.Max.Y)/2
	_, h := r.plateSize("x")
	if s := word(e.Left); s != "" {
		r.plate(in.Min.X+r.n(4), cy-h/2, r.pal.OnDark, dark(), s)
	}
	if s := word(e.Right); s != "" {
		w, _ := r.plateSize(s)
		r.plate(in.Max.X-r.n(4)-w, cy-h/2, r.pal.OnDark, dark(), s)
	}
	bottom := r.dst.Rect.Dy()
	r.text(r.font, float64(cx)+r.u(14), float64(in.Min.Y)/2, smallText, r.pal.OnDark, word(e.Up))
	r.text(r.font, float64(cx)+r.u(14), float64(in.Max.Y+bottom)/2, smallText, r.pal.OnDark, word(e.Down))
}

// endWords are the words for an end of the body as it lies in this run.
func endWords(run section.Run, f section.Facing) string {
	switch w := run.DirectionWord(f); {
	case w == "":
		return Word("end." + f.String())
	case w == "medial" && run.Half != section.UnknownFacing:
		return Word("end.midline")
	default:
		return Word("end." + w)
	}
}

// paintGhost draws a slab that is planned only: an empty dashed block.
func (p *rulerPane) paintGhost(r brush, c columns, near, far float64) {
	ring := p.quad(near, far, c.from, c.to)
	ink.Stroke(r.dst, ring, true, r.u(1.2), r.pal.Muted, []float64{r.u(6), r.u(5)})
}
