package annotate

import (
	"image"
	"math"

	"sectionary/slices/geom"
)

const (
	across = 5 // places at which colour is read across an edge: two on the left, one on it, two on the right
	// apart is the distance between two of them, in sigmas.
	apart = 1.6
	// grainy is the difference in colour, of 255, that says nothing: grain, saw marks, the lamp.
	grainy = 12.0
	// recall is how much of the accepted outline is learnt from, in pixels back from its end.
	recall = 200.0
)

// profile holds the colours met across an edge, from the left hand of one who walks along it to the right: red, green
// and blue at each place.
type profile [3 * across]float32

// look tells what the edge that is followed looks like: some profiles of it, and how far each value may stray.
type look struct {
	seen  []profile
	scale profile // one over the expected deviation
}

// unlike is 0 for a profile met before and grows to 1 for one that has nothing of it.
func (l *look) unlike(p *profile) float32 {
	least := float32(math.MaxFloat32)
	for i := range l.seen {
		var sum float32
		for k, v := range l.seen[i] {
			d := (p[k] - v) * l.scale[k]
			sum += d * d
		}
		least = min(least, sum)
	}
	return least / (least + 3*across)
}

// reach is how far from a pixel the search reads colours, in pixels.
func (f *Follower) reach() int { return int(math.Ceil(across/2*apart*f.sigma)) + 2 }

// learn reads the edge at both clicks and along the end of the accepted line.
func (f *Follower) learn(w *colours, line []geom.Px, to geom.Px) look {
	from := line[len(line)-1]
	ahead := geom.Px{X: to.X - from.X, Y: to.Y - from.Y}
	heading, past := ahead, f.along(line)
	if n := len(line); n > 1 && line[n-2] != from {
		d, l := from.Dist(line[n-2]), math.Hypot(ahead.X, ahead.Y)
		heading = geom.Px{X: ahead.X + 2*l*(from.X-line[n-2].X)/d, Y: ahead.Y + 2*l*(from.Y-line[n-2].Y)/d}
	}
	out := look{seen: []profile{w.profile(from, w.edgeDirection(from, heading)), w.profile(to, w.edgeDirection(to, ahead))}}
	var mean, spread profile
	each := func(use func(p *profile, weight float32)) { // the line weighs as much as a click
		use(&out.seen[0], 1)
		use(&out.seen[1], 1)
		for i := range past {
			use(&past[i], 1/float32(len(past)))
		}
	}
	var all float32
	each(func(p *profile, weight float32) {
		all += weight
		for k, v := range p {
			mean[k] += weight * v
		}
	})
	each(func(p *profile, weight float32) {
		for k, v := range p {
			d := v - mean[k]/all
			spread[k] += weight * d * d
		}
	})
	for k, v := range spread {
		out.scale[k] = 1 / sqrt32(v/all+grainy*grainy)
	}
	if len(past) >= 10 {
		var usual profile
		for i := range past {
			for k, v := range past[i] {
				usual[k] += v / float32(len(past))
			}
		}
		out.seen = append(out.seen, usual)
	}
	return out
}

// along reads the profiles of the last part of a line, every four pixels; one that ends in a very long straight piece teaches
// nothing.
func (f *Follower) along(line []geom.Px) (out []profile) {
	first, length := len(line)-1, 0.0
	for first > 0 && length < recall {
		length += line[first].Dist(line[first-1])
		first--
	}
	if line = line[first:]; len(line) < 2 || !(length < 3*recall) {
		return nil
	}
	w := f.smoothed(around(line, float64(f.reach())).Intersect(f.bounds))
	if w == nil {
		return nil
	}
	for i, b := range line[1:] {
		a, d := line[i], line[i].Dist(b)
		for s := 0.0; s < d; s += 4 {
			t := geom.Px{X: (b.X - a.X) / d, Y: (b.Y - a.Y) / d}
			out = append(out, w.profile(geom.Px{X: a.X + s*t.X, Y: a.Y + s*t.Y}, t))
		}
	}
	return out
}

// colours is a smoothed part of a picture: red, green and blue of each pixel in turn, the picture's edge repeated.
type colours struct {
	r     image.Rectangle
	w, h  int
	v     []float32
	apart float64 // pixels between the places of a profile
}

// smoothed reads the part r, which may stick out of the picture but must meet it, and smooths it by a Gaussian.
func (f *Follower) smoothed(r image.Rectangle) *colours {
	k := int(math.Ceil(3 * f.sigma))
	raw := f.read(r.Inset(-k).Intersect(f.bounds))
	if raw.Rect.Empty() {
		return nil
	}
	c := &colours{r: r, w: r.Dx(), h: r.Dy(), apart: apart * f.sigma}
	weights := gaussian(f.sigma)
	row := make([]float32, 3*(c.w+2*k))
	wide := make([]float32, 3*c.w*(c.h+2*k)) // smoothed along x, with k rows more above and below
	for y := range c.h + 2*k {
		from := raw.Pix[raw.PixOffset(raw.Rect.Min.X, min(max(r.Min.Y+y-k, raw.Rect.Min.Y), raw.Rect.Max.Y-1)):]
		for x := range c.w + 2*k {
			p := from[4*(min(max(r.Min.X+x-k, raw.Rect.Min.X), raw.Rect.Max.X-1)-raw.Rect.Min.X):]
			row[3*x], row[3*x+1], row[3*x+2] = float32(p[0]), float32(p[1]), float32(p[2])
		}
		addWeighted(wide[3*c.w*y:3*c.w*(y+1)], weights, row, 3)
	}
	c.v = make([]float32, 3*c.w*c.h)
	for y := range c.h {
		addWeighted(c.v[3*c.w*y:3*c.w*(y+1)], weights, wide[3*c.w*y:], 3*c.w)
	}
	return c
}

