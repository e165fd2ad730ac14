package bench

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"sectionary/atlas"
	"sectionary/slices/section"
)

// unlikeRoom is which faces of the run are unlike both their neighbours, as their previews show it.
type unlikeRoom struct {
	of      string // what was compared: which photograph lies where, with which top
	wanted  string // what shall be, once the person's hands rest
	cancel  func() // of the comparing to come
	working *job
	found   []atlas.Unlike
}

// restBefore is how long nothing must change before faces are compared.
const restBefore = 3 * time.Second

// wantUnlike compares the faces of the run with their neighbours once all is at rest, when what there is to compare has changed.
func (b *Bench) wantUnlike() {
	u := &b.rule.unlike
	key, n := b.comparable()
	if key == u.wanted {
		return
	}
	u.wanted = key
	if u.cancel != nil {
		u.cancel()
		u.cancel = nil
	}
	if u.found = slices.DeleteFunc(slices.Clone(u.found), func(x atlas.Unlike) bool { return b.rule.facts[x.Face].plate == "" }); n < 2 {
		return
	}
	run := b.Run().ID
	u.cancel = b.run.After(restBefore, func() {
		if b.Run().ID == run && b.lab.lib != nil {
			b.rule.unlike.cancel = nil
			b.compareFaces()
		}
	})
}

// comparable is what the comparing of faces depends on, and how many faces there are to compare.
func (b *Bench) comparable() (key string, n int) {
	var k strings.Builder
	for _, f := range b.Run().Faces() {
		if x, there := b.rule.facts[f]; there && x.letters {
			n++
			fmt.Fprintf(&k, "%d %d %s %v\n", f.Slab, f.Facing, x.plate, x.scale)
		}
	}
	return k.String(), n
}

// compareFaces does the comparing, as work that nobody waits for.
func (b *Bench) compareFaces() {
	u := &b.rule.unlike
	key, _ := b.comparable()
	if key == u.of {
		return
	}
	if u.working != nil {
		u.working.stop()
	}
	run, lib := b.Run(), b.lab.lib
	var j *job
	j = b.startQuietly(Word("job.look"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		faces, err := atlas.Likenesses(ctx, lib, run, tell)
		if err != nil {
			return nil, nil // a picture that cannot be read says so where it is opened
		}
		found := atlas.UnlikeNeighbours(run, faces)
		return func() {
			if b.Run().ID != run.ID || b.rule.unlike.working != j {
				return
			}
			u := &b.rule.unlike
			u.of, u.found, u.working = key, found, nil
			b.changed(RunChanged | PlateChanged | SelectionChanged)
		}, nil
	})
	u.working = j
}

// unlikeAt is what was found of a face.
func (b *Bench) unlikeAt(f section.Face) (atlas.Unlike, bool) {
	i := slices.IndexFunc(b.rule.unlike.found, func(u atlas.Unlike) bool { return u.Face == f })
	if i < 0 {
		return atlas.Unlike{}, false
	}
	return b.rule.unlike.found[i], true
}

// unlikeWords says in which way a face is unlike its neighbours.
func unlikeWords(u atlas.Unlike) string {
	if u.ByBorder {
		return Word("unlike.border", 100*u.Border, 100*u.UsualBorder)
	}
	return Word("unlike.greys")
}

// UnlikeFace is a face to look at: it is unlike both its neighbours along the run.
type UnlikeFace struct {
	Face  section.Face
	Words string
}

// UnlikeFaces lists the faces of the run that are unlike both their neighbours, in order. It is advice.
func (b *Bench) UnlikeFaces() (out []UnlikeFace) {
	for _, u := range b.rule.unlike.found {
		out = append(out, UnlikeFace{u.Face, upperFirst(b.FaceName(u.Face)) + ": " + unlikeWords(u)})
	}
	return out
}
