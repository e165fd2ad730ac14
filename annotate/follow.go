package annotate

import (
	"context"
	"image"
	"math"
	"slices"

	"sectionary/slices/geom"
)

// Follower finds the strongest edge of a grey picture between two clicks: the path from one to the other that costs
// least when a step on an edge is cheap and a step across even tissue is dear (Dijkstra 1959 on the pixel grid; costs after
// Mortensen and Barrett 1998).
type Follower struct {
	gray  *image.Gray
	sigma float64
}

// NewFollower prepares a picture. sigma is the width in pixels over which grain and saw marks are smoothed away, 1.5
// on a photograph at full size.
func NewFollower(gray *image.Gray, sigma float64) *Follower {
	return &Follower{gray, math.Max(0.5, math.Min(sigma, 8))}
}

// followMargin is how far a path may stray from the box of its two clicks, as a share of their distance.
const followMargin = 0.35

// maxFollow bounds the pixels searched between two clicks.
const maxFollow = 4_000_000

// Path returns the points of the edge from one click to the other, both included, thinned to within half a pixel. Clicks
// outside the picture, too far apart, or a cancelled context give the straight line.
func (f *Follower) Path(ctx context.Context, from, to geom.Px) []geom.Px {
	straight := []geom.Px{from, to}
	margin := math.Max(8, followMargin*from.Dist(to))
	r := image.Rect(int(math.Floor(math.Min(from.X, to.X)-margin)), int(math.Floor(math.Min(from.Y, to.Y)-margin)),
		int(math.Ceil(math.Max(from.X, to.X)+margin))+1, int(math.Ceil(math.Max(from.Y, to.Y)+margin))+1).Intersect(f.gray.Rect)
	a, b := image.Pt(int(math.Round(from.X)), int(math.Round(from.Y))), image.Pt(int(math.Round(to.X)), int(math.Round(to.Y)))
	if !a.In(r) || !b.In(r) || r.Dx() > maxFollow/r.Dy() {
		return straight
	}
	slope := gradient(f.gray, r, f.sigma)
	steps := cheapest(ctx, slope, r.Dx(), r.Dy(), a.Sub(r.Min), b.Sub(r.Min))
	if len(steps) < 2 {
		return straight
	}
	line := make([]geom.Px, len(steps))
	for i, s := range steps {
		line[i] = geom.Px{X: float64(r.Min.X + s%r.Dx()), Y: float64(r.Min.Y + s/r.Dx())}
	}
	line = evened(line)
	line[0], line[len(line)-1] = from, to
	return SimplifyLine(line, 0.5)
}

// evened takes the stairs of the pixel grid out of a line by a running mean over five points; the ends stay.
func evened(line []geom.Px) []geom.Px {
	out := slices.Clone(line)
	for i := 1; i+1 < len(line); i++ {
		k := min(2, i, len(line)-1-i)
		var sum geom.Px
		for _, q := range line[i-k : i+k+1] {
			sum.X, sum.Y = sum.X+q.X, sum.Y+q.Y
		}
		n := float64(2*k + 1)
		out[i] = geom.Px{X: sum.X / n, Y: sum.Y / n}
	}
	return out
}

// gradient returns the size of the grey slope in r, row by row: derivatives of a Gaussian, the picture's edge repeated.
func gradient(g *image.Gray, r image.Rectangle, sigma float64) []float32 {
	smooth, slope := gaussian(sigma)
	k := len(smooth) / 2
	w, h := r.Dx(), r.Dy()
	wide := make([]float32, w*(h+2*k)) // smoothed along x, with k rows more above and below
	steep := make([]float32, w*(h+2*k))
	clamp := func(v, lo, hi int) int { return min(max(v, lo), hi-1) }
	for y := range h + 2*k {
		row := g.Pix[(clamp(r.Min.Y+y-k, g.Rect.Min.Y, g.Rect.Max.Y)-g.Rect.Min.Y)*g.Stride:]
		for x := range w {
			var s, d float32
			for i := range smooth {
				v := float32(row[clamp(r.Min.X+x+i-k, g.Rect.Min.X, g.Rect.Max.X)-g.Rect.Min.X])
				s, d = s+smooth[i]*v, d+slope[i]*v
			}
			wide[y*w+x], steep[y*w+x] = s, d
		}
	}
	out := make([]float32, w*h)
	for y := range h {
		for x := range w {
			var gx, gy float32
			for i := range smooth {
				at := (y+i)*w + x
				gx, gy = gx+smooth[i]*steep[at], gy+slope[i]*wide[at]
			}
			out[y*w+x] = float32(math.Hypot(float64(gx), float64(gy)))
		}
	}
	return out
}

