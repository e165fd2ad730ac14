package atlas

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"
)

// ErrDeed says that a line cannot be entered into the ledger; the message says why.
var ErrDeed = errors.New("atlas: this cannot be entered")

// Deed is what a line of the ledger records.
type Deed string

// The deeds. Nothing is ever taken back but by Undo, which is a line of its own.
const (
	Receive Deed = "receive" // a piece comes in or is cut from the donor: Made holds the one piece
	Split   Deed = "split"   // a piece becomes others and is no more: Made holds them all, Lost what became dust
	Trim    Deed = "trim"    // something is taken off a piece, which stays: trimmings, a sample
	Move    Deed = "move"    // from one place to another
	Lend    Deed = "lend"    // to someone, until Due
	Back    Deed = "back"    // a loan comes back to a place
	Look    Deed = "look"    // condition seen: wetting, wrap, mould, in Why
	Weigh   Deed = "weigh"   // a new mass, with the reason for the difference in Why
	Return  Deed = "return"  // handed back with the donor
	Undo    Deed = "undo"    // line Line was a mistake, for the reason in Why
)

// PieceKind is what a piece is.
type PieceKind string

// The kinds of piece.
const (
	SlabPiece PieceKind = "slab"
	Part      PieceKind = "part"
	Sample    PieceKind = "sample"
	Trimmings PieceKind = "trimmings"
	Debris    PieceKind = "debris" // saw dust
)

// Made is a piece that a line brings into being. Code is given when the line is entered.
type Made struct {
	Code string    `json:"code"`
	Kind PieceKind `json:"kind"`
	Name string    `json:"name"` // in words: "slab 9", "left kidney"
	Mass float64   `json:"mass"` // grams, 0 when not weighed
	Run  string    `json:"run,omitempty"`
	Slab int       `json:"slab,omitempty"`
}

// LedgerEntry is one line of the ledger. Number, At and the codes in Made are given when it is entered.
type LedgerEntry struct {
	Number int       `json:"line"`
	At     time.Time `json:"at"` // UTC, to the second, never before the line above
	// ClockBack says that the clock stood before the line above and that line's time was taken.
	ClockBack bool      `json:"clockBack,omitempty"`
	Who       string    `json:"who"`
	Deed      Deed      `json:"deed"`
	Donor     string    `json:"donor,omitempty"` // of Receive
	Piece     string    `json:"piece,omitempty"` // of all others but Undo
	Made      []Made    `json:"made,omitempty"`
	To        string    `json:"to,omitempty"`   // the place, or who borrows
	Mass      float64   `json:"mass,omitempty"` // of Weigh, grams
	Lost      float64   `json:"lost,omitempty"` // of Split and Trim, grams that became dust or ran off
	Due       time.Time `json:"due,omitzero"`   // of Lend, a day
	Why       string    `json:"why,omitempty"`
	Line      int       `json:"undoes,omitempty"` // of Undo
}

// Piece is where a piece stands after all lines so far.
type Piece struct {
	Made
	Donor    string
	Parent   string // "" for one that came from the donor itself
	Children []string
	Place    string    // "" while on loan, split up or returned
	Loan     string    // who has it
	Due      time.Time // of the loan
	Split    bool      // it became its children
	Returned bool
	Looked   time.Time // the last condition look
	Line     int       // that brought it into being
}

// Here reports whether the piece is still in the lab's care, on loan or not.
func (p Piece) Here() bool { return !p.Split && !p.Returned }

// Custody is what the ledger says after all its lines. It is a value: Enter returns a new one.
type Custody struct {
	pieces  map[string]*Piece // changed by nobody once in a Custody that was handed out
	entries []LedgerEntry
	undone  map[int]bool
	in      map[string]float64 // grams that came in, by donor
	lost    map[string]float64 // grams that became dust, ran off or dried away, by donor
	made    int                // pieces ever made, undone ones too: the next gets the next code
	hash    string             // of the last line
}

func newCustody() Custody {
	return Custody{pieces: map[string]*Piece{}, undone: map[int]bool{}, in: map[string]float64{}, lost: map[string]float64{}}
}

// Piece returns one piece.
func (c Custody) Piece(code string) (Piece, bool) {
	p, ok := c.pieces[code]
	if !ok {
		return Piece{}, false
	}
	return *p, true
}

// Pieces lists the pieces of a donor (of all, for "") in order of their codes.
func (c Custody) Pieces(donor string) (out []Piece) {
	for _, code := range slices.Sorted(maps.Keys(c.pieces)) {
		if p := c.pieces[code]; donor == "" || p.Donor == donor {
			out = append(out, *p)
		}
	}
	return out
}

