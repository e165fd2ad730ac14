package windowtest

import (
	"strings"
	"testing"
)

// A donor from arrival to return in the real window, by keyboard wherever there is a field: a shelf, a container, taking in,
// moving, lending, taking back, splitting, what stands in the way, marking ready, the return. The prompt reads it back.
func TestCustodyInTheWindow(t *testing.T) {
	p, _ := launch(t, "gles", 100)
	p.practice()
	p.tapAt("ruler", 0.02, 0.02)
	p.key("r")
	p.wait("the rack", func(s state) bool { return s.Screen == "rack" && s.Focus == "rack" })

	// form fills the fields in order, Return after each; the last Return presses the button the focus stands on.
	form := func(id string, fields ...string) state {
		p.tap("deed:" + id)
		p.wait("the form "+id, func(s state) bool { return s.Form == id && strings.HasPrefix(s.Focus, "form:") })
		for _, f := range fields {
			if f != "" {
				p.typed(f)
			}
			p.key("Return")
		}
		p.key("Return", "Return")
		return p.wait("the end of "+id, func(s state) bool { return s.Form == "" && strings.Contains(s.Said, "written") })
	}
	find := func(words string) {
		p.typed(words)
		p.key("Return")
		p.wait(words, func(s state) bool { return strings.Contains(s.Item, words) && s.Focus == "rack" })
	}
	form("newshelf", "shelf A", "cold room")
	form("newbox", "box 1", "shelf A")
	p.tap("deed:takein")
	p.wait("the form", func(s state) bool { return s.Form == "takein" })
	p.tap("form:which:1")
	p.tap("form:masses")
	p.typed(strings.Repeat("1000 ", 20)) // the practice donor has 20 slabs in three runs
	p.key("Return")
	p.typed("120")
	p.key("Return")
	p.typed("90")
	p.key("Return")
	p.typed("box 1")
	p.key("Return", "Return", "Return")
	p.wait("the run taken in", func(s state) bool { return s.Form == "" && strings.Contains(s.Said, "written") })
	p.shot("rack")
	p.inside()

	find("trunk, slab 9")
	form("move", "shelf A", "for teaching")
	s := form("lend", "Room 2", "", "teaching")
	if s.Due != 1 {
		t.Errorf("a loan of two weeks gives %d reminders", s.Due)
	}
	p.key("Escape")
	p.wait("the donor", func(s state) bool { return strings.HasPrefix(s.Item, "Donor") })
	p.tap("deed:ready")
	p.wait("the form", func(s state) bool { return s.Form == "ready" })
	p.key("Return", "Return", "Return")
	p.wait("what stands in the way, in words", func(s state) bool { return strings.Contains(s.Refusal, "on loan to Room 2") })
	p.shot("rack-blocked")
	p.inside()
	p.key("Escape")
	find("trunk, slab 9")
	form("back", "box 1", "")
	form("split", "", "500", "", "490", "", "", "10", "", "dissection")
	p.key("Escape")
	p.wait("nothing in the way", func(s state) bool { return strings.HasPrefix(s.Item, "Donor") })
	form("ready", "")
	form("return", "")
	p.tap("go:ledger")
	p.wait("the ledger", func(s state) bool { return s.Screen == "ledger" })
	p.shot("ledger")
	p.inside()
	p.quit()
}
