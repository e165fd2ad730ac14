package photo

import (
	"context"
	"fmt"
	"math"

	"sectionary/slices/geom"
)

// A lattice is grown from one corner to its neighbours, each sought where the steps before it point. So a sheet is found among
// other bright and dark things, and a lens may bend its rows.
type lattice struct {
	spots []geom.Px
	at    map[[2]int]int // spot at a column and row
	taken map[int]bool
}

// Common practice, no source.
const (
	mostSeeds   = 40   // corners that a sheet is sought from, strongest first
	mostStarts  = 8    // within one lattice: a start at an odd corner grows it wrongly
	nearEnough  = 0.3  // share of a step that a corner may lie off where it is expected
	squareLeast = 0.45 // sine of the least angle between rows and columns, aslant
)

// findGrid finds the corners of a sheet of columns x rows among spots, strongest first, in rows from the corner nearest to the top left
// of the picture. The outline of a sheet has weaker corners too, so weak ones are let in only by and by.
func (g grey) findGrid(ctx context.Context, spots []geom.Px, columns, rows int) ([]geom.Px, error) {
	most := 0
	for _, share := range []float64{1, 1.1, 1.25, 1.5, 2, 3, 6} {
		strong := spots[:min(len(spots), int(share*float64(columns*rows)))]
		seen := map[int]int{} // in large lattices already: more starts hardly lead to another
		for s := range min(mostSeeds, len(strong)) {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			u, v, ok := firstSteps(strong, s)
			if !ok || seen[s] >= mostStarts {
				continue
			}
			l := latticeFrom(strong, s, u, v, 4*columns*rows)
			if most = max(most, len(l.at)); len(l.at) > columns*rows/2 {
				for i := range l.taken {
					seen[i]++
				}
			}
			across, down := columns, rows
			grid, n := l.windows(across, down, g.chequered)
			if n == 0 { // the sheet may lie on its side
				across, down = rows, columns
				grid, n = l.windows(across, down, g.chequered)
			}
			if n != 1 {
				continue
			}
			whole := latticeFrom(spots, s, u, v, 4*columns*rows) // with weak corners too, is there but one such block?
			if _, n = whole.windows(across, down, g.chequered); n > 1 {
				most = max(most, len(whole.at))
				continue
			}
			if across != columns {
				return onItsSide(grid, columns, rows), nil
			}
			return grid, nil
		}
		if len(strong) == len(spots) {
			break
		}
	}
	if most < columns*rows/2 {
		return nil, fmt.Errorf("%w: let the whole sheet lie in the picture, in even light", ErrNoSheet)
	}
	return nil, fmt.Errorf("%w: %d corners hang together, but not in %d columns and %d rows; count the corners where four squares meet, and see that none is hidden",
		ErrNoSheet, most, columns, rows)
}

// firstSteps are the ways from spot s to a neighbour to the right and to one below.
func firstSteps(spots []geom.Px, s int) (u, v geom.Px, ok bool) {
	near := math.Inf(1)
	for i, p := range spots {
		if d := p.Dist(spots[s]); i != s && d < near {
			near, u = d, sub(p, spots[s])
		}
	}
	least := math.Inf(1)
	for i, p := range spots {
		w := sub(p, spots[s])
		d := math.Hypot(w.X, w.Y)
		if i == s || d > 2.2*near || math.Abs(u.X*w.Y-u.Y*w.X) < squareLeast*near*d {
			continue
		}
		if d < least {
			least, v = d, w
		}
	}
	if math.IsInf(least, 1) || near < 4 {
		return u, v, false
	}
	if math.Abs(u.X) < math.Abs(u.Y) { // u is the way along the rows, v down the columns
		u, v = v, u
	}
	if u.X < 0 {
		u = geom.Px{X: -u.X, Y: -u.Y}
	}
	if u.X*v.Y-u.Y*v.X < 0 {
		v = geom.Px{X: -v.X, Y: -v.Y}
	}
	return u, v, true
}

// latticeFrom grows a lattice from spot s.
func latticeFrom(spots []geom.Px, s int, u, v geom.Px, most int) lattice {
	l := lattice{spots, map[[2]int]int{{0, 0}: s}, map[int]bool{s: true}}
	l.grow(u, v, most)
	return l
}

func sub(a, b geom.Px) geom.Px { return geom.Px{X: a.X - b.X, Y: a.Y - b.Y} }

