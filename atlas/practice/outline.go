package practice

import (
	"sort"

	"sectionary/annotate"
	"sectionary/slices/geom"
)

// region is one structure as it stands on a face: its outlines in face mm, holes after their outer ring.
type region struct {
	term  annotate.TermID
	side  annotate.Side
	rings [][]geom.MM // outer rings turn one way, holes the other
}

// open structures keep the holes in their outlines; in others a hole is filled, since what lies in it is part
// of the whole or is outlined by itself.
var open = map[annotate.TermID]bool{
	"UBERON:0002097": true, "SECT:0001": true, "UBERON:0003129": true, // skin, fat beneath it, skull
}

// regions finds every named structure of a field.
func (b *body) regions(f *field) []region {
	type key struct {
		term annotate.TermID
		side annotate.Side
	}
	of := make([]int, len(b.parts)+1) // part -> region, -1 for none
	var keys []key
	index := map[key]int{}
	for i := range of {
		of[i] = -1
		if i == 0 || b.parts[i-1].term == "" {
			continue
		}
		k := key{b.parts[i-1].term, b.parts[i-1].side}
		at, ok := index[k]
		if !ok {
			at = len(keys)
			index[k], keys = at, append(keys, k)
		}
		of[i] = at
	}
	present := make([]bool, len(keys))
	for _, n := range f.part {
		if r := of[n]; r >= 0 {
			present[r] = true
		}
	}
	var out []region
	for at, k := range keys {
		if !present[at] {
			continue
		}
		rings := trace(f.W, f.H, func(i, j int) bool { return of[f.at(i, j)] == at })
		if !open[k.term] {
			rings = outerOnly(rings)
		}
		out = append(out, region{k.term, k.side, f.mm(rings)})
	}
	return out
}

// edge is the outer edge of the whole face.
func edge(f *field) region {
	return region{rings: f.mm(outerOnly(trace(f.W, f.H, func(i, j int) bool { return f.at(i, j) != 0 })))}
}

// mm turns rings in cells into rings in face mm.
func (f *field) mm(rings [][]geom.Px) [][]geom.MM {
	out := make([][]geom.MM, len(rings))
	for n, r := range rings {
		for _, q := range r {
			out[n] = append(out[n], geom.MM{X: f.X0 + q.X*f.Step, Y: f.Y0 + q.Y*f.Step})
		}
	}
	return out
}

func outerOnly(rings [][]geom.Px) [][]geom.Px {
	var out [][]geom.Px
	for _, r := range rings {
		if ringArea(r) > 0 {
			out = append(out, r)
		}
	}
	return out
}

// ringArea is positive for an outer ring as trace gives it.
func ringArea(r []geom.Px) float64 {
	var a float64
	for i, p := range r {
		q := r[(i+1)%len(r)]
		a += p.X*q.Y - q.X*p.Y
	}
	return a / 2
}

type corner struct{ x, y int }

// trace walks round every patch of cells for which in holds, keeping it on the right hand (y runs down), and
// returns the rings through the middles of the cells' edges, in cells. Outer rings have positive area, holes negative.
func trace(w, h int, in func(i, j int) bool) [][]geom.Px {
	next := map[corner][]corner{} // directed cell edges, from corner to corner
	add := func(x0, y0, x1, y1 int) {
		next[corner{x0, y0}] = append(next[corner{x0, y0}], corner{x1, y1})
	}
	for j := range h {
		for i := range w {
			if !in(i, j) {
				continue
			}
			if j == 0 || !in(i, j-1) {
				add(i, j, i+1, j)
			}
			if i == w-1 || !in(i+1, j) {
				add(i+1, j, i+1, j+1)
			}
			if j == h-1 || !in(i, j+1) {
				add(i+1, j+1, i, j+1)
			}
			if i == 0 || !in(i-1, j) {
				add(i, j+1, i, j)
			}
		}
	}
	starts := make([]corner, 0, len(next))
	for c := range next {
		starts = append(starts, c)
	}
	sort.Slice(starts, func(a, b int) bool {
		return starts[a].y < starts[b].y || starts[a].y == starts[b].y && starts[a].x < starts[b].x
	})
	var rings [][]geom.Px
	for _, s := range starts {
		for len(next[s]) > 0 {
			rings = append(rings, walk(next, s))
		}
	}
	return rings
}

// walk follows edges from s until it comes back, taking the tighter turn where two patches touch at a corner.
func walk(next map[corner][]corner, s corner) []geom.Px {
	var ring []geom.Px
	at, dir := s, corner{}
	for {
		ways := next[at]
		pick := 0
		if len(ways) == 2 {
			for k, to := range ways {
				if dx, dy := to.x-at.x, to.y-at.y; dir.x*dy-dir.y*dx > 0 { // a right turn stays with this patch
					pick = k
				}
			}
		}
		to := ways[pick]
		next[at] = append(ways[:pick:pick], ways[pick+1:]...)
		ring = append(ring, geom.Px{X: float64(at.x+to.x)/2 - 0.5, Y: float64(at.y+to.y)/2 - 0.5})
		at, dir = to, corner{to.x - at.x, to.y - at.y}
		if at == s {
			return ring
		}
	}
}

// polygons turns the rings of a region into outlines in pixels of the upright photograph; rings smaller than
// least mm2 are left out.
func (r region) polygons(toPx func(geom.MM) geom.Px, least float64) []annotate.Polygon {
	var out []annotate.Polygon
	type hole struct{ ring []geom.Px }
	var holes []hole
	for _, ring := range r.rings {
		px, flat := make([]geom.Px, len(ring)), make([]geom.Px, len(ring))
		for i, m := range ring {
			px[i], flat[i] = toPx(m), geom.Px(m)
		}
		area := ringArea(flat)
		if area < least && area > -least {
			continue
		}
		p := annotate.Polygon{Outer: px}.Simplify(1.2)
		if len(p.Outer) < 3 || p.Check() != nil {
			continue
		}
		if area > 0 {
			out = append(out, p)
		} else {
			holes = append(holes, hole{p.Outer})
		}
	}
	for _, h := range holes {
		for i, p := range out {
			if p.Contains(h.ring[0]) {
				if q, err := p.AddHole(h.ring); err == nil {
					out[i] = q
				}
				break
			}
		}
	}
	return out
}
