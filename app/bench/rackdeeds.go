package bench

import "sectionary/atlas"

// deed is one row of the table of all that can be entered. Its words are "deed.ID" and "deed.ID.words".
type deed struct {
	id, group string
	fits      func(k *rackRoom) bool // with what is chosen; nil: always
	fields    func(b *Bench) []RackField
	cards     []string
	enter     func(b *Bench, f *RackForm) ([]atlas.LedgerEntry, error)
	do        func(b *Bench, f *RackForm) error // for what is no line of the ledger
}

var deedTable []deed

func init() { // the table and what it calls name each other
	deedTable = []deed{
		{id: "move", group: "thing", fits: movable, fields: fields(place, why("rack.why.move"), who), cards: []string{"lifting"}, enter: enterMove},
		{id: "lend", group: "thing", fits: pieceIn, fields: fields(borrower, until, why("rack.why.lend"), who), enter: enterLend},
		{id: "back", group: "thing", fits: pieceLent, fields: fields(placeBefore, whyMaybe, who), enter: enterBack},
		{id: "look", group: "thing", fits: lookable, fields: fields(aspect("wetting"), aspect("wrap"), aspect("mould"), whyMaybe, who), cards: []string{"mould"}, enter: enterLook},
		{id: "weigh", group: "thing", fits: pieceIn, fields: fields(text("mass", ""), why("rack.why.weigh"), who), enter: enterWeigh},
		{id: "split", group: "thing", fits: pieceIn, fields: splitFields, cards: []string{"blades", "saw"}, enter: enterSplit},
		{id: "trim", group: "thing", fits: pieceIn, fields: trimFields, cards: []string{"blades", "fixatives"}, enter: enterTrim},
		{id: "missing", group: "thing", fits: pieceHere, fields: fields(why(), who), enter: enterMissing},
		{id: "discard", group: "thing", fits: isHolder, fields: fields(why(), who), enter: enterDiscard},
		{id: "tags", group: "thing", do: printTags},
		{id: "history", group: "thing", do: printHistory},

		{id: "takein", group: "donor", fits: notReturned, fields: takeInFields, cards: []string{"lifting", "fixatives"}, enter: enterTakeIn},
		{id: "piece", group: "donor", fits: notReturned, fields: pieceFields, cards: []string{"lifting", "fixatives"}, enter: enterPiece},
		{id: "newshelf", group: "donor", fields: fields(text("name", ""), text("room", ""), who), enter: enterShelf},
		{id: "newbox", group: "donor", fields: boxFields, enter: enterBox},
		{id: "count", group: "donor", fields: fields(codes), do: doCount},
		{id: "hold", group: "donor", fits: notReturned, fields: fields(why(), who), enter: enterHold},
		{id: "lift", group: "donor", fits: onHold, fields: fields(why(), who), enter: enterLift},
		{id: "extend", group: "donor", fields: extendFields, do: doExtend},
		{id: "ready", group: "donor", fits: notReady, fields: fields(whyMaybe, who), enter: enterReady},
		{id: "return", group: "donor", fits: isReady, fields: fields(whyMaybe, who), cards: []string{"lifting"}, enter: enterReturn},
		{id: "returnlist", group: "donor", do: printReturnList},
		{id: "alltags", group: "donor", do: printAllTags},

		{id: "copy", group: "lab", fields: fields(folder), do: doCopy},
		{id: "backup", group: "lab", do: doBackup},
		{id: "restore", group: "lab", fields: restoreFields, do: doRestore},
		{id: "verify", group: "lab", do: doVerify},
		{id: "calendar", group: "lab", do: writeCalendar},
		{id: "rules", group: "lab", fields: rulesFields, do: doRules},
	}
}

// undoForm takes a line of the ledger back; it belongs to the ledger, not to a thing.
var undoForm = deed{id: "undo", group: "line", fields: undoFields, enter: enterUndo}

// Which deeds fit what is chosen.

func (k *rackRoom) piece() (atlas.Piece, bool) { return k.custody.Piece(k.chosen) }

func pieceIn(k *rackRoom) bool {
	p, ok := k.piece()
	return ok && p.Here() && p.Loan == "" && !p.Missing
}

func pieceLent(k *rackRoom) bool { p, ok := k.piece(); return ok && p.Here() && p.Loan != "" }
func pieceHere(k *rackRoom) bool { p, ok := k.piece(); return ok && p.Here() && !p.Missing }
func isHolder(k *rackRoom) bool  { _, ok := k.custody.Holder(k.chosen); return ok }

func movable(k *rackRoom) bool {
	p, ok := k.piece()
	return isHolder(k) || ok && p.Here() && p.Loan == ""
}

func lookable(k *rackRoom) bool {
	h, ok := k.custody.Holder(k.chosen)
	return pieceHere(k) || ok && h.Kind == atlas.BoxKind
}

