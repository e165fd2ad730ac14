package ink

import (
	"image"
	"image/color"
	"math"
	"sync"

	"sectionary/slices/geom"
)

// raster collects how much of each pixel a shape covers. Every edge adds to the pixels it crosses the change of
// coverage from there rightward; summing a row from the left then gives the coverage, as exact areas. All numbers are
// whole, in 256ths of a pixel, and each row and column boundary an edge crosses is computed from the edge's own ends:
// therefore the sum comes back to exactly zero behind a shape, and a clipped drawing is a part of the whole one.
type raster struct {
	clip   image.Rectangle // pixels collected
	stride int
	cells  []int32 // stride per row, one more than the width
	lo, hi []int32 // first and last touched cell of each row
	pts    []geom.Px
	keep   bool // paint leaves the shape in the raster, to be painted once more
}

const (
	unit     = 256             // one pixel
	full     = 2 * unit * unit // coverage of a whole pixel
	maxWidth = 1e5             // widest line and largest radius, px
	maxCoord = 1e9             // points beyond are left out
)

var rasters = sync.Pool{New: func() any { return new(raster) }}

// sane reports whether p can be drawn at all.
func sane(p geom.Px) bool { return math.Abs(p.X) <= maxCoord && math.Abs(p.Y) <= maxCoord }

// boundsOf is the smallest rectangle of pixels round pts, widened by margin pixels.
func boundsOf(pts []geom.Px, margin float64) image.Rectangle {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range pts {
		if !sane(p) {
			continue
		}
		if p.X < x0 {
			x0 = p.X
		}
		if p.X > x1 {
			x1 = p.X
		}
		if p.Y < y0 {
			y0 = p.Y
		}
		if p.Y > y1 {
			y1 = p.Y
		}
	}
	if x0 > x1 {
		return image.Rectangle{}
	}
	return image.Rect(int(math.Floor(x0-margin)), int(math.Floor(y0-margin)), int(math.Ceil(x1+margin))+1, int(math.Ceil(y1+margin))+1)
}

func bounds(rings [][]geom.Px, margin float64) (r image.Rectangle) {
	for _, ring := range rings {
		r = r.Union(boundsOf(ring, margin))
	}
	return r
}

// newRaster returns an empty raster for the part of dst within r, or nil when there is none.
func newRaster(dst *image.RGBA, r image.Rectangle) *raster {
	r = r.Intersect(dst.Rect)
	if r.Empty() {
		return nil
	}
	s := rasters.Get().(*raster)
	s.clip, s.stride = r, r.Dx()+1
	if n := s.stride * r.Dy(); cap(s.cells) < n {
		s.cells = make([]int32, n)
	} else {
		s.cells = s.cells[:n] // paint left it all zero
	}
	if n := r.Dy(); cap(s.lo) < n {
		s.lo, s.hi = make([]int32, n), make([]int32, n)
	} else {
		s.lo, s.hi = s.lo[:n], s.hi[:n]
	}
	for i := range s.lo {
		s.lo[i], s.hi[i] = math.MaxInt32, -1
	}
	return s
}

func (r *raster) free() { rasters.Put(r) }

// ring adds a closed outline.
func (r *raster) ring(pts []geom.Px) {
	p := pen{r: r}
	for _, q := range r.thinned(pts) {
		p.to(q)
	}
	p.close()
}

// thinned leaves out points that cannot be drawn, and of those that lie within a twentieth of a pixel of the line past
// them, never two in a row: outlines carry more points than a screen shows. The slice is reused by the next call.
func (r *raster) thinned(pts []geom.Px) []geom.Px {
	out, passed := r.pts[:0], true
	for i, p := range pts {
		if !sane(p) {
			continue
		}
		if !passed && i+1 < len(pts) {
			a, b := out[len(out)-1], pts[i+1]
			dx, dy, px, py := b.X-a.X, b.Y-a.Y, p.X-a.X, p.Y-a.Y
			long, along, off := dx*dx+dy*dy, dx*px+dy*py, dx*py-dy*px
			if off*off < 0.0025*long && along > 0 && along < long {
				passed = true
				continue
			}
		}
		out, passed = append(out, p), false
	}
	r.pts = out
	return out
}

// triangle adds a triangle wound in the positive sense whatever its order.
func (r *raster) triangle(a, b, c geom.Px) {
	if (b.X-a.X)*(c.Y-a.Y)-(b.Y-a.Y)*(c.X-a.X) < 0 {
		b, c = c, b
	}
	r.edge(a, b)
	r.edge(b, c)
	r.edge(c, a)
}

// arc adds a sector's worth of a circle as a closed outline.
func (r *raster) arc(centre geom.Px, radius, from, to float64) {
	p := pen{r: r}
	p.arcTo(centre, radius, from, to)
	p.close()
}

// pen adds an outline point by point.
type pen struct {
	r        *raster
	start    geom.Px
	last     geom.Px
	anything bool
}

func (p *pen) to(q geom.Px) {
	if !sane(q) {
		return
	}
	if p.anything {
		p.r.edge(p.last, q)
	} else {
		p.start, p.anything = q, true
	}
	p.last = q
}

func (p *pen) close() {
	if p.anything {
		p.r.edge(p.last, p.start)
	}
}

// arcTo goes along a circle in steps that stay within a twentieth of a pixel of it.
func (p *pen) arcTo(centre geom.Px, radius, from, to float64) {
	n := math.Ceil(math.Abs(to-from) / (2 * math.Acos(math.Max(0, 1-0.05/math.Max(radius, 0.06)))))
	n = math.Max(1, math.Min(n, 2000))
	for i := range int(n) + 1 {
		sin, cos := math.Sincos(from + (to-from)*float64(i)/n)
		p.to(geom.Px{X: centre.X + radius*cos, Y: centre.Y + radius*sin})
	}
}

