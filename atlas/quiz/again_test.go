package quiz

import (
	"bytes"
	"context"
	"strings"
	"testing"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// photographAgain gives the face of an exam's lab a new picture, shifted by that many pixels, by ten ties.
func photographAgain(t *testing.T, b Board, p atlas.Plate, by geom.Px) atlas.Plate {
	t.Helper()
	next, err := b.Lib.AddPhoto(context.Background(), section.Face{}, p.Donor, "x.jpg", bytes.NewReader(photo.WithEXIF(straight().paint(), 1, examDay)))
	if err != nil {
		t.Fatal(err)
	}
	var ties []annotate.PictureTie
	for i := range 10 {
		q := geom.Px{X: 60 + 40*float64(i%5), Y: 50 + 130*float64(i/5) + float64(i*i)}
		ties = append(ties, annotate.PictureTie{Old: q, New: geom.Px{X: q.X + by.X, Y: q.Y + by.Y}})
	}
	s, err := p.Succeed(next, ties, annotate.Stamp{Author: "AB", At: examDay})
	if err == nil {
		s, err = b.Lib.Keep(s)
	}
	if err != nil {
		t.Fatal(err)
	}
	return s.New
}

// LB7: exam items made from the earlier picture are listed; the exam is stopped with the station named, nothing of it is released, and the
// stations can follow to the current picture, where they must be looked at and their labels signed again.
func TestLB7ExamItemsOfAnEarlierPicture(t *testing.T) {
	b, x := examLab(t, Plan{Title: "Winter", Items: 3, Seed: 5})
	kept, err := b.Save(x)
	if err != nil {
		t.Fatal(err)
	}
	old, err := b.Lib.Plate(kept.Stations[0].Picture.Plate)
	if err != nil {
		t.Fatal(err)
	}
	kept.Stations[0].Picture.Crop = &Crop{Min: geom.Px{X: 10, Y: 20}, Max: geom.Px{X: 300, Y: 240}}
	if kept, err = b.Save(kept); err != nil {
		t.Fatal(err)
	}
	now := photographAgain(t, b, old, geom.Px{X: 6, Y: -4})
	uses, err := b.UsesOf(old.ID)
	if err != nil || len(uses) != len(kept.Stations) || uses[1].Words() != "Winter, station 2 (X)" || uses[1].Exam != kept.ID {
		t.Fatalf("%+v %v", uses, err)
	}
	if more, err := b.UsesOf(now.ID); err != nil || len(more) != 0 {
		t.Errorf("the new picture is in %+v, %v", more, err)
	}
	r := checkExam(t, b, kept)
	for i := range kept.Stations {
		f := r.Of(i + 1)
		if len(f) != 1 || f[0].Fault != Gone || !f[0].Fault.Stops() || !strings.Contains(f[0].Words, "earlier photograph") {
			t.Errorf("station %d: %+v", i+1, f)
		}
	}
	slip, dir := render(t, b, kept, Release{})
	if slip.Allowed || !strings.Contains(slip.Reason, "Station 1") || !strings.Contains(slip.Reason, "earlier photograph") || len(slip.Files) > 0 || exists(dir+"/"+slip.Code+"-qti.zip") {
		t.Errorf("%+v", slip)
	}

	next, done, err := b.FollowPictures(kept)
	if err != nil || len(done.Moved) != len(kept.Stations) || len(done.Left) != 0 {
		t.Fatalf("%+v %v", done, err)
	}
	for i, s := range next.Stations {
		if s.Picture.Plate != now.ID || s.Asks[0].Plate != now.ID || s.Asks[0].Label != kept.Stations[i].Asks[0].Label || s.Look != nil {
			t.Errorf("station %d: %+v", i+1, s)
		}
	}
	if c := next.Stations[0].Picture.Crop; c == nil || c.Min.Dist(geom.Px{X: 16, Y: 16}) > 1e-6 || c.Max.Dist(geom.Px{X: 306, Y: 236}) > 1e-6 {
		t.Errorf("crop %+v", c)
	}
	if kept.Stations[0].Picture.Plate != old.ID {
		t.Error("the exam that was given changed")
	}
	for _, f := range checkExam(t, b, next).Findings {
		if f.Fault == Gone {
			t.Errorf("%+v", f)
		}
		if f.Fault == NotSigned && !strings.Contains(f.Words, "signed") {
			t.Errorf("%+v", f)
		}
	}
	// A label that is gone from the current picture keeps its station back, by name.
	now.Labels, err = now.Labels.Remove(kept.Stations[1].Asks[0].Label)
	if err != nil {
		t.Fatal(err)
	}
	if _, err = b.Lib.Save(now); err != nil {
		t.Fatal(err)
	}
	_, done, err = b.FollowPictures(kept)
	if err != nil || len(done.Left) != 1 || !strings.HasPrefix(done.Left[0], "Station 2: ") || !strings.Contains(done.Left[0], "marked X") {
		t.Errorf("%+v %v", done, err)
	}
}

// RG1 and LB7: nothing of an earlier picture, and nothing that waits to be looked at, is handed out.
func TestLB7HandOutsOfANewPicture(t *testing.T) {
	l := newLab(t, tilted(), photo.Rectified)
	l.plate.Mask = []annotate.Polygon{{Outer: []geom.Px{{X: 5, Y: 5}, {X: 30, Y: 5}, {X: 30, Y: 20}, {X: 5, Y: 20}}}}
	var err error
	if l.plate, err = l.Save(l.plate); err != nil {
		t.Fatal(err)
	}
	b := l.board(t)
	now := photographAgain(t, b, l.plate, geom.Px{X: 2, Y: 2})
	r := Request{Kind: Study, Purpose: atlas.Teaching, Plates: []string{now.ID}}
	if s, _ := handOut(t, l, r); s.Allowed || !strings.Contains(s.Reason, "tag mask came over from an earlier photograph") {
		t.Errorf("%q", s.Reason)
	}
	if now, err = b.Lib.Save(now.Looked(atlas.OnMask)); err != nil {
		t.Fatal(err)
	}
	if s, _ := handOut(t, l, r); !s.Allowed {
		t.Errorf("looked at, yet %q", s.Reason)
	}
	r.Plates = []string{l.plate.ID}
	if s, _ := handOut(t, l, r); s.Allowed || !strings.Contains(s.Reason, "earlier photograph") {
		t.Errorf("%q", s.Reason)
	}
}

// What cannot be recorded as shown does not leave.
func TestAnUnreadableFaceIsNotSkipped(t *testing.T) {
	l := newLab(t, straight(), photo.Rectified)
	j := newJob(l.Library, nil, Request{Plates: []string{l.plate.ID, "PNONE"}})
	if lines, err := j.shows(); lines != nil || !strings.Contains(Sentence(err), "PNONE cannot be read") {
		t.Errorf("%d lines, %v", len(lines), err)
	}
}
