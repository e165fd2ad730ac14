package annotate

import (
	"context"
	"errors"
	"image"
	"math"

	"sectionary/slices/geom"
)

// ErrGrow says that growing from a click found nothing that could be an outline; the message says why.
var ErrGrow = errors.New("annotate: nothing to fill from here")

// Growth says how far filling from a click may go.
type Growth struct {
	Tolerance float64 // largest colour difference to the tissue round the click, 0 to 255; 0 takes 18
	Radius    float64 // pixels from the click; 0 takes the whole picture
	Clean     int     // pixels by which threads are cut and dents filled; 0 takes 2
}

// GrowFrom returns the patch of like colour that hangs together round a click, cleaned up: threads cut, dents and holes
// filled. It fails with ErrGrow when the click lies outside, when next to nothing is alike, or when the fill runs to
// the limit on every side.
func GrowFrom(ctx context.Context, m *image.RGBA, at geom.Px, g Growth) (Polygon, error) {
	if g.Tolerance <= 0 {
		g.Tolerance = 18
	}
	if g.Clean <= 0 {
		g.Clean = 2
	}
	seed := image.Pt(int(math.Round(at.X)), int(math.Round(at.Y)))
	r := m.Rect
	if g.Radius > 0 {
		k := int(math.Ceil(g.Radius))
		r = r.Intersect(image.Rect(seed.X-k, seed.Y-k, seed.X+k+1, seed.Y+k+1))
	}
	if !seed.In(r) || r.Dx() > maxMask/r.Dy() {
		return Polygon{}, errors.Join(ErrGrow, errors.New("the click lies outside the picture"))
	}
	mask, err := flood(ctx, m, r, seed, g.Tolerance)
	if err != nil {
		return Polygon{}, err
	}
	mask = mask.opened(g.Clean).closed(g.Clean).holding(seed)
	best := Polygon{}
	for _, p := range mask.Outlines() {
		if p.Holes = nil; p.Contains(at) || best.Outer == nil {
			best = p
		}
	}
	switch n := mask.Count(); {
	case n < 16 || best.Outer == nil:
		return Polygon{}, errors.Join(ErrGrow, errors.New("next to nothing round the click is of its colour: raise the tolerance"))
	case n > len(mask.In)*98/100:
		return Polygon{}, errors.Join(ErrGrow, errors.New("everything is of the click's colour: lower the tolerance"))
	}
	return best.Simplify(0.7), nil
}

// flood marks the pixels that hang together with seed (by sides) and whose colour, averaged over 3 x 3, is near the
// mean colour round the seed.
func flood(ctx context.Context, m *image.RGBA, r image.Rectangle, seed image.Point, tolerance float64) (Mask, error) {
	mask := NewMask(r)
	want := meanColour(m, seed, 2)
	w := r.Dx()
	seen := make([]bool, len(mask.In))
	stack := []int{(seed.Y-r.Min.Y)*w + seed.X - r.Min.X}
	seen[stack[0]] = true
	for n := 0; len(stack) > 0; n++ {
		if n%65536 == 0 && ctx.Err() != nil {
			return mask, ctx.Err()
		}
		i := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		x, y := i%w, i/w
		c := meanColour(m, image.Pt(r.Min.X+x, r.Min.Y+y), 1)
		if math.Sqrt((c[0]-want[0])*(c[0]-want[0])+(c[1]-want[1])*(c[1]-want[1])+(c[2]-want[2])*(c[2]-want[2])) > tolerance {
			continue
		}
		mask.In[i] = true
		for _, d := range [4]image.Point{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			if nx, ny := x+d.X, y+d.Y; nx >= 0 && nx < w && ny >= 0 && ny < r.Dy() && !seen[ny*w+nx] {
				seen[ny*w+nx] = true
				stack = append(stack, ny*w+nx)
			}
		}
	}
	return mask, nil
}

func meanColour(m *image.RGBA, at image.Point, k int) (c [3]float64) {
	n := 0.0
	for y := max(at.Y-k, m.Rect.Min.Y); y <= min(at.Y+k, m.Rect.Max.Y-1); y++ {
		for x := max(at.X-k, m.Rect.Min.X); x <= min(at.X+k, m.Rect.Max.X-1); x++ {
			p := m.Pix[m.PixOffset(x, y):]
			c[0], c[1], c[2], n = c[0]+float64(p[0]), c[1]+float64(p[1]), c[2]+float64(p[2]), n+1
		}
	}
	return [3]float64{c[0] / n, c[1] / n, c[2] / n}
}

// opened takes away what is thinner than 2k pixels: threads that join the patch to its neighbours.
func (m Mask) opened(k int) Mask { return m.within(false, k).within(true, k) }

// closed fills what is narrower than 2k pixels: dents and small holes.
func (m Mask) closed(k int) Mask { return m.within(true, k).within(false, k) }

// within widens the marked (state true) or the unmarked pixels by k, measured straight. Pixels beyond the rectangle
// have no say.
func (m Mask) within(state bool, k int) Mask {
	d := m.squared(state, 1, 1)
	out := Mask{m.Rect, make([]bool, len(m.In))}
	for i := range d {
		out.In[i] = (d[i] <= float64(k*k)) == state
	}
	return out
}

// holding keeps the part of the mask that hangs together with the seed, or with the marked pixel nearest to it.
func (m Mask) holding(seed image.Point) Mask {
	w := m.Rect.Dx()
	start, near := -1, math.Inf(1)
	for i, in := range m.In {
		if !in {
			continue
		}
		dx, dy := float64(m.Rect.Min.X+i%w-seed.X), float64(m.Rect.Min.Y+i/w-seed.Y)
		if d := dx*dx + dy*dy; d < near {
			start, near = i, d
		}
	}
	out := Mask{m.Rect, make([]bool, len(m.In))}
	if start < 0 {
		return out
	}
	out.In[start] = true
	for stack := []int{start}; len(stack) > 0; {
		i := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		for _, d := range [4]image.Point{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			if x, y := i%w+d.X, i/w+d.Y; x >= 0 && x < w && y >= 0 && y < m.Rect.Dy() && m.In[y*w+x] && !out.In[y*w+x] {
				out.In[y*w+x] = true
				stack = append(stack, y*w+x)
			}
		}
	}
	return out
}
