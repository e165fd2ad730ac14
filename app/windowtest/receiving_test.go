package windowtest

import (
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Photographs come onto the receiving table in the real window: one is dragged to an edge of the ruler and taken back, the
// whole table is proposed by the pattern, accepted, and taken back in one step.
func TestReceivingInTheWindow(t *testing.T) {
	p, dir := launch(t, "gles", 100)
	photos := filepath.Join(dir, "photos")
	if err := os.Mkdir(photos, 0o755); err != nil {
		t.Fatal(err)
	}
	const n = 26
	for i := range n {
		m := image.NewRGBA(image.Rect(0, 0, 300, 200))
		for x := range 300 {
			for y := range 200 {
				m.Set(x, y, color.RGBA{uint8(120 + 4*i), uint8(x / 2), uint8(y), 255})
			}
		}
		f, err := os.Create(filepath.Join(photos, fmt.Sprintf("%d.jpg", i)))
		if err != nil {
			t.Fatal(err)
		}
		if err := jpeg.Encode(f, m, nil); err != nil {
			t.Fatal(err)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
	}
	p.tap("start:begin")
	p.wait("the slip", func(s state) bool { return s.Sheet && s.Focus == "begin:dir" })
	p.typed(filepath.Join(dir, "lab"))
	p.key("Tab", "Tab")
	p.wait("the field for the code", func(s state) bool { return s.Focus == "begin:donor" })
	p.typed("TD-1")
	p.key("Tab")
	p.typed("trunk")
	p.tap("begin:teaching")
	p.tap("begin:ok")
	p.wait("the run", func(s state) bool { return s.Screen == "run" && s.Run != "" && !s.Sheet })

	p.tap("tray:add")
	p.wait("the slip for photographs", func(s state) bool { return s.Focus == "pick:path" })
	p.key("ctrl+a")
	p.typed(photos)
	p.key("Return")
	p.tap("pick:all")
	p.tap("pick:ok")
	on := func(words string) func(s state) bool {
		return func(s state) bool { return s.Screen == "receiving" && s.Jobs == 0 && strings.HasPrefix(s.Said, words) }
	}
	p.wait("the prints on the table", on("26 prints"))
	p.shot("receiving")

	p.drag("receiving", 0.42, 0.12, 0.14, 0.3)
	p.wait("one print on an edge", func(s state) bool { return on("25 prints")(s) && strings.HasPrefix(s.Undo, "lay") })
	p.shot("receiving-one")
	p.key("ctrl+z")
	p.wait("it back on the table", on("26 prints"))

	p.tap("receiving:propose")
	p.wait("a proposal", func(s state) bool { return strings.Contains(s.Refusal, "would lie") })
	if s := p.now(); !strings.HasPrefix(s.Said, "26 prints") || s.Undo != "" {
		t.Errorf("something was laid before it was accepted: %+v", s)
	}
	p.shot("receiving-proposed")
	p.tapAt("receiving", 0.42, 0.12)
	p.key("Return")
	left := p.wait("what is left", func(s state) bool { return s.Refusal == "" && s.Undo != "" && s.Jobs == 0 })
	if strings.HasPrefix(left.Said, "26 prints") {
		t.Errorf("nothing was laid: %q", left.Said)
	}
	p.shot("receiving-laid")
	p.key("ctrl+z")
	p.wait("all back on the table in one step", func(s state) bool { return on("26 prints")(s) && s.Undo == "" })
	p.inside()
	p.quit()
}
