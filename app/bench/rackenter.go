package bench

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"sectionary/atlas"
)

// enterLines writes lines into the ledger, all or none, and says what was written.
func (b *Bench) enterLines(who string, lines []atlas.LedgerEntry) error {
	lib := b.keeper()
	if lib == nil {
		return ErrNoLab
	}
	for i := range lines {
		lines[i].Who = who
	}
	done, err := lib.EnterAll(context.Background(), lines...)
	if err != nil {
		return err
	}
	if err := b.readLab(); err != nil { // an agreement says when its donor went back
		return err
	}
	b.readRack()
	b.rack.ledger.line, b.running.reveal = b.rack.custody.Len(), true
	if len(done) == 0 {
		return nil
	}
	last := done[len(done)-1]
	words := b.lineWords(atlas.Past{LedgerEntry: last}, true)
	if len(done) > 1 {
		b.tell(Word("rack.written.many", len(done), done[0].Number, last.Number), false)
	} else {
		b.tell(Word("rack.written", last.Number, words), false)
	}
	if last.ClockBack {
		b.rack.said += " " + Word("rack.written.clock")
	}
	return nil
}

func one(e atlas.LedgerEntry) ([]atlas.LedgerEntry, error) { return []atlas.LedgerEntry{e}, nil }

func enterMove(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error) {
	return one(atlas.LedgerEntry{Deed: atlas.Move, Piece: b.rack.chosen, To: f.value("place"), Why: f.value("why")})
}

func enterLend(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error) {
	due, err := dayOf(f, "until")
	if err != nil {
		return nil, err
	}
	return one(atlas.LedgerEntry{Deed: atlas.Lend, Piece: b.rack.chosen, To: f.value("borrower"), Due: due, Why: f.value("why")})
}

func enterBack(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error) {
	return one(atlas.LedgerEntry{Deed: atlas.Back, Piece: b.rack.chosen, To: f.value("place"), Why: f.value("why")})
}

func enterLook(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error) {
	seen := func(id string) atlas.Seen {
		return []atlas.Seen{atlas.NotSeen, atlas.Good, atlas.Poor}[max(0, f.option(id))]
	}
	return one(atlas.LedgerEntry{Deed: atlas.Look, Piece: b.rack.chosen, Why: f.value("why"),
		Condition: &atlas.Condition{Wetting: seen("wetting"), Wrap: seen("wrap"), Mould: seen("mould")}})
}

func enterWeigh(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error) {
	g, err := gramsOf(f, "mass")
	if err != nil {
		return nil, err
	}
	why := f.value("why")
	if p, _ := b.rack.piece(); p.Mass == 0 && why == "" {
		why = Word("rack.why.first") // nothing differs yet
	}
	return one(atlas.LedgerEntry{Deed: atlas.Weigh, Piece: b.rack.chosen, Mass: g, Why: why})
}

func splitFields(b *Bench) []RackField {
	p, _ := b.rack.piece()
	halves := strings.Split(Word("rack.halves", p.Name, p.Name), "\n")
	here := place(b)
	here.Value = b.placeName(p.Place)
	return []RackField{text("first", halves[0])(b), beside(text("first.mass", "")(b)), text("second", halves[1])(b), beside(text("second.mass", "")(b)),
		text("third", "")(b), beside(text("third.mass", "")(b)), text("lost", "")(b), here, why("rack.why.cut")(b), who(b)}
}

// placeName is the name by which a place is written in a form.
func (b *Bench) placeName(place string) string {
	if h, ok := b.rack.custody.Holder(place); ok {
		return h.Name
	}
	return place
}

func enterSplit(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error) {
	e := atlas.LedgerEntry{Deed: atlas.Split, Piece: b.rack.chosen, To: f.value("place"), Why: f.value("why")}
	var err error
	for _, id := range []string{"first", "second", "third"} {
		m := atlas.Made{Kind: atlas.Part, Name: f.value(id)}
		if m.Mass, err = gramsOf(f, id+".mass"); err != nil {
			return nil, err
		}
		if m.Name != "" {
			e.Made = append(e.Made, m)
		}
	}
	if e.Lost, err = gramsOf(f, "lost"); err != nil {
		return nil, err
	}
	return one(e)
}

