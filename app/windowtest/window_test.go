package windowtest

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	_ "image/png"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// root is the module's folder.
func root(t *testing.T) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for ; dir != filepath.Dir(dir); dir = filepath.Dir(dir) {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
	}
	t.Fatal("no go.mod above the test")
	return ""
}

// build builds a program of the module, with the environment added.
func build(t *testing.T, out, pkg, tags string, env ...string) string {
	t.Helper()
	c := exec.Command("go", "build", "-tags", tags, "-o", out, pkg)
	c.Dir, c.Env = root(t), append(os.Environ(), env...)
	if b, err := c.CombinedOutput(); err != nil {
		if strings.Contains(string(b), "X11/") || strings.Contains(string(b), "pkg-config") {
			t.Skipf("the window cannot be built here: the headers of X11 and OpenGL are missing (make test installs them)")
		}
		t.Fatalf("%s: %v\n%s", pkg, err, b)
	}
	return out
}

// The walk of the main job: from the start page to the practice run, a face, an outline drawn by mouse, named
// by keyboard, undone and done again, the pairing, and a hand-out. What came of it is read back by the prompt.
// The program is built without migrated_fynedo, so that every call off the event loop is logged.
func TestMainJob(t *testing.T) {
	p, dir := launch(t, "gles", 100)
	p.shot("start")
	p.inside()
	s := p.practice()

	// An edge of a slab is chosen by a click on the ruler; the keys walk on from there.
	before := s.Face
	for _, y := range []float64{0.3, 0.35, 0.4, 0.45, 0.5} {
		p.tapAt("ruler", 0.45, y)
		time.Sleep(300 * time.Millisecond)
		if f := p.now().Face; f != "" && f != before {
			break
		}
	}
	s = p.wait("another face by a click on the ruler", func(s state) bool { return s.Face != "" && s.Face != before })
	clicked := s.Face
	p.key("Down")
	s = p.wait("the next face by a key", func(s state) bool { return s.Face != clicked })
	p.key("Up")
	p.wait("the face before by a key", func(s state) bool { return s.Face == clicked })
	p.shot("run")
	p.inside()

	// A photographed face goes onto the bench.
	p.tap("run:bench")
	s = p.wait("the bench", func(s state) bool { return s.Screen == "bench" && s.Jobs == 0 })
	face := s.Face
	had := len(s.Labels)
	p.tapAt("face", 0.02, 0.02) // the keyboard to the picture
	p.shot("bench")
	p.inside()

	// An outline by mouse, closed by Return.
	p.key("o")
	p.wait("the outline tool", func(s state) bool { return s.Tool == "outline" })
	for _, at := range [][2]float64{{0.44, 0.46}, {0.52, 0.44}, {0.56, 0.52}, {0.5, 0.58}, {0.43, 0.54}} {
		p.tapAt("face", at[0], at[1])
		time.Sleep(420 * time.Millisecond) // else two clicks could count as a double one
	}
	p.shot("outline")
	p.key("Return")
	s = p.wait("one more outline", func(s state) bool { return len(s.Labels) == had+1 && s.Chosen != "" })

	// Named by keyboard alone.
	if s.Tool != "name" {
		p.key("n")
	}
	p.wait("the name field", func(s state) bool { return s.Tool == "name" && s.Focus == "name:typed" })
	p.typed("liver")
	p.wait("structures found", func(s state) bool { _, ok := s.Targets["name:row"]; return ok })
	p.shot("name")
	p.key("Return")
	named := func(s state) bool { return slices.Contains(s.Labels, "liver") }
	count := func(s state) (n int) {
		for _, l := range s.Labels {
			if l == "liver" {
				n++
			}
		}
		return n
	}
	s = p.wait("the name", func(s state) bool { return named(s) && s.Focus == "face" })
	livers := count(s)
	p.key("ctrl+z")
	p.wait("the name undone", func(s state) bool { return count(s) == livers-1 && s.Redo != "" })
	p.key("ctrl+y")
	p.wait("the name done again", func(s state) bool { return count(s) == livers })
	p.tap("name:sure:0")
	p.wait("all on disk", func(s state) bool { return !s.Unsafe })
	p.shot("named")

	// F9 hides everything at once and shows it again.
	p.tapAt("face", 0.02, 0.02)
	p.key("F9")
	p.wait("a blank bench", func(s state) bool { return s.Blanked })
	p.key("F9")
	p.wait("the bench again", func(s state) bool { return !s.Blanked })

	// The pairing speaks of its state in words.
	p.tap("go:pairing")
	s = p.wait("the pairing", func(s state) bool { return s.Screen == "pairing" && s.Band != "" && s.Jobs == 0 })
	p.tapAt("scan", 0.5, 0.5)
	p.key("2", "comma", "period")
	time.Sleep(500 * time.Millisecond)
	p.shot("pairing")
	p.inside()
	if m := p.now().Message; m != "" {
		t.Logf("the pairing says: %s", m)
		p.key("Escape")
		p.wait("the message closed", func(s state) bool { return !s.Sheet })
	}

	// The slip is refused for the public web and leaves for teaching.
	p.tap("go:handout")
	p.wait("handing out", func(s state) bool { return s.Screen == "handout" })
	p.tap("handout:purpose:5")
	p.wait("a refusal", func(s state) bool { return s.Refusal != "" })
	p.shot("refused")
	p.tap("handout:purpose:0")
	p.wait("no refusal", func(s state) bool { return s.Refusal == "" })
	p.inside()
	p.reach("handout:release")
	p.shot("handout")
	p.key("Return")
	s = p.waitLong("finished files", 2*time.Minute, func(s state) bool { return len(s.Files) > 0 && s.Jobs == 0 })
	p.shot("handed-out")
	checkFiles(t, s)

	p.quit()
	s.Face = face
	checkPrompt(t, build(t, filepath.Join(dir, "sectionary"), "./app/cli", "", "CGO_ENABLED=0"), s, "UBERON:0002107") // liver in Uberon
}

