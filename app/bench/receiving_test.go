package bench

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"image"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// shotAt is a small photograph whose pixels no other has, taken at that time.
func shotAt(t testing.TB, n int, orientation int, taken time.Time) []byte {
	t.Helper()
	m := drawnFace(96, 64)
	for i := range 96 {
		m.Pix[4*i], m.Pix[4*i+1] = uint8(n*7), uint8(n>>3)
	}
	var b bytes.Buffer
	if err := photo.EncodeJPEG(&b, m, 90); err != nil {
		t.Fatal(err)
	}
	return append(photo.WithEXIF(b.Bytes(), orientation, taken), byte(n), byte(n>>8)) // bytes after the end are no fault
}

// Row PH3: 200 photographs in one drop; order proposed from capture time, never from file name alone; two faces per cut
// for the whole sequence, shown for approval; undo; leftovers stay with a count. Also: duplicates recognised by content
// and damaged files named, and the same folder given again brings nothing twice.
func TestPH3ReceivingTable(t *testing.T) {
	b, q := newLab(t)
	if err := b.BeginRun(NewRun{Donor: "LB-1", Part: "trunk", Plane: section.Transverse, First: section.Superior, Thickness: 20, Kerf: 1, Slabs: 97}); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	start := time.Date(2026, 2, 3, 10, 0, 0, 0, time.UTC)
	names := rand.New(rand.NewPCG(1, 2)).Perm(200) // file names tell nothing
	at := func(i int) time.Time {
		switch {
		case i >= 198:
			return time.Time{} // the camera's clock was not set
		case i%2 == 1:
			return start.Add(time.Duration(i-1)*10*time.Second + 250*time.Millisecond) // a burst within one second
		}
		return start.Add(time.Duration(i) * 10 * time.Second)
	}
	byName := map[string]int{}
	for i, n := range names {
		name := fmt.Sprintf("IMG_%d.jpg", n)
		byName[name] = i
		write(t, filepath.Join(dir, name), shotAt(t, i, 1, at(i)))
	}
	whole, err := os.ReadFile(filepath.Join(dir, fmt.Sprintf("IMG_%d.jpg", names[5])))
	if err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, "copy.jpg"), whole)
	write(t, filepath.Join(dir, "broken.jpg"), whole[:len(whole)/2])
	write(t, filepath.Join(dir, "letter.jpg"), []byte("Dear colleague"))
	b.DropPaths([]string{dir}) // a folder, as one drop
	q.run()

	if b.Screen() != ReceivingScreen {
		t.Fatalf("on screen %d", b.Screen())
	}
	prints := b.Prints()
	if len(prints) != 200 {
		t.Fatalf("%d prints: %+v", len(prints), b.Intake())
	}
	for i, p := range prints[:198] {
		if !p.Taken.Equal(at(i)) || p.Preview == nil || p.ID == "" {
			t.Fatalf("print %d was taken %v, want %v", i+1, p.Taken, at(i))
		}
	}
	if !prints[198].Taken.IsZero() || !has(prints[199].Words, "time not known") {
		t.Errorf("those without a time come last and say so: %+v", prints[199])
	}
	in := b.Intake()
	if len(in.Faults) != 2 || len(in.Twins) != 1 || !has(in.Twins[0], "here already: print 6 on the table") {
		t.Fatalf("%+v", in)
	}
	for _, f := range in.Faults {
		if f.Words == "" || (f.Name != "broken.jpg" && f.Name != "letter.jpg") {
			t.Errorf("%+v", f)
		}
	}

	// Two faces per cut from the first edge on: shown before anything is laid.
	b.Propose()
	on, left := b.proposal()
	faces := b.Run().Faces()
	if len(faces) != 194 || len(on) != 194 || left != 6 {
		t.Fatalf("%d of %d faces, %d stay", len(on), len(faces), left)
	}
	for i, p := range prints[:194] {
		if on[p.key] != faces[i] {
			t.Fatalf("print %d is proposed for %s, want %s", i+1, on[p.key].Name(), faces[i].Name())
		}
	}
	if len(b.Tray()) != 200 || b.UndoName() != "" {
		t.Fatal("something was laid before it was accepted")
	}
	if w := b.Table().Proposal; !has(w, "194 prints would lie", "6 would stay") {
		t.Error(w)
	}
	b.AcceptProposal()
	q.run()
	if n := len(b.Tray()); n != 6 || !has(b.Table().Words, "6 prints") || b.Lab().Unplaced != 6 {
		t.Fatalf("%d left over", n)
	}
	for i, p := range prints[:194] {
		if b.Info(faces[i]).PlateID != p.ID {
			t.Fatalf("%s has another picture than was proposed", faces[i].Name())
		}
	}
	b.Undo()
	q.run()
	if len(b.Tray()) != 200 || b.UndoName() != "" {
		t.Fatalf("one step back leaves %d on the table, then %q", len(b.Tray()), b.UndoName())
	}
	b.Redo()
	q.run()
	if len(b.Tray()) != 6 {
		t.Fatal("not laid again")
	}

	// The same folder again: everything is recognised, and where it lies is said.
	b.DropPaths([]string{dir})
	q.run()
	in = b.Intake()
	if len(b.Prints()) != 6 || len(in.Twins) != 201 || len(in.Faults) != 2 {
		t.Fatalf("%d prints, %d known, %d faults", len(b.Prints()), len(in.Twins), len(in.Faults))
	}
	if !has(strings.Join(in.Twins, "\n"), "slab 1, upper face", "slab 97, lower face", "print 6 on the table") {
		t.Error("it is not said where they lie")
	}
}

