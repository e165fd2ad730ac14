package register

import (
	"fmt"
	"math"
	"slices"
)

// Counting says how the number of a vertebra was found.
type Counting string

// The ways of counting.
const (
	FromC2        Counting = "down from C2"
	FromSacrum    Counting = "up from the sacrum"
	ByRibs        Counting = "by ribs"
	BySurface     Counting = "by surface mark"
	CountingUnset Counting = ""
)

// Vertebra is one marked vertebra: Scan is the LPS Z in mm of the centre of its body.
type Vertebra struct {
	Name    string   `json:"name"` // "T12"
	Scan    float64  `json:"scan"`
	Counted Counting `json:"counted"`
}

// Spine is a donor's vertebral column as counted on a scan. The zero value has 12 rib pairs and 5 lumbar vertebrae.
type Spine struct {
	RibPairs     int        `json:"ribPairs,omitempty"`     // 11, 12 or 13; 0: 12
	Lumbar       int        `json:"lumbar,omitempty"`       // 4, 5 or 6; 0: 5
	Transitional bool       `json:"transitional,omitempty"` // a vertebra between two kinds
	Marks        []Vertebra `json:"marks"`
}

// VertebraLine is where the centre of a vertebral body lies, LPS Z in mm: Own when the donor's own is marked, else by usual proportions.
type VertebraLine struct {
	Name  string  `json:"name"`
	Scan  float64 `json:"scan"`
	Own   bool    `json:"own"`
	half  float64 // of the body's height, mm
	usual float64 // depth of the centre by usual measures
}

// usualHeights are body height and the disc below it in mm, C2 to L5: only their proportions are used. Bodies: Panjabi et al., Spine 16:861 and
// 16:888 (1991), 17:299 (1992), posterior body heights, the lumbar ones as read in a collation, the others recalled. Discs: means of
// CT studies (cervical, n = 1000), Fletcher 2016 (T4, T10), Bach 2019 (T12 to L5), the rest between them.
var usualHeights = []struct {
	name       string
	body, disc float64
}{
	{"C2", 20, 4.1}, {"C3", 11.6, 4.1}, {"C4", 11.4, 4.1}, {"C5", 11.4, 4.1}, {"C6", 10.9, 4.1}, {"C7", 12.8, 4.1},
	{"T1", 14.1, 4}, {"T2", 15.6, 4}, {"T3", 15.7, 3.6}, {"T4", 16.2, 3.2}, {"T5", 16.2, 3.5}, {"T6", 17.4, 3.8},
	{"T7", 18.2, 4.2}, {"T8", 18.7, 4.6}, {"T9", 19.3, 5}, {"T10", 20.2, 5.3}, {"T11", 21.3, 5.3}, {"T12", 22.7, 5.2},
	{"L1", 23.8, 6.4}, {"L2", 24.3, 7.5}, {"L3", 23.8, 8.2}, {"L4", 24.1, 8.9}, {"L5", 22.9, 8.7},
}

// column lists the donor's vertebrae from C2 down with usual measures; a missing T12 or L5 is left out, a T13 or L6 takes
// the measures of the one above.
func (s Spine) column() (out []VertebraLine, err error) {
	ribs, lumbar := s.RibPairs, s.Lumbar
	if ribs == 0 {
		ribs = 12
	}
	if lumbar == 0 {
		lumbar = 5
	}
	if ribs < 11 || ribs > 13 || lumbar < 4 || lumbar > 6 {
		return nil, fmt.Errorf("register: a spine of %d rib pairs and %d lumbar vertebrae is not known", ribs, lumbar)
	}
	depth := 0.0
	add := func(name string, body, disc float64) {
		out = append(out, VertebraLine{Name: name, half: body / 2, usual: depth + body/2})
		depth += body + disc
	}
	for _, u := range usualHeights {
		if u.name == "T12" && ribs == 11 || u.name == "L5" && lumbar == 4 {
			continue
		}
		add(u.name, u.body, u.disc)
		if u.name == "T12" && ribs == 13 {
			add("T13", u.body, u.disc)
		}
		if u.name == "L5" && lumbar == 6 {
			add("L6", u.body, u.disc)
		}
	}
	return out, nil
}

