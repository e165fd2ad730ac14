package scan

import (
	"archive/tar"
	"compress/gzip"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"sectionary/slices/geom"
)

// benchSeries writes n slices of 512 x 512 into a temporary folder once; it stays there for the next run.
func benchSeries(b *testing.B, n int) string {
	b.Helper()
	dir := filepath.Join(os.TempDir(), fmt.Sprintf("sectionary-bench-%d", n))
	if entries, err := os.ReadDir(dir); err == nil && len(entries) == n {
		return dir
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		b.Fatal(err)
	}
	s := SyntheticSlice{Seed: 1, Series: 1, Code: "BENCH", Columns: 512, Rows: 512, HU: make([]int16, 512*512),
		Row: geom.Vec{X: 1}, Column: geom.Vec{Y: 1}, Spacing: [2]float64{0.7, 0.7}, Thickness: 1}
	for k := range n {
		s.Number, s.Origin = k+1, geom.LPS{Z: float64(k)}
		for i := range s.HU {
			s.HU[i] = int16((i*31+k*17)%2000 - 1000)
		}
		f, err := os.Create(filepath.Join(dir, fmt.Sprintf("%04d.dcm", k)))
		if err != nil {
			b.Fatal(err)
		}
		if err := WriteDICOM(f, s); err != nil {
			b.Fatal(err)
		}
		f.Close()
	}
	return dir
}

func benchLoad(b *testing.B, slices int) {
	files := os.DirFS(benchSeries(b, slices))
	list, _ := survey(b, files)
	b.SetBytes(int64(slices) * 512 * 512 * 2)
	for b.Loop() {
		if _, err := Load(context.Background(), files, list[0], nil); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkLoad600: 600 slices of 512 x 512; budget 10 s.
func BenchmarkLoad600(b *testing.B) { benchLoad(b, 600) }

// BenchmarkLoad300: 300 slices of 512 x 512 on every core; BenchmarkLoad300OneCore on one, beside dcmtk's loop.
func BenchmarkLoad300(b *testing.B) { benchLoad(b, 300) }

func BenchmarkLoad300OneCore(b *testing.B) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	benchLoad(b, 300)
}

func BenchmarkSurvey1000(b *testing.B) {
	files := os.DirFS(benchSeries(b, 1000))
	for b.Loop() {
		survey(b, files)
	}
}

func BenchmarkSurvey1000OneCore(b *testing.B) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	files := os.DirFS(benchSeries(b, 1000))
	for b.Loop() {
		survey(b, files)
	}
}

// benchVolume is 512 x 512 x 300 of noise-like values.
func benchVolume(b *testing.B) (*Volume, geom.Pose) {
	b.Helper()
	values := make([]int16, 512*512*300)
	for i := range values {
		values[i] = int16(i * 7919 % 4001)
	}
	v, err := NewVolume([3]int{512, 512, 300}, geom.NewAffine(geom.Vec{X: 0.7}, geom.Vec{Y: 0.7}, geom.Vec{Z: 1}, geom.LPS{X: -180, Y: -180}), values)
	if err != nil {
		b.Fatal(err)
	}
	p := geom.Pose{X: geom.Vec{X: 0.98, Y: 0.1, Z: 0.17}.Unit(), Scale: 1}
	y := geom.Vec{X: -0.1, Y: 0.97, Z: 0.2}
	p.Y = y.Sub(p.X.Mul(p.X.Dot(y))).Unit()
	p.Origin = geom.LPS{Z: 150}.Add(p.X.Mul(-179)).Add(p.Y.Mul(-179))
	return v, p
}

// BenchmarkSlice1024: an oblique cut of 1024 x 1024; budget 20 ms on two cores.
func BenchmarkSlice1024(b *testing.B) {
	v, p := benchVolume(b)
	dst := make([]float32, 1024*1024)
	for b.Loop() {
		v.Slice(dst, 1024, 1024, p, 0.35)
	}
}

func BenchmarkSliceUneven1024(b *testing.B) {
	v, p := benchVolume(b)
	for k := range v.Origins {
		v.Origins[k].Z += 0.2 * float64(k%2)
	}
	dst := make([]float32, 1024*1024)
	for b.Loop() {
		v.Slice(dst, 1024, 1024, p, 0.35)
	}
}

// BenchmarkSlab512: a slab of 20 mm at 512 x 512; budget 200 ms.
func BenchmarkSlab512(b *testing.B) {
	v, p := benchVolume(b)
	dst := make([]float32, 512*512)
	for b.Loop() {
		v.Cut(dst, 512, 512, p, 0.7, CutOptions{Thickness: 20})
	}
}

func BenchmarkCubic512(b *testing.B) {
	v, p := benchVolume(b)
	dst := make([]float32, 512*512)
	for b.Loop() {
		v.Cut(dst, 512, 512, p, 0.7, CutOptions{Cubic: true})
	}
}

func BenchmarkGray1024(b *testing.B) {
	v, p := benchVolume(b)
	dst := make([]float32, 1024*1024)
	v.Slice(dst, 1024, 1024, p, 0.35)
	w := Window{Centre: 40, Width: 400}
	for b.Loop() {
		w.Gray(dst, 1024, 1024)
	}
}

func BenchmarkWriteNIfTI(b *testing.B) {
	v, _ := benchVolume(b)
	b.SetBytes(v.Bytes())
	for b.Loop() {
		if err := v.WriteNIfTI(io.Discard); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkReadNIfTI(b *testing.B) {
	v, _ := benchVolume(b)
	path := filepath.Join(b.TempDir(), "a.nii")
	f, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	v.WriteNIfTI(f)
	f.Close()
	b.SetBytes(v.Bytes())
	for b.Loop() {
		f, err := os.Open(path)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := ReadNIfTI(f); err != nil {
			b.Fatal(err)
		}
		f.Close()
	}
}

// TestTrunk512 opens the trunk CT at full size, unpacked into a temporary folder.
func TestTrunk512(t *testing.T) {
	if testing.Short() {
		t.Skip("unpacks 70 MB")
	}
	f, err := os.Open(shared(t, "ct-trunk-512.tar.gz"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for r := tar.NewReader(z); ; {
		h, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if h.Typeflag != tar.TypeReg {
			continue
		}
		out, err := os.Create(filepath.Join(dir, filepath.Base(h.Name)))
		if err != nil {
			t.Fatal(err)
		}
		io.Copy(out, r)
		out.Close()
	}
	s, v := only(t, os.DirFS(dir))
	if s.Size != [3]int{512, 512, 134} || !near(s.Spacing()[0], 1.07421875, 1e-6) || !near(s.Spacing()[2], 3, 1e-3) || len(s.Warnings) != 0 {
		t.Errorf("%v %v %q", s.Size, s.Spacing(), s.Warnings)
	}
	small, skipped := survey(t, os.DirFS(shared(t, "ct-trunk-128")))
	if len(small) != 1 {
		t.Fatal(skipped)
	}
	w, err := Load(context.Background(), os.DirFS(shared(t, "ct-trunk-128")), small[0], nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []geom.LPS{{X: 0, Y: 30, Z: 200}, {X: 80, Y: 40, Z: 300}, {X: -100, Y: 0, Z: 400}} { // one body at two sizes
		a, b := v.Sample(p), w.Sample(p)
		if !(a > -1024 && a < 3000) || !near(a, b, 150) {
			t.Errorf("at %v: %g and %g", p, a, b)
		}
	}
}