// watched is a lab that shows a test what goes on while a photograph is taken in.
type watched struct {
	library
	before func(name string)
}

func (w *watched) TakePhoto(ctx context.Context, f section.Face, donor, name string, r io.Reader, look func(*photo.Image)) (atlas.Plate, error) {
	w.before(name)
	return w.library.TakePhoto(ctx, f, donor, name, r, look)
}

// layAll lays the whole table by the pattern, as a person does who accepts at once.
func layAll(t testing.TB, b *Bench) {
	t.Helper()
	b.Show(ReceivingScreen)
	b.table.edge = b.Run().Faces()[0] // which may have a picture, and is not gone on with
	b.Propose()
	b.AcceptProposal()
	if words, warn := b.Hint(); warn {
		t.Fatal(words)
	}
	b.Show(RunScreen)
}

func dropSome(t *testing.T, dir string, n int) []string {
	t.Helper()
	var paths []string
	for i := range n {
		paths = append(paths, write(t, filepath.Join(dir, fmt.Sprintf("%02d.jpg", n-i)), shotAt(t, i, 1, time.Date(2026, 2, 3, 10, 0, i, 0, time.UTC))))
	}
	return paths
}

// All prints lie in their order, with their times, before the first photograph is decoded.
func TestPrintsLieBeforeDecoding(t *testing.T) {
	b, q := newLab(t)
	var first sync.Once
	var seen []TrayPhoto
	b.lab.lib = &watched{b.lab.lib, func(string) {
		first.Do(func() { // the event loop waits in q.run meanwhile
			b.collect(b.Run().ID)
			seen = b.Prints()
		})
	}}
	b.AddPhotos(dropSome(t, t.TempDir(), 9))
	q.run()
	if len(seen) != 9 {
		t.Fatalf("%d prints", len(seen))
	}
	for i, p := range seen {
		if p.ID != "" || p.Taken.Second() != i || !has(p.Words, fmt.Sprint(i+1)) {
			t.Errorf("print %d: %+v", i+1, p)
		}
	}
	if len(b.Tray()) != 9 || len(b.take.coming) != 0 {
		t.Fatal("not all came in")
	}
}

