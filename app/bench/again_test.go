package bench

import (
	"bytes"
	"errors"
	"image"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// reshot is how the second picture of these tests sees the first: turned by 8 degrees, a little nearer, a little tilted.
var reshot = geom.Homography{1.0396, -0.1461, 20, 0.1461, 1.0396, -40, 2e-5, -1e-5, 1}

// seenBy is a picture as the camera of h sees it.
func seenBy(h geom.Homography, m *image.RGBA) *image.RGBA {
	out := image.NewRGBA(m.Rect)
	back := h.Inverse()
	src := photo.NewImage(m)
	for y := range m.Rect.Dy() {
		for x := range m.Rect.Dx() {
			out.SetRGBA(x, y, src.At(geom.Px(back.MM(geom.Px{X: float64(x), Y: float64(y)}))))
		}
	}
	return out
}

func fileOf(t testing.TB, m image.Image, taken time.Time) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := photo.EncodeJPEG(&b, m, 95); err != nil {
		t.Fatal(err)
	}
	return photo.WithEXIF(b.Bytes(), 1, taken)
}

var firstDay, secondDay = time.Date(2026, 1, 12, 9, 0, 0, 0, time.UTC), time.Date(2026, 2, 20, 14, 30, 0, 0, time.UTC)

// againLab is a lab on disk with an outlined photograph (0.5 mm per pixel) on slab 1's upper face, and the file of a second one of the
// same face.
func againLab(t testing.TB) (b *Bench, q *queue, second string) {
	t.Helper()
	b, q = newLab(t)
	dir := t.TempDir()
	m := drawnFace(800, 600)
	first := write(t, filepath.Join(dir, "a.jpg"), fileOf(t, m, firstDay))
	second = write(t, filepath.Join(dir, "b.jpg"), fileOf(t, seenBy(reshot, m), secondDay))
	b.ChooseFace(section.Face{Run: b.Run().ID, Slab: 1, Facing: section.Superior})
	b.AddPhotos([]string{first})
	q.run()
	err := b.edit("test", "", func(p atlas.Plate) (atlas.Plate, error) {
		c, err := photo.TwoTicks(geom.Px{X: 100, Y: 500}, geom.Px{X: 300, Y: 500}, 100)
		if err != nil {
			return p, err
		}
		p.Calibration, p.PhotoUp = c, section.Anterior
		p.Border = []annotate.Polygon{{Outer: []geom.Px{{X: 120, Y: 90}, {X: 680, Y: 90}, {X: 680, Y: 500}, {X: 120, Y: 500}}}}
		p.Mask = []annotate.Polygon{square(740, 560, 20)}
		p.Labels, err = p.Labels.AddAll([]annotate.Label{named("liver", "UBERON:0002107", 260, 300), named("heart", "UBERON:0000948", 520, 300)})
		return p, err
	})
	if err != nil {
		t.Fatal(err)
	}
	b.SetSigner("EF")
	b.draw.chosen = "liver"
	if err := b.SignChosen(); err != nil {
		t.Fatal(err)
	}
	b.Show(FaceScreen)
	q.run()
	b.saveNow()
	return b, q, second
}

func named(id string, term annotate.TermID, x, y float64) annotate.Label {
	return annotate.Label{ID: id, Term: term, Sure: annotate.Certain, Author: "AB", Changed: firstDay, Regions: []annotate.Polygon{square(x, y, 40)}}
}

// tiePlaces are places of the first picture that a person can find on the second.
var tiePlaces = []geom.Px{{X: 150, Y: 120}, {X: 650, Y: 120}, {X: 650, Y: 480}, {X: 150, Y: 480}, {X: 400, Y: 130}, {X: 400, Y: 470}, {X: 250, Y: 290}, {X: 530, Y: 310}}

// tieAgain clicks places alternately on both pictures.
func tieAgain(b *Bench, off geom.Px, at ...geom.Px) {
	o, n := b.AgainOldPane().(*againPane), b.AgainNowPane().(*againPane)
	for _, f := range []*againPane{o, n} {
		f.Resize(500, 500, 1)
		f.lay()
	}
	press := func(f *againPane, px geom.Px) {
		d := f.view.Device(px)
		f.Down(d, Primary, Mods{})
		f.Up(d)
	}
	for i, q := range at {
		to := geom.Px(reshot.MM(q))
		if i == 0 {
			to = geom.Px{X: to.X + off.X, Y: to.Y + off.Y}
		}
		press(o, q)
		press(n, to)
	}
}

