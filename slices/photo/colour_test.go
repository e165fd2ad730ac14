package photo

import (
	"encoding/json"
	"image"
	"image/color"
	"math"
	"testing"

	"sectionary/slices/geom"
)

// colourTruth is testdata/photo/colour.json, which names the source of each table.
type colourTruth struct {
	CIEDE2000 struct{ Pairs [][7]float64 }
	SRGB      struct{ Checks [][6]float64 } `json:"srgb_lab"`
	Chart     struct {
		Editions []struct {
			Lab    [][3]float64 `json:"lab_D50"`
			Linear []Linear     `json:"linear_sRGB"`
		}
	}
	Correction struct {
		Cam    []Linear
		C      [3][3]float64    `json:"C_rows"`
		Gains  Linear           `json:"grey_gains"`
		Before ColourDifference `json:"dE_uncorrected"`
		After  ColourDifference `json:"dE_after_3x3"`
		Grey   ColourDifference `json:"dE_after_grey_card_neutral5"`
	}
}

func loadColours(t *testing.T) (c colourTruth) {
	t.Helper()
	if err := json.Unmarshal(testFile(t, "colour.json"), &c); err != nil {
		t.Fatal(err)
	}
	return c
}

func TestDeltaE(t *testing.T) {
	c := loadColours(t)
	if len(c.CIEDE2000.Pairs) != 34 {
		t.Fatalf("%d pairs", len(c.CIEDE2000.Pairs))
	}
	for i, p := range c.CIEDE2000.Pairs {
		a, b := Lab{p[0], p[1], p[2]}, Lab{p[3], p[4], p[5]}
		for _, got := range [2]float64{DeltaE(a, b), DeltaE(b, a)} {
			if math.Abs(got-p[6]) > 1e-4 {
				t.Errorf("pair %d: %.5f, published %.4f", i+1, got, p[6])
			}
		}
	}
}

func TestLab(t *testing.T) {
	c := loadColours(t)
	for _, v := range c.SRGB.Checks {
		got := Decode(uint8(v[0]), uint8(v[1]), uint8(v[2])).LabD65()
		near(t, "L", got.L, v[3], 0.02)
		near(t, "a", got.A, v[4], 0.02)
		near(t, "b", got.B, v[5], 0.02)
	}
	for e, edition := range c.Chart.Editions {
		for i, lab := range edition.Lab {
			if chartLab[e][i] != (Lab{lab[0], lab[1], lab[2]}) {
				t.Errorf("edition %d patch %d is %v, tabled %v", e, i+1, chartLab[e][i], lab)
			}
			linear := LinearOfD50(chartLab[e][i])
			for k := range 3 {
				near(t, "linear", linear[k], edition.Linear[i][k], 2e-6)
			}
			back := linear.LabD50()
			near(t, "back", math.Hypot(back.A-lab[1], math.Hypot(back.B-lab[2], back.L-lab[0])), 0, 1e-9)
		}
	}
}

func TestFitChart(t *testing.T) {
	c := loadColours(t).Correction
	got, err := FitChart(c.Cam, After2014)
	if err != nil {
		t.Fatal(err)
	}
	for i, v := range got.Matrix {
		near(t, "matrix", v, c.C[i%3][i/3], 1e-4)
	}
	for _, p := range []struct{ got, want ColourDifference }{{got.Before, c.Before}, {got.After, c.After}} {
		near(t, "mean", p.got.Mean, p.want.Mean, 0.01)
		near(t, "max", p.got.Max, p.want.Max, 0.01)
		near(t, "95th of 100", p.got.P95, p.want.P95, 0.01)
	}
	// The tabled gains bring each part of the card's neutral 5 to the card's own value, which is not quite neutral.
	want := LinearOfD50(chartLab[After2014][21])
	for k := range want {
		g, err := GreyGains(Linear{c.Cam[21][k], c.Cam[21][k], c.Cam[21][k]}, want[k])
		if err != nil {
			t.Fatal(err)
		}
		near(t, "gain", g.Matrix[4*k], c.Gains[k], 1e-4)
	}
	if _, err := GreyGains(Linear{0.1, 0, 0.1}, 0.2); err == nil {
		t.Error("black passed as grey")
	}
	if _, err := FitChart(c.Cam[:5], After2014); err == nil {
		t.Error("five patches passed")
	}
	if _, err := FitChart(make([]Linear, 24), After2014); err == nil {
		t.Error("black patches passed")
	}
}

// TestChartInPicture paints the card aslant with a colour cast, reads it by four clicks and corrects: afterwards the
// greys are neutral to 2 in a* and b* and the card is right to 5 on average.
func TestChartInPicture(t *testing.T) {
	pic := image.NewRGBA(image.Rect(0, 0, 500, 400))
	place := geom.Homography{0.0145, 0.0012, -1, -0.0007, 0.0139, -1.1, 0.00002, -0.00003, 1} // px to patches
	part := func(v, gain float64) uint8 {
		return uint8(math.Round(255 * encodeSRGB(max(0, min(1, v*gain)))))
	}
	for y := range 400 {
		for x := range 500 {
			p := place.MM(geom.Px{X: float64(x), Y: float64(y)})
			i, k := math.Round(p.X), math.Round(p.Y)
			c := Linear{0.02, 0.02, 0.02}
			if i >= 0 && i < 6 && k >= 0 && k < 4 && math.Abs(p.X-i) < 0.42 && math.Abs(p.Y-k) < 0.42 {
				c = LinearOfD50(chartLab[Before2014][int(6*k+i)])
			}
			pic.SetRGBA(x, y, color.RGBA{part(c[0], 0.95), part(c[1], 0.8), part(c[2], 0.5), 255})
		}
	}
	var corners [4]geom.Px
	for i, c := range []geom.MM{{}, {X: 5}, {X: 5, Y: 3}, {Y: 3}} {
		corners[i] = place.Px(c)
		corners[i].X += float64(i) - 1.5 // a hand's error
	}
	seen, err := ReadChart(NewImage(pic), corners)
	if err != nil {
		t.Fatal(err)
	}
	c, err := FitChart(seen, Before2014)
	if err != nil {
		t.Fatal(err)
	}
	if c.Before.Mean < 8 || c.After.Mean > 5 {
		t.Errorf("before %+v, after %+v", c.Before, c.After)
	}
	c.Apply(pic)
	for i := 19; i < 23; i++ {
		p := place.Px(geom.MM{X: float64(i % 6), Y: float64(i / 6)})
		v := pic.RGBAAt(int(p.X), int(p.Y))
		if lab := Decode(v.R, v.G, v.B).LabD50(); math.Abs(lab.A) > 2 || math.Abs(lab.B) > 2 {
			t.Errorf("grey patch %d is %+v", i+1, lab)
		}
	}
	corners[0], corners[3] = corners[3], corners[0]
	corners[1], corners[2] = corners[2], corners[1]
	if _, err := ReadChart(NewImage(pic), corners); err == nil {
		t.Error("a card upside down passed")
	}
	if _, err := ReadChart(NewImage(pic), [4]geom.Px{}); err == nil {
		t.Error("four clicks on one place passed")
	}
}
