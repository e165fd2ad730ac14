package ui

import (
	"strings"

	"fyne.io/fyne/v2"

	"sectionary/annotate"
)

// labelCard is what a second person and a careful first one need of the chosen label: who drew it, its note, signing
// or putting it up for discussion, and what was done to it.
type labelCard struct {
	w       *Window
	box     *fyne.Container
	by      *words
	note    *field
	signer  *field
	sign    *button
	discuss *button
	lines   *words
	shown   string // whose note is in the field
}

// mostLines is how many lines of a label's history the panel shows.
const mostLines = 6

func newLabelCard(w *Window) *labelCard {
	c := &labelCard{w: w, by: newWords(caption, ""), lines: newWords(caption, "")}
	d := w.desk
	c.note = w.field("label:note", "")
	c.note.OnChanged = func(s string) {
		if c.note.typing() {
			w.report(d.SetNote(s))
		}
	}
	c.note.onEnter = w.keyboardToPicture
	c.signer = w.field("label:signer", d.Signer())
	c.signer.SetPlaceHolder(say("card.signer.hint"))
	c.signer.OnChanged = func(s string) { d.SetSigner(s) }
	c.signer.onEnter = func() { d.Do("sign"); w.keyboardToPicture() }
	c.sign = w.button("label:sign", "check", say("card.sign"), edged, func() { d.Do("sign") }).tipped(say("card.sign.tip"))
	c.discuss = w.button("label:discuss", "", say("card.discuss"), edged, func() { d.SetSure(annotate.Discuss) }).tipped(say("card.discuss.tip"))
	all := w.button("label:history", "", say("card.history.all"), edged, w.showHistory)
	c.box = part(say("card.head"), c.by, captioned(say("card.note"), c.note), captioned(say("card.signer"), c.signer),
		newFlow(6, c.sign, c.discuss), captioned(say("card.history"), c.lines), newFlow(6, all))
	return c
}

func (c *labelCard) refresh() {
	x, ok := c.w.desk.Card()
	c.box.Hidden = !ok
	if !ok {
		return
	}
	c.by.set(x.By)
	c.note.show(x.Note)
	c.signer.show(c.w.desk.Signer())
	c.sign.setOff(x.Signed || x.Discuss)
	c.discuss.setOff(x.Discuss)
	c.lines.set(strings.Join(x.History[:min(len(x.History), mostLines)], "\n"))
}

// showHistory shows what was done to the labels of the face.
func (w *Window) showHistory() {
	text := strings.Join(w.desk.FaceHistory(), "\n")
	if text == "" {
		text = say("card.history.none")
	}
	var s *sheet
	done := w.button("close", "", say("close"), edged, func() { s.close() })
	s = w.sheet(720, newColumn(12, newWords(title, say("card.history.title")), newWords(body, text)), done)
	s.open(done)
}

// askSigner takes the keyboard to the field of who signs when a label is to be signed and no one is named yet.
func (w *Window) askSigner() bool {
	s, ok := w.shown.(*faceScreen)
	if !ok || w.desk.Signer() != "" || s.card.box.Hidden {
		return false
	}
	w.focusOn(s.card.signer)
	return true
}