// A batch that is stopped keeps what came in and remembers the rest; going on, or giving it again, brings what is missing
// and nothing twice.
func TestIntakeStopsAndGoesOn(t *testing.T) {
	b, q := newLab(t)
	n := 0
	var mu sync.Mutex
	b.lab.lib = &watched{b.lab.lib, func(string) {
		mu.Lock()
		defer mu.Unlock()
		if n++; n == 5 {
			b.take.job.stop()
		}
	}}
	paths := dropSome(t, t.TempDir(), 12)
	b.AddPhotos(paths)
	q.run()
	in := b.Intake()
	if len(b.Tray()) == 0 || in.Left == 0 || len(b.Tray())+in.Left != 12 || in.Running || !has(in.Words, "Stopped", fmt.Sprint(in.Left)) {
		t.Fatalf("%d came in, %+v", len(b.Tray()), in)
	}
	b.GoOnIntake()
	q.run()
	if len(b.Tray()) != 12 || b.Intake().Left != 0 || len(b.Intake().Twins) != 0 {
		t.Fatalf("%d on the table, %+v", len(b.Tray()), b.Intake())
	}
	b.AddPhotos(paths)
	q.run()
	if len(b.Tray()) != 12 || len(b.Intake().Twins) != 12 {
		t.Fatalf("given again: %d on the table, %+v", len(b.Tray()), b.Intake())
	}
}

// Equal times are told: there the order is a guess. Thousandths of a second, where the camera wrote them, tell it.
func TestEqualTimesAreTold(t *testing.T) {
	b, q := newLab(t)
	dir := t.TempDir()
	at := time.Date(2026, 2, 3, 10, 0, 0, 0, time.UTC)
	b.AddPhotos([]string{
		write(t, filepath.Join(dir, "a10.jpg"), shotAt(t, 1, 1, at)),
		write(t, filepath.Join(dir, "a9.jpg"), shotAt(t, 2, 1, at)),
		write(t, filepath.Join(dir, "a1.jpg"), shotAt(t, 3, 1, at.Add(5*time.Millisecond))),
	})
	q.run()
	prints := b.Prints()
	if len(prints) != 3 || prints[0].Same != 0 || prints[1].Same != 1 || prints[2].Same != 0 {
		t.Fatalf("%+v", prints)
	}
	if !prints[2].Taken.Equal(at.Add(5 * time.Millisecond)) {
		t.Error("the camera's thousandths were dropped")
	}
	if w := b.printWords(prints[1]); !has(w, "same time as print 1", "guess") {
		t.Error(w)
	}
	first, err := b.lab.lib.Plate(prints[0].ID)
	want, _ := os.ReadFile(filepath.Join(dir, "a9.jpg")) // a9 before a10, as people count
	if err != nil || first.Photo.Bytes != int64(len(want)) || first.Photo.SHA256 != hashOf(want) {
		t.Error("names of one time do not count as people count")
	}
}

// A camera's card, dropped whole, has its pictures one folder down.
func TestCardIsDroppedWhole(t *testing.T) {
	b, q := newLab(t)
	card := t.TempDir()
	if err := os.Mkdir(filepath.Join(card, "100STAND"), 0o755); err != nil {
		t.Fatal(err)
	}
	dropSome(t, filepath.Join(card, "100STAND"), 3)
	b.DropPaths([]string{card})
	q.run()
	if len(b.Tray()) != 3 {
		t.Fatalf("%d came in", len(b.Tray()))
	}
}

// atTable is a lab of six prints at the receiving table, painted once.
func atTable(t *testing.T, w, h int, scale float64) (*Bench, *queue, *receivingPane) {
	t.Helper()
	b, q := newLab(t)
	b.AddPhotos(dropSome(t, t.TempDir(), 6))
	q.run()
	p := b.receiving
	p.Resize(w, h, scale)
	p.Paint(image.NewRGBA(image.Rect(0, 0, w, h)))
	return b, q, p
}

func middle(r image.Rectangle) geom.Px {
	return geom.Px{X: float64(r.Min.X+r.Max.X) / 2, Y: float64(r.Min.Y+r.Max.Y) / 2}
}

func (p *receivingPane) edgeMiddle(t *testing.T, f section.Face) geom.Px {
	t.Helper()
	r, ok := p.ruler.edgeRect(f)
	if !ok {
		t.Fatalf("%s is not in sight", f.Name())
	}
	return middle(r.Add(p.rulerAt.Min))
}

// drag is what a hand does.
func (p *receivingPane) drag(from, to geom.Px) {
	p.Down(from, Primary, Mods{})
	for i := 1; i <= 5; i++ {
		p.Drag(geom.Px{X: from.X + (to.X-from.X)*float64(i)/5, Y: from.Y + (to.Y-from.Y)*float64(i)/5})
	}
	p.Up(to)
}