// LB7: the whole way on the bench: both pictures side by side, the states told, the outlines shown before, one step to take them, one to go
// back, one to do it again.
func TestLB7NewPictureOnTheBench(t *testing.T) {
	b, q, second := againLab(t)
	first, _ := b.Plate()
	photos := func() (n int) {
		for range b.lab.lib.Find(atlas.Query{Retired: true}) {
			n++
		}
		return n
	}

	// One photograph dropped on a face that has one asks; leaving changes nothing, not even in the tray.
	b.DropPaths([]string{second})
	if m := b.Message(); m == nil || len(m.Choices) != 2 || m.Choices[0].Label != Word("again.offer.lay") {
		t.Fatalf("%+v", b.Message())
	}
	b.Choose(0)
	q.run()
	if b.Screen() != AgainScreen || photos() != 1 {
		t.Fatalf("screen %d, %d photographs", b.Screen(), photos())
	}
	i := b.Again()
	if !has(i.Old, "12 January 2026") || !has(i.Now, "20 February 2026") || !has(i.State, "No points yet") || i.Ready || !has(i.Why, "4 more") {
		t.Errorf("%+v", i)
	}
	tieAgain(b, geom.Px{}, tiePlaces[:3]...)
	if i = b.Again(); !has(i.State, "Three points always fit: add a fourth") || i.Ready {
		t.Errorf("%+v", i)
	}
	b.Undo()
	if n := len(b.Again().Ties); n != 2 || b.UndoName() != Word("undo.againtie") {
		t.Errorf("%d ties, undo %q", n, b.UndoName())
	}
	b.Back()
	if m := b.Message(); m == nil || !has(m.Hint, "2 points") {
		t.Fatalf("%+v", m)
	}
	b.Choose(1)
	if p, _ := b.Plate(); b.Screen() != FaceScreen || p.ID != first.ID || p.Rev != first.Rev || photos() != 1 {
		t.Fatal("leaving changed something")
	}

	b.NewPicture(second)
	q.run()
	tieAgain(b, geom.Px{}, tiePlaces[:4]...)
	if i = b.Again(); !i.Ready || !has(i.State, "4 points agree within") {
		t.Errorf("%+v", i)
	}
	tieAgain(b, geom.Px{}, tiePlaces[4:]...)
	i = b.Again()
	said := strings.Join(i.Outcome, " ")
	if !i.Ready || i.Warn || !has(i.State, "8 points agree within") || !has(said, "2 outlines come over", "1 label must be signed again", "where they spread", "tag may lie elsewhere") ||
		has(said, "must be looked at: a point") {
		t.Errorf("%+v", i)
	}
	o, n := painted(b.AgainOldPane(), 480, 640, 1), painted(b.AgainNowPane(), 480, 640, 1)
	show(t, "again-old", o)
	show(t, "again-new", n)
	b.SetAgainOutlines(false)
	if bytes.Equal(painted(b.AgainNowPane(), 480, 640, 1).Pix, n.Pix) {
		t.Error("outlines cannot be seen before they are taken")
	}
	if err := b.AcceptAgain(); err != nil {
		t.Fatal(err)
	}
	q.run()
	now, _ := b.Plate()
	if b.Screen() != FaceScreen || now.ID == first.ID || now.Face != first.Face || photos() != 2 || len(b.Tray()) != 0 {
		t.Fatalf("screen %d, plate %s, %d photographs, %d in the tray", b.Screen(), now.ID, photos(), len(b.Tray()))
	}
	b.Dismiss()
	for x := range first.Labels.All() {
		y, _ := now.Labels.Find(x.ID)
		for k, at := range x.Regions[0].Outer {
			if d := y.Regions[0].Outer[k].Dist(geom.Px(reshot.MM(at))) / 2; d > 1 { // clicks are whole device pixels of a small pane
				t.Errorf("%s: %.2f mm off", x.ID, d)
			}
		}
		if y.Signed != nil || y.Carried {
			t.Errorf("%s: signed %v, carried %v", x.ID, y.Signed, y.Carried)
		}
	}
	if old, err := b.lab.lib.Plate(first.ID); err != nil || !old.Retired || old.Labels.Len() != 2 {
		t.Fatal(err, old.Retired)
	}

	// What waits: the tag mask alone. It is chosen, brought to the middle, and found right.
	rows := b.LookAgain()
	if len(rows) != 1 || rows[0].Name != Word("look.mask") || b.LookWords() == "" || !has(b.Info(b.Face()).Words, "1 to look at again") {
		t.Fatalf("%+v, %q, %q", rows, b.LookWords(), b.Info(b.Face()).Words)
	}
	b.FacePane().Resize(900, 700, 1)
	b.ChooseLook(1)
	if c := now.Mask[0].Centroid(); b.doc.view.Centre.Dist(c) > 2 {
		t.Errorf("centre %v, mask at %v", b.doc.view.Centre, c)
	}
	if err := b.LookRight(1); err != nil || len(b.LookAgain()) != 0 || b.LookWords() != "" {
		t.Fatalf("%v %+v", err, b.LookAgain())
	}
	b.Undo() // the look
	if len(b.LookAgain()) != 1 {
		t.Error("looking cannot be taken back")
	}

	// One step back on the face, again, and back on the run.
	if b.UndoName() != Word("step.again") {
		t.Fatalf("undo would %q", b.UndoName())
	}
	b.Undo()
	q.run()
	p, _ := b.Plate()
	if p.ID != first.ID || p.Retired || b.RedoName() != Word("step.again") || len(b.Tray()) != 1 {
		t.Fatalf("plate %s, redo %q, %d in the tray, message %+v", p.ID, b.RedoName(), len(b.Tray()), b.Message())
	}
	if x, _ := p.Labels.Find("liver"); x.Signed == nil {
		t.Error("the signature on the old picture is gone")
	}
	b.Redo()
	q.run()
	if p, _ = b.Plate(); p.ID != now.ID || len(b.Tray()) != 0 {
		t.Fatalf("%s, message %+v", p.ID, b.Message())
	}
	b.Show(RunScreen)
	if b.UndoName() != Word("step.again") {
		t.Errorf("on the run undo would %q", b.UndoName())
	}
	b.Undo()
	q.run()
	if p, _ = b.Plate(); p.ID != first.ID {
		t.Error("not taken back on the run")
	}
	b.Redo()
	q.run()

	// The earlier picture opens beside the present one, takes no change, and can be made current again.
	b.Show(FaceScreen)
	list := b.EarlierPictures()
	if len(list) != 1 || list[0].ID != first.ID || !has(list[0].Words, "2 outlines") {
		t.Fatalf("%+v", list)
	}
	b.ShowEarlier(list[0].ID)
	q.run()
	if i := b.Again(); i.Laying || i.Ready || b.Screen() != AgainScreen {
		t.Errorf("%+v", i)
	}
	o = painted(b.AgainOldPane(), 480, 640, 1)
	tieAgain(b, geom.Px{}, tiePlaces[0])
	if again := painted(b.AgainOldPane(), 480, 640, 1); !bytes.Equal(o.Pix, again.Pix) {
		t.Error("a click changed an earlier picture")
	}
	if err := b.MakeCurrentAgain(); err != nil {
		t.Fatal(err)
	}
	q.run()
	if m := b.Message(); m == nil || !has(m.Hint, "2 outlines stay with the picture") {
		t.Errorf("%+v", m)
	}
	if p, _ = b.Plate(); p.ID != first.ID || p.Retired || len(b.EarlierPictures()) != 1 {
		t.Errorf("current %s", p.ID)
	}
}

