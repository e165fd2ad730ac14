package atlas

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/scan"
)

// python is Debian's own, which holds python3-nibabel.
const python = "/usr/bin/python3"

// gridForLabels is an empty scan of 1 x 1.5 x 3 mm, its first voxel at (-60, -60, -30).
func gridForLabels(t *testing.T) *scan.Volume {
	t.Helper()
	size := [3]int{120, 80, 20}
	v, err := scan.NewVolume(size, geom.Affine{1, 0, 0, -60, 0, 1.5, 0, -60, 0, 0, 3, -30}, make([]int16, size[0]*size[1]*size[2]))
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// roundFace is a face in the given pose, photographed at 0.25 mm per pixel about its middle, with a circle of 20 mm on it and a square
// beside it.
func roundFace(t *testing.T, pose geom.Pose) FaceOnScan {
	t.Helper()
	const mm, middle = 0.25, 300.0
	f := FaceOnScan{Pose: pose,
		ToMM: func(p geom.Px) geom.MM { return geom.MM{X: (p.X - middle) * mm, Y: (p.Y - middle) * mm} },
		ToPx: func(m geom.MM) geom.Px { return geom.Px{X: m.X/mm + middle, Y: m.Y/mm + middle} }}
	var circle []geom.Px
	for i := range 120 {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 120)
		circle = append(circle, f.ToPx(geom.MM{X: 5 + 20*cos, Y: 20 * sin}))
	}
	square := []geom.Px{f.ToPx(geom.MM{X: -49.6, Y: -8.4}), f.ToPx(geom.MM{X: -30.4, Y: -8.4}), f.ToPx(geom.MM{X: -30.4, Y: 8.4}), f.ToPx(geom.MM{X: -49.6, Y: 8.4})}
	var err error
	for i, x := range []annotate.Label{{Term: "UBERON:0002107", Sure: annotate.Certain, Regions: []annotate.Polygon{{Outer: circle}}},
		{Term: "UBERON:0002113", Side: annotate.Left, Sure: annotate.Certain, Regions: []annotate.Polygon{{Outer: square}}},
		{Term: "UBERON:0002106", Sure: annotate.Certain, Carried: true, Regions: []annotate.Polygon{{Outer: square}}}} {
		x.ID, x.Author, x.Changed = string(rune('a'+i)), "AB", now()
		if f.Labels, err = f.Labels.Add(x); err != nil {
			t.Fatal(err)
		}
	}
	return f
}

func lying(z float64) geom.Pose {
	return geom.Pose{Origin: geom.LPS{Z: z}, X: geom.Vec{X: 1}, Y: geom.Vec{Y: 1}, Scale: 1}
}

// XP2: the labels of a face stand in the slice its plane passes through, and in no other; the file is read by NiBabel as what it is. Areas by
// hand: pi 20² = 1256.6 mm² and 19.2 x 16.8 = 322.6 mm², in voxels of 1.5 mm² within a row of voxels at the edge. What is only carried does
// not count.
func TestLabelVolume(t *testing.T) {
	grid := gridForLabels(t)
	v, keys, err := LabelVolume(context.Background(), grid, []FaceOnScan{roundFace(t, lying(4))}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(keys) != 2 || keys[0] != (VolumeKey{1, "UBERON:0002107", annotate.NoSide}) || keys[1] != (VolumeKey{2, "UBERON:0002113", annotate.Left}) {
		t.Fatalf("key %+v", keys)
	}
	var count [3]int
	for k := range grid.Size[2] {
		for j := range grid.Size[1] {
			for i := range grid.Size[0] {
				n := int(v.Value(i, j, k))
				if n > 0 && k != 11 { // -30 + 3*11 = 3 mm is the slice nearest to 4 mm
					t.Fatalf("voxel %d, %d, %d holds %d", i, j, k, n)
				}
				count[n]++
			}
		}
	}
	if a := 1.5 * float64(count[1]); math.Abs(a-400*math.Pi) > 0.02*400*math.Pi {
		t.Errorf("the circle covers %g mm²", a)
	}
	if a := 1.5 * float64(count[2]); math.Abs(a-322.56) > 20*1.5 {
		t.Errorf("the square covers %g mm²", a)
	}
	judgeLabelFile(t, v, count)
}

// judgeLabelFile lets NiBabel read the volume as written.
func judgeLabelFile(t *testing.T, v *scan.Volume, count [3]int) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "labels.nii")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(v.WriteNIfTI(f), f.Close()); err != nil {
		t.Fatal(err)
	}
	if exec.Command(python, "-c", "import nibabel").Run() != nil {
		t.Log("python3-nibabel is not installed: the file was not judged from outside")
		return
	}
	out, err := exec.Command(python, "-c", `
import json, sys, nibabel, numpy
i = nibabel.load(sys.argv[1]); d = numpy.asanyarray(i.dataobj)
print(json.dumps({"count": [int((d == n).sum()) for n in range(3)], "kind": str(d.dtype), "intent": i.header.get_intent()[0],
  "middle": i.affine.dot(numpy.append(numpy.argwhere(d == 1).mean(0), 1)).tolist()[:3]}))`, path).Output()
	var seen struct {
		Count  [3]int
		Kind   string
		Intent string
		Middle [3]float64
	}
	if err = errors.Join(err, json.Unmarshal(out, &seen)); err != nil {
		t.Fatal(err)
	}
	if seen.Count != count || seen.Intent != "label" || !strings.HasPrefix(seen.Kind, "int") {
		t.Errorf("NiBabel reads %+v, want %v", seen, count)
	}
	for n, want := range [3]float64{-5, 0, 3} { // RAS+: left of the patient is negative
		if math.Abs(seen.Middle[n]-want) > 0.2 {
			t.Errorf("NiBabel puts the circle at %v mm", seen.Middle)
		}
	}
}

