package quiz

import (
	"fmt"
	"io"
	"time"

	"sectionary/atlas"
)

// WriteReturnList prints what goes back with a donor as one PDF: container by container with its pieces and empty lines
// to sign on, then mass in against mass out with the reasons, or first of all why nothing may go back yet.
func WriteReturnList(w io.Writer, r atlas.Reckoning, today time.Time, paper Paper) error {
	l := &listPages{paper: paper, title: "Return list, donor " + r.Donor, note: fmt.Sprintf("Printed on %s. Everything that is here, container by container. The ledger had %s, seal %s.", today.Format("2 January 2006"), countOf(r.Lines, "line"), r.Seal)}
	l.room(0)
	if !r.Ready {
		l.heading("Not ready to return")
		for _, b := range r.Blocks {
			l.lines(regular, "- "+b.Words)
		}
		l.y += 3
	}
	total, pieces := 0.0, 0
	shares := []float64{0.13, 0.14, 0.49, 0.14, 0.10}
	for _, c := range r.Containers {
		sum := 0.0
		for _, p := range c.Pieces {
			sum += p.Mass
		}
		total, pieces = total+sum, pieces+len(c.Pieces)
		l.heading(capital(c.Words))
		l.row(bold, shares, "Item", "Kind", "Piece", "Mass", "Packed")
		for _, p := range c.Pieces {
			l.row(regular, shares, p.Code, string(p.Kind), p.Name, grams(p.Mass), "")
			l.box(l.width() * 0.90)
		}
		l.lines(regular, fmt.Sprintf("%s, %s together.", countOf(len(c.Pieces), "piece"), grams(sum)))
		l.signatures("packed by, date", "checked by, date")
	}
	l.masses(r, total, pieces)
	l.signatures("handed over by, date", "received by, date")
	return l.write(w)
}

// box is a square to tick, on the line just set.
func (l *listPages) box(x float64) {
	a := area{listMargin + x + 2, l.y - listRow - 2.8, 3.2, 3.2}
	l.page().do(func(b brush) { b.line(a.corners(), true, 0.25, black) })
}

func countOf(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// masses sets mass in against mass out, with the reason of every difference.
func (l *listPages) masses(r atlas.Reckoning, here float64, pieces int) {
	l.heading("Mass in and mass out")
	shares := []float64{0.75, 0.25}
	l.row(regular, shares, "Came in", grams(r.In))
	l.row(regular, shares, "Here, "+countOf(pieces, "piece"), grams(here))
	if gone := r.Out - here; gone != 0 {
		l.row(regular, shares, "Returned already, or on loan", grams(gone))
	}
	for _, e := range r.Losses {
		why := e.Why
		if why == "" {
			why = "no reason given"
		}
		l.row(regular, shares, fmt.Sprintf("%s, line %d: %s", e.At.Format("2 January 2006"), e.Number, why), grams(e.Grams))
	}
	l.row(bold, shares, "Unaccounted for", fmt.Sprintf("%.1f g", r.Gap()))
}

// WriteHistory prints the lines that speak of a piece, container or shelf as one PDF.
func WriteHistory(w io.Writer, c atlas.Custody, code string, today time.Time, paper Paper) error {
	past := c.History(code)
	if len(past) == 0 {
		return fmt.Errorf("%w (item %s)", atlas.ErrNotFound, code)
	}
	l := &listPages{paper: paper, title: "Item " + code, note: fmt.Sprintf("%s. %s, printed on %s. The ledger had %s, seal %s.", c.What(code), countOf(len(past), "line"), today.Format("2 January 2006"), countOf(c.Len(), "line"), c.Seal())}
	l.room(0)
	shares := []float64{0.07, 0.17, 0.12, 0.22, 0.22, 0.20}
	l.row(bold, shares, "Line", "When", "Who", "Deed", "From, to", "Why")
	for _, e := range past {
		deed := c.DeedWords(e)
		if e.Undone {
			deed += " (taken back)"
		}
		l.row(regular, shares, fmt.Sprint(e.Number), e.When(), e.Who, deed, c.FromTo(e.LedgerEntry), e.Why)
	}
	return l.write(w)
}