// LB7: a wrong tie lists the outline beside it and no other; a picture of the other face is refused in words; four ties prove nothing.
func TestLB7StatesOnTheBench(t *testing.T) {
	b, q, second := againLab(t)
	b.NewPicture(second)
	q.run()
	order := append([]geom.Px{tiePlaces[6]}, append(append([]geom.Px{}, tiePlaces[:6]...), tiePlaces[7])...)
	tieAgain(b, geom.Px{X: 12, Y: 10}, order...) // the first, beside the liver, is 15 px or 7.8 mm off
	i := b.Again()
	if !i.Warn || !has(i.State, "1 point is more than 2 mm off", "other 7 agree") || i.Ties[0].N != 1 || !i.Ties[0].LeftOut || math.Abs(i.Ties[0].MM-7.5) > 1 ||
		!has(strings.Join(i.Outcome, " "), "1 of them must be looked at") {
		t.Fatalf("%+v", i)
	}
	if err := b.AcceptAgain(); err != nil {
		t.Fatal(err)
	}
	q.run()
	b.Dismiss()
	rows := b.LookAgain()
	if len(rows) != 2 || !has(rows[0].Name, "liver") || !has(rows[0].Words, "7.") {
		t.Fatalf("%+v", rows)
	}
	b.FacePane().Resize(900, 700, 1)
	b.ChooseLook(1)
	if b.Chosen() != "liver" {
		t.Errorf("chosen %q", b.Chosen())
	}
	// Shaping it anew is looking at it.
	if err := b.editLabels("shape", "", func(l annotate.Labels) (annotate.Labels, error) {
		return l.Reshape("liver", b.stamp(), square(300, 300, 35))
	}); err != nil {
		t.Fatal(err)
	}
	if rows = b.LookAgain(); len(rows) != 1 {
		t.Errorf("%+v", rows)
	}
	if x, _ := b.doc.plate().Labels.Find("liver"); !x.Counts() {
		t.Errorf("it lacks %v", x.Missing())
	}
	// All of it is on disk after the autosave and after opening anew.
	q.pass(time.Minute)
	got, err := b.lab.lib.Plate(b.doc.plate().ID)
	if err != nil || len(got.LookAgain()) != 1 {
		t.Errorf("%v %+v", err, got.LookAgain())
	}

	b, q, _ = againLab(t)
	m := image.NewRGBA(image.Rect(0, 0, 800, 600))
	src := drawnFace(800, 600)
	for y := range 600 {
		for x := range 800 {
			m.SetRGBA(x, y, src.RGBAAt(799-x, y))
		}
	}
	b.NewPicture(write(t, filepath.Join(t.TempDir(), "c.jpg"), fileOf(t, m, secondDay)))
	q.run()
	for _, at := range tiePlaces[:4] {
		b.pickAgain(true, at)
		b.pickAgain(false, geom.Px{X: 799 - at.X, Y: at.Y})
	}
	if i = b.Again(); i.Ready || !i.Warn || !has(i.State, "only when the picture is turned over", "other face of the cut") {
		t.Errorf("%+v", i)
	}
	if err := b.AcceptAgain(); !errors.Is(err, atlas.ErrOtherFace) {
		t.Errorf("taken: %v", err)
	}
	b.RemoveAgainTie(4)
	if i = b.Again(); !has(i.State, "turned over") {
		t.Errorf("three ties: %+v", i.State)
	}
}

