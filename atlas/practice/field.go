package practice

import (
	"math"

	"sectionary/annotate"
	"sectionary/slices/geom"
)

func sideOf(s float64) annotate.Side {
	if s < 0 {
		return annotate.Right
	}
	return annotate.Left
}

// field tells which part lies under every cell of a flat grid: 0 is outside the body, n is parts[n-1].
// Cell (i, j) has its centre at face mm (X0 + i*Step, Y0 + j*Step).
type field struct {
	W, H         int
	X0, Y0, Step float64
	part         []uint16
}

func (f *field) at(i, j int) int {
	if i < 0 || j < 0 || i >= f.W || j >= f.H {
		return 0
	}
	return int(f.part[j*f.W+i])
}

// under returns the part at a face point.
func (f *field) under(p geom.MM) int {
	return f.at(int(math.Round((p.X-f.X0)/f.Step)), int(math.Round((p.Y-f.Y0)/f.Step)))
}

// piece is a simple solid of a part; a union is broken into its pieces so that each is painted in its own box.
type piece struct {
	part   int
	shape  shape
	lo, hi geom.LPS
}

func (b *body) pieces() []piece {
	var out []piece
	var add func(i int, s shape)
	add = func(i int, s shape) {
		switch s := s.(type) {
		case union:
			for _, q := range s {
				add(i, q)
			}
			return
		case chain:
			if len(s) > 2 {
				for k := range s[1:] {
					add(i, s[k:k+2])
				}
				return
			}
		}
		lo, hi := s.box()
		out = append(out, piece{i + 1, s, lo, hi})
	}
	for i, p := range b.parts {
		add(i, p.shape)
	}
	return out
}

// paint fills f with the parts met by the plane of pose between two heights, later parts over earlier ones.
func paint(f *field, pieces []piece, pose geom.Pose, from, to float64) {
	clear(f.part)
	for _, pc := range pieces {
		i0, i1, j0, j1, ok := footprint(f, pose, pc.lo, pc.hi)
		if !ok {
			continue
		}
		for j := j0; j <= j1; j++ {
			row := f.part[j*f.W : (j+1)*f.W]
			p := pose.At(geom.MM{X: f.X0 + float64(i0)*f.Step, Y: f.Y0 + float64(j)*f.Step})
			step := pose.X.Mul(pose.Scale * f.Step)
			for i := i0; i <= i1; i++ {
				if p.Z >= from && p.Z <= to && pc.shape.inside(p) {
					row[i] = uint16(pc.part)
				}
				p = p.Add(step)
			}
		}
	}
}

// footprint is the range of cells that a box can reach on the plane; ok is false when it misses.
func footprint(f *field, pose geom.Pose, lo, hi geom.LPS) (i0, i1, j0, j1 int, ok bool) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	near, far := math.Inf(1), math.Inf(-1)
	for c := range 8 {
		p := lo
		if c&1 != 0 {
			p.X = hi.X
		}
		if c&2 != 0 {
			p.Y = hi.Y
		}
		if c&4 != 0 {
			p.Z = hi.Z
		}
		m, off := pose.Project(p)
		x0, x1, y0, y1 = math.Min(x0, m.X), math.Max(x1, m.X), math.Min(y0, m.Y), math.Max(y1, m.Y)
		near, far = math.Min(near, off), math.Max(far, off)
	}
	if near > 0 || far < 0 {
		return 0, 0, 0, 0, false
	}
	i0, i1 = max(0, int(math.Floor((x0-f.X0)/f.Step))), min(f.W-1, int(math.Ceil((x1-f.X0)/f.Step)))
	j0, j1 = max(0, int(math.Floor((y0-f.Y0)/f.Step))), min(f.H-1, int(math.Ceil((y1-f.Y0)/f.Step)))
	return i0, i1, j0, j1, i0 <= i1 && j0 <= j1
}

// newField covers a face of w x h mm about face point (0, 0).
func newField(w, h, step float64) *field {
	nw, nh := int(w/step)+1, int(h/step)+1
	return &field{nw, nh, -step * float64(nw-1) / 2, -step * float64(nh-1) / 2, step, make([]uint16, nw*nh)}
}
