package bench

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
)

// plate is the face as whoever is at work sees it: a second reader sees the own outlines in place of the first's, so that
// everything that draws, lists, measures or changes outlines works on them.
func (d *faceDoc) plate() atlas.Plate {
	p := d.hist.Now()
	if d.blind && p.Second != nil {
		p.Labels, p.History = p.Second.Labels, p.Second.History
	}
	return p
}

// full puts a changed face, as a second reader sees it, back beside the first reader's outlines.
func (d *faceDoc) full(seen atlas.Plate) atlas.Plate {
	if !d.blind || seen.Second == nil {
		return seen
	}
	now, second := d.hist.Now(), *seen.Second
	second.Labels, second.History = seen.Labels, seen.History
	seen.Second, seen.Labels, seen.History = &second, now.Labels, now.History
	return seen
}

// ReadingState tells about the second reading of the face.
type ReadingState struct {
	There, Blind, Ended, Comparing bool // Blind: it is being drawn now
	Reader                         string
	Outlines                       int
}

// Reading tells about the second reading of the face.
func (b *Bench) Reading() (s ReadingState) {
	if b.doc == nil {
		return s
	}
	p := b.doc.hist.Now()
	if p.Second == nil {
		return s
	}
	return ReadingState{There: true, Blind: b.doc.blind, Ended: !p.Second.Ended.IsZero(), Comparing: b.draw.compared != nil,
		Reader: p.Second.Reader, Outlines: p.Second.Labels.Len()}
}

// BeginReading lets the second person outline the face without seeing what is there, or go on with it. Whoever drew any of the
// outlines cannot read it again (annotate.ErrSamePerson). A reading that was ended, or holds nothing, makes room for the new one.
func (b *Bench) BeginReading() error {
	if err := b.nameable(); err != nil {
		return err
	}
	p := b.doc.hist.Now()
	going := p.Second != nil && p.Second.Ended.IsZero() && (p.Second.Labels.Len() > 0 || strings.EqualFold(b.draw.signer, p.Second.Reader))
	reader := b.draw.signer
	switch {
	case b.doc.blind:
		return nil
	case reader == "":
		return fmt.Errorf("%w: %s", ErrForm, Word("second.who"))
	case going && !strings.EqualFold(reader, p.Second.Reader):
		return fmt.Errorf("%w: %s", ErrForm, Word("second.other", p.Second.Reader))
	case p.Labels.Len() == 0:
		return fmt.Errorf("%w: %s", ErrForm, Word("second.nothing"))
	}
	for x := range p.Labels.All() {
		if strings.EqualFold(reader, strings.TrimSpace(x.Author)) {
			return annotate.ErrSamePerson
		}
	}
	b.stopComparing()
	if !going {
		err := b.edit(Word("step.second"), "", func(p atlas.Plate) (atlas.Plate, error) {
			p.Second = &atlas.Reading{Reader: reader, Begun: b.o.Now().UTC().Round(0)}
			return p, nil
		})
		if err != nil {
			return err
		}
	}
	b.blind(true)
	b.hint(Word("second.begun", reader), false)
	return nil
}

// blind takes up the second reading or lays it down. No undo leads from one reader's steps to the other's.
func (b *Bench) blind(on bool) {
	d := b.doc
	if d == nil || d.blind == on {
		return
	}
	b.dropDrafts()
	d.blind, b.draw.chosen, b.draw.hovered, b.draw.point = on, "", "", noPoint
	d.hist.Settle()
	b.changed(PlateChanged | SelectionChanged | ScanChanged)
}

// EndReading ends the second reading and compares. It fails with annotate.ErrNotReady while an outline lacks anything.
func (b *Bench) EndReading() error {
	if b.doc == nil || !b.doc.blind {
		return fmt.Errorf("%w: %s", ErrForm, Word("second.notreading"))
	}
	p := b.doc.plate()
	lacking := 0
	for x := range p.Labels.All() {
		if !x.Counts() {
			lacking++
		}
	}
	switch {
	case p.Labels.Len() == 0:
		return fmt.Errorf("%w: %s", annotate.ErrNotReady, Word("second.empty"))
	case lacking > 0:
		return fmt.Errorf("%w: %s", annotate.ErrNotReady, count("second.lacking", lacking))
	}
	err := b.edit(Word("step.second.end"), "", func(p atlas.Plate) (atlas.Plate, error) {
		second := *p.Second
		second.Ended = b.o.Now().UTC().Round(0)
		p.Second = &second
		return p, nil
	})
	if err != nil {
		return err
	}
	b.blind(false)
	return b.CompareReadings()
}

// PauseReading shows the first reader's outlines again; the second reading can be gone on with.
func (b *Bench) PauseReading() { b.blind(false) }

// ReadAgain is the one key of the second reading: begins it, ends it, shows or hides the comparison.
func (b *Bench) ReadAgain() {
	switch s := b.Reading(); {
	case s.Blind:
		b.Report(b.EndReading())
	case s.Comparing:
		b.stopComparing()
	case s.Ended:
		b.Report(b.CompareReadings())
	default:
		b.Report(b.BeginReading())
	}
}

