package atlas

import (
	"bytes"
	"context"
	"errors"
	"sync"
	"testing"

	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// Taken in at the same time, equal bytes are kept once: the others name the plate that has them. The picture is shown
// once, whole.
func TestTakePhotoAtOnce(t *testing.T) {
	l, _ := lab(t)
	var mu sync.Mutex
	looked, kept := 0, map[string]int{}
	known := map[string]int{}
	var all sync.WaitGroup
	for i := range 12 {
		all.Go(func() {
			b := picture(t, uint8(i%3*40))
			p, err := l.TakePhoto(context.Background(), section.Face{}, code, "x.jpg", bytes.NewReader(b), func(m *photo.Image) {
				mu.Lock()
				defer mu.Unlock()
				looked++
				if m.Size().X == 0 {
					t.Error("an empty picture was shown")
				}
			})
			mu.Lock()
			defer mu.Unlock()
			var k *KnownPhoto
			switch {
			case err == nil:
				kept[p.ID]++
			case errors.As(err, &k):
				known[k.Plate]++
			default:
				t.Error(err)
			}
		})
	}
	all.Wait()
	if looked != 3 || len(kept) != 3 {
		t.Fatalf("%d looked at, %d kept, want 3", looked, len(kept))
	}
	for id, n := range known {
		if kept[id] != 1 {
			t.Errorf("%d named plate %s, which is not there", n, id)
		}
	}
	// One that cannot be read leaves nothing behind: it may be given again and is judged again.
	for range 2 {
		_, err := l.TakePhoto(context.Background(), section.Face{}, code, "x.jpg", bytes.NewReader(picture(t, 9)[:300]), nil)
		if err == nil || errors.Is(err, ErrKnownPhoto) {
			t.Fatalf("a picture that breaks off: %v", err)
		}
	}
}

// Who comes while another is at the same bytes is told the plate that holds them, never one that found them known itself and will not be;
// who does not want to wait may leave.
func TestTakePhotoWaitsForItsTwin(t *testing.T) {
	l, _ := lab(t)
	b := picture(t, 7)
	kept, err := l.TakePhoto(context.Background(), section.Face{}, code, "x.jpg", bytes.NewReader(b), nil)
	if err != nil {
		t.Fatal(err)
	}
	sum := kept.Photo.SHA256.String()
	if err := l.claim(context.Background(), sum, "PNEVER"); err != nil {
		t.Fatal(err)
	}
	told := make(chan error, 1)
	go func() {
		_, err := l.TakePhoto(context.Background(), section.Face{}, code, "x.jpg", bytes.NewReader(b), nil)
		told <- err
	}()
	gone, leave := context.WithCancel(context.Background())
	leave()
	if err := l.claim(gone, sum, "PLEFT"); !errors.Is(err, context.Canceled) {
		t.Errorf("who left was told %v", err)
	}
	l.let("PNEVER")
	var k *KnownPhoto
	if err := <-told; !errors.As(err, &k) || k.Plate != kept.ID {
		t.Errorf("told %v, the photograph is on %s", err, kept.ID)
	}
}

// Many photographs change faces as one step: two may change places, and when one cannot lie where it should none moves.
func TestPlaceAll(t *testing.T) {
	l, r := lab(t)
	a, b, c := add(t, l, upper(r, 1), 1), add(t, l, upper(r, 2), 2), add(t, l, section.Face{}, 3)
	if err := l.PlaceAll(map[string]section.Face{a.ID: upper(r, 2), b.ID: upper(r, 1), c.ID: upper(r, 3)}); err != nil {
		t.Fatal(err)
	}
	at := func(id string) section.Face {
		t.Helper()
		p, err := l.Plate(id)
		if err != nil {
			t.Fatal(err)
		}
		return p.Face
	}
	if at(a.ID) != upper(r, 2) || at(b.ID) != upper(r, 1) || at(c.ID) != upper(r, 3) {
		t.Fatal("not laid as asked")
	}
	err := l.PlaceAll(map[string]section.Face{b.ID: {}, c.ID: upper(r, 2)}) // a lies there
	if !errors.Is(err, ErrFaceTaken) {
		t.Fatalf("a taken face: %v", err)
	}
	err = l.PlaceAll(map[string]section.Face{b.ID: {}, c.ID: {Run: r.ID, Slab: 3, Facing: section.Anterior}})
	if !errors.Is(err, section.ErrNotAFace) {
		t.Fatalf("a face of another plane: %v", err)
	}
	if at(b.ID) != upper(r, 1) || at(c.ID) != upper(r, 3) {
		t.Fatal("a step that failed moved something")
	}
	if err := l.PlaceAll(map[string]section.Face{a.ID: {}, b.ID: {}, c.ID: {}}); err != nil {
		t.Fatal(err)
	}
	if at(a.ID) != (section.Face{}) {
		t.Fatal("not taken off")
	}
}
