package photo

import (
	"cmp"
	"context"
	"image"
	"math"
	"slices"

	"sectionary/slices/geom"
)

// Pair is a place that two pictures of the same face show, as found by comparing them: pixels of both upright pictures, and how alike their
// surroundings are, 0 to 1.
type Pair struct {
	Old, New geom.Px
	Alike    float64
}

// Common practice, no source: chosen on rendered faces photographed twice.
const (
	alikeWidth = 640  // px, what pictures are made to before they are compared
	alikeHalf  = 11   // px, half the side of what is compared about a place
	alikeLeast = 0.75 // normalised cross-correlation below which two places are not the same
	alikeClear = 0.06 // by how much the best place must be better than any other
)

// AlikePlaces proposes places that both pictures show, at most most of them, by normalised cross-correlation of their surroundings (Lewis 1995)
// about corners of the old picture. guess carries pixels of the old picture near to those of the new, row-major 2x3; reach is how far off it may
// be, as a share of the old picture's width. inside (nil: anywhere) says where on the old picture a place may lie. Places that disagree with
// the rest are dropped; fewer than five that agree are none, for they prove nothing. It is a proposal: a person looks at each.
func AlikePlaces(ctx context.Context, old, now *Image, guess [6]float64, reach float64, inside func(geom.Px) bool, most int) []Pair {
	k := float64(old.Size().X) / alikeWidth
	w, h := alikeWidth, max(1, int(math.Round(float64(old.Size().Y)/k)))
	a := brightnessOn(old, w, h, [6]float64{k, 0, 0, 0, k, 0})
	b := brightnessOn(now, w, h, [6]float64{k * guess[0], k * guess[1], guess[2], k * guess[3], k * guess[4], guess[5]})
	far := max(2, int(math.Round(reach*alikeWidth)))
	var out []Pair
	for _, c := range cornersOf(a, w, h, 4*most, func(p geom.Px) bool { return inside == nil || inside(geom.Px{X: p.X * k, Y: p.Y * k}) }) {
		if ctx.Err() != nil {
			return nil
		}
		at, alike, clear := findIn(a, b, w, h, c, far)
		if alike < alikeLeast || !clear {
			continue
		}
		x, y := at.X*k, at.Y*k
		out = append(out, Pair{Old: geom.Px{X: float64(c.X) * k, Y: float64(c.Y) * k}, Alike: alike,
			New: geom.Px{X: guess[0]*x + guess[1]*y + guess[2], Y: guess[3]*x + guess[4]*y + guess[5]}})
	}
	out = agreeing(out)
	if len(out) < 5 {
		return nil
	}
	return farApart(out, most)
}

// brightnessOn is a picture's brightness on a grid, NaN where the picture does not reach.
func brightnessOn(m *Image, w, h int, toPhoto [6]float64) []float64 {
	dst := image.NewRGBA(image.Rect(0, 0, w, h))
	m.Draw(dst, toPhoto)
	out := greyOf(dst).v
	for i := range out {
		if dst.Pix[4*i+3] == 0 {
			out[i] = math.NaN()
		}
	}
	return out
}

// cornersOf finds places whose surroundings change in every direction: the largest smaller eigenvalue of the structure tensor (Shi and Tomasi
// 1994), one in each cell of a grid.
func cornersOf(g []float64, w, h, most int, may func(geom.Px) bool) []image.Point {
	type corner struct {
		at image.Point
		v  float64
	}
	side := max(2*alikeHalf, int(math.Sqrt(float64(w*h)/float64(max(1, most)))))
	var all []corner
	for y0 := alikeHalf; y0 < h-alikeHalf; y0 += side {
		for x0 := alikeHalf; x0 < w-alikeHalf; x0 += side {
			best := corner{}
			for y := y0; y < min(y0+side, h-alikeHalf-1); y += 2 {
				for x := x0; x < min(x0+side, w-alikeHalf-1); x += 2 {
					if !may(geom.Px{X: float64(x), Y: float64(y)}) {
						continue
					}
					if v := smallerEigenvalue(g, w, x, y); v > best.v {
						best = corner{image.Pt(x, y), v}
					}
				}
			}
			if best.v > 0 {
				all = append(all, best)
			}
		}
	}
	slices.SortFunc(all, func(a, b corner) int { return cmp.Compare(b.v, a.v) })
	out := make([]image.Point, min(most, len(all)))
	for i := range out {
		out[i] = all[i].at
	}
	return out
}

