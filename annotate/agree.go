package annotate

import (
	"cmp"
	"math"
	"slices"

	"sectionary/slices/geom"
)

// Agreement tells how well two readers' outlines of one structure agree. Gaps are distances from one edge to the other in the
// unit of the map, averaged along the length of both edges.
type Agreement struct {
	Dice    float64 `json:"dice"` // twice the common area over the sum of both, 0 to 1
	MeanGap float64 `json:"meanGap"`
	MaxGap  float64 `json:"maxGap"` // Hausdorff distance of the edges
}

// Compare measures the agreement of two outlines after carrying both through to, usually a photograph's map to face mm. It
// fails when either is unsound there.
func Compare(a, b []Polygon, to func(geom.Px) geom.MM) (Agreement, error) {
	carry := func(regions []Polygon) []Polygon {
		out := make([]Polygon, len(regions))
		for i, p := range regions {
			out[i] = p.Map(func(q geom.Px) geom.Px { return geom.Px(to(q)) })
		}
		return out
	}
	a, b = carry(a), carry(b)
	both, err := Common(a, b)
	if err != nil {
		return Agreement{}, err
	}
	la, lb, lc := Label{Regions: a}, Label{Regions: b}, Label{Regions: both}
	var out Agreement
	if sum := la.AreaPx() + lb.AreaPx(); sum > 0 {
		out.Dice = 2 * lc.AreaPx() / sum
	}
	ab, abMax, lengthA := edgeGap(a, b)
	ba, baMax, lengthB := edgeGap(b, a)
	out.MeanGap = (ab*lengthA + ba*lengthB) / (lengthA + lengthB)
	out.MaxGap = math.Max(abMax, baMax)
	return out, nil
}

// edgeGap walks along the edges of a in steps of a two-thousandth of their length and measures to the edges of b.
func edgeGap(a, b []Polygon) (mean, most, length float64) {
	for _, p := range a {
		length += p.PerimeterPx()
	}
	step := length / 2000
	for _, p := range a {
		for n := range p.Rings() {
			r := p.Ring(n)
			for i := range r {
				s, e := r[i], r[(i+1)%len(r)]
				many := math.Ceil(s.Dist(e)/step) + 1
				for k := range int(many) {
					t := (float64(k) + 0.5) / many
					q := geom.Px{X: s.X + t*(e.X-s.X), Y: s.Y + t*(e.Y-s.Y)}
					d := distanceTo(b, q)
					mean += d * s.Dist(e) / many
					most = math.Max(most, d)
				}
				most = math.Max(most, distanceTo(b, s))
			}
		}
	}
	return mean / length, most, length
}

func distanceTo(regions []Polygon, q geom.Px) float64 {
	d := math.Inf(1)
	for _, p := range regions {
		d = math.Min(d, p.EdgeDistance(q))
	}
	return d
}

// Pairing is one structure as two readers drew it, or as only one of them did.
type Pairing struct {
	First, Second string    // label ids; one is empty when only one reader drew it
	Agreement     Agreement // zero when only one did
	SameTerm      bool
	SameSide      bool
}

// minOverlap is the Dice value from which two outlines are taken for the same thing drawn twice.
const minOverlap = 0.2

// CompareReaders pairs the labels of two readers by their overlap, the closest pairs first, and lists how each pair agrees
// and what only one reader drew. Nothing is decided: whoever signs reads the list.
func CompareReaders(first, second Labels, to func(geom.Px) geom.MM) ([]Pairing, error) {
	var pairs []Pairing
	for x := range first.All() {
		for y := range second.All() {
			if !x.Bounds().Overlaps(y.Bounds()) {
				continue
			}
			a, err := Compare(x.Regions, y.Regions, to)
			if err != nil {
				return nil, err
			}
			if a.Dice >= minOverlap {
				pairs = append(pairs, Pairing{x.ID, y.ID, a, x.Term == y.Term, x.Side == y.Side})
			}
		}
	}
	slices.SortStableFunc(pairs, func(p, q Pairing) int { return cmp.Compare(q.Agreement.Dice, p.Agreement.Dice) })
	var out []Pairing
	used := [2]map[string]bool{{}, {}}
	for _, p := range pairs {
		if !used[0][p.First] && !used[1][p.Second] {
			used[0][p.First], used[1][p.Second] = true, true
			out = append(out, p)
		}
	}
	for x := range first.All() {
		if !used[0][x.ID] {
			out = append(out, Pairing{First: x.ID})
		}
	}
	for y := range second.All() {
		if !used[1][y.ID] {
			out = append(out, Pairing{Second: y.ID})
		}
	}
	return out, nil
}
