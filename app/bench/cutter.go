package bench

import (
	"image"
	"image/color"
	"math"
	"reflect"
	"runtime"
	"sync"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/scan"
)

// cutter paints a cut of the scan, keeping the values so that only a new place is cut anew and a new window is not.
type cutter struct {
	key    cutKey
	values []float32
	ramp   *ramp // of window
	window scan.Window
	wide   *image.RGBA // the flat cut a bent one is taken from
}

// cutKey is all that the values of a cut depend on.
type cutKey struct {
	volume  *scan.Volume
	pose    geom.Pose
	w, h    int
	spacing float64
}

// paint fills dst with the cut that view (in face mm) shows of v at pose. What lies outside the scan is hatched.
func (c *cutter) paint(dst *image.RGBA, v *scan.Volume, pose geom.Pose, view Viewport, w scan.Window, ground color.RGBA) {
	key := displayPose(pose, view, dst.Rect)
	key.volume = v
	if key != c.key || c.values == nil {
		if need := key.w * key.h; cap(c.values) < need {
			c.values = make([]float32, need)
		}
		c.values = c.values[:key.w*key.h]
		cutRows(v, c.values, key)
		c.key = key
	}
	if c.ramp == nil || !reflect.DeepEqual(c.window, w) {
		c.ramp, c.window = newRamp(w), w
	}
	ramp := c.ramp
	ink.Bands(dst, func(part *image.RGBA) {
		for y := part.Rect.Min.Y; y < part.Rect.Max.Y; y++ {
			row := c.values[(y-dst.Rect.Min.Y)*key.w:][:key.w]
			pix := part.Pix[part.PixOffset(part.Rect.Min.X, y):][:4*key.w]
			for x, value := range row {
				p := pix[4*x:][:4:4]
				if value != value { // NaN: outside the scan, or a gap
					g := ground
					if (x+y)%16 < 2 {
						g = color.RGBA{ground.R + 24, ground.G + 24, ground.B + 24, 255}
					}
					p[0], p[1], p[2], p[3] = g.R, g.G, g.B, 255
					continue
				}
				g := ramp.grey(value)
				p[0], p[1], p[2], p[3] = g, g, g, 255
			}
		}
	})
}

// displayPose is the pose whose first pixel is the first of rect, with x along the rows of the picture as shown.
func displayPose(pose geom.Pose, view Viewport, rect image.Rectangle) cutKey {
	at := func(x, y int) geom.LPS {
		p := view.Picture(geom.Px{X: float64(x), Y: float64(y)})
		return pose.At(geom.MM{X: p.X, Y: p.Y})
	}
	o := at(rect.Min.X, rect.Min.Y)
	l := view.linear() // device to face is its transpose
	x := pose.X.Mul(l[0]).Add(pose.Y.Mul(l[1]))
	y := pose.X.Mul(l[2]).Add(pose.Y.Mul(l[3]))
	return cutKey{pose: geom.Pose{Origin: o, X: x, Y: y, Scale: pose.Scale}, w: rect.Dx(), h: rect.Dy(), spacing: 1 / view.Zoom}
}

// cutRows cuts in bands of rows on all cores.
func cutRows(v *scan.Volume, dst []float32, k cutKey) {
	n := min(runtime.GOMAXPROCS(0), k.h)
	var wg sync.WaitGroup
	for i := range n {
		y0, y1 := i*k.h/n, (i+1)*k.h/n
		wg.Go(func() {
			p := k.pose
			p.Origin = p.At(geom.MM{Y: float64(y0) * k.spacing})
			v.Slice(dst[y0*k.w:y1*k.w], k.w, y1-y0, p, k.spacing)
		})
	}
	wg.Wait()
}

// ramp is a window as a table over the values a scan holds, so that each pixel is one look-up.
type ramp struct {
	least float32
	per   float32 // entries for each unit of value
	table [4096]uint8
}

func newRamp(w scan.Window) *ramp {
	lo, hi := w.Centre-w.Width, w.Centre+w.Width
	switch { // wide enough that beyond both ends the grey no longer changes; the volume's own range would take a look at every voxel
	case len(w.Table) > 0:
		lo, hi = w.First-1, w.First+float64(len(w.Table))
	case w.Function == scan.Sigmoid:
		lo, hi = w.Centre-3*w.Width, w.Centre+3*w.Width
	}
	if !(hi > lo) {
		hi = lo + 1
	}
	r := &ramp{least: float32(lo)}
	r.per = float32(float64(len(r.table)-1) / (hi - lo))
	for i := range r.table {
		r.table[i] = uint8(math.Min(255, math.Max(0, w.Level(lo+float64(i)/float64(r.per))+0.5)))
	}
	return r
}

func (r *ramp) grey(v float32) uint8 {
	i := int((v-r.least)*r.per + 0.5)
	return r.table[min(max(i, 0), len(r.table)-1)]
}
