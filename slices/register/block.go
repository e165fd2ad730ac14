package register

import (
	"context"
	"math"
	"runtime"
	"sync"

	"sectionary/slices/geom"
)

// Cutter is a scan that can be cut along a pose, as scan.Volume can: pixel (i, j) of the w x h picture is face mm
// (i*spacing, j*spacing); places outside the scan are NaN.
type Cutter interface {
	Slice(dst []float32, w, h int, p geom.Pose, spacing float64)
}

// point is a place in a block, in mm along the axes of the pose it was cut round.
type point [3]float64

// block is a piece of the scan round a face, sampled evenly along the axes of a pose: columns along X, rows
// along Y, layers along the normal. NaN marks places outside the scan.
type block struct {
	size  [3]int
	step  float64 // mm of patient, along every axis
	first point   // where sample (0, 0, 0) lies
	v     []float32
}

// cutBlock samples scan round pose so that every place within half (mm, along the pose's axes) of its origin is held.
func cutBlock(ctx context.Context, scan Cutter, pose geom.Pose, half point, step float64) (*block, error) {
	b := &block{step: step}
	for k := range 3 {
		n := int(math.Ceil(half[k] / step))
		b.size[k], b.first[k] = 2*n+1, -float64(n)*step
	}
	layer := b.size[0] * b.size[1]
	b.v = make([]float32, layer*b.size[2])
	layers := make(chan int)
	var group sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), 8) {
		group.Go(func() {
			for k := range layers {
				at := pose
				at.Scale = 1
				at.Origin = pose.Origin.Add(pose.X.Mul(b.first[0])).Add(pose.Y.Mul(b.first[1])).Add(pose.Normal().Mul(b.first[2] + float64(k)*step))
				scan.Slice(b.v[k*layer:(k+1)*layer], b.size[0], b.size[1], at, step)
			}
		})
	}
	for k := range b.size[2] {
		if ctx.Err() != nil {
			break
		}
		layers <- k
	}
	close(layers)
	group.Wait()
	return b, ctx.Err()
}

// halved returns the block at twice the step, each sample the mean of those it covers.
func (b *block) halved() *block {
	h := &block{step: 2 * b.step}
	for k := range 3 {
		h.size[k] = max(1, b.size[k]/2)
		h.first[k] = b.first[k] + b.step/2
	}
	h.v = make([]float32, h.size[0]*h.size[1]*h.size[2])
	row, layer := b.size[0], b.size[0]*b.size[1]
	for z := range h.size[2] {
		for y := range h.size[1] {
			for x := range h.size[0] {
				at := 2*z*layer + 2*y*row + 2*x
				h.v[(z*h.size[1]+y)*h.size[0]+x] = mean8(b.v, at, row, layer)
			}
		}
	}
	return h
}

// mean8 is the mean of the eight samples from at on that are not NaN.
func mean8(v []float32, at, row, layer int) float32 {
	var sum, n float32
	for _, d := range [8]int{0, 1, row, row + 1, layer, layer + 1, layer + row, layer + row + 1} {
		if at+d < len(v) {
			if x := v[at+d]; x == x {
				sum, n = sum+x, n+1
			}
		}
	}
	return sum / n // NaN when there is none
}

// at returns the trilinear value at p and its slope per mm along the axes; NaN outside the block.
func (b *block) at(p point) (value float32, slope [3]float32) {
	var i [3]int
	var f [3]float32
	for k := range 3 {
		x := (p[k] - b.first[k]) / b.step
		if !(x >= 0 && x < float64(b.size[k]-1)) {
			return float32(math.NaN()), slope
		}
		i[k] = int(x)
		f[k] = float32(x - float64(i[k]))
	}
	row, layer := b.size[0], b.size[0]*b.size[1]
	at := i[2]*layer + i[1]*row + i[0]
	v := b.v[at : at+layer+row+2]
	d00, d10, d01, d11 := v[1]-v[0], v[row+1]-v[row], v[layer+1]-v[layer], v[layer+row+1]-v[layer+row]
	c00, c10, c01, c11 := v[0]+f[0]*d00, v[row]+f[0]*d10, v[layer]+f[0]*d01, v[layer+row]+f[0]*d11
	e0, e1 := c10-c00, c11-c01
	c0, c1 := c00+f[1]*e0, c01+f[1]*e1
	s := 1 / float32(b.step)
	x0, x1 := d00+f[1]*(d10-d00), d01+f[1]*(d11-d01)
	slope = [3]float32{s * (x0 + f[2]*(x1-x0)), s * (e0 + f[2]*(e1-e0)), s * (c1 - c0)}
	return c0 + f[2]*(c1-c0), slope
}
