package quiz

import (
	"math"
	"sort"

	"sectionary/slices/geom"
)

const (
	headRadius = 3.3 // mm of paper, the disc with a marker's letter
	headOff    = 4.6 // mm of paper from the picture's edge to the middle of the disc
	headStep   = 7.6 // mm of paper from one disc to the next
	ringLeast  = 2.0 // mm of paper, the smallest ring
	ringMost   = 6.0
	headRoom   = headOff + headRadius + 0.8 // round a picture, for the heads of markers
)

// target is one place to be marked on a page, in mm of paper.
type target struct {
	id    string // the letter in the disc
	tip   spot
	edge  float64  // from tip to the nearest edge of its outline
	rings [][]spot // the outline, for Outline
	m     Marker
}

// placedMarker is a target with the middle of its disc; the line runs straight from there to the tip.
type placedMarker struct {
	target
	head spot
}

// ring is the radius of a ring about the tip: inside the outline where that is wide enough.
func (t target) ring() float64 { return math.Min(math.Max(t.edge*0.8, ringLeast), ringMost) }

// end is where a marker's line ends: at the tip, or at the rim of its ring.
func (p placedMarker) end() spot {
	if p.m.Style != Ring {
		return p.tip
	}
	dx, dy := p.head.X-p.tip.X, p.head.Y-p.tip.Y
	n := math.Hypot(dx, dy)
	if n == 0 {
		return p.tip
	}
	r := p.ring()
	return spot{p.tip.X + dx/n*r, p.tip.Y + dy/n*r}
}

// slot is a place for a head on one side of a picture.
type slot struct {
	at   spot
	side Approach
}

// slots are the places for heads round a picture; the middle of each side stays free for its letter.
func slots(a area) (out []slot) {
	along := func(from, to float64, put func(x float64)) {
		mid := (from + to) / 2
		for x := mid - headStep; x > from; x -= headStep {
			put(x)
		}
		for x := mid + headStep; x < to; x += headStep {
			put(x)
		}
	}
	along(a.Y, a.bottom(), func(y float64) {
		out = append(out, slot{spot{a.X - headOff, y}, FromLeft}, slot{spot{a.right() + headOff, y}, FromRight})
	})
	along(a.X, a.right(), func(x float64) {
		out = append(out, slot{spot{x, a.Y - headOff}, FromAbove}, slot{spot{x, a.bottom() + headOff}, FromBelow})
	})
	sort.SliceStable(out, func(i, j int) bool {
		a, b := out[i], out[j]
		if a.side != b.side {
			return a.side < b.side
		}
		return a.at.X+a.at.Y < b.at.X+b.at.Y
	})
	return out
}

// placeMarkers gives every target a head outside the picture a so that no two lines meet and none runs over another's
// tip. Targets that find no such place come back as left.
//
// Each begins at the free slot that costs least; then the pair that meets swaps heads, which shortens both lines
// together, so this ends; what swapping cannot part (a side was asked for) takes the next slot that is clear.
func placeMarkers(ts []target, a area) (placed []placedMarker, left []string) {
	all := slots(a)
	used := make([]bool, len(all))
	at := make([]int, len(ts))
	for i, t := range ts {
		at[i] = best(all, used, func(s slot) float64 { return t.cost(s, ts) })
		if at[i] >= 0 {
			used[at[i]] = true
		}
	}
	swapCrossing(ts, all, at)
	for i, t := range ts { // what still meets another moves away, the later of the two
		if at[i] < 0 {
			left = append(left, t.id)
			continue
		}
		clear := func(s slot) bool {
			for _, p := range placed {
				if meets(s.at, t.tip, p.head, p.tip) {
					return false
				}
			}
			return true
		}
		if !clear(all[at[i]]) {
			used[at[i]] = false
			at[i] = best(all, used, func(s slot) float64 {
				if !clear(s) {
					return math.Inf(1)
				}
				return t.cost(s, ts)
			})
			if at[i] < 0 {
				left = append(left, t.id)
				continue
			}
			used[at[i]] = true
		}
		placed = append(placed, placedMarker{t, all[at[i]].at})
	}
	return placed, left
}

