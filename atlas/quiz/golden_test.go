package quiz

import (
	"bytes"
	"context"
	"flag"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

var update = flag.Bool("update", false, "write the golden pictures anew")

const goldenDir = "../../testdata/quiz"

// Pages as they were when a person last looked at them. Text and lines may move by rounding, not more.
func TestGoldenPages(t *testing.T) {
	sc := tilted()
	m, err := photo.Open(context.Background(), bytes.NewReader(sc.paintWith(1)), photo.Limit{})
	must(t, err)
	run := section.Run{ID: "R", Donor: donorCode, Part: "trunk", Plane: section.Transverse, First: section.Superior}
	for n := 1; n <= 6; n++ {
		run.Slabs = append(run.Slabs, section.Slab{Number: n, Thickness: [3]float64{20}, Kerf: 1.2})
	}
	p := atlas.Plate{ID: "P", Face: section.Face{Run: "R", Slab: 5, Facing: section.Superior}, Photo: m.Info(), PhotoUp: sc.up,
		Calibration: calibrate(t, sc, photo.Rectified), Border: []annotate.Polygon{{Outer: sc.ellipse(0, 0, 172, 116)}}}
	for _, x := range labelsOf(sc) {
		p.Labels, err = p.Labels.Add(x)
		must(t, err)
	}
	for _, k := range []Kind{Study, Exam} {
		j := &job{terms: terms(t), r: Request{Kind: k, Purpose: atlas.Teaching, View: section.Scan, Title: "Trunk, week 3", Languages: []Language{English, Latin}}}
		d := newDesk(j.r, "7K2MQ4XA")
		f, err := newFaceView(p, m, section.Scan)
		must(t, err)
		s := sheet{face: f, run: run, marks: j.choose(p)}
		var pages []*page
		if k == Study {
			pages = d.studyPages(s, true)
		} else {
			one, _ := d.examPage(&s, 1, false, true)
			pages = append([]*page{one}, d.keyPages([]*sheet{&s}, true)...)
		}
		numberPages(pages)
		for i, q := range pages {
			compare(t, string(k)+[]string{"-1", "-2", "-3"}[i]+".png", small(q))
		}
	}
}

// small paints a page 900 pixels wide.
func small(p *page) *image.RGBA {
	b := newPixels(900, int(900*p.H/p.W), area{0, 0, p.W, p.H})
	p.paint(b)
	return b.m
}

func compare(t *testing.T, name string, got *image.RGBA) {
	t.Helper()
	path := filepath.Join(goldenDir, name)
	if *update {
		var b bytes.Buffer
		must(t, png.Encode(&b, got))
		must(t, os.MkdirAll(goldenDir, 0o755))
		must(t, os.WriteFile(path, b.Bytes(), 0o644))
		return
	}
	b, err := os.ReadFile(path)
	must(t, err)
	m, err := png.Decode(bytes.NewReader(b))
	must(t, err)
	want := image.NewRGBA(m.Bounds())
	draw.Draw(want, want.Rect, m, image.Point{}, draw.Src)
	if want.Rect != got.Rect {
		t.Fatalf("%s: %v, want %v", name, got.Rect, want.Rect)
	}
	off := 0
	for i := 0; i < len(got.Pix); i += 4 {
		a := color.RGBA{got.Pix[i], got.Pix[i+1], got.Pix[i+2], 255}
		if !near(a, color.RGBA{want.Pix[i], want.Pix[i+1], want.Pix[i+2], 255}, 2) {
			off++
		}
	}
	if all := len(got.Pix) / 4; off > all/1000 {
		t.Errorf("%s: %d of %d pixels differ by more than 2 levels; look at it, then run the test with -update", name, off, all)
	}
}
