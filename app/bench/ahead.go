package bench

import (
	"cmp"
	"context"
	"math"
	"slices"

	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// aheadRoom is what was read of faces beside the chosen one, so that walking along the run finds their pictures ready.
type aheadRoom struct {
	way      int                     // +1 or -1: where one last walked
	previews map[string]*photo.Image // by plate
	wholes   map[string]*photo.Image
	failed   map[string]bool // previews that could not be read
	looking  *job            // reads a preview
	reading  *job            // decodes the whole photograph of id
	id       string
}

// How far one looks ahead, in photographed faces to each side: previews are small, whole photographs are not.
const (
	previewsAhead = 3
	wholesAhead   = 1
	previewsKept  = 6
)

// walked notes where one walks when the chosen face changes.
func (b *Bench) walked(from, to section.Face) {
	all := b.Run().Faces()
	i, k := slices.Index(all, from), slices.Index(all, to)
	if i >= 0 && k >= 0 && i != k {
		b.ahead.way = 1
		if k < i {
			b.ahead.way = -1
		}
	}
}

// beside lists the plates of photographed faces up to n to each side of the chosen one, the likeliest to be wanted first:
// those ahead before those behind, the near before the far.
func (b *Bench) beside(n int) (plates []string) {
	all := b.Run().Faces()
	at := slices.Index(all, b.rule.face)
	if at < 0 {
		return nil
	}
	way := b.ahead.way
	if way == 0 {
		way = 1
	}
	side := func(step int) (out []string) {
		for i := at + step; i >= 0 && i < len(all) && len(out) < n; i += step {
			if x, there := b.rule.facts[all[i]]; there {
				out = append(out, x.plate)
			}
		}
		return out
	}
	on, back := side(way), side(-way)
	for i := range n {
		for _, s := range [][]string{on, back} {
			if i < len(s) {
				plates = append(plates, s[i])
			}
		}
	}
	return plates
}

// found takes what was read ahead for d, and stops what is being read for a face that is not on the bench now.
func (b *Bench) found(d *faceDoc) {
	a, id := &b.ahead, d.plate().ID
	if a.reading != nil && a.id != id {
		a.reading.leave()
	}
	if m := a.wholes[id]; m != nil && !d.whole {
		d.picture, d.whole = m, true
	} else if m := a.previews[id]; m != nil && d.picture == nil {
		d.picture = m
	}
	if a.reading != nil && a.id == id && d.reading == nil && !d.whole {
		d.reading, a.reading.quiet = a.reading, false // already on its way
	}
	delete(a.wholes, id)
}

// wantAhead reads the previews beside the chosen face, and once its own photograph is whole those of the faces next to it.
func (b *Bench) wantAhead() {
	if b.doc == nil {
		return
	}
	if b.ahead.looking == nil {
		b.previewAhead()
	}
	if b.doc.whole && b.ahead.reading == nil && b.decodes == 0 {
		b.decodeAhead()
	}
}

// previewAhead reads the one preview that is likeliest to be wanted next; when it came, one may have walked on.
func (b *Bench) previewAhead() {
	a := &b.ahead
	for _, id := range b.beside(previewsAhead) {
		if d := b.docs[id]; a.previews[id] != nil || a.wholes[id] != nil || a.failed[id] || (d != nil && (d.picture != nil || d.glancing)) {
			continue
		}
		lib := b.lab.lib
		var j *job
		j = b.startQuietly(Word("job.photo"), func(ctx context.Context, _ func(done, total int)) (func(), error) {
			var small *photo.Image
			if m, err := lib.Preview(ctx, id); err == nil {
				small = photo.NewImage(m)
			}
			return func() {
				if b.ahead.looking == j { // else another run was opened
					b.previewedAhead(id, small)
				}
			}, nil
		})
		a.looking = j
		return
	}
}

// previewedAhead keeps a preview; one that could not be read is left to who goes there.
func (b *Bench) previewedAhead(id string, small *photo.Image) {
	a := &b.ahead
	a.looking = nil
	if small == nil {
		if a.failed == nil {
			a.failed = map[string]bool{}
		}
		a.failed[id] = true
	} else {
		b.keepAhead(&a.previews, id, small)
		if d := b.docs[id]; d != nil && d == b.doc && d.picture == nil {
			d.picture = small
			b.pictureCame(d)
		}
	}
	b.forgetPictures()
	b.wantAhead()
}

func (b *Bench) decodeAhead() {
	room := mostPictures - b.wholeBytes()
	for _, id := range b.beside(wholesAhead) {
		if d := b.docs[id]; b.ahead.wholes[id] != nil || (d != nil && d.whole) {
			continue
		}
		lib := b.lab.lib
		var j *job
		j = b.startQuietly(Word("job.photo"), func(ctx context.Context, _ func(done, total int)) (func(), error) {
			m := decodeWithin(ctx, lib, id, room)
			left := ctx.Err() != nil
			return func() {
				b.decodes--
				if b.ahead.reading == j {
					b.decodedAhead(id, m, left)
				}
				b.wantWhole()
			}, nil
		})
		b.ahead.id, b.ahead.reading = id, j
		b.decodes++
		return
	}
}

// decodeWithin decodes a photograph when its pixels find room, in bytes; nil when they do not or it cannot be read.
func decodeWithin(ctx context.Context, lib library, id string, room int64) *photo.Image {
	p, err := lib.Plate(id)
	if err != nil || bytesOf(p.Photo.Size.X, p.Photo.Size.Y) > room {
		return nil
	}
	m, err := lib.Photo(ctx, id)
	if err != nil {
		return nil
	}
	return m
}

// bytesOf is what a decoded photograph takes with its halves, quarters and so on.
func bytesOf(w, h int) int64 { return int64(w) * int64(h) * 4 * 4 / 3 }

// decodedAhead keeps a photograph for the face it was read for, which may be on the bench by now; m is nil when it found no
// room, could not be read, or was left because one walked elsewhere.
func (b *Bench) decodedAhead(id string, m *photo.Image, left bool) {
	b.ahead.reading, b.ahead.id = nil, ""
	d := b.docs[id]
	waits := d != nil && b.doc == d
	if d != nil {
		d.reading = nil
	}
	switch {
	case m == nil && waits:
		b.wantPicture(d) // it was left, or found no room as a guess
	case waits && !d.whole:
		d.picture, d.whole = m, true
		b.forgetPictures()
		b.pictureCame(d)
	case m != nil:
		b.keepAhead(&b.ahead.wholes, id, m)
		b.forgetPictures()
		if b.ahead.wholes[id] != nil { // else it found no room after all
			b.wantAhead()
		}
	case left:
		b.wantAhead()
	}
}

func (b *Bench) keepAhead(in *map[string]*photo.Image, id string, m *photo.Image) {
	if *in == nil {
		*in = map[string]*photo.Image{}
	}
	(*in)[id] = m
}

// wholeBytes is what whole photographs take together.
func (b *Bench) wholeBytes() (sum int64) {
	for _, d := range b.docs {
		if d.whole {
			sum += d.picture.Bytes()
		}
	}
	for _, m := range b.ahead.wholes {
		sum += m.Bytes()
	}
	return sum
}

// mostPictures bounds the memory that whole photographs take together, in bytes; the one on the bench may be larger.
var mostPictures int64 = 400 << 20

// forgetPictures lets go of whole photographs while they take too much memory, and of previews far from the chosen face; what
// is on the bench stays.
func (b *Bench) forgetPictures() {
	far := b.farthest()
	sum := b.wholeBytes()
	for _, id := range far {
		d := b.docs[id]
		if d == b.doc && d != nil {
			continue
		}
		if m := b.ahead.wholes[id]; m != nil && sum > mostPictures {
			sum -= m.Bytes()
			delete(b.ahead.wholes, id)
		}
		if d != nil && d.whole && sum > mostPictures {
			sum -= d.picture.Bytes()
			d.picture, d.whole, d.follower = nil, false, nil
		}
	}
	near := b.beside(previewsKept)
	for _, id := range far {
		if slices.Contains(near, id) {
			continue
		}
		delete(b.ahead.previews, id)
		if d := b.docs[id]; d != nil && d != b.doc && !d.whole && d.reading == nil {
			d.picture = nil
		}
	}
}

// farthest lists every plate whose picture is held, the farthest from the chosen face first.
func (b *Bench) farthest() (plates []string) {
	all := b.Run().Faces()
	at := slices.Index(all, b.rule.face)
	away := map[string]int{}
	for _, held := range []map[string]*photo.Image{b.ahead.previews, b.ahead.wholes} {
		for id := range held {
			away[id] = math.MaxInt
		}
	}
	for id := range b.docs {
		away[id] = math.MaxInt // of another run, unless found below
	}
	for i, f := range all {
		if x, there := b.rule.facts[f]; there {
			if _, held := away[x.plate]; held {
				away[x.plate] = max(i-at, at-i)
			}
		}
	}
	for id := range away {
		plates = append(plates, id)
	}
	slices.SortFunc(plates, func(a, z string) int { return cmp.Or(cmp.Compare(away[z], away[a]), cmp.Compare(a, z)) })
	return plates
}

// dropAhead stops looking ahead and lets go of what was read.
func (b *Bench) dropAhead() {
	for _, j := range []*job{b.ahead.looking, b.ahead.reading} {
		if j != nil {
			j.stop()
		}
	}
	b.ahead = aheadRoom{}
}
