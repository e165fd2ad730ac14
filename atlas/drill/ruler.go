package drill

import (
	"math"
	"slices"
	"sort"

	"sectionary/annotate"
)

var vertebrae = annotate.Vertebrae()

// vertebraIndex is the place of a vertebra from C1 down, -1 for none.
func vertebraIndex(v string) int { return slices.Index(vertebrae, v) }

// VertebraOf is the vertebra that a term names, "" when it names none: its abbreviation says so ("L1").
func VertebraOf(t annotate.Term) string {
	for _, a := range t.Abbreviations {
		if vertebraIndex(a) >= 0 {
			return a
		}
	}
	return ""
}

// Level is the place of a depth (mm) along the spine, in vertebrae from C1 = 0, by straight lines between the marks and
// no further than half a vertebra beyond them. ok is false without marks near enough.
func (r Run) Level(depth float64) (vertebra float64, ok bool) {
	type place struct{ depth, at float64 }
	sum, many := map[int]float64{}, map[int]float64{}
	for _, m := range r.Marks {
		i := vertebraIndex(m.Vertebra)
		sum[i] += m.Depth
		many[i]++
	}
	var marks []place
	for i, s := range sum {
		marks = append(marks, place{s / many[i], float64(i)})
	}
	sort.Slice(marks, func(a, b int) bool { return marks[a].depth < marks[b].depth })
	if len(marks) < 2 {
		return 0, false
	}
	k := sort.Search(len(marks), func(i int) bool { return marks[i].depth >= depth })
	k = min(max(k, 1), len(marks)-1)
	a, b := marks[k-1], marks[k]
	if b.depth == a.depth {
		return a.at, true
	}
	at := a.at + (depth-a.depth)/(b.depth-a.depth)*(b.at-a.at)
	lo, hi := marks[0].at, marks[len(marks)-1].at
	return at, at >= math.Min(lo, hi)-0.5 && at <= math.Max(lo, hi)+0.5
}

// VertebraAt is the vertebra nearest to a depth (mm), "" when not known.
func (r Run) VertebraAt(depth float64) string {
	at, ok := r.Level(depth)
	i := int(math.Round(at))
	if !ok || i < 0 || i >= len(vertebrae) {
		return ""
	}
	return vertebrae[i]
}

// Placing is how well a face was placed on the ruler.
type Placing struct {
	Face  string  `json:"face"`
	MM    float64 `json:"mm"`    // placed minus true, mm; above zero is too far down the run
	Steps float64 `json:"steps"` // the same in vertebrae
	// HasSteps is false where the run's vertebrae are not known.
	HasSteps bool    `json:"hasSteps"`
	Score    float64 `json:"score"` // 0 to 1
	Hints    int     `json:"hints"` // structures shown first
}

const (
	exactMM = 5.0  // a placing this near is whole marks
	farMM   = 80.0 // and this far none, where vertebrae are not known
	farStep = 3.0  // vertebrae
	hintOff = 0.15 // of the score, for each hint
)

// Place scores a face placed at a depth (mm): whole within 5 mm; then falling evenly to none at three vertebrae off, or at 80 mm
// where vertebrae are not known; each hint costs 0.15. The scale is our own choice.
func (r Run) Place(f Face, depth float64, hints int) Placing {
	p := Placing{Face: f.Code, MM: depth - f.Depth, Hints: hints}
	a, ok1 := r.Level(f.Depth)
	b, ok2 := r.Level(depth)
	share := (math.Abs(p.MM) - exactMM) / (farMM - exactMM)
	if ok1 && ok2 {
		p.Steps, p.HasSteps = b-a, true
		// The whole-marks zone is the same 5 mm, in vertebrae here.
		zone := 0.0
		if p.MM != 0 {
			zone = math.Abs(p.Steps) * math.Min(1, exactMM/math.Abs(p.MM))
		}
		share = (math.Abs(p.Steps) - zone) / (farStep - zone)
	}
	if math.Abs(p.MM) <= exactMM {
		share = 0
	}
	p.Score = math.Max(0, 1-math.Min(1, math.Max(0, share))-hintOff*float64(hints))
	return p
}
