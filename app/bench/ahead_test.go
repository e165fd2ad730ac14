package bench

import (
	"context"
	"fmt"
	"image"
	"testing"

	"pgregory.net/rapid"

	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// walkedRun is a run of n slabs with a photograph on every face.
func walkedRun(t testing.TB, n int) (*Bench, *queue, *memory) {
	b, q, m := sample(t)
	r := evenRun(section.Transverse, section.Superior, n)
	r.ID, r.Donor = "z", "D1"
	m.runs = append(m.runs, r)
	pic := photo.NewImage(drawnFace(320, 240))
	for i, f := range r.Faces() {
		p := m.plates["p1"]
		p.ID, p.Face, p.Photo.Size = fmt.Sprintf("z%d", i), f, image.Pt(320, 240)
		m.plates[p.ID], m.photos[p.ID] = p, pic
	}
	if err := b.readLab(); err != nil {
		t.Fatal(err)
	}
	b.ChooseRun("z")
	q.run()
	return b, q, m
}

// Capability CP2: Up and Down go by face, with Shift by slab, pedals send page keys; the walk stops at both ends and never
// wraps round; K crosses the cut and F turns the slab over.
func TestCP2WalkingStopsAtBothEnds(t *testing.T) {
	b, q, _ := walkedRun(t, 6)
	f := func(slab int, way section.Facing) section.Face {
		return section.Face{Run: "z", Slab: slab, Facing: way}
	}
	press := func(key string, m Mods, want section.Face) {
		t.Helper()
		b.Key(key, m)
		q.run()
		if b.Face() != want {
			t.Fatalf("%s %+v: %s, want %s", key, m, b.Face().Name(), want.Name())
		}
	}
	b.ChooseFace(f(1, section.Superior))
	press("Up", Mods{}, f(1, section.Superior))
	press("Page Up", Mods{Shift: true}, f(1, section.Superior))
	for i, want := range b.Run().Faces()[1:] {
		key := "Down"
		if i%2 == 1 {
			key = "Page Down"
		}
		press(key, Mods{}, want)
	}
	press("Page Down", Mods{}, f(6, section.Inferior))
	press("Down", Mods{Shift: true}, f(6, section.Inferior))
	press("K", Mods{}, f(6, section.Inferior)) // nothing lies across the cut
	press("Up", Mods{Shift: true}, f(5, section.Inferior))
	press("K", Mods{}, f(6, section.Superior))
	press("F", Mods{}, f(6, section.Inferior))
	press("Page Up", Mods{Shift: true}, f(5, section.Inferior))
	press("Page Up", Mods{}, f(5, section.Superior))
}

// Capability CP2: the next pictures are read ahead in both directions: on settling on a face, its neighbours' previews and the
// whole photographs next to it are at hand, so that a step shows them at once.
func TestCP2NextPicturesAreReadAhead(t *testing.T) {
	b, q, _ := walkedRun(t, 12)
	b.ChooseFace(b.Run().Faces()[10])
	q.run()
	for _, by := range []int{1, 1, -1, -1, -1} {
		b.Step(by)
		if b.doc == nil || !b.doc.whole {
			t.Fatalf("after a step of %d the photograph is not there at once", by)
		}
		q.run()
	}
	b.StepSlab(1)
	if b.doc.picture == nil {
		t.Fatal("a slab further on not even the preview is there")
	}
	for _, j := range b.Jobs() {
		if len(b.Jobs()) > 1 {
			t.Fatalf("guesswork is listed as a job: %+v", j)
		}
	}
	// What one walks away from is not read to its end, and what is being read for the face one comes to is not read twice.
	q.run()
	b.ChooseFace(b.Run().Faces()[4])
	q.run() // its neighbours are whole now
	b.Step(1)
	if n := len(q.works); n == 0 {
		t.Fatal("nothing is read ahead")
	}
	ahead := b.ahead.reading
	b.ChooseFace(b.Run().Faces()[20])
	if ahead == nil || b.ahead.reading == nil {
		t.Fatal("no photograph was being read ahead")
	}
	q.run()
	if !b.doc.whole {
		t.Fatal("the face one jumped to is not whole")
	}
}

// The face one comes to while it is being decoded ahead takes that work over instead of beginning anew.
func TestCP2WorkAheadIsTakenOver(t *testing.T) {
	b, q, m := walkedRun(t, 6)
	counted := &countedLab{memory: m, photos: map[string]int{}}
	b.lab.lib = counted
	b.ChooseFace(b.Run().Faces()[4])
	for b.doc == nil || !b.doc.whole {
		if done := q.workOn(0); done != nil {
			done()
		}
	}
	if b.ahead.reading == nil {
		t.Fatal("nothing is decoded ahead")
	}
	next := b.ahead.id
	b.Step(1)
	if b.doc.plate().ID != next || b.doc.reading == nil || b.doc.whole {
		t.Fatalf("the work for %s was not taken over", next)
	}
	q.run()
	if !b.doc.whole || counted.photos[next] != 1 {
		t.Fatalf("%s was decoded %d times, whole %v", next, counted.photos[next], b.doc.whole)
	}
}

type countedLab struct {
	*memory
	photos map[string]int
}

func (c *countedLab) Photo(ctx context.Context, id string) (*photo.Image, error) {
	c.photos[id]++
	return c.memory.Photo(ctx, id)
}

// However one walks, whole photographs never take more than the bound beside the one on the bench, and previews are kept only
// of the faces near by.
func TestCP2MemoryIsBounded(t *testing.T) {
	b, q, m := walkedRun(t, 40)
	one := m.photos["z0"].Bytes()
	old := mostPictures
	mostPictures = 4*one + one/2
	defer func() { mostPictures = old }()
	rapid.Check(t, func(t *rapid.T) {
		for range rapid.IntRange(1, 30).Draw(t, "steps") {
			switch rapid.IntRange(0, 4).Draw(t, "what") {
			case 0:
				b.Step(rapid.IntRange(-3, 3).Draw(t, "by"))
			case 1:
				b.StepSlab(rapid.IntRange(-9, 9).Draw(t, "slabs"))
			case 2:
				b.Across()
			case 3:
				if len(q.works) > 0 { // results come in any order
					if done := q.workOn(rapid.IntRange(0, len(q.works)-1).Draw(t, "work")); done != nil {
						done()
					}
				}
			default:
				q.run()
			}
			if got := b.wholeBytes(); got > mostPictures {
				t.Fatalf("whole photographs take %d bytes, bound %d", got, mostPictures)
			}
			small := len(b.ahead.previews)
			for _, d := range b.docs {
				if d.picture != nil && !d.whole {
					small++
				}
			}
			if most := 4*previewsKept + 3; small > most {
				t.Fatalf("%d previews are held, at most %d", small, most)
			}
		}
		q.run()
		if b.doc != nil && !b.doc.whole {
			t.Fatal("the face on the bench is not whole")
		}
	})
}