// grow adds neighbours until there are none, or most of them. Every corner carries the steps that led to it.
func (l *lattice) grow(u, v geom.Px, most int) {
	type front struct {
		at   [2]int
		step [2]geom.Px // along a row, down a column
	}
	queue := []front{{step: [2]geom.Px{u, v}}}
	for len(queue) > 0 && len(l.at) < most {
		f := queue[0]
		queue = queue[1:]
		from := l.spots[l.at[f.at]]
		for k, way := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			next := [2]int{f.at[0] + way[0], f.at[1] + way[1]}
			if _, there := l.at[next]; there {
				continue
			}
			sign := float64(way[0] + way[1])
			step := f.step[k/2]
			want := geom.Px{X: from.X + sign*step.X, Y: from.Y + sign*step.Y}
			i := l.nearest(want, nearEnough*math.Hypot(step.X, step.Y))
			if i < 0 {
				continue
			}
			l.at[next], l.taken[i] = i, true
			g := front{at: next, step: f.step}
			d := sub(l.spots[i], from)
			g.step[k/2] = geom.Px{X: sign * d.X, Y: sign * d.Y}
			queue = append(queue, g)
		}
	}
}

func (l *lattice) nearest(p geom.Px, within float64) int {
	best := -1
	for i, q := range l.spots {
		if d := q.Dist(p); d < within && !l.taken[i] {
			best, within = i, d
		}
	}
	return best
}

// windows counts the blocks of columns x rows corners without a gap that are chequered, and gives one of them. Of a larger sheet there
// are several: which corners are meant?
func (l *lattice) windows(columns, rows int, chequered func([]geom.Px, int) bool) (grid []geom.Px, n int) {
	x0, y0, x1, y1 := 0, 0, 0, 0
	for k := range l.at {
		x0, y0, x1, y1 = min(x0, k[0]), min(y0, k[1]), max(x1, k[0]), max(y1, k[1])
	}
	for y := y0; y+rows-1 <= y1; y++ {
		for x := x0; x+columns-1 <= x1; x++ {
			block := make([]geom.Px, 0, columns*rows)
			for k := range columns * rows {
				i, there := l.at[[2]int{x + k%columns, y + k/columns}]
				if !there {
					break
				}
				block = append(block, l.spots[i])
			}
			if len(block) < columns*rows || !chequered(block, columns) {
				continue
			}
			grid = block
			n++
		}
	}
	return grid, n
}

// onItsSide reorders a grid of rows x columns corners so that its longer way is again along columns: from the top right corner down,
// which turns the sheet and does not mirror it.
func onItsSide(seen []geom.Px, columns, rows int) []geom.Px {
	out := make([]geom.Px, len(seen))
	for i := range out {
		c, r := i%columns, i/columns
		out[i] = seen[c*rows+rows-1-r]
	}
	return out
}

// leastContrast is how many levels of 255 darker the dark squares of a sheet are than the bright ones beside them; common practice, no source.
const leastContrast = 10

// chequered reports whether the four squares round every corner are dark and bright in turn, and the other way round at the next one.
func (g grey) chequered(grid []geom.Px, columns int) bool {
	rows, sign := len(grid)/columns, 0.0
	for i, p := range grid {
		c, r := i%columns, i/columns
		left, right, top, low := max(c-1, 0), min(c+1, columns-1), max(r-1, 0), min(r+1, rows-1)
		u, v := sub(grid[r*columns+right], grid[r*columns+left]), sub(grid[low*columns+c], grid[top*columns+c])
		square := func(a, b float64) float64 { // within the square that lies so many steps to the right and below
			a, b = a/float64(right-left), b/float64(low-top)
			return g.at(int(math.Round(p.X+a*u.X+b*v.X)), int(math.Round(p.Y+a*u.Y+b*v.Y)))
		}
		const q = 0.3
		falling, rising := [2]float64{square(-q, -q), square(q, q)}, [2]float64{square(q, -q), square(-q, q)}
		by := min(falling[0], falling[1]) - max(rising[0], rising[1])
		if by < 0 {
			by = max(falling[0], falling[1]) - min(rising[0], rising[1])
			if by > 0 {
				return false // neither pair is the brighter one
			}
		}
		if (c+r)%2 == 1 {
			by = -by
		}
		if sign == 0 {
			sign = by
		}
		if math.Abs(by) < leastContrast || by*sign < 0 {
			return false
		}
	}
	return true
}
