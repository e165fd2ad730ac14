package scan

import (
	"encoding/binary"
	"math"
	"os"
	"testing"

	"pgregory.net/rapid"

	"sectionary/slices/geom"
)

type mprTruth struct {
	Dims    [3]int     `json:"dims_xyz"`
	Spacing [3]float64 `json:"spacing_mm"`
	Plane   struct {
		Centre        [3]float64 `json:"centre_mm"`
		U, V          [3]float64
		Width, Height int
		Pixel         float64 `json:"pixel_mm"`
	}
}

func vec(x [3]float64) geom.Vec { return geom.Vec{X: x[0], Y: x[1], Z: x[2]} }

// mpr returns the volume and plane of mpr.json.
func mpr(t *testing.T) (*Volume, geom.Pose, mprTruth) {
	var m mprTruth
	readJSON(t, truth(t, "mpr.json"), &m)
	raw, err := os.ReadFile(truth(t, "mpr_volume_i16_z16_y20_x24.raw"))
	if err != nil {
		t.Fatal(err)
	}
	values := make([]int16, len(raw)/2)
	for i := range values {
		values[i] = int16(binary.LittleEndian.Uint16(raw[2*i:]))
	}
	v, err := NewVolume(m.Dims, geom.NewAffine(geom.Vec{X: m.Spacing[0]}, geom.Vec{Y: m.Spacing[1]}, geom.Vec{Z: m.Spacing[2]}, geom.LPS{}), values)
	if err != nil {
		t.Fatal(err)
	}
	p := geom.Pose{X: vec(m.Plane.U), Y: vec(m.Plane.V), Scale: 1}
	p.Origin = geom.LPS(vec(m.Plane.Centre)).
		Add(p.X.Mul(-float64(m.Plane.Width-1) / 2 * m.Plane.Pixel)).Add(p.Y.Mul(-float64(m.Plane.Height-1) / 2 * m.Plane.Pixel))
	return v, p, m
}

// TestCutTruth compares with scipy 1.10.1 map_coordinates (mpr.json and its tables; ITK 5.2.1 agrees to 5e-7 on linear).
// Values are held as float32, so the tolerance is 1e-6 of the range.
func TestCutTruth(t *testing.T) {
	v, p, m := mpr(t)
	least, most := v.Range()
	within := 1e-6 * (most - least)
	for name, o := range map[string]CutOptions{
		"mpr_linear.csv":            {},
		"mpr_catmull.csv":           {Cubic: true},
		"mpr_slab6mm_linear_12.csv": {Thickness: 6, Samples: 12},
		"mpr_slab6mm_max_12.csv":    {Thickness: 6, Samples: 12, Projection: Max},
	} {
		want := readNumbers(t, truth(t, name))
		inside := readNumbers(t, truth(t, "mpr_inside.csv"))
		got := make([]float32, len(want))
		v.Cut(got, m.Plane.Width, m.Plane.Height, p, m.Plane.Pixel, o)
		checked := 0
		for i := range want {
			if inside[i] != 1 || math.IsNaN(float64(got[i])) && o.Thickness > 0 {
				continue // the reference fills slabs beyond the volume with a constant
			}
			if checked++; !near(float64(got[i]), want[i], within) {
				t.Errorf("%s: pixel %d is %g, want %g", name, i, got[i], want[i])
			}
		}
		if checked < 200 {
			t.Errorf("%s: only %d pixels were compared", name, checked)
		}
	}
}

// TestSlabFinerIsClose: left to choose, the slab takes enough samples to lie within 0.1 % of range of 240 midpoints.
func TestSlabFinerIsClose(t *testing.T) {
	v, p, m := mpr(t)
	n := m.Plane.Width * m.Plane.Height
	auto, fine := make([]float32, n), make([]float32, n)
	v.Cut(auto, m.Plane.Width, m.Plane.Height, p, m.Plane.Pixel, CutOptions{Thickness: 6})
	v.Cut(fine, m.Plane.Width, m.Plane.Height, p, m.Plane.Pixel, CutOptions{Thickness: 6, Samples: 240})
	least, most := v.Range()
	for i := range auto {
		if !near(float64(auto[i]), float64(fine[i]), 1e-3*(most-least)) {
			t.Errorf("pixel %d: %g against %g", i, auto[i], fine[i])
		}
	}
}

