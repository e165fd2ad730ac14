package drill

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

var monday = time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)

func ring(x, y, r float64) annotate.Polygon {
	return annotate.Polygon{Outer: []geom.Px{{X: x - r, Y: y - r}, {X: x + r, Y: y - r}, {X: x + r, Y: y + r}, {X: x - r, Y: y + r}}}
}

// invented is a pack of six slabs of 25 mm with vertebrae, three structures on each face, scan cuts on every second.
func invented() *Pack {
	m := Manifest{Format: Format, Version: Version, Code: "TESTPACK", Statement: NotForDiagnosis, Made: "2026-03-01", Expires: "2026-12-31", Units: PackUnits,
		Files: map[string]string{}}
	run := Run{Code: "A", Plane: section.Transverse, First: section.Superior, Extent: 150}
	names := []string{"liver", "kidney", "spleen", "stomach", "pancreas", "aorta", "psoas major", "gallbladder"}
	for i, n := range names {
		m.Terms = append(m.Terms, annotate.Term{ID: annotate.TermID(fmt.Sprintf("T:%d", i)), Name: n, Paired: n == "kidney" || n == "psoas major", Kind: annotate.Kinds()[i%3], Region: "abdomen"})
	}
	for i := range 6 {
		top := float64(i) * 25
		run.Slabs = append(run.Slabs, Slab{i + 1, top, top + 24})
		f := Face{Code: fmt.Sprintf("F%d", i), Run: "A", Slab: i + 1, Facing: section.Superior, Depth: top, Picture: fmt.Sprintf("faces/F%d.jpg", i), Width: 200, Height: 150, PerPixel: 2}
		m.Files[f.Picture] = strings.Repeat("0", 64)
		if i%2 == 0 {
			f.Cuts = []Cut{{Picture: fmt.Sprintf("cuts/F%d.png", i), Modality: "CT"}}
			m.Files[f.Cuts[0].Picture] = strings.Repeat("0", 64)
		}
		for k := range 3 {
			t := m.Terms[(i+k)%len(names)]
			side := annotate.NoSide
			if t.Paired {
				side = []annotate.Side{annotate.Left, annotate.Right}[i%2]
			}
			f.Structures = append(f.Structures, Structure{Code: fmt.Sprintf("S%d", k), Term: t.ID, Side: side,
				Regions: []annotate.Polygon{ring(40+50*float64(k), 60, 15)}, Tip: geom.Px{X: 40 + 50*float64(k), Y: 60}, Signed: true})
		}
		run.Marks = append(run.Marks, Mark{vertebrae[vertebraIndex("T10")+i], top + 12})
		m.Faces = append(m.Faces, f)
	}
	m.Runs = []Run{run}
	for i := range m.Faces {
		m.Faces[i].Vertebra = run.VertebraAt(m.Faces[i].Depth)
	}
	return &Pack{Manifest: m, Today: monday, close: func() error { return nil }}
}

func TestInventedPackHangsTogether(t *testing.T) {
	if err := invented().Check(); err != nil {
		t.Fatal(err)
	}
}

// answerTo gives the right answer to a question.
func answerTo(p *Pack, s *Sitting, q Question) Answer {
	f, _ := p.Face(q.Face)
	x, _ := p.structureOf(s.shown)
	switch q.Ask {
	case AskName:
		return Answer{Text: p.Words(x)}
	case AskSide:
		return Answer{Side: x.Side}
	case AskPoint:
		return Answer{At: x.Tip}
	case AskFace:
		return Answer{Facing: f.Facing}
	case AskLevel:
		return Answer{Text: f.Vertebra}
	case AskBelow:
		return Answer{Text: p.Words(p.comesIntoView(f)[0])}
	}
	return Answer{Depth: f.Depth}
}

// The worked values of Leitner 1972 and of Settles and Meeder 2016 (ACL P16-1174), in the table of published values: items.json,
// leitner and hlr, tolerance 1e-9.
func TestSpacingPublishedValues(t *testing.T) {
	box := 0
	var boxes []int
	for _, right := range []bool{true, true, false, true, true, true, true} {
		box = NextBox(box, right)
		boxes = append(boxes, box)
	}
	if fmt.Sprint(boxes) != "[2 3 1 2 3 4 5]" || fmt.Sprint(Boxes) != "[1 2 4 8 16]" {
		t.Errorf("boxes %v of %v", boxes, Boxes)
	}
	if p := Recall(3, 4); math.Abs(p-0.594603558) > 1e-9 {
		t.Errorf("recall %.9f", p)
	}
	if d := DaysUntil(0.9, 4); math.Abs(d-0.608012374) > 1e-9 {
		t.Errorf("next due %.9f", d)
	}
}

