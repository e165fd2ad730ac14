package photo

import (
	"context"
	"errors"
	"fmt"
	"image"
	"math"

	"sectionary/slices/geom"
)

// ErrNoGlare says that there is nothing to put right: no shine that the second picture shows without.
var ErrNoGlare = errors.New("photo: no glare that the second picture would put right")

// Unshined is a picture made of two of one face, with the lamp moved between them: where the first shines, the darker of both.
type Unshined struct {
	Picture   *image.RGBA // as large as the first; away from glare its very pixels
	Alignment Alignment
	Share     float64           // of the face, taken from the second picture in part or whole
	Before    float64           // of the face that shines on the first picture
	After     float64           // of the face that still shines on the made one
	Where     []image.Rectangle // places taken from the second, px
}

// Common practice, no source.
const (
	glareSide  = 1500 // px, longer side of the picture in which it is decided what to take
	glareReach = 40   // px of that picture, how far round a shine its fringe may go
	glareMore  = 0.04 // of the logarithm of brightness, by which the first must be the brighter in a fringe
	glareEdge  = 3    // px of that picture, over which both pictures run into each other
	leastCured = 0.2  // of what shines must be put right
	lightReach = 40   // px of that picture, over which the lamps' light is held even
)

// RemoveGlare lays second on first (Align) and takes from it what shines on first: bright and colourless pixels and the
// fringe round them, where the second, brought to the light of the first, is darker. The second's light is brought to that of
// the first by their ratio nearby, colour by colour, where neither shines. border bounds the face; without rings the
// whole picture counts. It fails with ErrUnalike and ErrNoGlare.
func RemoveGlare(ctx context.Context, first, second *Image, border Border) (u Unshined, err error) {
	if u.Alignment, err = Align(ctx, first, second); err != nil {
		return u, err
	}
	a := first.Preview(glareSide)
	w, h := a.Rect.Dx(), a.Rect.Dy()
	scale := float64(first.size.X) / float64(w)
	b, there := second.warped(u.Alignment.ToSecond, w, h, scale)
	face := fillRings(border.Rings, w, h, scale)
	shineA, shineB := shineOf(a), shineOf(b)
	light := lightRatio(a, b, shineA, shineB, there)
	part := takenPart(a, b, face, shineA, shineB, there, light)
	var area, taken, before, after float64
	marks := newMask(w, h)
	for i, in := range face.in {
		if !in {
			continue
		}
		area++
		if marks.in[i] = part[i] > 0; marks.in[i] {
			taken++
		}
		if shineA.in[i] {
			before++
			if part[i] < 0.5 {
				after++
			}
		}
	}
	u.Share, u.Before, u.After = taken/max(area, 1), before/max(area, 1), after/max(area, 1)
	if before-after < leastCured*before || taken == 0 {
		if before > 0 {
			return u, fmt.Errorf("%w: what shines on the first shines on the second, too; move the lamp further", ErrNoGlare)
		}
		return u, fmt.Errorf("%w: the first picture does not shine", ErrNoGlare)
	}
	u.Where = marks.places(scale)
	u.Picture, err = blended(ctx, first, second, u.Alignment.ToSecond, part, light, w, h)
	return u, err
}

// warped is the picture under a map, reduced to w x h; there is false where it does not reach.
func (m *Image) warped(to geom.Homography, w, h int, scale float64) (out *image.RGBA, there []bool) {
	out, there = image.NewRGBA(image.Rect(0, 0, w, h)), make([]bool, w*h)
	eachTile(w, h, func(r image.Rectangle) {
		tile := image.NewRGBA(r)
		m.DrawFine(tile, tileMap(to, r, scale))
		for y := r.Min.Y; y < r.Max.Y; y++ {
			row := tile.Pix[tile.PixOffset(r.Min.X, y):][:4*r.Dx()]
			copy(out.Pix[out.PixOffset(r.Min.X, y):], row)
			for x := range r.Dx() {
				there[y*w+r.Min.X+x] = row[4*x+3] == 255
			}
		}
	})
	return out, there
}

const glareTile = 64 // px; within a tile the map is taken for affine

func eachTile(w, h int, do func(image.Rectangle)) {
	for y := 0; y < h; y += glareTile {
		for x := 0; x < w; x += glareTile {
			do(image.Rect(x, y, min(x+glareTile, w), min(y+glareTile, h)))
		}
	}
}

// tileMap is the map from pixels of a picture reduced by scale to those of the second photograph, as it runs in the middle of a
// tile.
func tileMap(to geom.Homography, r image.Rectangle, scale float64) [6]float64 {
	c := geom.Px{X: (float64(r.Min.X+r.Max.X)/2)*scale - 0.5, Y: (float64(r.Min.Y+r.Max.Y)/2)*scale - 0.5}
	m, j := to.MM(c), to.Jacobian(c)
	in := [6]float64{scale, 0, (scale-1)/2 - c.X, 0, scale, (scale-1)/2 - c.Y}
	return after([6]float64{j[0], j[1], m.X, j[2], j[3], m.Y}, in)
}

// shineOf marks what Measure calls glare.
func shineOf(m *image.RGBA) mask {
	out := newMask(m.Rect.Dx(), m.Rect.Dy())
	for i := range out.in {
		out.in[i] = shines(m.Pix[4*i:])
	}
	return out
}

