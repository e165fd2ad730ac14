package exchange

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/assets"
	"sectionary/atlas"
	"sectionary/atlas/practice"
	"sectionary/atlas/quiz"
	"sectionary/slices/photo"
)

var ready = flag.String("lab", "", "a practice lab made before, to save the minute of making one; it is copied")

func terms(t testing.TB) *annotate.Terms {
	t.Helper()
	x, err := annotate.LoadTerms(assets.Terms())
	if err != nil {
		t.Fatal(err)
	}
	return x
}

var built = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "practice-")
	if err != nil {
		return "", err
	}
	lab := filepath.Join(dir, "lab")
	if *ready != "" {
		return lab, os.CopyFS(lab, os.DirFS(*ready))
	}
	return lab, practice.Build(context.Background(), lab, 7, nil)
})

func TestMain(m *testing.M) {
	flag.Parse()
	code := m.Run()
	if !testing.Short() {
		if lab, err := built(); err == nil {
			os.RemoveAll(filepath.Dir(lab))
		}
	}
	os.Exit(code)
}

// practiceLab opens a copy of the practice lab whose agreement permits what the tests ask for.
func practiceLab(t *testing.T) *atlas.Library {
	t.Helper()
	if testing.Short() {
		t.Skip("making the practice lab takes a minute")
	}
	from, err := built()
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "lab")
	if err := os.CopyFS(dir, os.DirFS(from)); err != nil {
		t.Fatal(err)
	}
	l, err := atlas.Open(dir, atlas.ReadWrite)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	d, err := l.Donor(practice.Donor)
	if err != nil {
		t.Fatal(err)
	}
	d.Agreement.Permitted[atlas.OtherInstitution] = true
	d.Agreement.Reference += " for this test"
	d.Agreement.Ends = time.Now().AddDate(1, 0, 0)
	if err := l.SaveDonor(d); err != nil {
		t.Fatal(err)
	}
	return l
}

func runOf(t *testing.T, l *atlas.Library) string {
	t.Helper()
	runs, err := l.Runs()
	if err != nil || len(runs) == 0 {
		t.Fatal(runs, err)
	}
	return runs[0].ID
}

func send(t *testing.T, l *atlas.Library, r Request) (quiz.Slip, string) {
	t.Helper()
	out := filepath.Join(t.TempDir(), "out")
	s, err := Export(context.Background(), l, terms(t), r, out, nil)
	if err != nil {
		t.Fatal(err)
	}
	if s.Allowed && r.Zip {
		out = filepath.Join(out, "run.zip")
	}
	return s, out
}

// plates are all faces of a run by slab and facing, with what belongs to one lab alone taken out.
func plates(t *testing.T, l *atlas.Library, run string) map[string]string {
	t.Helper()
	out := map[string]string{}
	for e, err := range l.Find(atlas.Query{Run: run}) {
		if err != nil {
			t.Fatal(err)
		}
		p, err := l.Plate(e.Plate)
		if err != nil {
			t.Fatal(err)
		}
		size := p.Photo.Size
		p.ID, p.Donor, p.Photo, p.History, p.Rev, p.Saved = "", "", photo.Info{Size: size}, nil, 0, time.Time{}
		b, err := json.Marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		out[p.Face.Name()] = string(b)
	}
	return out
}

// XP2: a run handed to another lab and taken in there is the same run, field by field; as folder and as zip.
func TestXP2RoundTrip(t *testing.T) {
	l := practiceLab(t)
	run := runOf(t, l)
	for e, err := range l.Find(atlas.Query{Run: run}) { // one picture was made of two of a third lab
		p, err2 := l.Plate(e.Plate)
		if err := errors.Join(err, err2); err != nil {
			t.Fatal(err)
		}
		p.Composed = &atlas.Composed{Of: []photo.Hash{{1}, {2}}, Why: atlas.Unshone, Share: 0.02, At: time.Date(2026, 5, 4, 0, 0, 0, 0, time.UTC), Elsewhere: true}
		if _, err := l.Save(p); err != nil {
			t.Fatal(err)
		}
		break
	}
	for _, packed := range []bool{true, false} {
		s, path := send(t, l, Request{Run: run, Purpose: atlas.OtherInstitution, Zip: packed, Scans: true})
		if !s.Allowed || !s.LeakScan.Clean() {
			t.Fatalf("%+v", s)
		}
		p, err := Open(path)
		if err != nil {
			t.Fatal(err)
		}
		lab := filepath.Join(t.TempDir(), "theirs")
		got, err := TakeIn(context.Background(), p, lab, practice.Donor, terms(t), nil)
		p.Close()
		if err != nil {
			t.Fatal(err)
		}
		theirs, err := atlas.Open(lab, atlas.ReadOnly)
		if err != nil {
			t.Fatal(err)
		}
		compare(t, l, theirs, run)
		if len(got.Notes)+len(got.Unknown) > 0 {
			t.Errorf("not kept: %v %v", got.Notes, got.Unknown)
		}
		if err := theirs.Verify(context.Background(), func(err error) { t.Error(err) }); err != nil {
			t.Error(err)
		}
		theirs.Close()
		if !packed {
			look(t, path, s)
		}
	}
}

