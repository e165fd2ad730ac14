package scan

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"math"
	"os"
	"strings"
	"testing"
	"testing/fstest"

	"sectionary/slices/geom"
)

type niftiTruth struct {
	Name             string
	Files            map[string][]byte
	Shape            [3]int
	Sum, First, Last float64
	Oriented         bool
	Affine           [4][4]float64
	Axes             string
}

// files puts a case's bytes under the names a folder would have.
func (c niftiTruth) files() fstest.MapFS {
	if header, ok := c.Files["header"]; ok {
		return fstest.MapFS{"scan.hdr": {Data: header}, "scan.img": {Data: c.Files["image"]}}
	}
	return fstest.MapFS{"scan.nii": {Data: c.Files["image"]}}
}

// TestNIfTITruth compares with nibabel 5.0.0 (testdata/gen/scan_nifti.py): all 48 axis orders by sform and by qform, every
// data type in both byte orders as NIfTI-1 and -2, single and paired, scale slopes of every trap.
func TestNIfTITruth(t *testing.T) {
	var cases []niftiTruth
	readJSON(t, root(t)+"/testdata/scan/nifti.json", &cases)
	if len(cases) < 200 {
		t.Fatalf("%d cases", len(cases))
	}
	for _, c := range cases {
		list, skipped := survey(t, c.files())
		if len(list) == 0 || len(skipped) != 0 {
			t.Errorf("%s: %d series, skipped %v", c.Name, len(list), skipped)
			continue
		}
		v, err := Load(context.Background(), c.files(), list[0], nil)
		if err != nil {
			t.Errorf("%s: %v", c.Name, err)
			continue
		}
		c.check(t, v)
	}
}

func (c niftiTruth) check(t *testing.T, v *Volume) {
	t.Helper()
	if v.Size != c.Shape || v.Unoriented == c.Oriented {
		t.Errorf("%s: size %v oriented %v, want %v %v", c.Name, v.Size, !v.Unoriented, c.Shape, c.Oriented)
		return
	}
	var sum float64
	for k := range c.Shape[2] {
		for j := range c.Shape[1] {
			for i := range c.Shape[0] {
				sum += v.Value(i, j, k)
			}
		}
	}
	large := math.Max(math.Abs(c.First), math.Max(math.Abs(c.Last), math.Abs(c.Sum)))
	within := 24 * 6e-8 * large // float32 holds what int16 cannot
	if !near(sum, c.Sum, within) || !near(v.Value(0, 0, 0), c.First, within) ||
		!near(v.Value(c.Shape[0]-1, c.Shape[1]-1, c.Shape[2]-1), c.Last, within) {
		t.Errorf("%s: sum %g first %g, want %g %g", c.Name, sum, v.Value(0, 0, 0), c.Sum, c.First)
	}
	if !c.Oriented {
		return
	}
	ras := rasOf(v.ToLPS)
	for r := range 3 {
		for n := range 4 {
			if !near(ras[4*r+n], c.Affine[r][n], 1e-4) {
				t.Errorf("%s: affine %v, want %v", c.Name, ras, c.Affine)
				return
			}
		}
	}
}

