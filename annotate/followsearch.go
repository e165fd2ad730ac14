package annotate

import (
	"context"
	"image"
	"math"
	"slices"

	"sectionary/slices/geom"
)

// A step of one pixel costs from 1, on a strong edge that looks as it did, to 100. Of what makes it dear, plainShare is for
// want of an edge of any kind, the rest for looking unlike. A turn by n eighths of a circle costs turnCost*n*n.
const (
	plainShare = 0.3
	turnCost   = 6
)

// search looks for the cheapest path from a to b, pixels of colours.
type search struct {
	*colours
	look   look
	stray  float64 // largest distance from the straight line
	margin int     // pixels at the rim of colours that are read, but not stepped on
	a, b   image.Point
}

// ways are the steps to the neighbours in the order of their angle, so that i-j of them is the turn between two.
var ways = [8]image.Point{{X: 1}, {X: 1, Y: 1}, {Y: 1}, {X: -1, Y: 1}, {X: -1}, {X: -1, Y: -1}, {Y: -1}, {X: 1, Y: -1}}

func turn(i, j int) int { n := (i - j) & 7; return min(n, 8-n) }

// cheapest returns the path, or nil when there is none or ctx was cancelled. Whole costs let the queue be a ring of buckets (Dial
// 1969). The cost of turning is reckoned from the cheapest way to a pixel alone, which keeps the search in the plane.
func (s *search) cheapest(ctx context.Context) []geom.Px {
	plain, open := s.plainCosts(), s.corridor()
	places := s.places()
	best, back := make([]int32, len(plain)), make([]int8, len(plain))
	for i := range best {
		best[i] = math.MaxInt32
	}
	start, goal := s.a.Y*s.w+s.a.X, s.b.Y*s.w+s.b.X
	best[start], back[start] = 0, -1
	var ring [256][]int32 // more than the dearest step, 141 + 9*turnCost
	ring[0] = append(ring[0], int32(start))
	waiting := 1
	for at := int32(0); waiting > 0 && best[goal] > at; at++ {
		if at%64 == 0 && ctx.Err() != nil {
			return nil
		}
		bucket := ring[at%256]
		waiting -= len(bucket)
		for _, i := range bucket {
			if best[i] != at {
				continue
			}
			for d, way := range ways {
				k := int(i) + way.Y*s.w + way.X
				bend := 0
				if back[i] >= 0 {
					bend = turn(int(back[i]), d)
				}
				if !open[k] || bend > 3 {
					continue
				}
				c := at + int32(turnCost*bend*bend)
				if c+plain[k] >= best[k] {
					continue
				}
				if c += s.stepCost(plain[k], k, d, &places[d]); c < best[k] {
					best[k], back[k] = c, int8(d)
					ring[c%256] = append(ring[c%256], int32(k))
					waiting++
				}
			}
		}
		ring[at%256] = bucket[:0]
	}
	if best[goal] == math.MaxInt32 {
		return nil
	}
	var path []geom.Px
	for i := goal; ; {
		path = append(path, geom.Px{X: float64(i % s.w), Y: float64(i / s.w)})
		if i == start {
			break
		}
		i -= ways[back[i]].Y*s.w + ways[back[i]].X
	}
	slices.Reverse(path)
	return path
}

// stepCost is the cost of the step in direction d that ends on pixel k.
func (s *search) stepCost(plain int32, k, d int, places *[across]int) int32 {
	var p profile
	for i, o := range places {
		v := s.v[3*k+o:][:3]
		p[3*i], p[3*i+1], p[3*i+2] = v[0], v[1], v[2]
	}
	c := float32(plain) + 99*(1-plainShare)*s.look.unlike(&p)
	if d%2 == 1 {
		c *= math.Sqrt2
	}
	return int32(c)
}

// plainCosts are the costs of stepping on each pixel as far as they come from its edge alone, measured against the strong
// edges of the neighbourhood.
func (s *search) plainCosts() []int32 {
	edge := s.strength()
	strong := quantile(edge, 0.97)
	out := make([]int32, len(edge))
	for i, v := range edge {
		e := float32(1)
		if strong > 0 {
			e -= min(v/strong, 1)
		}
		out[i] = 1 + int32(99*plainShare*e*e)
	}
	return out
}

// corridor tells which pixels may be stepped on.
func (s *search) corridor() []bool {
	open := make([]bool, s.w*s.h)
	ax, ay := float64(s.a.X), float64(s.a.Y)
	dx, dy := float64(s.b.X)-ax, float64(s.b.Y)-ay
	long := math.Max(dx*dx+dy*dy, 1)
	for y := s.margin; y < s.h-s.margin; y++ {
		for x := s.margin; x < s.w-s.margin; x++ {
			px, py := float64(x)-ax, float64(y)-ay
			t := math.Max(0, math.Min((px*dx+py*dy)/long, 1))
			px, py = px-t*dx, py-t*dy
			open[y*s.w+x] = px*px+py*py <= s.stray*s.stray
		}
	}
	return open
}

// places are the offsets in colours of the places of a profile from a pixel, for each direction of walking.
func (s *search) places() (out [8][across]int) {
	for d, way := range ways {
		long := math.Hypot(float64(way.X), float64(way.Y))
		for k := range across {
			o := float64(k-across/2) * s.apart / long
			out[d][k] = 3 * (int(math.Round(o*float64(way.X)))*s.w - int(math.Round(o*float64(way.Y))))
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
