package bench

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/assets"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// shared finds open data that stands beside the module and may not be kept in it.
func shared(t testing.TB, name string) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			break
		}
		if dir == filepath.Dir(dir) {
			t.Skip("no go.mod above the test")
		}
		dir = filepath.Dir(dir)
	}
	path := filepath.Join(dir, "..", "shared", "data", name)
	if _, err := os.Stat(path); err != nil {
		t.Skipf("%s is not here; see the data folder's README for where it comes from", name)
	}
	return path
}

// The main job on real, openly licensed material: a photograph of a transverse upper face with the back at the top (its
// description: U.S. National Library of Medicine, Visible Human Project; left of the picture is the body's right) and a
// trunk CT of another body (TCIA, CC BY 4.0). They are paired by level, and the program says so.
func TestMainJobOnRealMaterial(t *testing.T) {
	if testing.Short() {
		t.Skip("reads a whole scan; run without -short")
	}
	photograph, ct := shared(t, "section-photo/avf1432a.png"), shared(t, "ct-trunk-128")
	terms, err := annotate.LoadTerms(assets.Terms())
	if err != nil {
		t.Fatal(err)
	}
	q := &queue{now: time.Now()}
	b := New(q, terms, Options{Author: "AB", Now: func() time.Time { return q.now }})
	if err := b.BeginRun(NewRun{Dir: filepath.Join(t.TempDir(), "lab"), Donor: "VF-1", Part: "trunk", Plane: section.Transverse,
		First: section.Superior, Thickness: 20, Kerf: 1.2, Slabs: 10, Permitted: []atlas.Purpose{atlas.Teaching}}); err != nil {
		t.Fatal(err)
	}
	b.ChooseFace(section.Face{Run: b.Run().ID, Slab: 3, Facing: section.Superior})
	b.DropPaths([]string{photograph})
	q.run()
	if m := b.Message(); m != nil {
		t.Fatalf("%+v", m)
	}
	b.Show(FaceScreen)
	f := b.FacePane().(*facePane)
	f.Resize(1100, 760, 1)
	if b.doc == nil || b.Edges() != section.UnknownEdges {
		t.Fatalf("letters before anything was told: %v", b.Edges())
	}
	show(t, "real-unknown", painted(f, 1100, 760, 1))
	b.SetPhotoUp(section.Posterior)
	if e := b.photoEdges(); e.Left != "R" || e.Up != "P" {
		t.Fatalf("the picture's own letters %v, its description says right at the left, back at the top", e)
	}
	// The grey card's steps are 10.0 mm and 0.33 mm per pixel is its description's figure: 100 mm are 303 px.
	b.SetTool(ToolScale)
	f.lay(b.doc)
	for _, p := range []geom.Px{{X: 600, Y: 1100}, {X: 903, Y: 1100}} {
		clickAt(f, p)
	}
	b.SetScaleLength(100)
	b.SetScaleLevel(atlas.Yes, 0, 0)
	if err := b.AcceptScale(); err != nil {
		t.Fatalf("%v %+v", err, b.Scale())
	}
	if e := b.Edges(); e.Up != "A" || e.Left != "L" || b.MirroredShown() {
		t.Fatalf("bench view of an upper face: %v", e)
	}
	b.ToggleView()
	if e := b.Edges(); e.Up != "A" || e.Left != "R" || !b.MirroredShown() {
		t.Fatalf("scan view of an upper face: %v, mirrored %v", e, b.MirroredShown())
	}
	f.lay(b.doc)
	// To scan view it is one up-down flip (its description): no turn of left and right, top to bottom.
	if a, z := b.doc.view.Device(geom.Px{X: 100, Y: 100}), b.doc.view.Device(geom.Px{X: 1900, Y: 1100}); !(a.X < z.X && a.Y > z.Y) {
		t.Fatalf("shown at %v and %v", a, z)
	}
	show(t, "real-scanview", painted(f, 1100, 760, 1))
	b.DropPaths([]string{ct})
	q.run()
	asked := false
	for m := b.Message(); m != nil; m = b.Message() {
		t.Log(m.Title, m.Hint)
		if strings.HasPrefix(m.Title, "Is this scan") {
			asked = true
			b.Choose(1)
			continue
		}
		b.Dismiss()
	}
	if !asked || len(b.Series()) != 1 {
		t.Fatalf("asked %v, series %+v", asked, b.Series())
	}
	b.Show(PairingScreen)
	q.run()
	b.StepScan(-30)
	b.TieLevelHere()
	if !has(b.Band(), "Seen from above.", "Scan view.", "Mirrored", "Different bodies: paired by level.") {
		t.Fatal(b.Band())
	}
	show(t, "real-pairface", painted(f, 760, 620, 1))
	scan := painted(b.ScanPane(), 760, 620, 1)
	show(t, "real-pairscan", scan)
	pose, _, _ := b.cutPose()
	v, linked := b.scan.viewport(pose)
	if e := b.scan.scanEdges(pose, v); !linked || e != b.Edges() {
		t.Fatalf("letters of the scan %v, of the face %v", e, b.Edges())
	}
	b.Show(FaceScreen)
	withSquare(t, b, 800, 500, 100)
	if err := b.NameChosen("UBERON:0002107", annotate.NoSide, annotate.Certain); err != nil {
		t.Fatal(err)
	}
	for b.Message() != nil {
		t.Log(b.Message().Title)
		b.Dismiss()
	}
	b.Show(HandOutScreen)
	q.run()
	out := t.TempDir()
	d := b.HandOut()
	d.View = section.Scan
	b.SetHandOut(d)
	b.Release(out)
	q.run()
	if m := b.Message(); m == nil || !has(m.Hint, "tag or writing") {
		t.Fatalf("a picture with a slip in it left without a look: %+v", m)
	}
	b.Dismiss()
	d.NoTags = true
	b.SetHandOut(d)
	b.Release(out)
	q.run()
	if b.LastSlip() == nil {
		t.Fatalf("%+v", b.Message())
	}
	t.Log(b.LastSlip().Words, b.LastSlip().Files)
	if err := b.Quit(); err != nil {
		t.Fatal(err)
	}
}
