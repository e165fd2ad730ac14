package annotate

import (
	"cmp"
	"math"
	"slices"

	"sectionary/slices/geom"
)

// NameBox is one name to be set on a picture of a face: the size of its text box and the point its leader must reach,
// all in the units of the picture being made.
type NameBox struct {
	ID     string
	W, H   float64
	At     geom.Px   // inside the outline: Label.Inside
	Within []Polygon // when given, the name may stand inside this outline if it fits there
}

// Placed is where a name went. Leader runs from the box over the bend beside the face to the point named, three points; it
// is empty when the name stands inside its own outline.
type Placed struct {
	ID     string
	Box    Box
	Leader []geom.Px
}

// Free space as shares of a row's height: between names, and between a column and the face, where leaders change height.
const (
	nameGap = 0.35
	bendGap = 1.5
)

// Place sets names in a column on either side of a face: clear of the face and of each other, with leaders that
// never cross. frame is the whole picture; the columns use what it leaves beside face. Names that do not fit are
// left out and their ids returned second, the last given first to go. The order of placed is that of names.
//
// The names are parted by a vertical line and each column keeps the order of the points from top to bottom. A leader runs
// level from its point to the side of the face and from there slanting to its name: level lines at different heights never
// meet, and slanting lines between two uprights in the same order never meet either. Rows are those that move the
// names least in all, so one name more moves its neighbours by a row at most.
func Place(names []NameBox, face []Polygon, frame Box) (placed []Placed, left []string) {
	body := bodyOf(names, face)
	inside := map[int]Box{}
	for i, n := range names {
		if b, ok := insideBox(n); ok && !covers(names, inside, i, b) {
			inside[i] = b
		}
	}
	for {
		placed, left = placeColumns(names, inside, body, frame)
		crossed := crossedBoxes(placed, inside)
		if len(crossed) == 0 {
			return placed, left
		}
		for _, i := range crossed {
			delete(inside, i)
		}
	}
}

// bodyOf is the box that the columns must keep clear of.
func bodyOf(names []NameBox, face []Polygon) Box {
	var b Box
	first := true
	add := func(c Box) {
		if first {
			b, first = c, false
		} else {
			b = b.Union(c)
		}
	}
	for _, p := range face {
		add(p.Bounds())
	}
	for _, n := range names {
		add(Box{n.At, n.At})
	}
	return b
}

// insideBox is the name's box centred on its point, when it lies wholly inside the outline.
func insideBox(n NameBox) (Box, bool) {
	b := Box{geom.Px{X: n.At.X - n.W/2, Y: n.At.Y - n.H/2}, geom.Px{X: n.At.X + n.W/2, Y: n.At.Y + n.H/2}}
	for _, p := range n.Within {
		if p.Contains(n.At) && !p.meetsBox(b) {
			return b, true
		}
	}
	return b, false
}

// meetsBox reports whether any edge of p comes into b.
func (p Polygon) meetsBox(b Box) bool {
	for k := range p.Rings() {
		r := p.Ring(k)
		for i := range r {
			if segmentMeetsBox(r[i], r[(i+1)%len(r)], b) {
				return true
			}
		}
	}
	return false
}

func segmentMeetsBox(s, e geom.Px, b Box) bool {
	if b.Contains(s) || b.Contains(e) {
		return true
	}
	if math.Max(s.X, e.X) < b.Min.X || math.Min(s.X, e.X) > b.Max.X || math.Max(s.Y, e.Y) < b.Min.Y || math.Min(s.Y, e.Y) > b.Max.Y {
		return false
	}
	c := [4]geom.Px{b.Min, {X: b.Max.X, Y: b.Min.Y}, b.Max, {X: b.Min.X, Y: b.Max.Y}}
	for i := range c {
		if _, meet := segmentsMeet(s, e, c[i], c[(i+1)%4]); meet {
			return true
		}
	}
	return false
}

func lineMeetsBox(line []geom.Px, b Box) bool {
	for i := 1; i < len(line); i++ {
		if segmentMeetsBox(line[i-1], line[i], b) {
			return true
		}
	}
	return false
}

// covers reports whether a box inside an outline would hide another name's point or box.
func covers(names []NameBox, inside map[int]Box, i int, b Box) bool {
	for k, n := range names {
		if o, ok := inside[k]; k != i && (b.Contains(n.At) || ok && o.Overlaps(b)) {
			return true
		}
	}
	return false
}

func crossedBoxes(placed []Placed, inside map[int]Box) (crossed []int) {
	for i, b := range inside {
		for _, p := range placed {
			if lineMeetsBox(p.Leader, b) {
				crossed = append(crossed, i)
				break
			}
		}
	}
	return crossed
}

