package annotate

import (
	"io"
)

// TermID identifies a structure for good: "UBERON:0000948", "FMA:50033", or "LOCAL:..." for a lab's own.
type TermID string

// Kind says what a structure is made of; it picks the letter and hatch that tell outlines apart without colour.
type Kind uint8

// The kinds.
const (
	Other Kind = iota
	Vessel
	Nerve
	Muscle
	Bone
	Organ
	Space
	Joint
	Ligament
	Tissue
	Lymph
	Part
)

// Term is one structure of the list.
type Term struct {
	ID            TermID
	Name          string   // English
	Latin         string   // empty when no source gives it
	Synonyms      []string // English and Latin
	Abbreviations []string
	Kind          Kind
	Region        string // head, neck, thorax, ...; several joined with ";"
	Paired        bool   // one on each side, so a label must say which
	PartOf        TermID
	FMA           string
	Source        string
	Local         bool // the lab's own, not from a published list
}

// Terms is a list of structures with its search index. It is safe for many readers; WithLocal returns a new list.
type Terms struct {
	list []Term
	byID map[TermID]int
}

// LoadTerms reads a term list as tab-separated values with a header line.
func LoadTerms(r io.Reader) (*Terms, error) { return nil, errSkeleton }

// Len returns how many structures the list has.
func (t *Terms) Len() int { return len(t.list) }

// All returns the structures in list order; the slice must not be changed.
func (t *Terms) All() []Term { return t.list }

// ByID returns the structure with this id.
func (t *Terms) ByID(id TermID) (Term, bool) {
	if i, ok := t.byID[id]; ok {
		return t.list[i], true
	}
	return Term{}, false
}

// Find returns at most most structures for part-words typed in any order, best first.
func (t *Terms) Find(typed string, most int) []Term { return nil }

// Children returns the structures that are part of id, in list order.
func (t *Terms) Children(id TermID) []Term { return nil }

// WithLocal returns a new list with one more structure of the lab's own.
func (t *Terms) WithLocal(x Term) (*Terms, error) { return t, errSkeleton }

// Check reports whether the structure of x is known and takes its side: ErrSide when not.
func (t *Terms) Check(x Label) error { return errSkeleton }

// Verdict is the outcome of matching a typed answer, with the reason in words.
type Verdict struct {
	Accepted bool
	Reason   string
	Side     Side // the side named in the answer, NoSide when none
}

// Match judges a typed answer against a structure.
func (t *Terms) Match(id TermID, answer string) Verdict { return Verdict{} }

// Accepts reports whether a typed answer names the structure.
func (t *Terms) Accepts(id TermID, answer string) bool { return t.Match(id, answer).Accepted }

// Letter returns the kind's letter, drawn beside names so that kinds are told apart without colour.
func (k Kind) Letter() string { return kinds[min(int(k), len(kinds)-1)].letter }

// String returns the kind's name.
func (k Kind) String() string { return kinds[min(int(k), len(kinds)-1)].name }

// Hatch returns the number of the kind's hatch pattern, the same for all time: 0 none, 1 lines rising to the right,
// 2 lines falling, 3 upright lines, 4 level lines, 5 both diagonals, 6 dots, 7 squares, 8 dashes rising,
// 9 dashes falling, 10 rings, 11 sparse dots.
func (k Kind) Hatch() int { return kinds[min(int(k), len(kinds)-1)].hatch }

var kinds = [...]struct {
	name, letter string
	hatch        int
}{
	Other: {"other", "x", 0}, Vessel: {"vessel", "v", 1}, Nerve: {"nerve", "n", 6}, Muscle: {"muscle", "m", 2},
	Bone: {"bone", "b", 5}, Organ: {"organ", "o", 4}, Space: {"space", "s", 11}, Joint: {"joint", "j", 7},
	Ligament: {"ligament", "l", 8}, Tissue: {"tissue", "t", 9}, Lymph: {"lymph", "y", 10}, Part: {"region", "r", 3},
}
