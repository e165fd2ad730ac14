package ink

import (
	"image"
	"runtime"
	"sync"
	"sync/atomic"
)

// bandHeight is a compromise: shapes are walked once for each band they touch, and idle cores want many bands.
const bandHeight = 125

// Bands calls draw once for each of several horizontal bands of dst, on all cores at once, and returns when all are
// drawn. Each part shares the pixels and the coordinates of dst, so draw makes the same calls for every part; it must
// not change anything it shares with its other runs.
func Bands(dst *image.RGBA, draw func(part *image.RGBA)) {
	n := (dst.Rect.Dy() + bandHeight - 1) / bandHeight
	helpers := min(runtime.GOMAXPROCS(0), n) - 1
	if helpers < 1 {
		if n > 0 {
			draw(dst)
		}
		return
	}
	j := jobs.Get().(*job)
	j.dst, j.draw, j.bands = dst, draw, int32(n)
	j.next.Store(0)
	j.wg.Add(helpers)
	for range helpers {
		go j.background()
	}
	j.run()
	j.wg.Wait()
	j.dst, j.draw = nil, nil
	jobs.Put(j)
}

// job is reused together with its goroutine's function, so that a frame allocates nothing.
type job struct {
	dst        *image.RGBA
	draw       func(*image.RGBA)
	bands      int32
	next       atomic.Int32
	wg         sync.WaitGroup
	background func()
}

var jobs = sync.Pool{New: func() any {
	j := new(job)
	j.background = func() {
		defer j.wg.Done()
		j.run()
	}
	return j
}}

var parts = sync.Pool{New: func() any { return new(image.RGBA) }}

func (j *job) run() {
	part := parts.Get().(*image.RGBA)
	for n := j.next.Add(1) - 1; n < j.bands; n = j.next.Add(1) - 1 {
		r := j.dst.Rect
		r.Min.Y += int(n) * bandHeight
		r.Max.Y = min(r.Max.Y, r.Min.Y+bandHeight)
		part.Rect, part.Stride, part.Pix = r, j.dst.Stride, j.dst.Pix[j.dst.PixOffset(r.Min.X, r.Min.Y):]
		j.draw(part)
	}
	part.Pix = nil
	parts.Put(part)
}
