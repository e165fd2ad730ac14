package bench

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"testing"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// ph5Face is a face of fibres on a grey tray, 400 x 300 px within a frame of 800 x 600, with what a test paints on it; soft blurs it, off
// moves it to the left.
func ph5Face(soft bool, off int, paint func(*image.RGBA)) *photo.Image {
	img := image.NewRGBA(image.Rect(0, 0, 800, 600))
	rnd := rand.New(rand.NewPCG(5, 5))
	for y := range 600 {
		for x := range 800 {
			c := color.RGBA{120, 122, 124, 255}
			if image.Pt(x, y).In(image.Rect(200+off, 150, 600+off, 450)) {
				n := uint8(rnd.IntN(60))
				c = color.RGBA{150 + n/2, 70 + n, 60 + n/2, 255}
			}
			img.SetRGBA(x, y, c)
		}
	}
	if paint != nil {
		paint(img)
	}
	m := photo.NewImage(img)
	if !soft {
		return m
	}
	small := m.Preview(160)
	big := image.NewRGBA(img.Rect)
	photo.NewImage(small).Draw(big, [6]float64{0.2, 0, -0.4, 0, 0.2, -0.4})
	return photo.NewImage(big)
}

func fillBox(r image.Rectangle, c color.RGBA) func(*image.RGBA) {
	return func(m *image.RGBA) {
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				m.SetRGBA(x, y, c)
			}
		}
	}
}

// Row PH5, number by number: glare above 0.5 % of the face, a focus score below 35 % of the session's median, more than 1 % clipped, coarser
// than 0.2 mm per pixel, and the face cut by the frame are each told with what to change at the stand, and marked on the picture
// where they have a place; just below each limit nothing is said. The face has 120,000 px.
func TestPH5PictureCheck(t *testing.T) {
	shine, burnt := color.RGBA{250, 250, 250, 255}, color.RGBA{255, 190, 120, 255}
	for _, x := range []struct {
		name   string
		m      *photo.Image
		mm     float64 // per px
		fault  photo.Fault
		told   []string
		silent bool
	}{
		{"glare 0.6 %", ph5Face(false, 0, fillBox(image.Rect(300, 200, 330, 224), shine)), 0.1, photo.Glare, []string{"Glare over 0.6% of the face", "lamps"}, false},
		{"glare 0.4 %", ph5Face(false, 0, fillBox(image.Rect(300, 200, 330, 216), shine)), 0.1, photo.Glare, nil, true},
		{"soft", ph5Face(true, 0, nil), 0.1, photo.Blur, []string{"Soft", "Focus on the face"}, false},
		{"sharp", ph5Face(false, 0, nil), 0.1, photo.Blur, nil, true},
		{"clipped 1.2 %", ph5Face(false, 0, fillBox(image.Rect(300, 200, 336, 240), burnt)), 0.1, photo.Clipped, []string{"Burnt out over 1.2% of the face", "Expose less"}, false},
		{"clipped 0.8 %", ph5Face(false, 0, fillBox(image.Rect(300, 200, 332, 230), burnt)), 0.1, photo.Clipped, nil, true},
		{"0.21 mm per pixel", ph5Face(false, 0, nil), 0.21, photo.Coarse, []string{"Coarse: 0.21 mm per pixel", "camera nearer"}, false},
		{"0.19 mm per pixel", ph5Face(false, 0, nil), 0.19, photo.Coarse, nil, true},
		{"cut by the frame", ph5Face(false, -220, nil), 0.1, photo.CutByFrame, []string{"runs out of the picture", "finger's breadth"}, false},
	} {
		t.Run(x.name, func(t *testing.T) {
			b, q, _, f := onBench(t, 900, 700)
			q.run()
			err := b.edit("test", "", func(p atlas.Plate) (atlas.Plate, error) {
				c, err := photo.TwoTicks(geom.Px{}, geom.Px{X: 1000}, 1000*x.mm)
				p.Calibration, p.Photo.Size, p.Registration, p.Picks = c, image.Pt(800, 600), nil, nil
				left := -0.5
				if x.fault != photo.CutByFrame {
					left = 200
				}
				p.Border = []annotate.Polygon{{Outer: []geom.Px{{X: left, Y: 150}, {X: left + 400, Y: 150}, {X: left + 400, Y: 450}, {X: left, Y: 450}}}}
				return p, err
			})
			if err != nil {
				t.Fatal(err)
			}
			b.doc.picture, b.doc.whole = x.m, true
			sharp := photo.Measure(ph5Face(false, 0, nil), photo.Border{Rings: [][]geom.Px{{{X: 200, Y: 150}, {X: 600, Y: 150}, {X: 600, Y: 450}, {X: 200, Y: 450}}}})
			b.rule.checks = map[string]photo.Check{"s1": sharp, "s2": sharp, "s3": sharp} // the session's other pictures
			b.wantCheck(b.doc)
			q.run()
			var row *CheckRow
			got := b.PictureCheck()
			for i, y := range b.judged(b.doc.plate().ID, b.doc.plate().Calibration).Findings {
				if y.Fault == x.fault {
					row = &got.Rows[i]
				}
			}
			if x.silent {
				if row != nil {
					t.Fatalf("told: %+v", *row)
				}
				return
			}
			if row == nil || !has(row.Words+" "+row.Advice, x.told...) {
				t.Fatalf("%+v", got)
			}
			if marked := x.fault != photo.Coarse; marked != (row.Mark > 0) {
				t.Fatalf("mark %d", row.Mark)
			}
			if row.Mark > 0 {
				plain, with := image.NewRGBA(image.Rect(0, 0, 900, 700)), image.NewRGBA(image.Rect(0, 0, 900, 700))
				f.Paint(plain)
				b.SetMarks(true)
				f.Paint(with)
				differs := 0
				for i := range plain.Pix {
					if plain.Pix[i] != with.Pix[i] {
						differs++
					}
				}
				if differs < 100 {
					t.Errorf("%d bytes of the picture change with its marks", differs)
				}
			}
			if p, ok := b.Plate(); !ok || b.writable() != nil || math.IsNaN(p.Calibration.ToMM[0]) {
				t.Error("advice barred something")
			}
		})
	}
}
