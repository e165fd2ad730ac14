package quiz

import (
	"bytes"
	"context"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

const realData = "../../../shared/data"

// realLabel is an ellipse drawn by eye on a real picture, in its pixels.
type realLabel struct {
	term       string
	side       annotate.Side
	x, y, a, b float64
}

// By eye on the section photograph (2048 x 1216, upper face, back at the top) and on two slices of the trunk scan (1 mm a
// pixel from -240, -160; from the feet, front at the top). Only what nobody would doubt.
var (
	realPhoto = []realLabel{
		{"UBERON:0000976", annotate.Right, 436, 373, 14, 15}, {"UBERON:0000976", annotate.Left, 1715, 368, 14, 14},
		{"UBERON:0001509", annotate.Right, 400, 300, 40, 32}, {"UBERON:0001509", annotate.Left, 1740, 290, 45, 30},
		{"UBERON:0002345", annotate.NoSide, 1170, 338, 24, 26}, {"UBERON:0002347", annotate.NoSide, 1078, 330, 30, 32},
		{"UBERON:0002240", annotate.Midline, 1072, 271, 11, 10}, {"UBERON:0002084", annotate.NoSide, 1325, 500, 35, 60},
		{"UBERON:0006820", annotate.Midline, 1085, 699, 38, 9}, {"SECT:0001", annotate.NoSide, 700, 700, 40, 30},
	}
	realSlices = map[float64][]realLabel{
		260: {{"UBERON:0002113", annotate.Right, 183, 277, 20, 16}, {"UBERON:0002113", annotate.Left, 328, 281, 16, 18},
			{"UBERON:0001516", annotate.NoSide, 260, 247, 6, 6}, {"UBERON:0001072", annotate.NoSide, 223, 247, 8, 6}, {"UBERON:0002414", annotate.NoSide, 246, 280, 12, 10}},
		330: {{"UBERON:0002107", annotate.NoSide, 112, 240, 18, 34}, {"UBERON:0002106", annotate.NoSide, 360, 292, 20, 14},
			{"UBERON:0001516", annotate.NoSide, 267, 267, 8, 8}, {"UBERON:0002347", annotate.NoSide, 250, 290, 12, 10}, {"UBERON:0002113", annotate.Left, 300, 293, 8, 12}},
	}
)

// An exam of 20 stations from a real section photograph and cuts of a real scan, rendered to be looked at. Set
// SECTIONARY_EXAM_OUT to a folder outside the project; nothing of it is committed.
func TestRealExam(t *testing.T) {
	out := os.Getenv("SECTIONARY_EXAM_OUT")
	if out == "" {
		t.Skip("set SECTIONARY_EXAM_OUT to a folder to have the exam rendered there")
	}
	raw, err := os.ReadFile(filepath.Join(realData, "section-photo", "avf1432a.png"))
	if err != nil {
		t.Skip("the real pictures are not here: ", err)
	}
	f, err := os.Open("../../assets/terms.tsv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	list, err := annotate.LoadTerms(f)
	if err != nil {
		t.Fatal(err)
	}
	lib, err := atlas.Create(filepath.Join(t.TempDir(), "Lab"))
	if err != nil {
		t.Fatal(err)
	}
	defer lib.Close()
	run := realRun(t, lib)
	realFace(t, lib, section.Face{Run: run.ID, Slab: 1, Facing: section.Superior}, raw, section.Posterior, 0.33, realPhoto, nil)
	added, err := lib.AddSeries(context.Background(), run.Donor, os.DirFS(filepath.Join(realData, "ct-trunk-128")), func(string, error) {}, nil)
	if err != nil || len(added) == 0 {
		t.Fatal(added, err)
	}
	v, err := lib.Volume(context.Background(), added[0].UID)
	if err != nil {
		t.Fatal(err)
	}
	for slab, z := range map[int]float64{2: 260, 3: 330} {
		corner := geom.LPS{X: -240, Y: -160, Z: z}
		values := make([]float32, 480*200)
		v.Slice(values, 480, 200, geom.Pose{Origin: geom.LPS{X: -240, Y: -20, Z: z}, X: geom.Vec{X: 1}, Y: geom.Vec{Y: 1}, Scale: 1}, 1)
		var file bytes.Buffer
		if err := png.Encode(&file, scan.Window{Centre: 50, Width: 400}.Gray(values, 480, 200)); err != nil {
			t.Fatal(err)
		}
		labels := append([]realLabel{}, realSlices[z]...)
		for i := range labels {
			labels[i].y -= 140 // the picture begins 140 mm further back
		}
		realFace(t, lib, section.Face{Run: run.ID, Slab: slab, Facing: section.Inferior}, file.Bytes(), section.Anterior, 1, labels, func(p atlas.Plate) atlas.Plate {
			var ties []register.Tie
			for _, q := range []geom.Px{{X: 60, Y: 20}, {X: 420, Y: 20}, {X: 420, Y: 180}, {X: 60, Y: 180}, {X: 240, Y: 100}} {
				ties = append(ties, register.Tie{Face: q, Scan: geom.LPS{X: corner.X + q.X, Y: corner.Y + 140 + q.Y, Z: z}})
			}
			p, err := p.Lay(added[0].UID, ties, false)
			if err != nil {
				t.Fatal(err)
			}
			return p
		})
	}
	b := Board{Lib: lib, Terms: list}
	pool, left, err := b.Pool("")
	if err != nil || len(left) > 0 {
		t.Fatal(left, err)
	}
	p := Plan{Title: "Real material", Seed: 20, PerStation: 1, Forms: []Form{Typed, Choice, Pointed}, Second: true, FaceView: section.Scan, NoTags: true}
	x := draftExam(t, b, p)
	x.Stations = nil
	for i, c := range pool {
		if (c.Picture.Kind == FacePicture) != (c.Face.Slab == 1) {
			continue // the photograph as a face, the scan as cuts
		}
		if c.Picture.Kind == FacePicture {
			c.Picture.View = section.Scan
		}
		if x, err = b.Add(x, c, Forms[i%len(Forms)], Marker{Style: Styles[i%len(Styles)]}, 60); err != nil {
			t.Fatal(err)
		}
	}
	if len(x.Stations) != 20 {
		t.Fatalf("%d stations", len(x.Stations))
	}
	s, err := b.Render(context.Background(), x, Release{}, out)
	if err != nil || !s.Allowed {
		t.Fatal(s.Reason, err)
	}
	for _, n := range s.Notes {
		t.Log(n)
	}
}

func realRun(t *testing.T, lib *atlas.Library) section.Run {
	t.Helper()
	err := lib.AddDonor(atlas.Donor{Code: "REAL-1", Agreement: atlas.Agreement{Reference: "open data", Permitted: map[atlas.Purpose]bool{atlas.Exam: true}}})
	if err != nil {
		t.Fatal(err)
	}
	r := section.Run{Donor: "REAL-1", Part: "trunk", Plane: section.Transverse, First: section.Superior}
	for n := 1; n <= 3; n++ {
		r.Slabs = append(r.Slabs, section.Slab{Number: n, Thickness: [3]float64{20}, Kerf: 1})
	}
	if r, err = lib.SaveRun(r); err != nil {
		t.Fatal(err)
	}
	return r
}

// realFace takes a picture in with a scale, letters and signed labels; lay may lay it in a scan.
func realFace(t *testing.T, lib *atlas.Library, f section.Face, raw []byte, up section.Facing, perPixel float64, labels []realLabel, lay func(atlas.Plate) atlas.Plate) {
	t.Helper()
	p, err := lib.AddPhoto(context.Background(), f, "", "picture.png", bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	p.PhotoUp = up
	if p.Calibration, err = photo.TwoTicks(geom.Px{X: 10, Y: 50}, geom.Px{X: 410, Y: 50}, 400*perPixel); err != nil {
		t.Fatal(err)
	}
	if f.Slab == 1 { // only the body: the slip with a number and the grey card stay outside
		p.Border = []annotate.Polygon{{Outer: []geom.Px{{X: 260, Y: 110}, {X: 1880, Y: 110}, {X: 1880, Y: 600}, {X: 1600, Y: 850}, {X: 560, Y: 850}, {X: 260, Y: 600}}}}
	}
	for i, l := range labels {
		var ring []geom.Px
		for k := range 40 {
			s, c := math.Sincos(2 * math.Pi * float64(k) / 40)
			ring = append(ring, geom.Px{X: l.x + l.a*c, Y: l.y + l.b*s})
		}
		p.Labels, err = p.Labels.Add(annotate.Label{ID: string(rune('a' + i)), Term: annotate.TermID(l.term), Side: l.side, Sure: annotate.Certain, Author: "AB",
			Changed: examDay, Regions: []annotate.Polygon{{Outer: ring}}, Signed: &annotate.Signature{By: "CD", At: examDay}})
		if err != nil {
			t.Fatal(err)
		}
	}
	if lay != nil {
		p = lay(p)
	}
	if _, err := lib.Save(p); err != nil {
		t.Fatal(err)
	}
}
