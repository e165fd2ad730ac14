package atlas

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"syscall"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// seen is how the second camera of these tests sees the first picture: a little nearer, turned and tilted.
var seen = geom.Homography{0.97, 0.02, 0.5, -0.03, 0.96, 1.5, 1e-4, 2e-4, 1}

// pairs are ties at the given pixels of the first picture.
func pairs(h geom.Homography, at ...geom.Px) (out []annotate.PictureTie) {
	for _, q := range at {
		out = append(out, annotate.PictureTie{Old: q, New: geom.Px(h.MM(q))})
	}
	return out
}

var corners = []geom.Px{{X: 2, Y: 2}, {X: 38, Y: 2}, {X: 38, Y: 28}, {X: 2, Y: 28}, {X: 20, Y: 8}, {X: 20, Y: 22}, {X: 8, Y: 15}, {X: 32, Y: 15}}

var again = annotate.Stamp{Author: "CD", At: time.Date(2026, 4, 2, 8, 0, 0, 0, time.UTC)}

// photographed is a plate of slab 1 with all that can come over: scale (1 mm per pixel), top, border, tag mask, two labels, one of them
// signed, and landmarks.
func photographed(t testing.TB, l *Library, r section.Run) Plate {
	t.Helper()
	p := add(t, l, upper(r, 1), 1)
	var err error
	if p.Calibration, err = photo.TwoTicks(geom.Px{X: 1, Y: 1}, geom.Px{X: 31, Y: 1}, 30); err != nil {
		t.Fatal(err)
	}
	p.PhotoUp = section.Anterior
	p.Border = []annotate.Polygon{{Outer: corners[:4]}}
	p.Mask = []annotate.Polygon{{Outer: []geom.Px{{X: 30, Y: 24}, {X: 37, Y: 24}, {X: 37, Y: 27}, {X: 30, Y: 27}}}}
	x := outline("near", 4, 12)
	x.Signed = &annotate.Signature{By: "EF", At: again.At}
	p = withLabel(t, withLabel(t, p, x), outline("far", 28, 12))
	p.Picks = &Picks{Series: "S1", Ties: []register.Tie{{Face: geom.Px{X: 10, Y: 10}, Scan: geom.LPS{X: 1}}}}
	if p, err = l.Save(p); err != nil {
		t.Fatal(err)
	}
	return p
}

func succeed(t testing.TB, l *Library, p Plate, ties []annotate.PictureTie) (Succession, Plate) {
	t.Helper()
	next := add(t, l, section.Face{}, 2)
	s, err := p.Succeed(next, ties, again)
	if err != nil {
		t.Fatal(err)
	}
	return s, next
}

