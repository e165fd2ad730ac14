package atlas

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"testing/fstest"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// scanFolder is a small CT series of n slices 3 mm apart, the first at z = 100, as DICOM files.
func scanFolder(t testing.TB, seed uint64, n int) fstest.MapFS {
	t.Helper()
	files := fstest.MapFS{"readme.txt": {Data: []byte("not a scan")}}
	for k := range n {
		hu := make([]int16, 12*10)
		for i := range hu {
			hu[i] = int16(10*k + i)
		}
		var b bytes.Buffer
		err := scan.WriteDICOM(&b, scan.SyntheticSlice{Seed: seed, Series: 1, Number: n - k, Code: "DOE-JOHN-1950", Description: "hospital of dr smith",
			Columns: 12, Rows: 10, HU: hu, Origin: geom.LPS{X: -6, Y: -5, Z: 100 + 3*float64(k)}, Row: geom.Vec{X: 1}, Column: geom.Vec{Y: 1},
			Spacing: [2]float64{1, 1}, Thickness: 3, Windows: []scan.Window{{Centre: 40, Width: 400, Name: "dr smith"}}})
		if err != nil {
			t.Fatal(err)
		}
		files[fmt.Sprintf("DOE/IM%04d.dcm", (k*7)%n)] = &fstest.MapFile{Data: b.Bytes()}
	}
	return files
}

func addSeries(t testing.TB, l *Library, files fs.FS) scan.Series {
	t.Helper()
	got, err := l.AddSeries(context.Background(), code, files, nil, nil)
	if err != nil || len(got) != 1 {
		t.Fatalf("%d series, %v", len(got), err)
	}
	return got[0]
}

func TestSeriesComeInWithoutTheirHeaders(t *testing.T) {
	l, _ := lab(t)
	files := scanFolder(t, 3, 9)
	var skipped []string
	last, total := 0, 0
	got, err := l.AddSeries(context.Background(), code, files, func(p string, err error) { skipped = append(skipped, p) },
		func(r, n int) {
			if r < last {
				t.Errorf("progress went back from %d to %d", last, r)
			}
			last, total = r, n
		})
	if err != nil || len(got) != 1 {
		t.Fatalf("%d series, %v", len(got), err)
	}
	if last != total || len(skipped) != 1 || skipped[0] != "readme.txt" {
		t.Errorf("progress %d of %d, skipped %v", last, total, skipped)
	}
	s := got[0]
	v, err := l.Volume(context.Background(), s.UID)
	if err != nil {
		t.Fatal(err)
	}
	original, err := scan.Survey(context.Background(), files, nil)
	if err != nil {
		t.Fatal(err)
	}
	if s.UID == original[0].UID || v.UID != s.UID || v.Size != [3]int{12, 10, 9} {
		t.Errorf("uid %s, was %s; size %v", s.UID, original[0].UID, v.Size)
	}
	for _, at := range [][3]int{{0, 0, 0}, {5, 3, 4}, {11, 9, 8}} { // as written: 10 for each slice, 1 for each pixel
		if got, want := v.Value(at[0], at[1], at[2]), float64(10*at[2]+at[1]*12+at[0]); got != want {
			t.Errorf("voxel %v is %g, want %g", at, got, want)
		}
		p := geom.LPS{X: -6 + float64(at[0]), Y: -5 + float64(at[1]), Z: 100 + 3*float64(at[2])}
		if q := v.ToLPS.LPS(geom.IJK{I: float64(at[0]), J: float64(at[1]), K: float64(at[2])}); q.Dist(p) > 1e-4 {
			t.Errorf("voxel %v lies at %v, want %v", at, q, p)
		}
	}
	// Nothing of the header is anywhere in the folder.
	l.db.Close()
	filepath.WalkDir(l.Dir(), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, _ := os.ReadFile(path)
		for _, word := range []string{"DOE", "smith", "1950", "IM0003", original[0].UID, original[0].Frame} {
			if bytes.Contains(b, []byte(word)) {
				t.Errorf("%s holds %q", filepath.Base(path), word)
			}
		}
		return nil
	})
}

