package atlas

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"pgregory.net/rapid"

	"sectionary/slices/section"
)

// Any run of imports, moves, edits and retirements keeps: one current photograph a face, every original
// untouched, revisions that count up by one, and a library that verifies.
func TestAnySequenceKeepsTheRules(t *testing.T) {
	pictures := make([][]byte, 8)
	for i := range pictures {
		pictures[i] = picture(t, uint8(40+i))
	}
	ctx := context.Background()
	base := t.TempDir()
	round := 0
	rapid.Check(t, func(t *rapid.T) {
		round++
		l, err := Create(filepath.Join(base, fmt.Sprint(round)))
		if err != nil {
			t.Fatal(err)
		}
		defer os.RemoveAll(l.Dir())
		defer l.Close()
		if err := l.AddDonor(Donor{Code: code}); err != nil {
			t.Fatal(err)
		}
		r, err := l.SaveRun(trunk(code))
		if err != nil {
			t.Fatal(err)
		}
		faces := append(r.Faces()[:3], section.Face{})
		plates := map[string]Plate{} // what must be there
		any := func() (Plate, bool) {
			var ids []string
			for e := range l.Find(Query{Retired: true}) {
				ids = append(ids, e.Plate)
			}
			if len(ids) == 0 {
				return Plate{}, false
			}
			return plates[rapid.SampledFrom(ids).Draw(t, "plate")], true
		}
		keep := func(before, after Plate, err error) {
			allowed := errors.Is(err, ErrFaceTaken) || errors.Is(err, ErrUnplaced) || errors.Is(err, ErrRetired)
			if err != nil && !allowed {
				t.Fatal(err)
			}
			if err == nil {
				if after.Rev != before.Rev+1 {
					t.Fatalf("rev %d after %d", after.Rev, before.Rev)
				}
				plates[after.ID] = after
			}
		}
		for range rapid.IntRange(1, 25).Draw(t, "steps") {
			face := rapid.SampledFrom(faces).Draw(t, "face")
			switch rapid.IntRange(0, 5).Draw(t, "step") {
			case 0:
				p, err := l.AddPhoto(ctx, face, code, "x", bytes.NewReader(rapid.SampledFrom(pictures).Draw(t, "picture")))
				if err == nil {
					plates[p.ID] = p
				} else if !errors.Is(err, ErrKnownPhoto) && !errors.Is(err, ErrFaceTaken) {
					t.Fatal(err)
				}
			case 1:
				if p, ok := any(); ok {
					q, err := l.Place(p.ID, face)
					keep(p, q, err)
				}
			case 2:
				if p, ok := any(); ok {
					q, err := l.Unplace(p.ID)
					keep(p, q, err)
				}
			case 3:
				if p, ok := any(); ok {
					q, err := l.Retire(p.ID)
					keep(p, q, err)
				}
			case 4:
				if p, ok := any(); ok {
					q, err := l.Restore(p.ID)
					keep(p, q, err)
				}
			case 5:
				if p, ok := any(); ok {
					edited := p
					edited.PhotoUp = section.Anterior
					edited.Labels, _ = p.Labels.Add(outline(fmt.Sprint(p.Rev), 2, 2))
					q, err := l.Save(edited)
					keep(p, q, err)
				}
			}
		}
		current := map[section.Face]int{}
		n := 0
		for e, err := range l.Find(Query{Retired: true}) {
			if err != nil {
				t.Fatal(err)
			}
			got, err := l.Plate(e.Plate)
			want := plates[e.Plate]
			if err != nil || got.Rev != want.Rev || got.Face != want.Face || got.Retired != want.Retired || got.Labels.Len() != want.Labels.Len() || e.Rev != want.Rev || len(e.Labels) != want.Labels.Len() {
				t.Fatalf("%v: %+v, want %+v", err, got, want)
			}
			if n++; e.Placed() && !e.Retired {
				current[e.Face]++
			}
		}
		if n != len(plates) {
			t.Fatalf("%d plates, want %d", n, len(plates))
		}
		for f, n := range current {
			if n > 1 {
				t.Fatalf("%s has %d current photographs", f.Name(), n)
			}
		}
		if err := l.Verify(ctx, func(err error) { t.Error(err) }); err != nil {
			t.Fatal(err)
		}
	})
}
