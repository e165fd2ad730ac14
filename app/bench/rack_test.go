package bench

import (
	"bytes"
	"context"
	"database/sql"
	"image"
	"image/color"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// The ledger stamps its lines by the clock of the machine, so the days of these tests are counted from today.
var (
	benchNow = time.Now()
	dueBack  = benchNow.UTC().Truncate(24*time.Hour).AddDate(0, 4, 0)
)

// rackBench opens a lab of one donor with a run of three slabs, due back on dueBack.
func rackBench(t *testing.T, now time.Time) (*Bench, *queue) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "lab")
	lib, err := atlas.Create(dir)
	if err != nil {
		t.Fatal(err)
	}
	if err := lib.AddDonor(atlas.Donor{Code: "SH-31M", Agreement: atlas.Agreement{Reference: "2026/118", Ends: dueBack}}); err != nil {
		t.Fatal(err)
	}
	run := section.Run{Donor: "SH-31M", Part: "trunk", Plane: section.Transverse, First: section.Superior}
	for n := range 3 {
		run.Slabs = append(run.Slabs, section.Slab{Number: n + 1, Thickness: [3]float64{20, 20, 20}, Kerf: 1.2})
	}
	if _, err := lib.SaveRun(run); err != nil {
		t.Fatal(err)
	}
	if err := lib.Close(); err != nil {
		t.Fatal(err)
	}
	q := &queue{now: now}
	b := New(q, nil, Options{Author: "A. Okafor", DataDir: t.TempDir(), Now: func() time.Time { return q.now }})
	if err := b.OpenLab(dir); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Quit() })
	b.Show(RackScreen)
	return b, q
}

// enterForm begins a deed, fills its form and enters it; it fails the test when the form stays.
func enterForm(t *testing.T, b *Bench, id string, values ...string) {
	t.Helper()
	if problem := tryForm(b, id, values...); problem != "" {
		t.Fatalf("%s: %s", id, problem)
	}
}

func tryForm(b *Bench, id string, values ...string) string {
	b.BeginDeed(id)
	for i := 0; i+1 < len(values); i += 2 {
		b.SetRackField(values[i], values[i+1])
	}
	b.SubmitRackForm()
	if f := b.RackForm(); f != nil {
		problem := f.Problem
		b.LeaveRackForm()
		return problem
	}
	return ""
}

// find chooses the piece of a name.
func find(t *testing.T, b *Bench, name string) atlas.Piece {
	t.Helper()
	for _, p := range b.rack.custody.Pieces("") {
		if p.Name == name {
			b.ChooseItem(p.Code)
			return p
		}
	}
	t.Fatalf("no piece is named %q", name)
	return atlas.Piece{}
}

func offers(b *Bench, id string) bool {
	for _, d := range b.Rack().Deeds {
		if d.ID == id {
			return true
		}
	}
	return false
}