// Len is how many lines there are.
func (c Custody) Len() int { return len(c.entries) }

// Entries lists every line, the oldest first.
func (c Custody) Entries() []LedgerEntry { return slices.Clone(c.entries) }

// Undone reports whether a later line took this one back.
func (c Custody) Undone(line int) bool { return c.undone[line] }

// History lists the lines that speak of a piece, the oldest first.
func (c Custody) History(code string) (out []LedgerEntry) {
	for _, e := range c.entries {
		if c.speaksOf(e, code) {
			out = append(out, e)
		}
	}
	return out
}

func (c Custody) speaksOf(e LedgerEntry, code string) bool {
	if e.Deed == Undo && e.Line >= 1 && e.Line <= len(c.entries) {
		return c.speaksOf(c.entries[e.Line-1], code)
	}
	return e.Piece == code || slices.ContainsFunc(e.Made, func(m Made) bool { return m.Code == code })
}

// with returns c after one more line, or ErrDeed. ends tells the last day of a donor's agreement.
func (c Custody) with(e LedgerEntry, ends func(donor string) time.Time) (Custody, error) {
	next := c.copy()
	err := next.add(e, ends)
	return next, err
}

// copy shares pieces and lines with c, but nothing that add changes in place.
func (c Custody) copy() Custody {
	return Custody{entries: slices.Clip(c.entries), pieces: maps.Clone(c.pieces), undone: maps.Clone(c.undone),
		in: maps.Clone(c.in), lost: maps.Clone(c.lost), made: c.made, hash: c.hash}
}

// add is with in place; when it fails c is of no further use. ends is nil when the line was judged before.
func (c *Custody) add(e LedgerEntry, ends func(donor string) time.Time) error {
	if e.Deed == Undo {
		if err := c.undo(e); err != nil {
			return err
		}
	} else if err := c.apply(e, ends); err != nil {
		return err
	}
	c.entries = append(c.entries, e)
	c.made += len(e.Made)
	return nil
}

// undo takes a line back: what stands without it must be possible; lines that build on it forbid it.
func (c *Custody) undo(e LedgerEntry) error {
	if err := c.undoable(e.Line); err != nil {
		return err
	}
	c.undone[e.Line] = true
	fresh := newCustody()
	for _, old := range c.entries {
		if old.Deed == Undo || c.undone[old.Number] {
			continue
		}
		if err := fresh.apply(old, nil); err != nil {
			return fmt.Errorf("%w: line %d cannot be undone, line %d builds on it", ErrDeed, e.Line, old.Number)
		}
	}
	c.pieces, c.in, c.lost = fresh.pieces, fresh.in, fresh.lost
	return nil
}

func (c Custody) undoable(line int) error {
	switch {
	case line < 1 || line > len(c.entries):
		return fmt.Errorf("%w: there is no line %d", ErrDeed, line)
	case c.undone[line]:
		return fmt.Errorf("%w: line %d is undone already", ErrDeed, line)
	case c.entries[line-1].Deed == Undo:
		return fmt.Errorf("%w: line %d takes another back; enter the deed anew instead", ErrDeed, line)
	}
	return nil
}

// apply changes c by one line that is not Undo. It changes nothing when it fails. ends is nil when the line was
// judged already.
func (c *Custody) apply(e LedgerEntry, ends func(donor string) time.Time) error {
	no := func(format string, args ...any) error {
		return fmt.Errorf("%w: "+format, append([]any{ErrDeed}, args...)...)
	}
	for _, g := range append([]float64{e.Mass, e.Lost}, masses(e.Made)...) {
		if g < 0 || math.IsNaN(g) || g > 1e6 {
			return no("%g grams cannot be", g)
		}
	}
	if e.Deed == Receive {
		if len(e.Made) != 1 || e.Donor == "" || e.To == "" {
			return no("receiving needs one piece, its donor and its place")
		}
		c.make(e, e.Made[0], "", e.Donor)
		return nil
	}
	old, ok := c.pieces[e.Piece]
	if !ok {
		return no("there is no piece %s", e.Piece)
	}
	if !old.Here() {
		return no("%s was %s", e.Piece, map[bool]string{true: "split up", false: "returned"}[old.Split])
	}
	p := *old
	if err := c.change(&p, e, ends); err != nil {
		return err
	}
	c.pieces[e.Piece] = &p
	return nil
}

