package windowtest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A new user's first exam: from the start page to cards, key, pictures and package on disk, then a study pack, opened as a
// student, with a first question answered. The actions of the exam are counted: pressing, typing and choosing.
func TestFirstExam(t *testing.T) {
	p, _ := launch(t, "gles", 100)
	s := p.practice()

	began, actions := time.Now(), 0
	tap := func(name string) { t.Helper(); actions++; p.tap(name) }
	key := func(names ...string) { actions += len(names); p.key(names...) }
	tap("go:stations")
	p.wait("what can be asked", func(s state) bool { return s.Screen == "stations" && s.Jobs == 0 })
	p.shot("stations-empty")
	tap("stations:blueprint")
	p.wait("the blueprint", func(s state) bool { return s.Focus == "blueprint:count" })
	actions++
	p.typed("6")
	key("Return")
	p.shot("blueprint")
	tap("blueprint:fill")
	s = p.waitLong("six stations", time.Minute, func(s state) bool { return s.Stations == 6 && s.Jobs == 0 })
	if !strings.Contains(s.Refusal, "fresh eyes") {
		t.Errorf("before anyone looked the exam says %q", s.Refusal)
	}
	p.shot("stations")
	p.inside()
	tap("stations:fresh")
	for n := range 6 {
		p.waitLong("a finished picture", time.Minute, func(s state) bool {
			return s.Screen == "fresh" && s.Stations == n+1 && strings.Contains(s.Asked, "no doubt")
		})
		if n == 0 {
			p.shot("fresh")
		}
		key("Return")
		time.Sleep(200 * time.Millisecond)
	}
	p.waitLong("nothing speaks against it", time.Minute, func(s state) bool { return s.Screen == "stations" && s.Refusal == "" && s.Jobs == 0 })
	time.Sleep(1500 * time.Millisecond)
	tap("stations:release")
	p.wait("the slip", func(s state) bool { _, ok := s.Targets["exam:release"]; return ok })
	p.shot("exam-slip")
	tap("exam:release")
	s = p.waitLong("finished files", 2*time.Minute, func(s state) bool { return len(s.Files) > 0 && s.Jobs == 0 })
	took := time.Since(began)
	t.Logf("first exam: %d actions, %.0f s", actions, took.Seconds())
	if took > 5*time.Minute || actions > 40 {
		t.Errorf("a first exam took %d actions and %v", actions, took)
	}
	pictures := 0
	for _, name := range s.Files {
		if _, err := os.Stat(filepath.Join(s.Dir, name)); err != nil {
			t.Errorf("%s was listed and is not there", name)
		}
		if strings.HasSuffix(name, ".png") {
			pictures++
		}
	}
	if pictures != 6 {
		t.Errorf("%d pictures of 6 stations: %q", pictures, s.Files)
	}
	p.key("Escape")
	p.wait("the message closed", func(s state) bool { return !s.Sheet })

	// In the room: the time runs by Space, Escape leads back.
	p.tap("stations:room")
	p.waitLong("the room", time.Minute, func(s state) bool { return s.Screen == "room" })
	p.key("space")
	time.Sleep(1500 * time.Millisecond)
	p.shot("room")
	p.key("Right", "Escape")
	p.wait("the stations again", func(s state) bool { return s.Screen == "stations" })
	time.Sleep(1500 * time.Millisecond) // the window gets its size back

	// A study pack, and a student's first question.
	p.tap("go:handout")
	p.wait("handing out", func(s state) bool { return s.Screen == "handout" })
	p.tap("go:pack")
	p.wait("the slip of a pack", func(s state) bool { return s.Screen == "pack" && s.Jobs == 0 })
	p.shot("pack")
	p.tap("pack:make")
	s = p.waitLong("the pack", 3*time.Minute, func(s state) bool { return s.Message != "" && s.Jobs == 0 })
	p.key("Escape")
	p.wait("the message closed", func(s state) bool { return !s.Sheet })
	packs, err := filepath.Glob(filepath.Join(s.Lab, "hand-outs", "study-*.zip"))
	if err != nil || len(packs) != 1 {
		t.Fatalf("study packs: %v %q", err, packs)
	}
	p.tap("back")
	p.wait("the run", func(s state) bool { return s.Screen == "run" })
	p.tap("back")
	p.wait("the start page", func(s state) bool { return s.Screen == "start" })
	p.tap("start:pack")
	p.wait("the slip", func(s state) bool { return s.Focus == "pick:path" })
	p.key("ctrl+a")
	p.typed(packs[0])
	p.key("Return")
	s = p.wait("the faces of the pack", func(s state) bool { return s.Screen == "study" })
	if s.Lab != "" || s.Run != "" {
		t.Errorf("a student has the lab %q, run %q", s.Lab, s.Run)
	}
	for name := range s.Targets {
		if strings.HasPrefix(name, "go:") && name != "go:study" && name != "go:drill" {
			t.Errorf("a student is offered %s", name)
		}
	}
	p.key("n", "c")
	time.Sleep(400 * time.Millisecond)
	p.shot("study")
	p.key("d")
	s = p.wait("a question", func(s state) bool { return s.Screen == "drill" && s.Asked != "" })
	p.shot("drill")
	p.tap("drill:unknown")
	p.wait("the answer", func(s state) bool { _, ok := s.Targets["drill:next"]; return ok })
	p.shot("drill-revealed")
	p.inside()
	p.quit()
}
