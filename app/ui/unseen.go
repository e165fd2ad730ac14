package ui

import (
	"strings"

	"fyne.io/fyne/v2"

	"sectionary/app/bench"
)

// unseen lists what no face of the run cuts: hidden by thickness, and lost to the saw.
type unseen struct {
	w                  *Window
	why, hidden, lost  *words
	hiddenBox, lostBox *fyne.Container
	box                *fyne.Container
}

func newUnseen(w *Window) *unseen {
	u := &unseen{w: w, why: newWords(body, ""), hidden: newWords(body, ""), lost: newWords(body, "")}
	u.hiddenBox, u.lostBox = captioned(say("unseen.hidden"), u.hidden), captioned(say("unseen.lost"), u.lost)
	u.box = part(say("unseen.title"), u.why, u.hiddenBox, u.lostBox)
	return u
}

func (u *unseen) refresh() {
	hidden, lost, why := u.w.desk.Unseen()
	if why == "" && len(hidden)+len(lost) == 0 {
		why = say("unseen.none")
	}
	u.why.set(why)
	u.hiddenBox.Hidden, u.lostBox.Hidden = len(hidden) == 0, len(lost) == 0
	u.hidden.set(unseenLines(hidden))
	u.lost.set(unseenLines(lost))
}

// unseenLines sets one structure a line; what the cut shown passes through is marked by a word.
func unseenLines(rows []bench.UnseenRow) string {
	lines := make([]string, len(rows))
	for i, r := range rows {
		lines[i] = r.Words
		if r.Here {
			lines[i] = say("unseen.here") + r.Words
		}
	}
	return strings.Join(lines, "\n")
}
