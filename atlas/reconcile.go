package atlas

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"sectionary/slices/section"
)

// Reckoning is what stands between a donor and being returned whole.
type Reckoning struct {
	Donor  string  `json:"donor"`
	Lines  int     `json:"lines"` // of the ledger then
	Seal   string  `json:"seal"`  // of the ledger then
	Ready  bool    `json:"ready"`
	Blocks []Block `json:"blocks"` // why not
	In     float64 `json:"in"`     // grams that came in
	Out    float64 `json:"out"`    // grams of all pieces, those returned already too
	Lost   float64 `json:"lost"`   // grams lost, with the reasons in Losses
	Losses []Loss  `json:"losses"`
	// Containers lists what is here, by place, both in order: the return list.
	Containers []Container `json:"containers"`
}

// Gap is how many grams are unaccounted for, negative when more is here than came in.
func (r Reckoning) Gap() float64 { return r.In - r.Out - r.Lost }

// Block is one thing that keeps a donor from being returned.
type Block struct {
	Code  string `json:"code"`  // of the piece, "" when it is none
	Words string `json:"words"` // one plain phrase
}

// Loss is a line after which less was here than before, with its reason in Why.
type Loss struct {
	LedgerEntry
	Grams float64 `json:"grams"` // negative when a weighing found more
}

// Container is one place with its pieces.
type Container struct {
	Place  string  `json:"place"` // a code, or words
	Words  string  `json:"words"` // where that is, for people
	Pieces []Piece `json:"pieces"`
}

// Reconcile compares what came in of a donor with what is here. runs are the donor's: each of their slabs must
// have come in as a piece.
func (c Custody) Reconcile(donor string, runs []section.Run) Reckoning {
	r := Reckoning{Donor: donor, Lines: c.Len(), Seal: c.Seal(), In: c.in[donor], Lost: c.lost[donor], Blocks: []Block{}, Losses: []Loss{}, Containers: []Container{}}
	pieces := c.Pieces(donor)
	for _, p := range pieces {
		r.Out += p.Mass
	}
	c.whatIsHere(&r, pieces)
	missingSlabs(&r, pieces, runs)
	for _, h := range c.holds[donor] {
		r.block("", "on hold since %s: %s", h.Day.Format(dayWords), h.Why)
	}
	if len(pieces) == 0 {
		r.block("", "nothing of this donor came in")
	}
	c.losses(&r)
	if gap := r.Gap(); math.Abs(gap) > gramSlack {
		r.block("", "%.1f g are unaccounted for", gap)
	}
	r.Ready = len(r.Blocks) == 0
	return r
}

func (r *Reckoning) block(code, format string, args ...any) {
	r.Blocks = append(r.Blocks, Block{Code: code, Words: fmt.Sprintf(format, args...)})
}

// whatIsHere sorts the pieces that are here by place; what is on loan, missing or was not weighed blocks.
func (c Custody) whatIsHere(r *Reckoning, pieces []Piece) {
	named := map[string]int{}
	for _, p := range pieces {
		named[p.Name]++
	}
	places := map[string]int{}
	for _, p := range pieces {
		if !p.Here() {
			continue
		}
		name := p.Name
		if named[name] > 1 {
			name = pieceWords(p)
		}
		if p.Mass == 0 {
			r.block(p.Code, "%s has no mass", name)
		}
		if p.Loan != "" {
			r.block(p.Code, "%s is on loan to %s", name, p.Loan)
			continue
		}
		if p.Missing {
			r.block(p.Code, "%s is missing", name)
			continue
		}
		at, ok := places[p.Place]
		if !ok {
			at = len(r.Containers)
			places[p.Place], r.Containers = at, append(r.Containers, Container{Place: p.Place, Words: c.PlaceWords(p.Place)})
		}
		r.Containers[at].Pieces = append(r.Containers[at].Pieces, p)
	}
	for _, box := range r.Containers {
		sort.SliceStable(box.Pieces, func(i, j int) bool { return byName(box.Pieces[i].Name, box.Pieces[j].Name) < 0 })
	}
	sort.SliceStable(r.Containers, func(i, j int) bool { return byName(r.Containers[i].Words, r.Containers[j].Words) < 0 })
}

