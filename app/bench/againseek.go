package bench

import (
	"context"
	"math"
	"slices"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// How far off, as a share of the old picture's width, a place may lie from where it is guessed: by a fit of the ties, by two of them, or as if
// both pictures were taken from the same stand. Common practice, no source.
const (
	offFit   = 0.02
	offTwo   = 0.04
	offStand = 0.08
)

// SeekTies proposes ties by comparing the pictures, as a job: from two ties on by them, else as if both were taken from the same stand.
func (b *Bench) SeekTies() {
	a := &b.again
	if !a.laying || a.seek != nil || a.was == nil || a.is == nil || a.was.Size() != a.old.Photo.Size {
		return // one of them is still being read
	}
	guess, reach := guessBetween(a.ties, a.was, a.is)
	if a.fault == nil {
		guess, reach = affineAt(a.found.Fit.Map, a.old.MiddlePx()), offFit
	}
	was, is, inside := a.was, a.is, insideOf(a.old, a.ties)
	a.seek = b.start(Word("job.seekties"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		found := photo.AlikePlaces(ctx, was, is, guess, reach, inside, 8)
		return func() {
			a := &b.again
			if a.seek = nil; a.is == is {
				a.offers, a.asked = found, true
				b.changed(SelectionChanged)
			}
		}, nil
	})
	b.changed(SelectionChanged)
}

// insideOf is where places of the face lie on the old picture: within its border, else within the box of its ties.
func insideOf(p atlas.Plate, ties []annotate.PictureTie) func(geom.Px) bool {
	if len(p.Border) > 0 {
		return func(q geom.Px) bool {
			return slices.ContainsFunc(p.Border, func(x annotate.Polygon) bool { return x.Contains(q) })
		}
	}
	if len(ties) < 3 {
		return nil
	}
	lo, hi := ties[0].Old, ties[0].Old
	for _, t := range ties {
		lo = geom.Px{X: math.Min(lo.X, t.Old.X), Y: math.Min(lo.Y, t.Old.Y)}
		hi = geom.Px{X: math.Max(hi.X, t.Old.X), Y: math.Max(hi.Y, t.Old.Y)}
	}
	return func(q geom.Px) bool { return q.X >= lo.X && q.Y >= lo.Y && q.X <= hi.X && q.Y <= hi.Y }
}

// guessBetween is about how the old picture lies on the new: by the first and the last tie (a turn and one scale), else from the same stand.
func guessBetween(ties []annotate.PictureTie, was, is *photo.Image) (guess [6]float64, reach float64) {
	if n := len(ties); n >= 2 {
		o, e := ties[0], ties[n-1]
		dx, dy, l := e.Old.X-o.Old.X, e.Old.Y-o.Old.Y, 0.0
		if l = dx*dx + dy*dy; l > 0 {
			ux, uy := e.New.X-o.New.X, e.New.Y-o.New.Y
			c, s := (ux*dx+uy*dy)/l, (uy*dx-ux*dy)/l
			return [6]float64{c, -s, o.New.X - c*o.Old.X + s*o.Old.Y, s, c, o.New.Y - s*o.Old.X - c*o.Old.Y}, offTwo
		}
	}
	k := float64(is.Size().X) / math.Max(1, float64(was.Size().X))
	return [6]float64{k, 0, 0, 0, k, 0}, offStand
}

// affineAt is a map as it goes about p.
func affineAt(h geom.Homography, p geom.Px) [6]float64 {
	j, at := h.Jacobian(p), h.MM(p)
	return [6]float64{j[0], j[1], at.X - j[0]*p.X - j[1]*p.Y, j[2], j[3], at.Y - j[2]*p.X - j[3]*p.Y}
}

// TakeOffers makes the proposed ties ties like any other.
func (b *Bench) TakeOffers() {
	a := &b.again
	if len(a.offers) == 0 {
		return
	}
	a.ties = slices.Clone(a.ties)
	for _, o := range a.offers {
		near := func(t annotate.PictureTie) bool { return t.Old.Dist(o.Old) < offFit*float64(a.old.Photo.Size.X) }
		if !slices.ContainsFunc(a.ties, near) { // beside another it would tell nothing new
			a.ties = append(a.ties, annotate.PictureTie{Old: o.Old, New: o.New})
		}
	}
	b.DropOffers()
	b.fitAgain()
}

// DropOffers puts the proposed ties away.
func (b *Bench) DropOffers() {
	b.again.offers, b.again.asked = nil, false
	b.changed(SelectionChanged)
}
