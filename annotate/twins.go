package annotate

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strings"
)

// Twins holds near-twins: words a slip or two apart that mean different things, each with its partners. Words are
// folded.
type Twins map[string][]string

// LoadTwins reads near-twins as tab-separated text: a header line, then one pair a line, with a reason after them.
// Lines that start with # are skipped. A lab adds lines of its own. Errors are ErrTerms with the line.
func LoadTwins(r io.Reader) (Twins, error) {
	lines := bufio.NewScanner(r)
	twins, header, pairs := Twins{}, true, 0
	for n := 1; lines.Scan(); n++ {
		text := strings.TrimSpace(lines.Text())
		if text == "" || text[0] == '#' {
			continue
		}
		if header {
			header = false
			continue
		}
		if pairs++; pairs > 10_000 {
			return nil, fmt.Errorf("%w: more than 10,000 near-twins", ErrTerms)
		}
		one, rest, _ := strings.Cut(text, "\t")
		other, _, _ := strings.Cut(rest, "\t")
		a, b := words(one), words(other)
		if len(a) != 1 || len(b) != 1 {
			return nil, fmt.Errorf("%w: line %d: near-twins are two single words", ErrTerms, n)
		}
		if a[0] == b[0] {
			return nil, fmt.Errorf("%w: line %d: %s and %s are the same word to the matcher", ErrTerms, n, one, other)
		}
		twins.add(a[0], b[0])
		twins.add(b[0], a[0])
	}
	if err := lines.Err(); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrTerms, err)
	}
	return twins, nil
}

func (t Twins) add(a, b string) {
	if !slices.Contains(t[a], b) {
		t[a] = append(t[a], b)
	}
}

func (t Twins) has(w string) bool { return len(t[w]) > 0 }

// WithTwins returns the list with these near-twins guarding its answers.
func (t *Terms) WithTwins(twins Twins) *Terms {
	next := *t
	next.matcher.twins = twins
	return &next
}
