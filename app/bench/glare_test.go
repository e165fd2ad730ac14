package bench

import (
	"context"
	"image"
	"image/color"
	"math"
	"path/filepath"
	"testing"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// grainy is a face with fibres, moved by (dx, dy), that shines where it is told to.
func grainy(dx, dy float64, shines ...geom.Px) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, 800, 600))
	for y := range 600 {
		for x := range 800 {
			u, v := float64(x)+dx, float64(y)+dy
			g := 110 + 26*math.Sin(u/9+2*math.Sin(v/23)) + 22*math.Sin(v/7+1.5*math.Sin(u/31)) + 18*math.Sin((u+2*v)/13+math.Sin(u/71))
			for _, s := range shines {
				d := math.Hypot(u-s.X, v-s.Y) / 26
				g += 420 * math.Exp(-d*d)
			}
			c := func(k float64) uint8 { return uint8(max(0, min(k*g+(1-k)*max(0, g-190), 255))) }
			img.SetRGBA(x, y, color.RGBA{c(1), c(0.7), c(0.6), 255})
		}
	}
	return img
}

// The way of a person: the check finds glare, a second picture with the lamp moved is chosen, the result is looked at with the
// first under a held key, and kept; labels and scale stay, both sources are kept, and the check has nothing more to say of glare.
func TestSecondPictureWithTheLampMoved(t *testing.T) {
	for _, fromTray := range []bool{false, true} {
		b, q := newLab(t)
		dir := t.TempDir()
		first := write(t, filepath.Join(dir, "a.jpg"), fileOf(t, grainy(0, 0, geom.Px{X: 250, Y: 200}, geom.Px{X: 500, Y: 260}), firstDay))
		second := write(t, filepath.Join(dir, "b.jpg"), fileOf(t, grainy(7, -5, geom.Px{X: 300, Y: 430}, geom.Px{X: 620, Y: 120}), secondDay))
		f := section.Face{Run: b.Run().ID, Slab: 1, Facing: section.Superior}
		b.ChooseFace(f)
		b.AddPhotos([]string{first})
		q.run()
		b.Show(FaceScreen)
		q.run()
		err := b.edit("test", "", func(p atlas.Plate) (atlas.Plate, error) {
			c, err := photo.TwoTicks(geom.Px{X: 100, Y: 500}, geom.Px{X: 300, Y: 500}, 100)
			if err == nil {
				p.Calibration, p.PhotoUp = c, section.Anterior
				p.Labels, err = p.Labels.AddAll([]annotate.Label{named("liver", "UBERON:0002107", 260, 300)})
			}
			return p, err
		})
		if err != nil {
			t.Fatal(err)
		}
		was, _ := b.Plate()
		if !b.Glare().Offered {
			t.Fatalf("no glare was found: %+v", b.PictureCheck())
		}
		if fromTray {
			b.beginIntake([]string{second}, section.Face{})
			q.run()
			b.TakeLampPrint(b.Tray()[0].ID)
		} else {
			b.TakeLampFile(second)
		}
		q.run()
		i := b.Glare()
		if !i.Made || !has(i.Words, "second picture") {
			t.Fatalf("%+v %+v", i, b.Message())
		}
		pane := b.FacePane().(*facePane)
		pane.Resize(900, 700, 1)
		made, held := image.NewRGBA(image.Rect(0, 0, 900, 700)), image.NewRGBA(image.Rect(0, 0, 900, 700))
		pane.Paint(made)
		b.Key("B", Mods{})
		pane.Paint(held)
		b.KeyUp("B")
		at := b.doc.view.Device(geom.Px{X: 250, Y: 200})
		if m, h := made.RGBAAt(int(at.X), int(at.Y)), held.RGBAAt(int(at.X), int(at.Y)); m.G > 200 || h.G < 240 {
			t.Fatalf("made %v, first %v where it shone", m, h)
		}
		b.AcceptGlare()
		q.run()
		if m := b.Message(); m == nil || !has(m.Title, "without glare") {
			t.Fatalf("%+v", m)
		}
		b.Dismiss()
		q.run()
		p, _ := b.Plate()
		if p.ID == was.ID || p.Composed == nil || p.Composed.Of[0] != was.Photo.SHA256 || p.Labels.Len() != 1 || p.Calibration.ToMM != was.Calibration.ToMM || p.PhotoUp != was.PhotoUp {
			t.Fatalf("%+v", p)
		}
		lib := b.lab.lib.(*atlas.Library)
		of, err := lib.ComposedOf(p)
		if err != nil || len(of) != 2 || len(b.Tray()) != 0 {
			t.Fatal(err, of, b.Tray())
		}
		if err := lib.Verify(context.Background(), func(err error) { t.Error(err) }); err != nil {
			t.Error(err)
		}
		if i = b.Glare(); i.Made || i.Offered || !has(i.Words, "made of two") {
			t.Errorf("%+v", i)
		}
		if rows := b.EarlierPictures(); len(rows) != 2 {
			t.Errorf("%d earlier pictures", len(rows))
		}
	}
}

// A picture of something else is refused in words and changes nothing; Escape leaves a result as it was.
func TestSecondPictureRefused(t *testing.T) {
	b, q := newLab(t)
	dir := t.TempDir()
	first := write(t, filepath.Join(dir, "a.jpg"), fileOf(t, grainy(0, 0, geom.Px{X: 250, Y: 200}), firstDay))
	other := image.NewRGBA(image.Rect(0, 0, 800, 600))
	for i := range other.Pix {
		other.Pix[i] = uint8(90 + (i*i/7)%50)
	}
	wrong := write(t, filepath.Join(dir, "b.jpg"), fileOf(t, other, secondDay))
	second := write(t, filepath.Join(dir, "c.jpg"), fileOf(t, grainy(3, 2, geom.Px{X: 500, Y: 400}), secondDay))
	b.ChooseFace(section.Face{Run: b.Run().ID, Slab: 1, Facing: section.Superior})
	b.AddPhotos([]string{first})
	q.run()
	b.Show(FaceScreen)
	q.run()
	b.TakeLampFile(wrong)
	q.run()
	if m := b.Message(); m == nil || m.Title != Word("err.unalike") || b.Glare().Made {
		t.Fatalf("%+v", m)
	}
	b.Dismiss()
	b.TakeLampFile(second)
	q.run()
	if !b.Glare().Made {
		t.Fatalf("%+v", b.Message())
	}
	b.Back()
	if p, _ := b.Plate(); b.Glare().Made || p.Composed != nil || len(b.EarlierPictures()) != 0 {
		t.Error("not left as it was")
	}
}