func compare(t *testing.T, a, b *atlas.Library, run string) {
	t.Helper()
	same := func(what string, x, y any) {
		t.Helper()
		p, _ := json.Marshal(x)
		q, _ := json.Marshal(y)
		if string(p) != string(q) {
			t.Errorf("%s differs:\n%.2000s\n%.2000s", what, p, q)
		}
	}
	ra, err1 := a.Run(run)
	rb, err2 := b.Run(run)
	if err := errors.Join(err1, err2); err != nil {
		t.Fatal(err)
	}
	same("the run", ra, rb)
	pa, pb := plates(t, a, run), plates(t, b, run)
	if len(pa) == 0 || len(pa) != len(pb) {
		t.Errorf("%d faces, %d came", len(pa), len(pb))
	}
	labels := 0
	for name, p := range pa {
		labels += strings.Count(p, `"term"`)
		if p != pb[name] {
			t.Errorf("%s differs:\n%.3000s\n%.3000s", name, p, pb[name])
		}
	}
	sa, _ := a.SeriesList(practice.Donor)
	for _, s := range sa {
		ta, errA := a.LevelTies(run, s.UID)
		tb, errB := b.LevelTies(run, s.UID)
		if errors.Is(errA, atlas.ErrNotFound) {
			continue
		}
		same("the tie levels", ta, tb)
		va, err1 := a.Volume(context.Background(), s.UID)
		vb, err2 := b.Volume(context.Background(), s.UID)
		if err := errors.Join(errA, errB, err1, err2); err != nil {
			t.Fatal(err)
		}
		same("the scan", va.Series(), vb.Series())
		var na, nb bytes.Buffer
		if err := errors.Join(va.WriteNIfTI(&na), vb.WriteNIfTI(&nb)); err != nil || !bytes.Equal(na.Bytes(), nb.Bytes()) {
			t.Error("the voxels differ", err)
		}
	}
	db, err := b.Donor(practice.Donor)
	if err != nil || len(db.Agreement.Permitted) != 0 || db.Agreement.Ends.IsZero() {
		t.Errorf("the new lab's agreement: %+v %v", db.Agreement, err)
	}
	t.Logf("%d faces, %d labels, %d slabs equal", len(pa), labels, len(ra.Slabs))
}

// look checks an open folder with tools that are not ours where they are there: sha256sum and pdfinfo.
func look(t *testing.T, dir string, s quiz.Slip) {
	t.Helper()
	var names []string
	fs.WalkDir(os.DirFS(dir), ".", func(p string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			names = append(names, p)
		}
		return err
	})
	if len(names) != len(s.Files) {
		t.Errorf("%d files, %d on the slip", len(names), len(s.Files))
	}
	for _, need := range []string{"README.txt", "manifest.json", "SHA256SUMS", "tables/slabs.csv", "handout.pdf"} {
		if !slices.Contains(names, need) {
			t.Errorf("no %s", need)
		}
	}
	for _, name := range names {
		b, _ := os.ReadFile(filepath.Join(dir, name))
		if strings.HasSuffix(name, ".nii") { // not text
			continue
		}
		for _, word := range []string{practice.Donor, "PL07"} {
			if bytes.Contains(bytes.ToUpper(b), []byte(word)) && !strings.HasSuffix(name, ".jpg") && !strings.HasSuffix(name, ".pdf") {
				t.Errorf("%s holds %s", name, word)
			}
		}
	}
	if tool, err := exec.LookPath("sha256sum"); err == nil {
		c := exec.Command(tool, "--check", "--strict", "--quiet", "SHA256SUMS")
		c.Dir = dir
		if out, err := c.CombinedOutput(); err != nil {
			t.Errorf("%v: %s", err, out)
		}
	}
	if tool, err := exec.LookPath("pdfinfo"); err == nil {
		if out, err := exec.Command(tool, filepath.Join(dir, "handout.pdf")).CombinedOutput(); err != nil || !bytes.Contains(out, []byte("Pages:")) {
			t.Errorf("%v: %s", err, out)
		}
	}
}

