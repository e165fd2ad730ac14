package scan

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"sectionary/slices/geom"
)

type geometryTruth struct {
	Planes struct {
		Cases []struct {
			Name        string
			Position    [3]float64 `json:"ImagePositionPatient"`
			Orientation [6]float64 `json:"ImageOrientationPatient"`
			Spacing     [2]float64 `json:"PixelSpacing_row_col"`
			Normal      [3]float64
			Coordinate  float64 `json:"slice_coordinate"`
			Points      []struct {
				Col, Row float64
				LPS      [3]float64 `json:"lps_mm"`
			}
		}
	} `json:"plane_mapping"`
	Sorting struct {
		Order     []string  `json:"expect_order"`
		Positions []float64 `json:"expect_positions"`
	}
	Tilt struct {
		Orientation   [6]float64    `json:"iop"`
		Positions     [][3]float64  `json:"ipps"`
		Perpendicular float64       `json:"perpendicular_spacing_mm"`
		Angle         float64       `json:"angle_between_normal_and_step_deg"`
		Affine        [3][4]float64 `json:"affine_col_row_slice"`
	} `json:"gantry_tilt"`
}

func hasWarning(s Series, words ...string) bool {
	return slices.ContainsFunc(s.Warnings, func(w string) bool {
		for _, x := range words {
			if !strings.Contains(w, x) {
				return false
			}
		}
		return true
	})
}

// TestPlaneMapping: pixel centres in patient mm for four planes (geometry.json, PS3.3 C.7.6.2.1.1), 1e-6 mm.
func TestPlaneMapping(t *testing.T) {
	var g geometryTruth
	readJSON(t, truth(t, "geometry.json"), &g)
	for _, c := range g.Planes.Cases {
		list, _ := survey(t, fstest.MapFS{"a": slice{position: c.Position, orientation: c.Orientation, spacing: c.Spacing}.file()})
		s := list[0]
		for _, p := range c.Points {
			if got := s.ToLPS.LPS(geom.IJK{I: p.Col, J: p.Row}); got.Dist(geom.LPS(vec(p.LPS))) > 1e-6 {
				t.Errorf("%s: pixel %g %g lies at %v, want %v", c.Name, p.Col, p.Row, got, p.LPS)
			}
		}
		if s.Normal().Sub(vec(c.Normal)).Len() > 1e-8 || !near(s.Positions[0], c.Coordinate, 1e-6) {
			t.Errorf("%s: normal %v at %g", c.Name, s.Normal(), s.Positions[0])
		}
	}
}

// TestSortingTruth: shuffled files with misleading instance numbers and one missing slice (geometry.json sorting).
func TestSortingTruth(t *testing.T) {
	var g geometryTruth
	readJSON(t, truth(t, "geometry.json"), &g)
	list, skipped := survey(t, os.DirFS(truth(t, "dicom_oblique")))
	if len(list) != 1 || len(skipped) != 0 {
		t.Fatal(len(list), skipped)
	}
	s := list[0]
	for i, name := range g.Sorting.Order {
		if s.Files[i] != name+".dcm" || !near(s.Positions[i], g.Sorting.Positions[i], 1e-6) {
			t.Errorf("slice %d is %s at %g, want %s at %g", i, s.Files[i], s.Positions[i], name, g.Sorting.Positions[i])
		}
	}
	if want := []bool{false, false, false, false, true, false, false, false}; !slices.Equal(s.Gaps, want) {
		t.Errorf("gaps %v", s.Gaps)
	}
	if !hasWarning(s, "1 slice is missing between slice 5 and slice 6", "5.00 mm", "2.50 mm") || len(s.Warnings) != 1 {
		t.Errorf("warnings %q", s.Warnings)
	}
	if !near(s.Spacing()[2], 2.5, 1e-4) || len(s.Windows) != 2 || s.Windows[1].Centre != -600 {
		t.Errorf("spacing %v windows %v", s.Spacing(), s.Windows)
	}
	v, err := Load(context.Background(), os.DirFS(truth(t, "dicom_oblique")), s, nil)
	if err != nil {
		t.Fatal(err)
	}
	for k, at := range []int{0, 1, 2, 3, 4, 6, 7, 8, 9} { // stored value 1024 + 100 k + pixel (mk_geometry.py)
		if got := v.Value(2, 3, k); got != float64(100*at+3*8+2) {
			t.Errorf("slice %d holds %g", k, got)
		}
	}
}

