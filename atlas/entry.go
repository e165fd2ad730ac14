package atlas

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// ErrDeed says that a line cannot be entered into the ledger; the message says why.
var ErrDeed = errors.New("atlas: this cannot be entered")

func noDeed(format string, args ...any) error {
	return fmt.Errorf("%w: "+format, append([]any{ErrDeed}, args...)...)
}

// Deed is what a line of the ledger records.
type Deed string

// The deeds. Nothing is ever taken back but by Undo, which is a line of its own.
const (
	Receive Deed = "receive" // a piece comes in or is cut from the donor: Made holds the one piece
	Split   Deed = "split"   // a piece becomes others and is no more: Made holds them all, Lost what became dust
	Trim    Deed = "trim"    // something is taken off a piece, which stays: trimmings, a sample
	Move    Deed = "move"    // a piece, container or shelf, from one place to another
	Lend    Deed = "lend"    // to someone, until Due
	Back    Deed = "back"    // a loan comes back to a place
	Miss    Deed = "missing" // looked for and not found; Move says where it was found
	Look    Deed = "look"    // condition seen of a piece, or of all in a container: Condition, words in Why
	Weigh   Deed = "weigh"   // a new mass, with the reason for the difference in Why
	Provide Deed = "provide" // a container or shelf comes into use: Made holds it, To its shelf or room
	Discard Deed = "discard" // an empty container or shelf goes out of use
	Keep    Deed = "hold"    // a donor may not be returned, for the reason in Why
	Lift    Deed = "lift"    // line Line, a hold, no longer counts
	Ready   Deed = "ready"   // a donor is ready to return: everything is accounted for
	Return  Deed = "return"  // a piece, or all of a donor that is ready, handed back
	Undo    Deed = "undo"    // line Line was a mistake, for the reason in Why
)

// LedgerEntry is one line of the ledger. Number, At, Day, ClockBack, From and the codes in Made are given when it is
// entered.
type LedgerEntry struct {
	Number int       `json:"line"`
	At     time.Time `json:"at"` // UTC, to the second, never before a line above that stands
	// Day is the date on the wall where the line was entered, YYYY-MM-DD; "" in lines of format 2.
	Day string `json:"day,omitempty"`
	// ClockBack says that the clock stood before the line above and that line's time was taken.
	ClockBack bool       `json:"clockBack,omitempty"`
	Who       string     `json:"who"`
	Deed      Deed       `json:"deed"`
	Donor     string     `json:"donor,omitempty"` // of Receive, Provide, Keep, Lift, Ready, and Return of a whole donor
	Piece     string     `json:"piece,omitempty"` // code of the piece, container or shelf
	Made      []Made     `json:"made,omitempty"`
	From      string     `json:"from,omitempty"` // the place, or who had it
	To        string     `json:"to,omitempty"`   // the place, or who borrows
	Mass      float64    `json:"mass,omitempty"` // of Weigh, grams
	Lost      float64    `json:"lost,omitempty"` // of Split and Trim, grams that became dust or ran off
	Due       time.Time  `json:"due,omitzero"`   // of Lend, a day
	Condition *Condition `json:"condition,omitempty"`
	Why       string     `json:"why,omitempty"`
	Line      int        `json:"undoes,omitempty"` // of Undo and Lift
}

// day is the civil date of a line; a line of format 2 has only its moment.
func (e LedgerEntry) day() time.Time {
	if t, err := time.Parse(day, e.Day); err == nil {
		return t
	}
	return civil(e.At.UTC())
}

// Aspect is what a condition look looks at.
type Aspect int

// The aspects.
const (
	Wetting Aspect = iota
	Wrap
	Mould
)

// Aspects lists them in the order shown to people.
var Aspects = []Aspect{Wetting, Wrap, Mould}

func (a Aspect) String() string {
	if a < 0 || int(a) >= len(Aspects) {
		return ""
	}
	return [...]string{"wetting", "wrap", "mould"}[a]
}