// smallerEigenvalue is that of the structure tensor about (x, y); 0 where the picture does not reach.
func smallerEigenvalue(g []float64, w, x, y int) float64 {
	const half = 4
	var xx, yy, xy float64
	for j := -half; j <= half; j++ {
		for i := -half; i <= half; i++ {
			at := (y+j)*w + x + i
			dx, dy := g[at+1]-g[at-1], g[at+w]-g[at-w]
			xx, yy, xy = xx+dx*dx, yy+dy*dy, xy+dx*dy
		}
	}
	v := (xx+yy)/2 - math.Hypot((xx-yy)/2, xy)
	if math.IsNaN(v) {
		return 0
	}
	return v
}

// findIn finds the surroundings of c of a within far of it in b: the place to a part of a pixel, how alike it is, and whether no other
// place comes near to it.
func findIn(a, b []float64, w, h int, c image.Point, far int) (at geom.Px, alike float64, clear bool) {
	side := 2*far + 1
	score := make([]float64, side*side)
	best := 0
	for j := range side {
		for i := range side {
			n := j*side + i
			if score[n] = correlation(a, b, w, h, c, image.Pt(c.X+i-far, c.Y+j-far)); score[n] > score[best] {
				best = n
			}
		}
	}
	bi, bj := best%side, best/side
	if bi == 0 || bj == 0 || bi == side-1 || bj == side-1 {
		return at, 0, false // it may lie farther out
	}
	second := -1.0
	for n, v := range score {
		if i, j := n%side-bi, n/side-bj; i*i+j*j > alikeHalf*alikeHalf {
			second = math.Max(second, v)
		}
	}
	top := func(lo, mid, hi float64) float64 { // of the parabola through three
		if d := lo - 2*mid + hi; d < 0 {
			return math.Max(-0.5, math.Min(0.5, (lo-hi)/(2*d)))
		}
		return 0
	}
	at = geom.Px{X: float64(c.X+bi-far) + top(score[best-1], score[best], score[best+1]),
		Y: float64(c.Y+bj-far) + top(score[best-side], score[best], score[best+side])}
	return at, score[best], score[best]-second >= alikeClear
}

// correlation is the normalised cross-correlation of the surroundings of p in a and of q in b; -1 where either leaves its picture.
func correlation(a, b []float64, w, h int, p, q image.Point) float64 {
	room := image.Rect(alikeHalf, alikeHalf, w-alikeHalf, h-alikeHalf)
	if !p.In(room) || !q.In(room) {
		return -1
	}
	var n, sa, sb, saa, sbb, sab float64
	for j := -alikeHalf; j <= alikeHalf; j++ {
		ra, rb := a[(p.Y+j)*w+p.X-alikeHalf:], b[(q.Y+j)*w+q.X-alikeHalf:]
		for i := range 2*alikeHalf + 1 {
			u, v := ra[i], rb[i]
			n, sa, sb, saa, sbb, sab = n+1, sa+u, sb+v, saa+u*u, sbb+v*v, sab+u*v
		}
	}
	va, vb := saa-sa*sa/n, sbb-sb*sb/n
	r := (sab - sa*sb/n) / math.Sqrt(va*vb)
	if math.IsNaN(r) || math.IsInf(r, 0) {
		return -1
	}
	return r
}

// agreeing drops pairs that lie elsewhere than where most others put them.
func agreeing(all []Pair) []Pair {
	for len(all) >= 5 {
		ties := make([]Tie, len(all))
		for i, p := range all {
			ties[i] = Tie{p.Old, geom.MM(p.New)}
		}
		_, out, err := GridRobust(ties)
		if err == nil && len(out) == 0 {
			return all
		}
		if err != nil {
			return nil
		}
		kept := all[:0:0]
		for i, p := range all {
			if !slices.Contains(out, i) {
				kept = append(kept, p)
			}
		}
		if len(kept) < len(all)*3/5 { // too many disagree for the rest to be believed
			return nil
		}
		all = kept
	}
	return nil
}

// farApart keeps the most alike pairs that lie far from each other.
func farApart(all []Pair, most int) []Pair {
	slices.SortStableFunc(all, func(a, b Pair) int { return cmp.Compare(b.Alike, a.Alike) })
	var out []Pair
	for len(out) < most && len(all) > 0 {
		best, far := -1, -1.0
		for i, p := range all {
			near := math.Inf(1)
			for _, q := range out {
				near = math.Min(near, p.Old.Dist(q.Old))
			}
			if len(out) == 0 {
				near = float64(len(all) - i)
			}
			if near > far {
				best, far = i, near
			}
		}
		out = append(out, all[best])
		all = without(all, best)
	}
	return out
}
