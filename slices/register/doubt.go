package register

import (
	"fmt"
	"math"
	"slices"
)

// Doubt is a mistake that would explain why the data disagree.
type Doubt struct {
	Slabs  []int   `json:"slabs"`            // one for a mistyped thickness, two for an exchange
	Should float64 `json:"should,omitempty"` // mm that would fit, for a thickness
	Gain   float64 `json:"gain"`             // how much less the data disagree without it, in squared standard deviations
	Words  string  `json:"words"`
	rank   float64 // gain, and for a thickness how much more usual it would become
}

// doubts tries which single mistake explains the misfit best.
func (w *whole) doubts(s *solution) []Doubt {
	const least = 16 // squared standard deviations: four of them, as usual when many places are looked at
	var out []Doubt
	for i, k := range w.slab {
		r := w.rows[k]
		var lever float64 // variance of the fitted equation
		for a, p := range r.at {
			for b, q := range r.at {
				lever += r.by[a] * r.by[b] * s.cov.At(p, q)
			}
		}
		free := r.sd*r.sd - lever // variance of its residual
		if free < 1e-6*r.sd*r.sd {
			continue // nothing checks this thickness
		}
		off := r.off(s.x)
		if gain := off * off / free; gain > least {
			slab := w.run.Slabs[i]
			should := slab.Mean() + off*r.sd*r.sd/free/s.x[0]
			out = append(out, Doubt{Slabs: []int{slab.Number}, Should: should, Gain: gain, rank: gain + w.oddness(slab.Mean()) - w.oddness(should),
				Words: fmt.Sprintf("Slab %d's thickness, %.1f mm, does not fit its neighbours: %.1f mm would. Measure it again.", slab.Number, slab.Mean(), should)})
		}
	}
	for i := range w.run.Slabs {
		for _, j := range []int{i + 1, i + 2} {
			if j >= len(w.run.Slabs) {
				continue
			}
			swapped := *w
			swapped.run.Slabs = slices.Clone(w.run.Slabs)
			swapped.run.Slabs[i], swapped.run.Slabs[j] = w.run.Slabs[j], w.run.Slabs[i]
			// the kerfs stay where the saw went
			swapped.run.Slabs[i].Kerf, swapped.run.Slabs[j].Kerf = w.run.Slabs[i].Kerf, w.run.Slabs[j].Kerf
			swapped.write()
			t, err := swapped.solve()
			if err != nil || s.misfit-t.misfit <= least {
				continue
			}
			a, b := w.run.Slabs[i].Number, w.run.Slabs[j].Number
			out = append(out, Doubt{Slabs: []int{a, b}, Gain: s.misfit - t.misfit, rank: s.misfit - t.misfit,
				Words: fmt.Sprintf("Slabs %d and %d seem to be exchanged: the other way round they fit. Look at both.", a, b)})
		}
	}
	slices.SortStableFunc(out, func(a, b Doubt) int {
		if a.rank > b.rank {
			return -1
		}
		return 1
	})
	return out[:min(3, len(out))]
}

// oddness tells how far a thickness stands out from the run's, in squared standard deviations (from the median of the
// departures, at least 1 mm). Slabs between two seen faces explain a misfit equally well; the odd one is the likelier slip.
func (w *whole) oddness(t float64) float64 {
	usual := usualThickness(w.run)
	var off []float64
	for _, s := range w.run.Slabs {
		if m := s.Mean(); m > 0 {
			off = append(off, math.Abs(m-usual))
		}
	}
	if len(off) == 0 {
		return 0
	}
	spread := math.Max(1, 1.4826*median(off))
	return (t - usual) * (t - usual) / (spread * spread)
}