// A donor from arrival to return: taking in, moving, lending, taking back, a look, splitting, trimming, a correction,
// weighing, blocks in plain words, marking ready, the return.
func TestCustodyFromArrivalToReturn(t *testing.T) {
	b, _ := rackBench(t, benchNow)
	enterForm(t, b, "newshelf", "name", "shelf A", "room", "cold room")
	enterForm(t, b, "newbox", "name", "box 1", "shelf", "shelf A")
	enterForm(t, b, "newbox", "name", "box 2", "shelf", "shelf A", "kept", strings.Split(Word("field.kept.options"), "\n")[1])
	if p := tryForm(b, "takein", "masses", "1000 1100", "place", "box 1"); !strings.Contains(p, "2 masses") {
		t.Errorf("two masses for three slabs: %q", p)
	}
	enterForm(t, b, "takein", "masses", "1000 1100,5 1200", "trimmings", "50", "debris", "0", "place", "box 1")
	if got := len(b.rack.custody.Pieces("SH-31M")); got != 5 {
		t.Fatalf("%d pieces came in, 3 slabs and 2 pots did", got)
	}
	slab := find(t, b, "trunk, slab 2")
	if slab.Mass != 1100.5 || b.rack.custody.Whereabouts(slab) != "box 1 on shelf A" {
		t.Errorf("slab 2 came in as %+v", slab)
	}

	// The place can be chosen on the rack while the form lies beside it.
	b.BeginDeed("move")
	for _, h := range b.rack.custody.Holders() {
		if h.Name == "box 2" {
			b.ChooseItem(h.Code)
		}
	}
	if got := b.RackForm().value("place"); got != "box 2" {
		t.Errorf("a click on box 2 gave the place %q", got)
	}
	b.SubmitRackForm()
	if b.RackForm() == nil || !strings.Contains(b.RackForm().Problem, "Say why") {
		t.Error("a move without a reason was entered")
	}
	b.SetRackField("why", "for teaching")
	b.SubmitRackForm()
	if b.RackForm() != nil || !strings.Contains(b.Rack().Said, "box 2 on shelf A") {
		t.Errorf("after the move: %q", b.Rack().Said)
	}

	find(t, b, "trunk, slab 2")
	if p := tryForm(b, "lend", "borrower", "Room 2", "until", dueBack.AddDate(0, 0, 1).Format(time.DateOnly), "why", "teaching"); !strings.Contains(p, "past the donor's due date") {
		t.Errorf("a loan past the due day: %q", p)
	}
	if p := tryForm(b, "lend", "borrower", "Room 2", "until", "next week", "why", "teaching"); !strings.Contains(p, "not a day") {
		t.Errorf("a day in words: %q", p)
	}
	b.rack.due = nil
	enterForm(t, b, "lend", "borrower", "Room 2", "until", b.today().AddDate(0, 0, 3).Format(time.DateOnly), "why", "teaching")
	if offers(b, "move") || !offers(b, "back") || offers(b, "lend") {
		t.Error("on loan it can be taken back and nothing else")
	}
	if w := b.Rack().Warn; !strings.Contains(w, "Room 2") || !strings.Contains(w, "3 days") {
		t.Errorf("due in 3 days it says %q", w)
	}
	enterForm(t, b, "back", "place", "box 1")
	enterForm(t, b, "look", "mould", strings.Split(Word("field.mould.seen"), "\n")[2], "why", "grey spot at the edge")
	if facts := strings.Join(b.Rack().Facts, "\n"); !strings.Contains(facts, "mould seen") {
		t.Errorf("after the look: %s", facts)
	}
	if p := tryForm(b, "look"); !strings.Contains(p, "Say what was seen") {
		t.Errorf("a look at nothing: %q", p)
	}

	if p := tryForm(b, "split", "first.mass", "500", "second.mass", "700", "why", "dissection"); !strings.Contains(p, "weigh") {
		t.Errorf("parts that weigh more than the whole: %q", p)
	}
	enterForm(t, b, "split", "first.mass", "500", "second.mass", "590", "lost", "10.5", "why", "dissection")
	find(t, b, "trunk, slab 1")
	enterForm(t, b, "trim", "mass", "20", "why", "cleaned")

	// A correction is a line of its own.
	find(t, b, "trunk, slab 3")
	enterForm(t, b, "move", "place", "box 2", "why", "wrong box")
	b.ShowHistory()
	line := b.Ledger().Line
	b.BeginDeed("undo")
	if b.RackForm().value("line") == "0" || b.RackForm().value("line") != strings.Split(b.Ledger().Facts[0], ",")[0][len("Line "):] {
		t.Errorf("line %d was chosen, the form says %q", line, b.RackForm().value("line"))
	}
	right := b.RackForm().value("line")
	b.SetRackField("line", right+"x")
	b.SetRackField("why", "slip of the hand")
	if b.SubmitRackForm(); b.RackForm() == nil || !strings.Contains(b.RackForm().Problem, "not the number of a line") {
		t.Fatal("half a number took a line back")
	}
	b.SetRackField("line", right)
	b.SubmitRackForm()
	b.Back()
	if p := find(t, b, "trunk, slab 3"); b.rack.custody.Whereabouts(p) != "box 1 on shelf A" {
		t.Errorf("after the correction slab 3 is in %s", b.rack.custody.Whereabouts(p))
	}

	b.ChooseItem("")
	if p := tryForm(b, "ready"); !strings.Contains(p, "has no mass") {
		t.Errorf("a pot without mass: %q", p)
	}
	if facts := strings.Join(b.Rack().Facts, "\n"); !strings.Contains(facts, "saw debris, trunk has no mass") {
		t.Errorf("the donor's slip does not name the pot: %s", facts)
	}
	find(t, b, "saw debris, trunk")
	enterForm(t, b, "weigh", "mass", "80")
	b.ChooseItem("")
	enterForm(t, b, "hold", "why", "family asked")
	if p := tryForm(b, "ready"); !strings.Contains(p, "on hold") {
		t.Errorf("on hold: %q", p)
	}
	enterForm(t, b, "lift", "why", "answered")
	if facts := strings.Join(b.Rack().Facts, "\n"); !strings.Contains(facts, Word("rack.complete")) {
		t.Errorf("complete, the slip says %s", facts)
	}
	if offers(b, "return") {
		t.Error("handing back is offered before the donor is marked ready")
	}
	enterForm(t, b, "ready")
	b.BeginDeed("returnlist")
	enterForm(t, b, "return")
	if facts := strings.Join(b.Rack().Facts, "\n"); !strings.Contains(facts, "withdrawn from hand-outs") {
		t.Errorf("after the return: %s", facts)
	}
	words, _ := b.DueWords()
	if !strings.HasPrefix(words, "Everything went back on") {
		t.Errorf("after the return the run says %q", words)
	}
	if err := b.keeper().CheckLedger(context.Background()); err != nil {
		t.Error(err)
	}
	b.Show(LedgerScreen)
	if l := b.Ledger(); l.Broken || !strings.Contains(l.Chain, b.rack.custody.Seal()) {
		t.Errorf("the chain says %q", l.Chain)
	}
}