// trimKinds are what can be taken off a piece that stays.
var trimKinds = []atlas.PieceKind{atlas.Trimmings, atlas.Sample, atlas.Part}

func trimFields(b *Bench) []RackField {
	p, _ := b.rack.piece()
	here := place(b)
	here.Value = b.placeName(p.Place)
	return []RackField{kindField(trimKinds), text("name", "")(b), beside(text("mass", "")(b)), text("lost", "")(b), here, why("rack.why.trim")(b), who(b)}
}

func kindField(kinds []atlas.PieceKind) RackField {
	f := RackField{ID: "kind", Caption: Word("field.kind")}
	for _, k := range kinds {
		f.Options = append(f.Options, Word("kind."+string(k)))
	}
	f.Value = f.Options[0]
	return f
}

func enterTrim(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error) {
	m, err := madeOf(f, trimKinds)
	if err != nil {
		return nil, err
	}
	if p, _ := b.rack.piece(); f.value("name") == "" {
		m.Name = Word("rack.of", Word("kind."+string(m.Kind)), p.Name)
	}
	lost, err := gramsOf(f, "lost")
	if err != nil {
		return nil, err
	}
	return one(atlas.LedgerEntry{Deed: atlas.Trim, Piece: b.rack.chosen, To: f.value("place"), Why: f.value("why"), Lost: lost, Made: []atlas.Made{m}})
}

func madeOf(f *RackForm, kinds []atlas.PieceKind) (m atlas.Made, err error) {
	m.Kind = kinds[max(0, f.option("kind"))]
	if m.Name = f.value("name"); m.Name == "" {
		m.Name = Word("kind." + string(m.Kind))
	}
	m.Mass, err = gramsOf(f, "mass")
	return m, err
}

func enterMissing(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error) {
	return one(atlas.LedgerEntry{Deed: atlas.Miss, Piece: b.rack.chosen, Why: f.value("why")})
}

func enterDiscard(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error) {
	return one(atlas.LedgerEntry{Deed: atlas.Discard, Piece: b.rack.chosen, Why: f.value("why")})
}

// slabsToCome lists the slabs of the chosen run, or of all runs of its donor, that never came in: as they would be made.
func (b *Bench) slabsToCome(all bool) (out []atlas.Made) {
	type key struct {
		run  string
		slab int
	}
	in, chosen := map[key]bool{}, b.Run()
	for _, p := range b.rack.custody.Pieces(chosen.Donor) {
		if p.Kind == atlas.SlabPiece {
			in[key{p.Run, p.Slab}] = true
		}
	}
	for _, run := range b.lab.runs {
		if run.Donor != chosen.Donor || (!all && run.ID != chosen.ID) {
			continue
		}
		for _, s := range run.Slabs {
			if !in[key{run.ID, s.Number}] {
				out = append(out, atlas.Made{Kind: atlas.SlabPiece, Name: Word("rack.slab", run.Part, s.Number), Run: run.ID, Slab: s.Number})
			}
		}
	}
	return out
}

func takeInFields(b *Bench) []RackField {
	this, all := len(b.slabsToCome(false)), len(b.slabsToCome(true))
	out := []RackField{text("masses", "")(b), text("trimmings", "")(b), beside(text("debris", "")(b)), place(b), who(b)}
	if all > this {
		o := []string{Word("field.which.this", this), Word("field.which.all", all)}
		out = append([]RackField{{ID: "which", Caption: Word("field.which"), Options: o, Value: o[0]}}, out...)
	}
	return out
}