func gaussian(sigma float64) (smooth, slope []float32) {
	k := int(math.Ceil(3 * sigma))
	var sum float64
	for i := -k; i <= k; i++ {
		sum += math.Exp(-float64(i*i) / (2 * sigma * sigma))
	}
	for i := -k; i <= k; i++ {
		v := math.Exp(-float64(i*i)/(2*sigma*sigma)) / sum
		smooth, slope = append(smooth, float32(v)), append(slope, float32(float64(i)/(sigma*sigma)*v))
	}
	return smooth, slope
}

// cheapest returns the pixels of the cheapest path, or nil when cancelled. A step costs its length times 100 on even
// ground down to 2 on the strongest edges nearby; whole numbers let the queue be a ring of buckets (Dial 1969).
func cheapest(ctx context.Context, slope []float32, w, h int, from, to image.Point) []int {
	cost := stepCosts(slope)
	best, back := make([]int32, len(slope)), make([]int8, len(slope))
	for i := range best {
		best[i] = math.MaxInt32
	}
	start, goal := from.Y*w+from.X, to.Y*w+to.X
	best[start] = 0
	var ring [256][]int32 // more than the dearest step, 141
	ring[0] = append(ring[0], int32(start))
	waiting := 1
	for at := int32(0); waiting > 0 && best[goal] > at; at++ {
		if at%64 == 0 && ctx.Err() != nil {
			return nil
		}
		bucket := ring[at%256]
		ring[at%256] = nil
		waiting -= len(bucket)
		for _, i := range bucket {
			if best[i] != at {
				continue
			}
			x, y := int(i)%w, int(i)/w
			for d, n := range neighbours {
				nx, ny := x+n.X, y+n.Y
				if nx < 0 || nx >= w || ny < 0 || ny >= h {
					continue
				}
				k := ny*w + nx
				c := at + cost[k]
				if d >= 4 {
					c = at + cost[k]*141/100
				}
				if c < best[k] {
					best[k], back[k] = c, int8(d)
					ring[c%256] = append(ring[c%256], int32(k))
					waiting++
				}
			}
		}
	}
	if best[goal] == math.MaxInt32 {
		return nil
	}
	path := []int{goal}
	for i := goal; i != start; {
		n := neighbours[back[i]]
		i -= n.Y*w + n.X
		path = append(path, i)
	}
	slices.Reverse(path)
	return path
}

var neighbours = [8]image.Point{{X: 1}, {X: -1}, {Y: 1}, {Y: -1}, {X: 1, Y: 1}, {X: 1, Y: -1}, {X: -1, Y: 1}, {X: -1, Y: -1}}

func stepCosts(slope []float32) []int32 {
	strong := quantile(slope, 0.97)
	out := make([]int32, len(slope))
	for i, s := range slope {
		out[i] = 100
		if strong > 0 {
			e := 1 - min(s/strong, 1)
			out[i] = 2 + int32(98*e*e)
		}
	}
	return out
}

func quantile(v []float32, share float64) float32 {
	sample := make([]float32, 0, 4096)
	for i := 0; i < len(v); i += max(1, len(v)/4096) {
		sample = append(sample, v[i])
	}
	slices.Sort(sample)
	return sample[int(share*float64(len(sample)-1))]
}