// Lines places every vertebra from C2 to the last lumbar one, head first: marked ones where they are, the others between
// and beyond them by usual proportions (with one mark, by usual measures). Without marks there are none. It fails with ErrOutOfOrder, naming the
// pair, when marks do not follow one another down the body, and for names the donor's spine has not.
func (s Spine) Lines() ([]VertebraLine, error) {
	lines, err := s.column()
	if err != nil || len(s.Marks) == 0 {
		return nil, err
	}
	var marked []int
	for _, m := range s.Marks {
		i := slices.IndexFunc(lines, func(l VertebraLine) bool { return l.Name == m.Name })
		if i < 0 || math.IsNaN(m.Scan) || math.IsInf(m.Scan, 0) {
			return nil, fmt.Errorf("register: %q at %g mm is no vertebra of this donor from C2 to the last lumbar one", m.Name, m.Scan)
		}
		if lines[i].Own {
			return nil, fmt.Errorf("register: %s is marked twice", m.Name)
		}
		lines[i].Own, lines[i].Scan = true, m.Scan
		marked = append(marked, i)
	}
	slices.Sort(marked)
	for k := 1; k < len(marked); k++ {
		if a, b := lines[marked[k-1]], lines[marked[k]]; b.Scan >= a.Scan {
			return nil, fmt.Errorf("%w: %s (%.1f mm) must lie above %s (%.1f mm)", ErrOutOfOrder, a.Name, a.Scan, b.Name, b.Scan)
		}
	}
	for i := range lines {
		lines[i] = between(lines, marked, i)
	}
	return lines, nil
}

// between places line i by the marked lines round it, and scales its height alike.
func between(lines []VertebraLine, marked []int, i int) VertebraLine {
	l := lines[i]
	if len(marked) == 1 {
		a := lines[marked[0]]
		l.Scan = a.Scan - (l.usual - a.usual)
		return l
	}
	k, _ := slices.BinarySearch(marked, i) // the first marked line at or below i
	k = min(max(k, 1), len(marked)-1)
	a, b := lines[marked[k-1]], lines[marked[k]]
	scale := (a.Scan - b.Scan) / (b.usual - a.usual)
	l.half *= scale
	if !l.Own {
		l.Scan = a.Scan - (l.usual-a.usual)*scale
	}
	return l
}

// VertebraAt names the place z (LPS, mm) by the lines: "T12, lower third", "disc T12/L1"; own when the vertebra, or both of a disc, are
// the donor's own. Beyond the lines it is "above C2" or "below L5"; without lines "".
func VertebraAt(lines []VertebraLine, z float64) (name string, own bool) {
	if len(lines) == 0 || math.IsNaN(z) {
		return "", false
	}
	for i, l := range lines {
		switch {
		case z > l.Scan+l.half && i == 0:
			return "above " + l.Name, false
		case z > l.Scan+l.half:
			return "disc " + lines[i-1].Name + "/" + l.Name, l.Own && lines[i-1].Own
		case z > l.Scan+l.half/3:
			return l.Name + ", upper third", l.Own
		case z >= l.Scan-l.half/3:
			return l.Name + ", middle third", l.Own
		case z >= l.Scan-l.half:
			return l.Name + ", lower third", l.Own
		}
	}
	return "below " + lines[len(lines)-1].Name, false
}

// Words are the doubts about how the vertebrae were counted.
func (s Spine) Words() []string {
	var out []string
	for _, m := range s.Marks {
		switch {
		case m.Counted == ByRibs && s.RibPairs != 0 && s.RibPairs != 12:
			out = append(out, fmt.Sprintf("Level %s was set by ribs. This donor has %d rib pairs. Count from C2 or mark as unsure.", m.Name, s.RibPairs))
		case m.Counted == FromSacrum && (s.Transitional || s.Lumbar != 0 && s.Lumbar != 5):
			out = append(out, fmt.Sprintf("Level %s was counted up from the sacrum, which is not the usual one in this donor. Count from C2 or mark as unsure.", m.Name))
		case m.Counted == BySurface:
			out = append(out, fmt.Sprintf("Level %s was set by a surface mark, which may be one vertebra off.", m.Name))
		case m.Counted == CountingUnset:
			out = append(out, fmt.Sprintf("Nobody said how level %s was counted.", m.Name))
		}
	}
	return out
}
