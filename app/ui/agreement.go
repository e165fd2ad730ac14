package ui

import (
	"maps"
	"strings"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
	"sectionary/atlas"
)

// showAgreement shows and records what the donor agreed to, purpose by purpose. Nothing recorded means no.
func (w *Window) showAgreement() {
	a := w.desk.Agreement()
	a.Permitted = maps.Clone(a.Permitted)
	if a.Permitted == nil {
		a.Permitted = map[atlas.Purpose]bool{}
	}
	readOnly := w.desk.Lab().ReadOnly
	reference, by := w.field("agreement:reference", a.Reference), w.field("agreement:by", a.ChangedBy)
	ends := w.field("agreement:ends", "")
	if !a.Ends.IsZero() {
		ends.SetText(a.Ends.Format(time.DateOnly))
	}
	uses := newFlow(4)
	for _, p := range atlas.Purposes {
		k := w.button("agreement:"+string(p), "", say("purpose."+string(p)), choice, nil)
		k.on, k.off = a.Permitted[p], readOnly
		k.tapped = func() { k.setOn(!k.on); a.Permitted[p] = k.on }
		uses.Add(k)
	}
	after := newFlow(4)
	afterChoices := map[atlas.AfterReturn]*button{}
	for _, x := range []atlas.AfterReturn{atlas.KeepPictures, atlas.WithdrawPictures} {
		k := w.button("agreement:after:"+string(x), "", say("agreement.after."+string(x)), choice, nil)
		k.on, k.off = a.AfterReturn == x, readOnly
		k.tapped = func() { // a second touch takes the choice back: not recorded
			if a.AfterReturn == x {
				a.AfterReturn = atlas.NotRecorded
			} else {
				a.AfterReturn = x
			}
			for y, other := range afterChoices {
				other.setOn(a.AfterReturn == y)
			}
		}
		afterChoices[x] = k
		after.Add(k)
	}
	problem := newWords(body, "").colored(theme.ColorNameWarning)
	var s *sheet
	refuse := func(words string) { problem.set(words); s.relay(); w.reveal(problem) }
	save := w.button("agreement:ok", "check", say("agreement.ok"), primary, func() {
		a.Reference, a.ChangedBy = strings.TrimSpace(reference.Text), strings.TrimSpace(by.Text)
		a.Ends = time.Time{}
		if t := strings.TrimSpace(ends.Text); t != "" {
			day, err := time.Parse(time.DateOnly, t)
			if err != nil {
				refuse(say("agreement.date"))
				return
			}
			a.Ends = day
		}
		if err := w.desk.SetAgreement(a); err != nil { // what was typed stays, to be put right
			m := bench.Explain(err)
			refuse(strings.TrimSpace(m.Title + " " + m.Hint))
			return
		}
		s.close()
	})
	save.off = readOnly
	col := newColumn(14, newWords(title, say("agreement.title")), newWords(body, say("agreement.words")).colored(colorMuted),
		captioned(say("agreement.permitted"), uses),
		captioned(say("agreement.after"), after),
		newShelf(grown(190), 12, captioned(say("agreement.reference"), reference), captioned(say("agreement.by"), by), captioned(say("agreement.ends"), ends)),
		problem, w.card("fixatives"), w.card("lifting"))
	s = w.sheet(640, col, save, w.button("agreement:no", "", say("cancel"), edged, func() { s.close() }))
	s.open(fyne.Focusable(reference))
}