// EX8 over thirty days: what is due is what the boxes say, missed ones come back sooner, nothing starves.
func TestEX8ThirtyDays(t *testing.T) {
	p := invented()
	pr := NewProgress()
	asked := map[string][]int{}
	wrongOn := map[string]int{}
	for day := range 30 {
		p.Today = monday.AddDate(0, 0, day)
		before := p.Standing(pr)
		due := 0 // counted again, by the boxes alone
		for _, s := range pr.Cards {
			last, _ := time.Parse(Day, s.Last)
			if last.AddDate(0, 0, []int{0, 1, 2, 4, 8, 16}[s.Box]).Format(Day) <= p.Today.Format(Day) {
				due++
			}
		}
		if before.Due != due {
			t.Errorf("day %d: %d due, by the boxes %d", day, before.Due, due)
		}
		s := NewSitting(p, pr, Options{Seed: 7, Most: 15})
		first := map[string]bool{}
		for n := 0; ; n++ {
			q, ok := s.Next()
			if !ok {
				break
			}
			if n > 200 {
				t.Fatal("a sitting without end")
			}
			a := answerTo(p, s, q)
			if !q.Again {
				if first[q.Key] {
					t.Errorf("day %d: %s twice in a sitting", day, q.Key)
				}
				first[q.Key] = true
				asked[q.Key] = append(asked[q.Key], day)
				if len(asked[q.Key]) == 2 && len(q.Key)%2 == 0 { // the second time some are missed
					a = Answer{Skip: true}
					wrongOn[q.Key] = day
				}
			}
			r, err := s.Answer(a)
			if err != nil || r.Right == a.Skip {
				t.Fatalf("%s: right %v for %+v: %s %v", q.Key, r.Right, a, r.Reason, err)
			}
		}
		pr = s.Progress()
	}
	all := p.cards(nil)
	missed, known, nm, nk := 0, 0, 0, 0
	for _, c := range all {
		days := asked[c.key]
		if len(days) == 0 {
			t.Errorf("%s was never asked in 30 days", c.key)
			continue
		}
		for i := 2; i < len(days); i++ {
			gap := days[i] - days[i-1]
			if i == 2 && wrongOn[c.key] == days[1] {
				missed, nm = missed+gap, nm+1
			} else if i == 2 {
				known, nk = known+gap, nk+1
			}
		}
		if last := days[len(days)-1]; 29-last > 16+7 {
			t.Errorf("%s starves since day %d", c.key, last)
		}
	}
	if nm == 0 || nk == 0 || float64(missed)/float64(nm) >= float64(known)/float64(nk) {
		t.Errorf("missed ones return after %d days over %d, known after %d over %d", missed, nm, known, nk)
	}
	t.Logf("%d questions; a missed one returned after %.1f days, a known one after %.1f", len(all), float64(missed)/float64(nm), float64(known)/float64(nk))
}

