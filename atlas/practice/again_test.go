package practice

import (
	"bytes"
	"context"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// reshoot photographs the same face with the camera turned by 12 degrees, moved, and tilted otherwise: the face lies as it did, so that where
// every outline truly lies on the second picture is known from the scene. Nothing of it comes from the fit that is tested.
func reshoot(s *shot) *shot {
	again := *s
	scene := *s.scene
	w, h := float64(scene.stand.w)/pxPerMM, float64(scene.stand.h)/pxPerMM
	scene.stand = newStand(w, h, geom.MM{X: 6, Y: 24}, s.scene.n+77)
	sin, cos := math.Sincos(12 * degree)
	cx, cy := float64(scene.stand.w-1)/2, float64(scene.stand.h-1)/2
	turn := geom.Homography{cos, -sin, cx - cos*cx + sin*cy, sin, cos, cy - sin*cx - cos*cy, 0, 0, 1}
	scene.stand.toPx = turn.Times(scene.stand.toPx)
	scene.stand.toMM = scene.stand.toPx.Inverse()
	again.scene = &scene
	return &again
}

func jpegOf(t *testing.T, s *shot, day int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := photo.EncodeJPEG(&b, s.scene.render(), 90); err != nil {
		t.Fatal(err)
	}
	return photo.WithEXIF(b.Bytes(), 1, time.Date(2026, 1, day, 9, 0, 0, 0, time.UTC))
}

// twice is a face of the practice body in a library, outlined and scaled, and a second picture of it in the tray.
type twice struct {
	lib       *atlas.Library
	old, next atlas.Plate
	truth     func(geom.Px) geom.Px // from the first picture to the second, by both cameras
	marks     []geom.Px             // places that a person can find, on the first picture
}

func photographedTwice(t *testing.T, run, slab int) (x twice) {
	t.Helper()
	ctx := context.Background()
	b := newBody()
	c := cutRuns(7)[run]
	c.run.Donor = Donor
	f := section.Face{Run: c.run.ID, Slab: slab, Facing: c.run.First}
	s := lay(b, b.pieces(), &c, f, Donor, 1, 7)
	again := reshoot(s)
	face, err := s.truth(termNames())
	if err != nil {
		t.Fatal(err)
	}
	x.truth = func(q geom.Px) geom.Px { return again.scene.stand.px(s.scene.stand.mm(q)) }
	if x.lib, err = atlas.Create(filepath.Join(t.TempDir(), "lab")); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { x.lib.Close() })
	if err = x.lib.AddDonor(atlas.Donor{Code: Donor, Synthetic: true}); err != nil {
		t.Fatal(err)
	}
	if _, err = x.lib.SaveRun(c.run); err != nil {
		t.Fatal(err)
	}
	if x.old, err = x.lib.AddPhoto(ctx, f, "", "a.jpg", bytes.NewReader(jpegOf(t, s, 12))); err != nil {
		t.Fatal(err)
	}
	if x.next, err = x.lib.AddPhoto(ctx, section.Face{}, Donor, "b.jpg", bytes.NewReader(jpegOf(t, again, 13))); err != nil {
		t.Fatal(err)
	}
	x.old.PhotoUp, x.old.Border = face.PhotoUp, face.border
	if x.old.Calibration, err = photo.Grid(cornerTies(face)); err != nil {
		t.Fatal(err)
	}
	if x.old.Labels, err = labelled(face.labels); err != nil {
		t.Fatal(err)
	}
	if x.old, err = x.lib.Save(x.old); err != nil {
		t.Fatal(err)
	}
	for _, tie := range face.Ties {
		x.marks = append(x.marks, tie.Px)
	}
	for l := range x.old.Labels.All() { // the middles of more structures, well apart from those
		p := l.Centroid()
		if !slices.ContainsFunc(x.marks, func(q geom.Px) bool { return q.Dist(p) < 25*pxPerMM }) && len(x.marks) < 14 {
			x.marks = append(x.marks, p)
		}
	}
	return x
}

// ties are the marks as a hand clicks them on both pictures.
func (x twice) ties(hand float64, seed uint64) (out []annotate.PictureTie) {
	r := rand.New(rand.NewPCG(seed, 1))
	slip := func(q geom.Px) geom.Px { return geom.Px{X: q.X + hand*r.NormFloat64(), Y: q.Y + hand*r.NormFloat64()} }
	for _, q := range x.marks {
		out = append(out, annotate.PictureTie{Old: slip(q), New: slip(x.truth(q))})
	}
	return out
}

