package ui

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"sectionary/app/bench"
	"sectionary/atlas"
	"sectionary/slices/section"
)

// receivingScreen is the receiving table: ruler and prints in one picture, and beside it a slip of paper: how far the
// taking in is, what is chosen, the pattern, and what could not be taken in.
type receivingScreen struct {
	w     *Window
	pane  *pane
	box   *fyne.Container
	panel *roll

	count, progress            *words
	add, stop, goOn, onward    *button
	edge, print                *words
	lay, off, look             *button
	choice                     *fyne.Container
	order                      *words
	patterns                   [3]*button
	sides                      [2]*button
	far, propose               *button
	setting, proposed          *fyne.Container
	proposal                   *words
	accept, further, back, out *button
	mirror                     *fyne.Container
	mirrorWords                *words
	mirrorThese, mirrorAll     [2]*button
	trouble                    *fyne.Container
	faults, twins              *words
	troubleHead                *words
}

func newReceiving(w *Window) *receivingScreen {
	s := &receivingScreen{w: w, pane: w.newPane("receiving", w.desk.ReceivingPane())}
	s.pane.design = fyne.NewSize(400, 320)
	r, sheet := w.panel(s.intake(), s.approving(), s.choosing(), s.laying(), s.mirrored(), s.troubled())
	s.panel = r
	s.box = (&table{middle: s.pane, right: sheet, rightW: panelWidth(), gap: 1}).object()
	return s
}

// intake is the part on what comes in.
func (s *receivingScreen) intake() *fyne.Container {
	w, d := s.w, s.w.desk
	s.count, s.progress = newWords(body, ""), newWords(strong, "")
	s.add = w.button("receiving:add", "plus", say("run.photos"), edged, w.addPhotos).tipped(say("run.photos.tip"))
	s.stop = w.button("receiving:stop", "remove", say("receiving.stop"), edged, d.StopIntake).tipped(say("receiving.stop.tip"))
	s.goOn = w.button("receiving:go", "later", say("receiving.go"), edged, d.GoOnIntake).tipped(say("receiving.go.tip"))
	s.onward = w.button("receiving:bench", "face", say("run.bench"), edged, func() { d.Show(bench.FaceScreen) }).tipped(say("run.bench.tip"))
	return headless(newWords(title, say("receiving.head")), s.count, s.progress, newFlow(6, s.add, s.stop, s.goOn, s.onward))
}

// choosing is the part on the print and the edge in hand.
func (s *receivingScreen) choosing() *fyne.Container {
	w, d := s.w, s.w.desk
	s.print, s.edge = newWords(body, ""), newWords(strong, "")
	s.lay = w.button("receiving:lay", "check", say("receiving.lay"), primary, d.LayChosen).tipped(say("receiving.lay.tip"))
	s.look = w.button("receiving:look", "fit", say("receiving.look"), edged, d.LookLarge).tipped(say("receiving.look.tip"))
	s.off = w.button("receiving:off", "photo", say("receiving.off"), edged, d.TakeOff).tipped(say("receiving.off.tip"))
	s.choice = part(say("receiving.choice"), s.edge, s.print, newFlow(6, s.lay, s.look, s.off))
	return s.choice
}

// laying is the part on the pattern.
func (s *receivingScreen) laying() *fyne.Container {
	w, d := s.w, s.w.desk
	flow := newColumn(4)
	for i, id := range []string{"cut", "slab", "one"} {
		s.patterns[i] = w.button("receiving:"+id, "", say("receiving."+id), choice, func() {
			q := d.Table().Sequence
			q.Pattern = bench.Pattern(i)
			d.SetSequence(q)
		}).tipped(say("receiving." + id + ".tip"))
		flow.Add(s.patterns[i])
	}
	sides := newFlow(6)
	for i := range s.sides {
		s.sides[i] = w.button("receiving:first", "", "", choice, func() {
			t := d.Table()
			t.Sequence.First = t.Sides[i]
			d.SetSequence(t.Sequence)
		})
		sides.Add(s.sides[i])
	}
	s.far = w.button("receiving:far", "", say("receiving.far"), choice, func() {
		q := d.Table().Sequence
		q.FarEnd = !q.FarEnd
		d.SetSequence(q)
	}).tipped(say("receiving.far.tip"))
	s.order = newWords(caption, "")
	s.propose = w.button("receiving:propose", "run", say("receiving.propose"), edged, d.Propose).tipped(say("receiving.propose.tip"))
	s.setting = part(say("receiving.pattern"), s.order, s.propose, flow, captioned(say("receiving.first"), sides), s.far)
	return s.setting
}

// approving is the part on what is proposed.
func (s *receivingScreen) approving() *fyne.Container {
	w, d := s.w, s.w.desk
	s.proposal = newWords(body, "")
	s.accept = w.button("receiving:accept", "check", say("receiving.accept"), primary, d.AcceptProposal).tipped(say("receiving.accept.tip"))
	no := w.button("receiving:drop", "", say("receiving.drop"), edged, d.DropProposal)
	s.further = w.button("receiving:on", "later", say("receiving.on"), edged, func() { d.ShiftFrom(1) }).tipped(say("receiving.on.tip"))
	s.back = w.button("receiving:back", "earlier", say("receiving.back"), edged, func() { d.ShiftFrom(-1) }).tipped(say("receiving.back.tip"))
	s.out = w.button("receiving:out", "remove", "", edged, d.LeaveOut).tipped(say("receiving.out.tip"))
	s.proposed = part(say("receiving.proposal"), s.proposal, newFlow(6, s.accept, no),
		newWords(caption, say("receiving.wrong")), newColumn(6, s.further, s.back, s.out))
	return s.proposed
}

