package annotate

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
)

// TermID identifies a structure for good: "UBERON:0000948", "FMA:50033", or "LOCAL:..." for a lab's own.
type TermID string

var (
	// ErrTerms says that a term list cannot be read; the message gives the line.
	ErrTerms = errors.New("annotate: the term list cannot be read")
	// ErrNoTerm says that no list holds the structure.
	ErrNoTerm = errors.New("annotate: no such structure in the list")
)

// Term is one structure of the list.
type Term struct {
	ID            TermID   `json:"id"`
	Name          string   `json:"name"`  // English
	Latin         string   `json:"latin"` // empty when no source gives it
	Synonyms      []string `json:"synonyms"`
	Abbreviations []string `json:"abbreviations,omitempty"`
	Kind          Kind     `json:"kind"`
	Region        string   `json:"region"` // all, head, neck, back, thorax, abdomen, pelvis, upper limb, lower limb
	Paired        bool     `json:"paired"` // one on each side, so a label must say which
	PartOf        TermID   `json:"partOf,omitempty"`
	FMA           string   `json:"fma,omitempty"`
	Source        string   `json:"source"`
	Local         bool     `json:"local,omitempty"` // the lab's own, not from a published list
}

// Terms is a list of structures with its search index. It is a value that does not change: WithLocal and Join
// return new lists. Any number of goroutines may read it.
type Terms struct {
	list     []Term
	byID     map[TermID]int
	children map[TermID][]int
	index    termIndex
	matcher  matcher
	about    About
}

// About is what the head of a list says of the list itself; empty is what it does not say.
type About struct{ Title, Version, Date, Licence, Source string }

// About returns what the list says of itself.
func (t *Terms) About() About { return t.about }

// Bounds of a term list, so that a hostile file cannot fill memory.
const (
	maxTerms    = 200_000
	maxTermLine = 64 << 10
)

var termColumns = []string{"id", "name", "latin", "synonyms", "abbreviations", "kind", "region", "paired", "part_of", "fma", "source"}

// LoadTerms reads a term list as tab-separated UTF-8 text: a header line, then one structure a line with the columns
// id, name, latin, synonyms, abbreviations, kind, region, paired (yes or no), part_of, fma, source, in any order; several
// values in a cell are parted by "|". id, name, kind and paired must be there. Lines that start with # are skipped.
// Errors are ErrTerms with the line.
func LoadTerms(r io.Reader) (*Terms, error) {
	lines := bufio.NewScanner(r)
	lines.Buffer(make([]byte, 0, 4096), maxTermLine)
	var at map[string]int
	var list []Term
	for n := 1; lines.Scan(); n++ {
		text := strings.TrimSuffix(lines.Text(), "\r")
		if text == "" || text[0] == '#' {
			continue
		}
		cells := strings.Split(text, "\t")
		if at == nil {
			var err error
			if at, err = termHeader(cells); err != nil {
				return nil, err
			}
			continue
		}
		if len(list) == maxTerms {
			return nil, fmt.Errorf("%w: more than %d structures", ErrTerms, maxTerms)
		}
		x, err := readTerm(cells, at)
		if err != nil {
			return nil, fmt.Errorf("%w: line %d: %w", ErrTerms, n, err)
		}
		list = append(list, x)
	}
	if err := lines.Err(); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrTerms, err)
	}
	if at == nil {
		return nil, fmt.Errorf("%w: it is empty", ErrTerms)
	}
	return newTerms(list)
}

func termHeader(cells []string) (map[string]int, error) {
	at := map[string]int{}
	for i, c := range cells {
		if slices.Contains(termColumns, c) {
			at[c] = i
		}
	}
	for _, need := range []string{"id", "name", "kind", "paired"} {
		if _, ok := at[need]; !ok {
			return nil, fmt.Errorf("%w: the header has no column %q", ErrTerms, need)
		}
	}
	return at, nil
}

func readTerm(cells []string, at map[string]int) (Term, error) {
	cell := func(column string) string {
		if i, ok := at[column]; ok && i < len(cells) {
			return strings.TrimSpace(cells[i])
		}
		return ""
	}
	kind, err := ParseKind(cell("kind"))
	if err != nil {
		return Term{}, err
	}
	x := Term{ID: TermID(cell("id")), Name: cell("name"), Latin: cell("latin"), Synonyms: bars(cell("synonyms")), Abbreviations: bars(cell("abbreviations")), Kind: kind,
		Region: cell("region"), PartOf: TermID(cell("part_of")), FMA: cell("fma"), Source: cell("source")}
	x.Local = strings.HasPrefix(string(x.ID), "LOCAL:")
	switch cell("paired") {
	case "yes":
		x.Paired = true
	case "no":
	default:
		return x, fmt.Errorf("paired is %q, not yes or no", cell("paired"))
	}
	return x, x.check()
}