// CompareRow is one structure as both readers drew it, or as one did.
type CompareRow struct {
	First, Second string // ids; one is empty when only one reader drew it
	Name, Other   string // as the first and as the second reader names it, with its side
	Measure       string // overlap and gaps, in words
	Differs       string // what differs, in words; "" when nothing does
	Agreed        bool   // signed by the second reader
	Discuss       bool
	Chosen        bool
	Dice          float64
	Mean, Most    float64 // mm
	CanAgree      bool
}

// CompareReadings shows both readings beside each other. It fails with ErrForm before the second is ended or without a scale,
// for the gaps are told in mm.
func (b *Bench) CompareReadings() error {
	s := b.Reading()
	switch {
	case !s.Ended || s.Blind:
		return fmt.Errorf("%w: %s", ErrForm, Word("second.notended"))
	}
	if _, ok := b.hasScale(); !ok {
		return fmt.Errorf("%w: %s", ErrForm, Word("carry.noscale"))
	}
	b.SetTool(ToolPan)
	return b.compare()
}

// compare measures anew how the readings agree.
func (b *Bench) compare() error {
	p := b.doc.hist.Now()
	rows, err := annotate.CompareReaders(p.Labels, p.Second.Labels, p.Calibration.MM)
	if err != nil {
		return fmt.Errorf("bench: comparing the readings: %w", err)
	}
	b.draw.compared = &comparison{rows: rows}
	if len(rows) > 0 {
		b.draw.chosen = rows[0].First
	}
	b.changed(PlateChanged | SelectionChanged)
	return nil
}

// comparison is what stands beside each other, and which row is looked at.
type comparison struct {
	rows []annotate.Pairing
	at   int
}

func (b *Bench) stopComparing() {
	if b.draw.compared != nil {
		b.draw.compared = nil
		b.changed(PlateChanged | SelectionChanged)
	}
}

// CompareRows lists how the readings agree, the closest first, then what only one reader drew.
func (b *Bench) CompareRows() []CompareRow {
	k := b.draw.compared
	if k == nil || b.doc == nil || b.doc.hist.Now().Second == nil {
		return nil
	}
	p := b.doc.hist.Now()
	out := make([]CompareRow, len(k.rows))
	for i, x := range k.rows {
		out[i] = b.compareRow(p, x)
		out[i].Chosen = i == k.at
	}
	return out
}

func (b *Bench) compareRow(p atlas.Plate, x annotate.Pairing) CompareRow {
	r := CompareRow{First: x.First, Second: x.Second, Dice: x.Agreement.Dice, Mean: x.Agreement.MeanGap, Most: x.Agreement.MaxGap}
	first, one := p.Labels.Find(x.First)
	second, two := p.Second.Labels.Find(x.Second)
	if one {
		r.Name, r.Discuss = b.sidedName(first), first.Sure == annotate.Discuss
		r.Agreed = first.Signed != nil && strings.EqualFold(first.Signed.By, p.Second.Reader)
	}
	if two {
		r.Other = b.sidedName(second)
	}
	switch {
	case !two:
		r.Differs = Word("second.only.first")
		return r
	case !one:
		r.Differs = Word("second.only.second", p.Second.Reader)
		return r
	}
	r.Measure = Word("second.measure", r.Dice, r.Mean, r.Most)
	var differs []string
	if first.Term != second.Term {
		differs = append(differs, Word("second.name"))
	}
	if first.Side != second.Side {
		differs = append(differs, Word("second.side"))
	}
	r.Differs = strings.Join(differs, ", ")
	r.CanAgree = r.Differs == "" && !r.Agreed && !r.Discuss
	return r
}

func (b *Bench) sidedName(x annotate.Label) string {
	name := Word("label.unnamed")
	if t, ok := b.term(x.Term); ok {
		name = b.shownName(t)
	}
	if x.Side == annotate.Left || x.Side == annotate.Right {
		name += ", " + x.Side.String()
	}
	return name
}

// ChooseCompared looks at one row of the comparison.
func (b *Bench) ChooseCompared(row int) {
	if k := b.draw.compared; k != nil && row >= 0 && row < len(k.rows) {
		k.at = row
		b.draw.chosen, b.draw.point = k.rows[row].First, noPoint
		b.changed(SelectionChanged | PlateChanged)
	}
}

// compared is the row looked at; ok is false while nothing is compared.
func (b *Bench) comparedRow() (x annotate.Pairing, ok bool) {
	k := b.draw.compared
	if k == nil || b.doc == nil || k.at >= len(k.rows) || b.doc.hist.Now().Second == nil {
		return x, false
	}
	return k.rows[k.at], true
}

