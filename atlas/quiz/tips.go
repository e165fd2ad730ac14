package quiz

import (
	"math"
	"sort"

	"sectionary/annotate"
	"sectionary/slices/geom"
)

// tipOf is where a leader or marker points in a label: the deepest place of its largest part that no smaller
// label covers. Where smaller ones leave too little of it, it is the deepest place of the part itself.
func tipOf(x annotate.Label, all []annotate.Label) geom.Px {
	part := largest(x)
	deep := part.Inside()
	var over []annotate.Polygon
	for _, o := range all {
		if o.ID == x.ID || o.Carried || o.AreaPx() >= x.AreaPx() {
			continue
		}
		for _, r := range o.Regions {
			if r.Bounds().Overlaps(part.Bounds()) {
				over = append(over, r)
			}
		}
	}
	if len(over) == 0 {
		return deep
	}
	room := func(q geom.Px) float64 { return roomAt(q, part, over) }
	if q := deepest(part.Bounds(), room); room(q) > 0.15*part.EdgeDistance(deep) {
		return q
	}
	return deep
}

func largest(x annotate.Label) (part annotate.Polygon) {
	most := -1.0
	for _, r := range x.Regions {
		if a := r.AreaPx(); a > most {
			part, most = r, a
		}
	}
	return part
}

// roomAt is how far q lies from every edge if it lies in part and in none of over, else below zero.
func roomAt(q geom.Px, part annotate.Polygon, over []annotate.Polygon) float64 {
	if !part.Contains(q) {
		return -1
	}
	room := part.EdgeDistance(q)
	for _, o := range over {
		if o.Contains(q) {
			return -1
		}
		room = math.Min(room, o.EdgeDistance(q))
	}
	return room
}

// deepest searches a box for the place with most room: on a grid first, then uphill from its best.
func deepest(b annotate.Box, room func(geom.Px) float64) (best geom.Px) {
	const n = 48
	most, step := math.Inf(-1), math.Max(b.W(), b.H())/n
	try := func(q geom.Px) bool {
		if r := room(q); r > most {
			best, most = q, r
			return true
		}
		return false
	}
	for j := range n {
		for i := range n {
			try(geom.Px{X: b.Min.X + (float64(i)+0.5)/n*b.W(), Y: b.Min.Y + (float64(j)+0.5)/n*b.H()})
		}
	}
	for range 100 {
		at, better := best, false
		for _, d := range [][2]float64{{1, 0}, {-1, 0}, {0, 1}, {0, -1}, {1, 1}, {1, -1}, {-1, 1}, {-1, -1}} {
			better = try(geom.Px{X: at.X + d[0]*step, Y: at.Y + d[1]*step}) || better
		}
		if !better {
			if step /= 2; step < 0.05 {
				break
			}
		}
	}
	return best
}

const (
	leaderGap = 1.3 // mm of paper between two leaders at the side of the face
	tipGap    = 1.5 // mm of paper between a leader and the tip of another
	mostShift = 9.0 // mm that a leader may leave the height of its tip
)

// partLeaders draws apart leaders that would run along one another or over another's tip, by moving where they
// enter the face up or down. A column where that would make two of them cross stays as it was.
func partLeaders(placed []annotate.Placed) {
	columns := map[bool][]int{}
	for i, x := range placed {
		if len(x.Leader) == 3 {
			columns[x.Leader[0].X < x.Leader[2].X] = append(columns[x.Leader[0].X < x.Leader[2].X], i)
		}
	}
	for _, column := range columns {
		sort.SliceStable(column, func(a, b int) bool { return placed[column[a]].Box.Min.Y < placed[column[b]].Box.Min.Y })
		gates := make([]float64, len(column))
		for k, i := range column {
			gates[k] = placed[i].Leader[1].Y
		}
		relax(placed, column, gates)
		if moved := withGates(placed, column, gates); !anyCross(moved) {
			for k, i := range column {
				placed[i].Leader = moved[k]
			}
		}
	}
}

// relax moves the gates of one column, which is ordered from top to bottom, until all have their gaps or
// patience ends.
func relax(placed []annotate.Placed, column []int, gates []float64) {
	home := append([]float64{}, gates...)
	for range 200 {
		still := true
		push := func(k int, by float64) {
			to := math.Min(math.Max(gates[k]+by, home[k]-mostShift), home[k]+mostShift)
			if math.Abs(to-gates[k]) > 0.01 {
				gates[k], still = to, false
			}
		}
		for k := 1; k < len(gates); k++ {
			if short := leaderGap - (gates[k] - gates[k-1]); short > 0 {
				push(k-1, -short/2)
				push(k, short/2)
			}
		}
		for k, i := range column {
			a := placed[i].Leader
			for m, j := range column {
				tip := placed[j].Leader[2]
				share := (a[1].X - tip.X) / (a[1].X - a[2].X) // of the way from gate to tip
				if k == m || !(share > 0 && share < 1) {
					continue
				}
				off := gates[k] + share*(a[2].Y-gates[k]) - tip.Y
				if short := tipGap - math.Abs(off); short > 0 {
					way := 1.0 // the leader of an upper name passes above
					if k < m {
						way = -1
					}
					if way*off < 0 {
						short = tipGap + math.Abs(off)
					}
					push(k, way*math.Min(short/(1-share), 1))
				}
			}
		}
		if still {
			return
		}
	}
}

// withGates is the leaders of a column with their gates moved.
func withGates(placed []annotate.Placed, column []int, gates []float64) [][]geom.Px {
	out := make([][]geom.Px, len(column))
	for k, i := range column {
		l := placed[i].Leader
		out[k] = []geom.Px{l[0], {X: l[1].X, Y: gates[k]}, l[2]}
	}
	return out
}

func anyCross(leaders [][]geom.Px) bool {
	for i, a := range leaders {
		for _, b := range leaders[i+1:] {
			for s := 1; s < len(a); s++ {
				for r := 1; r < len(b); r++ {
					if cross(a[s-1], a[s], b[r-1], b[r]) {
						return true
					}
				}
			}
		}
	}
	return false
}

// cross reports whether two stretches share a point.
func cross(a, b, c, d geom.Px) bool {
	turn := func(p, q, r geom.Px) float64 { return (q.X-p.X)*(r.Y-p.Y) - (q.Y-p.Y)*(r.X-p.X) }
	return turn(a, b, c)*turn(a, b, d) <= 0 && turn(c, d, a)*turn(c, d, b) <= 0
}