// missingSlabs blocks for every slab of a run that never came in as a piece.
func missingSlabs(r *Reckoning, pieces []Piece, runs []section.Run) {
	type key struct {
		run  string
		slab int
	}
	came := map[key]bool{}
	for _, p := range pieces {
		if p.Kind == SlabPiece {
			came[key{p.Run, p.Slab}] = true
		}
	}
	for _, run := range runs {
		var lack []int
		for _, s := range run.Slabs {
			if run.Donor == r.Donor && !came[key{run.ID, s.Number}] {
				lack = append(lack, s.Number)
			}
		}
		name := strings.TrimSpace(run.Part + " " + run.Plane.String())
		switch {
		case len(lack) == 1:
			r.block("", "slab %d of the %s run never came in", lack[0], name)
		case len(lack) > 1:
			r.block("", "slabs %s of the %s run never came in", spans(lack), name)
		}
	}
}

// spans writes numbers in rising order as "1–4, 7".
func spans(numbers []int) string {
	var out []string
	for i := 0; i < len(numbers); {
		last := i
		for last+1 < len(numbers) && numbers[last+1] == numbers[last]+1 {
			last++
		}
		words := fmt.Sprint(numbers[i])
		switch {
		case last == i+1:
			words += fmt.Sprintf(", %d", numbers[last])
		case last > i:
			words += fmt.Sprintf("–%d", numbers[last])
		}
		out, i = append(out, words), last+1
	}
	return strings.Join(out, ", ")
}

// losses lists the lines in which something of the donor was lost; each needs its reason.
func (c Custody) losses(r *Reckoning) {
	for _, e := range c.entries {
		p, ok := c.pieces[e.Piece]
		grams := c.loss[e.Number]
		if !ok || p.Donor != r.Donor || c.undone[e.Number] || grams == 0 {
			continue
		}
		r.Losses = append(r.Losses, Loss{e, grams})
		if e.Why == "" && math.Abs(grams) > gramSlack {
			r.block(p.Code, "line %d lost %.1f g without a reason", e.Number, grams)
		}
	}
}

// Counted is what a look through the containers found against the ledger.
type Counted struct {
	Missing []Piece `json:"missing"` // should be here and were not found
	Strange []Block `json:"strange"` // were found and should not be here, and why
}

// Count compares the codes that were scanned in all containers of a donor with what should be here.
func (c Custody) Count(donor string, scanned []string) (out Counted) {
	seen := map[string]bool{}
	for _, code := range scanned {
		if seen[code] {
			continue
		}
		seen[code] = true
		p, ok := c.pieces[code]
		switch {
		case c.holders[code] != nil:
		case !ok:
			out.Strange = append(out.Strange, Block{code, code + " is not in the ledger"})
		case p.Donor != donor:
			out.Strange = append(out.Strange, Block{code, pieceWords(*p) + " is of donor " + p.Donor})
		case !p.Here() || p.Loan != "" || p.Missing:
			out.Strange = append(out.Strange, Block{code, pieceWords(*p) + " is here, but the ledger says: " + c.Whereabouts(*p)})
		}
	}
	for _, p := range c.Pieces(donor) {
		if p.Here() && p.Loan == "" && !seen[p.Code] {
			out.Missing = append(out.Missing, p)
		}
	}
	return out
}

// Sentence says what blocks a return as one sentence, "" when nothing does.
func (r Reckoning) Sentence() string {
	words := make([]string, len(r.Blocks))
	for i, b := range r.Blocks {
		words[i] = b.Words
	}
	return strings.Join(words, "; ")
}

// pieceWords names a piece for people.
func pieceWords(p Piece) string { return fmt.Sprintf("%s (%s)", p.Name, p.Code) }
