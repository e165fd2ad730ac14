package bench

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"sectionary/atlas"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// tableRoom is what is in hand on the receiving table: prints chosen, the edge of the ruler they are meant for, and a
// sequence proposed for approval.
type tableRoom struct {
	chosen   map[string]bool // prints, by key
	at       string          // the print the keyboard is on
	anchor   string          // where a stretch of prints began
	edge     section.Face
	sequence Sequence
	proposal *proposed
	large    *largeLook
}

// largeLook is one print looked at large.
type largeLook struct {
	key     string
	picture *photo.Image
	asked   string // the plate whose preview was asked for
}

// openTable takes up the edge to lay on: the chosen face, else the first that is free.
func (b *Bench) openTable() {
	t := &b.table
	if t.chosen == nil {
		t.chosen = map[string]bool{}
	}
	if _, _, err := b.Run().Depth(t.edge); err == nil && t.edge != (section.Face{}) {
		return
	}
	t.edge = section.Face{}
	if _, taken := b.rule.facts[b.rule.face]; !taken && b.rule.face != (section.Face{}) {
		t.edge = b.rule.face
		return
	}
	for _, f := range b.Run().Faces() {
		if b.empty(f) {
			t.edge = f
			return
		}
	}
}

// tidyTable forgets prints that are no longer on the table.
func (b *Bench) tidyTable(prints []TrayPhoto) {
	there := map[string]bool{}
	for _, p := range prints {
		there[p.key] = true
	}
	t := &b.table
	maps.DeleteFunc(t.chosen, func(key string, _ bool) bool { return !there[key] })
	if !there[t.at] {
		t.at = ""
	}
	if t.large != nil && !there[t.large.key] {
		t.large = nil
	}
	if p := t.proposal; p != nil {
		p.keys = slices.DeleteFunc(p.keys, func(key string) bool { return !there[key] })
		if len(p.keys) == 0 {
			t.proposal = nil
		}
	}
}

// chosenPrints are those chosen, in order.
func (b *Bench) chosenPrints() (out []TrayPhoto) {
	for _, p := range b.Prints() {
		if b.table.chosen[p.key] {
			out = append(out, p)
		}
	}
	return out
}

// choosePrint chooses a print: alone, with add beside those chosen already (or no longer, when it was), with stretch all
// from the last one chosen to it.
func (b *Bench) choosePrint(key string, add, stretch bool) {
	t := &b.table
	switch {
	case stretch && t.anchor != "":
		t.chosen = map[string]bool{}
		in := false
		for _, p := range b.Prints() {
			end := p.key == t.anchor || p.key == key
			if in || end {
				t.chosen[p.key] = true
			}
			if end && t.anchor != key {
				in = !in
			}
		}
	case add:
		if t.chosen[key] {
			delete(t.chosen, key)
		} else {
			t.chosen[key] = true
		}
		t.anchor = key
	default:
		t.chosen = map[string]bool{key: true}
		t.anchor = key
	}
	t.at = key
	if t.proposal == nil {
		b.hint("", false)
	}
	b.tableChanged()
}

// ChooseAllPrints chooses everything on the table.
func (b *Bench) ChooseAllPrints() {
	for _, p := range b.Prints() {
		b.table.chosen[p.key] = true
	}
	b.tableChanged()
}

func (b *Bench) tableChanged() { b.changed(SelectionChanged | ViewChanged) }

// ChooseEdge chooses the edge that prints are laid on from.
func (b *Bench) ChooseEdge(f section.Face) {
	if _, _, err := b.Run().Depth(f); err != nil {
		b.Report(err)
		return
	}
	b.table.edge = f
	if !b.empty(f) { // what lies there can be gone on with, on the bench
		b.ChooseFace(f)
	}
	b.tableChanged()
}

// chooseLaid chooses the first face of the run that was laid on just now, unless the chosen one has a picture already.
func (b *Bench) chooseLaid(on map[string]section.Face) {
	if b.rule.face != (section.Face{}) && !b.empty(b.rule.face) {
		return
	}
	laid := slices.Collect(maps.Values(on))
	for _, f := range b.Run().Faces() {
		if slices.Contains(laid, f) {
			b.ChooseFace(f)
			return
		}
	}
}

