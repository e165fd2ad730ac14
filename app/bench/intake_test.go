package bench

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"
	"time"

	"sectionary/annotate"
	"sectionary/assets"
	"sectionary/atlas"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// newLab begins a transverse run of three slabs in a new lab on disk.
func newLab(t testing.TB) (*Bench, *queue) {
	t.Helper()
	q := &queue{now: time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)}
	terms, err := annotate.LoadTerms(assets.Terms())
	if err != nil {
		t.Fatal(err)
	}
	b := New(q, terms, Options{Author: "AB", DataDir: t.TempDir(), Now: func() time.Time { return q.now }})
	err = b.BeginRun(NewRun{Dir: filepath.Join(t.TempDir(), "lab"), Donor: "LB-1", Part: "thorax", Plane: section.Transverse,
		First: section.Superior, Thickness: 20, Kerf: 1, Slabs: 3})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = b.Quit() })
	return b, q
}

func write(t testing.TB, path string, data []byte) string {
	t.Helper()
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func jpegOf(t testing.TB, shade uint8, orientation int, taken time.Time) []byte {
	t.Helper()
	m := drawnFace(160, 120)
	for i := range m.Pix[:4000] {
		m.Pix[i] = shade
	}
	var b bytes.Buffer
	if err := photo.EncodeJPEG(&b, m, 90); err != nil {
		t.Fatal(err)
	}
	return photo.WithEXIF(b.Bytes(), orientation, taken)
}

func TestBeginRunAsks(t *testing.T) {
	b := New(&queue{}, nil, Options{})
	good := NewRun{Dir: filepath.Join(t.TempDir(), "x"), Donor: "AB-12", Part: "head", Plane: section.Frontal, First: section.Anterior, Thickness: 15, Kerf: 1, Slabs: 2}
	for name, change := range map[string]func(*NewRun){
		"no code": func(n *NewRun) { n.Donor = " " }, "no part": func(n *NewRun) { n.Part = "" }, "no plane": func(n *NewRun) { n.Plane = 0 },
		"end of another plane": func(n *NewRun) { n.First = section.Superior }, "no thickness": func(n *NewRun) { n.Thickness = 0 },
		"kerf below nothing": func(n *NewRun) { n.Kerf = -1 }, "too many": func(n *NewRun) { n.Slabs = 5000 }, "no folder": func(n *NewRun) { n.Dir = "" },
	} {
		n := good
		change(&n)
		if err := b.BeginRun(n); err == nil || b.Lab().Open {
			t.Errorf("%s was taken", name)
		}
	}
	if err := b.BeginRun(good); err != nil || len(b.Run().Slabs) != 2 || b.Screen() != RunScreen {
		t.Fatal(err)
	}
	if err := b.Quit(); err != nil {
		t.Fatal(err)
	}
}

// Several photographs go into the tray by the time they were taken, not by name; a known one and one that is no picture
// are named and do not stop the others; a single one goes onto the chosen face.
func TestPhotographsComeIn(t *testing.T) {
	b, q := newLab(t)
	dir := t.TempDir()
	at := time.Date(2026, 2, 3, 10, 0, 0, 0, time.UTC)
	paths := []string{
		write(t, filepath.Join(dir, "1.jpg"), jpegOf(t, 10, 1, at.Add(time.Hour))),
		write(t, filepath.Join(dir, "2.jpg"), jpegOf(t, 20, 1, at)),
		write(t, filepath.Join(dir, "3.jpg"), []byte("no picture")),
		write(t, filepath.Join(dir, "4.jpg"), jpegOf(t, 10, 1, at.Add(time.Hour))), // the same as the first
	}
	b.DropPaths(paths)
	q.run()
	tray := b.Tray()
	if len(tray) != 2 || !tray[0].Taken.Equal(at) || tray[0].Preview == nil {
		t.Fatalf("tray %+v", tray)
	}
	if i := b.Intake(); len(i.Faults) != 1 || i.Faults[0].Name != "3.jpg" || len(i.Twins) != 1 || !has(i.Twins[0], "4.jpg", "print 2 on the table") {
		t.Errorf("%+v", i)
	}
	if b.Screen() != ReceivingScreen || b.Message() != nil {
		t.Errorf("on screen %d, message %+v", b.Screen(), b.Message())
	}
	b.Show(RunScreen)
	layAll(t, b)
	b.Dismiss()
	r := b.Run()
	if b.Info(section.Face{Run: r.ID, Slab: 1, Facing: section.Superior}).PlateID != tray[0].ID || len(b.Tray()) != 0 {
		t.Fatal("not laid in the order taken")
	}
	f := section.Face{Run: r.ID, Slab: 3, Facing: section.Inferior}
	b.ChooseFace(f)
	b.AddPhotos([]string{write(t, filepath.Join(dir, "5.jpg"), jpegOf(t, 50, 2, at))})
	q.run()
	if p, ok := b.Plate(); !ok || p.Face != f || !b.AsksMirrored() {
		t.Fatalf("a single photograph: %+v", p.Face)
	}
	if m := b.Message(); m == nil || len(m.Choices) != 3 || !has(m.Title, "mirrored") {
		t.Fatalf("a mirror in the tag was not asked about: %+v", m)
	}
	b.Choose(1)
	if p, _ := b.Plate(); p.Mirrored != atlas.Yes {
		t.Fatal("the answer was not kept")
	}
}

// Of equal photographs the first in the order proposed is kept, however long it takes: here it begins only when one after
// its twin does.
func TestTheFirstOfEqualPhotographsIsKept(t *testing.T) {
	b, q := newLab(t)
	dir := t.TempDir()
	later := make(chan struct{})
	b.lab.lib = &watched{b.lab.lib, func(name string) {
		switch name {
		case "1.jpg":
			<-later
		case "3.jpg":
			close(later)
		}
	}}
	b.AddPhotos([]string{
		write(t, filepath.Join(dir, "2.jpg"), jpegOf(t, 10, 1, time.Time{})),
		write(t, filepath.Join(dir, "3.jpg"), jpegOf(t, 20, 1, time.Time{})),
		write(t, filepath.Join(dir, "1.jpg"), jpegOf(t, 10, 1, time.Time{})),
	})
	q.run()
	if i := b.Intake(); len(b.Tray()) != 2 || len(i.Twins) != 1 || !has(i.Twins[0], "2.jpg", "print 1 on the table") {
		t.Errorf("%d prints, twins %q", len(b.Tray()), i.Twins)
	}
}

// A second program that has the lab open leaves reading only, with a choice.
func TestLockedLab(t *testing.T) {
	b, q := newLab(t)
	dir := b.Lab().Dir
	other := New(q, nil, Options{})
	if err := other.OpenLab(dir); err != nil {
		t.Fatal(err)
	}
	m := other.Message()
	if other.Lab().Open || m == nil || len(m.Choices) != 2 {
		t.Fatalf("%+v", m)
	}
	other.Choose(0)
	if !other.Lab().Open || !other.Lab().ReadOnly {
		t.Fatal("not opened for reading")
	}
	if err := other.Quit(); err != nil {
		t.Fatal(err)
	}
	if err := b.Quit(); err != nil {
		t.Fatal(err)
	}
	if err := other.OpenLab(t.TempDir()); !errors.Is(err, atlas.ErrNotFound) {
		t.Fatal(err)
	}
}

// A lab's own structures are kept with it and are there again when it is opened.
func TestOwnTerms(t *testing.T) {
	b, _ := newLab(t)
	id, err := b.KeepLocalTerm("  practice   peg ", annotate.Bone, false)
	if err != nil {
		t.Fatal(err)
	}
	dir := b.Lab().Dir
	if err := b.CloseLab(); err != nil {
		t.Fatal(err)
	}
	if err := b.OpenLab(dir); err != nil {
		t.Fatal(err)
	}
	if x, ok := b.term(id); !ok || x.Name != "practice peg" || x.Kind != annotate.Bone {
		t.Fatalf("%+v", x)
	}
	if _, err := b.KeepLocalTerm(" ", annotate.Bone, false); !errors.Is(err, ErrForm) {
		t.Fatal(err)
	}
	other, _ := newLab(t)
	if _, ok := other.term(id); ok {
		t.Fatal("another lab knows it too")
	}
}

func FuzzOwnTerms(f *testing.F) {
	good, _ := json.Marshal([]annotate.Term{{ID: "LOCAL:1", Name: "peg", Local: true}})
	f.Add(good)
	f.Add([]byte(`[{"ID":"UBERON:1"}]`))
	f.Add([]byte("{"))
	f.Fuzz(func(t *testing.T, text []byte) {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, ownTermsName), text, 0o644); err != nil {
			t.Skip()
		}
		base, err := annotate.LoadTerms(bytes.NewReader([]byte("id\tenglish\n")))
		if err != nil {
			t.Skip("no empty list")
		}
		if got, _ := readOwnTerms(dir, base); got == nil {
			t.Fatal("the shipped list is gone")
		}
	})
}

