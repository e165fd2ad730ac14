package scan

import (
	"math"

	"sectionary/slices/geom"
)

// sampler returns a function that fills a row: dst[x] is the value at start + x*step.
func (v *Volume) sampler(cubic bool) func(dst []float32, start geom.LPS, step geom.Vec) {
	c := v.cutter()
	intercept := v.Slope*float64(v.offset) + v.Intercept
	if v.ints != nil {
		return func(dst []float32, start geom.LPS, step geom.Vec) {
			fill(c, v.ints, v.Slope, intercept, cubic, dst, start, step)
		}
	}
	return func(dst []float32, start geom.LPS, step geom.Vec) {
		fill(c, v.floats, v.Slope, intercept, cubic, dst, start, step)
	}
}

var nan = float32(math.NaN())

// fill samples along a row. Only the stretch that can lie inside the scan is looked at pixel by pixel.
func fill[T int16 | float32](c *cutter, vox []T, slope, intercept float64, cubic bool, dst []float32, start geom.LPS, step geom.Vec) {
	d := start.Sub(c.origin)
	r := run{i: c.i.Dot(d), di: c.i.Dot(step), j: c.j.Dot(d), dj: c.j.Dot(step), s: c.s.Dot(d), ds: c.s.Dot(step)}
	from, to := c.stretch(r, len(dst))
	for x := range dst[:from] {
		dst[x] = nan
	}
	for x := to; x < len(dst); x++ {
		dst[x] = nan
	}
	switch {
	case cubic:
		for x := from; x < to; x++ {
			dst[x] = keys(c, vox, slope, intercept, r, float64(x))
		}
	case c.shiftI != nil || c.pace == 0 || c.size[0] < 2 || c.size[1] < 2 || c.size[2] < 2:
		for x := from; x < to; x++ {
			dst[x] = uneven(c, vox, slope, intercept, r, float64(x))
		}
	default:
		even(c, vox, slope, intercept, r, dst, from, to)
	}
}

// run is how column number, row number and distance along the normal change along a row of the picture.
type run struct{ i, di, j, dj, s, ds float64 }

// stretch returns the pixels of a row that may lie inside the scan, with one to spare at either end.
func (c *cutter) stretch(r run, n int) (from, to int) {
	if c.size[0] == 0 || len(c.position) == 0 {
		return 0, 0
	}
	low, high := 0.0, float64(n)
	clip := func(x, dx, least, most float64) {
		if dx == 0 {
			if !(x >= least && x <= most) {
				low, high = 1, 0
			}
			return
		}
		a, b := (least-x)/dx, (most-x)/dx
		low, high = math.Max(low, math.Min(a, b)-1), math.Min(high, math.Max(a, b)+2)
	}
	spareI, spareJ := 0.5, 0.5
	for k := range c.shiftI {
		spareI, spareJ = math.Max(spareI, 0.5+math.Abs(c.shiftI[k])), math.Max(spareJ, 0.5+math.Abs(c.shiftJ[k]))
	}
	clip(r.i, r.di, -spareI, float64(c.size[0]-1)+spareI)
	clip(r.j, r.dj, -spareJ, float64(c.size[1]-1)+spareJ)
	clip(r.s, r.ds, -c.half, c.position[len(c.position)-1]+c.half)
	if !(low < high) {
		return 0, 0
	}
	return int(low), int(high)
}

// even is the straight road: an even stack on its affine, at least two voxels each way.
func even[T int16 | float32](c *cutter, vox []T, slope, intercept float64, r run, dst []float32, from, to int) {
	nx, ny, nz := c.size[0]-1, c.size[1]-1, c.size[2]-1
	maxX, maxY, maxZ := float64(nx)+slack, float64(ny)+slack, float64(nz)+slack
	row, lay := c.rowStep, c.layStep
	s, ds := r.s*c.pace, r.ds*c.pace
	for x := from; x < to; x++ {
		t := float64(x)
		i, j, k := r.i+t*r.di, r.j+t*r.dj, s+t*ds
		if !(i >= -slack && j >= -slack && k >= -slack && i <= maxX && j <= maxY && k <= maxZ) {
			dst[x] = nan
			continue
		}
		a, b, e := min(int(i), nx-1), min(int(j), ny-1), min(int(k), nz-1)
		fi, fj, fk := i-float64(a), j-float64(b), k-float64(e)
		base := e*lay + b*row + a
		p := vox[base : base+row+2 : base+row+2]
		q := vox[base+lay : base+lay+row+2 : base+lay+row+2]
		p0 := mix(float64(p[0]), float64(p[1]), fi)
		p1 := mix(float64(p[row]), float64(p[row+1]), fi)
		q0 := mix(float64(q[0]), float64(q[1]), fi)
		q1 := mix(float64(q[row]), float64(q[row+1]), fi)
		dst[x] = float32(slope*mix(mix(p0, p1, fj), mix(q0, q1, fj), fk) + intercept)
	}
}