// AgreeCompared signs the outline looked at in the second reader's name. It fails with annotate.ErrNotReady while names or sides
// differ, or the first reader's is up for discussion.
func (b *Bench) AgreeCompared() error {
	x, ok := b.comparedRow()
	if !ok {
		return fmt.Errorf("%w: %s", ErrForm, Word("second.notended"))
	}
	p := b.doc.hist.Now()
	if x.First == "" || x.Second == "" || !x.SameTerm || !x.SameSide {
		return fmt.Errorf("%w: %s", annotate.ErrNotReady, Word("second.differ"))
	}
	if first, _ := p.Labels.Find(x.First); first.Sure == annotate.Discuss {
		return fmt.Errorf("%w: %s", annotate.ErrNotReady, Word("second.still"))
	}
	by := annotate.Stamp{Author: p.Second.Reader, At: b.o.Now()}
	err := b.editLabels(Word("step.agree"), "", func(l annotate.Labels) (annotate.Labels, error) { return l.Sign(x.First, by) })
	b.nextCompared(err)
	return err
}

// DiscussCompared keeps both readings of the row looked at with "discuss": a label with it enters no exam. What only the second
// reader drew comes onto the face so.
func (b *Bench) DiscussCompared() error {
	x, ok := b.comparedRow()
	if !ok {
		return fmt.Errorf("%w: %s", ErrForm, Word("second.notended"))
	}
	err := b.edit(Word("step.discuss"), "", func(p atlas.Plate) (atlas.Plate, error) {
		second := *p.Second
		by := annotate.Stamp{Author: second.Reader, At: b.o.Now()}
		var err error
		if old, there := second.Labels.Find(x.Second); there {
			if second.Labels, err = second.Labels.Judge(x.Second, by, annotate.Discuss); err != nil {
				return p, err
			}
			if x.First == "" {
				old.Sure, old.Signed, old.Changed = annotate.Discuss, nil, by.At
				if p.Labels, err = p.Labels.Add(old); err != nil {
					return p, err
				}
			}
		}
		if first, there := p.Labels.Find(x.First); there {
			by.Author = first.Author // it stays the first reader's outline
			if p.Labels, err = p.Labels.Judge(x.First, by, annotate.Discuss); err != nil {
				return p, err
			}
		}
		p.Second = &second
		return p, nil
	})
	b.nextCompared(err)
	return err
}

// nextCompared goes to the row after the one settled.
func (b *Bench) nextCompared(err error) {
	if k := b.draw.compared; err == nil && k != nil {
		b.ChooseCompared(min(k.at+1, len(k.rows)-1))
	}
}

// stepCompared goes n rows on.
func (b *Bench) stepCompared(n int) {
	if k := b.draw.compared; k != nil {
		b.ChooseCompared(k.at + n)
	}
}

// recompare keeps the comparison in keeping with the face after a step, undo included.
func (b *Bench) recompare() {
	k := b.draw.compared
	if k == nil {
		return
	}
	if s := b.Reading(); !s.Ended {
		b.draw.compared = nil
		return
	}
	place := map[string]int{} // rows stay where they were
	for i, x := range k.rows {
		place[x.First+"/"+x.Second], place["/"+x.Second] = i, i
	}
	was := b.draw.chosen
	if err := b.compare(); err != nil {
		b.draw.compared = nil
		return
	}
	now := b.draw.compared
	slices.SortStableFunc(now.rows, func(x, y annotate.Pairing) int { return placeOf(place, x) - placeOf(place, y) })
	now.at = min(k.at, max(0, len(now.rows)-1))
	b.draw.chosen = was
}

func placeOf(place map[string]int, x annotate.Pairing) int {
	if i, ok := place[x.First+"/"+x.Second]; ok {
		return i
	}
	if i, ok := place["/"+x.Second]; ok && x.Second != "" {
		return i
	}
	return len(place)
}

// readAt is when a second reading was begun and ended, in words.
func readAt(t time.Time) string { return t.Format("2 January 2006") }

// ReadingWords is one line about the second reading of the face.
func (b *Bench) ReadingWords() string {
	s := b.Reading()
	if !s.There {
		return Word("second.none")
	}
	p := b.doc.hist.Now()
	switch {
	case s.Blind:
		return Word("second.blind", s.Reader)
	case s.Ended:
		return count("second.ended", s.Outlines, s.Reader, readAt(p.Second.Ended))
	}
	return count("second.open", s.Outlines, s.Reader, readAt(p.Second.Begun))
}

// needCompared says why there is no row of a comparison to settle.
func needCompared(b *Bench) string {
	_, ok := b.comparedRow()
	return when(!ok, "second.notended")
}

// One key steps through points or, in a comparison, rows; one keeps what was carried or agrees.

func needRow(b *Bench) string {
	if b.draw.compared != nil || b.draw.tool == ToolBorder && b.doc != nil {
		return ""
	}
	return needChosen(b)
}

func (b *Bench) nextPart(n int) {
	if b.draw.compared != nil {
		b.stepCompared(n)
		return
	}
	if b.draw.tool == ToolBorder {
		b.nextEdge(n)
		return
	}
	b.NextPoint(n)
}

func needKept(b *Bench) string {
	if b.draw.compared != nil {
		return ""
	}
	return needCarried(b)
}

func (b *Bench) keepKey() {
	if b.draw.compared != nil {
		b.Report(b.AgreeCompared())
		return
	}
	b.KeepCarried()
}
