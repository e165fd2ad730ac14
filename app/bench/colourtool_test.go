package bench

import (
	"image"
	"image/color"
	"math"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// tinted is a picture of the 24-patch card (values of the published table through our own conversion) under light that
// is too yellow, 60 px a patch, first patch at 100, 100; a grey wall round it.
func tinted(size image.Point) *photo.Image {
	m := image.NewRGBA(image.Rectangle{Max: size})
	for i := range m.Pix {
		m.Pix[i] = 255
	}
	card := photo.CardColours(photo.After2014)
	light := photo.Correction{Matrix: [9]float64{0: 0.75, 4: 0.7, 8: 0.45}}
	for y := range size.Y {
		for x := range size.X {
			v := photo.Linear{0.3, 0.3, 0.3}
			if c, r := (x-70)/60, (y-70)/60; x >= 70 && y >= 70 && c < 6 && r < 4 {
				v = card[6*r+c]
			}
			r, g, b := photo.Encode(light.Of(v))
			m.SetRGBA(x, y, color.RGBA{r, g, b, 255})
		}
	}
	return photo.NewImage(m)
}

func onTinted(t *testing.T) (*Bench, *facePane, *memory) {
	b, _, m, f := onBench(t, 900, 700)
	m.photos["p2"] = tinted(b.doc.plate().Photo.Size)
	b.doc.picture, b.doc.whole = m.photos["p2"], true
	b.SetTool(ToolColour)
	return b, f, m
}

// Row PH6: the grey patch is neutral to within 2 units in a* and b* after correction, as painted; the original is kept.
func TestPH6GreyPatchIsNeutral(t *testing.T) {
	b, f, m := onTinted(t)
	at := geom.Px{X: 600, Y: 400}
	was := m.photos["p2"].At(at)
	clickAt(f, at)
	c := b.Colour()
	if !c.Ready || !has(c.Fit, "a*") {
		t.Fatalf("%+v", c)
	}
	if err := b.AcceptColour(); err != nil {
		t.Fatal(err)
	}
	dst := image.NewRGBA(image.Rect(0, 0, 900, 700))
	f.Paint(dst)
	on := b.doc.view.Device(at)
	v := dst.RGBAAt(int(on.X), int(on.Y))
	if lab := photo.Decode(v.R, v.G, v.B).LabD65(); math.Abs(lab.A) > 2 || math.Abs(lab.B) > 2 {
		t.Fatalf("the patch is shown as %v: a* %.1f b* %.1f", v, lab.A, lab.B)
	}
	if m.photos["p2"].At(at) != was {
		t.Fatal("the original was changed")
	}
	b.SetAsPhotographed(true)
	f.Paint(dst)
	if dst.RGBAAt(int(on.X), int(on.Y)) != was {
		t.Fatal("the colours of the original are not shown")
	}
	b.Undo()
	if p, _ := b.Plate(); p.Colour != nil {
		t.Fatal("undo left the correction")
	}
}

// Row PH6: mean difference from the card at most 5 (CIEDE2000) after correction, told before and after. Wrong order of
// the clicks is refused in words.
func TestPH6ColourCardByFourClicks(t *testing.T) {
	b, f, _ := onTinted(t)
	b.SetColourMode(ColourCard)
	corners := []geom.Px{{X: 100, Y: 100}, {X: 400, Y: 100}, {X: 400, Y: 280}, {X: 100, Y: 280}}
	for i := range 4 {
		clickAt(f, corners[3-i])
	}
	if c := b.Colour(); c.Ready || c.Problem == "" {
		t.Fatalf("clicks in the wrong order: %+v", c)
	}
	for _, p := range corners {
		clickAt(f, p)
	}
	c := b.Colour()
	if !c.Ready || c.found.Before.Mean < 5 || c.found.After.Mean > 5 {
		t.Fatalf("%+v", c)
	}
	if err := b.AcceptColour(); err != nil {
		t.Fatal(err)
	}
	if w := b.ColourInForce(); !has(w, "before", "after", "CIEDE2000") {
		t.Fatal(w)
	}
	if Word("band.colour") != "Colour corrected: fixed tissue colour, not living colour" {
		t.Fatal("the band does not say that it is fixed tissue colour")
	}
}

func TestGreyPatchRefusesColour(t *testing.T) {
	b, f, _ := onTinted(t)
	clickAt(f, geom.Px{X: 220, Y: 220}) // a coloured patch
	if c := b.Colour(); c.Ready || c.Problem == "" {
		t.Fatalf("%+v", c)
	}
	if err := b.AcceptColour(); err == nil {
		t.Fatal("accepted")
	}
}
