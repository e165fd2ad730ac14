package quiz

import (
	"context"
	"slices"
	"strings"
	"testing"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// strip adds a signed label that is an upright rectangle of the painted face, in mm.
func strip(t testing.TB, l lab, s scene, id, term string, x, y, w, h float64) lab {
	t.Helper()
	var ring []geom.Px
	for _, m := range []geom.MM{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h}, {X: x, Y: y + h}} {
		ring = append(ring, s.toPx(m))
	}
	var err error
	l.plate.Labels, err = l.plate.Labels.Add(annotate.Label{ID: id, Term: annotate.TermID(term), Sure: annotate.Certain, Author: "AB", Changed: examDay,
		Regions: []annotate.Polygon{{Outer: ring}}, Signed: &annotate.Signature{By: "CD", At: examDay}})
	if err != nil {
		t.Fatal(err)
	}
	if l.plate, err = l.Save(l.plate); err != nil {
		t.Fatal(err)
	}
	return l
}

func one(l lab, ids ...string) (out []LabelRef) {
	for _, id := range ids {
		out = append(out, LabelRef{l.plate.ID, id})
	}
	return out
}

// Row EX1: a strip 3 mm wide has its deepest place 1.5 mm from the edge (by hand), so it is a thin target; one 5 mm wide
// is none, but a neighbour 1 mm off its tip's side lies 3.5 mm away, and one 0.4 mm off lies 2.9 mm away.
func TestEX1ThinTargetsAndNeighbours(t *testing.T) {
	l := newLab(t, straight(), photo.Scaled)
	l.plate.Labels = annotate.Labels{}
	l = strip(t, l, straight(), "thin", "T:13", -60, -20, 3, 60)
	l = strip(t, l, straight(), "wide", "T:3", 0, -20, 5, 60)
	l = strip(t, l, straight(), "far", "T:4", 6, -20, 30, 60)
	l = strip(t, l, straight(), "alone", "T:5", 60, -20, 5, 60)
	l = strip(t, l, straight(), "near", "T:6", 65.4, -20, 30, 60)
	b := l.board(t)
	x := draftExam(t, b, Plan{Seed: 1, Labels: one(l, "thin", "wide", "alone", "near")})
	r := checkExam(t, b, x)
	want := map[int]struct {
		f  Fault
		mm float64
	}{1: {Thin, 1.5}, 3: {Near, 2.9}}
	for n := 1; n <= 4; n++ {
		var got []Finding
		for _, f := range r.Of(n) {
			if f.Fault == Thin || f.Fault == Near {
				got = append(got, f)
			}
		}
		w, some := want[n]
		if !some && len(got) > 0 {
			t.Errorf("station %d: %+v", n, got)
		}
		if some && (len(got) != 1 || got[0].Fault != w.f || got[0].MM < w.mm-0.05 || got[0].MM > w.mm+0.05) {
			t.Errorf("station %d: %+v, want %s %.1f mm", n, got, w.f, w.mm)
		}
	}
}

// Row EX1: labels that are not signed, not certain, carried over or of no list are never asked, and the reason is told.
func TestEX1OnlySignedCertainLabels(t *testing.T) {
	l := signAll(t, newLab(t, tilted(), photo.Rectified))
	stamp := annotate.Stamp{Author: "AB", At: examDay}
	var err error
	edit := func(next annotate.Labels, e error) {
		if err != nil || e != nil {
			t.Fatal(err, e)
		}
		l.plate.Labels = next
	}
	edit(l.plate.Labels.Judge("L03", stamp, annotate.Probable))              // liver: not certain
	edit(l.plate.Labels.Rename("L04", stamp, "T:6", annotate.NoSide))        // stomach: the signature falls away
	edit(l.plate.Labels.Rename("L05", stamp, "LOCAL:none", annotate.NoSide)) // no such structure
	spleen, _ := l.plate.Labels.Find("L06")
	edit(l.plate.Labels.Remove("L06"))
	spleen.Carried, spleen.ID = true, "L06c"
	edit(l.plate.Labels.Add(spleen))
	if l.plate, err = l.Save(l.plate); err != nil {
		t.Fatal(err)
	}
	b := l.board(t)
	x, left, err := b.Draft(context.Background(), Plan{Seed: 1, Items: 100})
	if err != nil {
		t.Fatal(err)
	}
	reasons := map[string]string{}
	for _, o := range left {
		reasons[o.Label] = o.Reason
	}
	for id, want := range map[string]string{"L03": "probable", "L04": "not signed", "L05": "not in the list", "L06c": "carried"} {
		if !strings.Contains(reasons[id], want) {
			t.Errorf("%s: %q", id, reasons[id])
		}
		for _, s := range x.Stations {
			if slices.ContainsFunc(s.Asks, func(a Ask) bool { return a.Label == id }) {
				t.Errorf("%s is asked", id)
			}
		}
	}
	// A label whose signature falls away after drafting keeps the exam from being released.
	asked := x.Stations[0].Asks[0].Label
	edit(l.plate.Labels.Judge(asked, stamp, annotate.Certain))
	if l.plate, err = l.Save(l.plate); err != nil {
		t.Fatal(err)
	}
	s, dir := render(t, b, x, Release{})
	if s.Allowed || !strings.Contains(s.Reason, "not signed by a second person") || exists(dir) {
		t.Errorf("%+v", s)
	}
}

