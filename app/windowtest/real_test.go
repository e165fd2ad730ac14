package windowtest

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// realData is the folder of real, openly licensed material beside the project; the test skips without it.
func realData(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(root(t), "..", "shared", "data")
	for _, need := range []string{"section-photo/avf1432a.png", "ct-trunk-128"} {
		if _, err := os.Stat(filepath.Join(dir, need)); err != nil {
			t.Skipf("the real material is not here: ../shared/data/%s", need)
		}
	}
	return dir
}

// The main job on real input: the public-domain section photograph of the Visible Human Project (U.S. National
// Library of Medicine), whose top is posterior and which is the upper face, and a trunk CT of another person
// (The Cancer Imaging Archive, CC BY 4.0). They are different bodies, so they are paired by level alone.
func TestMainJobOnRealInput(t *testing.T) {
	real := realData(t)
	p, dir := launch(t, "gles", 100)
	lab := filepath.Join(dir, "lab")

	// A run is begun.
	p.tap("start:begin")
	p.wait("the slip", func(s state) bool { return s.Sheet && s.Focus == "begin:dir" })
	p.typed(lab)
	p.key("Tab", "Tab")
	p.wait("the field for the code", func(s state) bool { return s.Focus == "begin:donor" })
	p.typed("TD-1")
	p.key("Tab")
	p.typed("trunk")
	p.tap("begin:teaching")
	p.tap("begin:ok")
	p.wait("the run", func(s state) bool { return s.Screen == "run" && s.Run != "" && !s.Sheet })

	// An upper face is chosen and the photograph laid on it.
	p.tapAt("ruler", 0.35, 0.4)
	s := p.wait("a face", func(s state) bool { return s.Face != "" })
	if !upper(s.Face) {
		p.key("f")
		s = p.wait("an upper face", func(s state) bool { return upper(s.Face) })
	}
	p.tap("tray:add")
	p.wait("the slip for photographs", func(s state) bool { return s.Focus == "pick:path" })
	p.key("ctrl+a")
	p.typed(filepath.Join(real, "section-photo"))
	p.key("Return")
	p.tap("pick:all")
	p.tap("pick:ok")
	p.waitLong("the photograph on the face", time.Minute, func(s state) bool { return s.Photo && s.Jobs == 0 })
	p.shot("real-run")

	// Its sides: the back is at the top of the photograph.
	p.tap("run:bench")
	p.wait("the bench", func(s state) bool { return s.Screen == "bench" })
	if e := p.now().Edges; e != "????" {
		t.Errorf("letters %q before anything is declared", e)
	}
	p.tapAt("face", 0.02, 0.02)
	p.key("x")
	p.wait("the axes tool", func(s state) bool { return s.Tool == "axes" })
	p.tap("axes:up:1")
	// Left, right, up and down by the law right x up = outward normal: an upper face with the front at the top has
	// the donor's left at the left; the scan is seen from the feet, so there the donor's right is at the left.
	p.wait("the letters of the bench view", func(s state) bool { return s.Edges == "LRAP" })
	p.tapAt("face", 0.02, 0.02)
	p.key("v")
	p.wait("the letters of the scan view", func(s state) bool { return s.Edges == "RLAP" })
	p.shot("real-scan-view")
	p.key("v")
	p.wait("the bench view again", func(s state) bool { return s.Edges == "LRAP" })

	// Its scale, from the grey card in the frame: 20 steps of 10 mm between these two places of the photograph,
	// read off the picture by eye; 200 mm over 598.5 px is 0.334 mm/px.
	p.key("s")
	p.wait("the scale tool", func(s state) bool { return s.Tool == "scale" })
	p.wait("the picture still", func(s state) bool { return s.Jobs == 0 })
	time.Sleep(500 * time.Millisecond)
	p.clickPhoto(1255, 1114)
	time.Sleep(450 * time.Millisecond)
	p.clickPhoto(657, 1090)
	p.tap("scale:length")
	p.key("ctrl+a")
	p.typed("200")
	p.tap("scale:level:1")
	p.shot("real-scale")
	p.tap("scale:accept")
	p.wait("the scale", func(s state) bool { return s.Scale })

	// An outline round the heart, named.
	p.tapAt("face", 0.02, 0.02)
	p.key("o")
	p.wait("the outline tool", func(s state) bool { return s.Tool == "outline" })
	for _, at := range [][2]float64{{0.36, 0.6}, {0.4, 0.52}, {0.46, 0.55}, {0.48, 0.64}, {0.42, 0.68}} {
		p.tapAt("face", at[0], at[1])
		time.Sleep(420 * time.Millisecond)
	}
	p.key("Return")
	s = p.wait("an outline", func(s state) bool { return len(s.Labels) == 1 })
	if s.Tool != "name" {
		p.key("n")
	}
	p.wait("the name field", func(s state) bool { return s.Focus == "name:typed" })
	p.typed("heart")
	p.wait("structures found", func(s state) bool { _, ok := s.Targets["name:row"]; return ok })
	p.key("Return")
	p.wait("the name", func(s state) bool { return len(s.Labels) == 1 && s.Labels[0] == "heart" })
	p.tap("name:sure:0")
	p.wait("how sure", func(s state) bool { return s.Undo != "" && !s.Unsafe })
	before := p.now().Undo
	p.shot("real-named")

	// The slip with a number and the grey card are covered: without that, nothing may leave.
	p.tapAt("face", 0.02, 0.02)
	p.key("t")
	p.wait("the tag mask tool", func(s state) bool { return s.Tool == "mask" })
	p.drag("face", 0.28, 0.2, 0.7, 0.3)
	p.wait("a box", func(s state) bool { return s.Undo != before })
	p.shot("real-mask")

	// The scan.
	p.tap("go:pairing")
	p.wait("the pairing", func(s state) bool { return s.Screen == "pairing" })
	p.reach("scan:add")
	p.key("Return")
	p.wait("the slip for the scan", func(s state) bool { return s.Focus == "pick:path" })
	p.key("ctrl+a")
	p.typed(filepath.Join(real, "ct-trunk-128"))
	p.key("Return")
	p.tap("pick:ok")
	p.waitLong("the scan", 2*time.Minute, func(s state) bool { return s.Series == 1 && s.Jobs == 0 })
	// Whose scan it is, only a person knows: it is asked, and no landmark is offered across two bodies.
	p.wait("the question whose scan it is", func(s state) bool { return s.Sheet && s.Message != "" })
	p.shot("real-question")
	p.tap("choice:1")
	s = p.wait("words about the pairing", func(s state) bool { return !s.Sheet && s.Band != "" })
	if !strings.Contains(strings.ToLower(s.Band), "different bod") {
		t.Errorf("the band does not say that these are two bodies: %q", s.Band)
	}
	p.shot("real-scan")
	p.tapAt("scan", 0.03, 0.5)
	p.key("l") // the panel stands scrolled where the scan was taken in
	p.wait("one level tied", func(s state) bool { return s.Levels == 1 })
	p.shot("real-pairing")

	// It leaves as a study picture for teaching.
	p.tap("go:handout")
	p.wait("handing out", func(s state) bool { return s.Screen == "handout" })
	p.tap("handout:purpose:0")
	p.wait("no refusal", func(s state) bool { return s.Refusal == "" })
	p.shot("real-handout")
	p.tap("handout:release")
	s = p.waitLong("finished files", 2*time.Minute, func(s state) bool { return len(s.Files) > 0 && s.Jobs == 0 })
	checkFiles(t, s)
	p.quit()
	checkPrompt(t, build(t, filepath.Join(dir, "sectionary"), "./app/cli", "", "CGO_ENABLED=0"), s, "UBERON:0000948") // heart in Uberon
}

func upper(face string) bool { return len(face) > 10 && face[len(face)-10:] == "upper face" }

// clickPhoto clicks at a pixel of the section photograph, 2048 x 1216, shown whole in the middle of the face's
// frame, which stands 30 units inside the pane. In the bench view this photograph lies turned by half a turn.
func (p *program) clickPhoto(px, py float64) {
	p.t.Helper()
	x, y, w, h := p.aim("face", 0.5, 0.5)
	const frame, photoW, photoH = 30, 2048, 1216
	zoom := math.Min(float64(w-2*frame)/photoW, float64(h-2*frame)/photoH)
	p.move(x+int(float64(w)/2-(px-photoW/2)*zoom), y+int(float64(h)/2-(py-photoH/2)*zoom))
	p.run("xdotool", "click", "1")
}
