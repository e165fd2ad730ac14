package section

import (
	"cmp"
	"math"
	"slices"
	"strconv"
)

// Closure compares the length before cutting with thickness + kerf. misclosure is positive when slabs and
// kerfs do not fill the length; limit is twice its usual spread, 2 sqrt(2^2 + n 0.5^2 + (n-1) 0.15^2) for n slabs; worst
// is the number of the slab whose thickness is most likely mistyped, or 0 when all is within the limit or
// nothing was measured. All in mm.
func (r Run) Closure() (misclosure, limit float64, worst int) {
	limit = 2 * spread(lengthSD, len(r.Slabs), len(r.Slabs)-1)
	if r.Length == 0 || len(r.Slabs) == 0 {
		return 0, limit, 0
	}
	misclosure = r.Length - r.Extent()
	if math.Abs(misclosure) <= limit {
		return misclosure, limit, 0
	}
	if s := r.Suspects(); len(s) > 0 {
		worst = s[0].Slab
	}
	return misclosure, limit, worst
}

// ToMeasure counts the slabs whose thickness is only planned or not written at all: until there are none, a closure
// speaks of the plan.
func (r Run) ToMeasure() (n int) {
	for _, s := range r.Slabs {
		if s.Planned || s.Mean() == 0 {
			n++
		}
	}
	return n
}

// ClosingKerf is the width in mm that every cut would need to have for the run to fill its length, 0 when the
// length or the slabs are not known or there is no cut. Below 0 no kerf closes the run.
func (r Run) ClosingKerf() float64 {
	cuts := float64(len(r.Slabs) - 1)
	if r.Length == 0 || cuts < 1 {
		return 0
	}
	left := r.Length
	for _, s := range r.Slabs {
		left -= s.Mean()
	}
	return left / cuts
}

// Suspect is one written thickness that may be mistyped. Measure counts from 0. Likely is what it may have been, in mm,
// when exchanging two digits or moving the decimal point explains it, else 0.
type Suspect struct {
	Slab, Measure   int
	Written, Likely float64
	score           float64 // log likelihood against no mistake
}

// How one weighs suspects: common practice, no source.
const (
	leastSpread = 0.5 // mm, of slabs that were meant to be equal
	slabWedge   = 1.0 // mm, between measures of one slab
	otherSlip   = 4.0 // how much rarer (natural logarithm) any other mistake is than an exchange or a slip of the point
)

// Suspects lists the slabs by how likely a mistyped thickness of theirs explains the misclosure, the likeliest first, each
// with its likeliest measure. A measure counts by how far it stands out (of the other measures of its slab, else of the
// run's median), and by how near the run comes to its length once it is put right.
func (r Run) Suspects() []Suspect {
	var means []float64
	for _, s := range r.Slabs {
		if m := s.Mean(); m > 0 {
			means = append(means, m)
		}
	}
	if r.Length == 0 || len(means) == 0 {
		return nil
	}
	middle := median(means)
	for i, m := range means {
		means[i] = math.Abs(m - middle)
	}
	usual := math.Max(leastSpread, 1.4826*median(means)) // of a normal spread, from the median of the deviations
	miss, sd := r.Length-r.Extent(), spread(lengthSD, len(r.Slabs), len(r.Slabs)-1)
	var out []Suspect
	for _, s := range r.Slabs {
		best := Suspect{score: math.Inf(-1)}
		for i, t := range s.Thickness {
			if t <= 0 || s.Planned {
				continue
			}
			others := s.without(i)
			at, within := middle, usual
			if len(others) > 0 {
				at, within = median(others), slabWedge
			}
			share := float64(len(others) + 1)
			gain := func(right, left float64) float64 {
				return math.Log1p(sq((t-at)/within)) - math.Log1p(sq((right-at)/within)) - sq(left/sd)/2
			}
			if right := t + miss*share; right > 0 {
				if g := gain(right, 0) - otherSlip; g > best.score {
					best = Suspect{s.Number, i, t, 0, g}
				}
			}
			for _, right := range slips(t) {
				if g := gain(right, miss-(right-t)/share); g > best.score {
					best = Suspect{s.Number, i, t, right, g}
				}
			}
		}
		if best.Slab != 0 {
			out = append(out, best)
		}
	}
	slices.SortStableFunc(out, func(a, z Suspect) int { return cmp.Compare(z.score, a.score) })
	return out
}

// without are the measures of a slab but the one at index i.
func (s Slab) without(i int) (out []float64) {
	for k, t := range s.Thickness {
		if k != i && t > 0 {
			out = append(out, t)
		}
	}
	return out
}

// slips are the lengths that become mm by exchanging two digits side by side, or by a decimal point one place off.
func slips(mm float64) (out []float64) {
	text := strconv.FormatFloat(math.Round(mm*100)/100, 'f', -1, 64)
	if !slices.Contains([]byte(text), '.') {
		text += ".0"
	}
	add := func(v float64) {
		if v > 0 && v != mm && !slices.Contains(out, v) {
			out = append(out, v)
		}
	}
	for i := 0; i+1 < len(text); i++ {
		k := i + 1
		if text[k] == '.' {
			k++
		}
		if text[i] == '.' || k >= len(text) {
			continue
		}
		swapped := []byte(text)
		swapped[i], swapped[k] = swapped[k], swapped[i]
		if v, err := strconv.ParseFloat(string(swapped), 64); err == nil {
			add(v)
		}
	}
	add(math.Round(mm*1000) / 100)
	add(math.Round(mm*10) / 100)
	return out
}

func sq(x float64) float64 { return x * x }

// median is the middle of some numbers; it sorts a copy.
func median(v []float64) float64 {
	v = slices.Sorted(slices.Values(v))
	if n := len(v); n%2 == 0 {
		return (v[n/2-1] + v[n/2]) / 2
	}
	return v[len(v)/2]
}
