package scan

import (
	"math"
	"sort"

	"sectionary/slices/geom"
)

// Projection says how the values across a slab become one.
type Projection uint8

// Projections across a slab.
const (
	Mean Projection = iota
	Max
	Min
)

// CutOptions choose more than a thin trilinear cut. The zero value is the thin trilinear cut.
type CutOptions struct {
	Thickness  float64    // mm of patient, centred on the face; 0 is a thin cut
	Projection Projection // how values across the thickness become one
	Samples    int        // cuts across the thickness, at the middles of equal parts; 0 picks at least two per voxel
	Cubic      bool       // Keys's cubic (a = -1/2, IEEE TASSP 29:1153, 1981) in place of linear
}

// Slice cuts the volume by pose: pixel (i, j) of the w x h picture is face mm (i*spacing, j*spacing). dst holds w*h values,
// row by row. Values are trilinear between voxel centres, by the true position of each slice; NaN outside the scan and
// where slices are missing. Slice panics when dst is shorter than w*h.
func (v *Volume) Slice(dst []float32, w, h int, p geom.Pose, spacing float64) {
	v.Cut(dst, w, h, p, spacing, CutOptions{})
}

// Cut is Slice with options. A slab that leaves the scan, or meets a gap, anywhere across its thickness is NaN there.
func (v *Volume) Cut(dst []float32, w, h int, p geom.Pose, spacing float64, o CutOptions) {
	dst = dst[:w*h]
	c := v.cutter()
	dx, dy := p.X.Mul(p.Scale*spacing), p.Y.Mul(p.Scale*spacing)
	offsets := o.offsets(c.finest)
	n := p.Normal().Unit()
	sample := v.sampler(o.Cubic)
	split(h, func(from, to int) {
		var line []float32
		if len(offsets) > 1 {
			line = make([]float32, w)
		}
		for j := from; j < to; j++ {
			row := dst[j*w : (j+1)*w]
			start := p.Origin.Add(dy.Mul(float64(j)))
			if line == nil {
				sample(row, start.Add(n.Mul(offsets[0])), dx)
				continue
			}
			for q, off := range offsets {
				sample(line, start.Add(n.Mul(off)), dx)
				o.Projection.gather(row, line, q == 0)
			}
			if o.Projection == Mean {
				for i := range row {
					row[i] /= float32(len(offsets))
				}
			}
		}
	})
}

// maxAcross bounds the cuts of a slab.
const maxAcross = 1024

// offsets returns where, in mm along the normal, a slab is sampled: the middles of equal parts.
func (o CutOptions) offsets(finest float64) []float64 {
	if !(o.Thickness > 0) {
		return []float64{0}
	}
	n := o.Samples
	if n < 1 {
		n = int(math.Ceil(math.Min(2*o.Thickness/finest, maxAcross)))
	}
	list := make([]float64, max(1, min(n, maxAcross)))
	for q := range list {
		list[q] = o.Thickness * ((float64(q)+0.5)/float64(len(list)) - 0.5)
	}
	return list
}

// gather adds one cut of a slab to those before. NaN stays: what is unknown in part is unknown.
func (p Projection) gather(into, line []float32, first bool) {
	switch {
	case first:
		copy(into, line)
	case p == Mean:
		for i, x := range line {
			into[i] += x
		}
	case p == Max:
		for i, x := range line {
			into[i] = max(into[i], x)
		}
	default:
		for i, x := range line {
			into[i] = min(into[i], x)
		}
	}
}

// Sample returns the trilinear value at a place in the patient, NaN outside the scan and in gaps.
func (v *Volume) Sample(p geom.LPS) float64 {
	var one [1]float32
	v.sampler(false)(one[:], p, geom.Vec{})
	return float64(one[0])
}