func TestTheSameVoxelsAreKeptOnce(t *testing.T) {
	l, _ := lab(t)
	a := addSeries(t, l, scanFolder(t, 3, 9))
	if again := addSeries(t, l, scanFolder(t, 3, 9)); again.UID != a.UID {
		t.Errorf("a second import became %s", again.UID)
	}
	part := addSeries(t, l, scanFolder(t, 3, 7)) // a folder that lacks slices is another series
	other := addSeries(t, l, scanFolder(t, 4, 6))
	all, err := l.SeriesList(code)
	if err != nil || len(all) != 3 || part.UID == a.UID || other.UID == a.UID {
		t.Fatalf("%d series, %v", len(all), err)
	}
	if part.Frame != a.Frame || other.Frame == a.Frame {
		t.Errorf("frames %s, %s, %s", a.Frame, part.Frame, other.Frame)
	}
	if none, err := l.SeriesList("NOBODY-1"); err != nil || len(none) != 0 {
		t.Errorf("%v, %v", none, err)
	}
	if _, owner, err := l.Series(part.UID); err != nil || owner != code {
		t.Errorf("owner %s, %v", owner, err)
	}
	_, err = l.Volume(context.Background(), "2.25.1")
	wantErr(t, err, ErrNotFound)
}

func TestDamagedVolumes(t *testing.T) {
	l, _ := lab(t)
	s := addSeries(t, l, scanFolder(t, 3, 9))
	for _, ext := range []string{".nii", ".json"} {
		path, _ := filepath.Glob(filepath.Join(l.Dir(), volumesName, "*"+ext))
		good, _ := os.ReadFile(path[0])
		bad := bytes.Clone(good)
		bad[len(bad)-5] ^= 4
		os.WriteFile(path[0], bad, 0o600)
		_, err := l.Volume(context.Background(), s.UID)
		wantErr(t, err, ErrDamaged)
		n := 0
		l.Verify(context.Background(), func(err error) { n++; wantErr(t, err, ErrDamaged) })
		if n != 1 {
			t.Errorf("%s: %d faults", ext, n)
		}
		os.WriteFile(path[0], good, 0o600)
	}
	if _, err := l.Volume(context.Background(), s.UID); err != nil {
		t.Error(err)
	}
}

func TestACancelledImportKeepsNothing(t *testing.T) {
	l, _ := lab(t)
	ctx, cancel := context.WithCancel(context.Background())
	_, err := l.AddSeries(ctx, code, scanFolder(t, 3, 9), nil, func(read, total int) {
		if read > total/2 {
			cancel()
		}
	})
	if err == nil {
		t.Error("went through")
	}
	if all, _ := l.SeriesList(""); len(all) > 0 {
		t.Error("kept")
	}
	left, _ := filepath.Glob(filepath.Join(l.Dir(), volumesName, "*"))
	if len(left) > 0 {
		t.Errorf("left: %v", left)
	}
}

// tied is a lab with a scan tied to the run: its datum lies at z = 124, and the scan runs down with the slabs.
func tied(t testing.TB) (*Library, section.Run, scan.Series) {
	l, r := lab(t)
	s := addSeries(t, l, scanFolder(t, 3, 9))
	err := l.SaveLevelTies(LevelTies{Run: r.ID, Series: s.UID, Centre: geom.LPS{X: 1, Y: 2},
		Levels: []register.Level{{Run: 0, Scan: 124}, {Run: 20, Scan: 104}}})
	if err != nil {
		t.Fatal(err)
	}
	return l, r, s
}

// orient declares front up and 0.5 mm per pixel.
func orient(t testing.TB, l *Library, p Plate) Plate {
	t.Helper()
	p.PhotoUp = section.Anterior
	var err error
	if p.Calibration, err = photo.TwoTicks(geom.Px{}, geom.Px{X: 20}, 10); err != nil {
		t.Fatal(err)
	}
	if p, err = l.Save(p); err != nil {
		t.Fatal(err)
	}
	return p
}

