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
	Donor  string
	Ready  bool
	Blocks []string // why not, one plain phrase each
	In     float64  // grams that came in
	Out    float64  // grams of all pieces, those returned already too
	Lost   float64  // grams lost, with the reasons in Losses
	Losses []LedgerEntry
	// Containers lists what is here, by place, both in order: the return list.
	Containers []Container
}

// Container is one place with its pieces.
type Container struct {
	Place  string // a code, or words
	Words  string // where that is, for people
	Pieces []Piece
}

// Reconcile compares what came in of a donor with what is here. runs are the donor's: each of their slabs must
// have come in as a piece.
func (c Custody) Reconcile(donor string, runs []section.Run) Reckoning {
	r := Reckoning{Donor: donor, In: c.in[donor], Lost: c.lost[donor]}
	block := func(format string, args ...any) { r.Blocks = append(r.Blocks, fmt.Sprintf(format, args...)) }
	type key struct {
		run  string
		slab int
	}
	came := map[key]bool{}
	places := map[string]int{}
	any := false
	for _, p := range c.Pieces(donor) {
		any = true
		r.Out += p.Mass
		if p.Kind == SlabPiece {
			came[key{p.Run, p.Slab}] = true
		}
		if !p.Here() {
			continue
		}
		if p.Loan != "" {
			block("%s is on loan to %s", pieceWords(p), p.Loan)
			continue
		}
		if p.Mass == 0 {
			block("%s has no mass", pieceWords(p))
		}
		at, ok := places[p.Place]
		if !ok {
			at = len(r.Containers)
			places[p.Place], r.Containers = at, append(r.Containers, Container{Place: p.Place, Words: c.PlaceWords(p.Place)})
		}
		r.Containers[at].Pieces = append(r.Containers[at].Pieces, p)
	}
	for _, run := range runs {
		for _, s := range run.Slabs {
			if run.Donor == donor && !came[key{run.ID, s.Number}] {
				block("slab %d of the %s run never came in", s.Number, run.Plane)
			}
		}
	}
	for _, h := range c.holds[donor] {
		block("on hold since %s: %s", h.Day.Format(dayWords), h.Why)
	}
	if !any {
		block("nothing of this donor came in")
	}
	c.losses(&r, block)
	if gap := r.In - r.Out - r.Lost; math.Abs(gap) > gramSlack {
		block("%.1f g are unaccounted for", gap)
	}
	sort.SliceStable(r.Containers, func(i, j int) bool { return byName(r.Containers[i].Words, r.Containers[j].Words) < 0 })
	r.Ready = len(r.Blocks) == 0
	return r
}

// losses lists the lines in which something of the donor was lost; each needs its reason.
func (c Custody) losses(r *Reckoning, block func(string, ...any)) {
	for _, e := range c.entries {
		p, ok := c.Piece(e.Piece)
		if !ok || p.Donor != r.Donor || c.undone[e.Number] || (e.Lost == 0 && e.Deed != Weigh) {
			continue
		}
		r.Losses = append(r.Losses, e)
		if e.Why == "" {
			block("line %d lost %.1f g without a reason", e.Number, e.Lost)
		}
	}
}

// Sentence says what blocks a return as one sentence, "" when nothing does.
func (r Reckoning) Sentence() string { return strings.Join(r.Blocks, "; ") }

// pieceWords names a piece for people.
func pieceWords(p Piece) string { return fmt.Sprintf("%s (%s)", p.Name, p.Code) }
