package annotate

import (
	"context"
	"image"
	"image/draw"
	"math"
	"slices"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// Follower finds the edge of a structure between two clicks: the path that costs least when a step is cheap where
// colour changes quickly and where the colours on either hand are those met at the clicks. So it keeps to the outer
// wall of a vessel although the inner is the stronger edge, and to the liver where it meets lung, fat and muscle in
// turn. Least cost after Dijkstra 1959; edges as least cost, and learning them as the outline grows, after Mortensen and
// Barrett 1998; profiles of colour across an outline after Cootes, Taylor, Cooper and Graham 1995.
//
// A Follower holds nothing but the picture: it may be shared, and an undone segment is forgotten by itself.
type Follower struct {
	bounds image.Rectangle
	read   func(r image.Rectangle) *image.RGBA // r lies in bounds
	sigma  float64
}

// NewFollower prepares a picture, in colour or grey. sigma is the width in pixels over which grain and saw marks are
// smoothed away, 1.5 on a photograph at full size.
func NewFollower(img image.Image, sigma float64) *Follower {
	return newFollower(img.Bounds(), sigma, func(dst *image.RGBA) { draw.Draw(dst, dst.Rect, img, dst.Rect.Min, draw.Src) })
}

// NewPhotoFollower is NewFollower for a photograph, of which it reads only what lies about the clicks.
func NewPhotoFollower(m *photo.Image, sigma float64) *Follower {
	return newFollower(image.Rectangle{Max: m.Size()}, sigma, func(dst *image.RGBA) { m.Draw(dst, [6]float64{1, 0, 0, 0, 1, 0}) })
}

func newFollower(bounds image.Rectangle, sigma float64, paint func(dst *image.RGBA)) *Follower {
	return &Follower{bounds, func(r image.Rectangle) *image.RGBA {
		m := image.NewRGBA(r)
		paint(m)
		return m
	}, math.Max(0.5, math.Min(sigma, 8))}
}

const (
	// How far a path may stray from the straight line between its clicks: a share of their distance, within bounds in pixels.
	strayShare, strayLeast, strayMost = 0.5, 8.0, 200.0
	// maxFollow bounds the pixels read between two clicks.
	maxFollow = 2_000_000
)

// Path returns the points of the edge from one click to the other, both included, thinned to within half a pixel. Clicks
// outside the picture, too far apart, or a cancelled context give the straight line.
func (f *Follower) Path(ctx context.Context, from, to geom.Px) []geom.Px {
	return f.Continue(ctx, []geom.Px{from}, to)
}

// Continue is Path from the last point of line, the outline accepted so far, which tells what the edge looks like and
// where it is heading. It returns the new segment alone, from the last point of line to the click; an empty line gives the
// click alone.
func (f *Follower) Continue(ctx context.Context, line []geom.Px, to geom.Px) []geom.Px {
	if len(line) == 0 {
		return []geom.Px{to}
	}
	from := line[len(line)-1]
	straight := []geom.Px{from, to}
	stray := math.Max(strayLeast, math.Min(strayShare*from.Dist(to), strayMost))
	r := around(straight, stray).Intersect(f.bounds)
	a, b := pixelAt(from), pixelAt(to)
	if !a.In(r) || !b.In(r) || r.Dx() > maxFollow/r.Dy() {
		return straight
	}
	reach := f.reach()
	w := f.smoothed(r.Inset(-reach))
	s := search{colours: w, look: f.learn(w, line, to), stray: stray, margin: reach, a: a.Sub(w.r.Min), b: b.Sub(w.r.Min)}
	path := s.cheapest(ctx)
	if len(path) < 2 {
		return straight
	}
	for i, q := range path {
		path[i] = geom.Px{X: q.X + float64(w.r.Min.X), Y: q.Y + float64(w.r.Min.Y)}
	}
	path = evened(path)
	path[0], path[len(path)-1] = from, to
	return SimplifyLine(path, 0.5)
}

func pixelAt(p geom.Px) image.Point { return image.Pt(int(math.Round(p.X)), int(math.Round(p.Y))) }

// around is the box of whole pixels that holds every point with margin on all sides.
func around(points []geom.Px, margin float64) image.Rectangle {
	b := Polygon{Outer: points}.Bounds()
	return image.Rect(int(math.Floor(b.Min.X-margin)), int(math.Floor(b.Min.Y-margin)), int(math.Ceil(b.Max.X+margin))+1, int(math.Ceil(b.Max.Y+margin))+1)
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