func TestLevelTies(t *testing.T) {
	l, r, s := tied(t)
	got, err := l.LevelTies(r.ID, s.UID)
	if err != nil || len(got.Levels) != 2 || got.SameBody || got.Centre != (geom.LPS{X: 1, Y: 2}) {
		t.Errorf("%+v, %v", got, err)
	}
	err = l.SaveLevelTies(LevelTies{Run: r.ID, Series: s.UID, Levels: []register.Level{{Run: 0, Scan: 104}, {Run: 20, Scan: 124}}})
	wantErr(t, err, register.ErrOutOfOrder) // slab 1 is at the head, so the scan must go down
	wantErr(t, l.SaveLevelTies(LevelTies{Run: r.ID, Series: "2.25.9"}), ErrInUse)
	_, err = l.LevelTies(r.ID, "2.25.9")
	wantErr(t, err, ErrNotFound)
	p := orient(t, l, add(t, l, section.Face{Run: r.ID, Slab: 1, Facing: section.Inferior}, 1))
	reg, err := l.ByLevel(p, s.UID)
	if err != nil {
		t.Fatal(err)
	}
	// Lower face of slab 1: 20.5 mm down, so z = 103.5; its middle meets the centre; a lower face shows the donor's right at the left.
	at := reg.Pose.At(p.Middle())
	if at.Dist(geom.LPS{X: 1, Y: 2, Z: 103.5}) > 1e-9 || reg.Pose.X != (geom.Vec{X: 1}) {
		t.Errorf("middle at %v, x along %v", at, reg.Pose.X)
	}
}

func TestMatch(t *testing.T) {
	l, r, s := tied(t)
	faces := r.Faces() // depths 0, 20.5, 21.7, 42.2, 43.4, 63.9
	var plates []Plate
	for i, f := range faces {
		plates = append(plates, orient(t, l, add(t, l, f, uint8(i))))
	}
	got, err := l.Match(plates[1].ID, 12)
	if err != nil {
		t.Fatal(err)
	}
	type row struct {
		plate, series string
		off           float64
	}
	// A lower face looks down the run: what lies further down is on its outward side.
	want := []row{{"", s.UID, 0}, {plates[2].ID, "", 1.2}, {plates[0].ID, "", -20.5}, {plates[3].ID, "", 21.7}, {plates[4].ID, "", 22.9}}
	if len(got) != len(want) {
		t.Fatalf("%d matches, want %d: %+v", len(got), len(want), got)
	}
	for i, w := range want {
		g := got[i]
		if g.Plate != w.plate || g.Series != w.series || math.Abs(g.Off-w.off) > 1e-9 || g.Basis != BasisLevel {
			t.Errorf("match %d: %+v, want %+v", i, g, w)
		}
	}
	if few, _ := l.Match(plates[1].ID, 2); len(few) != 2 {
		t.Errorf("%d of at most 2", len(few))
	}
	up, _ := l.Match(plates[2].ID, 2) // its partner, an upper face, looks up the run
	if up[1].Plate != plates[1].ID || math.Abs(up[1].Off-1.2) > 1e-9 {
		t.Errorf("%+v", up[1])
	}

	// Once both are registered by landmarks in one frame, the poses speak: 10 degrees of tilt and 4 mm.
	pose := geom.Pose{X: geom.Vec{X: 1}, Y: geom.Vec{Y: 1}, Scale: 1, Origin: geom.LPS{Z: 110}}
	leaning := pose
	leaning.X = geom.Vec{X: math.Cos(math.Pi / 18), Z: math.Sin(math.Pi / 18)}
	leaning.Origin = geom.LPS{Z: 106}
	for i, q := range map[int]geom.Pose{1: pose, 2: leaning} {
		plates[i].Registration = &register.Registration{Series: s.UID, Pose: q, Method: register.ByTies}
		if plates[i], err = l.Save(plates[i]); err != nil {
			t.Fatal(err)
		}
	}
	got, err = l.Match(plates[1].ID, 12)
	if err != nil || got[0].Basis != BasisPose || got[0].Pose != pose {
		t.Errorf("%+v, %v", got[0], err)
	}
	m := got[1]
	// The pose's outward normal is -X x Y = -z; the other face's middle lies at its own x of 9.75 mm up the slope.
	off := -(106 + plates[2].Middle().X*math.Sin(math.Pi/18) - 110)
	if m.Plate != plates[2].ID || m.Basis != BasisPose || math.Abs(m.Off-off) > 1e-9 || math.Abs(m.Tilt-math.Pi/18) > 1e-9 {
		t.Errorf("%+v, want off %g", m, off)
	}
	q := add(t, l, section.Face{}, 99)
	_, err = l.Match(q.ID, 3)
	wantErr(t, err, ErrUnplaced)
}