// XP2: any damaged or missing file is named and no lab is left behind; what the agreement does not permit does not leave.
func TestXP2DamagedAndRefused(t *testing.T) {
	l := practiceLab(t)
	run := runOf(t, l)
	s, dir := send(t, l, Request{Run: run, Purpose: atlas.OtherInstitution})
	if !s.Allowed {
		t.Fatalf("%+v", s)
	}
	where := t.TempDir()
	for _, name := range []string{"tables/slabs.csv", "handout.pdf", "README.txt", s.Files[0].Name} {
		path := filepath.Join(dir, filepath.FromSlash(name))
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		b[len(b)/2] ^= 1
		for _, gone := range []bool{false, true} {
			os.WriteFile(path, b, 0o644)
			if gone {
				os.Remove(path)
			}
			p, err := Open(dir)
			if err != nil {
				t.Fatal(err)
			}
			_, err = TakeIn(context.Background(), p, filepath.Join(where, "lab"), "", nil, nil)
			p.Close()
			if !errors.Is(err, ErrDamaged) || !strings.Contains(err.Error(), name) {
				t.Errorf("%s: %v", name, err)
			}
			if left, _ := os.ReadDir(where); len(left) > 0 {
				t.Errorf("%s: left behind: %v", name, left)
			}
		}
		b[len(b)/2] ^= 1
		os.WriteFile(path, b, 0o644)
	}
	p, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	p.Manifest.Plates[1].Registration.Pose.Scale = 1
	p.Manifest.Plates[1].Face.Slab = 9999 // a manifest that lies: found while filling
	if _, err := TakeIn(context.Background(), p, filepath.Join(where, "lab"), "", nil, nil); err == nil {
		t.Error("a face of no slab was taken in")
	}
	if left, _ := os.ReadDir(where); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}

	for _, r := range []Request{
		{Run: run, Purpose: atlas.Commercial},
		{Run: run, Purpose: atlas.OtherInstitution, WholePictures: true}, // research is not permitted
	} {
		s, dir := send(t, l, r)
		if s.Allowed || s.Reason == "" {
			t.Errorf("%+v: %+v", r, s)
		}
		if left, _ := os.ReadDir(dir); len(left) > 0 {
			t.Errorf("left: %v", left)
		}
	}
	outs, err := l.HandOuts()
	if err != nil || len(outs) < 3 || outs[len(outs)-1].Allowed || outs[len(outs)-2].Allowed || !outs[len(outs)-3].Allowed {
		t.Errorf("%+v %v", outs, err)
	}
}

// tiny is a zip with one manifest.
func tiny(t testing.TB, manifest string, more ...string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	all := append([]string{manifestName, manifest}, more...)
	for i := 0; i < len(all); i += 2 {
		w, err := z.Create(all[i])
		if err != nil {
			t.Fatal(err)
		}
		io.WriteString(w, all[i+1])
	}
	z.Close()
	return b.Bytes()
}

const sound = `{"format":"sectionary run","version":1,"run":{"id":"R1","donor":"X-101","part":"trunk","plane":"transverse","first":"superior","slabs":[{"number":1,"thickness":[20,0,0],"kerf":1}],"length":0}}`

// XP2: what is no run of ours, newer, or full of tricks is refused with a clear sentence.
func TestXP2Tricks(t *testing.T) {
	for _, x := range []struct {
		name string
		b    []byte
		want error
	}{
		{"not a zip", []byte("hello"), ErrNotOurs},
		{"another format", tiny(t, `{"format":"x"}`), ErrNotOurs},
		{"newer", tiny(t, `{"format":"sectionary run","version":2}`), ErrNewer},
		{"no JSON", tiny(t, `{`), ErrDamaged},
		{"a path that climbs", tiny(t, sound, "../../evil", "x"), ErrNotOurs},
		{"a file twice", tiny(t, sound, "README.txt", "x", "README.txt", "y"), ErrNotOurs},
		{"a listed path that climbs", tiny(t, strings.Replace(sound, `"version":1`, `"version":1,"files":{"../../etc":{"bytes":1}}`, 1)), ErrDamaged},
		{"a huge claim", tiny(t, strings.Replace(sound, `"version":1`, `"version":1,"files":{"a.jpg":{"bytes":99999999999999}}`, 1)), ErrDamaged},
		{"sound", tiny(t, sound), nil},
	} {
		_, err := ReadZip(bytes.NewReader(x.b), int64(len(x.b)))
		if !errors.Is(err, x.want) {
			t.Errorf("%s: %v", x.name, err)
		}
	}
}