func onHold(k *rackRoom) bool { return len(k.custody.Holds(k.donor())) > 0 }
func isReady(k *rackRoom) bool {
	return k.custody.Ready(k.donor()) != 0 && !k.custody.Returned(k.donor())
}
func notReturned(k *rackRoom) bool { return !k.custody.Returned(k.donor()) }
func notReady(k *rackRoom) bool    { return k.custody.Ready(k.donor()) == 0 }

// donor is whose state the slip tells; it is kept by whoever asks, so that the table needs no bench.
func (k *rackRoom) donor() string { return k.of }

// deeds lists what can be done with what is chosen, of one group.
func (b *Bench) deeds(group string) (out []RackDeed) {
	b.rack.of = b.Run().Donor
	for _, d := range deedTable {
		if d.group != group || (d.fits != nil && !d.fits(&b.rack)) {
			continue
		}
		why := ""
		if d.writes() && b.readOnly() {
			why = Explain(atlas.ErrReadOnly).Title
		}
		out = append(out, RackDeed{ID: d.id, Label: Word("deed." + d.id), Group: group, Why: why})
	}
	return out
}

func (d deed) writes() bool {
	return d.enter != nil || d.id == "extend" || d.id == "rules" || d.id == "backup" || d.id == "restore"
}

func deedOf(id string) (deed, bool) {
	if id == undoForm.id {
		return undoForm, true
	}
	for _, d := range deedTable {
		if d.id == id {
			return d, true
		}
	}
	return deed{}, false
}

// BeginDeed lays the form of a deed beside the rack; one that asks nothing is done at once.
func (b *Bench) BeginDeed(id string) {
	d, ok := deedOf(id)
	if !ok || b.lab.lib == nil {
		return
	}
	if b.rack.of = b.Run().Donor; d.fits != nil && !d.fits(&b.rack) {
		b.tell(Word("deed.notnow"), true)
		return
	}
	if d.writes() && b.readOnly() {
		b.Report(atlas.ErrReadOnly)
		return
	}
	if d.fields == nil {
		b.tell("", false)
		if err := d.do(b, nil); err != nil {
			b.tell(plainSentence(err), true)
		}
		b.changed(RackChanged)
		return
	}
	b.rack.form = &RackForm{ID: id, Title: b.formTitle(d), Words: Word("deed." + id + ".words"), OK: Word("deed." + id), Fields: d.fields(b), Cards: d.cards}
	b.rack.said = ""
	b.changed(RackChanged)
}

func (b *Bench) formTitle(d deed) string {
	name := ""
	switch c := b.rack.custody; d.group {
	case "thing":
		if p, ok := c.Piece(b.rack.chosen); ok {
			name = p.Name
		} else if h, ok := c.Holder(b.rack.chosen); ok {
			name = h.Name
		}
	case "donor":
		name = b.Run().Donor
	}
	if name == "" {
		return Word("deed." + d.id)
	}
	return Word("deed."+d.id) + ": " + name
}

// RackForm is the form that lies beside the rack, nil when none does.
func (b *Bench) RackForm() *RackForm { return b.rack.form }

// SetRackField writes into the form.
func (b *Bench) SetRackField(id, value string) {
	f := b.rack.form
	if f == nil {
		return
	}
	for i := range f.Fields {
		if f.Fields[i].ID == id && f.Fields[i].Value != value {
			f.Fields[i].Value = value
			if len(f.Fields[i].Options) > 0 {
				b.changed(RackChanged)
			}
		}
	}
}

// LeaveRackForm puts the form away; nothing is entered.
func (b *Bench) LeaveRackForm() {
	b.rack.form = nil
	b.changed(RackChanged)
}

// SubmitRackForm enters what the form says. When it cannot be, the form stays and says why.
func (b *Bench) SubmitRackForm() {
	f := b.rack.form
	if f == nil {
		return
	}
	d, _ := deedOf(f.ID)
	err := b.carryOut(d, f)
	if name := f.value("who"); name != "" && err == nil {
		b.rack.who = name
	}
	if err != nil {
		f.Problem = plainSentence(err)
		b.changed(RackChanged)
		return
	}
	if b.rack.form == f {
		b.rack.form = nil
	}
	b.changed(RackChanged | LabChanged)
}

func (b *Bench) carryOut(d deed, f *RackForm) error {
	if d.do != nil {
		return d.do(b, f)
	}
	if err := b.writable(); err != nil {
		return err
	}
	lines, err := d.enter(b, f)
	if err != nil {
		return err
	}
	return b.enterLines(f.value("who"), lines)
}

// tell says what came of a deed or search.
func (b *Bench) tell(words string, refusal bool) {
	b.rack.said, b.rack.warn, b.rack.hits = words, refusal, nil
}