// edge adds a straight edge; going down counts positive. Heights and widths are in 256ths of a pixel from the corner
// of pixel (0, 0).
func (r *raster) edge(a, b geom.Px) {
	sign := int32(1)
	if a.Y > b.Y {
		a, b, sign = b, a, -1
	}
	ax, ay, bx, by := (a.X+0.5)*unit, (a.Y+0.5)*unit, (b.X+0.5)*unit, (b.Y+0.5)*unit
	y0, y1 := nearestInt(ay), nearestInt(by)
	top, bottom := r.clip.Min.Y<<8, r.clip.Max.Y<<8
	if y0 == y1 || y0 >= bottom || y1 <= top {
		return
	}
	lo, hi := nearestInt(ax), nearestInt(bx)
	if y0>>8 == (y1-1)>>8 { // within one row of pixels
		r.across(y0>>8-r.clip.Min.Y, lo, hi, y1-y0, sign)
		return
	}
	if lo > hi {
		lo, hi = hi, lo
	}
	slope := (bx - ax) / (by - ay)
	y0, y1 = max(y0, top), min(y1, bottom)
	x := max(lo, min(hi, nearestInt(ax+(float64(y0)-ay)*slope)))
	for y0 < y1 {
		next := min((y0>>8+1)<<8, y1)
		nx := max(lo, min(hi, nearestInt(ax+(float64(next)-ay)*slope)))
		r.across(y0>>8-r.clip.Min.Y, x, nx, next-y0, sign)
		x, y0 = nx, next
	}
}

// nearestInt rounds halves up; a large offset makes cutting off into rounding down.
func nearestInt(v float64) int {
	const offset = 1 << 40
	return int(v+(offset+0.5)) - offset
}

// across adds the part of an edge within one row: from x0 to x1 while going dy down.
func (r *raster) across(row, x0, x1, dy int, sign int32) {
	if x0 > x1 {
		x0, x1 = x1, x0 // the area is the same
	}
	left, width := r.clip.Min.X, r.stride-1
	if x0 >= (left+width)<<8 {
		return
	}
	cells := r.cells[row*r.stride : (row+1)*r.stride]
	c0, c1 := x0>>8-left, x1>>8-left
	r.lo[row] = min(r.lo[row], int32(max(c0, 0)))
	r.hi[row] = max(r.hi[row], int32(max(0, min(c1+1, width-1))))
	if c0 == c1 {
		if c0 < 0 { // all coverage lies to the right
			cells[0] += sign * int32(dy) * 2 * unit
			return
		}
		put(cells[c0:], x0&255+x1&255, sign*int32(dy))
		return
	}
	done, span := 0, x1-x0
	if c0 < 0 {
		done = dy
		if c1 >= 0 {
			done = (dy*(left<<8-x0) + span/2) / span
		}
		cells[0] += sign * int32(done) * 2 * unit
		c0 = 0
	}
	for c := c0; c <= min(c1, width-1); c++ {
		from, to := max(x0, (left+c)<<8), min(x1, (left+c+1)<<8)
		down := (dy*(to-x0) + span/2) / span // height reached at to, from the edge's own ends
		put(cells[c:], from+to-(left+c)<<9, sign*int32(down-done))
		done = down
	}
}

// put adds an edge of height dy within the first cell; twice is the sum of its two x in 256ths from the cell's left.
func put(cells []int32, twice int, dy int32) {
	right := dy * int32(twice)
	cells[0] += dy*2*unit - right
	cells[1] += right
}

// rule turns summed winding into coverage.
type rule uint8

const (
	evenOdd rule = iota // overlaps are holes
	union               // overlaps count once
)

// coverage is 0 to 255.
func (k rule) coverage(sum int32) uint32 {
	if sum < 0 {
		sum = -sum
	}
	if sum > full {
		if k == union {
			return 255
		}
		if sum &= 2*full - 1; sum > full {
			sum = 2*full - sum
		}
	}
	return uint32(sum*255+full/2) / full
}

// paint blends c over dst by coverage and leaves the raster empty, unless keep is set.
func (r *raster) paint(dst *image.RGBA, k rule, c color.RGBA) {
	b := newBrush(c)
	for i := range r.lo {
		lo, hi := int(r.lo[i]), int(r.hi[i])
		if hi < 0 {
			continue
		}
		cells := r.cells[i*r.stride : (i+1)*r.stride]
		o := dst.PixOffset(r.clip.Min.X, r.clip.Min.Y+i)
		row := dst.Pix[o : o+4*(r.stride-1)]
		sum, covered := int32(0), uint32(0)
		for x := lo; x <= hi; {
			if d := cells[x]; d != 0 {
				if !r.keep {
					cells[x] = 0
				}
				sum += d
				covered = k.coverage(sum)
				if covered != 0 {
					b.dab(row[4*x:4*x+4], covered)
				}
				x++
				continue
			}
			from := x
			for x++; x+3 <= hi && cells[x]|cells[x+1]|cells[x+2]|cells[x+3] == 0; x += 4 {
			}
			for ; x <= hi && cells[x] == 0; x++ {
			}
			if covered != 0 {
				b.run(row[4*from:4*x], covered)
			}
		}
		if covered != 0 && hi+1 < r.stride-1 { // the shape goes on beyond the clip
			b.run(row[4*(hi+1):], covered)
		}
		if !r.keep {
			cells[r.stride-1] = 0
		}
	}
}
