package bench

import (
	"context"
	"errors"
	"time"

	"sectionary/atlas"
)

// ledgerView is which lines of the ledger are on the page.
type ledgerView struct {
	line    int    // chosen, 0 for none
	of      string // code whose history is shown, "" for every line
	checked string // what the last check of the chain said
	broken  bool
	rows    []LedgerRow
	made    [2]any // what rows were made of: length and code
}

// LedgerRow is one line on the page.
type LedgerRow struct {
	Line   int
	Day    string // in the margin; "" when it is that of the line above
	Words  string // who, what, from where to where
	Why    string
	Undone bool
}

// LedgerInfo is the slip beside the page.
type LedgerInfo struct {
	Title   string   // whose lines these are
	Chain   string   // state of the chain in words
	Broken  bool     // it is broken
	Line    int      // chosen
	Facts   []string // of the chosen line
	Said    string
	Refuse  bool
	Item    string // code of the chosen thing, whose history can be shown
	Whole   bool   // every line is shown
	CanUndo string // why the chosen line cannot be taken back, "" when it can
}

// openLedger checks the chain when the page is gone to.
func (b *Bench) openLedger() {
	b.readRack()
	b.CheckChain()
	v := &b.rack.ledger
	v.made = [2]any{}
	if n := len(b.ledgerRows()); v.line == 0 && n > 0 {
		v.line = b.ledgerRows()[n-1].Line
	}
	b.running.reveal = true
}

// CheckChain reads the whole ledger anew and says whether every line follows from the one before.
func (b *Bench) CheckChain() {
	v, lib := &b.rack.ledger, b.keeper()
	if lib == nil {
		return
	}
	err := lib.CheckLedger(context.Background())
	switch {
	case err == nil:
		v.checked, v.broken = count("ledger.sound", b.rack.custody.Len(), b.rack.custody.Seal()), false
		if b.rack.custody.Len() == 0 {
			v.checked = Word("ledger.none")
		}
	case errors.Is(err, atlas.ErrDamaged):
		v.checked, v.broken = Word("ledger.bad", plainSentence(err)), true
	default:
		v.checked, v.broken = plainSentence(err), true
	}
	b.changed(RackChanged)
}

// ShowHistory goes to the ledger with only the lines that speak of the chosen thing; without one, with all.
func (b *Bench) ShowHistory() {
	b.rack.ledger.of, b.rack.ledger.line = b.rack.chosen, 0
	if b.Show(LedgerScreen); b.screen == LedgerScreen {
		b.openLedger()
	}
	b.changed(RackChanged)
}

// ShowWholeLedger goes to the ledger with every line.
func (b *Bench) ShowWholeLedger() {
	b.rack.ledger.of = ""
	b.Show(LedgerScreen)
	b.running.reveal = true
	b.changed(RackChanged)
}

// ledgerRows are the lines on the page, the oldest first.
func (b *Bench) ledgerRows() []LedgerRow {
	k, v := &b.rack, &b.rack.ledger
	if key := [2]any{k.custody.Len(), v.of}; v.made == key && v.rows != nil {
		return v.rows
	} else {
		v.made = key
	}
	c := k.custody
	var past []atlas.Past
	if v.of != "" {
		past = c.History(v.of)
	} else {
		for _, e := range c.Entries() {
			past = append(past, atlas.Past{LedgerEntry: e, Undone: c.Undone(e.Number)})
		}
	}
	v.rows = []LedgerRow{}
	before := ""
	for _, e := range past {
		r := LedgerRow{Line: e.Number, Day: lineDay(e.LedgerEntry), Undone: e.Undone, Why: e.Why}
		if r.Day == before {
			r.Day = ""
		} else {
			before = r.Day
		}
		r.Words = b.lineWords(e, v.of == "")
		v.rows = append(v.rows, r)
	}
	return v.rows
}

// lineDay is the date of a line for the margin: that on the wall where it was entered.
func lineDay(e atlas.LedgerEntry) string {
	if day, err := time.Parse(time.DateOnly, e.Day); err == nil {
		return day.Format("2 Jan 2006")
	}
	return e.At.Format("2 Jan 2006")
}

// lineWords says what a line records; naming says of what, too.
func (b *Bench) lineWords(e atlas.Past, naming bool) string {
	c := b.rack.custody
	words := c.DeedWords(e)
	if naming {
		words = lineThing(c, e.LedgerEntry) + " " + words
	}
	if where := c.FromTo(e.LedgerEntry); where != "" {
		words += ": " + where
	}
	return e.Who + ": " + words
}

// lineThing names what a line is about.
func lineThing(c atlas.Custody, e atlas.LedgerEntry) string {
	code := e.Piece
	if code == "" && len(e.Made) > 0 {
		return e.Made[0].Name + " (" + e.Made[0].Code + ")"
	}
	if p, ok := c.Piece(code); ok {
		return p.Name + " (" + code + ")"
	}
	if h, ok := c.Holder(code); ok {
		return h.Name + " (" + code + ")"
	}
	if e.Deed == atlas.Undo {
		return ""
	}
	return e.Donor
}

// Ledger is the slip beside the page.
func (b *Bench) Ledger() LedgerInfo {
	k, v := &b.rack, &b.rack.ledger
	out := LedgerInfo{Title: Word("ledger.all"), Chain: v.checked, Broken: v.broken, Said: k.said, Refuse: k.warn, Item: k.chosen, Whole: v.of == ""}
	if v.of != "" {
		out.Title = upperFirst(k.custody.What(v.of))
	}
	for _, r := range b.ledgerRows() {
		if r.Line != v.line {
			continue
		}
		e := k.custody.Entries()[r.Line-1]
		out.Line = r.Line
		out.Facts = []string{Word("ledger.line", r.Line, e.When()), r.Words + "."}
		if r.Why != "" {
			out.Facts = append(out.Facts, Word("ledger.why", r.Why))
		}
		switch {
		case r.Undone:
			out.CanUndo = Word("ledger.undone")
			out.Facts = append(out.Facts, Word("ledger.undone"))
		case e.Deed == atlas.Undo:
			out.CanUndo = Word("ledger.isundo")
		case b.readOnly():
			out.CanUndo = Explain(atlas.ErrReadOnly).Title
		}
	}
	return out
}

// StepLine chooses the line n further down the page.
func (b *Bench) StepLine(n int) {
	rows, v := b.ledgerRows(), &b.rack.ledger
	if len(rows) == 0 {
		return
	}
	at := len(rows) - 1
	for i, r := range rows {
		if r.Line == v.line {
			at = min(max(i+n, 0), len(rows)-1)
		}
	}
	v.line = rows[at].Line
	b.running.reveal = true
	b.changed(RackChanged)
}

// ChooseLine chooses a line of the ledger.
func (b *Bench) ChooseLine(line int) {
	b.rack.ledger.line = line
	b.changed(RackChanged)
}