// A print is dragged to an edge, refused where a picture lies, dragged back to the table; several go on together. Every
// move is one step.
func TestDragToEdges(t *testing.T) {
	for _, scale := range []float64{1, 2} {
		b, q, p := atTable(t, 964, 700, scale)
		prints, faces := b.Prints(), b.Run().Faces()
		g := p.grid(6)
		p.drag(middle(p.at(g, 2)), p.edgeMiddle(t, faces[3]))
		q.run()
		if b.Info(faces[3]).PlateID != prints[2].ID || len(b.Tray()) != 5 {
			t.Fatalf("scale %g: the third print is not on %s", scale, faces[3].Name())
		}
		p.drag(middle(p.at(g, 0)), p.edgeMiddle(t, faces[3])) // taken
		m := b.Message()
		if b.Info(faces[3]).PlateID != prints[2].ID || m == nil || !has(m.Title, "has a picture already", "new picture of the same face") {
			t.Fatalf("a taken face: %+v", m)
		}
		b.Choose(1)
		b.choosePrint(prints[0].key, false, false)
		b.choosePrint(prints[1].key, true, false)
		p.drag(middle(p.at(g, 0)), p.edgeMiddle(t, faces[3])) // two cannot both be its new picture
		words, warn := b.Hint()
		if b.Info(faces[3]).PlateID != prints[2].ID || !warn || !has(words, "has a picture already", "Take that one off") {
			t.Errorf("two on a taken face: %q", words)
		}
		p.drag(p.edgeMiddle(t, faces[3]), p.edgeMiddle(t, faces[1])) // from edge to edge
		q.run()
		if b.Info(faces[3]).Photo || b.Info(faces[1]).PlateID != prints[2].ID {
			t.Error("not moved to another edge")
		}
		p.drag(p.edgeMiddle(t, faces[1]), middle(p.tableAt))
		q.run()
		if len(b.Tray()) != 6 || b.Info(faces[1]).Photo {
			t.Fatal("not back on the table")
		}
		p.Down(middle(p.at(g, 1)), Primary, Mods{})
		p.Up(middle(p.at(g, 1)))
		p.Down(middle(p.at(g, 3)), Primary, Mods{Shift: true})
		p.Up(middle(p.at(g, 3)))
		p.drag(middle(p.at(g, 2)), p.edgeMiddle(t, faces[2]))
		q.run()
		for i := range 3 {
			if b.Info(faces[2+i]).PlateID != prints[1+i].ID {
				t.Errorf("of three dragged at once, number %d is not on %s", i+1, faces[2+i].Name())
			}
		}
		b.Undo()
		q.run()
		if len(b.Tray()) != 6 {
			t.Error("three at once are not one step")
		}
		for range 3 {
			b.Undo()
			q.run()
		}
		if b.UndoName() != "" || len(b.Tray()) != 6 {
			t.Errorf("%q is left to take back, %d on the table", b.UndoName(), len(b.Tray()))
		}
	}
}

// The keyboard's way: the arrows choose a print, the page keys an edge, Return lays it, Delete takes it off; Space looks.
func TestTableByKeys(t *testing.T) {
	b, q, p := atTable(t, 964, 700, 1)
	prints, faces := b.Prints(), b.Run().Faces()
	press := func(keys ...string) {
		for _, k := range keys {
			if !b.Key(k, Mods{}) {
				t.Fatalf("%s was not used", k)
			}
		}
		q.run()
	}
	press("Right", "Right", "Page Down", "Page Down", "Return")
	if b.Info(faces[2]).PlateID != prints[1].ID {
		t.Fatalf("not laid: %+v", b.Table())
	}
	press("Page Up", "Page Up", "Page Down", "Page Down")
	if b.table.edge != faces[3] {
		t.Errorf("on %s", b.table.edge.Name())
	}
	press("Page Up", "Delete")
	if b.Info(faces[2]).Photo || len(b.Tray()) != 6 {
		t.Error("not taken off")
	}
	press("Home", "Space")
	if !b.Table().Large || b.table.large.picture == nil {
		t.Error("not looked at large")
	}
	p.Paint(image.NewRGBA(image.Rect(0, 0, 964, 700)))
	press("Right")
	if b.table.large.key != prints[1].key {
		t.Error("the large look does not follow")
	}
	press("Escape", "Escape", "Escape")
	if b.Screen() != RunScreen {
		t.Errorf("three steps back lead to screen %d", b.Screen())
	}
	press("T", "T")
	if b.Screen() != ReceivingScreen || !b.Table().Proposed {
		t.Fatal("T opens the table and proposes")
	}
	press("Home", "Right", ".")
	if on, _ := b.proposal(); on[prints[0].key] != faces[2] || on[prints[1].key] != faces[4] {
		t.Errorf("from the second print on one face further: %v", on)
	}
	press("Return")
	if b.Info(faces[2]).PlateID != prints[0].ID || b.Info(faces[3]).Photo || b.Info(faces[4]).PlateID != prints[1].ID {
		t.Error("not laid as proposed")
	}
}

