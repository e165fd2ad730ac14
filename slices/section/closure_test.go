package section_test

import (
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"sectionary/slices/section"
)

// Capability PL2, worked by hand. Limit 2 sqrt(2^2 + n 0.5^2 + (n-1) 0.15^2): for n = 24 it is 2 sqrt(4 + 6 + 0.5175) =
// 2 x 3.24307 = 6.486 and for n = 40 2 sqrt(4 + 10 + 0.8775) = 2 x 3.85714 = 7.714, as the table of capabilities rounds them.
// 24 slabs of 20.0 mm with kerfs of 1.2 mm make 24 x 20 + 23 x 1.2 = 507.6 mm.
func TestPL2Closure(t *testing.T) {
	for n, want := range map[int]float64{24: 6.486, 40: 7.714} {
		_, limit, _ := evenRun(n, 20, 1.2).Closure()
		near(t, "limit of "+strconv.Itoa(n), limit, want, 0.001)
	}
	r := evenRun(24, 20, 1.2)
	for _, c := range []struct {
		length, miss float64
		worst        int
	}{{507.6, 0, 0}, {514.0, 6.4, 0}, {501.2, -6.4, 0}} {
		r.Length = c.length
		miss, _, worst := r.Closure()
		near(t, "misclosure", miss, c.miss, 1e-9)
		if worst != c.worst {
			t.Errorf("length %g: slab %d named, want %d", c.length, worst, c.worst)
		}
	}
	// Above the limit it warns; the mean kerf that closes it: (514.2 - 480)/23 = 1.48696 mm, and then it closes.
	r.Length = 514.2
	miss, limit, worst := r.Closure()
	if math.Abs(miss) <= limit || worst == 0 {
		t.Errorf("misclosure %g, limit %g, slab %d", miss, limit, worst)
	}
	near(t, "closing kerf", r.ClosingKerf(), 1.486957, 1e-6)
	for i := range r.Slabs {
		r.Slabs[i].Kerf = r.ClosingKerf()
	}
	miss, _, _ = r.Closure()
	near(t, "misclosure with that kerf", miss, 0, 1e-9)

	// Slips: 13.0 written for 31.0 (two digits exchanged), 2.1 for 21.0 and 195.0 for 19.5 (the point one place off); of three
	// measures the one that stands out of its slab.
	for _, c := range []struct {
		slab            int
		true3, written3 [3]float64
		measure         int
	}{
		{4, [3]float64{31}, [3]float64{13}, 0}, {9, [3]float64{21}, [3]float64{2.1}, 0}, {17, [3]float64{19.5}, [3]float64{195}, 0},
		{11, [3]float64{20.1, 20.4, 19.8}, [3]float64{20.1, 204, 19.8}, 1},
	} {
		r := evenRun(24, 20, 1.2)
		r.Slabs[c.slab-1].Thickness = c.true3
		r.Length = r.Extent() + 1.5
		r.Slabs[c.slab-1].Thickness = c.written3
		s := r.Suspects()
		if _, _, worst := r.Closure(); worst != c.slab || s[0].Slab != c.slab || s[0].Measure != c.measure || s[0].Likely != c.true3[c.measure] {
			t.Errorf("%v written for %v of slab %d: slab %d, %+v", c.written3, c.true3, c.slab, worst, s[0])
		}
	}
	if (section.Run{}).Suspects() != nil {
		t.Error("an empty run has a suspect")
	}
}

// mistyped exchanges two digits of a length, or moves its decimal point; ok is false when that changes nothing.
func mistyped(rng *rand.Rand, mm float64) (float64, bool) {
	text := strconv.FormatFloat(mm, 'f', 1, 64)
	switch rng.IntN(3) {
	case 0:
		return math.Round(mm*1000) / 100, true
	case 1:
		return math.Round(mm*10) / 100, true
	}
	digits := []byte(strings.Replace(text, ".", "", 1))
	i := rng.IntN(len(digits) - 1)
	digits[i], digits[i+1] = digits[i+1], digits[i]
	v, err := strconv.ParseFloat(string(digits[:len(digits)-1])+"."+string(digits[len(digits)-1:]), 64)
	return v, err == nil && v != mm && v > 0
}

// In random runs with one thickness mistyped by an exchange of digits or a slip of the point, whenever the closure warns, the
// slab mistyped is the first suspect in at least 90 of 100. Lengths, thicknesses and kerfs err as the limit assumes (2, 0.5
// and 0.15 mm: common practice, no source); slabs are planned alike, or thick and thin by region.
func TestPL2MistypedSlabIsTheFirstSuspect(t *testing.T) {
	for _, plan := range []struct {
		name string
		mm   func(rng *rand.Rand) float64
	}{
		{"equal slabs of 20 mm", func(*rand.Rand) float64 { return 20 }},
		{"slabs of 10 to 30 mm", func(rng *rand.Rand) float64 { return 10 + 20*rng.Float64() }},
	} {
		rng := rand.New(rand.NewPCG(4, 13))
		warned, first, right := 0, 0, 0
		for warned < 3000 {
			r := section.Run{Plane: section.Transverse, First: section.Superior}
			body := 2 * rng.NormFloat64()
			for i := range 8 + rng.IntN(33) {
				thick, kerf := plan.mm(rng)+rng.NormFloat64(), 1.2
				body += thick + 0.5*rng.NormFloat64() + kerf + 0.15*rng.NormFloat64()
				r.Slabs = append(r.Slabs, section.Slab{Number: i + 1, Thickness: [3]float64{math.Round(10*thick) / 10}, Kerf: kerf})
			}
			r.Length = math.Round(body - 1.2)
			bad := rng.IntN(len(r.Slabs))
			was := r.Slabs[bad].Thickness[0]
			wrong, ok := mistyped(rng, was)
			if !ok {
				continue
			}
			r.Slabs[bad].Thickness[0] = wrong
			if _, _, worst := r.Closure(); worst != 0 {
				warned++
				if s := r.Suspects()[0]; worst == bad+1 {
					first++
					if s.Likely == was {
						right++
					}
				}
			}
		}
		share := float64(first) / float64(warned)
		t.Logf("%s: of %d warned of, the slab mistyped is the first suspect in %.1f %%, its true thickness is offered in %.1f %%",
			plan.name, warned, 100*share, 100*float64(right)/float64(warned))
		if share < 0.9 {
			t.Errorf("%s: first suspect in %.1f %% only", plan.name, 100*share)
		}
	}
}