// LB7 and RG1: the old picture is kept as retired and stays as it was; the new one is current with everything in its place.
func TestLB7SuccessionInTheLibrary(t *testing.T) {
	l, r := lab(t)
	p := photographed(t, l, r)
	ties := pairs(seen, corners...)
	ties[6].New.Y += 9 // 9 mm, beside "near"
	s, before := succeed(t, l, p, ties)
	kept, err := l.Keep(s)
	if err != nil {
		t.Fatal(err)
	}
	old, err := l.Plate(p.ID)
	if err != nil {
		t.Fatal(err)
	}
	was := p
	was.Retired, was.Rev, was.Saved = true, old.Rev, old.Saved
	if asJSON(t, old) != asJSON(t, was) {
		t.Errorf("the earlier picture changed:\n%s\n%s", asJSON(t, old), asJSON(t, was))
	}
	now, err := l.PlateOf(upper(r, 1))
	if err != nil || now.ID != before.ID || asJSON(t, now) != asJSON(t, kept.New) {
		t.Fatalf("current %s, %v", now.ID, err)
	}
	for id, carried := range map[string]bool{"near": true, "far": false} {
		a, _ := old.Labels.Find(id)
		b, ok := now.Labels.Find(id)
		if !ok || b.Carried != carried || b.Signed != nil || b.Author != a.Author {
			t.Errorf("%s: %+v", id, b)
		}
		for i, q := range a.Regions[0].Outer {
			if d := b.Regions[0].Outer[i].Dist(geom.Px(seen.MM(q))); d > 1e-6 {
				t.Errorf("%s slipped by %g px", id, d)
			}
		}
	}
	if got := now.LookAgain(); len(got) != 2 || got[0] != (Doubt{OnLabel, "near", got[0].Off}) || got[0].Off < 8 || got[0].Off > 10 || got[1].Part != OnMask {
		t.Errorf("look again at %+v", got)
	}
	if !s.Scale || s.Unsigned != 1 || len(s.Lost) != 0 || s.Turned {
		t.Errorf("%+v", s)
	}
	// Lengths are those of the first picture, and less sure.
	a, b := geom.Px{X: 5, Y: 5}, geom.Px{X: 30, Y: 20}
	want, was1, _ := old.Calibration.Length(a, b)
	got, is, err := now.Calibration.Length(geom.Px(seen.MM(a)), geom.Px(seen.MM(b)))
	if err != nil || got-want > 1e-6 || want-got > 1e-6 || is <= was1 || now.Calibration.Status != photo.Scaled {
		t.Errorf("%g mm ± %g, before %g ± %g, %v %v", got, is, want, was1, now.Calibration.Status, err)
	}
	if now.PhotoUp != section.Anterior || len(now.Border) != 1 || len(now.Mask) != 1 || now.Picks.Ties[0].Face.Dist(geom.Px(seen.MM(geom.Px{X: 10, Y: 10}))) > 1e-6 {
		t.Errorf("%v %v %v %+v", now.PhotoUp, now.Border, now.Mask, now.Picks)
	}
	if e := now.Earlier; e == nil || e.Plate != old.ID || len(e.Ties) != 8 || e.By != "CD" || *e.Error[6] < 8 {
		t.Errorf("%+v", e)
	}
	if n := len(now.History); n != 2 || now.History[1].By != "CD" {
		t.Errorf("%+v", now.History)
	}

	// What waits goes once a person looked: by saying so, by shaping anew, by redrawing.
	now.Again = append(now.Again, Doubt{Part: OnBorder})
	looked := now.Looked(OnMask)
	looked.Labels, err = looked.Labels.Confirm("near", again)
	if err != nil || len(looked.LookAgain()) != 1 || looked.Doubtful(OnMask) || !looked.Doubtful(OnBorder) {
		t.Errorf("%v %+v", err, looked.LookAgain())
	}
	drawn := now
	drawn.Border, drawn.Mask = old.Border, old.Mask
	drawn.Labels, _ = now.Labels.Reshape("near", again, outline("", 3, 3).Regions[0])
	if drawn = now.Edited(drawn); len(drawn.LookAgain()) != 0 {
		t.Errorf("drawn anew: %+v", drawn.LookAgain())
	}

	// The earlier picture takes no change, and no place but its own.
	old.PhotoUp = section.Left
	_, err = l.Save(old)
	wantErr(t, err, ErrRetired)
	_, err = l.Place(old.ID, upper(r, 2))
	wantErr(t, err, ErrRetired)
	_, err = l.Unplace(old.ID)
	wantErr(t, err, ErrRetired)
	wantErr(t, l.PlaceAll(map[string]section.Face{old.ID: {}}), ErrRetired)
	_, err = l.Restore(old.ID)
	wantErr(t, err, ErrFaceTaken)

	// One step back, and again, and the two exchanged.
	o, n, err := l.TakeBack(kept, before)
	if err != nil {
		t.Fatal(err)
	}
	if n.Face != (section.Face{}) || n.Labels.Len() != 0 || n.Earlier != nil || o.Retired {
		t.Errorf("taken back: %+v", n)
	}
	s.Old.Rev, s.New.Rev = o.Rev, n.Rev
	if kept, err = l.Keep(s); err != nil {
		t.Fatal(err)
	}
	_, err = l.Keep(s)
	wantErr(t, err, ErrChanged)
	back, err := l.MakeCurrent(p.ID)
	if err != nil || back.Retired || back.Labels.Len() != 2 {
		t.Fatalf("%v %+v", err, back)
	}
	earlier, err := l.EarlierPhotos(upper(r, 1))
	if err != nil || len(earlier) != 1 || earlier[0].Plate != before.ID || earlier[0].Again != 2 {
		t.Errorf("%+v %v", earlier, err)
	}
	if err := l.Verify(context.Background(), func(err error) { t.Error(err) }); err != nil {
		t.Fatal(err)
	}
}

