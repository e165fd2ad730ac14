package bench

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/csv"
	"image"
	"image/color"
	"image/png"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/assets"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// examLab is a lab on disk with two faces of named, signed organs, one organ that nobody signed, and a purpose that is not
// recorded; the bench has it open. Uberon: liver 0002107, spleen 0002106, kidney 0002113.
func examLab(t *testing.T) (b *Bench, q *queue, dir string) {
	t.Helper()
	dir = filepath.Join(t.TempDir(), "lab")
	lib, err := atlas.Create(dir)
	ok := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	ok(err)
	ok(lib.AddDonor(atlas.Donor{Code: "QX-77K", Agreement: atlas.Agreement{ChangedBy: "the donor office", Ends: time.Date(2031, 3, 4, 0, 0, 0, 0, time.UTC),
		Permitted: map[atlas.Purpose]bool{atlas.Teaching: true, atlas.Exam: true}}}))
	run := section.Run{Donor: "QX-77K", Part: "trunk", Plane: section.Transverse, First: section.Superior}
	for i := range 4 {
		run.Slabs = append(run.Slabs, section.Slab{Number: i + 1, Thickness: [3]float64{20}, Kerf: 1})
	}
	run, err = lib.SaveRun(run)
	ok(err)
	for i, slab := range []int{1, 2} {
		face := section.Face{Run: run.ID, Slab: slab, Facing: section.Superior}
		p, err := lib.AddPhoto(context.Background(), face, "QX-77K", "a.png", bytes.NewReader(examPhoto(t, uint8(90+40*i))))
		ok(err)
		p.PhotoUp = section.Anterior
		p.Calibration, err = photo.TwoTicks(geom.Px{X: 0, Y: 0}, geom.Px{X: 100, Y: 0}, 50)
		ok(err)
		p.Border = []annotate.Polygon{patch(20, 20, 560)}
		for n, o := range []struct {
			id   annotate.TermID
			side annotate.Side
			at   annotate.Polygon
		}{{"UBERON:0002107", annotate.NoSide, patch(60, 60, 160)}, {"UBERON:0002106", annotate.NoSide, patch(360, 60, 120)},
			{"UBERON:0002113", annotate.Left, patch(360, 330, 120)}, {"UBERON:0002113", annotate.Right, patch(60, 330, 120)}} {
			id := string(rune('a' + n))
			p.Labels, err = p.Labels.Add(annotate.Label{ID: id, Term: o.id, Side: o.side, Sure: annotate.Certain, Author: "AB", Changed: time.Date(2026, 2, 1, 9, 0, 0, 0, time.UTC), Regions: []annotate.Polygon{o.at}})
			ok(err)
			if n < 3 {
				p.Labels, err = p.Labels.Sign(id, annotate.Stamp{Author: "CD", At: time.Date(2026, 2, 2, 9, 0, 0, 0, time.UTC)})
				ok(err)
			}
		}
		_, err = lib.Save(p)
		ok(err)
	}
	ok(lib.Close())
	terms, err := annotate.LoadTerms(assets.Terms())
	ok(err)
	q = &queue{now: time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)}
	b = New(q, terms, Options{DataDir: t.TempDir(), Author: "EF", Now: func() time.Time { return q.now }})
	ok(b.OpenLab(dir))
	q.run()
	t.Cleanup(func() { b.CloseStudy(); _ = b.CloseLab() })
	return b, q, dir
}

func patch(x, y, side float64) annotate.Polygon {
	return annotate.Polygon{Outer: []geom.Px{{X: x, Y: y}, {X: x + side, Y: y}, {X: x + side, Y: y + side}, {X: x, Y: y + side}}}
}

// examPhoto is a plain picture with a gradient, so that no two places look alike.
func examPhoto(t *testing.T, base uint8) []byte {
	m := image.NewRGBA(image.Rect(0, 0, 600, 600))
	for y := range 600 {
		for x := range 600 {
			m.SetRGBA(x, y, color.RGBA{base, uint8(x / 4), uint8(y / 4), 255})
		}
	}
	var f bytes.Buffer
	if err := png.Encode(&f, m); err != nil {
		t.Fatal(err)
	}
	return f.Bytes()
}

// quiet fails when a message waits that no one expected.
func quiet(t *testing.T, b *Bench) {
	t.Helper()
	if m := b.Message(); m != nil {
		t.Fatalf("%s %s", m.Title, m.Hint)
	}
}

// rowNamed is the row of Askable with a name, ready or not.
func rowNamed(t *testing.T, b *Bench, name string) AskRow {
	t.Helper()
	for _, r := range b.Askable() {
		if r.Name == name {
			return r
		}
	}
	t.Fatalf("%q is not among %+v", name, b.Askable())
	return AskRow{}
}