// addWeighted adds to out the weighted sum of in, in shifted by step, in shifted by twice step and so on; weights are
// the same read from either end.
func addWeighted(out, weights, in []float32, step int) {
	n, last := len(out), len(weights)-1
	for i := range last / 2 {
		a, b, g := in[i*step:][:n], in[(last-i)*step:][:n], weights[i]
		for x := range out {
			out[x] += g * (a[x] + b[x])
		}
	}
	a, g := in[last/2*step:][:n], weights[last/2]
	for x := range out {
		out[x] += g * a[x]
	}
}

func gaussian(sigma float64) []float32 {
	k := int(math.Ceil(3 * sigma))
	out := make([]float32, 2*k+1)
	var sum float64
	for i := -k; i <= k; i++ {
		sum += math.Exp(-float64(i*i) / (2 * sigma * sigma))
	}
	for i := range out {
		out[i] = float32(math.Exp(-float64((i-k)*(i-k))/(2*sigma*sigma)) / sum)
	}
	return out
}

// profile reads the colours across an edge that runs through q in the unit direction t.
func (c *colours) profile(q, t geom.Px) (out profile) {
	for k := range across {
		o := float64(k-across/2) * c.apart // with y down, the left hand of t is (t.Y, -t.X)
		v := c.at(geom.Px{X: q.X - o*t.Y, Y: q.Y + o*t.X})
		copy(out[3*k:], v[:])
	}
	return out
}

// at interpolates the colour at q between four pixels; outside it is that of the nearest.
func (c *colours) at(q geom.Px) (out [3]float32) {
	x, y := math.Max(0, math.Min(q.X-float64(c.r.Min.X), float64(c.w)-1.001)), math.Max(0, math.Min(q.Y-float64(c.r.Min.Y), float64(c.h)-1.001))
	i, j := int(x), int(y)
	u, v := float32(x)-float32(i), float32(y)-float32(j)
	top, low := c.v[3*(j*c.w+i):], c.v[3*((j+1)*c.w+i):]
	for k := range out {
		out[k] = (1-v)*((1-u)*top[k]+u*top[k+3]) + v*((1-u)*low[k]+u*low[k+3])
	}
	return out
}

// tensor is the structure tensor of colour at pixel i, its three channels added up (Di Zenzo 1986).
func (c *colours) tensor(i int) (xx, xy, yy float32) {
	left, right, up, down := c.v[3*(i-1):][:3], c.v[3*(i+1):][:3], c.v[3*(i-c.w):][:3], c.v[3*(i+c.w):][:3]
	for k := range left {
		dx, dy := right[k]-left[k], down[k]-up[k]
		xx, xy, yy = xx+dx*dx, xy+dx*dy, yy+dy*dy
	}
	return xx, xy, yy
}

// edgeDirection is the unit direction in which the edge about q runs, of its two the one nearer to heading.
func (c *colours) edgeDirection(q, heading geom.Px) geom.Px {
	const reach, width = 6, 2.5
	mid := pixelAt(q).Sub(c.r.Min)
	var xx, xy, yy float64
	for y := max(1, mid.Y-reach); y <= min(c.h-2, mid.Y+reach); y++ {
		for x := max(1, mid.X-reach); x <= min(c.w-2, mid.X+reach); x++ {
			dx, dy := float64(x-mid.X), float64(y-mid.Y)
			g := math.Exp(-(dx*dx + dy*dy) / (2 * width * width))
			a, b, d := c.tensor(y*c.w + x)
			xx, xy, yy = xx+g*float64(a), xy+g*float64(b), yy+g*float64(d)
		}
	}
	sn, cs := math.Sincos((math.Atan2(2*xy, xx-yy) + math.Pi) / 2)
	if cs*heading.X+sn*heading.Y < 0 {
		sn, cs = -sn, -cs
	}
	return geom.Px{X: cs, Y: sn}
}

// strength returns the square root of the larger eigenvalue of the structure tensor of every pixel: how fast colour changes
// there in the direction in which it changes most. The outermost pixels have none.
func (c *colours) strength() []float32 {
	out := make([]float32, c.w*c.h)
	for y := 1; y < c.h-1; y++ {
		for x := 1; x < c.w-1; x++ {
			xx, xy, yy := c.tensor(y*c.w + x)
			out[y*c.w+x] = sqrt32((xx+yy)/2 + sqrt32((xx-yy)*(xx-yy)/4+xy*xy))
		}
	}
	return out
}

func sqrt32(x float32) float32 { return float32(math.Sqrt(float64(x))) }
