package photo

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"

	"sectionary/slices/geom"
)

// mostTies bounds a file of ties; a printed sheet has a few hundred.
const mostTies = 10000

// ReadTies reads lines px,py,x_mm,y_mm. A first line of words is taken as a heading; lines starting with # are left out.
func ReadTies(r io.Reader) ([]Tie, error) {
	in := csv.NewReader(r)
	in.Comment, in.TrimLeadingSpace, in.FieldsPerRecord = '#', true, 4
	var ties []Tie
	for first := true; ; first = false {
		record, err := in.Read()
		if err == io.EOF {
			return ties, nil
		}
		if err != nil {
			return nil, fmt.Errorf("photo: ties: %w", err)
		}
		var v [4]float64
		var bad error
		for i, field := range record {
			if v[i], err = strconv.ParseFloat(strings.TrimSpace(field), 64); err != nil || math.IsInf(v[i], 0) || math.IsNaN(v[i]) {
				bad = errors.Join(bad, fmt.Errorf("%q is not a number", field))
			}
		}
		if line, _ := in.FieldPos(0); bad != nil && !first {
			return nil, fmt.Errorf("photo: ties, line %d: %w", line, bad)
		}
		if bad == nil {
			ties = append(ties, Tie{geom.Px{X: v[0], Y: v[1]}, geom.MM{X: v[2], Y: v[3]}})
		}
		if len(ties) > mostTies {
			return nil, fmt.Errorf("photo: more than %d ties", mostTies)
		}
	}
}

const (
	robustDraws = 500 // with a third of the ties wrong, one draw of four in five is clean
	robustLimit = 1.0 // mm, least distance that makes a tie an outlier
)

// GridRobust is Grid without the ties that disagree with the rest: fits through random fours are judged by
// their median distance (least median of squares, Rousseeuw 1984), then every tie farther off than 1 mm and
// five times the robust spread is left out and the rest fitted. outliers holds their places in ties, ascending; the
// calibration keeps the others. Up to two fifths of the ties may be wrong, from eight ties on. The same ties
// give the same answer.
func GridRobust(ties []Tie) (c Calibration, outliers []int, err error) {
	if len(ties) < 6 {
		c, err = Grid(ties)
		return c, nil, err
	}
	px, mm := split(ties)
	r := rand.New(rand.NewPCG(uint64(len(ties)), 4))
	best, bestFit := math.Inf(1), geom.Homography{}
	for range robustDraws {
		four := r.Perm(len(ties))[:4]
		h, _, err := geom.FitHomography(pick(px, four), pick(mm, four))
		if err != nil {
			continue
		}
		if m := median(distances(h, px, mm)); m < best {
			best, bestFit = m, h
		}
	}
	if math.IsInf(best, 1) {
		c, err = Grid(ties)
		return c, nil, err
	}
	limit := math.Max(robustLimit, 5*1.4826*best)
	var kept []Tie
	for i, d := range distances(bestFit, px, mm) {
		if d <= limit {
			kept = append(kept, ties[i])
		} else {
			outliers = append(outliers, i)
		}
	}
	c, err = Grid(kept)
	return c, outliers, err
}

func pick[T any](from []T, at []int) []T {
	out := make([]T, len(at))
	for i, k := range at {
		out[i] = from[k]
	}
	return out
}

func distances(h geom.Homography, px []geom.Px, mm []geom.MM) []float64 {
	d := make([]float64, len(px))
	for i := range px {
		if d[i] = h.MM(px[i]).Dist(mm[i]); math.IsNaN(d[i]) {
			d[i] = math.Inf(1)
		}
	}
	return d
}