// A file that is in the lab already is not taken twice: one of the tray is laid, one of another face is refused by its place.
func TestNewPictureThatIsKnown(t *testing.T) {
	b, q, second := againLab(t)
	b.ChooseFace(section.Face{Run: b.Run().ID, Slab: 2, Facing: section.Superior})
	b.AddPhotos([]string{second})
	q.run()
	b.ChooseFace(section.Face{Run: b.Run().ID, Slab: 1, Facing: section.Superior})
	b.NewPicture(second)
	q.run()
	if m := b.Message(); b.Screen() == AgainScreen || m == nil || m.Title != Explain(atlas.ErrKnownPhoto).Title {
		t.Fatalf("screen %d, %+v", b.Screen(), m)
	}
	b.Dismiss()
	b.ChooseFace(section.Face{Run: b.Run().ID, Slab: 2, Facing: section.Superior})
	if err := b.Unplace(); err != nil {
		t.Fatal(err)
	}
	b.ChooseFace(section.Face{Run: b.Run().ID, Slab: 1, Facing: section.Superior})
	q.run()
	b.NewPicture(second)
	q.run()
	if b.Screen() != AgainScreen {
		t.Fatalf("%+v", b.Message())
	}
	tieAgain(b, geom.Px{}, tiePlaces...)
	if err := b.AcceptAgain(); err != nil {
		t.Fatal(err)
	}
	if p, _ := b.Plate(); p.Earlier == nil || p.Labels.Len() != 2 {
		t.Errorf("%+v", p)
	}
}