func masses(made []Made) (out []float64) {
	for _, m := range made {
		out = append(out, m.Mass)
	}
	return out
}

func (c *Custody) make(e LedgerEntry, m Made, parent, donor string) {
	if parent == "" {
		c.in[donor] += m.Mass
	}
	c.pieces[m.Code] = &Piece{Made: m, Donor: donor, Parent: parent, Place: e.To, Line: e.Number}
}

// change does to p, which is here, what the line says.
func (c *Custody) change(p *Piece, e LedgerEntry, ends func(donor string) time.Time) error {
	no := func(format string, args ...any) error {
		return fmt.Errorf("%w: "+format, append([]any{ErrDeed}, args...)...)
	}
	if p.Loan != "" && e.Deed != Back && e.Deed != Look {
		return no("%s is on loan to %s; it must come back first", p.Code, p.Loan)
	}
	switch e.Deed {
	case Split, Trim:
		return c.divide(p, e)
	case Move:
		if e.To == "" {
			return no("moving needs a place")
		}
		p.Place = e.To
	case Lend:
		if e.To == "" || e.Due.IsZero() {
			return no("a loan needs a borrower and a day")
		}
		if ends != nil {
			if last := ends(p.Donor); !last.IsZero() && e.Due.Format(day) > last.Format(day) {
				return no("the loan would last until %s, past the donor's due date, %s", e.Due.Format("2 January 2006"), last.Format("2 January 2006"))
			}
			if e.Due.Format(day) < e.At.Format(day) {
				return no("the loan would end before it begins")
			}
		}
		p.Place, p.Loan, p.Due = "", e.To, e.Due
	case Back:
		if p.Loan == "" {
			return no("%s is not on loan", p.Code)
		}
		if e.To == "" {
			return no("coming back needs a place")
		}
		p.Place, p.Loan, p.Due = e.To, "", time.Time{}
	case Look:
		p.Looked = e.At
	case Weigh:
		if e.Mass == 0 || e.Why == "" {
			return no("weighing needs a mass and the reason for the difference")
		}
		if p.Mass > 0 {
			c.lost[p.Donor] += p.Mass - e.Mass
		} else {
			c.in[p.Donor] += e.Mass // weighed for the first time
		}
		p.Mass = e.Mass
	case Return:
		for _, child := range p.Children {
			if c.pieces[child].Here() {
				return no("%s cannot be returned without %s, which was taken from it", p.Code, child)
			}
		}
		p.Place, p.Returned = "", true
	default:
		return no("there is no deed %q", e.Deed)
	}
	return nil
}

// gramSlack is how far masses may miss their sum: a kitchen balance's last digit, a few times over.
const gramSlack = 0.5

// divide makes children of p. Their masses and what was lost add up to what p loses.
func (c *Custody) divide(p *Piece, e LedgerEntry) error {
	no := func(format string, args ...any) error {
		return fmt.Errorf("%w: "+format, append([]any{ErrDeed}, args...)...)
	}
	if len(e.Made) == 0 || e.To == "" || (e.Deed == Split && len(e.Made) < 2) {
		return no("dividing %s needs its new pieces and their place", p.Code)
	}
	sum := e.Lost
	for _, m := range e.Made {
		if p.Mass > 0 && m.Mass == 0 {
			return no("%s was weighed, so what is taken from it must be weighed: %s", p.Code, m.Name)
		}
		if p.Mass == 0 && m.Mass > 0 {
			return no("weigh %s before it is divided", p.Code)
		}
		sum += m.Mass
	}
	if p.Mass > 0 {
		if e.Deed == Split && math.Abs(sum-p.Mass) > gramSlack {
			return no("the new pieces and what was lost weigh %.1f g, %s weighed %.1f g", sum, p.Code, p.Mass)
		}
		if e.Deed == Trim && sum >= p.Mass {
			return no("%.1f g cannot be taken from %s, which weighs %.1f g", sum, p.Code, p.Mass)
		}
		if e.Deed == Split {
			e.Lost += p.Mass - sum // the slack is lost, too, so that the books balance
		}
	}
	for _, m := range e.Made {
		c.make(e, m, p.Code, p.Donor)
		p.Children = append(slices.Clip(p.Children), m.Code)
	}
	c.lost[p.Donor] += e.Lost
	if e.Deed == Split {
		p.Split, p.Place, p.Mass = true, "", 0
		return nil
	}
	p.Mass = math.Max(0, p.Mass-sum)
	return nil
}
