package bench

import (
	"context"
	"errors"
	"image"
	"math"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// followSigma is the width in pixels over which grain and saw marks are smoothed away before edges are followed.
const followSigma = 1.5

// wantFollower makes the chosen face ready for following edges, away from the event loop.
func (b *Bench) wantFollower() {
	d := b.doc
	if b.draw.manner != ByFollowing || d == nil || !d.whole || d.follower != nil || d.edging {
		return
	}
	d.edging = true
	m := d.picture
	b.start(Word("job.edges"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		gray, err := grayOf(ctx, m, tell)
		return func() {
			d.edging = false
			if err == nil {
				d.follower = annotate.NewFollower(gray, followSigma)
			}
		}, err
	})
}

// grayOf is a photograph in grey.
func grayOf(ctx context.Context, m *photo.Image, tell func(done, total int)) (*image.Gray, error) {
	size := m.Size()
	g := image.NewGray(image.Rectangle{Max: size})
	for y := range size.Y {
		if y%256 == 0 {
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			tell(y, size.Y)
		}
		row := g.Pix[y*g.Stride:]
		for x := range size.X {
			c := m.At(geom.Px{X: float64(x), Y: float64(y)})
			row[x] = uint8((299*int(c.R) + 587*int(c.G) + 114*int(c.B) + 500) / 1000)
		}
	}
	return g, nil
}

// follow finds the edge between two places away from the event loop. got is not called when the draft it was for is gone.
func (b *Bench) follow(from, to geom.Px, got func(path []geom.Px)) {
	f, draft := b.doc.follower, b.draw.draft
	b.run.Go(Word("job.edges"), func(ctx context.Context, _ func(done, total int)) func() {
		path := f.Path(ctx, from, to)
		return func() {
			if b.draw.draft == draft {
				got(path)
			}
		}
	})
}

// lookAhead shows the edge from the last click to where the hand is. Only the newest place is looked for: while one way is
// being found, the hand moves on.
func (b *Bench) lookAhead(to geom.Px) {
	d := &b.draw
	if d.manner != ByFollowing || len(d.outline) == 0 || d.closing || b.doc == nil {
		return
	}
	b.wantFollower()
	if b.doc.follower == nil {
		return
	}
	if d.looking == d.draft+1 {
		d.ahead = &to
		return
	}
	d.looking, d.ahead = d.draft+1, nil
	from := d.outline[len(d.outline)-1]
	b.follow(from, to, func(path []geom.Px) {
		d.looking = 0
		if n := len(d.outline); n > 0 && d.outline[n-1] == from {
			d.live = path
			b.changed(SelectionChanged)
		}
		if next := d.ahead; next != nil {
			b.lookAhead(*next)
		}
	})
}

// followTo accepts the edge up to px. The way not yet found is straight until it is.
func (b *Bench) followTo(px geom.Px) {
	d := &b.draw
	n := len(d.outline)
	if n == 0 {
		d.outline, d.knots = []geom.Px{px}, []int{0}
		b.wantFollower()
		return
	}
	from := d.outline[n-1]
	if k := len(d.live); k > 1 && d.live[0] == from && d.live[k-1] == px {
		d.outline = append(d.outline, d.live[1:]...)
	} else {
		d.outline = append(d.outline, px)
		b.findLeg(from, px)
	}
	d.knots = append(d.knots, len(d.outline)-1)
	d.live = nil
}

// findLeg puts the edge in the place of a straight way between two clicks.
func (b *Bench) findLeg(from, to geom.Px) {
	d := &b.draw
	if b.doc.follower == nil {
		return
	}
	d.pending++
	b.follow(from, to, func(path []geom.Px) {
		d.pending--
		for i := 1; i < len(d.knots); i++ {
			a, z := d.knots[i-1], d.knots[i]
			if z-a != 1 || d.outline[a] != from || d.outline[z] != to || len(path) < 3 {
				continue
			}
			mid := path[1 : len(path)-1]
			d.outline = append(append(append([]geom.Px(nil), d.outline[:z]...), mid...), d.outline[z:]...)
			for k := i; k < len(d.knots); k++ {
				d.knots[k] += len(mid)
			}
			break
		}
		b.arrived()
	})
}

// followHome finds the way from the last click to the first. It reports whether the outline has to wait for it.
func (b *Bench) followHome() bool {
	d := &b.draw
	if b.doc.follower == nil || len(d.knots) < 2 {
		return false
	}
	d.closing, d.live = true, nil
	d.pending++
	b.follow(d.outline[len(d.outline)-1], d.outline[0], func(path []geom.Px) {
		d.pending--
		if len(path) > 2 {
			d.home = path[1 : len(path)-1]
		}
		b.arrived()
	})
	return true
}

// arrived keeps an outline that was waiting for its ways once all are found.
func (b *Bench) arrived() {
	d := &b.draw
	b.changed(SelectionChanged)
	if !d.closing || d.pending > 0 {
		return
	}
	poly := annotate.Polygon{Outer: append(append([]geom.Px(nil), d.outline...), d.home...)}
	d.closing, d.home = false, nil
	if err := poly.Check(); err != nil {
		b.refuse(err)
		return
	}
	b.finish(b.keepOutline(poly))
}

// filling is a fill waiting to be kept: where it began and how unlike the tissue may be.
type filling struct {
	at    geom.Px
	alike float64 // largest colour difference, 0 to 255
}

// Bounds and first value of how unlike filled tissue may be.
const (
	alikeLeast, alikeFirst, alikeMost = 4, 18, 90
)

// fillShare is how far a fill may run, as a share of the picture's lesser side.
const fillShare = 0.3

// fillFrom outlines what is of like colour round a place; alike 0 takes the value used last.
func (b *Bench) fillFrom(at geom.Px, alike float64) {
	d := b.doc
	if d == nil || !d.whole || b.draw.filling {
		b.hint(Word("fill.wait"), false)
		return
	}
	if alike == 0 {
		alike = b.draw.alike
	}
	if alike == 0 {
		alike = alikeFirst
	}
	alike = math.Max(alikeLeast, math.Min(alikeMost, alike))
	b.dropOutline()
	b.draw.fill, b.draw.alike, b.draw.filling = &filling{at, alike}, alike, true
	m, draft := d.picture, b.draw.draft
	b.start(Word("job.fill"), func(ctx context.Context, _ func(done, total int)) (func(), error) {
		poly, err := grow(ctx, m, at, alike)
		return func() {
			b.draw.filling = false
			switch {
			case b.draw.draft != draft || b.doc != d:
			case errors.Is(err, annotate.ErrGrow):
				b.draw.outline = nil
				b.hint(Word("fill.nothing"), true)
			case err == nil:
				b.draw.outline = poly.Outer
				b.changed(SelectionChanged)
			}
		}, nil
	})
}

func grow(ctx context.Context, m *photo.Image, at geom.Px, alike float64) (annotate.Polygon, error) {
	size := m.Size()
	k := fillShare * float64(min(size.X, size.Y))
	r := image.Rect(int(at.X-k), int(at.Y-k), int(at.X+k)+1, int(at.Y+k)+1).Intersect(image.Rectangle{Max: size})
	crop := image.NewRGBA(r)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		if ctx.Err() != nil {
			return annotate.Polygon{}, ctx.Err()
		}
		for x := r.Min.X; x < r.Max.X; x++ {
			crop.SetRGBA(x, y, m.At(geom.Px{X: float64(x), Y: float64(y)}))
		}
	}
	return annotate.GrowFrom(ctx, crop, at, annotate.Growth{Tolerance: alike})
}

// FillMore takes in more unlike tissue (by above 1) or less, and fills again from the same place.
func (b *Bench) FillMore(by float64) {
	f := b.draw.fill
	if b.draw.manner != ByFilling || f == nil {
		b.hint(Word("hint.fill"), false)
		return
	}
	b.fillFrom(f.at, f.alike*by)
}
