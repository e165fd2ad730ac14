package register

import (
	"compress/gzip"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"image"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"

	"sectionary/slices/geom"
)

// shared returns the path of a file of the shared reference material, or skips.
func sharedFile(t testing.TB, parts ...string) string {
	t.Helper()
	p := filepath.Join(append([]string{"..", "..", "..", "shared"}, parts...)...)
	if _, err := os.Stat(p); err != nil {
		t.Skipf("the reference material (%s) is not on this machine", filepath.Join(parts...))
	}
	return p
}

// grid is a volume of the tests: sheared or turned by no more than an affine, trilinear, NaN outside.
type grid struct {
	size  [3]int
	toLPS geom.Affine
	v     []float32
	back  func(geom.LPS) geom.IJK
}

func newGrid(size [3]int, a geom.Affine) *grid {
	back, err := a.Inverse()
	if err != nil {
		panic(err)
	}
	return &grid{size, a, make([]float32, size[0]*size[1]*size[2]), back}
}

func (g *grid) Slice(dst []float32, w, h int, p geom.Pose, spacing float64) {
	o := g.back(p.At(geom.MM{}))
	dx, dy := g.back(p.At(geom.MM{X: spacing})), g.back(p.At(geom.MM{Y: spacing}))
	row, layer := g.size[0], g.size[0]*g.size[1]
	for j := range h {
		for i := range w {
			x := [3]float64{
				o.I + float64(i)*(dx.I-o.I) + float64(j)*(dy.I-o.I),
				o.J + float64(i)*(dx.J-o.J) + float64(j)*(dy.J-o.J),
				o.K + float64(i)*(dx.K-o.K) + float64(j)*(dy.K-o.K),
			}
			var c [3]int
			var f [3]float32
			in := true
			for k := range 3 {
				if !(x[k] >= 0 && x[k] <= float64(g.size[k]-1)) {
					in = false
					break
				}
				c[k] = min(int(x[k]), g.size[k]-2)
				f[k] = float32(x[k] - float64(c[k]))
			}
			if !in {
				dst[j*w+i] = float32(math.NaN())
				continue
			}
			v := g.v[c[2]*layer+c[1]*row+c[0]:]
			a := v[0] + f[0]*(v[1]-v[0])
			b := v[row] + f[0]*(v[row+1]-v[row])
			d := v[layer] + f[0]*(v[layer+1]-v[layer])
			e := v[layer+row] + f[0]*(v[layer+row+1]-v[layer+row])
			a, d = a+f[1]*(b-a), d+f[1]*(e-d)
			dst[j*w+i] = a + f[2]*(d-a)
		}
	}
}

func (g *grid) Sample(p geom.LPS) float64 {
	one := make([]float32, 1)
	g.Slice(one, 1, 1, geom.Pose{Origin: p, X: geom.Vec{X: 1}, Y: geom.Vec{Y: 1}, Scale: 1}, 1)
	return float64(one[0])
}

// phantomCT reads the reference phantom, a NIfTI-1 image of 16-bit values with the axes given beside it.
func phantomCT(t testing.TB) *grid {
	t.Helper()
	f, err := os.Open(sharedFile(t, "truth", "phantom_ct.nii.gz"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	size := [3]int{112, 84, 90}
	if n := binary.LittleEndian.Uint16(b[42:]); int(n) != size[0] {
		t.Fatalf("%d columns", n)
	}
	g := newGrid(size, geom.NewAffine(geom.Vec{X: 3}, geom.Vec{Y: 3}, geom.Vec{Z: 3}, geom.LPS{X: -166.5, Y: -124.5, Z: -133.5}))
	for i := range g.v {
		g.v[i] = float32(int16(binary.LittleEndian.Uint16(b[352+2*i:])))
	}
	return g
}

type phantomSection struct {
	Size   [2]int        `json:"size"`
	R      [3][3]float64 `json:"R_columns_U_V_N"`
	Centre geom.LPS      `json:"centre_lps_mm"`
	Origin geom.LPS      `json:"origin_pixel00_lps_mm"`
	grey   *image.Gray
}

func (s phantomSection) column(n int) geom.Vec {
	return geom.Vec{X: s.R[0][n], Y: s.R[1][n], Z: s.R[2][n]}
}

func (s phantomSection) pose() geom.Pose {
	return geom.Pose{Origin: s.Origin, X: s.column(0), Y: s.column(1), Scale: 1}
}

func phantomSections(t testing.TB) []phantomSection {
	t.Helper()
	var p struct{ Sections []phantomSection }
	b, err := os.ReadFile(sharedFile(t, "truth", "phantom.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &p); err != nil {
		t.Fatal(err)
	}
	for i := range p.Sections {
		s := &p.Sections[i]
		s.grey = image.NewGray(image.Rect(0, 0, s.Size[0], s.Size[1]))
		raw, err := os.ReadFile(sharedFile(t, "truth", fmt.Sprintf("section_%d_grey.raw", i)))
		if err != nil {
			t.Fatal(err)
		}
		copy(s.grey.Pix, raw)
	}
	return p.Sections
}