func TestOnlyShowsTheChosenFiles(t *testing.T) {
	files := only(fstest.MapFS{"a/1.dcm": {}, "a/2.dcm": {}, "b/3.dcm": {}}, []string{"a/2.dcm"})
	var seen []string
	err := fs.WalkDir(files, ".", func(p string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			seen = append(seen, p)
		}
		return err
	})
	if err != nil || len(seen) != 1 || seen[0] != "a/2.dcm" {
		t.Fatalf("%v %v", seen, err)
	}
	if _, err := files.Open("b/3.dcm"); !errors.Is(err, fs.ErrNotExist) {
		t.Fatal(err)
	}
}

// A folder with two series asks which; the one taken is the only one that comes in. The two are volumes of our own,
// written as NIfTI in an archive.
func TestSurveyAsksWhichSeries(t *testing.T) {
	b, q := newLab(t)
	v := bodyVolume(t)
	var nii bytes.Buffer
	if err := v.WriteNIfTI(&nii); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "scans.zip")
	var archive bytes.Buffer
	z := zip.NewWriter(&archive)
	for i, name := range []string{"one.nii", "two.nii"} {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		data := bytes.Clone(nii.Bytes())
		data[len(data)-2*i-1] ^= byte(i) // not the very same
		if _, err := w.Write(data); err != nil {
			t.Fatal(err)
		}
	}
	for name, data := range map[string][]byte{"cut.nii": nii.Bytes()[:nii.Len()/2], "readme.txt": []byte("not a scan")} {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write(data); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	b.AddScan(write(t, path, archive.Bytes()))
	q.run()
	rows := b.Survey()
	if left, foreign := b.SurveyLeft(); len(left) != 1 || !has(left[0], "cut.nii") || foreign != 1 {
		t.Errorf("left out %q, %d files are no scans", left, foreign)
	}
	if len(rows) != 2 || len(b.Series()) != 0 {
		t.Fatalf("survey %+v, message %+v", rows, b.Message())
	}
	b.TakeSeries(rows[1].UID)
	q.run()
	if got := b.Series(); len(got) != 1 || !got[0].Chosen || len(b.Survey()) != 0 {
		t.Fatalf("series %+v, message %+v", got, b.Message())
	}
	for b.Message() != nil && len(b.Message().Choices) == 0 {
		b.Dismiss()
	}
	if m := b.Message(); m == nil || !has(m.Title, "same body") {
		t.Fatalf("%+v", m)
	}
	b.Choose(0)
	if !b.SameBody() {
		t.Fatal("the answer was not kept")
	}
	b.AddScan(write(t, filepath.Join(t.TempDir(), "x.txt"), []byte("nothing")))
	q.run()
	if m := b.Message(); m == nil || m.Title != Word("err.notscan") {
		t.Fatalf("%+v", m)
	}
}

