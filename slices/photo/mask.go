package photo

import (
	"slices"

	"sectionary/slices/geom"
)

// mask marks pixels of a small picture.
type mask struct {
	in   []bool
	w, h int
}

func newMask(w, h int) mask { return mask{make([]bool, w*h), w, h} }

func (m mask) at(x, y int) bool { return x >= 0 && y >= 0 && x < m.w && y < m.h && m.in[y*m.w+x] }

// grown adds every pixel within n steps, straight and slanting by turns; the frame counts as outside.
func (m mask) grown(n int) mask {
	for i := range n {
		m = m.step(i, true)
	}
	return m
}

// shrunk takes away every pixel within n steps of the outside; the frame's edge does not count as outside, so that a
// face cut off by the frame stays cut.
func (m mask) shrunk(n int) mask {
	for i := range n {
		m = m.step(i, false)
	}
	return m
}

// step marks a pixel where it or a neighbour is of the wanted kind: its row first, then what stands above and below.
func (m mask) step(turn int, kind bool) mask {
	out := newMask(m.w, m.h)
	beside := make([]bool, len(m.in)) // it or a neighbour in its row
	for y := range m.h {
		row, to := m.in[y*m.w:][:m.w], beside[y*m.w:][:m.w]
		left, here := false, m.w > 0 && row[0] == kind
		for x := range row {
			right := x+1 < len(row) && row[x+1] == kind
			to[x] = left || here || right
			left, here = here, right
		}
	}
	slanting := turn%2 == 1
	for y := range m.h {
		to := out.in[y*m.w:][:m.w]
		copy(to, beside[y*m.w:][:m.w])
		for _, v := range [2]int{y - 1, y + 1} {
			switch {
			case v < 0 || v == m.h:
			case slanting:
				for x, hit := range beside[v*m.w:][:m.w] {
					to[x] = to[x] || hit
				}
			default:
				for x, in := range m.in[v*m.w:][:m.w] {
					to[x] = to[x] || in == kind
				}
			}
		}
		for x := range to {
			to[x] = to[x] == kind
		}
	}
	return out
}

// within marks every pixel whose square of that reach holds a marked one: grown for large reaches.
func (m mask) within(reach int) mask {
	v := make([]float32, len(m.in))
	for i, in := range m.in {
		if in {
			v[i] = 1
		}
	}
	out := newMask(m.w, m.h)
	for i, x := range boxMean(v, m.w, m.h, reach) {
		out.in[i] = x > 1e-5
	}
	return out
}

// flood calls visit for every pixel of the same kind as the start that joins it by sides.
func (m mask) flood(start int, seen []bool, visit func(i int)) {
	kind := m.in[start]
	seen[start] = true
	for todo := []int{start}; len(todo) > 0; {
		i := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		visit(i)
		x, y := i%m.w, i/m.w
		for _, d := range [4][2]int{{-1, 0}, {1, 0}, {0, -1}, {0, 1}} {
			u, v := x+d[0], y+d[1]
			if k := v*m.w + u; u >= 0 && v >= 0 && u < m.w && v < m.h && !seen[k] && m.in[k] == kind {
				seen[k] = true
				todo = append(todo, k)
			}
		}
	}
}

// joined keeps those parts of a mask that touch the seed.
func joined(m, seed mask) mask {
	out := newMask(m.w, m.h)
	seen := make([]bool, len(m.in))
	for i := range m.in {
		if m.in[i] && seed.in[i] && !seen[i] {
			m.flood(i, seen, func(k int) { out.in[k] = true })
		}
	}
	return out
}

// fillHoles marks what cannot be reached from the frame.
func (m mask) fillHoles() {
	seen := make([]bool, len(m.in))
	outside := make([]bool, len(m.in))
	for i := range m.in {
		x, y := i%m.w, i/m.w
		if (x == 0 || y == 0 || x == m.w-1 || y == m.h-1) && !m.in[i] && !seen[i] {
			m.flood(i, seen, func(k int) { outside[k] = true })
		}
	}
	for i := range m.in {
		m.in[i] = !outside[i]
	}
}

// facePiece is a connected part: its size, its first pixel in reading order, and its bounds.
type facePiece struct {
	area, first    int
	x0, y0, x1, y1 int
}

// pieces lists the connected parts, largest first.
func (m mask) pieces() (list []facePiece) {
	seen := make([]bool, len(m.in))
	for i := range m.in {
		if !m.in[i] || seen[i] {
			continue
		}
		p := facePiece{first: i, x0: m.w, y0: m.h, x1: -1, y1: -1}
		m.flood(i, seen, func(k int) {
			x, y := k%m.w, k/m.w
			p.area++
			p.x0, p.y0, p.x1, p.y1 = min(p.x0, x), min(p.y0, y), max(p.x1, x), max(p.y1, y)
		})
		list = append(list, p)
	}
	slices.SortStableFunc(list, func(a, b facePiece) int { return b.area - a.area })
	return list
}

// touches tells which sides of the frame the piece reaches: left, top, right, bottom.
func (p facePiece) touches(w, h int) [4]bool {
	return [4]bool{p.x0 == 0, p.y0 == 0, p.x1 == w-1, p.y1 == h-1}
}

// trace walks along the border between the piece and the outside, keeping the piece on the right, and returns the
// middles of the pixel sides it passes.
func (p facePiece) trace(m mask) (ring []geom.Px) {
	// Corners of pixels are whole numbers, corner (x, y) at the upper left of pixel (x, y); heading 0 is right, 1 down.
	x, y, heading := p.first%m.w, p.first/m.w, 0
	startX, startY := x, y
	dx, dy := [4]int{1, 0, -1, 0}, [4]int{0, 1, 0, -1}
	// the pixels ahead on the left and on the right of a corner, for each heading
	left := [4][2]int{{0, -1}, {0, 0}, {-1, 0}, {-1, -1}}
	right := [4][2]int{{0, 0}, {-1, 0}, {-1, -1}, {0, -1}}
	for range 4 * len(m.in) {
		ring = append(ring, geom.Px{X: float64(x) + float64(dx[heading])/2 - 0.5, Y: float64(y) + float64(dy[heading])/2 - 0.5})
		x, y = x+dx[heading], y+dy[heading]
		l, r := left[heading], right[heading]
		switch {
		case !m.at(x+r[0], y+r[1]):
			heading = (heading + 1) & 3 // turn toward the piece
		case m.at(x+l[0], y+l[1]):
			heading = (heading + 3) & 3 // the piece goes on to the left
		}
		if x == startX && y == startY && heading == 0 {
			break
		}
	}
	return ring
}