// mirrored is the part that asks about cameras that say their pictures are mirrored.
func (s *receivingScreen) mirrored() *fyne.Container {
	w, d := s.w, s.w.desk
	s.mirrorWords = newWords(body, "")
	answers := []atlas.Answer{atlas.No, atlas.Yes}
	these, all := newFlow(6), newFlow(6)
	for i, id := range []string{"keep", "turn"} {
		s.mirrorThese[i] = w.button("receiving:mirror:"+id, "", say("receiving.mirror."+id), edged, func() { d.AnswerMirrored(answers[i], false) })
		s.mirrorAll[i] = w.button("receiving:mirrors:"+id, "", "", edged, func() { d.AnswerMirrored(answers[i], true) })
		these.Add(s.mirrorThese[i])
		all.Add(s.mirrorAll[i])
	}
	s.mirror = part(say("receiving.mirror"), s.mirrorWords, these, all)
	return s.mirror
}

// troubled is the list of files that did not come in.
func (s *receivingScreen) troubled() *fyne.Container {
	s.faults, s.twins = newWords(body, ""), newWords(body, "").colored(colorMuted)
	s.troubleHead = newWords(strong, "")
	forget := s.w.button("receiving:forget", "", say("receiving.forget"), edged, s.w.desk.ForgetFaults)
	s.trouble = part(say("receiving.trouble"), s.troubleHead, s.faults, s.twins, newFlow(6, forget))
	return s.trouble
}

func (s *receivingScreen) object() fyne.CanvasObject { return s.box }
func (s *receivingScreen) picture() *pane            { return s.pane }

func (s *receivingScreen) refresh(c bench.Change) {
	if c&^(bench.ViewChanged|bench.PointerChanged|bench.SavedChanged) == 0 {
		return
	}
	d := s.w.desk
	t, in := d.Table(), d.Intake()
	readOnly := d.Lab().ReadOnly
	s.count.set(t.Words)
	s.progress.set(in.Words)
	s.add.setOff(readOnly)
	s.stop.Hidden, s.goOn.Hidden = !in.Running, in.Running || in.Left == 0
	s.goOn.state(say("receiving.go", in.Left), false, readOnly)
	s.onward.Hidden = in.Running || !d.Info(d.Face()).Photo
	if c&^(bench.ViewChanged|bench.PointerChanged|bench.SavedChanged|bench.JobsChanged) != 0 {
		s.showChoice(t, readOnly)
		s.showPattern(t, d.Run(), readOnly)
		s.showMirror(t, readOnly)
		s.showTrouble(in)
	}
	relayDeep(s.box)
	s.panel.relay()
}

func (s *receivingScreen) showChoice(t bench.TableInfo, readOnly bool) {
	s.choice.Hidden = t.Prints == 0 && !t.EdgeTaken
	s.edge.set(t.Edge)
	s.print.set(t.Print)
	switch {
	case t.Prints == 0:
		s.print.set("")
	case t.Chosen == 0:
		s.print.set(say("receiving.choose"))
	}
	s.lay.state(say("receiving.lay"), false, readOnly || t.Chosen == 0 || t.Edge == "" || t.EdgeTaken || t.Proposed)
	s.lay.Hidden = t.Prints == 0 || t.Proposed
	s.look.state(say("receiving.look"), t.Large, t.Prints == 0)
	s.look.Hidden = t.Prints == 0
	s.off.setOff(readOnly)
	s.off.Hidden = !t.EdgeTaken
}

func (s *receivingScreen) showPattern(t bench.TableInfo, r section.Run, readOnly bool) {
	s.setting.Hidden = t.Prints == 0
	for i, b := range s.patterns {
		b.setOn(int(t.Sequence.Pattern) == i)
	}
	for i, b := range s.sides {
		b.state(say("receiving.side", r.FaceWords(t.Sides[i])), t.Sequence.First == t.Sides[i], false)
	}
	s.far.setOn(t.Sequence.FarEnd)
	s.order.set(say("receiving.order", t.Order))
	s.propose.Hidden = t.Proposed
	s.propose.state(say("receiving.propose"), false, readOnly)
	s.proposed.Hidden = !t.Proposed
	s.proposal.set(t.Proposal)
	s.accept.setOff(readOnly)
	none := t.Chosen == 0
	s.further.setOff(none)
	s.back.setOff(none)
	word := "receiving.out"
	if t.Left {
		word = "receiving.in"
	}
	s.out.state(say(word), false, none)
}

func (s *receivingScreen) showMirror(t bench.TableInfo, readOnly bool) {
	s.mirror.Hidden = t.Mirrored == 0
	s.mirrorWords.set(say("receiving.mirror.words", t.Mirrored))
	for i, id := range []string{"keep", "turn"} {
		s.mirrorThese[i].Hidden = t.Chosen == 0
		s.mirrorThese[i].setOff(readOnly)
		s.mirrorAll[i].state(say("receiving.mirrors."+id, t.Mirrored), false, readOnly)
	}
}

// mostTrouble bounds the files named in sight; the head counts them all.
const mostTrouble = 40

func (s *receivingScreen) showTrouble(in bench.Intake) {
	s.trouble.Hidden = len(in.Faults)+len(in.Twins) == 0
	s.troubleHead.setColored(say("receiving.trouble.count", len(in.Faults), len(in.Twins)), theme.ColorNameForeground)
	var named []string
	for _, f := range in.Faults[:min(len(in.Faults), mostTrouble)] {
		named = append(named, say("receiving.fault", f.Name, f.Words))
	}
	s.faults.set(lines(named))
	s.twins.set(lines(in.Twins[:min(len(in.Twins), mostTrouble)]))
}