// Written along a tilted face and traced from the same face, the outlines come back. Voxels of 1 x 1.5 x 3 mm leave or add half a voxel
// along an edge: of a square of 19 x 17 mm about a twentieth, of a circle of 20 mm less.
func TestLabelVolumeComesBack(t *testing.T) {
	sin, cos := math.Sincos(12 * math.Pi / 180)
	tilted := geom.Pose{Origin: geom.LPS{X: 1, Y: 2, Z: 0.4}, X: geom.Vec{X: 1}, Y: geom.Vec{Y: cos, Z: sin}, Scale: 1}
	for _, pose := range []geom.Pose{lying(4), tilted} {
		f := roundFace(t, pose)
		v, keys, err := LabelVolume(context.Background(), gridForLabels(t), []FaceOnScan{f}, nil)
		if err != nil {
			t.Fatal(err)
		}
		back, err := TraceLabels(context.Background(), v, f, 600, 600)
		if err != nil || len(back) != 2 {
			t.Fatalf("%d structures, %v", len(back), err)
		}
		for i, x := range []string{"a", "b"} {
			was, _ := f.Labels.Find(x)
			c, err := annotate.Compare(was.Regions, back[i].Regions, f.ToMM)
			if err != nil {
				t.Fatal(err)
			}
			if back[i].Number != keys[i].Number || c.Dice < []float64{0.96, 0.94}[i] {
				t.Errorf("tilt %v: %s came back as %d with overlap %.3f", pose.Y, x, back[i].Number, c.Dice)
			}
		}
	}
}

// Two faces of one cut within a voxel: the nearer counts.
func TestLabelVolumeNearerFace(t *testing.T) {
	near, far := roundFace(t, lying(3.2)), roundFace(t, lying(4.2))
	x, _ := near.Labels.Find("a")
	var err error
	if near.Labels, err = near.Labels.Rename("a", annotate.Stamp{Author: "AB", At: now()}, "UBERON:0001264", x.Side); err != nil {
		t.Fatal(err)
	}
	for _, faces := range [][]FaceOnScan{{near, far}, {far, near}} {
		v, keys, err := LabelVolume(context.Background(), gridForLabels(t), faces, nil)
		if err != nil {
			t.Fatal(err)
		}
		if got := keys[int(v.Value(65, 40, 11))-1].Term; got != "UBERON:0001264" {
			t.Errorf("the farther face's %s stands there", got)
		}
	}
}

func TestLabelVolumeWithoutLabels(t *testing.T) {
	if _, _, err := LabelVolume(context.Background(), gridForLabels(t), []FaceOnScan{{}}, nil); !errors.Is(err, ErrLabelGrid) {
		t.Error(err)
	}
}

func FuzzReadKey(f *testing.F) {
	var b bytes.Buffer
	keys := []VolumeKey{{1, "UBERON:0002107", annotate.NoSide}, {2, "UBERON:0002113", annotate.Left}}
	if err := WriteKey(&b, keys, func(annotate.TermID) string { return "a, b" }); err != nil {
		f.Fatal(err)
	}
	back, err := ReadKey(bytes.NewReader(b.Bytes()))
	if err != nil || len(back) != 2 || back[0] != keys[0] || back[1] != keys[1] {
		f.Fatal(back, err)
	}
	f.Add(b.Bytes())
	f.Add([]byte("number,term,side,name\n1,,left,x\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		keys, err := ReadKey(bytes.NewReader(text))
		if err != nil && !errors.Is(err, ErrLabelGrid) {
			t.Error(err)
		}
		for _, k := range keys {
			if k.Number < 1 || k.Term == "" {
				t.Errorf("%+v", k)
			}
		}
	})
}