func TestAgreementDecides(t *testing.T) {
	b, q, _ := sample(t)
	b.ChooseFace(face(2, section.Inferior))
	b.Show(FaceScreen)
	q.run()
	withSquare(t, b, 200, 300, 50)
	b.Show(HandOutScreen)
	d := b.HandOut()
	if len(d.Faces) != 1 || b.Refusal() != "" {
		t.Fatalf("teaching is permitted: %q", b.Refusal())
	}
	for p, want := range map[atlas.Purpose]string{atlas.PublicWeb: "public web", atlas.Exam: "exam"} {
		d.Purpose = p
		b.SetHandOut(d)
		if !has(b.Refusal(), "May not leave", want) {
			t.Errorf("%s: %q", p, b.Refusal())
		}
	}
	d.Purpose, d.Kind = atlas.Teaching, Exam // an exam is an exam under any name
	b.SetHandOut(d)
	if !has(b.Refusal(), "May not leave") {
		t.Errorf("%q", b.Refusal())
	}
	a := b.Agreement()
	a.Permitted = map[atlas.Purpose]bool{atlas.Exam: true, atlas.Teaching: true}
	if err := b.SetAgreement(a); err != nil || b.Refusal() != "" {
		t.Fatalf("%v %q", err, b.Refusal())
	}
	a.Ends = q.now.AddDate(0, 0, -2)
	if err := b.SetAgreement(a); err != nil || !has(b.Refusal(), "May not leave") {
		t.Fatalf("an agreement that has ended: %v %q", err, b.Refusal())
	}
	a.Ends = time.Time{}
	_ = b.SetAgreement(a)
	d.Faces = append(d.Faces, face(3, section.Superior), face(2, section.Inferior))
	b.SetHandOut(d)
	if got := b.HandOut().Faces; len(got) != 2 || got[0] != face(2, section.Inferior) || !has(b.Refusal(), "Slab 3, upper face has no photograph") {
		t.Fatalf("%v %q", got, b.Refusal())
	}
}
