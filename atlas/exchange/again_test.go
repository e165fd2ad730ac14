package exchange

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"image"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// photographAgain gives a face of the practice lab a new picture that shows everything 12 px further right and 7 px lower; one of ten ties is
// 12 px further off.
func photographAgain(t *testing.T, l *atlas.Library, run string) atlas.Succession {
	t.Helper()
	ctx := context.Background()
	p, err := l.PlateOf(section.Face{Run: run, Slab: 3, Facing: section.Superior})
	if err != nil {
		t.Fatal(err)
	}
	m, err := l.Photo(ctx, p.ID)
	if err != nil {
		t.Fatal(err)
	}
	out := image.NewRGBA(image.Rectangle{Max: m.Size()})
	m.Draw(out, [6]float64{1, 0, -12, 0, 1, -7})
	var b bytes.Buffer
	if err := photo.EncodeJPEG(&b, out, 92); err != nil {
		t.Fatal(err)
	}
	next, err := l.AddPhoto(ctx, section.Face{}, p.Donor, "x.jpg", bytes.NewReader(photo.WithEXIF(b.Bytes(), 1, time.Date(2026, 2, 20, 14, 30, 0, 0, time.UTC))))
	if err != nil {
		t.Fatal(err)
	}
	var ties []annotate.PictureTie
	for i := range 10 {
		q := geom.Px{X: 300 + 220*float64(i%5), Y: 260 + 420*float64(i/5) + 9*float64(i*i)}
		ties = append(ties, annotate.PictureTie{Old: q, New: geom.Px{X: q.X + 12, Y: q.Y + 7}})
	}
	ties[2].New.Y += 12
	s, err := p.Succeed(next, ties, annotate.Stamp{Author: "AB", At: time.Now()})
	if err == nil {
		s, err = l.Keep(s)
	}
	if err != nil {
		t.Fatal(err)
	}
	if s.New, err = l.Save(s.New.Looked(atlas.OnMask).Looked(atlas.OnBorder)); err != nil {
		t.Fatal(err)
	}
	return s
}

// LB7: earlier pictures and what waits to be looked at go out and come in again, when wished for; without the wish only what waits.
func TestLB7EarlierPicturesComeThrough(t *testing.T) {
	l := practiceLab(t)
	run := runOf(t, l)
	s := photographAgain(t, l, run)
	waits := s.New.LookAgain()
	if len(waits) == 0 || len(waits) > s.New.Labels.Len()/2 {
		t.Fatalf("%d of %d labels wait", len(waits), s.New.Labels.Len())
	}
	for _, earlier := range []bool{true, false} {
		slip, out := send(t, l, Request{Run: run, Purpose: atlas.OtherInstitution, Zip: true, Earlier: earlier})
		if !slip.Allowed {
			t.Fatal(slip.Reason)
		}
		parcel, err := Open(out)
		if err != nil {
			t.Fatal(err)
		}
		dir := filepath.Join(t.TempDir(), "there")
		taken, err := TakeIn(context.Background(), parcel, dir, "NB-22", terms(t), nil)
		if err != nil {
			t.Fatal(err)
		}
		parcel.Close()
		there, err := atlas.Open(dir, atlas.ReadWrite)
		if err != nil {
			t.Fatal(err)
		}
		f := s.New.Face
		now, err := there.PlateOf(f)
		if err != nil || !slices.Equal(now.LookAgain(), waits) {
			t.Errorf("%v, waits %+v, want %+v", err, now.LookAgain(), waits)
		}
		list, err := there.EarlierPhotos(f)
		if err != nil || taken.Earlier != len(list) || (len(list) == 1) != earlier {
			t.Fatalf("%d earlier pictures, %d told, %v", len(list), taken.Earlier, err)
		}
		if earlier {
			old, err := there.Plate(list[0].Plate)
			if err != nil || !old.Retired || asJSON(t, old.Labels) != asJSON(t, s.Old.Labels) || asJSON(t, old.Calibration) != asJSON(t, s.Old.Calibration) {
				t.Errorf("the earlier picture came in otherwise: %v", err)
			}
			if e := now.Earlier; e == nil || e.Plate != old.ID || asJSON(t, e.Ties) != asJSON(t, s.New.Earlier.Ties) {
				t.Errorf("%+v", e)
			}
		} else if now.Earlier != nil {
			t.Errorf("it names a picture that is not here: %+v", now.Earlier)
		}
		if err := there.Verify(context.Background(), func(err error) { t.Error(err) }); err != nil {
			t.Fatal(err)
		}
		there.Close()
	}
	// An earlier picture that may show a tag is left out, and the receiver is told.
	run2 := s.Old
	run2.Mask, run2.Border = nil, nil
	bare := &export{lib: l, run: section.Run{ID: run}, r: Request{Earlier: true}}
	if why := bare.refused(run2); !strings.Contains(why, "a tag or writing may show") {
		t.Errorf("%q", why)
	}
}

// A manifest whose earlier pictures do not belong to its run is refused.
func TestStrangeEarlierPictures(t *testing.T) {
	m := Manifest{Run: section.Run{ID: "r", Donor: "X-123", Part: "trunk", Plane: section.Transverse, First: section.Superior,
		Slabs: []section.Slab{{Number: 1, Thickness: [3]float64{20}}}}, Files: map[string]Content{"pictures/a.jpg": {}}}
	good := Plate{Name: "a", Face: section.Face{Run: "r", Slab: 1, Facing: section.Superior}, Picture: "pictures/a.jpg"}
	m.Earlier = []Plate{good}
	if err := m.Check(); err != nil {
		t.Fatal(err)
	}
	for name, change := range map[string]func(*Plate){
		"run": func(p *Plate) { p.Face.Run = "s" }, "plane": func(p *Plate) { p.Face.Facing = section.Left }, "name": func(p *Plate) { p.Name = "" },
		"picture": func(p *Plate) { p.Picture = "pictures/b.jpg" },
	} {
		bad := good
		change(&bad)
		m.Earlier = []Plate{bad}
		if err := m.Check(); !errors.Is(err, ErrDamaged) {
			t.Errorf("%s: %v", name, err)
		}
	}
	m.Earlier = []Plate{good, good}
	if err := m.Check(); !errors.Is(err, ErrDamaged) {
		t.Errorf("twice: %v", err)
	}
}

func asJSON(t *testing.T, v any) string {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}
