package bench

import (
	"image"
	"math"
	"strconv"

	"sectionary/atlas/drill"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/section"
)

// drillRuler is the run as a ruler beside a question: a face is placed on it, and after the answer it shows where the
// face lies. Before the answer it tells nothing.
type drillRuler struct {
	b     *Bench
	w, h  int
	scale float64
	down  bool
}

// DrillRuler is the run beside the question.
func (b *Bench) DrillRuler() Pane { return b.drillRuler }

// Resize tells the size in device pixels and how many of them make one unit.
func (p *drillRuler) Resize(w, h int, scale float64) {
	if scale <= 0 {
		scale = 1
	}
	p.w, p.h, p.scale = w, h, scale
}

// Wants reports whether the ruler must be painted again.
func (p *drillRuler) Wants(c Change) bool { return c&(ScreenChanged|ExamChanged) != 0 }

// rulerWay is 1 where slab 1 lies at the upper end of the ruler, -1 where it lies at the lower: the ruler runs from the
// top, the front or the donor's right, whatever was numbered first.
func (b *Bench) rulerWay(r drill.Run) float64 {
	if reversed(section.Run{Plane: r.Plane, First: r.First}) {
		return -1
	}
	return 1
}

func (p *drillRuler) margin() float64 { return 40 * p.scale }

// place is the device row of a depth; depthAt is its inverse.
func (p *drillRuler) place(r drill.Run, depth float64) float64 {
	if p.b.rulerWay(r) < 0 {
		depth = r.Extent - depth
	}
	return p.margin() + depth/math.Max(r.Extent, 1)*(float64(p.h)-2*p.margin())
}

func (p *drillRuler) depthAt(r drill.Run, row float64) float64 {
	depth := (row - p.margin()) / math.Max(float64(p.h)-2*p.margin(), 1) * r.Extent
	if p.b.rulerWay(r) < 0 {
		depth = r.Extent - depth
	}
	return depth
}

// Paint fills dst.
func (p *drillRuler) Paint(dst *image.RGBA) {
	if p.w != dst.Rect.Dx() || p.h != dst.Rect.Dy() {
		p.Resize(dst.Rect.Dx(), dst.Rect.Dy(), p.scale)
	}
	b := p.b
	ink.FillRect(dst, dst.Rect, b.pal.Paper)
	_, run, ok := b.drillFace()
	if b.blank || !ok {
		return
	}
	r := b.brush(dst, p.scale)
	begin, end := ends(section.Run{Plane: run.Plane, First: run.First})
	mid := float64(p.w) / 2
	r.centred(r.font, mid, r.u(18), bodyText, r.pal.Muted, Word("end."+begin.String()))
	r.centred(r.font, mid, float64(p.h)-r.u(18), bodyText, r.pal.Muted, Word("end."+end.String()))
	x0, x1 := r.u(18), float64(p.w)-r.u(18)
	for _, s := range run.Slabs {
		a, z := p.place(run, s.Top), p.place(run, s.Bottom)
		box := image.Rect(round(x0), round(math.Min(a, z)), round(x1), max(round(math.Max(a, z)), round(math.Min(a, z))+1))
		ink.FillRect(dst, box, r.pal.Slab)
		ink.Rect(dst, box, 1, r.pal.SlabEdge)
		if box.Dy() > r.n(15) {
			r.centred(r.font, mid, float64(box.Min.Y+box.Max.Y)/2, bodyText, r.pal.Muted, strconv.Itoa(s.Number))
		}
	}
	d := &b.study.drill
	if d.depth != nil {
		p.line(r, run, *d.depth, x0, x1, true)
	}
	if d.reveal != nil {
		p.line(r, run, d.reveal.Face.Depth, x0, x1, false)
	}
}

// line marks a place: dashed with a ring where a person put it, whole with a full disc where the face lies.
func (p *drillRuler) line(r brush, run drill.Run, depth, x0, x1 float64, given bool) {
	y := p.place(run, depth)
	a, z := geom.Px{X: x0 - r.u(8), Y: y}, geom.Px{X: x1 + r.u(8), Y: y}
	words, c, dash := Word("drill.mark.face", depth), r.pal.Chosen, []float64(nil)
	if given {
		words, c, dash = Word("drill.mark.yours", depth), r.pal.Ink, []float64{r.u(6), r.u(4)}
	}
	ink.Stroke(r.dst, []geom.Px{a, z}, false, r.u(2.4), c, dash)
	if given {
		ink.Ring(r.dst, a, r.u(5), r.u(2), c)
	} else {
		ink.Disc(r.dst, a, r.u(5), c)
	}
	at := y - r.u(10)
	if given {
		at = y + r.u(11)
	}
	w := r.width(r.bold, bodyText, words)
	box := image.Rect(round(float64(p.w)/2-w/2-r.u(4)), round(at-r.u(8)), round(float64(p.w)/2+w/2+r.u(4)), round(at+r.u(8)))
	ink.RoundRect(r.dst, box, r.u(3), r.pal.Paper)
	r.centred(r.bold, float64(p.w)/2, at, bodyText, c, words)
}

func (p *drillRuler) put(at geom.Px) {
	if _, run, ok := p.b.drillFace(); ok && p.b.placing() {
		p.b.placeAt(p.depthAt(run, at.Y))
	}
}

// Down puts the face on the run.
func (p *drillRuler) Down(at geom.Px, _ Button, _ Mods) { p.down = true; p.put(at) }

// Drag moves it.
func (p *drillRuler) Drag(at geom.Px) {
	if p.down {
		p.put(at)
	}
}

// Up lets it lie.
func (p *drillRuler) Up(geom.Px) { p.down = false }

// Hover has nothing to show.
func (p *drillRuler) Hover(geom.Px) {}

// Leave has nothing to take away.
func (p *drillRuler) Leave() {}

// Wheel has nothing to move.
func (p *drillRuler) Wheel(geom.Px, float64, Mods) {}

// Cursor is the shape of the pointer.
func (p *drillRuler) Cursor() Cursor {
	if p.b.placing() {
		return Hand
	}
	return Default
}

// Pointer is none.
func (p *drillRuler) Pointer() (at geom.Px, radius float64, ok bool) { return }
