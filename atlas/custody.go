package atlas

import (
	"cmp"
	"maps"
	"slices"
	"strings"
	"time"
)

// Made is a thing that a line brings into being: a piece, a container or a shelf. Code is given when the line is
// entered. A piece taken from another has its parent's run and slab, unless it was cut in a run of its own.
type Made struct {
	Code string    `json:"code"`
	Kind PieceKind `json:"kind"`
	Name string    `json:"name"` // in words: "slab 9", "left kidney", "box 3"
	Mass float64   `json:"mass"` // grams, 0 when not weighed; always 0 for a container or shelf
	Run  string    `json:"run,omitempty"`
	Slab int       `json:"slab,omitempty"`
}

// PieceKind is what a thing is.
type PieceKind string

// The kinds of piece, and what pieces lie in.
const (
	SlabPiece PieceKind = "slab"
	Part      PieceKind = "part"
	Sample    PieceKind = "sample"
	Trimmings PieceKind = "trimmings"
	Debris    PieceKind = "debris" // saw dust
	BoxKind   PieceKind = "container"
	ShelfKind PieceKind = "shelf"
)

// PieceKinds lists the kinds of piece in the order shown to people.
var PieceKinds = []PieceKind{SlabPiece, Part, Sample, Trimmings, Debris}

// Piece is where a piece stands after all lines so far.
type Piece struct {
	Made
	Donor    string    `json:"donor"`
	Parent   string    `json:"parent"` // "" for one that came from the donor itself
	Children []string  `json:"children,omitempty"`
	Place    string    `json:"place"`        // code of a container or shelf, or words; "" while on loan, missing, split up or returned
	Loan     string    `json:"loan"`         // who has it
	Lent     int       `json:"lent"`         // the line that lent it
	Due      time.Time `json:"due,omitzero"` // of the loan, a day
	Missing  bool      `json:"missing"`      // looked for and not found
	Split    bool      `json:"split"`        // it became its children
	Returned bool      `json:"returned"`
	Came     time.Time `json:"came,omitzero"` // the day it came in or was cut
	Looks    [3]Sight  `json:"looks"`         // the last condition look, by Aspect
	Line     int       `json:"line"`          // that brought it into being
}

// Here reports whether the piece is still in the lab's care, on loan or not.
func (p Piece) Here() bool { return !p.Split && !p.Returned }

// Holder is a container or a shelf.
type Holder struct {
	Code  string    `json:"code"`
	Kind  PieceKind `json:"kind"` // BoxKind or ShelfKind
	Name  string    `json:"name"`
	Donor string    `json:"donor"` // whose pieces a container is kept for, "" for anybody's
	On    string    `json:"on"`    // the code of the shelf a container stands on, or words; of a shelf: the room, in words
	Gone  bool      `json:"gone"`  // out of use
	Line  int       `json:"line"`  // that brought it into use
}

// Hold keeps a donor from being returned until it is lifted.
type Hold struct {
	Line int       `json:"line"` // that placed it
	Day  time.Time `json:"day,omitzero"`
	Who  string    `json:"who"`
	Why  string    `json:"why"`
}

// Custody is what the ledger says after all its lines. It is a value: Enter returns a new one.
type Custody struct {
	state
	entries []LedgerEntry
	undone  map[int]bool
	made    int    // things ever made, undone ones too: the next gets the next code
	hash    string // of the last line
}

// state is what follows from the lines that stand. Nothing a map points to is changed once it was handed out.
type state struct {
	pieces  map[string]*Piece
	holders map[string]*Holder
	in      map[string]float64 // grams that came in, by donor
	lost    map[string]float64 // grams that became dust, ran off or dried away, by donor
	loss    map[int]float64    // the same, by line
	holds   map[string][]Hold  // by donor
	ready   map[string]int     // by donor, the line that marked it ready to return
}

func newState() state {
	return state{pieces: map[string]*Piece{}, holders: map[string]*Holder{}, in: map[string]float64{}, lost: map[string]float64{},
		loss: map[int]float64{}, holds: map[string][]Hold{}, ready: map[string]int{}}
}