// checkFiles looks at what was handed out: pictures decode, and hold neither EXIF nor the practice donor's code.
func checkFiles(t *testing.T, s state) {
	t.Helper()
	pictures := 0
	for _, name := range s.Files {
		path := name
		if !filepath.IsAbs(path) {
			path = filepath.Join(s.Dir, name)
		}
		b, err := os.ReadFile(path)
		if err != nil {
			t.Errorf("%s was listed and is not there: %v", name, err)
			continue
		}
		if strings.HasSuffix(name, ".png") {
			c, _, err := image.DecodeConfig(bytes.NewReader(b))
			if err != nil || c.Width < 400 {
				t.Errorf("%s is no picture of use: %v, %d wide", name, err, c.Width)
			}
			if bytes.Contains(b, []byte("eXIf")) || bytes.Contains(b, []byte("tEXt")) {
				t.Errorf("%s carries notes of the camera or the program", name)
			}
			pictures++
		}
	}
	if pictures == 0 {
		t.Errorf("no picture among %q", s.Files)
	}
}

// checkPrompt reads the same lab by the prompt: the outline named in the window stands there with its author, the
// hand-out is recorded, and nothing in the lab is damaged.
func checkPrompt(t *testing.T, prompt string, s state, term string) {
	t.Helper()
	run := func(args ...string) []byte {
		out, err := exec.Command(prompt, args...).Output()
		if err != nil {
			t.Errorf("%v: %v\n%s", args, err, out)
		}
		if !json.Valid(out) {
			t.Errorf("%v prints no JSON: %.200s", args, out)
		}
		return out
	}
	var slab int
	var side string
	if _, err := fmt.Sscanf(s.Face, "slab %d, %s face", &slab, &side); err != nil {
		t.Fatalf("face %q: %v", s.Face, err)
	}
	facing := map[string]string{"upper": "superior", "lower": "inferior", "front": "anterior", "back": "posterior"}[side]
	face := run("show", "-json", s.Lab, fmt.Sprintf("%s:%d:%s", s.Run, slab, facing))
	for _, want := range []string{term, author} {
		if !bytes.Contains(face, []byte(want)) {
			t.Errorf("the prompt does not know of %q on %s: %.600s", want, s.Face, face)
		}
	}
	run("list", "-json", s.Lab)
	run("verify", "-json", s.Lab)
}

// The window keeps its words at 200 % text and 1280 x 800.
func TestLargeWords(t *testing.T) {
	p, _ := launch(t, "gles,migrated_fynedo", 200)
	p.shot("start-200")
	p.inside()
	p.tap("letters")
	p.wait("the slip", func(s state) bool { return s.Sheet })
	p.inside()
	p.tap("text:0")
	p.wait("smaller words", func(s state) bool { t, ok := s.Targets["text:0"]; return ok && t[3] < 50 })
	p.key("Escape")
	p.wait("the slip gone", func(s state) bool { return !s.Sheet })
	p.tap("cautions")
	p.wait("the cautions", func(s state) bool { return s.Sheet })
	p.key("Escape")
	p.wait("the cautions gone", func(s state) bool { return !s.Sheet })
	p.quit()
}