func TestMatchAcrossRuns(t *testing.T) {
	l, r, s := tied(t)
	p := orient(t, l, add(t, l, upper(r, 1), 1)) // z = 124
	second := trunk(code)
	second, err := l.SaveRun(second)
	if err != nil {
		t.Fatal(err)
	}
	q := orient(t, l, add(t, l, upper(second, 1), 2))
	find := func() (off float64, ok bool) {
		all, err := l.Match(p.ID, 20)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range all {
			if m.Plate == q.ID {
				return m.Off, true
			}
		}
		return 0, false
	}
	if _, ok := find(); ok {
		t.Error("matched a run that is tied to nothing")
	}
	part := addSeries(t, l, scanFolder(t, 3, 7)) // same frame of reference
	if err := l.SaveLevelTies(LevelTies{Run: second.ID, Series: part.UID, Levels: []register.Level{{Run: 0, Scan: 117}}}); err != nil {
		t.Fatal(err)
	}
	if off, ok := find(); !ok || math.Abs(off+7) > 1e-9 { // 7 mm below; an upper face looks up
		t.Errorf("off %g, %v", off, ok)
	}
	_ = s
	if err := errors.Join(l.SaveLevelTies(LevelTies{Run: second.ID, Series: part.UID})); err != nil {
		t.Fatal(err)
	}
	if _, ok := find(); ok {
		t.Error("matched after the tie was taken away")
	}
}

func TestOneBadSeriesDoesNotKeepTheOthersOut(t *testing.T) {
	l, _ := lab(t)
	files := scanFolder(t, 3, 9)
	for name, f := range scanFolder(t, 4, 9) { // a second series whose files all break off within their pixels
		files["broken/"+name] = &fstest.MapFile{Data: f.Data[:len(f.Data)*2/3]}
	}
	var why []error
	got, err := l.AddSeries(context.Background(), code, files, func(_ string, err error) { why = append(why, err) }, nil)
	if err != nil || len(got) != 1 {
		t.Fatalf("%d series, %v", len(got), err)
	}
	if !slices.ContainsFunc(why, func(err error) bool { return errors.Is(err, scan.ErrDamaged) }) {
		t.Errorf("nothing was said of the damage: %v", why)
	}
}

// Tie levels go with the slabs they were tied at when the run changes, and come back with it; by hand: slab 1 of 20 mm was
// 5 mm thicker, then moved behind slab 2.
func TestTieLevelsGoWithTheirSlabs(t *testing.T) {
	l, r, series := tied(t)
	s := series.UID
	slabs := []section.Slab{{Number: 1, Thickness: [3]float64{20}, Kerf: 1}, {Number: 2, Thickness: [3]float64{20}, Kerf: 1}, {Number: 3, Thickness: [3]float64{20}}}
	save := func(slabs ...section.Slab) {
		t.Helper()
		r.Slabs = slabs
		if _, err := l.SaveRun(r); err != nil {
			t.Fatal(err)
		}
	}
	ties := func(want ...float64) {
		t.Helper()
		got, err := l.LevelTies(r.ID, s)
		if err != nil || len(got.Levels) != len(want) {
			t.Fatalf("%+v, %v", got, err)
		}
		for i, x := range got.Levels {
			if math.Abs(x.Run-want[i]) > 1e-9 {
				t.Fatalf("ties at %+v, want %v", got.Levels, want)
			}
		}
	}
	save(slabs...)
	if err := l.SaveLevelTies(LevelTies{Run: r.ID, Series: s, Levels: []register.Level{{Run: 0, Scan: 100}, {Run: 20, Scan: 80}, {Run: 62, Scan: 38}}}); err != nil {
		t.Fatal(err)
	}
	thick := slabs[0]
	thick.Thickness[0] = 25
	save(thick, slabs[1], slabs[2])
	ties(0, 25, 67)
	save(slabs[1], thick, slabs[2])
	ties(21, 46, 67)
	save(slabs...)
	ties(0, 20, 62)
}
