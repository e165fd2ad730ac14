package bench

import (
	"bytes"
	"image"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

func (m *memory) Stands() ([]atlas.Stand, error) { return m.stands, nil }

func (m *memory) SaveStand(s atlas.Stand) error {
	_ = m.RemoveStand(s.Name)
	m.stands = append(m.stands, s)
	return nil
}

func (m *memory) RemoveStand(name string) error {
	m.stands = slices.DeleteFunc(slices.Clone(m.stands), func(s atlas.Stand) bool { return s.Name == name })
	return nil
}

func (m *memory) SaveAll(plates ...atlas.Plate) ([]atlas.Plate, error) {
	for i, p := range plates {
		kept, err := m.Save(p)
		if err != nil {
			return nil, err
		}
		plates[i] = kept
	}
	return plates, nil
}

// bentLens is the lens of the stand in these tests: 800 x 600 px.
var bentLens = photo.Lens{FX: 800, FY: 800, CX: 399.5, CY: 299.5, K1: -0.12, K2: 0.02, Size: image.Pt(800, 600), RMS: 0.1, Views: 1, Reach: 0.95}

// sheetFile is a picture of a chequer sheet of 9 x 7 corners 10 mm apart through bentLens, at so many px per mm from a corner on.
func sheetFile(t *testing.T, dir, name string, per float64, from geom.Px) string {
	t.Helper()
	m := image.NewGray(image.Rect(0, 0, 800, 600))
	for y := range 600 {
		for x := range 800 {
			sum := 0
			for k := range 9 {
				p := geom.Px{X: float64(x) + float64(k%3-1)/3, Y: float64(y) + float64(k/3-1)/3}
				q, _ := bentLens.Straight(p)
				i, j := math.Floor((q.X-from.X)/(10*per)), math.Floor((q.Y-from.Y)/(10*per))
				if i >= -1 && j >= -1 && i < 9 && j < 7 && int(i+j)&1 == 0 {
					sum += 30
				} else {
					sum += 225
				}
			}
			m.SetGray(x, y, color.Gray{Y: uint8(sum / 9)})
		}
	}
	var file bytes.Buffer
	if err := photo.EncodePNG(&file, m); err != nil {
		t.Fatal(err)
	}
	return write(t, filepath.Join(dir, name), file.Bytes())
}

// A lens is measured from a picture of the sheet that a person accepted, kept for the stand, and every scale laid with the stand goes
// through it: 40 mm near the corner of the picture read 40 mm, and did not before.
func TestLensOfAStand(t *testing.T) {
	b, q, m, f := onBench(t, 900, 700)
	b.ClearScale()
	b.SetTool(ToolScale)
	if w := b.StandWords(); !has(w, "No stand is kept yet") {
		t.Fatal(w)
	}
	b.AddSheetPictures([]string{"nothing.jpg"})
	if w, warn := b.Hint(); !warn || !has(w, "how many corners") {
		t.Fatalf("pictures without a sheet described: %q", w)
	}
	b.SetSheet(9, 7, 10)
	dir := t.TempDir()
	b.AddSheetPictures([]string{sheetFile(t, dir, "sheet.png", 8.1, geom.Px{X: 75, Y: 57}), filepath.Join(dir, "gone.jpg")})
	q.run()
	i := b.Sheet()
	if len(i.Shots) != 2 || !i.Shots[0].Found || i.Shots[1].Found || i.Shots[1].Words == "" || i.Accepted != 0 {
		t.Fatalf("%+v", i)
	}
	if err := b.MeasureLens(); err == nil {
		t.Fatal("measured from nothing that was accepted")
	}
	face := painted(f, 900, 700, 1)
	b.OpenSheet(false)
	if same(face.Pix, painted(f, 900, 700, 1).Pix) {
		t.Fatal("the sheet is not shown in place of the face")
	}
	b.OpenSheet(true)
	b.ShowSheet(0)
	whole := painted(f, 900, 700, 1)
	f.Wheel(geom.Px{X: 450, Y: 350}, 4, Mods{})
	near := painted(f, 900, 700, 1)
	f.Down(geom.Px{X: 450, Y: 350}, Primary, Mods{})
	f.Drag(geom.Px{X: 500, Y: 380})
	f.Up(geom.Px{X: 500, Y: 380})
	if same(whole.Pix, near.Pix) || same(near.Pix, painted(f, 900, 700, 1).Pix) {
		t.Error("the corners cannot be looked at from near")
	}
	b.AcceptSheet(0, true)
	if err := b.MeasureLens(); err != nil {
		t.Fatal(err)
	}
	if i := b.Sheet(); !has(i.Lens, "one picture", "px", "way to the corners") {
		t.Fatalf("%+v", i)
	}
	if err := b.KeepStand(" "); err == nil {
		t.Fatal("kept without a name")
	}
	if err := b.KeepStand("Column A"); err != nil {
		t.Fatal(err)
	}
	if len(m.stands) != 1 || m.stands[0].Lens == nil || !m.stands[0].Set.Equal(q.now) {
		t.Fatalf("%+v", m.stands)
	}
	if rows := b.Stands(); len(rows) != 1 || !rows[0].Chosen || !has(rows[0].Words, "Lens measured", "Kept") {
		t.Fatalf("%+v", rows)
	}

	at := func(x, y float64) geom.Px { return bentLens.Bent(geom.Px{X: 75 + 8.1*x, Y: 57 + 8.1*y}) }
	lay := func() photo.Calibration {
		b.SetTool(ToolScale)
		b.SetScaleMode(TwoTicks)
		clickAt(f, at(20, 30))
		clickAt(f, at(60, 30))
		b.SetScaleLength(40)
		b.SetScaleLevel(atlas.Yes, 0, 0)
		if err := b.AcceptScale(); err != nil {
			t.Fatalf("%v %+v", err, b.Scale())
		}
		c, _ := b.hasScale()
		return c
	}
	through := lay()
	if through.Lens == nil || !has(b.ScaleInForce(), "The bend of the lens is taken out.", "Set ", "Lengths are good to") {
		t.Fatalf("%q", b.ScaleInForce())
	}
	b.stand = standRoom{} // another sitting
	if rows := b.Stands(); len(rows) != 1 || !rows[0].Chosen {
		t.Errorf("the stand of the face is not chosen: %+v", rows)
	}
	mm, _, _ := through.Length(at(2, 2), at(42, 2))
	b.ChooseStand("")
	plain := lay()
	blind, _, _ := plain.Length(at(2, 2), at(42, 2))
	t.Logf("40 mm at the edge read %.3f mm through the lens, %.3f mm without", mm, blind)
	if math.Abs(mm-40) > 0.1 || math.Abs(blind-40) < 0.4 {
		t.Errorf("40 mm read %.3f mm through the lens, %.3f mm without", mm, blind)
	}
	b.ChooseStand("Column A")
	if !b.LensWaits() {
		t.Fatal("a scale laid without the lens is not offered to go through it")
	}
	if err := b.ScaleThroughLens(); err != nil {
		t.Fatal(err)
	}
	if c, _ := b.hasScale(); c.Lens == nil || b.LensWaits() || b.UndoName() != "lay scale through the lens" {
		t.Fatalf("%+v, undo %q", c.Lens, b.UndoName())
	}
	b.RemoveStand("Column A")
	if len(b.Stands()) != 0 || b.lensFor(image.Pt(800, 600)) != nil {
		t.Error("the stand is still there")
	}
}

// A chequer sheet lying in the picture of the face is found as its scale; nothing is scaled until it is accepted.
func TestScaleByChequerSheet(t *testing.T) {
	b, q, m, f := onBench(t, 900, 700)
	b.ClearScale()
	file, err := os.Open(sheetFile(t, t.TempDir(), "s.png", 2.5, geom.Px{X: 500, Y: 380}))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	pic, err := photo.Open(t.Context(), file, photo.Limit{})
	if err != nil {
		t.Fatal(err)
	}
	b.doc.picture, m.photos["p2"] = pic, pic
	b.SetTool(ToolScale)
	b.SetScaleMode(ChequerSheet)
	b.SetSheet(9, 7, 10)
	b.FindSheet()
	q.run()
	s := b.Scale()
	if len(s.Sheet) != 63 || s.Ready || !has(s.Needs, "level") {
		t.Fatalf("%d corners, %+v, %v", len(s.Sheet), s.Needs, b.Message())
	}
	clickAt(f, geom.Px{X: 100, Y: 100}) // clicks change nothing
	if _, scaled := b.hasScale(); scaled || len(b.Scale().Sheet) != 63 {
		t.Fatal("scaled before it was accepted")
	}
	b.SetScaleLevel(atlas.Yes, 0, 0)
	if err := b.AcceptScale(); err != nil {
		t.Fatal(err)
	}
	c, _ := b.hasScale()
	if per := c.PixelSize(geom.Px{X: 600, Y: 450}); math.Abs(per-0.4) > 0.02 || c.Status != photo.Rectified || len(c.Ties) != 63 {
		t.Fatalf("%.4f mm per px by %d ties", per, len(c.Ties))
	}
}

// Row PH4 on the bench: a scale off the face at a height nobody knows widens the spread and says so; known, 102.5 mm become 100.0.
func TestPH4OnTheBench(t *testing.T) {
	b, _, _, f := onBench(t, 900, 700)
	b.SetTool(ToolScale)
	clickAt(f, geom.Px{X: 200, Y: 500})
	clickAt(f, geom.Px{X: 600, Y: 500})
	b.SetScaleLength(102.5)
	b.SetScaleLevel(atlas.Yes, 0, 0)
	a, z := geom.Px{X: 200, Y: 300}, geom.Px{X: 600, Y: 300}
	length := func() (mm, sd float64) {
		c, err := b.scaleOf(b.Scale())
		if err != nil {
			t.Fatal(err)
		}
		mm, sd, _ = c.Length(a, z)
		return mm, sd
	}
	level, levelSD := length()
	b.SetScaleLevel(atlas.No, 0, 0)
	unknown, unknownSD := length()
	if s := b.Scale(); !s.Ready || !has(s.Fit, "not known", "spread widened by 1.4%") {
		t.Fatalf("%+v", s)
	}
	b.SetScaleLevel(atlas.No, 25, 0)
	_, dropSD := length()
	if s := b.Scale(); !has(s.Fit, "spread widened by 2.5%") {
		t.Fatalf("%+v", s)
	}
	b.SetScaleLevel(atlas.No, 25, 1000)
	known, knownSD := length()
	t.Logf("level %.2f ± %.2f, height unknown %.2f ± %.2f, drop 25 mm under an unknown camera ± %.2f, known %.2f ± %.2f mm", level, levelSD, unknown, unknownSD, dropSD, known, knownSD)
	if math.Abs(level-102.5) > 1e-6 || math.Abs(known-100) > 0.1 || unknown != level || unknownSD < 1.4 || dropSD < 2.5 || knownSD > 1.1*levelSD {
		t.Error("not as the row says")
	}
}

// sitting gives the sample a second photograph of the same day without a scale, one of another size and one of another day.
func sitting(t *testing.T) (*Bench, *queue, *memory, *facePane) {
	b, q, m, f := onBench(t, 900, 700)
	day := time.Date(2026, 5, 4, 10, 0, 0, 0, time.UTC)
	change := func(id string, edit func(*atlas.Plate)) {
		p := m.plates[id]
		edit(&p)
		m.plates[id] = p
	}
	change("p1", func(p *atlas.Plate) { p.Calibration, p.Photo.Taken = photo.Calibration{}, day.Add(time.Minute) })
	change("p2", func(p *atlas.Plate) { p.Photo.Taken, p.Colour = day, &photo.Correction{} })
	for id, edit := range map[string]func(*atlas.Plate){
		"tray":  func(p *atlas.Plate) {},
		"other": func(p *atlas.Plate) { p.Photo.Size = image.Pt(600, 800) },
		"later": func(p *atlas.Plate) { p.Photo.Taken = day.AddDate(0, 0, 1) },
	} {
		p := m.plates["p1"]
		p.ID, p.Face = id, section.Face{}
		edit(&p)
		m.plates[id] = p
	}
	delete(b.docs, "p2")
	delete(b.docs, "p1")
	b.rule.face = section.Face{}
	b.readFaces()
	q.run()
	b.ChooseFace(face(2, section.Inferior))
	b.Show(FaceScreen)
	q.run()
	return b, q, m, f
}

// The scale of one face is offered to the pictures of the same sitting, carried over as one step that Undo takes back, and each face says
// where its scale comes from and how much wider its spread is.
func TestCarryScaleOverASitting(t *testing.T) {
	b, q, m, _ := sitting(t)
	b.stand.name = "Column A"
	m.stands = []atlas.Stand{{Name: "Column A"}}
	if i := b.Batch(); i.Offered {
		t.Fatalf("offered unasked: %+v", i)
	}
	b.LookBatch()
	q.run()
	i := b.Batch()
	var words []string
	for _, r := range i.Rows {
		words = append(words, r.Words)
	}
	if len(i.Rows) != 2 || !has(i.Words, "2 photographs", "1.0%") || !i.HasColour || !has(strings.Join(words, "\n"), "In the tray", "Slab 1") {
		t.Fatalf("%+v", i)
	}
	own, _ := b.hasScale()
	_, ownSD, _ := own.Length(geom.Px{X: 100, Y: 100}, geom.Px{X: 500, Y: 100})
	b.SetBatchColour(true)
	if err := b.CarryScale(); err != nil {
		t.Fatal(err)
	}
	for _, id := range []string{"p1", "tray"} {
		p := m.plates[id]
		mm, sd, err := p.Calibration.Length(geom.Px{X: 100, Y: 100}, geom.Px{X: 500, Y: 100})
		if err != nil || math.Abs(mm-200) > 1e-6 || sd < 1.9 || sd < 2*ownSD || p.Colour == nil {
			t.Errorf("%s: %.2f ± %.2f mm (own ± %.2f), %v", id, mm, sd, ownSD, err)
		}
	}
	for _, id := range []string{"other", "later"} {
		if m.plates[id].Calibration.Status != photo.Nominal {
			t.Errorf("%s was scaled", id)
		}
	}
	if !b.Info(face(1, section.Superior)).Scale {
		t.Error("the ruler does not know")
	}
	b.ChooseFace(face(1, section.Superior))
	q.run()
	if w := b.ScaleInForce(); !has(w, "Scale carried over from Slab 2", "stand Column A", "widened by 1.0%") {
		t.Errorf("%q", w)
	}
	b.ChooseFace(face(2, section.Inferior))
	q.run()
	if b.UndoName() != "carry scale to 2 photographs" {
		t.Fatalf("undo %q", b.UndoName())
	}
	b.Undo()
	q.run()
	q.pass(10 * time.Second)
	for _, id := range []string{"p1", "tray"} {
		if p := m.plates[id]; p.Calibration.Status != photo.Nominal || p.Colour != nil {
			t.Errorf("%s keeps the scale after undo", id)
		}
	}
	if _, ok := b.hasScale(); !ok || b.undoesBatch() {
		t.Error("the face lost its own scale, or undo would take back twice")
	}
	if i := b.Batch(); len(i.Rows) != 2 {
		t.Errorf("not offered again: %+v", i)
	}
}

// What was changed since is not taken back.
func TestTakeBackLeavesWhatChanged(t *testing.T) {
	b, q, m, _ := sitting(t)
	b.LookBatch()
	q.run()
	if err := b.CarryScale(); err != nil {
		t.Fatal(err)
	}
	if b.stand.batch.last.colour != nil {
		t.Fatal("colour carried unasked")
	}
	p := m.plates["tray"]
	p.Calibration, _ = photo.TwoTicks(geom.Px{}, geom.Px{X: 10}, 10)
	m.plates["tray"] = p
	b.TakeBackScale()
	if w, _ := b.Hint(); !has(w, "1 photograph", "1 was changed") {
		t.Errorf("%q", w)
	}
	if m.plates["tray"].Calibration.Status != photo.Scaled || m.plates["p1"].Calibration.Status != photo.Nominal {
		t.Error("taken back what a person set, or kept what was carried")
	}
}

// A colour that a person set on a picture since stays when the scale carried to it is taken back.
func TestTakeBackLeavesAnotherColour(t *testing.T) {
	b, q, m, _ := sitting(t)
	b.LookBatch()
	q.run()
	b.SetBatchColour(true)
	if err := b.CarryScale(); err != nil {
		t.Fatal(err)
	}
	p := m.plates["tray"]
	p.Colour = &photo.Correction{Matrix: [9]float64{1.1, 0, 0, 0, 1, 0, 0, 0, 1}}
	m.plates["tray"] = p
	b.TakeBackScale()
	if p = m.plates["tray"]; p.Calibration.Status != photo.Nominal || p.Colour == nil || p.Colour.Matrix[0] != 1.1 {
		t.Errorf("%+v", p.Colour)
	}
	if p = m.plates["p1"]; p.Calibration.Status != photo.Nominal || p.Colour != nil {
		t.Error("the colour carried over stays")
	}
}