// StepEdge goes n edges along the run.
func (b *Bench) StepEdge(n int) {
	all := b.Run().Faces()
	if len(all) == 0 {
		return
	}
	i := slices.Index(all, b.table.edge) // -1: before the first
	b.ChooseEdge(all[min(max(i+n, 0), len(all)-1)])
}

// sequence is the one in force, its first side always one of the run's.
func (b *Bench) sequence() Sequence {
	s, r := b.table.sequence, b.Run()
	if s.First != r.First && s.First != r.First.Opposite() {
		s.First = s.UsualFirst(r)
	}
	return s
}

// SetSequence takes another pattern; a proposal follows it.
func (b *Bench) SetSequence(s Sequence) {
	if s.Pattern != b.sequence().Pattern {
		s.First = section.UnknownFacing // each pattern has its own usual one
	}
	b.table.sequence = s
	b.tableChanged()
}

// freeFrom lists the free faces of the sequence from a face on.
func (b *Bench) freeFrom(start section.Face) []section.Face {
	faces := from(b.sequence().Faces(b.Run()), start)
	return slices.DeleteFunc(slices.Clone(faces), func(f section.Face) bool { return !b.empty(f) })
}

// LayOn lays prints on a face and, when there are several, on the free faces of the sequence after it, in one step. A
// face that has a picture is refused.
func (b *Bench) LayOn(f section.Face, prints []TrayPhoto) error {
	switch {
	case len(prints) == 0:
		return fmt.Errorf("%w: %s", ErrForm, Word("table.choose"))
	case f == (section.Face{}):
		return fmt.Errorf("%w: %s", ErrForm, Word("table.edge.choose"))
	case !b.empty(f):
		return fmt.Errorf("%w: %s", atlas.ErrFaceTaken, b.Run().Name(f))
	}
	if _, _, err := b.Run().Depth(f); err != nil {
		return err
	}
	faces := b.freeFrom(f)
	if len(faces) == 0 || faces[0] != f { // the sequence does not come by this face
		faces = append([]section.Face{f}, faces...)
	}
	on := map[string]section.Face{}
	for i, p := range prints {
		if p.ID == "" {
			return fmt.Errorf("%w: %s", ErrForm, Word("table.coming"))
		}
		if i < len(faces) {
			on[p.ID] = faces[i]
		}
	}
	name := Word("step.place", b.Run().Name(f))
	if len(on) > 1 {
		name = Word("step.pattern", len(on))
	}
	if err := b.lay(name, on); err != nil {
		return err
	}
	b.chooseLaid(on)
	b.afterLaying(len(on), faces)
	return nil
}

// afterLaying says what was done, and goes on to the next free edge.
func (b *Bench) afterLaying(n int, faces []section.Face) {
	b.table.chosen = map[string]bool{}
	if n < len(faces) {
		b.table.edge = faces[n]
	}
	b.hint(count("table.laid", n, len(b.lab.tray)), false)
	b.tableChanged()
}

// LayChosen lays the chosen prints from the chosen edge on.
func (b *Bench) LayChosen() {
	if !b.empty(b.table.edge) && b.table.edge != (section.Face{}) {
		b.layOnTaken(b.table.edge, b.chosenPrints())
		return
	}
	b.mend(b.LayOn(b.table.edge, b.chosenPrints()))
}

// mend shows what a person can mend at once as a hint, and everything else as a message.
func (b *Bench) mend(err error) {
	if err == nil {
		return
	}
	if _, words, ok := strings.Cut(err.Error(), ErrForm.Error()+": "); ok {
		b.hint(upperFirst(words), true)
		return
	}
	b.Report(err)
}

// edgeTaken says what can be done about an edge that has a picture already.
func (b *Bench) edgeTaken(f section.Face) {
	b.hint(Word("table.taken", upperFirst(b.Run().Name(f))), true)
}

// layOnTaken offers one print dropped on a face that has a picture as that face's new picture; several are refused.
func (b *Bench) layOnTaken(f section.Face, prints []TrayPhoto) {
	if len(prints) != 1 || prints[0].ID == "" || b.pictures() == nil || b.readOnly() {
		b.edgeTaken(f)
		return
	}
	b.ChooseFace(f)
	b.OfferAgain(func() { b.NewPictureFrom(prints[0].ID) }, nil)
}

