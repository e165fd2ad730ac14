package bench

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"

	"sectionary/annotate"
	"sectionary/atlas"
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
	for b.Loop() {
		f.Paint(dst)
	}
	b.StopTimer()
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

var _ = []any{color.RGBA{}, atlas.Yes, section.Bench}
