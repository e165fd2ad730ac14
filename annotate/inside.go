package annotate

import (
	"container/heap"
	"math"
	"slices"

	"sectionary/slices/geom"
)

// Inside returns the interior point farthest from every edge, holes included: where a marker or a leader goes.
// The depth is within a ten-thousandth of the greatest. An outline without area gives its centroid.
//
// The search splits squares best first, as for the pole of inaccessibility (Garcia-Castellanos and Lombardo 2007
// define it): a square whose centre lies d deep can hold nothing deeper than d plus its half diagonal. The winner is then
// pushed uphill.
func (p Polygon) Inside() geom.Px {
	b := p.Bounds()
	size := math.Min(b.W(), b.H())
	if !(p.AreaPx() > 0) || !(size > 0) || math.IsInf(size, 0) {
		return p.Centroid()
	}
	s := newDepthSearch(p, b)
	best := s.at(p.Centroid(), 0, s.edges, false)
	if best.depth <= 0 {
		best.depth = 0
	}
	const most = 20_000 // cells; a bound for needles thinner than any real outline
	for n := 0; n < most && len(s.queue) > 0; n++ {
		c := heap.Pop(&s.queue).(cell)
		if c.bound() <= best.depth*1.0001 {
			break
		}
		if c.depth > best.depth {
			best = c
		}
		s.split(c)
	}
	if best.depth <= 0 { // a needle too long and thin for the search
		return p.widestRow()
	}
	return s.climb(best).centre
}

// widestRow is the middle of the widest inside stretch of a row half-way between two heights of corners.
func (p Polygon) widestRow() geom.Px {
	var ys []float64
	for n := range p.Rings() {
		for _, q := range p.Ring(n) {
			ys = append(ys, q.Y)
		}
	}
	slices.Sort(ys)
	best, width := p.Centroid(), 0.0
	for i := 1; i < len(ys); i++ {
		y := (ys[i-1] + ys[i]) / 2
		if y == ys[i-1] || y == ys[i] || i%max(1, len(ys)/256) != 0 {
			continue
		}
		cuts := p.rowCuts(y, nil)
		for k := 0; k+1 < len(cuts); k += 2 {
			if w := cuts[k+1] - cuts[k]; w > width {
				best, width = geom.Px{X: (cuts[k] + cuts[k+1]) / 2, Y: y}, w
			}
		}
	}
	return best
}

// cell is a square of the search. Its edges are those that can be nearest to some point in it.
type cell struct {
	centre geom.Px
	half   float64
	depth  float64 // signed distance of the centre to the nearest edge, positive inside
	edges  []segment
}

type segment struct{ a, b geom.Px }

func (c cell) bound() float64 { return c.depth + c.half*math.Sqrt2 }

type cellQueue []cell

func (q cellQueue) Len() int           { return len(q) }
func (q cellQueue) Less(i, j int) bool { return q[i].bound() > q[j].bound() }
func (q cellQueue) Swap(i, j int)      { q[i], q[j] = q[j], q[i] }
func (q *cellQueue) Push(x any)        { *q = append(*q, x.(cell)) }
func (q *cellQueue) Pop() any {
	old := *q
	x := old[len(old)-1]
	*q = old[:len(old)-1]
	return x
}

type depthSearch struct {
	p     Polygon
	edges []segment
	queue cellQueue
}

func newDepthSearch(p Polygon, b Box) *depthSearch {
	s := &depthSearch{p: p}
	for n := range p.Rings() {
		r := p.Ring(n)
		for i := range r {
			s.edges = append(s.edges, segment{r[i], r[(i+1)%len(r)]})
		}
	}
	step := math.Max(math.Min(b.W(), b.H()), math.Max(b.W(), b.H())/64)
	for y := b.Min.Y; y < b.Max.Y; y += step {
		for x := b.Min.X; x < b.Max.X; x += step {
			c := s.at(geom.Px{X: x + step/2, Y: y + step/2}, step/2, s.edges, true)
			s.queue = append(s.queue, c)
		}
	}
	heap.Init(&s.queue)
	return s
}

// at measures a cell. With keep it also lists the edges that can matter inside it.
func (s *depthSearch) at(q geom.Px, half float64, edges []segment, keep bool) cell {
	c := cell{centre: q, half: half}
	near := math.Inf(1)
	dist := make([]float64, 0, 16)
	for _, e := range edges {
		d := segmentDistance2(q, e.a, e.b)
		near = math.Min(near, d)
		if keep {
			dist = append(dist, d)
		}
	}
	c.depth = math.Sqrt(near)
	if keep {
		reach := c.depth + 2*half*math.Sqrt2
		for i, e := range edges {
			if dist[i] <= reach*reach {
				c.edges = append(c.edges, e)
			}
		}
	}
	if !s.p.Contains(q) {
		c.depth = -c.depth
	}
	return c
}

func (s *depthSearch) split(c cell) {
	h := c.half / 2
	for _, d := range [4]geom.Px{{X: -h, Y: -h}, {X: h, Y: -h}, {X: -h, Y: h}, {X: h, Y: h}} {
		heap.Push(&s.queue, s.at(geom.Px{X: c.centre.X + d.X, Y: c.centre.Y + d.Y}, h, c.edges, true))
	}
}

// climb walks uphill in ever smaller steps over sixteen directions.
func (s *depthSearch) climb(c cell) cell {
	step := math.Max(c.half, c.depth*0.02)
	for range 400 {
		if step < 1e-9*(1+c.depth) {
			break
		}
		moved := false
		for i := range 16 {
			sin, cos := math.Sincos(float64(i) * math.Pi / 8)
			n := s.at(geom.Px{X: c.centre.X + step*cos, Y: c.centre.Y + step*sin}, 0, s.edges, false)
			if n.depth > c.depth {
				c, moved = n, true
				break
			}
		}
		if !moved {
			step /= 2
		}
	}
	return c
}