// A picture turned a quarter has another side at its top; a picture of the other face is refused, and so are crossed ties.
func TestLB7TurnedAndTurnedOver(t *testing.T) {
	l, r := lab(t)
	p := photographed(t, l, r)
	next := add(t, l, section.Face{}, 2)
	quarter := geom.Homography{0, -0.9, 30, 0.9, 0, -2, 0, 0, 1} // clockwise: what was at the top is at the right
	s, err := p.Succeed(next, pairs(quarter, corners...), again)
	if err != nil || s.Turned {
		t.Fatalf("%v, unsure %v", err, s.Turned)
	}
	// Upper face, front at the top: the donor's left is at the left of the picture (truth/laterality_photo.csv, transverse superior A), so after a
	// clockwise quarter it is at the top.
	if want := p.PhotoEdges().Left; s.New.PhotoUp.Letter() != want {
		t.Errorf("top %v, want %s", s.New.PhotoUp, want)
	}
	over := geom.Homography{-1, 0, 39, 0, 1, 0, 0, 0, 1}
	_, err = p.Succeed(next, pairs(over, corners...), again)
	wantErr(t, err, ErrOtherFace)
	if !TurnedOver(pairs(over, corners[:3]...), p, next) || TurnedOver(pairs(seen, corners[:3]...), p, next) || TurnedOver(pairs(over, corners[:2]...), p, next) {
		t.Error("three ties do not tell which way round they run")
	}
	mirrored := next
	mirrored.Mirrored = Yes // the new picture shows the face mirrored, so this is as it should be
	if s, err = p.Succeed(mirrored, pairs(over, corners...), again); err != nil {
		t.Fatal(err)
	}
	a, _ := p.FaceMM()
	b, _ := s.New.FaceMM()
	for _, q := range corners {
		if d := a.MM(q).Dist(b.MM(geom.Px(over.MM(q)))); d > 1e-6 {
			t.Errorf("face mm differ by %g", d)
		}
	}
	if got, want := s.New.Edges(section.Bench), p.Edges(section.Bench); got != want {
		t.Errorf("letters %v, want %v", got, want)
	}
	crossed := pairs(seen, corners[:4]...)
	crossed[0].New, crossed[1].New = crossed[1].New, crossed[0].New
	_, err = p.Succeed(next, crossed, again)
	wantErr(t, err, ErrCrossedTies)
	_, err = p.Succeed(next, pairs(seen, corners[:3]...), again)
	wantErr(t, err, geom.ErrTooFewPoints)
	open := next
	open.Photo.Mirrored = true
	_, err = p.Succeed(open, pairs(seen, corners...), again)
	wantErr(t, err, ErrNotOriented)
	placed := next
	placed.Face = upper(r, 2)
	_, err = p.Succeed(placed, pairs(seen, corners...), again)
	wantErr(t, err, ErrFaceTaken)
	_, err = next.Succeed(next, pairs(seen, corners...), again)
	wantErr(t, err, ErrUnplaced)
}

// Without a scale nothing says how far off a tie is: everything is looked at.
func TestLB7WithoutScale(t *testing.T) {
	l, r := lab(t)
	p := photographed(t, l, r)
	p.Calibration = photo.Calibration{}
	s, _ := succeed(t, l, p, pairs(seen, corners...))
	if s.Scale || s.New.Calibration.Status != photo.Nominal || len(s.New.LookAgain()) != 4 {
		t.Errorf("%+v", s.New.LookAgain())
	}
	if _, err := l.Keep(s); err != nil {
		t.Fatal(err)
	}
}

const tellsAgain = "again"

// succeeding gives one face its two pictures in turn, by each of the ways there are, until it is killed.
func succeeding(dir string) {
	fail := func(err error) {
		if err != nil {
			fmt.Println("fail", err)
			os.Exit(1)
		}
	}
	l, err := Open(dir, ReadWrite)
	fail(err)
	first, err := l.db.Meta("first")
	fail(err)
	second, err := l.db.Meta("second")
	fail(err)
	fmt.Println("open")
	for {
		p, err := l.Plate(first)
		fail(err)
		q, err := l.Plate(second)
		fail(err)
		switch {
		case q.Retired || p.Retired && rand.IntN(2) == 0:
			id := first
			if q.Retired {
				id = second
			}
			_, err = l.MakeCurrent(id)
		case p.Retired:
			before := q
			before.Face, before.Earlier, before.Again, before.Labels, before.Border, before.Mask = section.Face{}, nil, nil, annotate.Labels{}, nil, nil
			_, _, err = l.TakeBack(Succession{Old: p, New: q}, before)
		default:
			var s Succession
			q.Calibration, q.PhotoUp = photo.Calibration{}, section.UnknownFacing
			s, err = p.Succeed(q, pairs(seen, corners...), again)
			fail(err)
			_, err = l.Keep(s)
		}
		fail(err)
		fmt.Println("done")
	}
}

