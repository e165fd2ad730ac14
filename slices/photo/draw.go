package photo

import (
	"encoding/binary"
	"image"
	"math"
	"runtime"
	"sync"
	"sync/atomic"
)

// Coordinates while drawing are fixed-point with 24 bits of fraction.
const (
	fracBits = 24
	one      = 1 << fracBits
	half     = one / 2
)

const (
	coarsest  = 1.8     // most source pixels stepped over by one pixel of dst; beyond it the next level serves
	nearest   = 1.0 / 6 // below this step every photo pixel is shown as a square
	maxStep   = 1e5     // beyond this the whole photograph is less than a pixel
	maxOffset = 1e10
)

// Draw paints the photograph into dst. toPhoto is a row-major 2x3 affine from pixel centres of dst to pixel
// centres of the upright photograph; it may turn, mirror and zoom. Pixels of dst outside the photograph are
// left as they are. It interpolates between four pixels, shows squares above six-fold zoom, works on all cores and
// allocates nothing once warm. A map with infinities or beyond all sense paints nothing.
func (m *Image) Draw(dst *image.RGBA, toPhoto [6]float64) {
	if dst.Rect.Empty() || len(m.levels) == 0 || m.levels[0].w == 0 || m.levels[0].h == 0 {
		return
	}
	for i, v := range toPhoto {
		limit := float64(maxStep)
		if i%3 == 2 {
			limit = maxOffset
		}
		if !(math.Abs(v) <= limit) {
			return
		}
	}
	j := drawJobs.Get().(*drawJob)
	j.plan(m, dst, after(m.turn, toPhoto))
	j.start()
	j.m, j.dst = nil, nil
	drawJobs.Put(j)
}

// drawJob paints one picture in tiles handed to the cores one by one. Jobs are reused, with their goroutine's
// function, so that a frame allocates nothing.
type drawJob struct {
	m          *Image
	dst        *image.RGBA
	to         [6]float64 // dst to the chosen level
	level      int
	edgeX      int64 // right and lower border of the photograph in the level, fixed-point
	edgeY      int64
	square     bool // nearest pixel
	tile       image.Point
	across     int
	tiles      int32
	next       atomic.Int32
	wg         sync.WaitGroup
	background func()
}

var drawJobs = sync.Pool{New: func() any {
	j := new(drawJob)
	j.background = func() {
		j.run()
		j.wg.Done()
	}
	return j
}}

func (j *drawJob) plan(m *Image, dst *image.RGBA, to [6]float64) {
	step := math.Max(math.Hypot(to[0], to[3]), math.Hypot(to[1], to[4]))
	j.m, j.dst, j.level = m, dst, 0
	for step > coarsest && j.level < len(m.levels)-1 {
		step /= 2
		j.level++
	}
	s := math.Ldexp(1, -j.level)
	shift := (1 - s) / 2 // the first pixel of a level is centred on a block of pixels
	for i := range to {
		to[i] *= s
	}
	to[2] -= shift
	to[5] -= shift
	j.to, j.square = to, step < nearest
	j.edgeX, j.edgeY = fixed(float64(m.stored.X)*s-0.5), fixed(float64(m.stored.Y)*s-0.5)
	w, h := dst.Rect.Dx(), dst.Rect.Dy()
	j.tile = image.Pt(64, 32) // keeps the source of a turned map within the cache
	if math.Abs(to[3]) < 1e-3 {
		j.tile = image.Pt(w, 16)
	}
	j.across = (w + j.tile.X - 1) / j.tile.X
	j.tiles = int32(j.across * ((h + j.tile.Y - 1) / j.tile.Y))
	j.next.Store(0)
}

func fixed(v float64) int64 { return int64(math.Round(v * one)) }

func (j *drawJob) start() {
	helpers := min(runtime.GOMAXPROCS(0), int(j.tiles)) - 1
	j.wg.Add(helpers)
	for range helpers {
		go j.background()
	}
	j.run()
	j.wg.Wait()
}

func (j *drawJob) run() {
	for {
		n := j.next.Add(1) - 1
		if n >= j.tiles {
			return
		}
		at := j.dst.Rect.Min.Add(image.Pt(int(n)%j.across*j.tile.X, int(n)/j.across*j.tile.Y))
		r := image.Rectangle{Min: at, Max: at.Add(j.tile)}.Intersect(j.dst.Rect)
		for y := r.Min.Y; y < r.Max.Y; y++ {
			j.row(r.Min.X, r.Max.X, y)
		}
	}
}

// span is a run of pixels of one row: where it starts in the level and how it steps, fixed-point.
type span struct {
	out    []byte
	u, v   int64
	du, dv int64
}

// cut returns the part from pixel i up to pixel k.
func (s span) cut(i, k int) span {
	return span{s.out[4*i : 4*k], s.u + int64(i)*s.du, s.v + int64(i)*s.dv, s.du, s.dv}
}

