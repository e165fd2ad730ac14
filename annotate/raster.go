package annotate

import (
	"cmp"
	"image"
	"math"
	"slices"

	"sectionary/slices/geom"
)

// Mask marks pixels of a rectangle: row by row, a true for every pixel inside.
type Mask struct {
	Rect image.Rectangle
	In   []bool
}

// maxMask bounds the pixels of a mask: that of a 100-megapixel picture.
const maxMask = 100_000_000

// NewMask returns an empty mask; a rectangle too large gives a mask without pixels.
func NewMask(r image.Rectangle) Mask {
	if r.Empty() || r.Dx() > maxMask/r.Dy() {
		return Mask{}
	}
	return Mask{r, make([]bool, r.Dx()*r.Dy())}
}

// At reports whether pixel x, y is marked; none is outside the rectangle.
func (m Mask) At(x, y int) bool {
	return image.Pt(x, y).In(m.Rect) && m.In[(y-m.Rect.Min.Y)*m.Rect.Dx()+x-m.Rect.Min.X]
}

// Count returns how many pixels are marked.
func (m Mask) Count() (n int) {
	for _, in := range m.In {
		if in {
			n++
		}
	}
	return n
}

// Rasterise marks every pixel of r whose centre lies inside one of the outlines (even-odd within an outline); a centre on
// the left or right edge counts as inside.
func Rasterise(regions []Polygon, r image.Rectangle) Mask {
	m := NewMask(r)
	for _, p := range regions {
		p.scan(m)
	}
	return m
}

// scan fills rows between the places where they cut the edges.
func (p Polygon) scan(m Mask) {
	var cuts []float64
	b := p.Bounds()
	for y := max(m.Rect.Min.Y, int(math.Ceil(b.Min.Y))); y < m.Rect.Max.Y && float64(y) <= b.Max.Y; y++ {
		cuts = p.rowCuts(float64(y), cuts[:0])
		row := m.In[(y-m.Rect.Min.Y)*m.Rect.Dx():]
		for i := 0; i+1 < len(cuts); i += 2 {
			from := max(m.Rect.Min.X, int(math.Ceil(math.Max(cuts[i], -1e9))))
			for x := from; x < m.Rect.Max.X && float64(x) <= cuts[i+1]; x++ {
				row[x-m.Rect.Min.X] = true
			}
		}
	}
}

// rowCuts are the places, from left to right, where a row at height y passes in and out of p, put behind cuts.
func (p Polygon) rowCuts(y float64, cuts []float64) []float64 {
	for n := range p.Rings() {
		r := p.Ring(n)
		for i := range r {
			s, e := r[i], r[(i+1)%len(r)]
			if (s.Y > y) != (e.Y > y) {
				cuts = append(cuts, cutAt(s, e, y))
			}
		}
	}
	slices.Sort(cuts)
	return cuts
}

// cutAt is where the line from s to e has height y; exactly an end's x at that end, so that a pixel there does not hang on
// rounding.
func cutAt(s, e geom.Px, y float64) float64 {
	switch y {
	case s.Y:
		return s.X
	case e.Y:
		return e.X
	}
	return s.X + (y-s.Y)/(e.Y-s.Y)*(e.X-s.X)
}

// Outlines traces the edge of the marked pixels, half-way between a marked pixel and its unmarked neighbour, as sound
// outlines with their holes. Pixels that touch by a corner only are parted.
func (m Mask) Outlines() []Polygon {
	return traceLevel(m.Rect, func(x, y int) float64 {
		if m.At(x, y) {
			return 1
		}
		return -1
	})
}