// LB7: a program killed while a face gets another picture leaves it with exactly one of the two as its current one, and each picture with
// the outlines that are its own.
func TestLB7KilledAtAnyMoment(t *testing.T) {
	rounds := 25
	if testing.Short() {
		rounds = 4
	}
	l, r := lab(t)
	p := photographed(t, l, r)
	q := add(t, l, section.Face{}, 2)
	if err := errors.Join(l.db.SetMeta("first", p.ID), l.db.SetMeta("second", q.ID)); err != nil {
		t.Fatal(err)
	}
	dir, done := l.Dir(), 0
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	for round := range rounds {
		for _, line := range runAndKill(t, dir, tellsAgain, time.Duration(rand.IntN(120))*time.Millisecond) {
			if line != "done" {
				t.Fatalf("round %d: %s", round, line)
			}
			done++
		}
		l, err := Open(dir, ReadWrite)
		if err != nil {
			t.Fatal(err)
		}
		oneOf(t, l, p, q.ID)
		l.Close()
	}
	if done < rounds {
		t.Errorf("only %d changes in %d rounds: the test proves little", done, rounds)
	}
	t.Logf("%d rounds, %d changes", rounds, done)
}

// oneOf fails unless exactly one of two pictures is current, with its own outlines.
func oneOf(t *testing.T, l *Library, first Plate, second string) {
	t.Helper()
	p, err := l.Plate(first.ID)
	if err != nil {
		t.Fatal(err)
	}
	q, err := l.Plate(second)
	if err != nil {
		t.Fatal(err)
	}
	now, err := l.PlateOf(first.Face)
	if err != nil {
		t.Fatalf("no current picture: %v", err)
	}
	current := map[string]bool{p.ID: !p.Retired, q.ID: q.Face != (section.Face{}) && !q.Retired}
	if !current[now.ID] || current[p.ID] && current[q.ID] {
		t.Fatalf("current %s of %v", now.ID, current)
	}
	same := slices.EqualFunc(slices.Collect(p.Labels.All()), slices.Collect(first.Labels.All()), func(a, b annotate.Label) bool {
		return a.ID == b.ID && slices.EqualFunc(a.Regions, b.Regions, annotate.Polygon.Equal) && (a.Signed == nil) == (b.Signed == nil)
	})
	if !same || p.Face != first.Face {
		t.Fatal("the first picture's outlines moved")
	}
	switch placed := q.Face != (section.Face{}); {
	case placed && (q.Labels.Len() != 2 || q.Earlier == nil):
		t.Fatalf("half carried: %d outlines", q.Labels.Len())
	case !placed && (q.Labels.Len() != 0 || q.Earlier != nil || p.Retired):
		t.Fatal("half taken back")
	}
	if err := l.Verify(context.Background(), func(err error) { t.Error(err) }); err != nil {
		t.Fatal(err)
	}
}

// LB7: whichever of the two rows of a succession the catalogue refuses, nothing changes.
func TestLB7AllOrNothing(t *testing.T) {
	for _, broken := range []string{"old", "new"} {
		l, r := lab(t)
		p := photographed(t, l, r)
		s, before := succeed(t, l, p, pairs(seen, corners...))
		if broken == "old" {
			s.Old.Rev--
		} else {
			s.New.Rev--
		}
		_, err := l.Keep(s)
		wantErr(t, err, ErrChanged)
		oneOf(t, l, p, before.ID)
		if now, err := l.PlateOf(p.Face); err != nil || now.ID != p.ID || now.Rev != p.Rev {
			t.Errorf("%s: current %s rev %d, %v", broken, now.ID, now.Rev, err)
		}
	}
	// A photograph that lies on the face by another way in between is no reason to have two.
	l, r := lab(t)
	p := photographed(t, l, r)
	s, _ := succeed(t, l, p, pairs(seen, corners...))
	s.Old.Retired = false
	_, err := l.Keep(s)
	wantErr(t, err, ErrFaceTaken)
}