// TestGantryTilt: a slanted stack keeps its sheared affine (geometry.json gantry_tilt), 1e-6 mm.
func TestGantryTilt(t *testing.T) {
	var g geometryTruth
	readJSON(t, truth(t, "geometry.json"), &g)
	files := fstest.MapFS{}
	for i, p := range g.Tilt.Positions {
		files[fmt.Sprint(9-i)] = slice{position: p, orientation: g.Tilt.Orientation, spacing: [2]float64{0.5, 0.5}}.file()
	}
	list, _ := survey(t, files)
	s := list[0]
	for r := range 3 {
		for n := range 4 {
			if got := s.ToLPS[4*r+n]; !near(got, g.Tilt.Affine[r][n], 1e-6) {
				t.Errorf("affine row %d column %d is %g, want %g", r, n, got, g.Tilt.Affine[r][n])
			}
		}
	}
	if !near(s.Tilt()*180/math.Pi, g.Tilt.Angle, 1e-6) || !near(s.Spacing()[2], g.Tilt.Perpendicular, 1e-6) {
		t.Errorf("tilt %g spacing %v", s.Tilt()*180/math.Pi, s.Spacing())
	}
	if !hasWarning(s, "15.0 degrees") {
		t.Errorf("warnings %q", s.Warnings)
	}
}

// stackFiles makes n axial slices with the given z of each.
func stackFiles(zs []float64, change func(i int, s *slice)) fstest.MapFS {
	files := fstest.MapFS{}
	for i, z := range zs {
		s := slice{position: [3]float64{-10, -20, z}, instance: 100 - i, fill: 10 * i}
		if change != nil {
			change(i, &s)
		}
		files[fmt.Sprintf("%03d.dcm", (i*37)%1000)] = s.file()
	}
	return files
}

func every(n int, step float64) (zs []float64) {
	for i := range n {
		zs = append(zs, float64(i)*step)
	}
	return zs
}