// cutter is the way from the patient to voxels. A place has column and row numbers, which the affine gives, and a
// distance s in mm along the normal from the first slice, which the true positions turn into a slice number.
type cutter struct {
	origin           geom.LPS
	i, j, s          geom.Vec // rows of the inverse: columns per mm, rows per mm, mm along the normal
	size             [3]int
	position         []float64 // s of each slice, rising
	pace             float64   // slices per mm where the stack is even, else 0
	shiftI, shiftJ   []float64 // voxels that each slice lies off the affine; nil when all lie on it
	gaps             []bool    // nil when there is none
	finest           float64   // least voxel spacing in mm
	half             float64   // mm that a single slice reaches to either side
	rowStep, layStep int       // distances in the voxel list
}

// cutter returns the volume's cutter. A volume whose affine is flat has none inside it: every sample is NaN.
func (v *Volume) cutter() *cutter {
	v.once.Do(func() { v.placed = v.newCutter() })
	return v.placed
}

const (
	evenWithin     = 1e-3 // of the spacing: positions this close to even count as even
	straightWithin = 0.01 // mm: slices this close to the affine count as on it
)

func (v *Volume) newCutter() *cutter {
	a := v.ToLPS
	col, row, step := a.Column(0), a.Column(1), a.Column(2)
	c := &cutter{origin: v.Origins[0], size: v.Size, rowStep: v.Size[0], layStep: v.Size[0] * v.Size[1]}
	det := col.Dot(row.Cross(step))
	if det == 0 || math.IsNaN(det) {
		c.size = [3]int{}
		c.finest = 1
		return c
	}
	c.i, c.j = row.Cross(step).Mul(1/det), step.Cross(col).Mul(1/det)
	c.s = col.Cross(row).Unit()
	if c.s.Dot(step) < 0 {
		c.s = c.s.Neg()
	}
	pace := c.s.Dot(step)
	c.finest = math.Min(math.Min(col.Len(), row.Len()), pace)
	c.half = pace / 2
	c.pace = 1 / pace
	straight := true
	for k, o := range v.Origins {
		d := o.Sub(c.origin)
		s := d.Dot(c.s)
		off := d.Sub(step.Mul(s / pace))
		c.position = append(c.position, s)
		c.shiftI, c.shiftJ = append(c.shiftI, c.i.Dot(off)), append(c.shiftJ, c.j.Dot(off))
		straight = straight && off.Len() < straightWithin
		if math.Abs(s-float64(k)*pace) > evenWithin*pace {
			c.pace = 0
		}
	}
	if straight {
		c.shiftI, c.shiftJ = nil, nil
	}
	for _, gap := range v.Gaps {
		if gap {
			c.gaps = v.Gaps
			c.pace = 0
		}
	}
	return c
}

// slack is how far outside the outermost voxel centres still counts as on them, in voxels: rounding.
const slack = 1e-6

// layer returns the slice before s and how far s lies on the way to the next; false outside the stack and in gaps.
func (c *cutter) layer(s float64) (k int, f float64, ok bool) {
	last := c.size[2] - 1
	switch {
	case last < 0:
		return 0, 0, false
	case last == 0:
		return 0, 0, math.Abs(s) <= c.half
	case c.pace > 0:
		s *= c.pace
		if !(s >= -slack && s <= float64(last)+slack) {
			return 0, 0, false
		}
		k = min(int(s), last-1)
		return k, s - float64(k), true
	}
	k = sort.SearchFloat64s(c.position, s) - 1
	k = max(0, min(k, last-1))
	f = (s - c.position[k]) / (c.position[k+1] - c.position[k])
	if !(f >= -slack && f <= 1+slack) {
		return 0, 0, false
	}
	if c.gaps != nil && c.gaps[k] && f > slack && f < 1-slack {
		return 0, 0, false
	}
	return k, f, true
}

// cell returns the voxel before x along one axis of n voxels, how far x lies on the way to the next and the distance to
// it in the list; false outside. An axis of one voxel reaches half a voxel to either side.
func cell(x float64, n, step int) (at int, f float64, next int, ok bool) {
	if n == 1 {
		return 0, 0, 0, math.Abs(x) <= 0.5
	}
	if !(x >= -slack && x <= float64(n-1)+slack) {
		return 0, 0, 0, false
	}
	i := min(int(x), n-2)
	return i * step, x - float64(i), step, true
}