// traceLevel runs round the region where f > 0 over the pixels of r, pixels outside r counting as outside. Crossings lie
// on the lines between pixel centres, placed by linear interpolation; every one belongs to one ring only, and the pieces
// of a cell never touch, so the rings are sound (marching squares; at a saddle the inside corners are kept apart).
func traceLevel(r image.Rectangle, f func(x, y int) float64) []Polygon {
	if r.Empty() {
		return nil
	}
	w, h := r.Dx()+2, r.Dy()+2 // a rim outside all round
	v := make([]float64, w*h)
	for i := range v {
		v[i] = -1
	}
	for y := range r.Dy() {
		for x := range r.Dx() {
			if d := f(r.Min.X+x, r.Min.Y+y); d > 0 {
				v[(y+1)*w+x+1] = d
			} else if d < 0 {
				v[(y+1)*w+x+1] = d
			} else {
				v[(y+1)*w+x+1] = -1e-9
			}
		}
	}
	t := tracer{w: w, v: v, next: map[int]int{}}
	for y := range h - 1 {
		for x := range w - 1 {
			t.cell(x, y)
		}
	}
	return nest(t.rings(geom.Px{X: float64(r.Min.X - 1), Y: float64(r.Min.Y - 1)}))
}

// tracer links crossings. A crossing is the line between two neighbouring grid points: 2*i for the one to the right of
// point i, 2*i+1 for the one below it. The region lies to the right of every link as seen on the screen.
type tracer struct {
	w    int
	v    []float64
	next map[int]int
}

func (t *tracer) cell(x, y int) {
	i := y*t.w + x
	a, b, c, d := t.v[i] > 0, t.v[i+1] > 0, t.v[i+t.w+1] > 0, t.v[i+t.w] > 0 // clockwise from the upper left
	top, right, bottom, left := 2*i, 2*(i+1)+1, 2*(i+t.w), 2*i+1
	code := 0
	for k, in := range [4]bool{a, b, c, d} {
		if in {
			code |= 1 << k
		}
	}
	link := func(from, to int) { t.next[from] = to }
	switch code {
	case 1:
		link(left, top)
	case 2:
		link(top, right)
	case 3:
		link(left, right)
	case 4:
		link(right, bottom)
	case 5:
		link(left, top)
		link(right, bottom)
	case 6:
		link(top, bottom)
	case 7:
		link(left, bottom)
	case 8:
		link(bottom, left)
	case 9:
		link(bottom, top)
	case 10:
		link(top, right)
		link(bottom, left)
	case 11:
		link(bottom, right)
	case 12:
		link(right, left)
	case 13:
		link(right, top)
	case 14:
		link(top, left)
	}
}

func (t *tracer) rings(origin geom.Px) [][]geom.Px {
	starts := make([]int, 0, len(t.next))
	for k := range t.next {
		starts = append(starts, k)
	}
	slices.Sort(starts)
	var out [][]geom.Px
	for _, s := range starts {
		var ring []geom.Px
		for k := s; ; {
			to, ok := t.next[k]
			if !ok {
				break
			}
			delete(t.next, k)
			ring = append(ring, t.place(k, origin))
			k = to
		}
		if len(ring) >= 3 {
			out = append(out, ring)
		}
	}
	return out
}

// place interpolates a crossing, a little away from the grid points so that no two can fall together.
func (t *tracer) place(k int, origin geom.Px) geom.Px {
	i, j := k/2, k/2+1
	if k%2 == 1 {
		j = k/2 + t.w
	}
	part := math.Max(0.01, math.Min(0.99, t.v[i]/(t.v[i]-t.v[j])))
	x, y := float64(i%t.w), float64(i/t.w)
	if k%2 == 1 {
		y += part
	} else {
		x += part
	}
	return geom.Px{X: origin.X + x, Y: origin.Y + y}
}

// nest sorts rings that do not meet into outlines with holes: a ring inside an odd number of others is a hole of the
// smallest ring round it.
func nest(rings [][]geom.Px) []Polygon {
	slices.SortStableFunc(rings, func(a, b []geom.Px) int {
		return cmp.Compare(math.Abs(signedArea(b)), math.Abs(signedArea(a)))
	})
	var out []Polygon
	owner := make([]int, len(rings)) // index in out, -1 for a hole
	for i, r := range rings {
		parent := -1
		for j := range i {
			if inRing(rings[j], r[0]) {
				parent = j
			}
		}
		if parent >= 0 && owner[parent] >= 0 {
			owner[i] = -1
			out[owner[parent]].Holes = append(out[owner[parent]].Holes, r)
			continue
		}
		owner[i] = len(out)
		out = append(out, Polygon{Outer: r})
	}
	return out
}