func (s state) copy() state {
	return state{pieces: maps.Clone(s.pieces), holders: maps.Clone(s.holders), in: maps.Clone(s.in), lost: maps.Clone(s.lost),
		loss: maps.Clone(s.loss), holds: maps.Clone(s.holds), ready: maps.Clone(s.ready)}
}

func newCustody() Custody { return Custody{state: newState(), undone: map[int]bool{}} }

// copy shares things and lines with c, but nothing that add changes in place.
func (c Custody) copy() Custody {
	return Custody{state: c.state.copy(), entries: slices.Clip(c.entries), undone: maps.Clone(c.undone), made: c.made, hash: c.hash}
}

// Piece returns one piece.
func (c Custody) Piece(code string) (Piece, bool) {
	p, ok := c.pieces[code]
	if !ok {
		return Piece{}, false
	}
	return *p, true
}

// Holder returns one container or shelf.
func (c Custody) Holder(code string) (Holder, bool) {
	h, ok := c.holders[code]
	if !ok {
		return Holder{}, false
	}
	return *h, true
}

// Known reports whether a code is that of a piece, a container or a shelf.
func (c Custody) Known(code string) bool { return c.pieces[code] != nil || c.holders[code] != nil }

// Find reads a code as typed or scanned and fails with a sentence that says which slip is likely.
func (c Custody) Find(typed string) (code string, err error) {
	code, err = ReadItemCode(typed, c.Known)
	if err == nil && !c.Known(code) {
		return "", naming("code "+code+" is sound, but nothing here has it; is the tag from another lab?", ErrNotFound)
	}
	return code, err
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

// Holders lists containers and shelves in use by name, numbers in names in order of their size.
func (c Custody) Holders() (out []Holder) {
	for _, code := range slices.Sorted(maps.Keys(c.holders)) {
		if h := c.holders[code]; !h.Gone {
			out = append(out, *h)
		}
	}
	slices.SortStableFunc(out, func(a, b Holder) int { return byName(a.Name, b.Name) })
	return out
}

// In lists the pieces that lie in or on a holder, or at a place in words, by name.
func (c Custody) In(place string) (out []Piece) {
	for _, p := range c.Pieces("") {
		if p.Here() && p.Loan == "" && !p.Missing && p.Place == place {
			out = append(out, p)
		}
	}
	slices.SortStableFunc(out, func(a, b Piece) int { return byName(a.Name, b.Name) })
	return out
}

// PlaceWords says where a place is: "box 3 on shelf A", or the words themselves.
func (c Custody) PlaceWords(place string) string {
	h, ok := c.holders[place]
	switch {
	case !ok:
		return place
	case h.On == "" || h.Kind == ShelfKind:
		return h.Name
	}
	return h.Name + " on " + c.PlaceWords(h.On)
}

// Whereabouts says where a piece is, in words.
func (c Custody) Whereabouts(p Piece) string {
	switch {
	case p.Returned:
		return "returned"
	case p.Split:
		return "split up"
	case p.Missing:
		return "missing"
	case p.Loan != "":
		return "on loan to " + p.Loan + " until " + p.Due.Format(dayWords)
	}
	return c.PlaceWords(p.Place)
}

// ShelfOf is one shelf with what stands and lies on it; Code is "" for what is on no shelf.
type ShelfOf struct {
	Holder
	Boxes []BoxOf `json:"boxes"`
	Loose []Piece `json:"loose"` // pieces on the shelf itself
}

// BoxOf is one container with its pieces. Places that are only words, as old lines have them, are boxes without a code.
type BoxOf struct {
	Holder
	Pieces []Piece `json:"pieces"`
}

// Rack lists the shelves by name, and last what stands on none. Pieces on loan are in Loans, missing ones in Missing.
func (c Custody) Rack() (out []ShelfOf) {
	lies := map[string][]Piece{}
	for code := range c.holders {
		lies[code] = []Piece{} // an empty list and none are two things to a reader of JSON
	}
	for _, p := range c.Pieces("") {
		if p.Here() && p.Loan == "" && !p.Missing {
			lies[p.Place] = append(lies[p.Place], p)
		}
	}
	for _, l := range lies {
		slices.SortStableFunc(l, func(a, b Piece) int { return byName(a.Name, b.Name) })
	}
	at := map[string]int{}
	all := c.Holders()
	for _, h := range all {
		if h.Kind == ShelfKind {
			at[h.Code] = len(out)
			out = append(out, ShelfOf{Holder: h, Boxes: []BoxOf{}, Loose: lies[h.Code]})
		}
	}
	none := ShelfOf{Loose: []Piece{}}
	for _, h := range all {
		if h.Kind != BoxKind {
			continue
		}
		box := BoxOf{Holder: h, Pieces: lies[h.Code]}
		if i, ok := at[h.On]; ok {
			out[i].Boxes = append(out[i].Boxes, box)
		} else {
			none.Boxes = append(none.Boxes, box)
		}
	}
	for _, place := range slices.SortedFunc(maps.Keys(lies), byName) {
		if c.holders[place] == nil {
			none.Boxes = append(none.Boxes, BoxOf{Holder: Holder{Kind: BoxKind, Name: place}, Pieces: lies[place]})
		}
	}
	if len(none.Boxes) > 0 {
		out = append(out, none)
	}
	return out
}

// Borrower is one who has pieces.
type Borrower struct {
	Name   string  `json:"name"`
	Pieces []Piece `json:"pieces"` // the one due first comes first
}

// Loans lists who has what, by name.
func (c Custody) Loans() (out []Borrower) {
	at := map[string]int{}
	for _, p := range c.Pieces("") {
		if !p.Here() || p.Loan == "" {
			continue
		}
		i, ok := at[p.Loan]
		if !ok {
			i = len(out)
			at[p.Loan], out = i, append(out, Borrower{Name: p.Loan})
		}
		out[i].Pieces = append(out[i].Pieces, p)
	}
	for _, b := range out {
		slices.SortStableFunc(b.Pieces, func(a, b Piece) int { return a.Due.Compare(b.Due) })
	}
	slices.SortFunc(out, func(a, b Borrower) int { return byName(a.Name, b.Name) })
	return out
}

// Missing lists the pieces that were looked for and not found.
func (c Custody) Missing() (out []Piece) {
	for _, p := range c.Pieces("") {
		if p.Here() && p.Missing {
			out = append(out, p)
		}
	}
	return out
}

// Holds lists what keeps a donor from being returned, the oldest first.
func (c Custody) Holds(donor string) []Hold { return slices.Clone(c.holds[donor]) }

// Ready returns the line that marked a donor ready to return, 0 when none does.
func (c Custody) Ready(donor string) int { return c.ready[donor] }

// Returned reports whether a donor went back: pieces were returned, and none is here any more.
func (c Custody) Returned(donor string) bool {
	back := false
	for _, p := range c.pieces {
		if p.Donor == donor && p.Here() {
			return false
		}
		back = back || p.Donor == donor && p.Returned
	}
	return back
}

// byName compares names so that "box 9" comes before "box 10".
func byName(a, b string) int {
	for a != "" && b != "" {
		na, nb := digits(a), digits(b)
		if na > 0 && nb > 0 {
			x, y := strings.TrimLeft(a[:na], "0"), strings.TrimLeft(b[:nb], "0")
			if d := cmp.Or(cmp.Compare(len(x), len(y)), strings.Compare(x, y)); d != 0 {
				return d
			}
			a, b = a[na:], b[nb:]
			continue
		}
		if a[0] != b[0] {
			return cmp.Compare(a[0], b[0])
		}
		a, b = a[1:], b[1:]
	}
	return cmp.Compare(len(a), len(b))
}

// digits is how many digits s begins with.
func digits(s string) int { return len(s) - len(strings.TrimLeft(s, "0123456789")) }