// LB7, in the library and against the scene itself: faces of all three planes photographed twice by different cameras, with marks clicked by a hand
// that slips by 1.2 px (common practice, no source). Told: how far off every point of every outline truly lies. With one tie 8 mm off,
// exactly the outlines nearest to it are listed, and none that is not listed truly lies more than 2 mm off.
func TestLB7OutlinesAgainstTheScene(t *testing.T) {
	if testing.Short() {
		t.Skip("rendering six pictures takes a while")
	}
	by := annotate.Stamp{Author: "AB", At: time.Date(2026, 1, 14, 9, 0, 0, 0, time.UTC)}
	for _, c := range []struct{ run, slab int }{{0, 5}, {1, 2}, {2, 2}} {
		x := photographedTwice(t, c.run, c.slab)
		mm := func(q, was geom.Px) float64 { return q.Dist(x.truth(was)) / pxPerMM }
		off := func(s atlas.Succession) (mean, worst float64, of map[string]float64) {
			n := 0
			of = map[string]float64{}
			for l := range s.Old.Labels.All() {
				now, _ := s.New.Labels.Find(l.ID)
				for i, p := range l.Regions {
					for j, q := range p.Outer {
						d := mm(now.Regions[i].Outer[j], q)
						mean, worst, n, of[l.ID] = mean+d, math.Max(worst, d), n+1, math.Max(of[l.ID], d)
					}
				}
			}
			return mean / float64(n), worst, of
		}
		ties := x.ties(1.2, 3)
		s, err := x.old.Succeed(x.next, ties, by)
		if err != nil {
			t.Fatal(err)
		}
		mean, worst, _ := off(s)
		t.Logf("%s: %d ties, %d outlines: mean %.2f mm, worst %.2f mm; lengths by the carried scale ± %.1f %%", x.old.Face.Name(), len(ties), s.New.Labels.Len(), mean, worst, 100*s.New.Calibration.ScaleSpread(s.New.MiddlePx()))
		if mean > 0.6 || worst > 2 || len(s.Lost) > 0 || s.New.Doubtful(atlas.OnLabel) {
			t.Errorf("%s: mean %.2f mm, worst %.2f mm, lost %v, look again at %+v", x.old.Face.Name(), mean, worst, s.Lost, s.New.LookAgain())
		}
		// A length of the face is what the first picture says.
		a, z := x.marks[0], x.marks[1]
		want, _, _ := s.Old.Calibration.Length(a, z)
		got, sd, err := s.New.Calibration.Length(x.truth(a), x.truth(z))
		if err != nil || math.Abs(got-want) > 2*sd || math.Abs(got-want) > 1.5 {
			t.Errorf("%s: %.1f ± %.1f mm, was %.1f mm, %v", x.old.Face.Name(), got, sd, want, err)
		}

		const wrong = 3
		ties[wrong].New.X += 8 * pxPerMM
		if s, err = x.old.Succeed(x.next, ties, by); err != nil {
			t.Fatal(err)
		}
		kept, err := x.lib.Keep(s)
		if err != nil {
			t.Fatal(err)
		}
		_, _, of := off(kept)
		listed := map[string]bool{}
		for _, d := range kept.New.LookAgain() {
			if d.Part == atlas.OnLabel {
				listed[d.Label] = true
				if d.Off < 7 || d.Off > 9 {
					t.Errorf("%s: %.1f mm off, want 8", d.Label, d.Off)
				}
			}
		}
		near := 0
		for l := range kept.New.Labels.All() {
			best := 0
			for i, tie := range ties {
				if tie.New.Dist(l.Centroid()) < ties[best].New.Dist(l.Centroid()) {
					best = i
				}
			}
			near += map[bool]int{true: 1}[best == wrong]
			if listed[l.ID] != (best == wrong) {
				t.Errorf("%s: %s listed %v, nearest tie %d", x.old.Face.Name(), l.ID, listed[l.ID], best+1)
			}
			if !listed[l.ID] && of[l.ID] > annotate.LookAgainMM {
				t.Errorf("%s: %s lies %.1f mm off and is not listed", x.old.Face.Name(), l.ID, of[l.ID])
			}
		}
		t.Logf("tie %d set 8 mm off: found %.1f mm off, %d of %d outlines listed", wrong+1, s.Fit.Error[wrong], len(listed), kept.New.Labels.Len())
		if near == 0 || near == kept.New.Labels.Len() {
			t.Errorf("%d outlines near the wrong tie: the test proves little", near)
		}
		x.proposals(t)
	}
}

// proposals compares the pictures from a first guess as two ties give it: every place proposed is where the scene says.
func (x twice) proposals(t *testing.T) {
	t.Helper()
	a, err := x.lib.Photo(t.Context(), x.old.ID)
	if err != nil {
		t.Fatal(err)
	}
	b, err := x.lib.Photo(t.Context(), x.next.ID)
	if err != nil {
		t.Fatal(err)
	}
	p, q := x.marks[0], x.marks[1]
	u, v := x.truth(p), x.truth(q)
	dx, dy := q.X-p.X, q.Y-p.Y
	l := dx*dx + dy*dy
	c, s := ((v.X-u.X)*dx+(v.Y-u.Y)*dy)/l, ((v.Y-u.Y)*dx-(v.X-u.X)*dy)/l
	guess := [6]float64{c, -s, u.X - c*p.X + s*p.Y, s, c, u.Y - s*p.X - c*p.Y}
	inside := func(at geom.Px) bool {
		return slices.ContainsFunc(x.old.Border, func(b annotate.Polygon) bool { return b.Contains(at) })
	}
	found := photo.AlikePlaces(t.Context(), a, b, guess, 0.04, inside, 8)
	worst := 0.0
	for _, f := range found {
		worst = math.Max(worst, f.New.Dist(x.truth(f.Old))/pxPerMM)
	}
	t.Logf("%d places proposed, the worst %.2f mm off", len(found), worst)
	if len(found) < 5 || worst > 2 {
		t.Errorf("%s: %d places proposed, the worst %.2f mm off", x.old.Face.Name(), len(found), worst)
	}
}