// TestWarnings: made series of every trouble. The rules are the trade's (0.1 mm or 5 %).
func TestWarnings(t *testing.T) {
	overview := func(i int, s *slice) {
		if i >= 6 {
			s.position[0] = float64(i)
			s.kind, s.orientation = `ORIGINAL\PRIMARY\LOCALIZER`, [6]float64{0, 1, 0, 0, 0, -1}
		}
	}
	type result struct {
		slices   []int // of each series, in order
		warnings []string
		gaps     int
		skipped  int
	}
	for name, c := range map[string]struct {
		files fstest.MapFS
		want  result
	}{
		"even":              {stackFiles(every(8, 2), nil), result{slices: []int{8}}},
		"rounded positions": {stackFiles([]float64{0, 1.67, 3.33, 5, 6.67, 8.33}, nil), result{slices: []int{6}}},
		"one missing":       {stackFiles([]float64{0, 2, 4, 8, 10}, nil), result{[]int{5}, []string{"1 slice is missing between slice 3 and slice 4"}, 1, 0}},
		"three missing":     {stackFiles([]float64{0, 2, 4, 12, 14}, nil), result{[]int{5}, []string{"3 slices are missing"}, 1, 0}},
		"uneven":            {stackFiles([]float64{0, 2, 4.15, 6, 8}, nil), result{[]int{5}, []string{"uneven, 1.85 to 2.15 mm"}, 0, 0}},
		"uneven by share":   {stackFiles([]float64{0, 1, 2.06, 3, 4}, nil), result{[]int{5}, []string{"uneven"}, 0, 0}},
		"spacing changes": {stackFiles([]float64{0, 2, 4, 6, 8, 13, 18, 23, 28}, func(i int, s *slice) {
			s.thickness = 2
			if i > 3 {
				s.thickness = 5
			}
		}), result{[]int{9}, []string{"uneven, 2.00 to 5.00 mm"}, 0, 0}},
		"every other lost": {stackFiles([]float64{0, 2, 4, 6, 8, 12, 16, 20}, func(i int, s *slice) { s.thickness = 2 }),
			result{[]int{8}, []string{"missing"}, 3, 0}},
		"repeats":     {stackFiles([]float64{0, 2, 4, 4, 6}, nil), result{[]int{4}, []string{"Up to 2 images lie at one position"}, 0, 1}},
		"all in one":  {stackFiles([]float64{5, 5, 5, 5}, nil), result{[]int{1}, []string{"Up to 4 images lie at one position", "single slice"}, 0, 3}},
		"overviews":   {stackFiles(every(8, 2), overview), result{[]int{6, 2}, []string{"2 overview pictures (localizers) are set aside"}, 0, 0}},
		"table moved": {stackFiles(every(8, 2), func(i int, s *slice) { s.position[0] += float64(i / 5 * 12) }), result{[]int{8}, []string{"moved sideways by 12.0 mm between slice 5 and slice 6"}, 0, 0}},
		"burned in":   {stackFiles(every(3, 2), func(i int, s *slice) { s.more = func(b *build) { b.text(0x00280301, "CS", "YES") } }), result{[]int{3}, []string{"burned into"}, 0, 0}},
		"a head":      {stackFiles(every(30, 2), func(i int, s *slice) { s.more = func(b *build) { b.text(0x00180015, "CS", "HEAD") } }), result{[]int{30}, []string{"recognisable face"}, 0, 0}},
		"two echoes": {stackFiles(append(every(5, 2), every(5, 2)...), func(i int, s *slice) { s.echo = float64(10 + 40*(i/5)) }),
			result{[]int{5, 5}, []string{"2 volumes over the same place"}, 0, 0}},
		"three acquisitions": {stackFiles(append(append(every(5, 2), every(5, 2)...), every(5, 2)...), func(i int, s *slice) { s.acquisition = i / 5 }),
			result{[]int{5, 5, 5}, []string{"3 volumes"}, 0, 0}},
		"one scanned again": {stackFiles([]float64{0, 2, 4, 6, 8, 4}, func(i int, s *slice) { s.acquisition = i / 5 }),
			result{[]int{5}, []string{"Up to 2 images lie at one position; one of each is used and 1"}, 0, 1}},
		"a few made from others": {stackFiles([]float64{0, 2, 4, 6, 8, 2, 4}, func(i int, s *slice) {
			if i > 4 {
				s.kind, s.instance = `DERIVED\SECONDARY\OTHER`, -i
			}
		}), result{[]int{5}, []string{"Up to 2 images"}, 0, 2}},
		"two unnamed": {stackFiles(append(every(5, 2), every(5, 2)...), nil), result{[]int{5, 5}, []string{"2 volumes"}, 0, 0}},
		"copies":      {stackFiles([]float64{0, 2, 4, 4}, func(i int, s *slice) { s.sop = fmt.Sprintf("1.9.%g", s.position[2]) }), result{[]int{3}, []string{"1 copy of a slice is set aside"}, 0, 1}},
		"two sizes": {stackFiles(every(9, 2), func(i int, s *slice) {
			if i > 4 {
				s.rows, s.columns = 8, 8
			}
		}), result{[]int{5, 4}, []string{"2 sizes"}, 0, 0}},
		"opposite normals": {stackFiles(every(9, 2), func(i int, s *slice) {
			if i > 4 {
				s.orientation = [6]float64{-1, 0, 0, 0, 1, 0}
			}
		}), result{[]int{5, 4}, []string{"2 orientations"}, 0, 0}},
	} {
		list, skipped := survey(t, c.files)
		var sizes []int
		for _, s := range list {
			sizes = append(sizes, s.Size[2])
			if !slices.IsSorted(s.Positions) || len(s.Positions) != s.Size[2] || len(s.Origins) != s.Size[2] {
				t.Errorf("%s: positions %v", name, s.Positions)
			}
		}
		slices.SortStableFunc(sizes, func(a, b int) int { return b - a })
		if !slices.Equal(sizes, c.want.slices) || len(skipped) != c.want.skipped {
			t.Errorf("%s: slices %v skipped %v, want %+v", name, sizes, skipped, c.want)
			continue
		}
		gaps := 0
		for _, g := range list[0].Gaps {
			if g {
				gaps++
			}
		}
		if gaps != c.want.gaps || len(list[0].Warnings) != max(len(c.want.warnings), gaps) {
			t.Errorf("%s: %d gaps, warnings %q", name, gaps, list[0].Warnings)
		}
		for _, w := range c.want.warnings {
			if !hasWarning(list[0], w) {
				t.Errorf("%s: no %q among %q", name, w, list[0].Warnings)
			}
		}
		if name == "a few made from others" {
			if v, err := Load(context.Background(), c.files, list[0], nil); err != nil || v.Value(0, 0, 1) != 10 {
				t.Errorf("%s: the made ones are used", name)
			}
		}
		ids := map[string]bool{}
		for _, s := range list {
			if ids[s.UID] {
				t.Errorf("%s: two series called %s", name, s.UID)
			}
			ids[s.UID] = true
			if _, err := Load(context.Background(), c.files, s, nil); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
}

// TestLyingPositions: supine, prone, on either side, head or feet first: positions and orientations are those of the
// patient already (PS3.3 C.7.6.2.1.1), so only the letters differ. The letters are laterality_dicom.csv's.
func TestLyingPositions(t *testing.T) {
	letter := func(v geom.Vec) string {
		names := []struct {
			v geom.Vec
			s string
		}{{geom.Vec{X: 1}, "L"}, {geom.Vec{X: -1}, "R"}, {geom.Vec{Y: 1}, "P"}, {geom.Vec{Y: -1}, "A"}, {geom.Vec{Z: 1}, "S"}, {geom.Vec{Z: -1}, "I"}}
		for _, n := range names {
			if v.Dot(n.v) > 0.9 {
				return n.s
			}
		}
		return "?"
	}
	rows := readTable(t, path.Join(root(t), "testdata/laterality/dicom.csv"))[1:]
	if len(rows) != 8 {
		t.Fatalf("%d orientations", len(rows))
	}
	for _, row := range rows {
		var o [6]float64
		fmt.Sscan(row[0]+" "+row[1], &o[0], &o[1], &o[2], &o[3], &o[4], &o[5])
		files := fstest.MapFS{}
		n := geom.Vec{X: o[0], Y: o[1], Z: o[2]}.Cross(geom.Vec{X: o[3], Y: o[4], Z: o[5]})
		for i := range 4 {
			p := n.Mul(-3 * float64(i))
			files[fmt.Sprint(i)] = slice{orientation: o, position: [3]float64{p.X, p.Y, p.Z}, instance: i}.file()
		}
		s, v := only(t, files)
		got := []string{letter(s.RowDirection().Neg()), letter(s.RowDirection()), letter(s.ColumnDirection().Neg()), letter(s.ColumnDirection()), letter(s.Normal().Neg())}
		if !slices.Equal(got, row[2:7]) {
			t.Errorf("%v: letters %v, want %v", o, got, row[2:7])
		}
		if s.Files[0] != "3" || v.Value(0, 0, 0) != 0 {
			t.Errorf("%v: first slice is %s", o, s.Files[0])
		}
	}
}

// TestSameBodyHoweverItLies: one body, head or feet first, on its back, its front or either side, gives the same value at
// the same place of the patient. Directions follow from the patient turning under a fixed scanner.
func TestSameBodyHoweverItLies(t *testing.T) {
	body := func(p geom.LPS) float64 { return 2000 + 40*p.X - 25*p.Y + 10*p.Z }
	for name, o := range map[string][6]float64{
		"head first supine": {1, 0, 0, 0, 1, 0}, "head first prone": {-1, 0, 0, 0, -1, 0},
		"head first, right side down": {0, 1, 0, -1, 0, 0}, "head first, left side down": {0, -1, 0, 1, 0, 0},
		"feet first supine": {-1, 0, 0, 0, 1, 0}, "feet first prone": {1, 0, 0, 0, -1, 0},
		"feet first, right side down": {0, -1, 0, -1, 0, 0}, "feet first, left side down": {0, 1, 0, 1, 0, 0},
	} {
		row, col := geom.Vec{X: o[0], Y: o[1], Z: o[2]}, geom.Vec{X: o[3], Y: o[4], Z: o[5]}
		files := fstest.MapFS{}
		for k := range 5 {
			at := geom.LPS{Z: 2 * float64(k)}.Add(row.Mul(-6)).Add(col.Mul(-4)) // the body's middle is the picture's
			f := slice{orientation: o, position: [3]float64{at.X, at.Y, at.Z}, rows: 9, columns: 13}.file()
			for i := range 9 * 13 {
				x := uint16(body(at.Add(row.Mul(float64(i % 13))).Add(col.Mul(float64(i / 13)))))
				f.Data[len(f.Data)-2*9*13+2*i], f.Data[len(f.Data)-2*9*13+2*i+1] = byte(x), byte(x>>8)
			}
			files[fmt.Sprint(9-k)] = f
		}
		_, v := only(t, files)
		for _, p := range []geom.LPS{{}, {X: 3, Y: -2, Z: 5}, {X: -3.5, Y: 3, Z: 7.5}} {
			if got := v.Sample(p); !near(got, body(p), 1e-3) {
				t.Errorf("%s: %g at %v, want %g", name, got, p, body(p))
			}
		}
	}
}

// TestRealSeries: every folder of ../shared/data/dicom-series, by itself: order, warnings, and voxel for voxel against
// the NIfTI truth that stands beside it (made by the data's authors).
func TestRealSeries(t *testing.T) {
	base := shared(t, "dicom-series")
	for folder, want := range map[string]struct {
		slices   []int
		warnings []string
		nii      string
	}{
		"failing/gantrytilting/001":            {[]int{4}, []string{"14.0 degrees"}, ""},
		"failing/notavolume/001":               {[]int{1}, []string{"Up to 4 images lie at one position"}, ""},
		"failing/slicecount/001":               {[]int{2}, nil, "failing/slicecount/001_ground_truth.nii.gz"},
		"failing/sliceincrement/001":           {[]int{4}, []string{"1 slice is missing between slice 3 and slice 4, which lie 10.00 mm apart"}, ""},
		"failing/sliceincrement/002":           {[]int{4}, []string{"1 slice is missing between slice 3 and slice 4", "15.5 degrees"}, ""},
		"failing/sliceorientation/001":         {[]int{2, 2}, []string{"2 orientations"}, ""},
		"generic/anatomical/001":               {[]int{4}, nil, "generic/anatomical/001_ground_truth.nii.gz"},
		"generic/anatomical/001_implicit":      {[]int{4}, nil, "generic/anatomical/001_implicit_ground_truth.nii.gz"},
		"generic/anatomical/002_non_isotropic": {[]int{4}, nil, "generic/anatomical/002_non_isotropic_ground_truth.nii.gz"},
		"generic/compressed/001":               {[]int{4}, nil, "generic/compressed/001_ground_truth.nii.gz"},
		"generic/compressed_j2k/001":           {[]int{4}, nil, "generic/compressed_j2k/001_ground_truth.nii.gz"},
		"generic/compressed_jpeg/001":          {[]int{4}, nil, "generic/compressed_jpeg/001_ground_truth.nii.gz"},
		"generic/compressed_jpegls/001":        {[]int{4}, nil, "generic/compressed_jpegls/001_ground_truth.nii.gz"},
		"generic/compressed_rle/001":           {[]int{4}, nil, "generic/compressed_rle/001_ground_truth.nii.gz"},
		"generic/rgb/001":                      {[]int{4}, []string{"Colour"}, "generic/rgb/001_ground_truth.nii.gz"},
		"siemens_multiframe/anatomical/001":    {[]int{8}, nil, "siemens_multiframe/anatomical/001_ground_truth.nii.gz"},
	} {
		t.Run(strings.ReplaceAll(folder, "/", "_"), func(t *testing.T) {
			files := os.DirFS(path.Join(base, folder))
			list, skipped := survey(t, files)
			for _, err := range skipped {
				if errors.Is(err, ErrUnsupported) && strings.Contains(err.Error(), "JPEG 2000 pixel data cannot be opened in this build") && len(list) == 0 {
					t.Skip(err)
				}
			}
			var sizes []int
			for _, s := range list {
				sizes = append(sizes, s.Size[2])
				if !slices.IsSorted(s.Positions) {
					t.Errorf("positions %v", s.Positions)
				}
				for _, w := range want.warnings {
					if !hasWarning(s, w) {
						t.Errorf("no %q among %q", w, s.Warnings)
					}
				}
			}
			if !slices.Equal(sizes, want.slices) {
				t.Fatalf("slices %v, want %v", sizes, want.slices)
			}
			if len(want.warnings) == 0 && len(list[0].Warnings) > 0 {
				t.Errorf("warnings %q", list[0].Warnings)
			}
			v, err := Load(context.Background(), files, list[0], nil)
			if err != nil {
				t.Fatal(err)
			}
			if want.nii == "" {
				return
			}
			f, err := os.Open(path.Join(base, want.nii))
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			truth, err := ReadNIfTI(f)
			if err != nil {
				t.Fatal(err)
			}
			sameVolume(t, truth, v, 1e-4*96) // float32 of rescaled values up to 96
		})
	}
}

// TestRealStacks: the head MR and the trunk CT open whole, in order, in mm.
func TestRealStacks(t *testing.T) {
	for name, want := range map[string]struct {
		size    [3]int
		spacing [3]float64
	}{
		"mr-head-137":  {[3]int{137, 192, 96}, [3]float64{1.399976, 1.333333, 0}},
		"ct-trunk-128": {[3]int{128, 128, 134}, [3]float64{4.296875, 4.296875, 3}},
	} {
		s, v := only(t, os.DirFS(shared(t, name)))
		if s.Size != want.size || !near(s.Spacing()[0], want.spacing[0], 1e-6) || !near(s.Spacing()[1], want.spacing[1], 1e-6) {
			t.Errorf("%s: size %v spacing %v warnings %q", name, s.Size, s.Spacing(), s.Warnings)
		}
		if want.spacing[2] != 0 && !near(s.Spacing()[2], want.spacing[2], 1e-3) {
			t.Errorf("%s: %g mm from slice to slice", name, s.Spacing()[2])
		}
		least, most := v.Range()
		t.Logf("%s: %v mm, values %g to %g, %d bytes, warnings %q", name, s.Spacing(), least, most, v.Bytes(), s.Warnings)
	}
}

// TestZipAndFolders: the same series from a folder within a folder and from a zip archive.
func TestZipAndFolders(t *testing.T) {
	files := stackFiles(every(5, 2), nil)
	var packed bytes.Buffer
	z := zip.NewWriter(&packed)
	for name, f := range files {
		w, err := z.Create("disc/IMAGES/" + name)
		if err != nil {
			t.Fatal(err)
		}
		w.Write(f.Data)
	}
	z.Close()
	dir := t.TempDir()
	if err := os.WriteFile(dir+"/all.zip", packed.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, f := range files {
		os.MkdirAll(dir+"/deep/er", 0o700)
		os.WriteFile(dir+"/deep/er/"+name, f.Data, 0o600)
	}
	for _, at := range []string{dir + "/all.zip", dir + "/deep", dir + "/deep/er/000.dcm"} {
		files, close, err := Open(at)
		if err != nil {
			t.Fatal(err)
		}
		s, _ := only(t, files)
		if want := map[bool]int{true: 1, false: 5}[strings.HasSuffix(at, ".dcm")]; s.Size[2] != want {
			t.Errorf("%s: %d slices", at, s.Size[2])
		}
		close()
	}
	if _, _, err := Open(dir + "/none"); !errors.Is(err, fs.ErrNotExist) {
		t.Error(err)
	}
	list, skipped := survey(t, os.DirFS(dir))
	if len(list) != 1 || skipped["all.zip"] == nil {
		t.Errorf("%d series, skipped %v", len(list), skipped)
	}
}

// TestMixedJunk: 5,000 files of every sort: all are counted, each is in a series or has a reason, and a survey that is
// cancelled stops.
func TestMixedJunk(t *testing.T) {
	files := fstest.MapFS{}
	for i := range 5000 {
		f := slice{position: [3]float64{0, 0, float64(i)}, series: fmt.Sprintf("1.2.%d", i%7), sop: fmt.Sprintf("1.3.%d", i)}.file()
		switch i % 10 {
		case 3:
			f = &fstest.MapFile{Data: []byte(strings.Repeat("letters ", i%50))}
		case 5:
			f.Data = f.Data[:len(f.Data)-3]
		case 7:
			f.Data = bytes.Repeat([]byte{byte(i)}, 300)
		}
		files[fmt.Sprintf("d%d/%d", i%13, i)] = f
	}
	skipped := map[string]error{}
	calls := 0
	list, err := SurveyProgress(context.Background(), files, func(p string, err error) {
		if skipped[p] != nil || err == nil {
			t.Errorf("%s told twice or without reason", p)
		}
		skipped[p] = err
	}, func(read, total int) {
		if calls++; read != calls || total != 5000 {
			t.Errorf("count %d of %d at call %d", read, total, calls)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	used := 0
	for _, s := range list {
		used += len(s.Files)
	}
	if used+len(skipped) != 5000 || used != 3500 || calls != 5000 {
		t.Errorf("%d used, %d skipped, %d counted", used, len(skipped), calls)
	}
	ctx, cancel := context.WithCancel(context.Background())
	stopped := 0
	_, err = SurveyProgress(ctx, files, nil, func(read, total int) {
		if stopped = read; read == 100 {
			cancel()
		}
	})
	if !errors.Is(err, context.Canceled) || stopped > 200 {
		t.Errorf("stopped after %d with %v", stopped, err)
	}
	big := stackFiles(every(400, 1), nil)
	s, _ := survey(t, big)
	ctx, cancel = context.WithCancel(context.Background())
	if _, err := Load(ctx, big, s[0], func(read, total int) {
		if read == 20 {
			cancel()
		}
	}); !errors.Is(err, context.Canceled) {
		t.Errorf("a cancelled load gives %v", err)
	}
}

// TestLostSlices: slices that break between survey and load leave a gap and a word; too many, and the series fails.
func TestLostSlices(t *testing.T) {
	files := stackFiles(every(9, 2), nil)
	list, _ := survey(t, files)
	s := list[0]
	broken := func(slices ...int) fstest.MapFS {
		m := fstest.MapFS{}
		for name, f := range files {
			m[name] = f
		}
		for _, k := range slices {
			name := s.Files[k]
			m[name] = &fstest.MapFile{Data: m[name].Data[:len(m[name].Data)-9]}
		}
		return m
	}
	v, err := Load(context.Background(), broken(0, 4), s, nil)
	if err != nil {
		t.Fatal(err)
	}
	if v.Size[2] != 7 || !slices.Equal(v.Gaps, []bool{false, false, true, false, false, false}) || v.Origins[0].Z != 2 || v.ToLPS.Origin().Z != 2 {
		t.Errorf("size %v gaps %v origin %v", v.Size, v.Gaps, v.Origins[0])
	}
	if len(v.Left) != 2 || !errors.Is(v.Left[0], ErrDamaged) || !strings.Contains(v.Left[1].Error(), s.Files[4]) || !hasWarning(v.Series(), "Slice 5 of 9") {
		t.Errorf("left %v warnings %q", v.Left, v.Warnings)
	}
	for z, want := range map[float64]float64{2: 10, 3: 15, 6: 30, 10: 50, 16: 80, 8: math.NaN(), 1: math.NaN()} { // first pixel is 5 z
		if got := v.Sample(geom.LPS{X: -10, Y: -20, Z: z}); math.IsNaN(got) != math.IsNaN(want) || got != want && want == want {
			t.Errorf("at %g mm: %g, want %g", z, got, want)
		}
	}
	if _, err := Load(context.Background(), broken(0, 1, 2, 3, 4), s, nil); !errors.Is(err, ErrDamaged) {
		t.Errorf("mostly broken: %v", err)
	}
	gone := broken()
	delete(gone, s.Files[3])
	if v, err := Load(context.Background(), gone, s, nil); err != nil || v.Size[2] != 8 || !errors.Is(v.Left[0], fs.ErrNotExist) {
		t.Errorf("a file is gone: %v", err)
	}
}
