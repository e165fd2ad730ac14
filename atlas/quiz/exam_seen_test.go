package quiz

import (
	"bytes"
	"context"
	"io"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// greyOf is what the painted scan holds at a structure: its place in the list, times 10.
func greyOf(i int) int16 { return int16(10 * (i + 1)) }

// withScan adds a scan of the painted body, 4 mm voxels, every slice alike, and lays the face in it by five landmarks:
// the upper face at z = 0, front up, the donor's left at its picture's left as the bench shows it.
func withScan(t *testing.T, l lab, s scene) (lab, string) {
	t.Helper()
	const step, nx, ny, nz = 4.0, 96, 66, 40
	values := make([]int16, nx*ny*nz)
	for k := range nz {
		for j := range ny {
			for i := range nx {
				x, y := (float64(i)-nx/2)*step, (float64(j)-ny/2)*step // LPS: +x left, +y back
				for n, o := range body {
					dx, dy := (-x-o.x)/o.a, (y-o.y)/o.b // painted x runs to the donor's right
					if dx*dx+dy*dy <= 1 {
						values[(k*ny+j)*nx+i] = greyOf(n)
					}
				}
			}
		}
	}
	v, err := scan.NewVolume([3]int{nx, ny, nz}, geom.Affine{step, 0, 0, -nx / 2 * step, 0, step, 0, -ny / 2 * step, 0, 0, step, -nz / 2 * step}, values)
	if err != nil {
		t.Fatal(err)
	}
	var file bytes.Buffer
	if err := v.WriteNIfTI(&file); err != nil {
		t.Fatal(err)
	}
	added, err := l.AddSeries(context.Background(), donorCode, fstest.MapFS{"body.nii": {Data: file.Bytes()}}, func(path string, err error) { t.Fatal(path, err) }, nil)
	if err != nil || len(added) != 1 {
		t.Fatal(added, err)
	}
	var ties []register.Tie
	for _, m := range []geom.MM{{X: -100, Y: -60}, {X: 100, Y: -60}, {X: 100, Y: 60}, {X: -100, Y: 60}, {X: 0, Y: 0}} {
		ties = append(ties, register.Tie{Face: s.toPx(m), Scan: geom.LPS{X: -m.X, Y: m.Y, Z: 0}})
	}
	if l.plate, err = l.plate.Lay(added[0].UID, ties, false); err != nil {
		t.Fatal(err)
	}
	if l.plate, err = l.Save(l.plate); err != nil {
		t.Fatal(err)
	}
	return l, added[0].UID
}

// Row EX1: the same structure is asked on the scan at the face: the marker's tip lies, on the cut, on voxels of that very
// structure, and in the cuts across it too.
func TestEX1TheSameStructureOnTheScan(t *testing.T) {
	l, series := withScan(t, signAll(t, newLab(t, straight(), photo.Scaled)), straight())
	b := l.board(t)
	v, err := l.Volume(context.Background(), series)
	if err != nil {
		t.Fatal(err)
	}
	room := &darkroom{Board: b, noTags: true}
	tried := 0
	for n, o := range body {
		id := labelID(n)
		x, ok := l.plate.Labels.Find(id)
		if !ok || o.term == "T:12" || o.b < 6 { // a ring of fat, and strips thinner than two voxels
			continue
		}
		exam := draftExam(t, b, Plan{Seed: 1, Labels: one(l, id), Pictures: []PictureKind{ScanPicture}})
		alternatives, err := b.Alternatives(exam, 0, exam.Stations[0].Asks[0].Letter)
		if err != nil {
			t.Fatal(err)
		}
		pictures := []Picture{exam.Stations[0].Picture}
		for _, a := range alternatives {
			if a.Relation == AcrossScan {
				pictures = append(pictures, a.Picture)
			}
		}
		if len(pictures) != 3 || pictures[1].Facing.Plane() == pictures[2].Facing.Plane() {
			t.Fatalf("%s: %d cuts", id, len(pictures))
		}
		for _, p := range pictures {
			view, err := room.sight(context.Background(), p)
			if err != nil {
				t.Fatal(err)
			}
			carried, known := view.label(id)
			if !known {
				t.Fatalf("%s: the label is not on its cut", id)
			}
			tip, ok := view.tip(x, carried)
			at := view.pose.At(geom.MM{X: tip.X * view.step0, Y: tip.Y * view.step0})
			if got := v.Sample(at); !ok || got != float64(greyOf(n)) {
				t.Errorf("%s, %s cut: the tip lies on %g, not on %d", id, p.Facing.Plane(), got, greyOf(n))
			}
		}
		tried++
	}
	if tried < 12 {
		t.Errorf("only %d structures were tried", tried)
	}
}

func labelID(n int) string {
	for _, x := range labelsOf(straight()) {
		if strings.TrimPrefix(x.ID, "L") == twoDigits(n) {
			return x.ID
		}
	}
	return ""
}

func twoDigits(n int) string { return string(rune('0'+n/10)) + string(rune('0'+n%10)) }

// Row EX7: what was released is remembered picture by picture, marker by marker and part by part; the next exam takes unseen
// faces first; above 20 % of marks from seen pictures it warns; and the same structure can be asked elsewhere.
func TestEX7SeenBefore(t *testing.T) {
	l, _ := withScan(t, signAll(t, newLab(t, straight(), photo.Scaled)), straight())
	b := l.board(t)
	first := draftExam(t, b, Plan{Title: "First", Seed: 1, Labels: one(l, "L06", "L10"), Pictures: []PictureKind{FacePicture}})
	if s, _ := render(t, b, first, Release{NoCards: true, NoQTI: true}); !s.Allowed {
		t.Fatal(s.Reason)
	}
	pool, _, err := b.Pool("")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range pool {
		face := c.Picture.Kind == FacePicture
		marked := face && (c.Label == "L06" || c.Label == "L10")
		if c.Seen() != face || (c.Marked == 1) != marked {
			t.Errorf("%s on %s: seen %v, marked %d times", c.Label, c.Picture.Kind, c.Seen(), c.Marked)
		}
		if face && (len(c.Sights) != 1 || !c.Sights[0].Crop || !c.Sights[0].At.Equal(examDay)) {
			t.Errorf("%+v", c.Sights)
		}
	}
	// The same exam again is not warned of itself.
	if r := checkExam(t, b, first); r.SeenMarks != 0 || len(r.Warnings) > 0 {
		t.Errorf("%+v", r)
	}
	// A new one takes the scan, which nobody saw.
	next := draftExam(t, b, Plan{Seed: 2, Items: 5})
	for _, s := range next.Stations {
		if s.Picture.Kind != ScanPicture {
			t.Error("a seen face was taken although the scan is unseen")
		}
	}
	if r := checkExam(t, b, next); r.SeenMarks != 0 || len(r.Warnings) > 0 {
		t.Errorf("%v of %v marks seen, %v", r.SeenMarks, r.Marks, r.Warnings)
	}
	// 1 of 5 stations from the seen face is 20 %, no more; 2 of 5 are warned of. Half-marks: all ask a typed name, 2 marks.
	for seen, warned := range []bool{false, false, true} {
		x := next
		x.Stations = slices.Clone(next.Stations)
		for i := range seen {
			x.Stations[i].Picture = Picture{Kind: FacePicture, Plate: l.plate.ID}
		}
		r := checkExam(t, b, x)
		if r.Marks != 10 || r.SeenMarks != float64(2*seen) || (len(r.Warnings) == 1) != warned {
			t.Errorf("%d stations: %v of %v marks, %v", seen, r.SeenMarks, r.Marks, r.Warnings)
		}
	}
	// A part of the face that was not shown is another picture; one that overlaps is not.
	part := Picture{Kind: FacePicture, Plate: l.plate.ID, Crop: cropAbout(l, "L06")}
	if err := l.AddShown(atlas.Shown{Out: "X", Kind: "face", Plate: "elsewhere", Doc: []byte(`{"crop":{"Min":{"X":0,"Y":0},"Max":{"X":9,"Y":9}}}`)}); err != nil {
		t.Fatal(err)
	}
	rec, err := b.released("")
	if err != nil || len(rec.of(part, "L06")) != 1 || rec.of(part, "L06")[0].Crop {
		t.Errorf("%v, %v", rec.of(part, "L06"), err)
	}
	far := Picture{Kind: FacePicture, Plate: "elsewhere", Crop: &Crop{Min: geom.Px{X: 50, Y: 50}, Max: geom.Px{X: 90, Y: 90}}}
	if got := rec.of(far, ""); len(got) != 0 {
		t.Errorf("a part that was never shown: %v", got)
	}
}

// Row EX7: a study picture that was handed out counts as seen, with the structures it named.
func TestEX7StudyPicturesCount(t *testing.T) {
	l := signAll(t, newLab(t, straight(), photo.Scaled))
	r := l.request(Study)
	r.Labels = map[string][]string{l.plate.ID: {"L10"}}
	if s, _ := handOut(t, l, r); !s.Allowed {
		t.Fatal(s.Reason)
	}
	pool, _, err := l.board(t).Pool("")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range pool {
		if want := map[bool]int{true: 1}[c.Label == "L10"]; !c.Seen() || len(c.Sights) != 1 || c.Marked != want {
			t.Errorf("%s: %+v, marked %d times", c.Label, c.Sights, c.Marked)
		}
	}
}

// Row EX7: the same structure on the partner face, on another slab, and on the scan, unseen before seen.
func TestEX7TheSameStructureElsewhere(t *testing.T) {
	l, _ := withScan(t, signAll(t, newLab(t, straight(), photo.Scaled)), straight())
	partner := lab{l.Library, l.run, addFaceAt(t, l, section.Face{Run: l.run.ID, Slab: 4, Facing: section.Inferior})}
	other := lab{l.Library, l.run, addFaceAt(t, l, section.Face{Run: l.run.ID, Slab: 9, Facing: section.Superior})}
	signAll(t, partner)
	signAll(t, other)
	b := l.board(t)
	x := draftExam(t, b, Plan{Seed: 1, Labels: one(l, "L10"), Plates: []string{l.plate.ID}, Pictures: []PictureKind{FacePicture}})
	all, err := b.Alternatives(x, 0, x.Stations[0].Asks[0].Letter)
	if err != nil {
		t.Fatal(err)
	}
	var got []Relation
	for _, a := range all {
		got = append(got, a.Relation)
		next, err := b.Swap(context.Background(), x, 0, x.Stations[0].Asks[0].Letter, a.Candidate)
		if err != nil {
			t.Fatal(err)
		}
		if len(next.Stations) != 1 || next.Stations[0].Asks[0].Questions[0].Answer != "abdominal aorta" || next.Stations[0].Code == x.Stations[0].Code {
			t.Errorf("%s: %+v", a.Relation, next.Stations)
		}
		if stops := checkExam(t, b, next).Stops(); len(stops) > 0 {
			t.Errorf("%s: %+v", a.Relation, stops)
		}
		if _, err := b.Proof(context.Background(), next, 0); err != nil {
			t.Errorf("%s: %v", a.Relation, err)
		}
	}
	if want := []Relation{SamePlaceScan, OnPartner, OtherSlab, AcrossScan, AcrossScan}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	if s, err := b.Lib.Shown(); err != nil || len(s) > 0 {
		t.Error("looking for alternatives is no release")
	}
}

// addFaceAt adds the painted photograph as another face.
func addFaceAt(t *testing.T, l lab, f section.Face) atlas.Plate {
	t.Helper()
	s := straight()
	picture := photo.WithEXIF(s.paint(), 1, examDay.AddDate(0, 0, f.Slab))
	p, err := l.AddPhoto(context.Background(), f, "", "x.jpg", io.Reader(bytes.NewReader(picture)))
	if err != nil {
		t.Fatal(err)
	}
	p.PhotoUp, p.Calibration = s.up, calibrate(t, s, photo.Scaled)
	p.Border = []annotate.Polygon{{Outer: s.ellipse(0, 0, 173, 117)}}
	for _, x := range labelsOf(s) {
		if p.Labels, err = p.Labels.Add(x); err != nil {
			t.Fatal(err)
		}
	}
	if p, err = l.Save(p); err != nil {
		t.Fatal(err)
	}
	return p
}