// Dragged to an edge while a sequence is proposed, a print and all after it move so that it lies there; never onto those
// before it. Nothing is laid.
func TestDragWithinAProposal(t *testing.T) {
	b, _, p := atTable(t, 964, 700, 1)
	prints, faces := b.Prints(), b.Run().Faces()
	b.ChooseEdge(faces[0])
	b.Propose()
	g := p.grid(6)
	p.drag(middle(p.at(g, 2)), p.edgeMiddle(t, faces[4]))
	on, left := b.proposal()
	if on[prints[1].key] != faces[1] || on[prints[2].key] != faces[4] || on[prints[3].key] != faces[5] || left != 2 {
		t.Fatalf("%v, %d stay", on, left)
	}
	p.drag(middle(p.at(g, 2)), p.edgeMiddle(t, faces[1])) // print 2 is proposed for it
	if words, warn := b.Hint(); !warn || !has(words, "before it") {
		t.Errorf("%q", words)
	}
	p.drag(middle(p.at(g, 2)), p.edgeMiddle(t, faces[2]))
	if on, left := b.proposal(); on[prints[2].key] != faces[2] || left != 0 || len(b.Tray()) != 6 {
		t.Errorf("not back: %v", on)
	}
}

// Who goes to another run while photographs come in sees none of them there; back again they lie on their table, and what
// could not be taken in is told.
func TestIntakeWhileElsewhere(t *testing.T) {
	b, q := newLab(t)
	home := b.Run().ID
	if err := b.BeginRun(NewRun{Donor: "LB-2", Part: "head", Plane: section.Frontal, First: section.Anterior, Thickness: 10, Kerf: 1, Slabs: 2}); err != nil {
		t.Fatal(err)
	}
	other := b.Run().ID
	b.ChooseRun(home)
	dir := t.TempDir()
	b.AddPhotos(append(dropSome(t, dir, 4), write(t, filepath.Join(dir, "letter.jpg"), []byte("Dear colleague"))))
	b.ChooseRun(other)
	if len(b.Prints()) != 0 {
		t.Fatalf("%d prints of another run", len(b.Prints()))
	}
	q.run()
	if len(b.Prints()) != 0 || len(b.Intake().Faults) != 1 {
		t.Fatalf("%d prints, %+v", len(b.Prints()), b.Intake())
	}
	b.ChooseRun(home)
	q.run()
	if n := len(b.Prints()); n != 4 {
		t.Fatalf("%d prints at home", n)
	}
}

// A face of another plane cannot be given a picture by any way (row RG1).
func TestNoFaceOfAnotherPlane(t *testing.T) {
	b, _, _ := atTable(t, 964, 700, 1)
	front := section.Face{Run: b.Run().ID, Slab: 1, Facing: section.Anterior}
	if err := b.Place(b.Prints()[0].ID, front); !errors.Is(err, section.ErrNoSuchFace) {
		t.Errorf("Place: %v", err)
	}
	if err := b.LayOn(front, b.Prints()[:1]); !errors.Is(err, section.ErrNoSuchFace) {
		t.Errorf("LayOn: %v", err)
	}
	if b.ChooseEdge(front); b.table.edge == front {
		t.Error("it can be chosen")
	}
}