// TakeOff lays the picture of the chosen edge back on the table.
func (b *Bench) TakeOff() {
	b.takeOff(b.table.edge)
}

func (b *Bench) takeOff(f section.Face) {
	x, there := b.rule.facts[f]
	if !there {
		b.hint(Word("table.nothing.there"), true)
		return
	}
	b.mend(b.lay(Word("step.unplace", b.Run().Name(f)), map[string]section.Face{x.plate: {}}))
}

// moveEdge lays the picture of one edge on another.
func (b *Bench) moveEdge(from, to section.Face) {
	x, there := b.rule.facts[from]
	switch {
	case !there || from == to:
	case !b.empty(to):
		b.edgeTaken(to)
	default:
		b.mend(b.lay(Word("step.place", b.Run().Name(to)), map[string]section.Face{x.plate: to}))
	}
}

// backFromTable is one step back: lets go, puts the large look and the proposal away, forgets what is chosen, goes home.
func (b *Bench) backFromTable() {
	t := &b.table
	switch {
	case b.receiving.dropHold():
	case t.large != nil:
		b.LookLarge()
	case t.proposal != nil:
		b.DropProposal()
	case len(t.chosen) > 0:
		t.chosen, t.at, t.anchor = map[string]bool{}, "", ""
		b.tableChanged()
	default:
		b.enter(RunScreen)
	}
}

// LookLarge shows the print the keyboard is on large, or puts it back.
func (b *Bench) LookLarge() {
	t := &b.table
	if t.large != nil {
		t.large = nil
		b.tableChanged()
		return
	}
	if prints := b.Prints(); t.at == "" && len(prints) > 0 {
		b.choosePrint(prints[0].key, false, false)
	}
	if t.at != "" {
		t.large = &largeLook{key: t.at}
		b.wantLarge()
	}
	b.tableChanged()
}

// wantLarge reads the preview of the print looked at.
func (b *Bench) wantLarge() {
	l := b.table.large
	p, ok := b.print(l.key)
	if !ok || p.ID == "" || l.asked == p.ID {
		return
	}
	l.asked = p.ID
	lib, id := b.lab.lib, p.ID
	b.start(Word("job.photo"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		m, err := lib.Preview(ctx, id)
		return func() {
			if err == nil && b.table.large == l {
				l.picture = photo.NewImage(m)
				b.tableChanged()
			}
		}, err
	})
}

// print finds a print by its key.
func (b *Bench) print(key string) (TrayPhoto, bool) {
	prints := b.Prints()
	i := slices.IndexFunc(prints, func(p TrayPhoto) bool { return p.key == key })
	if i < 0 {
		return TrayPhoto{}, false
	}
	return prints[i], true
}

// AnswerMirrored says of the chosen prints, or of all on the table, whether they show the face mirrored. It asks only of
// those whose tag says so.
func (b *Bench) AnswerMirrored(a atlas.Answer, all bool) {
	var ids []string
	for _, p := range b.Prints() {
		if p.Mirrored && p.ID != "" && (all || b.table.chosen[p.key]) {
			ids = append(ids, p.ID)
		}
	}
	if len(ids) == 0 || b.writable() != nil {
		return
	}
	lib := b.lab.lib
	b.start(Word("job.mirrored"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		var answered []string
		var err error
		for i, id := range ids {
			if err = answerMirrored(lib, id, a); err != nil || ctx.Err() != nil {
				break
			}
			answered = append(answered, id)
			tell(i+1, len(ids))
		}
		return func() {
			for i := range b.lab.tray {
				if slices.Contains(answered, b.lab.tray[i].ID) {
					b.lab.tray[i].Mirrored = a == atlas.Unanswered
					b.lab.remember(b.lab.tray[i])
				}
			}
			b.changed(LabChanged)
		}, err
	})
}

func answerMirrored(lib library, id string, a atlas.Answer) error {
	p, err := lib.Plate(id)
	if err == nil && p.Mirrored != a {
		p.Mirrored = a
		_, err = lib.Save(p)
	}
	return err
}