// A scanner types a code and Return; slips are explained (ISO/IEC 7064 MOD 37-2 finds them); words find, too.
func TestFindByCodeOrWords(t *testing.T) {
	b, _ := rackBench(t, benchNow)
	enterForm(t, b, "takein", "place", "table")
	p := find(t, b, "trunk, slab 3")
	b.ChooseItem("")
	b.FindItem(strings.ToLower(p.Code[:3] + " " + p.Code[3:]))
	if b.rack.chosen != p.Code {
		t.Errorf("%s was not found: %q", p.Code, b.Rack().Said)
	}
	i := 0
	for ; p.Code[i] == p.Code[i+1]; i++ {
	}
	swapped := []byte(p.Code)
	swapped[i], swapped[i+1] = swapped[i+1], swapped[i]
	b.FindItem(string(swapped))
	if said := b.Rack().Said; !b.Rack().Refuse || !strings.Contains(said, "swapped") || !strings.Contains(said, p.Code) {
		t.Errorf("swapped neighbours: %q", said)
	}
	b.FindItem("slab")
	if len(b.Rack().Hits) != 3 {
		t.Errorf("%d slabs by words", len(b.Rack().Hits))
	}
	b.FindItem("slab 1")
	if got, _ := b.rack.piece(); got.Slab != 1 {
		t.Errorf("by its words %+v", got)
	}
}

