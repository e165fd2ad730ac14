package atlas

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// TestMain lets the test binary run itself as a second program (kill_test.go).
func TestMain(m *testing.M) {
	if dir := os.Getenv("ATLAS_CHILD"); dir != "" {
		child(dir)
		return
	}
	os.Exit(m.Run())
}

// picture makes a small JPEG that differs with shade.
func picture(t testing.TB, shade uint8) []byte {
	t.Helper()
	m := image.NewGray(image.Rect(0, 0, 40, 30))
	for i := range m.Pix {
		m.Pix[i] = uint8(i) ^ shade
	}
	m.SetGray(1, 1, color.Gray{Y: 255})
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

const code = "SH-31M"

// lab makes a library with one donor and one transverse run of three slabs.
func lab(t testing.TB) (*Library, section.Run) {
	t.Helper()
	l, err := Create(filepath.Join(t.TempDir(), "Lab Ā"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	if err := l.AddDonor(Donor{Code: code, Agreement: Agreement{Reference: "A 7", ChangedBy: "the donor office",
		Ends: time.Date(2030, 2, 28, 0, 0, 0, 0, time.UTC), Permitted: map[Purpose]bool{Teaching: true, Exam: true, Research: false}}}); err != nil {
		t.Fatal(err)
	}
	r, err := l.SaveRun(trunk(code))
	if err != nil {
		t.Fatal(err)
	}
	return l, r
}

func trunk(donor string) section.Run {
	r := section.Run{Donor: donor, Part: "trunk", Plane: section.Transverse, First: section.Superior, Length: 64}
	for n := 1; n <= 3; n++ {
		r.Slabs = append(r.Slabs, section.Slab{Number: n, Thickness: [3]float64{20, 21, 0}, Kerf: 1.2})
	}
	return r
}

func upper(r section.Run, slab int) section.Face {
	return section.Face{Run: r.ID, Slab: slab, Facing: section.Superior}
}

func add(t testing.TB, l *Library, f section.Face, shade uint8) Plate {
	t.Helper()
	p, err := l.AddPhoto(context.Background(), f, code, "IMG_0001.JPG", bytes.NewReader(picture(t, shade)))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func outline(id string, x, y float64) annotate.Label {
	return annotate.Label{ID: id, Term: "UBERON:0002107", Side: annotate.NoSide, Sure: annotate.Certain, Author: "AB",
		Changed: time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC),
		Regions: []annotate.Polygon{{Outer: []geom.Px{{X: x, Y: y}, {X: x + 8, Y: y}, {X: x + 8, Y: y + 6}, {X: x, Y: y + 6}}}}}
}

func withLabel(t testing.TB, p Plate, x annotate.Label) Plate {
	t.Helper()
	var err error
	if p.Labels, err = p.Labels.Add(x); err != nil {
		t.Fatal(err)
	}
	return p
}

func wantErr(t testing.TB, got, want error) {
	t.Helper()
	if !errors.Is(got, want) {
		t.Errorf("error %v, want %v", got, want)
	}
}

func asJSON(t testing.TB, v any) string {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestAllComesBackAfterClosing(t *testing.T) {
	l, r := lab(t)
	p := add(t, l, upper(r, 2), 1)
	p.PhotoUp = section.Posterior
	p = withLabel(t, p, outline("a", 3, 4))
	p, err := l.Save(p)
	if err != nil {
		t.Fatal(err)
	}
	donors, _ := l.Donors()
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	for _, left := range []string{lockName, catalogueName + "-wal", catalogueName + "-shm"} {
		if _, err := os.Stat(filepath.Join(l.Dir(), left)); err == nil {
			t.Errorf("%s is left behind", left)
		}
	}
	for _, m := range []Mode{ReadWrite, ReadOnly} {
		l, err := Open(l.Dir(), m)
		if err != nil {
			t.Fatal(err)
		}
		got, err := l.PlateOf(upper(r, 2))
		if err != nil || asJSON(t, got) != asJSON(t, p) {
			t.Errorf("mode %d: %v\n%s\nwant\n%s", m, err, asJSON(t, got), asJSON(t, p))
		}
		again, err := l.Donors()
		if err != nil || asJSON(t, again) != asJSON(t, donors) {
			t.Errorf("mode %d: donors %s, %v, want %s", m, asJSON(t, again), err, asJSON(t, donors))
		}
		if m == ReadOnly {
			_, err = l.Save(got)
			wantErr(t, err, ErrReadOnly)
			wantErr(t, l.AddDonor(Donor{Code: "NEW-1"}), ErrReadOnly)
			_, err = l.AddPhoto(context.Background(), section.Face{}, code, "x.jpg", bytes.NewReader(picture(t, 2)))
			wantErr(t, err, ErrReadOnly)
		}
		if err := l.Close(); err != nil {
			t.Error(err)
		}
	}
}

func TestCreateRefusesWhatIsNotEmpty(t *testing.T) {
	l, _ := lab(t)
	_, err := Create(l.Dir())
	wantErr(t, err, ErrExists)
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "letter.txt"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	_, err = Create(dir)
	wantErr(t, err, ErrExists)
	_, err = Open(dir, ReadWrite)
	wantErr(t, err, ErrNotFound)
}

func TestCreateFinishesAHalfMadeFolder(t *testing.T) {
	dir := t.TempDir()
	os.Mkdir(filepath.Join(dir, originalsName), 0o755)
	os.WriteFile(filepath.Join(dir, catalogueName+".part"), []byte("SQLite format 3\x00 broken off"), 0o600)
	l, err := Create(dir)
	if err != nil {
		t.Fatal(err)
	}
	l.Close()
}

func TestOpenRefusesAStrangeCatalogue(t *testing.T) {
	dir := t.TempDir()
	os.WriteFile(filepath.Join(dir, catalogueName), bytes.Repeat([]byte("not a catalogue "), 300), 0o600)
	for _, m := range []Mode{ReadWrite, ReadOnly} {
		_, err := Open(dir, m)
		wantErr(t, err, ErrNotOurs)
	}
}

func TestOriginalBytesAreKeptAndKnownAgain(t *testing.T) {
	l, r := lab(t)
	want := picture(t, 9)
	p := add(t, l, upper(r, 1), 9)
	name := p.Photo.SHA256.String()
	got, err := os.ReadFile(filepath.Join(l.Dir(), originalsName, name[:2], name+".jpg"))
	if err != nil || !bytes.Equal(got, want) {
		t.Fatalf("the original is not what came in: %v", err)
	}
	_, err = l.AddPhoto(context.Background(), upper(r, 2), code, "other name.jpg", bytes.NewReader(want))
	wantErr(t, err, ErrKnownPhoto)
	var known *KnownPhoto
	if !errors.As(err, &known) || known.Plate != p.ID {
		t.Errorf("%v does not name %s", err, p.ID)
	}
	m, err := l.Photo(context.Background(), p.ID)
	if err != nil || m.Size() != image.Pt(40, 30) {
		t.Errorf("photo: %v", err)
	}
}

func TestBrokenPhotographsLeaveNothingBehind(t *testing.T) {
	l, r := lab(t)
	whole := picture(t, 3)
	for name, b := range map[string][]byte{"cut": whole[:len(whole)/2], "text": []byte("hello"), "empty": {}} {
		if _, err := l.AddPhoto(context.Background(), upper(r, 1), code, name, bytes.NewReader(b)); err == nil {
			t.Errorf("%s was taken in", name)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := l.AddPhoto(ctx, upper(r, 1), code, "x", bytes.NewReader(whole)); err == nil {
		t.Error("a cancelled import went through")
	}
	left, _ := filepath.Glob(filepath.Join(l.Dir(), originalsName, "*"))
	if len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	for e := range l.Find(Query{}) {
		t.Errorf("listed: %v", e)
	}
}

// Values 2, 4, 5 and 7 of the EXIF orientation hold a mirror (EXIF 2.32, tag 0112).
func TestMirrorInTheCameraTagIsAsked(t *testing.T) {
	l, _ := lab(t)
	for o := 1; o <= 8; o++ {
		b := photo.WithEXIF(picture(t, uint8(20+o)), o, time.Time{})
		p, err := l.AddPhoto(context.Background(), section.Face{}, code, "x.jpg", bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		mirror := o == 2 || o == 4 || o == 5 || o == 7
		if p.Photo.Mirrored != mirror || p.Mirrored != Unanswered {
			t.Errorf("orientation %d: mirrored %v, answer %v", o, p.Photo.Mirrored, p.Mirrored)
		}
		p.Face, p.PhotoUp = section.Face{Run: "R", Slab: 1, Facing: section.Superior}, section.Anterior
		if p.LettersUnknown() != mirror || (p.Edges(section.Bench) == section.UnknownEdges) != mirror {
			t.Errorf("orientation %d: letters %v", o, p.Edges(section.Bench))
		}
		for a, want := range map[Answer]string{Yes: "R", No: "L"} { // law: superior face, front up, honest: left of the picture is L
			p.Mirrored = a
			if got := p.PhotoEdges().Left; got != want {
				t.Errorf("orientation %d, mirrored %v: left is %s, want %s", o, a, got, want)
			}
		}
	}
}

func TestAFaceHoldsOneCurrentPhotograph(t *testing.T) {
	l, r := lab(t)
	p := add(t, l, upper(r, 1), 1)
	_, err := l.AddPhoto(context.Background(), upper(r, 1), "", "x.jpg", bytes.NewReader(picture(t, 2)))
	wantErr(t, err, ErrFaceTaken)
	q := add(t, l, section.Face{}, 2)
	_, err = l.Place(q.ID, upper(r, 1))
	wantErr(t, err, ErrFaceTaken)
	if p, err = l.Retire(p.ID); err != nil {
		t.Fatal(err)
	}
	if q, err = l.Place(q.ID, upper(r, 1)); err != nil {
		t.Fatal(err)
	}
	_, err = l.Restore(p.ID)
	wantErr(t, err, ErrFaceTaken)
	if got, err := l.PlateOf(upper(r, 1)); err != nil || got.ID != q.ID {
		t.Errorf("current plate %s, %v", got.ID, err)
	}
	var all []string
	for e := range l.Find(Query{Retired: true}) {
		all = append(all, fmt.Sprint(e.Plate, e.Retired))
	}
	if len(all) != 2 {
		t.Errorf("listing %v", all)
	}
}

func TestWrongFacesAreRefused(t *testing.T) {
	l, r := lab(t)
	for f, want := range map[section.Face]error{
		{Run: r.ID, Slab: 1, Facing: section.Anterior}:      section.ErrNotAFace,
		{Run: r.ID, Slab: 1, Facing: section.Left}:          section.ErrNotAFace,
		{Run: r.ID, Slab: 1, Facing: section.UnknownFacing}: section.ErrNotAFace,
		{Run: r.ID, Slab: 9, Facing: section.Superior}:      section.ErrNoSuchFace,
		{Run: "R0", Slab: 1, Facing: section.Superior}:      ErrNotFound,
	} {
		_, err := l.AddPhoto(context.Background(), f, code, "x.jpg", bytes.NewReader(picture(t, 5)))
		wantErr(t, err, want)
	}
	if _, err := l.AddPhoto(context.Background(), section.Face{}, "", "x.jpg", bytes.NewReader(picture(t, 5))); err == nil {
		t.Error("a photograph without a donor was taken in")
	}
}

func TestUnplacedPhotographsTakeNoOutlines(t *testing.T) {
	l, r := lab(t)
	p := add(t, l, section.Face{}, 1)
	_, err := l.Save(withLabel(t, p, outline("a", 1, 1)))
	wantErr(t, err, ErrUnplaced)
	if p, err = l.Place(p.ID, upper(r, 3)); err != nil {
		t.Fatal(err)
	}
	if p, err = l.Save(withLabel(t, p, outline("a", 1, 1))); err != nil {
		t.Fatal(err)
	}
	if p, err = l.Unplace(p.ID); err != nil || p.Labels.Len() != 1 {
		t.Fatalf("%v, %d labels", err, p.Labels.Len())
	}
	p.Face = upper(r, 1)
	if _, err := l.Save(p); err == nil {
		t.Error("saving moved a photograph to another face")
	}
}

func TestStaleWritesAreRefused(t *testing.T) {
	l, r := lab(t)
	first := add(t, l, upper(r, 1), 1)
	second, err := l.Save(withLabel(t, first, outline("a", 1, 1)))
	if err != nil || second.Rev != 2 {
		t.Fatalf("rev %d, %v", second.Rev, err)
	}
	_, err = l.Save(withLabel(t, first, outline("b", 2, 2)))
	wantErr(t, err, ErrChanged)
	got, err := l.Plate(first.ID)
	if err != nil || asJSON(t, got) != asJSON(t, second) {
		t.Errorf("the plate changed: %v", err)
	}
}

func TestRunsKeepTheirPhotographs(t *testing.T) {
	l, r := lab(t)
	add(t, l, upper(r, 2), 1)
	fewer := r
	fewer.Slabs = append([]section.Slab{}, r.Slabs[0], r.Slabs[2])
	_, err := l.SaveRun(fewer)
	wantErr(t, err, ErrInUse)
	turned := r
	turned.Plane, turned.First = section.Frontal, section.Anterior
	_, err = l.SaveRun(turned)
	wantErr(t, err, ErrInUse)
	last := r
	last.Slabs = r.Slabs[:2] // slab 3 carries nothing
	if _, err := l.SaveRun(last); err != nil {
		t.Error(err)
	}
	got, err := l.Run(r.ID)
	if err != nil || asJSON(t, got) != asJSON(t, last) {
		t.Errorf("%v: %s", err, asJSON(t, got))
	}
	for e, err := range l.Find(Query{Run: r.ID}) {
		if err != nil || e.Face != upper(r, 2) {
			t.Errorf("%v, %v", e, err)
		}
	}
	_, err = l.SaveRun(trunk("NOBODY-1"))
	wantErr(t, err, ErrNotFound)
}

func TestListingRunsAlongTheBody(t *testing.T) {
	l, r := lab(t)
	faces := r.Faces()
	for i, n := range []int{5, 0, 3} {
		add(t, l, faces[n], uint8(i))
	}
	add(t, l, section.Face{}, 7)
	p, _ := l.PlateOf(faces[3])
	if _, err := l.Save(withLabel(t, p, outline("a", 1, 1))); err != nil {
		t.Fatal(err)
	}
	var got []section.Face
	for e, err := range l.Find(Query{Donor: code}) {
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, e.Face)
	}
	if want := []section.Face{faces[0], faces[3], faces[5], {}}; asJSON(t, got) != asJSON(t, want) {
		t.Errorf("order %v, want %v", got, want)
	}
	n := 0
	for e, err := range l.Find(Query{Term: "UBERON:0002107"}) {
		if n++; err != nil || e.Face != faces[3] || len(e.Labels) != 1 || e.Labels[0].Sure != annotate.Certain {
			t.Errorf("%+v, %v", e, err)
		}
	}
	if n != 1 {
		t.Errorf("%d faces with the term", n)
	}
}

func TestPS5DamageIsNamedAndTheRestOpens(t *testing.T) {
	l, r := lab(t)
	p, q := add(t, l, upper(r, 1), 1), add(t, l, upper(r, 2), 2)
	verify := func() (faults []string) {
		if err := l.Verify(context.Background(), func(err error) {
			wantErr(t, err, ErrDamaged)
			faults = append(faults, err.Error())
		}); err != nil {
			t.Fatal(err)
		}
		return faults
	}
	if f := verify(); len(f) > 0 {
		t.Fatalf("faults in a sound library: %v", f)
	}
	name := p.Photo.SHA256.String()
	path := filepath.Join(l.Dir(), originalsName, name[:2], name+".jpg")
	b, _ := os.ReadFile(path)
	b[len(b)/2] ^= 1
	os.WriteFile(path, b, 0o600)
	if f := verify(); len(f) != 1 || !strings.Contains(f[0], "photo of slab 1, upper face") {
		t.Errorf("faults %q", f)
	}
	_, err := l.Photo(context.Background(), p.ID)
	wantErr(t, err, ErrDamaged)
	if _, err := l.Photo(context.Background(), q.ID); err != nil {
		t.Error(err)
	}
	os.Remove(path)
	if f := verify(); len(f) != 1 || !strings.Contains(f[0], "missing") {
		t.Errorf("faults %q", f)
	}
}

func TestPreviewsSurviveTheirCache(t *testing.T) {
	l, r := lab(t)
	p := add(t, l, upper(r, 1), 1)
	for _, spoil := range []func(){
		func() {},
		func() { os.RemoveAll(filepath.Join(l.Dir(), cacheName)) },
		func() {
			os.MkdirAll(filepath.Join(l.Dir(), cacheName), 0o755)
			os.WriteFile(l.previewPath(p.Photo.SHA256.String()), []byte("half a pict"), 0o600)
		},
	} {
		spoil()
		m, err := l.Preview(context.Background(), p.ID)
		if err != nil || m.Bounds().Size() != image.Pt(40, 30) {
			t.Errorf("%v", err)
		}
	}
}

func TestLabelsLeaveAndComeBack(t *testing.T) {
	l, r := lab(t)
	p := withLabel(t, withLabel(t, add(t, l, upper(r, 1), 1), outline("a", 1, 1)), outline("b", 12, 12))
	p, err := l.Save(p)
	if err != nil {
		t.Fatal(err)
	}
	var file bytes.Buffer
	if err := l.ExportLabels(p.ID, &file); err != nil {
		t.Fatal(err)
	}
	q := add(t, l, upper(r, 2), 2)
	if q, err = l.ImportLabels(q.ID, bytes.NewReader(file.Bytes())); err != nil || asJSON(t, q.Labels) != asJSON(t, p.Labels) {
		t.Errorf("%v: %s", err, asJSON(t, q.Labels))
	}
	if q, err = l.ImportLabels(q.ID, bytes.NewReader(file.Bytes())); err != nil || q.Labels.Len() != 2 {
		t.Errorf("a second import: %v, %d labels", err, q.Labels.Len())
	}
	for name, text := range map[string]string{
		"not json":       "outlines",
		"another format": strings.Replace(file.String(), labelsFormat, "other-2", 1),
		"another size":   strings.Replace(file.String(), `"X": 40`, `"X": 41`, 1),
		"outside":        strings.Replace(file.String(), "20", "200", 1),
	} {
		_, err := l.ImportLabels(q.ID, strings.NewReader(text))
		wantErr(t, err, ErrLabels)
		if now, _ := l.Plate(q.ID); now.Rev != q.Rev {
			t.Errorf("%s: the plate was changed", name)
		}
	}
}

func TestPS5BackupsAreWholeAndRotated(t *testing.T) {
	l, r := lab(t)
	p := add(t, l, upper(r, 1), 1)
	path, err := l.Backup(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	l.Close()
	if err := os.Rename(path, filepath.Join(l.Dir(), catalogueName)); err != nil {
		t.Fatal(err)
	}
	if l, err = Open(l.Dir(), ReadWrite); err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	if _, err := l.Plate(p.ID); err != nil {
		t.Error(err)
	}
	// Two years of one copy a day: the last ten days, and the newest of each of twelve months.
	var times []time.Time
	for d := range 730 {
		times = append(times, time.Date(2026, 11, 25, 3, 0, 0, 0, time.UTC).AddDate(0, 0, -d))
	}
	kept := len(times) - len(rotate(times))
	if kept != 10+11 {
		t.Errorf("%d copies kept, want 21", kept)
	}
}