// Ties are proposed by comparing the pictures; every proposal is where it should be.
func TestTiesAreProposed(t *testing.T) {
	b, q, second := againLab(t)
	b.NewPicture(second)
	q.run()
	for _, at := range []geom.Px{tiePlaces[0], tiePlaces[2]} {
		b.pickAgain(true, at)
		b.pickAgain(false, geom.Px(reshot.MM(at)))
	}
	b.SeekTies()
	q.run()
	i := b.Again()
	if i.Offers < 3 {
		t.Fatalf("%d proposed: %q", i.Offers, i.Next)
	}
	for _, o := range b.again.offers {
		if d := o.New.Dist(geom.Px(reshot.MM(o.Old))); d > 3 {
			t.Errorf("%v is proposed %.1f px off", o.Old, d)
		}
	}
	b.TakeOffers()
	if i = b.Again(); i.Offers != 0 || len(i.Ties) < 5 || !i.Ready {
		t.Errorf("%+v", i)
	}
	t.Logf("%d ties, %s", len(i.Ties), i.State)
}

// LB7: exam stations made from the earlier picture are told when the new one is taken, flagged on the exam screen with their names and the
// reason, and follow to the current picture on wish.
func TestLB7ExamStationsOnTheBench(t *testing.T) {
	b, q, _ := examLab(t)
	b.Show(StationsScreen)
	q.run()
	var in []string
	for _, r := range b.Askable() {
		if r.Ready && strings.Contains(r.Where, "slab 1") {
			in = append(in, r.ID)
		}
	}
	b.Ask(in, nil)
	b.SetExamTitle("Winter")
	q.pass(time.Second)
	q.run()
	if n := len(b.Stations()); n != len(in) || n < 2 {
		t.Fatalf("%d stations", n)
	}
	was := b.Stations()[0].Name
	b.Show(RunScreen)
	b.ChooseFace(section.Face{Run: b.Run().ID, Slab: 1, Facing: section.Superior})
	b.Show(FaceScreen)
	q.run()
	file := write(t, filepath.Join(t.TempDir(), "b.png"), examPhoto(t, 91))
	b.NewPicture(file)
	q.run()
	for i := range 9 {
		at := geom.Px{X: 60 + 200*float64(i%3), Y: 80 + 190*float64(i/3) + float64(i)}
		b.pickAgain(true, at)
		b.pickAgain(false, at)
	}
	if i := b.Again(); len(i.Exams) != len(in) || !has(i.Exams[0], "Winter, station 1") {
		t.Fatalf("%+v", i)
	}
	if err := b.AcceptAgain(); err != nil {
		t.Fatal(err)
	}
	q.run()
	if m := b.Message(); m == nil || !has(m.Hint, "Winter, station 1", "must be signed again") {
		t.Fatalf("%+v", m)
	}
	b.Dismiss()
	b.Show(StationsScreen)
	q.run()
	if b.OldPictures() != len(in) || b.Stations()[0].Name == Word("exam.labelgone") || !b.Stations()[0].Look || !has(b.Stations()[0].Words, "slab 1") {
		t.Errorf("%d, %+v, was %q", b.OldPictures(), b.Stations()[0], was)
	}
	if f, ok := b.Station(); !ok || len(f.Checks) == 0 || !has(f.Checks[0], "earlier photograph") {
		t.Errorf("%+v", f)
	}
	if why := b.ExamRefusal(); !has(why, "Station 1", "earlier photograph") {
		t.Errorf("refusal %q", why)
	}
	painted(b.StationPane(), 400, 400, 1)
	q.run()
	if _, making, none := b.stationPage(); making || !has(none, "earlier photograph") {
		t.Errorf("the picture says %q, making %v", none, making)
	}
	if err := b.FollowPictures(); err != nil {
		t.Fatal(err)
	}
	q.run()
	if b.OldPictures() != 0 || b.Message() == nil || !has(b.Message().Title, "show the current pictures now") {
		t.Errorf("%d, %+v", b.OldPictures(), b.Message())
	}
	if why := b.ExamRefusal(); has(why, "earlier photograph") || !has(why, "signed") {
		t.Errorf("refusal %q", why)
	}
}