// Overdue shows on opening, and the reminders reached are listed; a later day needs a new reference.
func TestDueDaysAreSaid(t *testing.T) {
	b, q := rackBench(t, benchNow)
	enterForm(t, b, "takein", "place", "table")
	if b.Message() != nil {
		t.Errorf("nothing is overdue, yet it says %q", b.Message().Title)
	}
	dir := b.Lab().Dir
	if err := b.CloseLab(); err != nil {
		t.Fatal(err)
	}
	y, month, day := dueBack.AddDate(0, 0, 2).Date()
	q.now = time.Date(y, month, day, 23, 30, 0, 0, time.FixedZone("", 13*3600))
	if err := b.OpenLab(dir); err != nil {
		t.Fatal(err)
	}
	m := b.Message()
	if m == nil || !strings.Contains(m.Title, "overdue") || !strings.Contains(m.Hint, "overdue by 2 days") {
		t.Fatalf("two days late the opening says %+v", m)
	}
	b.Choose(0)
	if b.Screen() != RackScreen {
		t.Error("the message does not lead to the rack")
	}
	later := dueBack.AddDate(0, 9, 0)
	if p := tryForm(b, "extend", "ends", later.Format(time.DateOnly)); p == "" {
		t.Error("a later day under the same reference was taken")
	}
	enterForm(t, b, "extend", "ends", later.Format(time.DateOnly), "reference", "2027/003")
	if words, warn := b.DueWords(); warn || !strings.Contains(words, later.Format("2 January 2006")) {
		t.Errorf("extended, it says %q", words)
	}
	enterForm(t, b, "rules", "days.mould", "30", "card", "Our hoist is in bay 2.")
	if b.OwnCaution() != "Our hoist is in bay 2." {
		t.Error("what the lab adds is lost")
	}
	looks := 0
	for _, d := range b.Rack().Due {
		if strings.Contains(d.Words, "mould") {
			looks++
		}
	}
	if looks != 3 {
		t.Errorf("%d looks fall due, of 3 slabs never looked at for months", looks)
	}
	if p := tryForm(b, "rules", "days.mould", "often"); !strings.Contains(p, "number of days") {
		t.Errorf("an interval in words: %q", p)
	}
}

// Papers are written whole into the lab's folder; copies are noted with their place and day.
func TestPapersAndCopies(t *testing.T) {
	b, q := rackBench(t, benchNow)
	enterForm(t, b, "takein", "masses", "1000 1100 1200", "place", "table")
	for id, begins := range map[string]string{"alltags": "%PDF-", "returnlist": "%PDF-", "calendar": "BEGIN:VCALENDAR\r\n"} {
		b.BeginDeed(id)
		_, path, _ := strings.Cut(b.Rack().Said, ": ")
		got, err := os.ReadFile(path)
		if err != nil || !bytes.HasPrefix(got, []byte(begins)) {
			t.Errorf("%s: %q, %v", id, b.Rack().Said, err)
		}
	}
	if !strings.Contains(b.Rack().Backup, "never copied") {
		t.Errorf("before any copy: %q", b.Rack().Backup)
	}
	to := filepath.Join(t.TempDir(), "копия")
	enterForm(t, b, "copy", "folder", to)
	q.run()
	if !strings.Contains(b.Rack().Backup, to) {
		t.Errorf("after the copy: %q", b.Rack().Backup)
	}
	again, err := atlas.Open(to, atlas.ReadOnly)
	if err != nil {
		t.Fatal(err)
	}
	if c, err := again.Custody(context.Background()); err != nil || len(c.Pieces("SH-31M")) != 3 {
		t.Errorf("the copy holds %d pieces, %v", len(c.Pieces("SH-31M")), err)
	}
	again.Close()

	// One step back to the catalogue before a line.
	b.BeginDeed("backup")
	q.run()
	find(t, b, "trunk, slab 1")
	enterForm(t, b, "move", "place", "sink", "why", "rinsed")
	b.BeginDeed("restore")
	options := b.RackForm().Fields[0].Options
	b.LeaveRackForm()
	enterForm(t, b, "restore", "copyof", options[0])
	if p := find(t, b, "trunk, slab 1"); p.Place != "table" {
		t.Errorf("in the catalogue before the move slab 1 lies in %q", p.Place)
	}
	b.BeginDeed("verify")
	q.run()
	if f := b.Rack().Faults; len(f) != 1 || f[0] != Word("rack.sound") {
		t.Errorf("a sound lab: %v", f)
	}
}

