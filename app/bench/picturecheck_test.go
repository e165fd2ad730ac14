package bench

import (
	"image"
	"image/color"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// Row PH5: glare (bright and colourless) over more than 0.5 % of the face is told with what to change at the stand and
// marked on the picture; it bars nothing.
func TestPictureCheckMarksGlare(t *testing.T) {
	b, q, m, f := onBench(t, 900, 700)
	size := b.doc.plate().Photo.Size
	shiny := image.NewRGBA(image.Rectangle{Max: size})
	for y := range size.Y {
		for x := range size.X {
			c := color.RGBA{150, 80, 60, 255}
			if image.Pt(x, y).In(image.Rect(300, 200, 400, 300)) {
				c = color.RGBA{250, 250, 250, 255}
			}
			shiny.SetRGBA(x, y, c)
		}
	}
	m.photos["p2"] = photo.NewImage(shiny)
	b.doc.picture, b.doc.whole = m.photos["p2"], true
	delete(b.rule.checks, "p2")
	if b.PictureCheck().Known {
		t.Fatal("known before it was looked at")
	}
	b.wantCheck(b.doc)
	q.run()
	c := b.PictureCheck()
	if len(c.Rows) == 0 || !has(c.Rows[0].Words, "Glare") || !has(c.Rows[0].Advice, "lamps") || c.Rows[0].Mark != 1 {
		t.Fatalf("%+v", c)
	}
	plain := image.NewRGBA(image.Rect(0, 0, 900, 700))
	f.Paint(plain)
	b.SetMarks(true)
	marked := image.NewRGBA(plain.Rect)
	f.Paint(marked)
	at := b.doc.view.Device(geom.Px{X: 300, Y: 250})
	changed := false
	for dx := -4; dx <= 4; dx++ {
		for dy := -20; dy <= 20; dy++ {
			changed = changed || plain.RGBAAt(int(at.X)+dx, int(at.Y)+dy) != marked.RGBAAt(int(at.X)+dx, int(at.Y)+dy)
		}
	}
	if !changed {
		t.Fatal("no mark at the edge of the shine")
	}
}

// A print of the tray carries what the check found and its marks, once.
func TestTrayPrintIsRemarked(t *testing.T) {
	b, _, m, _ := onBench(t, 900, 700)
	preview := m.photos["p2"].Preview(320)
	clean := append([]byte(nil), preview.Pix...)
	tp := TrayPhoto{ID: "x", Preview: preview, size: image.Pt(3200, 2400)}
	white := image.NewRGBA(image.Rect(0, 0, 3200, 2400))
	for i := range white.Pix {
		white.Pix[i] = 255
	}
	b.rule.checks = map[string]photo.Check{"x": photo.Measure(photo.NewImage(white), photo.Border{})}
	b.remark(&tp)
	if !has(tp.Advice, "Glare", "Burnt out", "Expose less") || string(tp.Preview.Pix) == string(clean) {
		t.Fatalf("%q", tp.Advice)
	}
	if string(preview.Pix) != string(clean) {
		t.Fatal("the preview itself was drawn on")
	}
	once := tp.Preview
	if b.remark(&tp); tp.Preview != once {
		t.Fatal("marked twice")
	}
}