// linearVolume holds values that change linearly over the patient, so that any trilinear cut is exact wherever it is
// defined: a property of interpolation that needs no reference program.
func linearVolume(size [3]int, origins []geom.LPS, col, row geom.Vec, f func(geom.LPS) float64) *Volume {
	step := origins[len(origins)-1].Sub(origins[0]).Mul(1 / float64(len(origins)-1))
	v := &Volume{Size: size, ToLPS: geom.NewAffine(col, row, step, origins[0]), Origins: origins,
		Gaps: make([]bool, size[2]-1), Slope: 1}
	for _, o := range origins {
		for j := range size[1] {
			for i := range size[0] {
				v.floats = append(v.floats, float32(f(o.Add(col.Mul(float64(i))).Add(row.Mul(float64(j))))))
			}
		}
	}
	return v
}

// TestLinearFieldIsExact: uneven spacing, a slanted stack and any pose reproduce a linear field within float32 rounding.
func TestLinearFieldIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		angle := rapid.Float64Range(-1, 1)
		turn := func(a, b, c float64) (x, y, z geom.Vec) {
			x = geom.Vec{X: 1, Y: a, Z: b}.Unit()
			y = geom.Vec{X: -a, Y: 1, Z: c}
			y = y.Sub(x.Mul(x.Dot(y))).Unit()
			return x, y, x.Cross(y)
		}
		col, row, n := turn(angle.Draw(t, "a"), angle.Draw(t, "b"), angle.Draw(t, "c"))
		slant := col.Mul(angle.Draw(t, "slant") / 2).Add(row.Mul(angle.Draw(t, "slant2") / 2))
		origins := []geom.LPS{{X: -30, Y: 12, Z: 400}}
		for range 8 {
			gap := rapid.Float64Range(0.6, 4).Draw(t, "spacing")
			origins = append(origins, origins[len(origins)-1].Add(n.Add(slant).Mul(gap)))
		}
		field := func(p geom.LPS) float64 { return 3*p.X - 2*p.Y + 0.5*p.Z + 7 }
		v := linearVolume([3]int{12, 9, 9}, origins, col.Mul(0.8), row.Mul(1.3), field)
		x, y, _ := turn(angle.Draw(t, "pa"), angle.Draw(t, "pb"), angle.Draw(t, "pc"))
		p := geom.Pose{Origin: origins[4].Add(col.Mul(4)).Add(row.Mul(5)).Add(x.Mul(-6)).Add(y.Mul(-6)), X: x, Y: y, Scale: 1}
		dst := make([]float32, 25*25)
		v.Slice(dst, 25, 25, p, 0.5)
		seen := 0
		for i, got := range dst {
			at := p.At(geom.MM{X: 0.5 * float64(i%25), Y: 0.5 * float64(i/25)})
			if got != got {
				continue
			}
			seen++
			if want := field(at); !near(float64(got), want, 2e-3) {
				t.Fatalf("pixel %d is %g, want %g", i, got, want)
			}
		}
		if seen == 0 {
			t.Fatal("nothing was cut")
		}
	})
}

// TestGapStaysEmpty: between slices with others missing nothing is drawn, on them everything.
func TestGapStaysEmpty(t *testing.T) {
	origins := []geom.LPS{{}, {Z: 2}, {Z: 4}, {Z: 8}, {Z: 10}}
	v := linearVolume([3]int{4, 4, 5}, origins, geom.Vec{X: 1}, geom.Vec{Y: 1}, func(p geom.LPS) float64 { return p.Z })
	v.Gaps[2] = true
	for z, want := range map[float64]float64{3.9: 3.9, 4: 4, 4.1: math.NaN(), 6: math.NaN(), 7.9: math.NaN(), 8: 8, 8.5: 8.5, -0.1: math.NaN(), 10: 10, 10.1: math.NaN()} {
		got := v.Sample(geom.LPS{X: 1.5, Y: 1.5, Z: z})
		if math.IsNaN(want) != math.IsNaN(got) || !math.IsNaN(want) && !near(got, want, 1e-5) {
			t.Errorf("at %g mm: %g, want %g", z, got, want)
		}
	}
	for _, cubic := range []bool{false, true} {
		dst := make([]float32, 3)
		up := geom.Pose{Origin: geom.LPS{X: 1.5, Y: 1.5, Z: 5}, X: geom.Vec{X: 1}, Y: geom.Vec{Y: 1}, Scale: 1}
		v.Cut(dst, 3, 1, up, 0.1, CutOptions{Cubic: cubic})
		v.Cut(dst[1:], 2, 1, up.Shift(geom.Vec{Z: -2}), 0.1, CutOptions{Cubic: cubic, Thickness: 3})
		if dst[0] == dst[0] || dst[1] == dst[1] {
			t.Errorf("cubic %v: %v was drawn into a gap", cubic, dst)
		}
	}
}

