package scan

import (
	"bytes"
	"context"
	"io/fs"
	"math/rand/v2"
	"os"
	"runtime"
	"runtime/debug"
	"strconv"
	"testing"
	"testing/fstest"
	"time"
)

// openAll surveys one file's bytes as every kind it may be and loads what is found. It fails on nothing: only panics,
// memory and time are at stake.
func openAll(data []byte) {
	files := fstest.MapFS{"f": {Data: data}, "f.img": {Data: []byte("voxels")}}
	list, _ := Survey(context.Background(), files, nil)
	for n, s := range list {
		if n == 2 {
			break
		}
		v, err := Load(context.Background(), files, s, nil)
		if err != nil {
			continue
		}
		v.Sample(v.Origins[0])
		v.StartWindow().Level(v.Value(0, 0, 0))
	}
}

func seeds(t testing.TB) (list [][]byte) {
	list = append(list, writeInvented(t, 1), slice{}.file().Data, slice{}.implicit())
	var cases []niftiTruth
	readJSON(t, root(t)+"/testdata/scan/nifti.json", &cases)
	for i := 0; i < len(cases); i += 17 {
		for _, data := range cases[i].Files {
			list = append(list, data)
		}
	}
	fs.WalkDir(os.DirFS(truth(t, ".")), ".", func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && bytes.HasSuffix([]byte(path), []byte(".dcm")) {
			data, _ := os.ReadFile(truth(t, path))
			list = append(list, data)
		}
		return nil
	})
	return list
}

func FuzzDICOM(f *testing.F) {
	for _, data := range seeds(f) {
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) { openAll(data) })
}

func FuzzNIfTI(f *testing.F) {
	for _, data := range seeds(f) {
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		v, err := ReadNIfTI(bytes.NewReader(data))
		if err != nil {
			return
		}
		var nii, side bytes.Buffer
		if v.WriteNIfTI(&nii) == nil && v.WriteSide(&side) == nil {
			if _, err := ReadStored(&nii, &side); err != nil {
				t.Fatalf("what was written cannot be read: %v", err)
			}
		}
	})
}

func FuzzStored(f *testing.F) {
	_, v := only(f, fstest.MapFS{"a": {Data: writeInvented(f, 0)}, "b": {Data: writeInvented(f, 1)}})
	var nii, side bytes.Buffer
	v.WriteNIfTI(&nii)
	v.WriteSide(&side)
	f.Add(side.Bytes())
	f.Fuzz(func(t *testing.T, beside []byte) {
		if v, err := ReadStored(bytes.NewReader(nii.Bytes()), bytes.NewReader(beside)); err == nil {
			v.Sample(v.Origins[0])
		}
	})
}

// mutate changes a copy of data: bytes, runs, lengths, cuts and doublings.
func mutate(r *rand.Rand, data []byte) []byte {
	out := bytes.Clone(data)
	for range 1 + r.IntN(8) {
		if len(out) < 8 {
			return out
		}
		at := r.IntN(len(out))
		if r.IntN(3) > 0 { // headers matter most
			at = r.IntN(min(len(out), 2000))
		}
		switch r.IntN(6) {
		case 0:
			out[at] = byte(r.IntN(256))
		case 1:
			copy(out[at:], []byte{0xff, 0xff, 0xff, 0xff})
		case 2:
			copy(out[at:], []byte{0, 0, 0, 0})
		case 3:
			out = out[:at]
		case 4:
			out = append(out[:at:at], out[min(len(out), at+r.IntN(64)):]...)
		default:
			end := min(len(out), at+r.IntN(256))
			out = append(out[:end:end], out[at:]...)
		}
	}
	return out
}

// TestMutatedFiles opens 10,000 damaged files, of real syntaxes where they are here: no panic, each under 2 s, memory
// under 2 GB. Short runs open 1,000.
func TestMutatedFiles(t *testing.T) {
	list := seeds(t)
	fs.WalkDir(os.DirFS(root(t)+"/../shared/data/dicom-syntaxes"), ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return nil
		}
		if info, err := d.Info(); err == nil && info.Size() < 200_000 {
			data, _ := os.ReadFile(root(t) + "/../shared/data/dicom-syntaxes/" + path)
			list = append(list, data)
		}
		return nil
	})
	total := 1000
	if n, err := strconv.Atoi(os.Getenv("SCAN_MUTATIONS")); err == nil {
		total = n
	}
	r := rand.New(rand.NewPCG(1, 2))
	var worst time.Duration
	for n := range total {
		data := mutate(r, list[n%len(list)])
		func() {
			defer func() {
				if p := recover(); p != nil {
					t.Errorf("file %d panics: %v\n%s", n, p, debug.Stack())
				}
			}()
			start := time.Now()
			openAll(data)
			worst = max(worst, time.Since(start))
		}()
	}
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	t.Logf("%d files, slowest %v, %d MB taken from the system", total, worst, m.Sys>>20)
	if worst > 2*time.Second || m.Sys > 2<<30 {
		t.Errorf("slowest %v, %d MB", worst, m.Sys>>20)
	}
}
