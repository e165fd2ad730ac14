package bench

import (
	"testing"

	"pgregory.net/rapid"
)

// Any chain of steps, undo and redo must show what a plain list of values would: the list is the second way.
func TestHistoryAgainstAList(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := NewHistory(0)
		list, names, at, next, open := []int{0}, []string{""}, 0, 0, ""
		for range rapid.IntRange(0, 60).Draw(t, "steps") {
			switch rapid.IntRange(0, 4).Draw(t, "what") {
			case 0, 1:
				next++
				merge := rapid.SampledFrom([]string{"", "a", "b"}).Draw(t, "merge")
				if merge != "" && merge == open && at > 0 {
					list[at] = next
				} else {
					list, names = append(list[:at+1:at+1], next), append(names[:at+1:at+1], "n"+merge)
					at++
				}
				open = merge
				h.Do("n"+merge, merge, next)
			case 2:
				if at > 0 {
					at--
				}
				open = ""
				h.Undo()
			case 3:
				if at < len(list)-1 {
					at++
				}
				open = ""
				h.Redo()
			case 4:
				open = ""
				h.Seal()
			}
			redo := ""
			if at < len(list)-1 {
				redo = names[at+1]
			}
			if h.Now() != list[at] || h.UndoName() != names[at] || h.RedoName() != redo || h.Opened() != 0 {
				t.Fatalf("shows %d %q %q, want %d %q %q", h.Now(), h.UndoName(), h.RedoName(), list[at], names[at], redo)
			}
		}
	})
}