// MarshalText writes the word.
func (a Aspect) MarshalText() ([]byte, error) { return []byte(a.String()), nil }

// Seen is what a look found.
type Seen string

// What a look finds: nothing when it did not look there.
const (
	NotSeen Seen = ""
	Good    Seen = "good" // wet, wrapped whole, no mould
	Poor    Seen = "poor" // drying, torn or open, mould seen
)

// Condition is what one look found, aspect by aspect.
type Condition struct {
	Wetting Seen `json:"wetting,omitempty"`
	Wrap    Seen `json:"wrap,omitempty"`
	Mould   Seen `json:"mould,omitempty"`
}

// Of returns what was found of one aspect.
func (c Condition) Of(a Aspect) Seen { return [...]Seen{c.Wetting, c.Wrap, c.Mould}[a] }

// Sight is the last look at one aspect of a piece; Day is zero when there was none.
type Sight struct {
	Day  time.Time `json:"day,omitzero"`
	Seen Seen      `json:"seen"`
}

// SeenWords says what was found, as "mould seen"; "" when nothing was looked at.
func (c Condition) SeenWords() string {
	words := map[Seen][3]string{Good: {"wet", "wrapped", "no mould"}, Poor: {"drying", "wrap torn or open", "mould seen"}}
	var out []string
	for _, a := range Aspects {
		if w, ok := words[c.Of(a)]; ok {
			out = append(out, w[a])
		}
	}
	return strings.Join(out, ", ")
}

// Len is how many lines there are.
func (c Custody) Len() int { return len(c.entries) }

// Entries lists every line, the oldest first.
func (c Custody) Entries() []LedgerEntry { return slices.Clone(c.entries) }

// Undone reports whether a later line took this one back.
func (c Custody) Undone(line int) bool { return c.undone[line] }

// Past is one line of a thing's history.
type Past struct {
	LedgerEntry
	Undone bool `json:"undone"` // a later line took it back
	// Within is the container that the line moved or looked at while the piece lay in it, "" when the line names the
	// piece itself.
	Within string `json:"within"`
}

// History lists the lines that speak of a piece, container or shelf, the oldest first: those of the container a piece
// lay in at the time, too. Places are codes or words; From is filled in for old lines that do not have it.
func (c Custody) History(code string) (out []Past) {
	at := "" // where the piece is
	for _, e := range c.entries {
		stands := !c.undone[e.Number]
		switch {
		case c.speaksOf(e, code):
			if e.From == "" && (e.Deed == Move || e.Deed == Lend || e.Deed == Return) {
				e.From = at
			}
			out = append(out, Past{LedgerEntry: e, Undone: !stands})
		case e.Piece != "" && e.Piece == at && (e.Deed == Move || e.Deed == Look):
			out = append(out, Past{LedgerEntry: e, Undone: !stands, Within: at})
			continue
		default:
			continue
		}
		if stands {
			at = e.leaves(code, at)
		}
	}
	return out
}

// leaves is where a thing lies after a line that speaks of it.
func (e LedgerEntry) leaves(code, at string) string {
	switch e.Deed {
	case Receive, Provide, Back:
		return e.To
	case Move:
		return e.To
	case Split, Trim:
		if e.Piece != code {
			return e.To
		}
		if e.Deed == Split {
			return ""
		}
	case Lend, Return, Miss:
		return ""
	}
	return at
}

func (c Custody) speaksOf(e LedgerEntry, code string) bool {
	if e.Deed == Undo && e.Line >= 1 && e.Line <= len(c.entries) {
		return c.speaksOf(c.entries[e.Line-1], code)
	}
	if e.Piece == code || slices.ContainsFunc(e.Made, func(m Made) bool { return m.Code == code }) {
		return true
	}
	p, ok := c.pieces[code]
	return ok && e.Piece == "" && e.Donor == p.Donor && (e.Deed == Return || e.Deed == Ready || e.Deed == Keep || e.Deed == Lift)
}