// lightRatio is what the second picture's red, green and blue are multiplied by to lie in the light of the first.
func lightRatio(a, b *image.RGBA, shineA, shineB mask, there []bool) (ratio [3][]float32) {
	w, h := a.Rect.Dx(), a.Rect.Dy()
	wideA, wideB := shineA.within(glareReach), shineB.within(glareReach)
	weight := make([]float32, w*h)
	for i := range weight {
		if there[i] && !wideA.in[i] && !wideB.in[i] {
			weight[i] = 1
		}
	}
	for c := range ratio {
		log := make([]float32, w*h)
		var sum, n float64
		for i := range log {
			p, q := float64(a.Pix[4*i+c]), float64(b.Pix[4*i+c])
			log[i] = float32(math.Log((p + 4) / (q + 4)))
			sum, n = sum+float64(weight[i]*log[i]), n+float64(weight[i])
		}
		whole := float32(sum / max(n, 1))
		near, share := log, weight
		for range 2 { // twice a square is near enough to a round
			near, share = weightedMean(near, share, w, h, lightReach)
		}
		for i := range near {
			if share[i] < 0.01 {
				near[i] = whole
			}
			near[i] = float32(math.Exp(float64(near[i])))
		}
		ratio[c] = near
	}
	return ratio
}

// takenPart says for each pixel how much of it comes from the second picture, 0 to 1.
func takenPart(a, b *image.RGBA, face, shineA, shineB mask, there []bool, light [3][]float32) []float32 {
	w, h := a.Rect.Dx(), a.Rect.Dy()
	near := shineA.within(glareReach)
	take := newMask(w, h)
	more := make([]float32, w*h) // by which the first is the brighter, as a logarithm
	for i := range more {
		if !near.in[i] || !there[i] {
			continue
		}
		p, q := luma(a.Pix[4*i:]), 0.0
		for c, part := range lumaParts {
			q += part * min(255, float64(b.Pix[4*i+c])*float64(light[c][i]))
		}
		more[i] = float32(math.Log((p + 4) / (q + 4)))
	}
	more = boxMean(more, w, h, 2) // grain tells nothing
	for i := range take.in {
		take.in[i] = face.in[i] && near.in[i] && there[i] && !shineB.in[i] && (more[i] > glareMore || shineA.in[i])
	}
	take = joined(take, shineA)
	part := make([]float32, w*h)
	for i, in := range take.grown(glareEdge).in {
		if in {
			part[i] = 1
		}
	}
	part = boxMean(part, w, h, glareEdge-1)
	wide := take.grown(2*glareEdge - 1)
	for i := range part {
		if !wide.in[i] || !there[i] || shineB.in[i] {
			part[i] = 0
		}
	}
	return part
}

// blended is the first picture with the parts taken from the second.
func blended(ctx context.Context, first, second *Image, to geom.Homography, part []float32, light [3][]float32, w, h int) (*image.RGBA, error) {
	out := image.NewRGBA(image.Rectangle{Max: first.size})
	first.Draw(out, [6]float64{1, 0, 0, 0, 1, 0})
	small := func(x, n, of int) (int, float64) { // place among the reduced pixels
		v := max(0, min((float64(x)+0.5)*float64(n)/float64(of)-0.5, float64(n-1)))
		i := min(int(v), max(n-2, 0))
		return i, v - float64(i)
	}
	at := func(v []float32, i int, fx, fy float64) float64 {
		r, d := min(1, w-1), w*min(1, h-1)
		return (float64(v[i])*(1-fx)+float64(v[i+r])*fx)*(1-fy) + (float64(v[i+d])*(1-fx)+float64(v[i+d+r])*fx)*fy
	}
	eachTile(first.size.X, first.size.Y, func(r image.Rectangle) {
		if ctx.Err() != nil || !touched(part, r, first.size, w, h) {
			return
		}
		tile := image.NewRGBA(r)
		second.Draw(tile, tileMap(to, r, 1))
		for y := r.Min.Y; y < r.Max.Y; y++ {
			sy, fy := small(y, h, first.size.Y)
			for x := r.Min.X; x < r.Max.X; x++ {
				sx, fx := small(x, w, first.size.X)
				i := sy*w + sx
				k := at(part, i, fx, fy)
				q := tile.Pix[tile.PixOffset(x, y):][:4]
				if k <= 0 || q[3] != 255 {
					continue
				}
				p := out.Pix[out.PixOffset(x, y):][:4]
				for c := range 3 {
					v := min(255, float64(q[c])*at(light[c], i, fx, fy))
					p[c] = uint8(math.Round(float64(p[c])*(1-k) + v*k))
				}
			}
		}
	})
	return out, ctx.Err()
}

// touched reports whether any of a tile of the photograph is taken from the second.
func touched(part []float32, r image.Rectangle, size image.Point, w, h int) bool {
	x0, x1 := r.Min.X*w/size.X-1, r.Max.X*w/size.X+1
	y0, y1 := r.Min.Y*h/size.Y-1, r.Max.Y*h/size.Y+1
	for y := max(0, y0); y <= min(h-1, y1); y++ {
		for x := max(0, x0); x <= min(w-1, x1); x++ {
			if part[y*w+x] > 0 {
				return true
			}
		}
	}
	return false
}