func placeColumns(names []NameBox, inside map[int]Box, body, frame Box) (placed []Placed, left []string) {
	row := 0.0
	for _, n := range names {
		row = math.Max(row, n.H)
	}
	gap := row * nameGap
	row += gap
	rows := 0
	if row > 0 && !math.IsInf(frame.H(), 0) {
		rows = int(math.Min(math.Max(0, frame.H()/row), 4096))
	}
	bend := bendGap * row
	room := [2]float64{body.Min.X - bend - frame.Min.X, frame.Max.X - body.Max.X - bend}
	var outside []int
	where := make([]*Placed, len(names))
	for i, n := range names {
		if b, ok := inside[i]; ok {
			where[i] = &Placed{ID: n.ID, Box: b}
		} else if n.W <= math.Min(room[0], room[1]) && len(outside) < 2*rows {
			outside = append(outside, i)
		}
	}
	slices.SortStableFunc(outside, func(a, b int) int {
		return cmp.Or(cmp.Compare(names[a].At.X, names[b].At.X), cmp.Compare(names[a].At.Y, names[b].At.Y), cmp.Compare(names[a].ID, names[b].ID))
	})
	middle := (body.Min.X + body.Max.X) / 2
	k := 0
	for k < len(outside) && names[outside[k]].At.X < middle {
		k++
	}
	k = min(max(k, len(outside)-rows), rows)
	top := frame.Min.Y + (frame.H()-float64(rows)*row)/2
	for side, column := range [2][]int{outside[:min(k, len(outside))], outside[min(k, len(outside)):]} {
		edge, bendAt := body.Min.X-bend, body.Min.X-gap
		if side == 1 {
			edge, bendAt = body.Max.X+bend, body.Max.X+gap
		}
		byHeight(column, names, bendAt)
		wish := make([]int, len(column))
		for c, i := range column {
			wish[c] = int(math.Floor((names[i].At.Y - top) / row))
		}
		slots, gates := spread(wish, rows), gateHeights(column, names)
		for c, i := range column {
			n, y := names[i], top+(float64(slots[c])+0.5)*row
			b := Box{geom.Px{X: edge, Y: y - n.H/2}, geom.Px{X: edge + n.W, Y: y + n.H/2}}
			if side == 0 {
				b.Min.X, b.Max.X = edge-n.W, edge
			}
			where[i] = &Placed{ID: n.ID, Box: b, Leader: []geom.Px{{X: edge, Y: y}, {X: bendAt, Y: gates[c]}, n.At}}
		}
	}
	for i, p := range where {
		if p != nil {
			placed = append(placed, *p)
		} else {
			left = append(left, names[i].ID)
		}
	}
	return placed, left
}

// byHeight orders a column from top to bottom; of points at one height the one farther from the column comes first.
func byHeight(column []int, names []NameBox, edge float64) {
	slices.SortStableFunc(column, func(a, b int) int {
		p, q := names[a], names[b]
		return cmp.Or(cmp.Compare(p.At.Y, q.At.Y), cmp.Compare(math.Abs(q.At.X-edge), math.Abs(p.At.X-edge)), cmp.Compare(p.ID, q.ID))
	})
}

// gateHeights are where leaders cross into the face: level with their points, but points at one height fan out a
// little upward, the farther ones higher, so that no leader runs along another.
func gateHeights(column []int, names []NameBox) []float64 {
	out := make([]float64, len(column))
	above := math.Inf(-1)
	for from := 0; from < len(column); {
		y, to := names[column[from]].At.Y, from+1
		for to < len(column) && names[column[to]].At.Y == y {
			to++
		}
		step := math.Min(0.5, (y-above)/float64(to-from+1))
		for c := from; c < to; c++ {
			out[c] = y - step*float64(to-1-c)
		}
		above, from = y, max(to, from+1)
	}
	return out
}

// spread gives each of the ordered wishes a row of its own among rows, in order, with the least sum of distances from the
// wishes; of equal sums the highest rows. len(wish) is at most rows.
func spread(wish []int, rows int) []int {
	if len(wish) == 0 {
		return nil
	}
	const never = math.MaxInt / 2
	// best[i][s]: least sum for the first i wishes using rows below s.
	best := make([][]int, len(wish)+1)
	best[0] = make([]int, rows+1)
	for i, w := range wish {
		best[i+1] = make([]int, rows+1)
		w = max(-rows, min(w, 2*rows))
		best[i+1][0] = never
		for s := 1; s <= rows; s++ {
			best[i+1][s] = min(best[i+1][s-1], best[i][s-1]+max(w-s+1, s-1-w))
		}
	}
	out := make([]int, len(wish))
	s := rows
	for i := len(wish); i > 0; i-- {
		for s > i && best[i][s-1] == best[i][s] {
			s--
		}
		s--
		out[i-1] = s
	}
	return out
}
