package atlas

import (
	"fmt"
	"math"
	"sort"
	"time"

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
	Place  string
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
			block("%s (%s) is on loan to %s", p.Name, p.Code, p.Loan)
			continue
		}
		if p.Mass == 0 {
			block("%s (%s) has no mass", p.Name, p.Code)
		}
		at, ok := places[p.Place]
		if !ok {
			at = len(r.Containers)
			places[p.Place], r.Containers = at, append(r.Containers, Container{Place: p.Place})
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
	if !any {
		block("nothing of this donor came in")
	}
	c.losses(&r, block)
	if gap := r.In - r.Out - r.Lost; math.Abs(gap) > gramSlack {
		block("%.1f g are unaccounted for", gap)
	}
	sort.Slice(r.Containers, func(i, j int) bool { return r.Containers[i].Place < r.Containers[j].Place })
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

// reminders are the days before an agreement ends at which people are told.
var reminders = []int{7, 30, 90, 180}

// DueIn counts the days from today to the last day of the agreement, negative when it has passed. ok is false when no
// day is recorded. Both are calendar days, so time zones and leap days cannot shift them.
func (a Agreement) DueIn(today time.Time) (days int, ok bool) {
	if a.Ends.IsZero() {
		return 0, false
	}
	civil := func(t time.Time) time.Time { y, m, d := t.Date(); return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }
	return int(civil(a.Ends).Sub(civil(today)).Hours() / 24), true
}

// Reminder is what to say of an agreement's end on a day, "" while it is more than 180 days off or not recorded.
func (a Agreement) Reminder(today time.Time) string {
	days, ok := a.DueIn(today)
	switch {
	case !ok:
		return ""
	case days < 0:
		return fmt.Sprintf("overdue by %d days", -days)
	case days == 0:
		return "due back today"
	}
	for _, r := range reminders {
		if days <= r {
			return fmt.Sprintf("due back in %d days", days)
		}
	}
	return ""
}