// TestMovedTable: where the table moved, each slice is met at its own place.
func TestMovedTable(t *testing.T) {
	origins := []geom.LPS{{}, {Z: 2}, {X: 10, Z: 4}, {X: 10, Z: 6}}
	field := func(p geom.LPS) float64 { return 2*p.X + p.Y }
	v := linearVolume([3]int{20, 6, 4}, origins, geom.Vec{X: 1}, geom.Vec{Y: 1}, field)
	for _, p := range []geom.LPS{{X: 12, Y: 3, Z: 0}, {X: 12.5, Y: 3, Z: 2}, {X: 12.5, Y: 2, Z: 3}, {X: 25, Y: 3, Z: 5}} {
		if got := v.Sample(p); !near(got, field(p), 1e-4) {
			t.Errorf("at %v: %g, want %g", p, got, field(p))
		}
	}
	if got := v.Sample(geom.LPS{X: 5, Y: 3, Z: 6}); !math.IsNaN(got) {
		t.Errorf("beside the moved slices: %g", got)
	}
}

// TestSphereEdge: the half-way level of a sphere lies within half a voxel of its radius on any cut through its centre.
func TestSphereEdge(t *testing.T) {
	const r = 11.3
	size := [3]int{40, 40, 20}
	values := make([]int16, 40*40*20)
	for n := range values {
		i, j, k := float64(n%40), float64(n/40%40), float64(n/1600)
		d := math.Sqrt((i-20)*(i-20) + (j-20)*(j-20) + 4*(k-10)*(k-10))
		values[n] = int16(1000 * math.Max(0, math.Min(1, r-d+0.5)))
	}
	v, err := NewVolume(size, geom.NewAffine(geom.Vec{X: 1}, geom.Vec{Y: 1}, geom.Vec{Z: 2}, geom.LPS{}), values)
	if err != nil {
		t.Fatal(err)
	}
	for turn := range 12 {
		a := float64(turn) * 0.37
		d := geom.Vec{X: math.Cos(a) * math.Cos(2*a), Y: math.Sin(a) * math.Cos(2*a), Z: math.Sin(2 * a)}
		inside, outside := 0.0, 18.0
		for range 40 {
			mid := (inside + outside) / 2
			if v.Sample(geom.LPS{X: 20, Y: 20, Z: 20}.Add(d.Mul(mid))) > 500 {
				inside = mid
			} else {
				outside = mid
			}
		}
		if !near(inside, r, 0.5) {
			t.Errorf("along %v the edge lies at %g mm, want %g", d, inside, r)
		}
	}
}

// TestCutEdges: a cut that only grazes the volume, or misses it, is empty and never panics.
func TestCutEdges(t *testing.T) {
	v, p, _ := mpr(t)
	dst := make([]float32, 64*64)
	for _, far := range []geom.Vec{{X: 1e9}, {Z: -1e12}, {X: math.NaN()}, {Y: math.Inf(1)}} {
		for _, cubic := range []bool{false, true} {
			v.Cut(dst, 64, 64, p.Shift(far), 0.5, CutOptions{Cubic: cubic, Thickness: 3, Samples: 3})
			for _, x := range dst {
				if x == x {
					t.Fatalf("shifted by %v something was cut: %g", far, x)
				}
			}
		}
	}
	v.Slice(dst, 64, 64, geom.Pose{}, 0)
	v.Slice(dst, 0, 0, p, 1)
}