// Row EX6: every kind of fault is found on a station made to have it, and on no other.
func TestEX6EveryFaultIsFound(t *testing.T) {
	l := signAll(t, newLab(t, straight(), photo.Scaled))
	b := l.board(t)
	base := draftExam(t, b, Plan{Seed: 1, Labels: one(l, "L06", "L07", "L10")}) // left kidney, right kidney, aorta
	if got := checkExam(t, b, base).faults(); len(got) > 0 {
		t.Fatalf("a sound exam: %v", got)
	}
	for name, c := range map[string]struct {
		change func(*Spotter)
		want   Fault
		at     int
		stops  bool
	}{
		"the question names the answer": {func(x *Spotter) { x.Stations[2].Asks[0].Questions[0].Text = "Name the abdominal aorta at A." }, Named, 3, true},
		"a synonym names it":            {func(x *Spotter) { x.Stations[2].Asks[0].Questions[0].Text = "Which part of the AORTA is at A?" }, Named, 3, true},
		"the title names it":            {func(x *Spotter) { x.Title = "Kidney and spleen" }, Named, 1, true},
		"another station names it": {func(x *Spotter) {
			x.Stations[0].Asks[0].Questions = append(x.Stations[0].Asks[0].Questions, Question{Order: 2, About: AboutOwn, Form: Typed, Text: "Which vessel from the aorta enters it?", Answer: "renal artery", Marks: 1})
		}, Shown, 3, false},
		"the same picture twice": {func(x *Spotter) {
			s := x.Stations[2]
			s.Asks = slices.Clone(s.Asks)
			x.Stations = append(x.Stations, s)
		}, Shown, 3, false},
		"no letters and nothing one-sided": {func(x *Spotter) {
			x.Stations[0].Picture.Bare = true
			x.Stations[0].Picture.Crop = cropAbout(l, "L06")
		}, NoSide, 1, true},
		"outside the part shown": {func(x *Spotter) { x.Stations[2].Picture.Crop = cropAbout(l, "L06") }, Outside, 3, true},
		"no such label":          {func(x *Spotter) { x.Stations[1].Asks[0].Label = "L99" }, Gone, 2, true},
		"no such face":           {func(x *Spotter) { x.Stations[1].Picture.Plate = "P0" }, Gone, 2, true},
	} {
		x := base
		x.Stations = nil
		for _, s := range base.Stations {
			s.Asks = slices.Clone(s.Asks)
			for i := range s.Asks {
				s.Asks[i].Questions = slices.Clone(s.Asks[i].Questions)
			}
			x.Stations = append(x.Stations, s)
		}
		c.change(&x)
		r := checkExam(t, b, x)
		if got := r.faults(); len(got) != 1 || got[0] != c.want {
			t.Errorf("%s: %v, want %s: %+v", name, got, c.want, r.Findings)
			continue
		}
		if i := slices.IndexFunc(r.Findings, func(f Finding) bool { return f.Fault == c.want }); r.Findings[i].Station != c.at || (len(r.Stops()) > 0) != c.stops {
			t.Errorf("%s: %+v, stops %v", name, r.Findings[i], r.Stops())
		}
	}
	// Without letters the liver, which lies on one side only, still tells the side.
	x := base
	x.Stations = slices.Clone(base.Stations)
	x.Stations[0].Picture.Bare = true
	if got := checkExam(t, b, x).faults(); len(got) > 0 {
		t.Errorf("the liver tells the side: %v", got)
	}
}

