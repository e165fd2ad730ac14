package quiz

import (
	"fmt"
	"io"
	"math"
	"time"

	"sectionary/slices/register"
	"sectionary/slices/section"
)

// WriteStretch prints, for use inside the lab, how the lengths of a run's slabs differ from the scan's: one line a slab, in per
// cent of the scan's length with the standard error, and the same in words.
func WriteStretch(w io.Writer, run section.Run, rows []register.SlabStretch, today time.Time, paper Paper) error {
	l := &listPages{paper: paper, title: "Stretch and shrink: " + run.Donor + ", " + run.PartWords() + ", " + run.Plane.String(),
		note: "Slab against scan, in % of the scan's length. Printed on " + today.Format("2 January 2006") + ". For use inside the lab."}
	l.room(0)
	if len(rows) == 0 {
		l.lines(regular, "Nothing can be told yet: a face needs four landmarks or more, or the run two tie levels.")
	} else {
		shares := []float64{0.1, 0.3, 0.3, 0.3}
		ways := [2]string{"", ""}
		for _, r := range rows {
			for i, a := range r.Across {
				if a != nil {
					ways[i] = a.Way
				}
			}
		}
		l.row(bold, shares, "Slab", "Along the cut", capital(ways[0]), capital(ways[1]))
		for _, r := range rows {
			cells := []string{fmt.Sprint(r.Slab), StretchCell(r.Along), StretchCell(nil), StretchCell(nil)}
			for i, a := range r.Across {
				if a != nil {
					cells[2+i] = StretchCell(&a.Percent)
				}
			}
			l.row(regular, shares, cells...)
		}
		l.heading("In words")
		for _, r := range rows {
			for _, words := range r.Words {
				l.lines(regular, fmt.Sprintf("Slab %d: %s.", r.Slab, words))
			}
		}
	}
	l.heading("What this says and what not")
	l.lines(regular, "Minus: the slab is shorter than the scan. The figure after ± is the standard error; a difference below twice that may be none. "+
		"Fixing, thawing, sawing and lying on a tray change tissue; so does the way landmarks were picked.")
	l.lines(bold, "For teaching. Not for diagnosis.")
	return l.write(w)
}

// StretchCell writes one figure of the table: "-3.0 % ± 0.4"; without an error of its own "-1.0 %"; "not told" for nil.
func StretchCell(p *register.Percent) string {
	switch {
	case p == nil:
		return "not told"
	case math.IsNaN(p.SE):
		return fmt.Sprintf("%+.1f %%", p.Value)
	}
	return fmt.Sprintf("%+.1f %% ± %.1f", p.Value, p.SE)
}
