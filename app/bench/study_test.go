package bench

import (
	"image"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sectionary/atlas/drill"
	"sectionary/slices/geom"
)

// madePack makes a study pack of the exam lab's faces and returns its path.
func madePack(t *testing.T, b *Bench, q *queue) string {
	t.Helper()
	b.Show(PackScreen)
	if why := b.PackRefusal(); why != "" {
		t.Fatal(why)
	}
	out := t.TempDir()
	b.MakePack(out)
	q.run()
	if m := b.Message(); m == nil || m.Title != Word("pack.done") {
		t.Fatalf("not made: %+v", m)
	}
	b.Dismiss()
	files, err := filepath.Glob(filepath.Join(out, "*.zip"))
	if err != nil || len(files) != 1 || !has(b.PackDone(), files[0]) {
		t.Fatalf("%v %v, said %q", err, files, b.PackDone())
	}
	return files[0]
}

func TestPackNamesItsRefusals(t *testing.T) {
	b, _, _ := examLab(t)
	b.Show(PackScreen)
	d := b.Pack()
	if len(d.Faces) != 2 || !d.SignedOnly || !has(b.PackWords(), "4 March 2031") {
		t.Errorf("a new pack: %+v, %q", d, b.PackWords())
	}
	d.Faces = nil
	b.SetPack(d)
	if why := b.PackRefusal(); why != Word("refuse.nofaces") {
		t.Errorf("no faces: %q", why)
	}
	b.TogglePackFace(b.Run().Faces()[1])
	if why := b.PackRefusal(); !has(why, "lower face") {
		t.Errorf("a face without a photograph: %q", why)
	}
	a := b.Agreement()
	a.Permitted = nil
	if err := b.SetAgreement(a); err != nil {
		t.Fatal(err)
	}
	if why := b.PackRefusal(); !has(why, "'in-house teaching'") || !has(why, "the donor office") {
		t.Errorf("not permitted: %q", why)
	}
}

// A student reaches no donor page, no ledger and no exam item: every command of the table and every key is tried.
func TestStudentReachesNothingOfTheLab(t *testing.T) {
	b, q, dir := examLab(t)
	path := madePack(t, b, q)
	b.OpenStudy(path)
	quiet(t, b)
	if b.Role() != Student || b.Screen() != StudyScreen || b.Lab().Open {
		t.Fatalf("role %v, screen %d, lab %+v", b.Role(), b.Screen(), b.Lab())
	}
	check := func(what string) {
		t.Helper()
		if b.lab.lib != nil || b.Lab().Open || len(b.Runs()) > 0 || b.Run().ID != "" || len(b.Agreement().Permitted) > 0 || len(b.Exams())+len(b.Stations()) > 0 {
			t.Fatalf("%s reaches the lab", what)
		}
		if b.study.open() && !studyScreens[b.Screen()] {
			t.Fatalf("%s leads to screen %d", what, b.Screen())
		}
	}
	again := func() {
		for b.Message() != nil {
			b.Dismiss()
		}
		if b.blank {
			b.Blank()
		}
		if !b.study.open() {
			b.OpenStudy(path)
		}
		b.Show(StudyScreen)
	}
	for _, on := range []Screen{StudyScreen, DrillScreen} {
		for _, c := range commandTable {
			again()
			b.Show(on)
			b.Do(c.id)
			q.run()
			check("command " + c.id)
			for _, m := range []Mods{{}, {Shift: true}, {Ctrl: true}, {Ctrl: true, Shift: true}} {
				again()
				b.Show(on)
				b.Key(strings.TrimPrefix(c.key, "Ctrl+"), m)
				q.run()
				check("key " + c.key)
			}
		}
		for key := ' '; key <= '~'; key++ {
			again()
			b.Show(on)
			b.Key(string(key), Mods{})
			check("key " + string(key))
		}
	}
	again()
	for s := StartScreen; s <= DrillScreen; s++ {
		b.Show(s)
		if s != StartScreen {
			check("Show")
		}
		if b.Offers(s) != studyScreens[s] {
			t.Errorf("screen %d offered: %v", s, b.Offers(s))
		}
		again()
	}
	// Nor does a lab open that lies beside the pack, by whatever way a lab is opened.
	if err := b.OpenLab(dir); err == nil {
		t.Error("a student opened the lab")
	}
	if err := b.OpenLabReadOnly(dir); err == nil {
		t.Error("a student opened the lab for reading")
	}
	b.DropPaths([]string{dir})
	b.MakePractice()
	q.run()
	check("dropping a folder")
	again()
	b.Do("study.close")
	if b.Role() == Student || b.Screen() != StartScreen {
		t.Errorf("after closing: %v, screen %d", b.Role(), b.Screen())
	}
	if err := b.OpenLab(dir); err != nil {
		t.Errorf("the lab after the pack: %v", err)
	}
}