// best is the free slot that costs least, -1 when there is none.
func best(all []slot, used []bool, cost func(slot) float64) int {
	at, least := -1, math.Inf(1)
	for i, s := range all {
		if !used[i] {
			if c := cost(s); c < least {
				at, least = i, c
			}
		}
	}
	return at
}

// cost is the length of the line from a slot, more when it passes near another tip, infinite on a side that was not
// asked for.
func (t target) cost(s slot, others []target) float64 {
	if t.m.From != FromAnywhere && s.side != t.m.From {
		return math.Inf(1)
	}
	c := math.Hypot(s.at.X-t.tip.X, s.at.Y-t.tip.Y)
	for _, o := range others {
		if o.id != t.id && fromLine(o.tip, s.at, t.tip) < tipGap {
			c += 1000
		}
	}
	return c
}

// swapCrossing swaps the heads of pairs that meet, where both may stand on the other's side.
func swapCrossing(ts []target, all []slot, at []int) {
	allowed := func(t target, s slot) bool { return t.m.From == FromAnywhere || t.m.From == s.side }
	for range 100 {
		still := true
		for i := range ts {
			for j := range i {
				if at[i] < 0 || at[j] < 0 || !meets(all[at[i]].at, ts[i].tip, all[at[j]].at, ts[j].tip) {
					continue
				}
				if allowed(ts[i], all[at[j]]) && allowed(ts[j], all[at[i]]) {
					at[i], at[j], still = at[j], at[i], false
				}
			}
		}
		if still {
			return
		}
	}
}

// meets reports whether the lines a-b and c-d share a point.
func meets(a, b, c, d spot) bool {
	return cross(geom.Px(a), geom.Px(b), geom.Px(c), geom.Px(d))
}

// fromLine is how far p lies from the stretch a-b.
func fromLine(p, a, b spot) float64 {
	dx, dy := b.X-a.X, b.Y-a.Y
	n := dx*dx + dy*dy
	t := 0.0
	if n > 0 {
		t = math.Min(1, math.Max(0, ((p.X-a.X)*dx+(p.Y-a.Y)*dy)/n))
	}
	return math.Hypot(p.X-a.X-t*dx, p.Y-a.Y-t*dy)
}

// draw paints a marker: light rim and dark line, so that it shows on any tissue and without colour.
func (m placedMarker) draw(p *page) {
	end := m.end()
	if m.m.Style == Outline {
		for _, r := range m.rings {
			p.do(func(b brush) { b.line(r, true, 0.9, paperWhite); b.line(r, true, 0.4, black) })
		}
	}
	p.do(func(b brush) { b.line([]spot{m.head, end}, false, 0.95, paperWhite) })
	switch m.m.Style {
	case Arrow:
		m.arrowHead(p)
	case Ring:
		ring := circle(m.tip, m.ring())
		p.do(func(b brush) {
			b.line(ring, true, 1.0, paperWhite)
			b.line([]spot{m.head, end}, false, 0.35, black)
			b.line(ring, true, 0.45, black)
		})
	default:
		p.do(func(b brush) {
			b.disc(m.tip, 0.95, paperWhite)
			b.line([]spot{m.head, end}, false, 0.35, black)
			b.disc(m.tip, 0.65, black)
		})
	}
	p.numbered(m.head, headRadius, m.id)
}

func (m placedMarker) arrowHead(p *page) {
	dx, dy := m.tip.X-m.head.X, m.tip.Y-m.head.Y
	n := math.Hypot(dx, dy)
	if n == 0 {
		return
	}
	dx, dy = dx/n, dy/n
	b := spot{m.tip.X - 2.6*dx, m.tip.Y - 2.6*dy}
	head := []spot{m.tip, {b.X - dy, b.Y + dx}, {b.X + dy, b.Y - dx}}
	p.do(func(x brush) {
		x.line(head, true, 0.6, paperWhite)
		x.line([]spot{m.head, {m.tip.X - 2*dx, m.tip.Y - 2*dy}}, false, 0.35, black)
		x.fill([][]spot{head}, black)
	})
}

func circle(at spot, r float64) []spot {
	const n = 48
	out := make([]spot, n)
	for i := range out {
		s, c := math.Sincos(2 * math.Pi * float64(i) / n)
		out[i] = spot{at.X + r*c, at.Y + r*s}
	}
	return out
}
