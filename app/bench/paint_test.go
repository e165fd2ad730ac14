package bench

import (
	"bytes"
	"flag"
	"image"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// BenchmarkFacePaint paints what the house plan names: a photograph of 24 megapixels with 300 outlines of 100 points at
// 1600 x 1000; the budget is 16 ms.
func BenchmarkFacePaint(b *testing.B) {
	bench, _, m, f := onBench(b, 1600, 1000)
	const w, h = 6000, 4000
	big := image.NewYCbCr(image.Rect(0, 0, w, h), image.YCbCrSubsampleRatio420)
	rnd := rand.New(rand.NewPCG(1, 2))
	for i := range big.Y {
		big.Y[i] = uint8(80 + rnd.IntN(60))
	}
	for i := range big.Cb {
		big.Cb[i], big.Cr[i] = 120, 140
	}
	m.photos["p2"] = photo.NewImage(big)
	p := bench.doc.plate()
	p.Photo.Size = image.Pt(w, h)
	ids := bench.terms.All()
	for i := range 300 {
		var ring []geom.Px
		cx, cy := 300+float64(i%20)*280, 250+float64(i/20)*250
		for k := range 100 {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / 100)
			r := 120 + 25*math.Sin(float64(k)/100*12*math.Pi)
			ring = append(ring, geom.Px{X: cx + r*cos, Y: cy + r*sin})
		}
		var err error
		p.Labels, err = p.Labels.Add(annotate.Label{ID: strconv.Itoa(i), Term: ids[i%len(ids)].ID, Regions: []annotate.Polygon{{Outer: ring}}})
		if err != nil {
			b.Fatal(err)
		}
	}
	bench.doc.hist.Do("test", "", p)
	bench.doc.picture, bench.doc.whole, bench.doc.moved = m.photos["p2"], true, false
	dst := image.NewRGBA(image.Rect(0, 0, 1600, 1000))
	f.Paint(dst)
	b.ReportAllocs()
	b.ResetTimer()
	var frames []time.Duration
	for b.Loop() {
		from := time.Now()
		f.Paint(dst)
		frames = append(frames, time.Since(from))
	}
	b.StopTimer()
	slices.Sort(frames)
	b.ReportMetric(float64(frames[len(frames)/2].Microseconds())/1000, "median-ms")
	show(b, "bench", dst)
}

// show writes a picture where SECTIONARY_SHOW names a folder, to be looked at by a person.
func show(t testing.TB, name string, m image.Image) {
	dir := os.Getenv("SECTIONARY_SHOW")
	if dir == "" {
		return
	}
	f, err := os.Create(dir + "/" + name + ".png")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := photo.EncodePNG(f, m); err != nil {
		t.Fatal(err)
	}
}

// BenchmarkScanPaint cuts and paints anew at every frame, as while stepping or panning.
func BenchmarkScanPaint(b *testing.B) {
	bench, _, _, _, s := onPairing(b)
	dst := image.NewRGBA(image.Rect(0, 0, 800, 900))
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		bench.pair.step = i % 9
		s.Paint(dst)
	}
}

// A frame must not leave more garbage the longer one works: a few dozen small pieces, however many outlines there are.
func TestFacePaintLeavesLittleBehind(t *testing.T) {
	if raced {
		t.Skip("the race detector throws pooled memory away")
	}
	b, _, _, f := onBench(t, 600, 400)
	m := image.NewRGBA(image.Rect(0, 0, 600, 400))
	few := testing.AllocsPerRun(20, func() { f.Paint(m) })
	for i := range 60 {
		p := b.doc.plate()
		p.Labels, _ = p.Labels.Add(annotate.Label{ID: strconv.Itoa(i), Regions: []annotate.Polygon{square(100+float64(i)*9, 300, 20)}})
		b.doc.hist.Do("t", "t", p)
	}
	f.Paint(m)
	many := testing.AllocsPerRun(20, func() { f.Paint(m) })
	if many > few+10 || many > 60 {
		t.Errorf("%.0f pieces of garbage for each frame, %.0f without outlines", many, few)
	}
}

var update = flag.Bool("update", false, "write the golden pictures anew")

// The golden pictures were looked at by a person when they were made; -update makes them again, to be looked at again.
func TestGoldenPictures(t *testing.T) {
	b, _, _, f := onBench(t, 420, 320)
	withLabels(t, b)
	b.SetGrid(true)
	golden(t, "face", painted(f, 420, 320, 1))
	b.SetView(section.OtherSide)
	golden(t, "face-mirrored", painted(f, 420, 320, 1))
	b.SetView(section.Bench)
	b.SetPhotoUp(section.UnknownFacing)
	golden(t, "face-unknown", painted(f, 420, 320, 1))
	b.Undo()
	b.Show(RunScreen)
	golden(t, "ruler", painted(b.RulerPane(), 300, 420, 1))
	b, _, _, f, s := onPairing(t)
	f.Paint(image.NewRGBA(image.Rect(0, 0, 420, 320)))
	pose, _, _ := b.basePose()
	b.tryTies("t", honestTies(b, pose, places(4)...))
	golden(t, "scan", painted(s, 420, 320, 1))
	b.StepScan(2)
	golden(t, "strip", painted(b.StripPane(), 600, 90, 1))
}

// golden compares a picture with the one kept; a rounding of the last bit may differ, a missing sign may not.
func golden(t *testing.T, name string, m *image.RGBA) {
	t.Helper()
	path := "testdata/" + name + ".png"
	if *update {
		var file bytes.Buffer
		if err := photo.EncodePNG(&file, m); err != nil {
			t.Fatal(err)
		}
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, file.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	r, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	want, err := png.Decode(r)
	if err != nil {
		t.Fatal(err)
	}
	if want.Bounds() != m.Rect {
		t.Fatalf("%s: %v, kept is %v", name, m.Rect, want.Bounds())
	}
	off := 0
	for y := range m.Rect.Dy() {
		for x := range m.Rect.Dx() {
			a, b := m.RGBAAt(x, y), color.RGBAModel.Convert(want.At(x, y)).(color.RGBA)
			if d := max(diff(a.R, b.R), diff(a.G, b.G), diff(a.B, b.B)); d > 2 {
				off++
			}
		}
	}
	if off > m.Rect.Dx()*m.Rect.Dy()/2000 {
		show(t, "wrong-"+name, m)
		t.Errorf("%s: %d pixels differ by more than 2; look at it and run with -update if it is right", name, off)
	}
}

func diff(a, b uint8) int { return max(int(a)-int(b), int(b)-int(a)) }