// The mirror in a camera's tag is asked about on the table and answered for one print or for all at once.
func TestMirrorForTheBatch(t *testing.T) {
	b, q := newLab(t)
	dir := t.TempDir()
	var paths []string
	for i, o := range []int{2, 1, 4, 5} { // Exif 2.32, tag 0112: 2, 4, 5 and 7 hold a mirror
		paths = append(paths, write(t, filepath.Join(dir, fmt.Sprint(i, ".jpg")), shotAt(t, i, o, time.Date(2026, 2, 3, 10, 0, i, 0, time.UTC))))
	}
	b.AddPhotos(paths)
	q.run()
	if b.Table().Mirrored != 3 || b.Message() != nil {
		t.Fatalf("%+v", b.Table())
	}
	prints := b.Prints()
	b.choosePrint(prints[0].key, false, false)
	b.AnswerMirrored(atlas.Yes, false)
	q.run()
	b.AnswerMirrored(atlas.No, true)
	q.run()
	if b.Table().Mirrored != 0 {
		t.Fatalf("%+v", b.Table())
	}
	for i, want := range []atlas.Answer{atlas.Yes, atlas.Unanswered, atlas.No, atlas.No} {
		if p, err := b.lab.lib.Plate(prints[i].ID); err != nil || p.Mirrored != want {
			t.Errorf("print %d: %v, want %v (%v)", i+1, p.Mirrored, want, err)
		}
	}
}

// crowdedTable is a table with 200 prints.
func crowdedTable(t testing.TB) (*Bench, *receivingPane) {
	t.Helper()
	b, _ := newLab(t)
	b.enter(ReceivingScreen)
	for i := range 200 {
		b.lab.tray = append(b.lab.tray, TrayPhoto{ID: fmt.Sprint(i), key: fmt.Sprint(i), at: i, Preview: image.NewRGBA(image.Rect(0, 0, 320, 213)), Sharp: true})
	}
	return b, b.receiving
}

// A print's picture is the mean of what it stands for: of a chequered picture every pixel is the mean grey, of one with
// two halves the halves stay apart.
func TestReduced(t *testing.T) {
	src := image.NewRGBA(image.Rect(0, 0, 320, 212))
	for i := range 320 * 212 {
		v := uint8(255 * ((i%320 + i/320) % 2))
		src.Pix[4*i], src.Pix[4*i+1], src.Pix[4*i+2], src.Pix[4*i+3] = v, uint8(i%320/160)*200, 7, 255
	}
	m := reduced(src, 160, 106)
	for y := range 106 {
		for x := range 160 {
			c := m.RGBAAt(x, y)
			if want := uint8(x / 80 * 200); c.R < 127 || c.R > 128 || c.G != want || c.B != 7 || c.A != 255 {
				t.Fatalf("(%d, %d): %v", x, y, c)
			}
		}
	}
	large := reduced(src, 640, 424) // a few prints on a wide table
	if c := large.RGBAAt(600, 200); large.Rect.Size() != image.Pt(640, 424) || c.G != 200 || large.RGBAAt(40, 200).G != 0 || c.A != 255 {
		t.Errorf("a picture that should grow: %v, %v", large.Rect, c)
	}
}

// With 200 prints only those in sight are made ready and painted, at both text sizes; rolling never loses them.
func TestOnlyPrintsInSightArePainted(t *testing.T) {
	_, p := crowdedTable(t)
	for _, scale := range []float64{1, 2} {
		clear(p.thumbs)
		dst := image.NewRGBA(image.Rect(0, 0, 964, 668))
		p.Resize(964, 668, scale)
		p.Paint(dst)
		g := p.grid(200)
		first, end := p.inSight(g)
		if first != 0 || end > 40 || len(p.thumbs) > end {
			t.Errorf("scale %g: prints %d to %d are in sight, %d were made", scale, first, end, len(p.thumbs))
		}
		p.Wheel(middle(p.tableAt), -1e6, Mods{})
		p.Paint(dst)
		if _, end := p.inSight(g); end != 200 {
			t.Errorf("scale %g: rolled to the end, the last print in sight is %d", scale, end)
		}
		if r := p.at(g, 199); r.Max.Y > p.tableAt.Max.Y {
			t.Errorf("scale %g: the last print ends at %d of %d", scale, r.Max.Y, p.tableAt.Max.Y)
		}
		p.top = 0
	}
}

func hashOf(b []byte) photo.Hash { return sha256.Sum256(b) }
