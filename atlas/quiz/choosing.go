package quiz

import (
	prng "math/rand/v2"
	"regexp"
	"slices"

	"sectionary/annotate"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// choose picks the candidates to be asked, in order.
func (p Plan) choose(pool []Candidate, r *prng.Rand, awkward func(Candidate) (float64, error)) ([]Candidate, error) {
	some := slices.DeleteFunc(slices.Clone(pool), func(c Candidate) bool {
		return (len(p.Pictures) > 0 && !slices.Contains(p.Pictures, c.Picture.Kind)) || (len(p.Plates) > 0 && !slices.Contains(p.Plates, c.Picture.Plate))
	})
	if len(p.Labels) > 0 {
		return p.named(some), nil
	}
	r.Shuffle(len(some), func(i, j int) { some[i], some[j] = some[j], some[i] })
	c := &chooser{p: p, pool: some, used: map[string]int{}, plates: map[string]int{}, systems: map[System]int{}, kinds: map[PictureKind]int{},
		taken: map[int]bool{}, measured: map[int]float64{}, awkward: awkward}
	if len(p.Blueprint) > 0 {
		for _, w := range narrowFirst(p.Blueprint) {
			if err := c.take(w, w.Count); err != nil {
				return nil, err
			}
		}
		return c.out, nil
	}
	n := p.Items
	if n == 0 {
		n = usualItems
	}
	return c.out, c.take(Want{}, n)
}

// narrowFirst orders lines so that those that take least go first.
func narrowFirst(lines []Want) []Want {
	out := slices.Clone(lines)
	open := func(w Want) (n int) {
		for _, free := range []bool{w.Region == "", w.System == "", w.Plane == section.UnknownPlane, w.Picture == ""} {
			if free {
				n++
			}
		}
		return n
	}
	slices.SortStableFunc(out, func(a, b Want) int { return open(a) - open(b) })
	return out
}

// named are the labels that were chosen, faces and scan cuts by turns where both can be.
func (p Plan) named(pool []Candidate) (out []Candidate) {
	kinds := map[PictureKind]int{}
	for _, ref := range p.Labels {
		best := -1
		for i, c := range pool {
			if c.Picture.Plate == ref.Plate && c.Label == ref.Label && (best < 0 || kinds[c.Picture.Kind] < kinds[pool[best].Picture.Kind]) {
				best = i
			}
		}
		if best >= 0 {
			kinds[pool[best].Picture.Kind]++
			out = append(out, pool[best])
		}
	}
	return out
}

// chooser picks one candidate after the other, each time the one that repeats least.
type chooser struct {
	p       Plan
	pool    []Candidate
	taken   map[int]bool
	used    map[string]int // structures
	plates  map[string]int
	systems map[System]int
	kinds   map[PictureKind]int
	out     []Candidate

	measured map[int]float64
	awkward  func(Candidate) (float64, error)
}

func (c *chooser) take(w Want, n int) error {
	for range n {
		best, err := c.best(w)
		if err != nil || best < 0 {
			return err
		}
		x := c.pool[best]
		c.taken[best] = true
		c.used[x.what()]++
		c.plates[x.Picture.Plate]++
		c.systems[x.System()]++
		c.kinds[x.Picture.Kind]++
		c.out = append(c.out, x)
	}
	return nil
}

// best is the candidate of a line against which least speaks, -1 when there is none. How awkward its marker would lie is
// measured only for those that would win without, since measuring takes long.
func (c *chooser) best(w Want) (int, error) {
	for {
		best, least := -1, 0.0
		for i, x := range c.pool {
			if c.taken[i] || !w.fits(x) || c.used[x.what()] > 0 {
				continue
			}
			if v := c.repeats(x) + c.measured[i]; best < 0 || v < least {
				best, least = i, v
			}
		}
		if _, known := c.measured[best]; best < 0 || known {
			return best, nil
		}
		v, err := c.awkward(c.pool[best])
		if err != nil {
			return -1, err
		}
		c.measured[best] = v
	}
}

// row is how a name begins that tells one of a row of structures which look alike on a section: vertebrae, ribs, roots, digits.
var row = regexp.MustCompile(`(?i)^([CTLS]\d+|first|second|third|fourth|fifth|sixth|seventh|eighth|ninth|tenth|eleventh|twelfth)\s`)

// oneOfARow reports whether a term names one of a row, so that a section alone does not show which.
func oneOfARow(t annotate.Term) bool { return row.MatchString(t.Name) }

// awkward weighs how a marker would lie on a candidate: a thin target, a neighbour near the tip; and whether its name can be told at all.
func (b Board) awkward(c Candidate) (v float64, err error) {
	if oneOfARow(c.Term) {
		v = 30
	}
	view, err := b.outlineSight(c.Picture, true)
	if Sentence(err) != "" {
		return 1000, nil // cannot be shown at all
	}
	if err != nil {
		return 0, err
	}
	label, ok := view.label(c.Label)
	if !ok || view.face.plate.Calibration.Status == photo.Nominal {
		return 0, nil
	}
	near := view.nearness(label, tipOf(label, view.labels))
	if near.edge < thinTarget {
		v += 20
	}
	if near.covered != "" || near.gap < nearTarget {
		v += 10
	}
	return v, nil
}

// repeats weighs what speaks against a candidate: that students saw its picture before most of all, then what the exam
// has already of its face, system and kind of picture. A picture that still has room for a marker is welcome.
func (c *chooser) repeats(x Candidate) float64 {
	v := 2*float64(c.systems[x.System()]) + float64(c.kinds[x.Picture.Kind])
	if x.Seen() {
		v += 100 + 50*float64(x.Marked)
	}
	if n := c.plates[x.Picture.Plate]; c.p.PerStation > 1 && n%c.p.PerStation != 0 {
		v -= 3
	} else {
		v += 3 * float64(n)
	}
	return v
}