// EX8: the same structure is not shown twice on the same picture while another is left.
func TestEX8NoPictureTwice(t *testing.T) {
	for seed := range uint64(200) {
		p := invented()
		s := NewSitting(p, NewProgress(), Options{Seed: seed, Most: 60, New: 60})
		used := map[string]map[string]bool{}
		for {
			q, ok := s.Next()
			if !ok {
				break
			}
			what := s.what(s.shown)
			if used[what] == nil {
				used[what] = map[string]bool{}
			}
			if used[what][q.Picture] {
				for _, sh := range s.now.shows {
					if !used[what][sh.picture] {
						t.Fatalf("seed %d: %s on %s again while %s is left", seed, what, q.Picture, sh.picture)
					}
				}
			}
			used[what][q.Picture] = true
			if _, err := s.Answer(Answer{Skip: seed%2 == 0}); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// EX8: every kind of question is asked, the same seed draws the same sitting, and the question gives nothing away.
func TestEX8Asks(t *testing.T) {
	p := invented()
	kinds := map[Ask]int{}
	var first, second []string
	for i, list := range []*[]string{&first, &second} {
		s := NewSitting(p, NewProgress(), Options{Seed: 3, Most: 40, New: 40})
		for {
			q, ok := s.Next()
			if !ok {
				break
			}
			*list = append(*list, q.Key+q.Picture)
			if i == 0 {
				kinds[q.Ask]++
			}
			if (q.Ask == AskSide || q.Ask == AskFace) && q.Letters {
				t.Errorf("%s with its edge letters", q.Ask)
			}
			s.Answer(answerTo(p, s, q))
		}
	}
	if fmt.Sprint(first) != fmt.Sprint(second) {
		t.Error("the same seed drew another sitting")
	}
	for _, a := range Asks {
		if kinds[a] == 0 {
			t.Errorf("%s is never asked: %v", a, kinds)
		}
	}
}

// EX10: a face placed on the ruler is scored by mm and by vertebrae; hints show one structure at a time and cost.
func TestEX10OnTheRun(t *testing.T) {
	p := invented()
	r, f := p.Runs[0], p.Faces[2] // at 50 mm; vertebrae every 25 mm
	for _, x := range []struct{ depth, mm, steps, score float64 }{
		{50, 0, 0, 1}, {54, 4, 0.16, 1}, {75, 25, 1, 1 - 0.8/2.8}, {25, -25, -1, 1 - 0.8/2.8}, {125, 75, 3, 0}, {50 + 37.5, 37.5, 1.5, 1 - 1.3/2.8},
	} {
		got := r.Place(f, x.depth, 0)
		if math.Abs(got.MM-x.mm) > 1e-9 || !got.HasSteps || math.Abs(got.Steps-x.steps) > 1e-9 || math.Abs(got.Score-x.score) > 1e-9 {
			t.Errorf("placed at %v: %+v", x.depth, got)
		}
		if hinted := r.Place(f, x.depth, 2); math.Abs(hinted.Score-math.Max(0, x.score-0.3)) > 1e-9 {
			t.Errorf("two hints: %+v", hinted)
		}
	}
	r.Marks = nil
	if got := r.Place(f, 50+42.5, 0); got.HasSteps || math.Abs(got.Score-0.5) > 1e-9 {
		t.Errorf("without vertebrae: %+v", got)
	}
	s := NewSitting(p, NewProgress(), Options{Asks: []Ask{AskOnRun}, Most: 1})
	if q, ok := s.Next(); !ok || q.Ask != AskOnRun || q.Marked {
		t.Fatalf("%+v", q)
	}
	seen := map[string]bool{}
	for {
		x, ok := s.Hint()
		if !ok {
			break
		}
		if seen[x.Code] {
			t.Error("the same hint twice")
		}
		seen[x.Code] = true
	}
	if len(seen) != 3 {
		t.Errorf("%d hints", len(seen))
	}
}

// EX10: the class spread is that of the quartiles by hand; a file handed over twice counts once; results hold no name.
func TestEX10ClassSpread(t *testing.T) {
	var all []Results
	for i, mm := range []float64{-10, 0, 10, 20, 30} {
		r := Results{Format: resultsFormat, Version: 1, Pack: "P", Answers: []Tally{}, Placings: []Placing{{Face: "F1", MM: mm, Steps: mm / 25, HasSteps: true, Score: 0.5}, {Face: "F1", MM: 99, Score: 0}}}
		all = append(all, r)
		if i == 0 {
			all = append(all, r)
		}
	}
	s := ClassSpread(all)
	if len(s) != 1 || s[0].Students != 5 || s[0].MM != [5]float64{-10, 0, 10, 20, 30} || !s[0].HasSteps || s[0].Steps[2] != 0.4 {
		t.Errorf("%+v", s)
	}
}

func TestTypedVertebrae(t *testing.T) {
	for text, want := range map[string]string{"L2": "L2", "l 2": "L2", "2nd lumbar": "L2", "Th11": "T11", "thoracic 5": "T5", "C7 vertebra": "C7", "lumbar vertebra 3": "L3", "L9": "", "spleen": "", "": ""} {
		i, ok := readVertebra(text)
		if got := map[bool]string{true: vertebrae[max(i, 0)]}[ok]; got != want {
			t.Errorf("%q is %q, not %q", text, got, want)
		}
	}
}

// EX8: progress stays in the student's folder, survives a restart, and a damaged file is set aside.
func TestProgressKept(t *testing.T) {
	dir := t.TempDir()
	p := invented()
	s := NewSitting(p, NewProgress(), Options{Seed: 1})
	for range 5 {
		q, _ := s.Next()
		s.Answer(answerTo(p, s, q))
	}
	if err := s.Progress().Save(dir); err != nil {
		t.Fatal(err)
	}
	back, err := LoadProgress(dir)
	a, _ := json.Marshal(s.Progress())
	b, _ := json.Marshal(back)
	if err != nil || string(a) != string(b) || len(back.Cards) != 5 {
		t.Fatalf("%v\n%s\n%s", err, a, b)
	}
	p.Faces = p.Faces[:5] // a new pack with other pictures: what is known stays known
	if st := p.Standing(back); st.Later+st.Due == 0 {
		t.Error("a new pack forgets all")
	}
	path := filepath.Join(dir, ProgressFile)
	os.WriteFile(path, a[:len(a)/2], 0o600)
	back, err = LoadProgress(dir)
	if err == nil || !strings.Contains(err.Error(), "set aside") || len(back.Cards) != 0 {
		t.Errorf("damaged: %v %v", back, err)
	}
	if aside, err := os.ReadFile(filepath.Join(dir, "drill-progress-damaged-1.json")); err != nil || string(aside) != string(a[:len(a)/2]) {
		t.Error("the damaged file is not kept", err)
	}
	if _, err := LoadProgress(dir); err != nil {
		t.Error(err)
	}
	os.WriteFile(path, []byte(`{"format":"sectionary drill progress","version":9}`), 0o600)
	if _, err := LoadProgress(dir); err == nil {
		t.Error("newer progress was read")
	}
	if _, err := os.Stat(path); err != nil {
		t.Error("newer progress was moved", err)
	}
}
