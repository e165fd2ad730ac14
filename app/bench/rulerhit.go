package bench

import (
	"image"
	"math"
	"slices"

	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// edge is one selectable edge of a slab on the ruler, in device pixels along it.
type edge struct {
	face section.Face
	at   float64
	in   float64 // the slab's other edge
}

// edges lists the edges of all slabs in the order of the run.
func (p *rulerPane) edges() []edge {
	run := p.b.Run()
	out := make([]edge, 0, 2*len(run.Slabs))
	for depth, s := range run.Places() {
		near, far := p.place(depth), p.place(depth+s.Mean())
		out = append(out, edge{section.Face{Run: run.ID, Slab: s.Number, Facing: run.First}, near, far},
			edge{section.Face{Run: run.ID, Slab: s.Number, Facing: run.First.Opposite()}, far, near})
	}
	return out
}

// target is the stretch along the ruler, in device pixels, within which a press means an edge: to the middle of its slab
// on one side and to the middle of the kerf on the other, at the ends of the run and across a wide kerf as far as reach.
type target struct {
	edge
	lo, hi float64
}

// targets lists the stretch of every edge along the ruler. They do not overlap, and the edge lies within its own.
func targets(edges []edge, reach float64) []target {
	out := make([]target, len(edges))
	for i, e := range edges {
		out[i] = target{e, e.at - reach, e.at + reach}
	}
	if len(edges) > 1 && edges[0].at > edges[len(edges)-1].at {
		slices.Reverse(out) // numbered from the far end
	}
	for i := range out {
		t := &out[i]
		before, after := i%2 == 1, i%2 == 0 // the slab lies before its second edge and after its first
		if i > 0 {
			t.lo = between(out[i-1].at, t.at, before, reach)
		}
		if i < len(out)-1 {
			t.hi = between(out[i+1].at, t.at, after, reach)
		}
	}
	return out
}

// between is where the stretch of the edge at at ends towards the edge beside it: half-way, through a kerf no further
// than reach.
func between(beside, at float64, inSlab bool, reach float64) float64 {
	half := (beside - at) / 2
	if !inSlab {
		half = math.Max(-reach, math.Min(half, reach))
	}
	return at + half
}

// across are the ends, across the ruler, of what can be pressed.
func (p *rulerPane) across() (from, to float64) {
	c := p.columns()
	return c.scale - 8*p.scale, c.rail
}

// hit returns the face whose edge is meant by a press at at.
func (p *rulerPane) hit(at geom.Px) (section.Face, bool) {
	u, v := p.uv(at)
	if from, to := p.across(); v < from || v > to {
		return section.Face{}, false
	}
	for _, t := range targets(p.edges(), reach*p.scale) {
		if u >= t.lo && u <= t.hi {
			return t.face, true
		}
	}
	return section.Face{}, false
}

// EdgeAt returns the face whose edge lies under a place of the ruler's pane, in device pixels; ok is false where none does.
func (b *Bench) EdgeAt(at geom.Px) (f section.Face, ok bool) {
	if b.Run().ID == "" {
		return f, false
	}
	b.ruler.lay()
	return b.ruler.hit(at)
}

// EdgeRect is the part of the ruler's pane, in device pixels, where a press or a drop means face f; ok is false when no
// pixel of it is in sight.
func (b *Bench) EdgeRect(f section.Face) (r image.Rectangle, ok bool) { return b.ruler.edgeRect(f) }

func (p *rulerPane) edgeRect(f section.Face) (r image.Rectangle, ok bool) {
	if p.b.Run().ID == "" || p.w == 0 {
		return r, false
	}
	p.lay()
	from, to := p.across()
	for _, t := range targets(p.edges(), reach*p.scale) {
		if t.face == f {
			r = p.rect(t.lo, t.hi, from, to).Intersect(image.Rect(0, 0, p.w, p.h))
			return r, !r.Empty()
		}
	}
	return r, false
}
