package bench

import (
	"bytes"
	"image"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// facedOn puts a plate with the given face and top in place of the one on the bench.
func facedOn(b *Bench, facing, up section.Facing) {
	p := b.doc.plate()
	p.Face.Facing, p.PhotoUp = facing, up
	b.doc.hist = NewHistory(p)
}

// RG3, all 72 rows of photo_ops.csv on the bench itself: each view turns the picture first and mirrors it then, exactly as in the table, by its pixels; letters follow
// within the same frame; where a mirror is in it the standing band says so; one key goes back; and the original is not touched.
func TestRG3ViewsTurnAsInTheTable(t *testing.T) {
	b, _, _, f := onBench(t, 640, 640)
	m := image.NewRGBA(image.Rect(0, 0, 40, 40)) // every pixel another
	for i := range 40 * 40 {
		m.Pix[4*i], m.Pix[4*i+1], m.Pix[4*i+2], m.Pix[4*i+3] = uint8(i), uint8(i>>8), 99, 255
	}
	before := bytes.Clone(m.Pix)
	p := b.doc.plate()
	p.Photo.Size, p.Calibration = m.Rect.Max, photo.Calibration{}
	b.doc.hist, b.doc.picture, b.doc.whole = NewHistory(p), photo.NewImage(m), true
	mirrors := 0
	for _, row := range table(t, "photo_ops.csv", 72) {
		facing, err := section.ParseFacing(row["face"])
		if err != nil {
			t.Fatal(err)
		}
		up, err := section.ParseFacing(row["photo_up"])
		if err != nil {
			t.Fatal(err)
		}
		facedOn(b, facing, up)
		b.SetView(section.Bench)
		b.SetView(conventions[row["convention"]])
		f.lay(b.doc)
		degrees, _ := strconv.Atoi(row["rotate_cw_deg"])
		mirror := row["then_mirror_lr"] == "true"
		if v := b.doc.view; 90*v.Turns != degrees || v.Mirror != mirror || b.MirroredShown() != mirror {
			t.Errorf("%v: turns %d, mirror %v, band %v", row, v.Turns, v.Mirror, b.MirroredShown())
		}
		// By the pixels: the four corners of the picture stand where turning clockwise and then mirroring put them.
		corner := geom.Px{X: 0, Y: 0}
		at := [4]geom.Px{{X: 0, Y: 0}, {X: 39, Y: 0}, {X: 39, Y: 39}, {X: 0, Y: 39}}[degrees/90] // where the upper left corner goes
		if mirror {
			at.X = 39 - at.X
		}
		d := b.doc.view.Device(corner)
		in := f.in
		if (d.X > float64(in.Min.X+in.Max.X)/2) != (at.X > 20) || (d.Y > float64(in.Min.Y+in.Max.Y)/2) != (at.Y > 20) {
			t.Errorf("%v: the upper left corner stands at %v", row, d)
		}
		if got, want := b.Edges(), (section.Edges{Left: row["out_left"], Right: row["out_right"], Up: row["out_up"], Down: row["out_down"]}); got != want {
			t.Errorf("%v: letters %v", row, got)
		}
		shown := painted(b.FacePane(), 640, 640, 1)
		if mirror {
			mirrors++
			b.SetView(section.Bench)
			if bytes.Equal(shown.Pix, painted(b.FacePane(), 640, 640, 1).Pix) {
				t.Errorf("%v: the band changes nothing on the picture", row)
			}
			b.SetView(conventions[row["convention"]])
		}
		if b.View() != section.Bench {
			b.Key("V", Mods{})
		}
		if b.View() != section.Bench || b.MirroredShown() {
			t.Errorf("%v: one key does not lead back", row)
		}
	}
	if mirrors != 24 { // a third: of the two conventions beside the bench's each mirrors every second face
		t.Errorf("%d rows with a mirror, want 24", mirrors)
	}
	if Word("band.mirrored") != "Mirrored: not as the slab lies on the bench." {
		t.Errorf("the band says %q", Word("band.mirrored"))
	}
	if !bytes.Equal(m.Pix, before) {
		t.Error("looking changed the picture")
	}
}

// RG2 on the bench: letters follow every turn and mirror; with plane, face or photo-up unknown, or a mirror in the camera's tag not answered
// for, all four edges read "?" in every view.
func TestRG2UnknownOnTheBench(t *testing.T) {
	b, _, _, _ := onBench(t, 640, 640)
	for name, lose := range map[string]func(*atlas.Plate){
		"top": func(p *atlas.Plate) { p.PhotoUp = section.UnknownFacing }, "face": func(p *atlas.Plate) { p.Face.Facing = section.UnknownFacing },
		"top of another plane": func(p *atlas.Plate) { p.PhotoUp = section.Superior }, "mirror": func(p *atlas.Plate) { p.Photo.Mirrored = true },
	} {
		whole := b.doc.hist
		p := b.doc.plate()
		lose(&p)
		b.doc.hist = NewHistory(p)
		for v := section.Bench; v <= section.OtherSide; v++ {
			b.SetView(v)
			if got := b.Edges(); got != section.UnknownEdges {
				t.Errorf("%s unknown: %v in %v", name, got, v)
			}
		}
		if b.MirroredShown() {
			t.Errorf("%s unknown, yet the view mirrors", name)
		}
		b.doc.hist = whole
	}
}

// RG3: the bytes of the original stay as they came whatever way they are looked at.
func TestRG3OriginalUntouched(t *testing.T) {
	b, q, _ := againLab(t)
	sum := func() (out string) {
		_ = filepath.Walk(filepath.Join(b.lab.lib.Dir(), "originals"), func(path string, info os.FileInfo, err error) error {
			if err == nil && !info.IsDir() {
				data, _ := os.ReadFile(path)
				out += filepath.Base(path) + string(data)
			}
			return nil
		})
		return out
	}
	before := sum()
	for v := section.Bench; v <= section.OtherSide; v++ {
		b.SetView(v)
		painted(b.FacePane(), 300, 300, 1)
	}
	b.saveNow()
	q.run()
	if before == "" || sum() != before {
		t.Error("the original changed")
	}
}

// RG1 on the bench: a photograph in the tray has no face, so nothing can be named, measured, asked or handed out on it; a face of another plane
// cannot be chosen.
func TestRG1NothingFromTheTray(t *testing.T) {
	b, q, second := againLab(t)
	b.ChooseFace(section.Face{Run: b.Run().ID, Slab: 2, Facing: section.Superior})
	b.AddPhotos([]string{second})
	q.run()
	if err := b.Unplace(); err != nil {
		t.Fatal(err)
	}
	if len(b.Tray()) != 1 || b.doc != nil {
		t.Fatalf("%d in the tray", len(b.Tray()))
	}
	if err := b.nameable(); err != ErrNoPhoto {
		t.Errorf("named: %v", err)
	}
	for _, id := range []string{"outline", "name", "measure", "scale"} {
		if b.Do(id) && b.Tool() != ToolPan {
			t.Errorf("the tool %s works without a face", id)
		}
	}
	b.readPool()
	q.run()
	if len(b.Askable()) == 0 {
		t.Fatal("nothing of the lab is listed: the other face has two labels")
	}
	for _, r := range b.Askable() {
		if plate, _ := splitKey(r.ID); plate == b.Tray()[0].ID {
			t.Error("it can be asked in an exam")
		}
	}
	for f := section.Superior; f <= section.Right; f++ {
		face := section.Face{Run: b.Run().ID, Slab: 2, Facing: f}
		err := b.Place(b.Tray()[0].ID, face)
		if (f.Plane() == section.Transverse) != (err == nil) {
			t.Errorf("placed on the %v face of a transverse run: %v", f, err)
		}
		if err == nil {
			b.ChooseFace(face)
			if err := b.Unplace(); err != nil {
				t.Fatal(err)
			}
		}
		if was := b.Face(); f.Plane() != section.Transverse {
			b.ChooseFace(face)
			if b.Face() != was {
				t.Errorf("the %v face of a transverse run can be chosen", f)
			}
		}
	}
}