func FuzzReadZip(f *testing.F) {
	f.Add(tiny(f, sound, "README.txt", "x"))
	f.Add(tiny(f, `{"format":"sectionary run","version":1,"plates":[{"labels":[]}]}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		p, err := ReadZip(bytes.NewReader(b), int64(len(b)))
		if err == nil {
			_ = p.Verify(context.Background(), nil)
		}
	})
}

// FuzzManifest fuzzes the part of a parcel that is trusted least.
func FuzzManifest(f *testing.F) {
	f.Add([]byte(sound))
	f.Fuzz(func(t *testing.T, b []byte) {
		var m Manifest
		if json.Unmarshal(b, &m) == nil {
			_ = m.Check()
		}
	})
}

// XP2: exams go along as QTI packages, only where exams are permitted; labels lie on the scan's grid as NIfTI-1.
func TestXP2ExamsAndLabelVolume(t *testing.T) {
	l := practiceLab(t)
	run := runOf(t, l)
	board := quiz.Board{Lib: l, Terms: terms(t)}
	x, _, err := board.Draft(context.Background(), quiz.Plan{Title: "Spotter", Items: 4, Seed: 3, Pictures: []quiz.PictureKind{quiz.FacePicture}})
	if err != nil {
		t.Fatal(err)
	}
	if x, err = board.Save(x); err != nil {
		t.Fatal(err)
	}
	s, dir := send(t, l, Request{Run: run, Purpose: atlas.OtherInstitution, Exams: []string{x.ID}})
	if !s.Allowed {
		t.Fatalf("%+v", s)
	}
	p, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	if len(p.Manifest.Exams) != 1 || len(p.Manifest.Labels) != 1 {
		t.Fatalf("%v %v", p.Manifest.Exams, p.Manifest.Labels)
	}
	z, err := zip.OpenReader(filepath.Join(dir, p.Manifest.Exams[0]))
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	if !slices.ContainsFunc(z.File, func(f *zip.File) bool { return f.Name == "imsmanifest.xml" }) { // the name that IMS content packaging fixes
		t.Error("no imsmanifest.xml in the exam's package")
	}
	b, err := os.ReadFile(filepath.Join(dir, p.Manifest.Labels[0].File))
	if err != nil {
		t.Fatal(err)
	}
	// NIfTI-1: size of the header at 0, dim at 40, magic at 344, voxels from 352 on, 16-bit integers.
	series := p.Manifest.Series[0]
	want := 352 + 2*series.Size[0]*series.Size[1]*series.Size[2]
	if string(b[344:347]) != "n+1" || len(b) != want {
		t.Errorf("%d bytes, not %d; magic %q", len(b), want, b[344:347])
	}
	for n := range 3 {
		if got := int(b[42+2*n]) | int(b[43+2*n])<<8; got != series.Size[n] {
			t.Errorf("axis %d has %d, the scan %d", n, got, series.Size[n])
		}
	}
	f, err := os.Open(filepath.Join(dir, p.Manifest.Labels[0].Key))
	if err != nil {
		t.Fatal(err)
	}
	keys, err := atlas.ReadKey(f)
	f.Close()
	if err != nil {
		t.Fatal(err)
	}
	drawn := map[int]int{}
	for i := 352; i < len(b); i += 2 {
		drawn[int(b[i])|int(b[i+1])<<8]++
	}
	for _, k := range keys {
		if drawn[k.Number] == 0 {
			t.Logf("%s %s: no voxel of its own", k.Term, k.Side)
		}
		delete(drawn, k.Number)
	}
	if delete(drawn, 0); len(drawn) > 0 {
		t.Errorf("numbers without a key: %v", drawn)
	}

	d, err := l.Donor(practice.Donor)
	if err != nil {
		t.Fatal(err)
	}
	d.Agreement.Permitted[atlas.Exam] = false
	if err := l.SaveDonor(d); err != nil {
		t.Fatal(err)
	}
	if s, _ := send(t, l, Request{Run: run, Purpose: atlas.OtherInstitution, Exams: []string{x.ID}}); s.Allowed || !strings.Contains(s.Reason, "exam") {
		t.Errorf("without the purpose: %+v", s)
	}
}