func mix(a, b, f float64) float64 { return a + f*(b-a) }

// uneven samples one pixel by the true place of the slices on either side.
func uneven[T int16 | float32](c *cutter, vox []T, slope, intercept float64, r run, x float64) float32 {
	k, f, ok := c.layer(r.s + x*r.ds)
	if !ok {
		return nan
	}
	i, j := r.i+x*r.di, r.j+x*r.dj
	low, ok := flat(c, vox, k, i, j)
	if f != 0 {
		high, both := flat(c, vox, k+1, i, j)
		switch { // a slice that is met exactly needs no neighbour
		case f <= slack && ok:
		case f >= 1-slack && both:
			low, ok = high, true
		default:
			low, ok = mix(low, high, f), ok && both
		}
	}
	if !ok {
		return nan
	}
	return float32(slope*low + intercept)
}

// flat is the bilinear value within slice k.
func flat[T int16 | float32](c *cutter, vox []T, k int, i, j float64) (float64, bool) {
	if c.shiftI != nil {
		i, j = i-c.shiftI[k], j-c.shiftJ[k]
	}
	a, fi, nextI, inI := cell(i, c.size[0], 1)
	b, fj, nextJ, inJ := cell(j, c.size[1], c.rowStep)
	if !inI || !inJ {
		return 0, false
	}
	p := vox[k*c.layStep+a+b:]
	top := mix(float64(p[0]), float64(p[nextI]), fi)
	bottom := mix(float64(p[nextJ]), float64(p[nextJ+nextI]), fi)
	return mix(top, bottom, fj), true
}

// keys samples one pixel by Keys's cubic, edges repeated outside. Between slices that are not evenly spaced, and beside
// gaps, it stays linear along the normal: the cubic is defined for even steps.
func keys[T int16 | float32](c *cutter, vox []T, slope, intercept float64, r run, x float64) float32 {
	k, f, ok := c.layer(r.s + x*r.ds)
	if !ok {
		return nan
	}
	i, j := r.i+x*r.di, r.j+x*r.dj
	weights, first := c.across(k, f)
	var sum float64
	for n, w := range weights {
		if w == 0 {
			continue
		}
		layer := max(0, min(first+n, c.size[2]-1))
		value, in := cubicFlat(c, vox, layer, i, j)
		if !in {
			return nan
		}
		sum += w * value
	}
	return float32(slope*sum + intercept)
}

// across returns the weights of four slices, the first of them numbered first.
func (c *cutter) across(k int, f float64) (weights [4]float64, first int) {
	if c.pace > 0 || c.evenRound(k) {
		return keysWeights(f), k - 1
	}
	return [4]float64{0, 1 - f, f, 0}, k - 1
}

// evenRound reports whether the spaces before and after the one behind slice k are like it, within 5 %.
func (c *cutter) evenRound(k int) bool {
	for n := max(k-1, 0); n <= min(k+1, c.size[2]-2); n++ {
		width, here := c.position[n+1]-c.position[n], c.position[k+1]-c.position[k]
		if math.Abs(width-here) > 0.05*here || c.gaps != nil && c.gaps[n] {
			return false
		}
	}
	return c.size[2] > 1
}

// keysWeights are those of the four samples round a place f on the way from the second to the third (a = -1/2).
func keysWeights(f float64) [4]float64 {
	g := 1 - f
	far := func(t float64) float64 { return ((-0.5*t+2.5)*t-4)*t + 2 } // 1 <= t < 2
	near := func(t float64) float64 { return (1.5*t-2.5)*t*t + 1 }     // t < 1
	return [4]float64{far(1 + f), near(f), near(g), far(1 + g)}
}

// cubicFlat is the bicubic value within slice k.
func cubicFlat[T int16 | float32](c *cutter, vox []T, k int, i, j float64) (sum float64, ok bool) {
	if c.shiftI != nil {
		i, j = i-c.shiftI[k], j-c.shiftJ[k]
	}
	a, fi, _, inI := cell(i, c.size[0], 1)
	b, fj, _, inJ := cell(j, c.size[1], 1)
	if !inI || !inJ {
		return 0, false
	}
	wi, wj := keysWeights(fi), keysWeights(fj)
	for m, u := range wj {
		row := vox[k*c.layStep+max(0, min(b+m-1, c.size[1]-1))*c.rowStep:]
		var line float64
		for n, w := range wi {
			line += w * float64(row[max(0, min(a+n-1, c.size[0]-1))])
		}
		sum += u * line
	}
	return sum, true
}
