package atlas

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"reflect"
	"strings"
	"testing"

	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// madePNG is a picture of that size as a made one would be.
func madePNG(t testing.TB, size image.Point, grey uint8) *bytes.Buffer {
	t.Helper()
	img := image.NewRGBA(image.Rectangle{Max: size})
	for i := range img.Pix {
		img.Pix[i] = grey
	}
	img.SetRGBA(1, 1, color.RGBA{200, 10, 10, 255})
	var b bytes.Buffer
	if err := photo.EncodePNG(&b, img); err != nil {
		t.Fatal(err)
	}
	return &b
}

// A made picture becomes the face's current one with all that was known of the first; both sources stay, with their
// originals, and one step goes back.
func TestComposedPictureKeepsItsSources(t *testing.T) {
	l, r := lab(t)
	ctx := context.Background()
	first := photographed(t, l, r)
	second := add(t, l, section.Face{}, 2)
	made, err := l.KeepComposed(ctx, first, second.ID, Composed{Why: Unshone, Share: 0.013, By: "CD"}, madePNG(t, first.Photo.Size, 90))
	if err != nil {
		t.Fatal(err)
	}
	if p, err := l.PlateOf(first.Face); err != nil || p.ID != made.ID || !reflect.DeepEqual(p.Labels, first.Labels) || !reflect.DeepEqual(p.Border, first.Border) ||
		!reflect.DeepEqual(p.Calibration, first.Calibration) || p.PhotoUp != first.PhotoUp || !reflect.DeepEqual(p.Picks, first.Picks) || !reflect.DeepEqual(p.Mask, first.Mask) {
		t.Fatalf("%v %+v", err, p)
	}
	if c := made.Composed; c == nil || len(c.Of) != 2 || c.Of[0] != first.Photo.SHA256 || c.Of[1] != second.Photo.SHA256 || c.Share != 0.013 || c.At.IsZero() {
		t.Fatalf("%+v", made.Composed)
	}
	of, err := l.ComposedOf(made)
	if err != nil || len(of) != 2 || of[0].ID != first.ID || of[1].ID != second.ID || !of[0].Retired || !of[1].Retired || of[1].Face != first.Face {
		t.Fatalf("%v %+v", err, of)
	}
	for _, p := range append(of, made) {
		if m, err := l.Photo(ctx, p.ID); err != nil || m.Info().SHA256 != p.Photo.SHA256 {
			t.Errorf("%s: %v", p.ID, err)
		}
	}
	var faults []error
	if err := l.Verify(ctx, func(err error) { faults = append(faults, err) }); err != nil || len(faults) > 0 {
		t.Fatal(err, faults)
	}
	// a made picture whose sources are not here is a fault, unless it came from another lab
	lost := made
	c := *made.Composed
	c.Of = []photo.Hash{{1}, {2}}
	lost.Composed = &c
	if lost, err = l.Save(lost); err != nil {
		t.Fatal(err)
	}
	faults = nil
	if err := l.Verify(ctx, func(err error) { faults = append(faults, err) }); err != nil || len(faults) != 1 || !errors.Is(faults[0], ErrDamaged) || !strings.Contains(faults[0].Error(), "0 of them are here") {
		t.Fatal(err, faults)
	}
	c.Elsewhere = true
	lost.Composed = &c
	if _, err = l.Save(lost); err != nil {
		t.Fatal(err)
	}
	faults = nil
	if err := l.Verify(ctx, func(err error) { faults = append(faults, err) }); err != nil || len(faults) != 0 {
		t.Fatal(err, faults)
	}
	if back, err := l.MakeCurrent(first.ID); err != nil || back.ID != first.ID || back.Retired {
		t.Fatal(err, back)
	}
	if p, err := l.PlateOf(first.Face); err != nil || p.ID != first.ID || p.Composed != nil {
		t.Fatal(err, p)
	}
}

// What cannot be is refused and nothing is changed by it; an attempt cut short is taken up again.
func TestComposedPictureRefused(t *testing.T) {
	l, r := lab(t)
	ctx := context.Background()
	first := photographed(t, l, r)
	second := add(t, l, section.Face{}, 2)
	elsewhere := add(t, l, upper(r, 2), 3)
	size := first.Photo.Size
	m := Composed{Why: Unshone, Share: 0.1}
	for _, x := range []struct {
		name   string
		first  Plate
		second string
		m      Composed
		size   image.Point
		want   error
	}{
		{"second lies on another face", first, elsewhere.ID, m, size, ErrFaceTaken},
		{"the first is in the tray", second, elsewhere.ID, m, size, ErrUnplaced},
		{"with itself", first, first.ID, m, size, ErrFaceTaken},
		{"no reason", first, second.ID, Composed{}, size, nil},
		{"no such share", first, second.ID, Composed{Why: Unshone, Share: 1.5}, size, nil},
		{"another size", first, second.ID, m, size.Add(image.Pt(1, 0)), nil},
		{"nowhere", first, "P000", m, size, ErrNotFound},
	} {
		_, err := l.KeepComposed(ctx, x.first, x.second, x.m, madePNG(t, x.size, 91))
		if err == nil || x.want != nil && !errors.Is(err, x.want) {
			t.Errorf("%s: %v", x.name, err)
		}
		if p, err := l.PlateOf(first.Face); err != nil || p.ID != first.ID {
			t.Fatalf("%s: the face has another picture: %v", x.name, err)
		}
	}
	stale := first
	stale.Rev--
	if _, err := l.KeepComposed(ctx, stale, second.ID, m, madePNG(t, size, 92)); !errors.Is(err, ErrChanged) {
		t.Error(err)
	}
	// killed after the bytes were kept: they lie in the tray, and the next attempt takes them
	if _, err := l.AddPhoto(ctx, section.Face{}, first.Donor, "made", madePNG(t, size, 93)); err != nil {
		t.Fatal(err)
	}
	if _, err := l.KeepComposed(ctx, first, second.ID, m, madePNG(t, size, 93)); err != nil {
		t.Error(err)
	}
}