// TestNIfTIRoundTrip: what is written and read again is the same volume, and nibabel's truth still holds for it.
func TestNIfTIRoundTrip(t *testing.T) {
	var cases []niftiTruth
	readJSON(t, root(t)+"/testdata/scan/nifti.json", &cases)
	for _, c := range cases {
		list, _ := survey(t, c.files())
		v, err := Load(context.Background(), c.files(), list[0], nil)
		if err != nil {
			t.Fatal(err)
		}
		var nii, side bytes.Buffer
		if err := errors.Join(v.WriteNIfTI(&nii), v.WriteSide(&side)); err != nil {
			t.Fatal(err)
		}
		plain, err := ReadNIfTI(bytes.NewReader(nii.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		c.check(t, plain)
		if strings.HasPrefix(c.Name, "qform ") { // read by quaternion alone: wipe the sform code
			wiped := bytes.Clone(nii.Bytes())
			wiped[254] = 0
			if plain, err = ReadNIfTI(bytes.NewReader(wiped)); err != nil {
				t.Fatal(err)
			}
			c.check(t, plain)
		}
		whole, err := ReadStored(&nii, &side)
		if err != nil {
			t.Fatal(err)
		}
		if whole.ToLPS != v.ToLPS || whole.Slope != v.Slope || whole.Intercept != v.Intercept || whole.Value(1, 1, 0) != v.Value(1, 1, 0) ||
			whole.Unoriented != v.Unoriented || whole.UID != v.UID || len(whole.Origins) != len(v.Origins) {
			t.Errorf("%s: came back as %+v", c.Name, whole.Series())
		}
	}
}

// TestObliqueQS: a file nibabel wrote from an oblique DICOM stack lies where the stack lies (geometry.json nifti).
func TestObliqueQS(t *testing.T) {
	var g struct {
		NIfTI struct {
			IJK [3]float64 `json:"ijk"`
			LPS [3]float64 `json:"lps_mm"`
		}
	}
	readJSON(t, truth(t, "geometry.json"), &g)
	data, err := os.ReadFile(truth(t, "oblique_qs.nii"))
	if err != nil {
		t.Fatal(err)
	}
	for _, form := range []int{254, 252} { // wipe sform, then qform
		wiped := bytes.Clone(data)
		wiped[form] = 0
		v, err := ReadNIfTI(bytes.NewReader(wiped))
		if err != nil {
			t.Fatal(err)
		}
		got := v.ToLPS.LPS(geom.IJK{I: g.NIfTI.IJK[0], J: g.NIfTI.IJK[1], K: g.NIfTI.IJK[2]})
		if got.Dist(geom.LPS(vec(g.NIfTI.LPS))) > 1e-4 {
			t.Errorf("voxel lies at %v, want %v", got, g.NIfTI.LPS)
		}
	}
}

// TestTimeSeries: the volumes of one file are kept apart and each can be loaded, plain and packed.
func TestTimeSeries(t *testing.T) {
	var cases []niftiTruth
	readJSON(t, root(t)+"/testdata/scan/nifti.json", &cases)
	for _, c := range cases {
		if c.Name != "three volumes" {
			continue
		}
		var packed bytes.Buffer
		z := gzip.NewWriter(&packed)
		z.Write(c.Files["image"])
		z.Close()
		plain, gz := c.files(), fstest.MapFS{"scan.nii.gz": {Data: packed.Bytes()}}
		a, _ := survey(t, plain)
		b, _ := survey(t, gz)
		if len(a) != 3 || len(b) != 3 || a[0].UID == a[1].UID {
			t.Fatalf("%d and %d volumes", len(a), len(b))
		}
		for n := range a {
			v, err := Load(context.Background(), plain, a[n], nil)
			w, err2 := Load(context.Background(), gz, b[n], nil)
			if err != nil || err2 != nil {
				t.Fatal(err, err2)
			}
			at := 352 + 2*24*n
			want := float64(int16(uint16(c.Files["image"][at]) | uint16(c.Files["image"][at+1])<<8))
			if v.Value(0, 0, 0) != want || w.Value(0, 0, 0) != want {
				t.Errorf("volume %d starts with %g and %g, want %g", n, v.Value(0, 0, 0), w.Value(0, 0, 0), want)
			}
		}
		return
	}
	t.Fatal("no time series among the cases")
}

func TestNIfTIRefusals(t *testing.T) {
	var cases []niftiTruth
	readJSON(t, root(t)+"/testdata/scan/nifti.json", &cases)
	good := cases[0].Files["image"]
	var header []byte
	for _, c := range cases {
		if h := c.Files["header"]; h != nil {
			header = h
		}
	}
	big := bytes.Clone(good)
	big[42], big[44], big[46] = 100, 100, 100
	change := func(f func(b []byte)) fstest.MapFS {
		b := bytes.Clone(good)
		f(b)
		return fstest.MapFS{"a.nii": {Data: b}}
	}
	for name, c := range map[string]struct {
		files fstest.MapFS
		want  error
	}{
		"cut short":        {fstest.MapFS{"a.nii": {Data: good[:360]}}, ErrDamaged},
		"cut far behind":   {fstest.MapFS{"a.nii": {Data: append(big, make([]byte, 20000)...)}}, ErrDamaged},
		"huge claim":       {change(func(b []byte) { copy(b[42:], "\xff\x7f\xff\x7f\xff\x7f") }), ErrTooLarge},
		"no dimensions":    {change(func(b []byte) { b[40] = 0 }), ErrDamaged},
		"negative side":    {change(func(b []byte) { b[43] = 0x80 }), ErrDamaged},
		"binary voxels":    {change(func(b []byte) { b[70] = 1 }), ErrUnsupported},
		"no voxels beside": {fstest.MapFS{"a.hdr": {Data: header}}, ErrUnsupported},
		"analyze":          {change(func(b []byte) { copy(b[344:], "\x00\x00\x00\x00") }), ErrUnsupported},
		"text":             {fstest.MapFS{"a.nii": {Data: []byte(strings.Repeat("some text ", 100))}}, ErrNotScan},
	} {
		list, skipped := survey(t, c.files)
		if len(list) != 0 {
			t.Errorf("%s: surveyed as %v", name, list[0].Record())
		}
		for path, err := range skipped {
			if !errors.Is(err, c.want) {
				t.Errorf("%s: %s: %v, want %v", name, path, err, c.want)
			}
		}
	}
}

// TestTrunkNIfTI: the real trunk CT as NIfTI is the same volume as its DICOM files (../shared/data README).
func TestTrunkNIfTI(t *testing.T) {
	_, a := only(t, os.DirFS(shared(t, "nifti")))
	_, b := only(t, os.DirFS(shared(t, "ct-trunk-128")))
	sameVolume(t, a, b, 1e-3)
}

// sameVolume holds b, a stack of DICOM files, to a, its NIfTI truth: every voxel of a lies in b at the same place.
func sameVolume(t *testing.T, a, b *Volume, within float64) {
	t.Helper()
	if a.Size[0]*a.Size[1]*a.Size[2] != b.Size[0]*b.Size[1]*b.Size[2] {
		t.Errorf("sizes %v and %v", a.Size, b.Size)
		return
	}
	back, err := b.ToLPS.Inverse()
	if err != nil {
		t.Fatal(err)
	}
	for k := range a.Size[2] {
		for j := 0; j < a.Size[1]; j += 3 {
			for i := 0; i < a.Size[0]; i += 3 {
				p := back(a.ToLPS.LPS(geom.IJK{I: float64(i), J: float64(j), K: float64(k)}))
				x, y, z := math.Round(p.I), math.Round(p.J), math.Round(p.K)
				if math.Abs(p.I-x)+math.Abs(p.J-y)+math.Abs(p.K-z) > 0.02 {
					t.Errorf("voxel %d %d %d lies at %v", i, j, k, p)
					return
				}
				if got := b.Value(int(x), int(y), int(z)); !near(got, a.Value(i, j, k), within) {
					t.Errorf("voxel %d %d %d is %g, want %g", i, j, k, got, a.Value(i, j, k))
					return
				}
			}
		}
	}
}