// An altered line is named, and nothing else is shown as if it were sound.
func TestBrokenLedgerIsSaid(t *testing.T) {
	b, _ := rackBench(t, benchNow)
	enterForm(t, b, "takein", "place", "table")
	dir := b.Lab().Dir
	if err := b.CloseLab(); err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("sqlite", filepath.Join(dir, "catalogue.db"))
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range []string{`DROP TRIGGER ledger_fixed`, `UPDATE ledger SET text = replace(text, 'table', 'tables') WHERE line = 2`} {
		if _, err := db.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	db.Close()
	if err := b.OpenLab(dir); err != nil {
		t.Fatal(err)
	}
	if m := b.Message(); m == nil || !strings.Contains(m.Hint, "ine 2") {
		t.Fatalf("line 2 was altered; the opening says %+v", m)
	}
	b.Choose(0)
	if r := b.Rack(); !strings.Contains(r.Broken, "ine 2") || len(r.Due) != 0 {
		t.Errorf("the rack says %+v", r)
	}
	b.Show(LedgerScreen)
	if l := b.Ledger(); !l.Broken || !strings.Contains(l.Chain, "ine 2") {
		t.Errorf("the ledger says %q", l.Chain)
	}
}

// The keyboard alone walks along the rack and opens a container; what is overdue is hatched, so that it is seen without colour.
func TestRackPane(t *testing.T) {
	b, q := rackBench(t, benchNow)
	enterForm(t, b, "newshelf", "name", "shelf A")
	enterForm(t, b, "newbox", "name", "box 1", "shelf", "shelf A")
	enterForm(t, b, "takein", "place", "box 1")
	p := b.RackPane()
	m := image.NewRGBA(image.Rect(0, 0, 800, 600))
	paint := func() *image.RGBA {
		m = image.NewRGBA(m.Rect)
		p.Resize(800, 600, 1)
		p.Paint(m)
		return m
	}
	b.ChooseItem("")
	b.rack.open = ""
	paint()
	b.Key("Right", Mods{})
	b.Key("Right", Mods{})
	if h, _ := b.rack.custody.Holder(b.rack.chosen); h.Name != "box 1" {
		t.Fatalf("two steps along the rack chose %q", b.rack.chosen)
	}
	b.Key("Return", Mods{})
	paint()
	b.Key("Down", Mods{})
	if x, ok := b.rack.piece(); !ok || x.Slab != 1 {
		t.Errorf("down from the open box is %q", b.rack.chosen)
	}

	find(t, b, "trunk, slab 2")
	calm := count4(paint(), b.pal.Warn)
	q.now = q.now.AddDate(0, 0, 20)
	enterForm(t, b, "lend", "borrower", "Room 2", "until", time.Now().AddDate(0, 0, 3).Format(time.DateOnly), "why", "teaching")
	if late := count4(paint(), b.pal.Warn); late < calm+10 {
		t.Errorf("a loan overdue by 17 days is painted with %d warning pixels, before %d", late, calm)
	}

	show(t, "rack-overdue", paint())

	// A click on a piece chooses it.
	var want spot
	for _, s := range b.shelves.spots {
		if s.lent {
			want = s
		}
	}
	b.ChooseItem("")
	at := geom.Px{X: float64(want.at.Min.X + 5), Y: float64(want.at.Min.Y + 5 - b.shelves.top)}
	p.Down(at, Primary, Mods{})
	p.Up(at)
	if b.rack.chosen != want.code || want.code == "" {
		t.Errorf("a click on %q chose %q", want.code, b.rack.chosen)
	}
}

func count4(m *image.RGBA, c color.RGBA) (n int) {
	for y := range m.Rect.Dy() {
		for x := range m.Rect.Dx() {
			if m.RGBAAt(x, y) == c {
				n++
			}
		}
	}
	return n
}

// A student reaches no place of custody.
func TestStudentsHaveNoRack(t *testing.T) {
	for _, s := range []Screen{RackScreen, LedgerScreen} {
		if Student.mayShow(s) {
			t.Errorf("a student may go to screen %d", s)
		}
		if !Technician.mayShow(s) || !Instructor.mayShow(s) {
			t.Errorf("the lab may not go to screen %d", s)
		}
	}
}