// cropAbout is a part of the picture round a label, with nothing else of note in it.
func cropAbout(l lab, id string) *Crop {
	x, _ := l.plate.Labels.Find(id)
	b := x.Bounds()
	return &Crop{Min: geom.Px{X: b.Min.X - 6, Y: b.Min.Y - 6}, Max: geom.Px{X: b.Max.X + 6, Y: b.Max.Y + 6}}
}

// Row EX6: the blueprint shows wanted and actual numbers and names the gaps. The painted body has, by hand, 7 abdominal
// organs among its 19 labels (liver, stomach, spleen, two kidneys, pancreas, colon), 2 abdominal vessels, 4 abdominal
// muscles and nothing of the head.
func TestEX6Blueprint(t *testing.T) {
	l := signAll(t, newLab(t, tilted(), photo.Rectified))
	b := l.board(t)
	want := []Want{
		{Region: "abdomen", System: Organs, Plane: section.Transverse, Picture: FacePicture, Count: 3},
		{Region: "abdomen", System: Vessels, Count: 4},
		{System: Muscles, Count: 2},
		{Region: "head", Count: 1},
		{Region: "abdomen", Picture: ScanPicture, Count: 1},
	}
	r := checkExam(t, b, draftExam(t, b, Plan{Seed: 4, Blueprint: want}))
	for i, w := range []struct{ have, can int }{{3, 7}, {2, 2}, {2, 6}, {0, 0}, {0, 0}} {
		if c := r.Blueprint[i]; c.Want != want[i] || c.Have != w.have || c.Can != w.can {
			t.Errorf("line %d: %+v, want %+v", i+1, c, w)
		}
	}
	if len(r.Gaps) != 3 || r.Gaps[0] != "Abdomen, vessels: 4 wanted, 2 in the exam, 2 labels to choose from." {
		t.Errorf("%q", r.Gaps)
	}
	sum := 0
	for _, c := range checkExam(t, b, draftExam(t, b, Plan{Seed: 4, Items: 8})).Blueprint {
		sum += c.Have
	}
	if sum != 8 {
		t.Errorf("an exam without a blueprint counts %d of 8 places", sum)
	}
}

// Row PS2: an exam of a donor whose agreement does not record exams is refused, whoever asks; the try is recorded with the
// reason, and the reason says who can change it. After the last day nothing leaves.
func TestPS2ExamsNeedTheAgreement(t *testing.T) {
	l := signAll(t, newLab(t, tilted(), photo.Rectified))
	b := l.board(t)
	x := draftExam(t, b, Plan{Seed: 1, Items: 2})
	for name, c := range map[string]struct {
		a    atlas.Agreement
		want string
	}{
		"not recorded":    {atlas.Agreement{Permitted: map[atlas.Purpose]bool{atlas.Teaching: true}}, "'in-house exam' is not in this donor's agreement. In-house teaching is. Only the donor office can change this."},
		"recorded as not": {atlas.Agreement{Permitted: map[atlas.Purpose]bool{atlas.Exam: false}}, "'in-house exam' is not in this donor's agreement."},
		"ended":           {atlas.Agreement{Ends: examDay.AddDate(0, 0, -1), Permitted: map[atlas.Purpose]bool{atlas.Exam: true}}, "ended on 24 November 2026"},
	} {
		c.a.Reference, c.a.ChangedBy = "B "+name, "the donor office"
		if err := l.Agree("", atlas.Donor{Code: donorCode, Agreement: c.a}); err != nil {
			t.Fatal(err)
		}
		s, dir := render(t, b, x, Release{})
		if s.Allowed || !strings.Contains(s.Reason, c.want) || exists(dir) {
			t.Errorf("%s: %+v", name, s)
		}
		if _, _, err := b.Draft(context.Background(), Plan{Seed: 1}); Sentence(err) == "" {
			t.Errorf("%s: a draft went through, %v", name, err)
		}
		if _, s, err := b.Project(context.Background(), x, Release{}); err != nil || s.Allowed {
			t.Errorf("%s: shown to a room, %v", name, err)
		}
		lines, err := l.HandOuts()
		if err != nil {
			t.Fatal(err)
		}
		for _, h := range lines[len(lines)-2:] {
			if h.Allowed || h.Donor != donorCode || h.Purpose != atlas.Exam || !strings.Contains(h.Reason, c.want) {
				t.Errorf("%s: the record says %+v", name, h)
			}
		}
	}
	if shown, err := l.Shown(); err != nil || len(shown) > 0 {
		t.Errorf("nothing left, but %v is on record, %v", shown, err)
	}
}