func (j *drawJob) row(x0, x1, y int) {
	fx, fy := float64(x0), float64(y)
	o := j.dst.PixOffset(x0, y)
	s := span{
		out: j.dst.Pix[o : o+4*(x1-x0)],
		u:   fixed(j.to[0]*fx + j.to[1]*fy + j.to[2]), du: fixed(j.to[0]),
		v: fixed(j.to[3]*fx + j.to[4]*fy + j.to[5]), dv: fixed(j.to[3]),
	}
	n := x1 - x0
	first, last := within(s.u, s.du, -half, j.edgeX, 0, n)
	first, last = within(s.v, s.dv, -half, j.edgeY, first, last)
	if first >= last {
		return
	}
	if j.square {
		j.squares(s.cut(first, last))
		return
	}
	l := j.m.levels[j.level]
	in0, in1 := within(s.u, s.du, 0, int64(l.w-1)*one, first, last)
	in0, in1 = within(s.v, s.dv, 0, int64(l.h-1)*one, in0, in1)
	if in0 >= in1 {
		j.border(s.cut(first, last))
		return
	}
	j.border(s.cut(first, in0))
	j.inner(s.cut(in0, in1))
	j.border(s.cut(in1, last))
}

// within narrows the pixels first to last to those whose coordinate lies in [lo, hi).
func within(u, du, lo, hi int64, first, last int) (int, int) {
	if first >= last {
		return first, first
	}
	a, b := u+int64(first)*du, u+int64(last-1)*du
	if min(a, b) >= lo && max(a, b) < hi {
		return first, last
	}
	if du == 0 {
		return first, first
	}
	from, to := ceilDiv(lo-u, du), ceilDiv(hi-u, du) // rising: lo <= u+i*du < hi
	if du < 0 {
		from, to = floorDiv(hi-u, du)+1, floorDiv(lo-u, du)+1
	}
	from, to = max(from, int64(first)), min(to, int64(last))
	if from >= to {
		return first, first
	}
	return int(from), int(to)
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}

func ceilDiv(a, b int64) int64 { return -floorDiv(-a, b) }

// squares paints each pixel with the photo pixel that holds it.
func (j *drawJob) squares(s span) {
	l := j.m.levels[j.level]
	planes := j.level == 0 && j.m.ycc != nil
	u, v := s.u+half, s.v+half
	for i := 0; i < len(s.out); i += 4 {
		x, y := clamp(int(u>>fracBits), l.w), clamp(int(v>>fracBits), l.h)
		var p uint32
		if planes {
			p = pixel(j.m.ycc, x, y)
		} else {
			p = l.pix[y*l.w+x]
		}
		binary.LittleEndian.PutUint32(s.out[i:], p)
		u, v = u+s.du, v+s.dv
	}
}

func clamp(i, n int) int { return max(0, min(i, n-1)) }

// border paints pixels within half a pixel of the photograph's edge, where neighbours are missing.
func (j *drawJob) border(s span) {
	if len(s.out) == 0 {
		return
	}
	l := j.m.levels[j.level]
	planes := j.level == 0 && j.m.ycc != nil
	at := func(x, y int) uint32 {
		x, y = clamp(x, l.w), clamp(y, l.h)
		if planes {
			return pixel(j.m.ycc, x, y)
		}
		return l.pix[y*l.w+x]
	}
	u, v := s.u, s.v
	for i := 0; i < len(s.out); i += 4 {
		x, y := int(u>>fracBits), int(v>>fracBits)
		p := blend4(at(x, y), at(x+1, y), at(x, y+1), at(x+1, y+1), weight(u), weight(v))
		binary.LittleEndian.PutUint32(s.out[i:], p)
		u, v = u+s.du, v+s.dv
	}
}

// weight is the fraction in 256ths, 0 to 256.
func weight(u int64) uint64 { return (uint64(u)&(one-1) + one/512) >> (fracBits - 8) }

// spread gives each of four bytes sixteen bits of room: R, B, G, A from the lowest.
func spread(p uint32) uint64 { return uint64(p)&0x00ff00ff | uint64(p)&0xff00ff00<<24 }

const (
	lanes   = 0x00ff00ff00ff00ff
	rounder = 0x0080008000800080
)

// blend4 interpolates between a b over c d by 256ths to the right and down.
func blend4(a, b, c, d uint32, fx, fy uint64) uint32 {
	gx, gy := 256-fx, 256-fy
	top := (spread(a)*gx + spread(b)*fx + rounder) >> 8 & lanes
	low := (spread(c)*gx + spread(d)*fx + rounder) >> 8 & lanes
	p := (top*gy + low*fy + rounder) >> 8 & lanes
	return uint32(p) | uint32(p>>24)
}
