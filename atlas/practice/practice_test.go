package practice

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"sectionary/annotate"
	"sectionary/assets"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// material is made once for all tests of the package.
var material = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "practice")
	if err != nil {
		return "", err
	}
	made, err = Write(context.Background(), filepath.Join(dir, "m"), 7, nil)
	return filepath.Join(dir, "m"), err
})

var made *Truth // with the labels that truth.json leaves to the files of outlines

func TestMain(m *testing.M) {
	code := m.Run()
	if dir, err := material(); err == nil {
		os.RemoveAll(filepath.Dir(dir))
	}
	os.Exit(code)
}

func truthOf(t *testing.T) (string, Truth) {
	t.Helper()
	dir, err := material()
	if err != nil {
		t.Fatal(err)
	}
	var truth Truth
	b, err := os.ReadFile(filepath.Join(dir, "truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &truth); err != nil {
		t.Fatal(err)
	}
	return dir, truth
}

func hashes(t *testing.T, dir string) map[string][32]byte {
	t.Helper()
	out := map[string][32]byte{}
	err := fs.WalkDir(os.DirFS(dir), ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(filepath.Join(dir, path))
		out[path] = sha256.Sum256(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestSameSeedSameBytes(t *testing.T) {
	dir, _ := truthOf(t)
	again := filepath.Join(t.TempDir(), "again")
	if _, err := Write(context.Background(), again, 7, nil); err != nil {
		t.Fatal(err)
	}
	a, b := hashes(t, dir), hashes(t, again)
	if len(a) != len(b) || len(a) < 400 {
		t.Fatalf("%d files and %d files", len(a), len(b))
	}
	for name, h := range a {
		if b[name] != h {
			t.Errorf("%s differs", name)
		}
	}
}

// DICOM conformance is judged by dcmtk and pydicom where they are installed.
func TestScanIsValidDICOM(t *testing.T) {
	dir, _ := truthOf(t)
	one := filepath.Join(dir, "scan", "0001.dcm")
	t.Run("dcmdump", func(t *testing.T) {
		if _, err := exec.LookPath("dcmdump"); err != nil {
			t.Skip("dcmdump (Debian package dcmtk) is not installed")
		}
		out, err := exec.Command("dcmdump", "-ll", "warn", "+W", t.TempDir(), one).CombinedOutput()
		if err != nil || bytes.Contains(out, []byte("W:")) || bytes.Contains(out, []byte("E:")) {
			t.Errorf("dcmdump: %v\n%s", err, out)
		}
	})
	t.Run("pydicom", func(t *testing.T) {
		script := `import sys, glob, pydicom
fs = [pydicom.dcmread(f) for f in glob.glob(sys.argv[1] + "/*.dcm")]
assert all("synthetic" in str(d.SeriesDescription).lower() for d in fs)
z = sorted(float(d.ImagePositionPatient[2]) for d in fs)
gaps = [b - a for a, b in zip(z, z[1:])]
assert max(gaps) - min(gaps) < 1e-3, gaps
a = fs[0].pixel_array * float(fs[0].RescaleSlope) + float(fs[0].RescaleIntercept)
print(len(fs), a.shape[0], a.shape[1], round(gaps[0], 3))`
		if exec.Command("/usr/bin/python3", "-c", "import pydicom, numpy").Run() != nil {
			t.Skip("python3-pydicom is not installed")
		}
		out, err := exec.Command("/usr/bin/python3", "-c", script, filepath.Join(dir, "scan")).CombinedOutput()
		if want := "307 128 200 3.0\n"; err != nil || string(out) != want {
			t.Errorf("pydicom: %v, %q, want %q", err, out, want)
		}
	})
}

func TestScanShowsTheBodyWhereTruthSaysItIs(t *testing.T) {
	dir, truth := truthOf(t)
	files := os.DirFS(filepath.Join(dir, "scan"))
	series, err := scan.Survey(context.Background(), files, func(p string, err error) { t.Errorf("%s: %v", p, err) })
	if err != nil || len(series) != 1 {
		t.Fatalf("%d series, %v", len(series), err)
	}
	v, err := scan.Load(context.Background(), files, series[0], nil)
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range truth.Levels { // the middle of a vertebral body is spongy bone: 100 to 400 HU, handbooks of CT
		if hu := v.Sample(geom.LPS{X: c[0], Y: c[1], Z: c[2]}); hu < 100 || hu > 500 {
			t.Errorf("middle of %s is %.0f HU", name, hu)
		}
	}
	// The liver lies right, the spleen left, the heart's tip left: the sides a handbook gives.
	for _, c := range []struct {
		name string
		p    geom.LPS
		lo   float64
		hi   float64
	}{{"liver", geom.LPS{X: -80, Y: 0, Z: 40}, 40, 90}, {"spleen", geom.LPS{X: 92, Y: 36, Z: 44}, 30, 85}, {"right lung", geom.LPS{X: -70, Y: 10, Z: 190}, -950, -600}, {"outside", geom.LPS{X: 198, Y: -126, Z: 0}, -1024, -950}} {
		if hu := v.Sample(c.p); hu < c.lo || hu > c.hi {
			t.Errorf("%s is %.0f HU, want %.0f to %.0f", c.name, hu, c.lo, c.hi)
		}
	}
}

func TestPicturesOpenUpright(t *testing.T) {
	dir, truth := truthOf(t)
	turned := map[int]int{}
	for _, f := range truth.Faces {
		b, err := os.ReadFile(filepath.Join(dir, f.Photo))
		if err != nil {
			t.Fatal(err)
		}
		info, err := photo.Probe(bytes.NewReader(b))
		if err != nil || info.Orientation != f.Orientation || info.Taken.IsZero() {
			t.Fatalf("%s: %+v, %v", f.Photo, info, err)
		}
		turned[info.Orientation]++
		if f.Face.Slab > 2 {
			continue // decoding a few is enough
		}
		m, err := photo.Open(context.Background(), bytes.NewReader(b), photo.Limit{})
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range f.Corners { // each corner mark has a black middle on paper
			dark, light := m.At(c), m.At(geom.Px{X: c.X + 4.5, Y: c.Y})
			if dark.R > 110 || light.R < 170 {
				t.Errorf("%s corner %d: %v then %v", f.Photo, i, dark, light)
			}
		}
	}
	for _, o := range []int{1, 3, 6, 8} {
		if turned[o] == 0 {
			t.Errorf("no picture with camera turn %d", o)
		}
	}
}

// A landmark on the skin is named by the side of the body (LPS: x to the left, y to the back), not by the side of the picture, which
// turns round from one face of a cut to the other.
func TestSkinLandmarksAreNamedByTheBody(t *testing.T) {
	_, truth := truthOf(t)
	seen := map[string]int{}
	for _, f := range truth.Faces {
		if f.Face.Facing.Plane() != section.Transverse {
			continue
		}
		middle := geom.LPS{}
		for _, tie := range f.Ties {
			middle.X, middle.Y = middle.X+tie.Scan.X/float64(len(f.Ties)), middle.Y+tie.Scan.Y/float64(len(f.Ties))
		}
		for _, tie := range f.Ties {
			side, _, skin := strings.Cut(tie.Name, " edge of the skin")
			if !skin {
				continue
			}
			seen[side]++
			if ok := map[string]bool{"left": tie.Scan.X > middle.X, "right": tie.Scan.X < middle.X, "front": tie.Scan.Y < middle.Y, "back": tie.Scan.Y > middle.Y}[side]; !ok {
				t.Errorf("%s: %q at %v, the middle at %v", f.Photo, tie.Name, tie.Scan, middle)
			}
		}
	}
	if seen["left"] == 0 || seen["right"] == 0 || seen["front"] == 0 || seen["back"] == 0 {
		t.Errorf("seen %v", seen)
	}
}

func TestPoseFromTiesMeetsTruth(t *testing.T) {
	dir, truth := truthOf(t)
	for _, f := range truth.Faces {
		ties := make([]register.Tie, len(f.Ties))
		for i, tie := range f.Ties {
			ties[i] = register.Tie{Face: tie.Px, Scan: tie.Scan}
		}
		cal, err := photo.Grid(cornerTies(f))
		if err != nil {
			t.Fatalf("%s: %v", f.Photo, err)
		}
		r, err := register.FromTies("s", cal.ToMM, ties, f.Face.Facing, false)
		if err != nil {
			t.Errorf("%s: %v", f.Photo, err)
			continue
		}
		tilt := math.Acos(math.Min(1, r.Pose.Outward().Dot(f.Pose.Outward()))) / degree
		if tilt > 1.5 || r.Fit.RMS > 2.5 {
			t.Errorf("%s: tilt off by %.2f degrees, rms %.2f mm", f.Photo, tilt, r.Fit.RMS)
		}
		file, err := os.Open(filepath.Join(dir, "ties", name(f.Face)+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		rd := csv.NewReader(file)
		rd.Comment = '#'
		rows, err := rd.ReadAll()
		file.Close()
		if err != nil || len(rows) != len(f.Ties) {
			t.Fatalf("%s: %d rows, %v", f.Photo, len(rows), err)
		}
		x, _ := strconv.ParseFloat(rows[0][2], 64)
		if math.Abs(x-f.Ties[0].Scan.X) > 1e-3 {
			t.Errorf("%s: first tie at %v, want %v", f.Photo, x, f.Ties[0].Scan.X)
		}
	}
}

func TestOutlinesAreSoundAndNamed(t *testing.T) {
	dir, truth := truthOf(t)
	terms, err := annotate.LoadTerms(assets.Terms())
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, f := range truth.Faces {
		b, err := os.ReadFile(filepath.Join(dir, f.Outlines))
		if err != nil {
			t.Fatal(err)
		}
		var labels annotate.Labels
		if err := json.Unmarshal(b, &labels); err != nil {
			t.Fatalf("%s: %v", f.Outlines, err)
		}
		if labels.Len() < 5 {
			t.Errorf("%s: only %d structures", f.Outlines, labels.Len())
		}
		for x := range labels.All() {
			if err := terms.Check(x); err != nil {
				t.Errorf("%s: %s %s: %v", f.Outlines, x.Term, x.Side, err)
			}
			for _, p := range x.Regions {
				if err := p.Check(); err != nil {
					t.Errorf("%s: %s: %v", f.Outlines, x.Term, err)
				}
			}
			term, _ := terms.ByID(x.Term)
			seen[term.Name] = true
		}
	}
	// The structures the practice body must show on its faces; names as in the shipped list.
	for _, want := range []string{"liver", "spleen", "stomach", "trachea", "spinal cord", "abdominal aorta", "inferior vena cava", "heart", "kidney", "lung", "sacrum", "urinary bladder"} {
		if !seen[want] {
			t.Errorf("no face shows the %s", want)
		}
	}
}

func TestBuildMakesAWorkingLab(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "lab")
	from, _ := truthOf(t)
	last := 0
	if err := fill(context.Background(), dir, from, made, func(done, total int) { last = 100 * done / total }); err != nil {
		t.Fatal(err)
	}
	if last != 100 {
		t.Errorf("progress ended at %d %%", last)
	}
	lib, err := atlas.Open(dir, atlas.ReadOnly)
	if err != nil {
		t.Fatal(err)
	}
	defer lib.Close()
	if err := lib.Verify(context.Background(), func(err error) { t.Error(err) }); err != nil {
		t.Error(err)
	}
	var tied, named, bare int
	for e, err := range lib.Find(atlas.Query{}) {
		if err != nil {
			t.Fatal(err)
		}
		p, err := lib.Plate(e.Plate)
		if err != nil {
			t.Fatal(err)
		}
		if !p.Synthetic {
			t.Errorf("%s is not marked synthetic", p.Face.Name())
		}
		switch {
		case p.Registration != nil:
			tied++
		case p.Labels.Len() > 0:
			named++
		case p.PhotoUp == section.UnknownFacing:
			bare++
		}
	}
	if tied < 10 || named < 2 || bare < 2 {
		t.Errorf("%d tied, %d named, %d bare faces", tied, named, bare)
	}
	runs, err := lib.Runs()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range runs { // sound faces, every one
		faces, err := atlas.Likenesses(context.Background(), lib, r, func(int, int) {})
		if err != nil || len(faces) < 5 {
			t.Fatalf("%s: %d faces compared, %v", r.ID, len(faces), err)
		}
		if got := atlas.UnlikeNeighbours(r, faces); len(got) > 0 {
			t.Errorf("%s: flagged for nothing: %+v", r.ID, got)
		}
	}
	if err := Build(context.Background(), dir, 7, nil); err == nil {
		t.Error("a folder in use must be refused")
	}
}

func TestStoppedBuildLeavesNothing(t *testing.T) {
	parent := t.TempDir()
	ctx, cancel := context.WithCancel(context.Background())
	err := Build(ctx, filepath.Join(parent, "lab"), 7, func(done, total int) {
		if done > 20 {
			cancel()
		}
	})
	if err == nil {
		t.Fatal("a stopped build must fail")
	}
	entries, _ := os.ReadDir(filepath.Join(parent, "lab"))
	others, _ := os.ReadDir(parent)
	if len(entries) != 0 || len(others) > 1 {
		t.Errorf("left behind: %v %v", entries, others)
	}
}