// A disk that fails under a new photograph's bytes leaves the old one current; the next try succeeds.
func TestLB7FaultyDisk(t *testing.T) {
	for nth := 1; nth < 40; nth++ {
		l, r := lab(t)
		p := photographed(t, l, r)
		var next Plate
		var err error
		deeds := fault{"", syscall.EIO, false}.onto(nth, func() {
			next, err = l.AddPhoto(context.Background(), section.Face{}, code, "x.jpg", bytes.NewReader(picture(t, 2)))
		})
		if err != nil {
			if now, e := l.PlateOf(p.Face); e != nil || now.ID != p.ID {
				t.Fatalf("deed %d: %v", nth, e)
			}
			next = add(t, l, section.Face{}, 2)
		}
		s, err := p.Succeed(next, pairs(seen, corners...), again)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := l.Keep(s); err != nil {
			t.Fatalf("deed %d: %v", nth, err)
		}
		oneOf(t, l, p, next.ID)
		l.Close()
		if deeds < nth {
			return
		}
	}
	t.Error("the fault never comes too late")
}

// RG1: a photograph is unplaced or tied to exactly one slab and face; a face has at most one current photograph, earlier ones are kept; nothing is
// named on an unplaced one; a face that a run does not have cannot be chosen, in any of the three planes.
func TestRG1EveryPhotoBelongsToOneFace(t *testing.T) {
	l, _ := lab(t)
	ends := map[section.Plane]section.Facing{section.Transverse: section.Superior, section.Frontal: section.Anterior, section.Sagittal: section.Right}
	shade := uint8(30)
	for plane, first := range ends {
		r := trunk(code)
		r.Plane, r.First, r.Part = plane, first, "part "+plane.String()
		r, err := l.SaveRun(r)
		if err != nil {
			t.Fatal(err)
		}
		shade += 29
		p := add(t, l, section.Face{}, shade)
		for f := section.Superior; f <= section.Right; f++ {
			q, err := l.Place(p.ID, section.Face{Run: r.ID, Slab: 2, Facing: f})
			if (f.Plane() == plane) != (err == nil) {
				t.Errorf("%v face of a %v run: %v", f, plane, err)
			}
			if err != nil {
				wantErr(t, err, section.ErrNotAFace)
				wantErr(t, l.PlaceAll(map[string]section.Face{p.ID: {Run: r.ID, Slab: 2, Facing: f}}), section.ErrNotAFace)
			} else if q.Face.Facing != f {
				t.Errorf("it lies on %s", q.Face.Name())
			}
		}
		if _, err := l.Unplace(p.ID); err != nil {
			t.Fatal(err)
		}
		q, err := l.Plate(p.ID)
		if err != nil {
			t.Fatal(err)
		}
		_, err = l.Save(withLabel(t, q, outline("a", 1, 1)))
		wantErr(t, err, ErrUnplaced)
		_, err = l.AddLabels(p.ID, annotate.Labels{}, q.Photo.Size)
		wantErr(t, err, ErrUnplaced)
		_, err = l.Retire(p.ID)
		wantErr(t, err, ErrUnplaced)
		_, err = q.Lay("S1", nil, false)
		wantErr(t, err, ErrUnplaced)
		on := section.Face{Run: r.ID, Slab: 1, Facing: first}
		shade += 29
		now := add(t, l, on, shade)
		_, err = l.Place(p.ID, on)
		wantErr(t, err, ErrFaceTaken)
		wantErr(t, l.PlaceAll(map[string]section.Face{p.ID: on}), ErrFaceTaken)
		s, err := now.Succeed(q, pairs(seen, corners...), again)
		if err == nil {
			_, err = l.Keep(s)
		}
		if err != nil {
			t.Fatal(err)
		}
		if got, err := l.PlateOf(on); err != nil || got.ID != p.ID {
			t.Errorf("current %s, %v", got.ID, err)
		}
		if old, err := l.EarlierPhotos(on); err != nil || len(old) != 1 || old[0].Plate != now.ID {
			t.Errorf("%+v %v", old, err)
		}
	}
}