// enterTakeIn makes a piece of every slab that is not one yet, with the pots that go with them.
func enterTakeIn(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error) {
	run, slabs := b.Run(), b.slabsToCome(f.option("which") == 1)
	given := strings.FieldsFunc(f.value("masses"), func(r rune) bool { return r == ' ' || r == ';' || r == '\n' || r == '\t' })
	if len(given) != 0 && len(given) != len(slabs) {
		return nil, badField("masses", len(given), len(slabs))
	}
	var out []atlas.LedgerEntry
	put := func(m atlas.Made) {
		out = append(out, atlas.LedgerEntry{Deed: atlas.Receive, Donor: run.Donor, To: f.value("place"), Made: []atlas.Made{m}})
	}
	for i, m := range slabs {
		if len(given) > 0 {
			g, err := parseGrams(given[i])
			if err != nil {
				return nil, err
			}
			m.Mass = g
		}
		put(m)
	}
	for _, pot := range []atlas.PieceKind{atlas.Trimmings, atlas.Debris} {
		if f.value(string(pot)) == "" {
			continue
		}
		g, err := gramsOf(f, string(pot))
		if err != nil {
			return nil, err
		}
		put(atlas.Made{Run: run.ID, Kind: pot, Name: Word("rack.pot."+string(pot), run.Part), Mass: g})
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("%w: %s", ErrForm, Word("rack.allin"))
	}
	return out, nil
}

func pieceFields(b *Bench) []RackField {
	return []RackField{kindField(atlas.PieceKinds[1:]), text("name", "")(b), beside(text("mass", "")(b)), place(b), whyMaybe(b), who(b)}
}

func enterPiece(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error) {
	m, err := madeOf(f, atlas.PieceKinds[1:])
	if err != nil {
		return nil, err
	}
	m.Run = b.Run().ID
	return one(atlas.LedgerEntry{Deed: atlas.Receive, Donor: b.Run().Donor, To: f.value("place"), Why: f.value("why"), Made: []atlas.Made{m}})
}

func enterShelf(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error) {
	return one(atlas.LedgerEntry{Deed: atlas.Provide, To: f.value("room"), Made: []atlas.Made{{Kind: atlas.ShelfKind, Name: f.value("name")}}})
}

func boxFields(b *Bench) []RackField {
	kept := strings.Split(Word("field.kept.options"), "\n")
	return []RackField{text("name", "")(b), shelfField(b), {ID: "kept", Caption: Word("field.kept"), Options: kept, Value: kept[0]}, who(b)}
}

func enterBox(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error) {
	e := atlas.LedgerEntry{Deed: atlas.Provide, To: f.value("shelf"), Made: []atlas.Made{{Kind: atlas.BoxKind, Name: f.value("name")}}}
	if f.option("kept") == 0 {
		e.Donor = b.Run().Donor
	}
	return one(e)
}

func enterHold(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error) {
	return one(atlas.LedgerEntry{Deed: atlas.Keep, Donor: b.Run().Donor, Why: f.value("why")})
}

// enterLift lifts the oldest hold.
func enterLift(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error) {
	holds := b.rack.custody.Holds(b.Run().Donor)
	if len(holds) == 0 {
		return nil, fmt.Errorf("%w: %s", ErrForm, Word("deed.notnow"))
	}
	return one(atlas.LedgerEntry{Deed: atlas.Lift, Donor: b.Run().Donor, Line: holds[0].Line, Why: f.value("why")})
}

func enterReady(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error) {
	return one(atlas.LedgerEntry{Deed: atlas.Ready, Donor: b.Run().Donor, Why: f.value("why")})
}

func enterReturn(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error) {
	return one(atlas.LedgerEntry{Deed: atlas.Return, Donor: b.Run().Donor, Why: f.value("why")})
}

func undoFields(b *Bench) []RackField {
	return []RackField{text("line", fmt.Sprint(b.rack.ledger.line))(b), why()(b), who(b)}
}

func enterUndo(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error) {
	n, err := strconv.Atoi(f.value("line")) // all of it: half a number would take back another line
	if err != nil {
		return nil, badField("line", f.value("line"))
	}
	return one(atlas.LedgerEntry{Deed: atlas.Undo, Line: n, Why: f.value("why")})
}
