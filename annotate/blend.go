package annotate

import (
	"image"
	"math"

	"sectionary/slices/geom"
)

// SignedDistance returns for every pixel of m how far it lies from the nearest pixel of the other state, centre to
// centre: positive inside, negative outside. dx and dy are the pixel's sides in the unit wanted. It is exact (Felzenszwalb and
// Huttenlocher 2012, in two passes). A mask all of one state gives infinities.
func (m Mask) SignedDistance(dx, dy float64) []float64 {
	inside, outside := m.squared(true, dx, dy), m.squared(false, dx, dy)
	for i := range inside {
		inside[i] = math.Sqrt(outside[i]) - math.Sqrt(inside[i])
	}
	return inside
}

// squared is the squared distance of every pixel to the nearest one of the given state.
func (m Mask) squared(state bool, dx, dy float64) []float64 {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	d := make([]float64, len(m.In))
	for i, in := range m.In {
		if in != state {
			d[i] = math.Inf(1)
		}
	}
	line, env := make([]float64, max(w, h)), newEnvelope(max(w, h))
	for y := range h {
		env.lower(d[y*w:(y+1)*w], dx)
	}
	for x := range w {
		for y := range h {
			line[y] = d[y*w+x]
		}
		env.lower(line[:h], dy)
		for y := range h {
			d[y*w+x] = line[y]
		}
	}
	return d
}

// envelope finds min over q of f(q) + (step*(p-q))^2 for every p in one walk over parabolas.
type envelope struct {
	apex  []int
	start []float64
	old   []float64
}

func newEnvelope(n int) *envelope {
	return &envelope{make([]int, n), make([]float64, n+1), make([]float64, n)}
}

func (e *envelope) lower(f []float64, step float64) {
	old := e.old[:len(f)]
	copy(old, f)
	k := -1
	for q, v := range old {
		if math.IsInf(v, 1) {
			continue
		}
		at := math.Inf(-1)
		for k >= 0 {
			p := e.apex[k]
			at = ((v-old[p])/(step*step) + float64(q*q-p*p)) / float64(2*(q-p))
			if at > e.start[k] {
				break
			}
			k--
			at = math.Inf(-1)
		}
		k++
		e.apex[k], e.start[k] = q, at
	}
	if k < 0 {
		return
	}
	last, j := k, 0
	for p := range f {
		for j < last && e.start[j+1] < float64(p) {
			j++
		}
		d := step * float64(p-e.apex[j])
		f[p] = old[e.apex[j]] + d*d
	}
}

// BlendMasks returns the shape a share t of the way from a to b, 0 giving a and 1 giving b, by blending their signed
// distances (Raya and Udupa 1990). Both masks must cover the same rectangle; dx and dy are the pixel's sides.
func BlendMasks(a, b Mask, t, dx, dy float64) Mask {
	out := NewMask(a.Rect)
	if a.Rect != b.Rect {
		return out
	}
	da, db := a.SignedDistance(dx, dy), b.SignedDistance(dx, dy)
	for i := range out.In {
		out.In[i] = blended(da[i], db[i], t) > 0
	}
	return out
}

func blended(a, b, t float64) float64 {
	switch {
	case t <= 0:
		return a
	case t >= 1:
		return b
	}
	return (1-t)*a + t*b
}

// blendGrid is the number of grid steps along the longer side of what is blended: edges come out within about half a
// step.
const blendGrid = 600

// Blend returns the outline a share t of the way from a to b, 0 giving a and 1 giving b, in pixels of one picture. The two are
// first laid on each other by their centroids, or a shape that only moved would shrink half-way, and the result is moved
// along the line between them. With one of them empty there is nothing between: the result is empty but for its own end.
func Blend(a, b []Polygon, t float64) []Polygon {
	switch {
	case t <= 0:
		return a
	case t >= 1:
		return b
	case len(a) == 0 || len(b) == 0:
		return nil
	}
	ca, cb := Label{Regions: a}.Centroid(), Label{Regions: b}.Centroid()
	box := moved(a, -ca.X, -ca.Y, 1).Bounds().Union(moved(b, -cb.X, -cb.Y, 1).Bounds())
	scale := blendGrid / math.Max(math.Max(box.W(), box.H()), 1e-9)
	r := image.Rect(int(box.Min.X*scale)-3, int(box.Min.Y*scale)-3, int(box.Max.X*scale)+4, int(box.Max.Y*scale)+4)
	da := Rasterise(moved(a, -ca.X, -ca.Y, scale).Regions, r).SignedDistance(1, 1)
	db := Rasterise(moved(b, -cb.X, -cb.Y, scale).Regions, r).SignedDistance(1, 1)
	w := r.Dx()
	out := traceLevel(r, func(x, y int) float64 {
		i := (y-r.Min.Y)*w + x - r.Min.X
		// A distance to the nearest pixel of the other state is half a pixel more than to the edge between them.
		return blended(toEdge(da[i]), toEdge(db[i]), t)
	})
	cx, cy := ca.X+t*(cb.X-ca.X), ca.Y+t*(cb.Y-ca.Y)
	for i, p := range out {
		out[i] = p.Map(func(q geom.Px) geom.Px { return geom.Px{X: cx + q.X/scale, Y: cy + q.Y/scale} }).Simplify(0.5 / scale)
	}
	return out
}

func toEdge(d float64) float64 {
	if d > 0 {
		return d - 0.5
	}
	return d + 0.5
}

func moved(regions []Polygon, dx, dy, scale float64) Label {
	out := make([]Polygon, len(regions))
	for i, p := range regions {
		out[i] = p.Map(func(q geom.Px) geom.Px { return geom.Px{X: (q.X + dx) * scale, Y: (q.Y + dy) * scale} })
	}
	return Label{Regions: out}
}