// An exam from picked labels to the finished files, by way of everything that may stop it.
func TestExamFromLabels(t *testing.T) {
	b, q, _ := examLab(t)
	b.Show(StationsScreen)
	q.run()
	quiet(t, b)
	if words := b.StationsLead(); !has(words, "6 labels") || !has(words, "2 wait for a second person's signature") {
		t.Errorf("the empty exam says %q", words)
	}
	if why := b.ExamRefusal(); why != Word("exam.none") {
		t.Errorf("an exam without stations: %q", why)
	}
	// What is not signed cannot be asked: it says so and leads to where it is signed.
	unsigned := rowNamed(t, b, "right kidney")
	if unsigned.Ready || !has(unsigned.Why, "not signed") {
		t.Fatalf("%+v", unsigned)
	}
	b.GoToLabel(unsigned.ID)
	q.run()
	if b.Screen() != FaceScreen || b.Chosen() != "d" {
		t.Fatalf("the label without a signature: screen %d, chosen %q", b.Screen(), b.Chosen())
	}
	b.SetSigner("CD")
	b.Key("C", Mods{})
	q.pass(10 * time.Second)
	b.Show(StationsScreen)
	q.run()
	quiet(t, b)
	signed := 0
	for _, r := range b.Askable() {
		if r.Name == "right kidney" && r.Ready {
			signed++
		}
	}
	if signed != 1 {
		t.Fatalf("%d right kidneys can be asked after one was signed", signed)
	}
	b.Ask([]string{rowNamed(t, b, "liver").ID, rowNamed(t, b, "left kidney").ID, rowNamed(t, b, "spleen").ID}, nil)
	q.run()
	quiet(t, b)
	list := b.Stations()
	if len(list) != 3 || list[0].Name != "liver" || list[1].Name != "left kidney" || !list[0].Chosen {
		t.Fatalf("%+v", list)
	}
	painted(b.StationPane(), 600, 500, 1)
	q.run()
	if m, _, none := b.stationPage(); m == nil {
		t.Fatalf("no finished picture: %s", none)
	}

	// Markers, questions and order.
	b.Key("Down", Mods{})
	f, _ := b.Station()
	if f.N != 2 || f.Second || f.Answer != "left kidney" || !has(f.Accepts, "kidney, left") {
		t.Fatalf("station 2: %+v", f)
	}
	f.Marker, f.Approach = 1, 4
	b.SetStation(f)
	f, _ = b.Station()
	f.Second = true
	b.SetStation(f)
	q.run()
	quiet(t, b)
	if f, _ = b.Station(); !f.Second || f.Marker != 1 || f.Approach != 4 {
		t.Fatalf("second-order question: %+v", f)
	}
	b.Key("Up", Mods{Shift: true})
	if list = b.Stations(); list[0].Name != "left kidney" || !list[0].Chosen {
		t.Fatalf("after Shift+Up %+v", list)
	}
	// A question that names its answer stops the exam, in words beside its station.
	f, _ = b.Station()
	f.Second = false
	b.SetStation(f)
	q.run()
	f, _ = b.Station()
	before := f.Question
	f.Question = "Is this the kidney?"
	b.SetStation(f)
	if b.ExamRefusal() != Word("exam.finding") {
		t.Errorf("while it is typed: %q", b.ExamRefusal())
	}
	q.pass(time.Second)
	q.run()
	if f, _ = b.Station(); !has(strings.Join(f.Checks, "\n"), "names the answer") || !has(b.ExamRefusal(), "Station 1") {
		t.Fatalf("a question that names its answer: %q, %q", f.Checks, b.ExamRefusal())
	}
	f.Question = before
	b.SetStation(f)
	q.pass(time.Second)
	q.run()
	if why := b.ExamRefusal(); !has(why, "3 pictures were not yet accepted") {
		t.Fatalf("before anyone looked: %q", why)
	}
	b.ReleaseExam(t.TempDir())
	if m := b.Message(); m == nil || m.Title != Word("refused") {
		t.Fatal("an exam nobody looked at was released")
	}
	b.Dismiss()

	// Fresh eyes, by keys alone: one is sent back first.
	b.Key("L", Mods{})
	q.run()
	if i := b.Fresh(); b.Screen() != FreshScreen || !i.Ready || i.N != 1 {
		t.Fatalf("fresh eyes: screen %d, %+v", b.Screen(), i)
	}
	b.Key("Delete", Mods{})
	q.run()
	b.Key("Return", Mods{})
	q.run()
	b.Key("Return", Mods{})
	q.run()
	if b.Screen() != StationsScreen || !has(b.Stations()[0].Words, "sent back") || !has(b.ExamRefusal(), "1 picture") {
		t.Fatalf("one sent back: screen %d, %+v, %q", b.Screen(), b.Stations()[0], b.ExamRefusal())
	}
	b.LookFresh()
	q.run()
	b.Key("Return", Mods{})
	q.run()
	if why := b.ExamRefusal(); why != "" {
		t.Fatalf("all accepted, and still %q", why)
	}
	out := t.TempDir()
	b.ReleaseExam(out)
	q.run()
	if slip := b.ExamDone(); slip == nil {
		t.Fatalf("not released: %+v", b.Message())
	}
	b.Dismiss()
	examFiles(t, out, 3)
	// A change after that must be looked at again; the same exam on another day is the lab's.
	f, _ = b.Station()
	f.Marker = 2
	b.SetStation(f)
	q.run()
	if why := b.ExamRefusal(); !has(why, "1 picture") {
		t.Errorf("a changed station needs no second look: %q", why)
	}
	if rows := b.Exams(); len(rows) != 1 || !rows[0].Chosen || !has(rows[0].Words, "3 stations") {
		t.Errorf("exams of the lab: %+v", rows)
	}
	b.NewExam()
	q.run()
	if len(b.Stations()) != 0 || len(b.Exams()) != 1 {
		t.Errorf("a new exam: %d stations, %+v", len(b.Stations()), b.Exams())
	}
	b.Ask([]string{rowNamed(t, b, "liver").ID}, nil)
	q.run()
	if s := b.Stations(); len(s) != 1 || !has(s[0].Words, Word("exam.shown")) {
		t.Errorf("the picture left before, and the station says %+v", s)
	}
	if !has(strings.Join(append(b.Exam().Notes, b.Exam().Warnings...), " "), "100 %") {
		t.Errorf("share seen before: %q %q", b.Exam().Notes, b.Exam().Warnings)
	}
}

