package quiz

import (
	"bytes"
	"context"
	"image"
	"math"
	"strings"
	"testing"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// A corrected face leaves with the colours the bench shows: each part of light times its own gain, reckoned here from IEC 61966-2-1.
// Tags stay covered and paper stays white.
func TestCorrectedColoursLeave(t *testing.T) {
	sc := straight()
	m, err := photo.Open(context.Background(), bytes.NewReader(sc.paint()), photo.Limit{})
	must(t, err)
	gain := [3]float64{1.2, 0.9, 0.7}
	p := atlas.Plate{Face: section.Face{Run: "R", Slab: 1, Facing: section.Superior}, Photo: m.Info(), PhotoUp: sc.up,
		Border: []annotate.Polygon{{Outer: sc.ellipse(10, 0, 60, 50)}}, Mask: []annotate.Polygon{{Outer: sc.ellipse(10, 0, 5, 5)}}}
	render := func(c *photo.Correction) *image.RGBA {
		p.Colour = c
		f, err := newFaceView(p, m, section.Bench)
		must(t, err)
		f.fit(area{0, 0, 200, 200})
		return f.render(300, 300)
	}
	as, now := render(nil), render(&photo.Correction{Matrix: [9]float64{gain[0], 0, 0, 0, gain[1], 0, 0, 0, gain[2]}})
	light := func(v uint8) float64 {
		x := float64(v) / 255
		if x <= 0.04045 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	stored := func(x float64) float64 {
		if x <= 0.0031308 {
			return 255 * 12.92 * x
		}
		return 255 * (1.055*math.Pow(min(x, 1), 1/2.4) - 0.055)
	}
	changed := 0
	for i := 0; i < len(as.Pix); i += 4 {
		a, b := as.Pix[i:i+3], now.Pix[i:i+3]
		if bytes.Equal(a, b) {
			continue
		}
		changed++
		for n := range 3 {
			// Well inside: at the rim and at the tag the picture is blended after it was corrected.
			inside := i/4%300 == 150 && i/4/300 > 20 && i/4/300 < 110
			if want := stored(gain[n] * light(a[n])); inside && math.Abs(want-float64(b[n])) > 1.5 {
				t.Fatalf("pixel %d part %d: %d, want %.1f from %d", i/4, n, b[n], want, a[n])
			}
		}
	}
	if changed < 300*300/10 {
		t.Errorf("only %d pixels changed", changed)
	}
	if c := now.RGBAAt(150, 150); c != cover {
		t.Errorf("the tag became %v", c)
	}
	if c := now.RGBAAt(1, 1); c != paperWhite {
		t.Errorf("the paper became %v", c)
	}
}

// PH6: what is handed out says that its colours were corrected and are not those of life; without a correction nothing is said.
func TestPH6HandOutsSayFixedTissueColour(t *testing.T) {
	const words = "fixed tissue colour, not living colour"
	for _, corrected := range []bool{false, true} {
		l := newLab(t, straight(), photo.Rectified)
		if corrected {
			p, err := l.Plate(l.plate.ID)
			must(t, err)
			p.Colour = &photo.Correction{Matrix: [9]float64{1.1, 0, 0, 0, 1, 0, 0, 0, 0.9}}
			_, err = l.Save(p)
			must(t, err)
		}
		for _, k := range []Kind{Study, Exam} {
			s, dir := handOut(t, l, l.request(k))
			found := false
			for name, b := range released(t, s, dir) {
				found = found || strings.HasSuffix(name, ".pdf") && strings.Contains(pdfText(t, b), words)
			}
			if found != corrected {
				t.Errorf("%s, corrected %v: words there %v", k, corrected, found)
			}
		}
	}
}
