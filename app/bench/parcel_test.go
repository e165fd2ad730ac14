package bench

import (
	"os"
	"path/filepath"
	"testing"

	"sectionary/atlas"
	"sectionary/slices/section"
)

// A run goes to another lab and is taken in there: refused by name while the agreement does not permit it, then the same
// faces, labels and scale under a code of the other lab's choosing.
func TestRunToAnotherLabAndBack(t *testing.T) {
	for _, zip := range []bool{false, true} {
		b, q, _ := examLab(t)
		d := ParcelDraft{Purpose: atlas.OtherInstitution, Zip: zip}
		if why := b.ParcelRefusal(d); !has(why, "'other institution'") || !has(why, "the donor office") {
			t.Fatalf("not permitted: %q", why)
		}
		out := filepath.Join(t.TempDir(), "out")
		b.SendRun(d, out)
		q.run()
		if _, err := os.Stat(out); err == nil || b.Message() == nil {
			t.Fatal("it left although it may not")
		}
		b.Dismiss()
		a := b.Agreement()
		a.Permitted = map[atlas.Purpose]bool{atlas.OtherInstitution: true}
		if err := b.SetAgreement(a); err != nil {
			t.Fatal(err)
		}
		b.SendRun(d, out)
		q.run()
		if m := b.Message(); m == nil || m.Title != Word("parcel.sent") {
			t.Fatalf("%+v", m)
		}
		b.Dismiss()
		face := b.Run().Faces()[0]
		was := b.Info(face)
		found, err := filepath.Glob(filepath.Join(out, "*"))
		if err != nil || len(found) == 0 {
			t.Fatal(err, found)
		}
		path := out
		if _, err := os.Stat(filepath.Join(out, "manifest.json")); err != nil {
			path = found[0]
		}
		if err := b.TakeRun("", "", ""); err == nil {
			t.Error("nowhere from nowhere was taken in")
		}
		if err := b.TakeRun(t.TempDir(), filepath.Join(t.TempDir(), "x"), ""); err == nil {
			t.Error("an empty folder was taken in")
		}
		lab := filepath.Join(t.TempDir(), "theirs")
		if err := b.TakeRun(path, lab, "ZZ-3"); err != nil {
			t.Fatal(err)
		}
		q.run()
		if m := b.Message(); m == nil || m.Title != Word("parcel.taken") {
			t.Fatalf("%+v", m)
		}
		b.Dismiss()
		q.run()
		if b.Lab().Dir != lab || b.Run().Donor != "ZZ-3" || len(b.Run().Slabs) != 4 {
			t.Fatalf("lab %+v, run %+v", b.Lab(), b.Run())
		}
		face = section.Face{Run: b.Run().ID, Slab: face.Slab, Facing: face.Facing}
		if is := b.Info(face); !is.Photo || is.Labels != was.Labels || is.Scale != was.Scale || is.Letters != was.Letters {
			t.Errorf("was %+v, is %+v", was, is)
		}
		if why := b.ParcelRefusal(d); !has(why, "Nothing is recorded") {
			t.Errorf("the agreement permits something in the other lab: %q", why)
		}
		if err := b.CloseLab(); err != nil {
			t.Fatal(err)
		}
	}
}