// examFiles looks at what left: pictures, pages, the key with its answers, the QTI package; and no donor code in any.
func examFiles(t *testing.T, dir string, stations int) {
	t.Helper()
	kinds := map[string]int{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		kinds[filepath.Ext(path)]++
		if bytes.Contains(text, []byte("QX-77K")) {
			t.Errorf("%s holds the donor's code", path)
		}
		switch filepath.Ext(path) {
		case ".csv":
			rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
			if err != nil || len(rows) != stations+1 || !strings.Contains(string(text), "spleen") {
				t.Errorf("%s: %v, %d rows", path, err, len(rows))
			}
		case ".zip":
			z, err := zip.NewReader(bytes.NewReader(text), int64(len(text)))
			if err != nil {
				return err
			}
			for _, f := range z.File {
				if f.Name == "imsmanifest.xml" {
					kinds["manifest"]++
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if kinds[".png"] != stations || kinds[".pdf"] != 2 || kinds[".csv"] != 1 || kinds["manifest"] != 1 {
		t.Errorf("files by kind: %v", kinds)
	}
}

// The blueprint: wanted, actual, gaps in words; and what the agreement does not permit is refused by name.
func TestExamFromBlueprint(t *testing.T) {
	b, q, _ := examLab(t)
	b.Show(StationsScreen)
	q.run()
	rows := b.Blueprint()
	can := 0
	for _, r := range rows {
		can += r.There
		if r.Plane != "transverse" || r.Picture != Word("exam.photograph") || r.Wanted != 0 || r.Actual != 0 {
			t.Errorf("%+v", r)
		}
	}
	if can != 6 {
		t.Fatalf("%d labels in the table, 6 can be asked: %+v", can, rows)
	}
	b.SpreadBlueprint(3)
	wanted := 0
	for _, r := range b.Blueprint() {
		wanted += r.Wanted
	}
	if wanted != 3 {
		t.Fatalf("3 spread: %d wanted", wanted)
	}
	b.WantBlueprint(0, 50)
	if gaps := strings.Join(b.BlueprintGaps(), "\n"); !has(gaps, "50 wanted") {
		t.Errorf("more wanted than there is: %q", gaps)
	}
	b.SpreadBlueprint(3)
	b.FillBlueprint()
	q.run()
	quiet(t, b)
	if len(b.Stations()) != 3 {
		t.Fatalf("%d stations of 3 wanted", len(b.Stations()))
	}
	for _, r := range b.Blueprint() {
		if r.Actual != r.Wanted {
			t.Errorf("%+v", r)
		}
	}
	a := b.Agreement()
	a.Permitted = map[atlas.Purpose]bool{atlas.Teaching: true}
	if err := b.SetAgreement(a); err != nil {
		t.Fatal(err)
	}
	if why := b.ExamRefusal(); !has(why, "'in-house exam'") || !has(why, "the donor office") {
		t.Errorf("an exam that is not permitted: %q", why)
	}
	b.ShowRoom()
	q.run()
	if b.Screen() == RoomScreen || b.Message() == nil {
		t.Error("what may not leave was shown to a room")
	}
}

// The exam in a room: keys, time by a clock that setting the machine's clock does not move, no answer at hand.
func TestExamInARoom(t *testing.T) {
	b, q, _ := examLab(t)
	b.Show(StationsScreen)
	q.run()
	b.Ask([]string{rowNamed(t, b, "liver").ID, rowNamed(t, b, "left kidney").ID, rowNamed(t, b, "spleen").ID}, nil)
	q.run()
	b.LookFresh()
	for range 3 {
		q.run()
		b.Key("Return", Mods{})
	}
	q.run()
	b.SetStationTime(45 * time.Second)
	q.run()
	b.Key("P", Mods{})
	q.run()
	quiet(t, b)
	if b.Screen() != RoomScreen || b.Room() != (RoomInfo{N: 1, Of: 3, Left: 45 * time.Second, Question: b.Room().Question}) {
		t.Fatalf("screen %d, %+v", b.Screen(), b.Room())
	}
	if c := b.roomContent(); has(c.low, "liver") || has(c.left+c.right, "liver") || c.picture == nil {
		t.Errorf("the wall shows %q %q %q", c.left, c.right, c.low)
	}
	q.pass(10 * time.Second)
	if b.Room().Left != 45*time.Second {
		t.Error("the time ran before it was started")
	}
	b.Key("Space", Mods{})
	q.pass(20 * time.Second)
	if i := b.Room(); i.Left != 25*time.Second || !i.Running {
		t.Fatalf("after 20 s %+v", i)
	}
	b.Key("Space", Mods{})
	q.pass(time.Minute)
	if i := b.Room(); i.Left != 25*time.Second || i.Running {
		t.Fatalf("stopped for a minute: %+v", i)
	}
	b.Key("Space", Mods{})
	q.pass(26 * time.Second)
	if i := b.Room(); i.N != 2 || i.Left != 44*time.Second {
		t.Fatalf("one second into station 2: %+v", i)
	}
	q.run()
	b.Key("Left", Mods{})
	if i := b.Room(); i.N != 1 || i.Left != 45*time.Second || !i.Running {
		t.Fatalf("back: %+v", i)
	}
	b.Key("Right", Mods{})
	b.Key("Right", Mods{})
	q.pass(50 * time.Second)
	if i := b.Room(); i.N != 3 || !i.Ended || i.Running || i.Left != 0 {
		t.Fatalf("at the end: %+v", i)
	}
	b.Key("F9", Mods{})
	m := painted(b.RoomPane(), 320, 200, 1)
	if m.RGBAAt(160, 100) != b.pal.Surround {
		t.Error("the blank wall shows something")
	}
	b.Key("F9", Mods{})
	b.Key("Escape", Mods{})
	if b.Screen() != StationsScreen {
		t.Errorf("Escape leads to screen %d", b.Screen())
	}
	// What a room has seen counts as seen.
	b.NewExam()
	q.run()
	b.Ask([]string{rowNamed(t, b, "liver").ID}, nil)
	q.run()
	if s := b.Stations(); len(s) != 1 || !has(s[0].Words, Word("exam.shown")) {
		t.Errorf("a room saw it, and the station says %+v", s)
	}
}

// Roles are names that say what stands at hand: a technician's bench has no exams lying about.
func TestRoles(t *testing.T) {
	b, q, _ := examLab(t)
	b.Show(StationsScreen)
	q.run()
	b.SetRole(Technician)
	if b.Screen() != RunScreen || b.Offers(StationsScreen) || b.Offers(PackScreen) || !b.Offers(FaceScreen) {
		t.Errorf("a technician stands on screen %d and is offered exams: %v", b.Screen(), b.Offers(StationsScreen))
	}
	b.Show(StationsScreen)
	if m := b.Message(); b.Screen() != RunScreen || m == nil || m.Title != Word("show.notrole") {
		t.Errorf("screen %d, %+v", b.Screen(), b.Message())
	}
	b.Dismiss()
	b.SetRole(Student) // only a study pack makes a student
	if b.Role() != Technician {
		t.Errorf("role %v", b.Role())
	}
	b.SetRole(Instructor)
	b.Show(StationsScreen)
	if b.Screen() != StationsScreen {
		t.Error("an instructor reaches no exam")
	}
}