func TestStudyPackEndsWithTheAgreement(t *testing.T) {
	b, q, _ := examLab(t)
	path := madePack(t, b, q)
	q.now = time.Date(2031, 3, 5, 9, 0, 0, 0, time.UTC)
	b.OpenStudy(path)
	if m := b.Message(); b.study.open() || m == nil || m.Title != Word("err.packended") {
		t.Errorf("a day late: open %v, %+v", b.study.open(), b.Message())
	}
	b.Dismiss()
	b.OpenStudy(filepath.Join(t.TempDir(), "none.zip"))
	if b.Message() == nil {
		t.Error("a pack that is not there opened")
	}
}

// A pack dropped on a bench without a lab opens as it does when chosen; there is no lab a scan could go to.
func TestStudyPackDropped(t *testing.T) {
	b, q, _ := examLab(t)
	path := madePack(t, b, q)
	if err := b.CloseLab(); err != nil {
		t.Fatal(err)
	}
	b.DropPaths([]string{path})
	quiet(t, b)
	if b.Role() != Student || b.Screen() != StudyScreen {
		t.Errorf("dropped: role %v, screen %d", b.Role(), b.Screen())
	}
}

// Each kind of question is answered as a student would, rightly and wrongly; what was answered stands in the student's
// own folder and nowhere else.
func TestDrill(t *testing.T) {
	b, q, dir := examLab(t)
	path := madePack(t, b, q)
	b.OpenStudy(path)
	quiet(t, b)
	b.Key("N", Mods{})
	if i := b.Study(); !i.Names || !has(i.Known, "liver") || !has(i.Lead, "4 March 2031") || len(i.Faces) != 2 {
		t.Fatalf("%+v", i)
	}
	b.Key("Down", Mods{})
	if b.Study().At != 1 {
		t.Error("Down takes no next face")
	}
	show(t, "study", painted(b.StudyPane(), 700, 600, 1))
	b.Key("D", Mods{})
	if b.Screen() != DrillScreen {
		t.Fatalf("screen %d, %+v", b.Screen(), b.Message())
	}
	painted(b.DrillPane(), 700, 600, 1)
	painted(b.DrillRuler(), 200, 600, 1)
	kinds, wrong := map[drill.Ask]int{}, 0
	for n := 0; n < 400; n++ {
		d := &b.study.drill
		if !d.asking {
			b.DrillUnseen()
			if !d.asking {
				break
			}
		}
		i := b.Drill()
		if i.Answered || has(i.Question, "[") || i.Question == "" {
			t.Fatalf("%+v", i)
		}
		ask := d.q.Ask
		rightly := kinds[ask]%2 == 0
		kinds[ask]++
		f, run, _ := b.drillFace()
		before := painted(b.DrillRuler(), 200, 600, 1)
		answerAs(b, f, run, rightly)
		i = b.Drill()
		if !i.Answered || i.Right != rightly || has(i.Result+i.Reveal, "[") {
			t.Fatalf("%s, meant to be %v: %+v", ask, rightly, i)
		}
		if !rightly {
			wrong++
		}
		if after := painted(b.DrillRuler(), 200, 600, 1); string(after.Pix) == string(before.Pix) {
			t.Errorf("%s: the ruler shows nothing after the answer", ask)
		}
		b.Key("Return", Mods{})
	}
	for _, a := range []drill.Ask{drill.AskName, drill.AskSide, drill.AskPoint, drill.AskFace, drill.AskOnRun} {
		if kinds[a] == 0 {
			t.Errorf("%s was asked %d times", a, kinds[a])
		}
	}
	if i := b.Drill(); !i.Nothing || !has(i.Question, "Nothing due") || wrong == 0 {
		t.Errorf("at the end: %+v", i)
	}
	show(t, "drill-none", painted(b.DrillPane(), 700, 600, 1))
	if _, err := os.Stat(filepath.Join(b.o.DataDir, drill.ProgressFile)); err != nil {
		t.Errorf("no progress in the student's folder: %v", err)
	}
	for _, root := range []string{dir, filepath.Dir(path)} {
		_ = filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
			if err == nil && has(d.Name(), "progress") {
				t.Errorf("progress stands in %s", p)
			}
			return nil
		})
	}
	// What a student hands over tells a teacher how the class placed faces; results of another pack are refused by name.
	out := t.TempDir()
	for range 2 {
		if err := b.HandOverResults(out); err != nil {
			t.Fatal(err)
		}
		b.Dismiss()
	}
	files, _ := filepath.Glob(filepath.Join(out, "*.json"))
	text, err := os.ReadFile(files[0])
	if err != nil || len(files) != 2 || has(string(text), b.author) || has(string(text), "2026") {
		t.Fatalf("%v, %d files: %.300s", err, len(files), text)
	}
	if err := b.ReadClass(files[:1]); err != nil || b.Study().Spread == "" {
		t.Errorf("%v, spread %q", err, b.Study().Spread)
	}
	b.Dismiss()
	other := filepath.Join(out, "other.json")
	if err := os.WriteFile(other, []byte(strings.Replace(string(text), b.study.pack.Code, "ANOTHER1", 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := b.ReadClass([]string{other}); err == nil || !has(err.Error(), Word("results.other")) {
		t.Errorf("results of another pack: %v", err)
	}
	// The next day the missed ones are due first; they were never lost.
	q.now = q.now.Add(24 * time.Hour)
	b.CloseStudy()
	b.OpenStudy(path)
	b.Show(DrillScreen)
	if st := b.study.pack.Standing(b.study.progress); st.Due == 0 || !b.study.drill.asking {
		t.Errorf("a day later %+v", st)
	}
}

// answerAs answers the question in hand by the means it asks for, rightly or not.
func answerAs(b *Bench, f drill.Face, run drill.Run, rightly bool) {
	d := &b.study.drill
	p := b.study.pack
	switch d.q.Ask {
	case drill.AskName:
		for _, x := range f.Structures {
			if x.Tip == d.q.Marker && rightly {
				b.AnswerDrill(p.Words(x))
				return
			}
		}
		b.AnswerDrill("femur")
	case drill.AskSide:
		for _, x := range f.Structures {
			if x.Tip == d.q.Marker {
				key := "1" // right
				if (x.Side.String() == "left") == rightly {
					key = "2"
				}
				b.Key(key, Mods{})
				return
			}
		}
	case drill.AskPoint:
		at := geom.Px{X: 1, Y: 1}
		for _, x := range f.Structures {
			if rightly && p.Words(x) == d.q.Structure {
				at = x.Tip
			}
		}
		b.drillPane.lay(d.q.Picture, mustPicture(b, d.q.Picture))
		clickAtPane(b.DrillPane(), b.drillPane.view.Device(at))
		b.Key("Return", Mods{})
	case drill.AskFace:
		for i, g := range d.q.Facings {
			if (g == f.Facing) == rightly {
				b.Key(string(rune('1'+i)), Mods{})
				return
			}
		}
	case drill.AskLevel:
		b.AnswerDrill(map[bool]string{true: f.Vertebra, false: "C1"}[rightly])
	case drill.AskBelow:
		for _, g := range p.Faces {
			for _, x := range g.Structures {
				if rightly && d.q.Marked && g.Slab == f.Slab+1 {
					if s, ok := structureAt(f, d.q.Marker); ok && s.Below == x.Code {
						b.AnswerDrill(p.Words(x))
						return
					}
				}
			}
		}
		b.AnswerDrill("femur")
	case drill.AskOnRun:
		at := f.Depth
		if !rightly {
			at = 0
			if f.Depth < run.Extent/2 {
				at = run.Extent
			}
		}
		b.drillRuler.Down(geom.Px{X: 60, Y: b.drillRuler.place(run, at)}, Primary, Mods{})
		b.drillRuler.Up(geom.Px{})
		b.Key("Return", Mods{})
	}
}

func structureAt(f drill.Face, tip geom.Px) (drill.Structure, bool) {
	for _, x := range f.Structures {
		if x.Tip == tip {
			return x, true
		}
	}
	return drill.Structure{}, false
}

func clickAtPane(p Pane, at geom.Px) {
	p.Down(at, Primary, Mods{})
	p.Up(at)
}

func mustPicture(b *Bench, name string) image.Point {
	m, _ := b.packPicture(name)
	return m.Size()
}
