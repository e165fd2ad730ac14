package annotate

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
)

// ErrLevels says that a list of levels cannot be read; the message gives the line.
var ErrLevels = errors.New("annotate: the list of levels cannot be read")

// Level says at which vertebrae one source finds a structure. Sources disagree, so a structure has several; show the
// range and the source, never one level as a fact.
type Level struct {
	Structure string `json:"structure"`
	Term      TermID `json:"term,omitempty"` // empty where the list has no such structure
	From      string `json:"from"`           // upper vertebra, "C1" to "S5"
	To        string `json:"to"`             // lower vertebra, the same for one level
	Part      string `json:"part"`           // body, disc, spine, span
	Imaging   bool   `json:"imaging"`        // measured on scans of the living, not a textbook's level
	Note      string `json:"note,omitempty"`
	Source    string `json:"source"`
}

// Vertebrae lists the vertebrae from the atlas to the last sacral, as levels name them.
func Vertebrae() []string {
	var out []string
	for _, r := range []struct {
		letter string
		many   int
	}{{"C", 7}, {"T", 12}, {"L", 5}, {"S", 5}} {
		for i := range r.many {
			out = append(out, fmt.Sprintf("%s%d", r.letter, i+1))
		}
	}
	return out
}

var levelColumns = []string{"structure", "term", "from", "to", "part", "basis", "note", "source"}

// LoadLevels reads usual levels as tab-separated UTF-8 text with the header structure, term, from, to, part, basis, note,
// source; basis is textbook or imaging. Errors are ErrLevels with the line.
func LoadLevels(r io.Reader) ([]Level, error) {
	lines := bufio.NewScanner(r)
	order := Vertebrae()
	var out []Level
	header := true
	for n := 1; lines.Scan(); n++ {
		text := strings.TrimSuffix(lines.Text(), "\r")
		if text == "" || text[0] == '#' {
			continue
		}
		c := strings.Split(text, "\t")
		if header {
			if !slices.Equal(c, levelColumns) {
				return nil, fmt.Errorf("%w: line %d: the header must be %v", ErrLevels, n, levelColumns)
			}
			header = false
			continue
		}
		if len(c) != len(levelColumns) || c[0] == "" || c[5] != "textbook" && c[5] != "imaging" {
			return nil, fmt.Errorf("%w: line %d: %d cells, basis textbook or imaging", ErrLevels, n, len(c))
		}
		from, to := slices.Index(order, c[2]), slices.Index(order, c[3])
		if from < 0 || to < from {
			return nil, fmt.Errorf("%w: line %d: %q to %q is no range of vertebrae", ErrLevels, n, c[2], c[3])
		}
		if len(out) == 10_000 {
			return nil, fmt.Errorf("%w: more than 10,000 lines", ErrLevels)
		}
		out = append(out, Level{Structure: c[0], Term: TermID(c[1]), From: c[2], To: c[3], Part: c[4], Imaging: c[5] == "imaging", Note: c[6], Source: c[7]})
	}
	if err := lines.Err(); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrLevels, err)
	}
	return out, nil
}

// LevelsAt returns the lines whose range holds the vertebra, in list order.
func LevelsAt(levels []Level, vertebra string) []Level {
	order := Vertebrae()
	at := slices.Index(order, vertebra)
	return slices.DeleteFunc(slices.Clone(levels), func(l Level) bool {
		return at < 0 || at < slices.Index(order, l.From) || at > slices.Index(order, l.To)
	})
}