func (x Term) check() error {
	if x.ID == "" || strings.ContainsAny(string(x.ID), " \t\n|") {
		return fmt.Errorf("%q is not an identifier", x.ID)
	}
	if len(words(x.Name)) == 0 {
		return fmt.Errorf("%s has no name", x.ID)
	}
	return nil
}

func bars(cell string) []string {
	var out []string
	for s := range strings.SplitSeq(cell, "|") {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}

func newTerms(list []Term) (*Terms, error) {
	t := &Terms{list: list, byID: make(map[TermID]int, len(list)), children: map[TermID][]int{}}
	for i, x := range list {
		if _, twice := t.byID[x.ID]; twice {
			return nil, fmt.Errorf("%w: %s stands twice", ErrTerms, x.ID)
		}
		t.byID[x.ID] = i
		if x.PartOf != "" {
			t.children[x.PartOf] = append(t.children[x.PartOf], i)
		}
	}
	t.index = newTermIndex(list)
	t.matcher = newMatcher(list, nil)
	return t, nil
}

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

// NameOf returns the name of a structure, or its id where the list has none. t may be nil.
func (t *Terms) NameOf(id TermID) string {
	if t != nil {
		if x, ok := t.ByID(id); ok {
			return x.Name
		}
	}
	return string(id)
}

// Children returns the structures that are part of id, in list order.
func (t *Terms) Children(id TermID) []Term {
	out := make([]Term, len(t.children[id]))
	for i, at := range t.children[id] {
		out[i] = t.list[at]
	}
	return out
}

// WithLocal returns a new list with one more structure of the lab's own, or with one of the lab's own renamed when
// the id is there already. An empty id gets the next free "LOCAL:n". Structures of a published list are never changed.
func (t *Terms) WithLocal(x Term) (*Terms, error) {
	for n := 1; x.ID == ""; n++ {
		if id := TermID(fmt.Sprintf("LOCAL:%d", n)); !t.has(id) {
			x.ID = id
		}
	}
	if !strings.HasPrefix(string(x.ID), "LOCAL:") {
		return t, fmt.Errorf("annotate: %s is no local structure: its id must start with LOCAL:", x.ID)
	}
	x.Local = true
	if err := x.check(); err != nil {
		return t, fmt.Errorf("annotate: %w", err)
	}
	list := slices.Clone(t.list)
	if i, ok := t.byID[x.ID]; ok {
		list[i] = x
	} else {
		list = append(list, x)
	}
	next, err := newTerms(list)
	if err != nil {
		return t, err
	}
	next.matcher = t.matcher.over(list)
	return next, nil
}

// Join returns the structures of t and of others behind them; a structure whose id is there already stays as it is.
func (t *Terms) Join(others ...*Terms) (*Terms, error) {
	list := slices.Clone(t.list)
	seen := map[TermID]bool{}
	for _, x := range list {
		seen[x.ID] = true
	}
	for _, o := range others {
		for _, x := range o.list {
			if !seen[x.ID] {
				seen[x.ID] = true
				list = append(list, x)
			}
		}
	}
	next, err := newTerms(list)
	if err != nil {
		return t, err
	}
	next.matcher = t.matcher.over(list)
	return next, nil
}

func (t *Terms) has(id TermID) bool { _, ok := t.byID[id]; return ok }

// Check reports whether the structure of x is known and takes its side: a paired one needs left or right, an
// unpaired one refuses both. Errors: ErrNoTerm, ErrSide. A label without a structure passes: it is not named yet.
func (t *Terms) Check(x Label) error {
	if x.Term == "" {
		return nil
	}
	term, ok := t.ByID(x.Term)
	if !ok {
		return fmt.Errorf("%w: %s", ErrNoTerm, x.Term)
	}
	sided := x.Side == Left || x.Side == Right
	switch {
	case sided && !term.Paired:
		return fmt.Errorf("%w: there is one %s, so it is neither left nor right", ErrSide, term.Name)
	case !sided && term.Paired:
		return fmt.Errorf("%w: the %s is paired: say left or right", ErrSide, term.Name)
	}
	return nil
}
