package annotate

import (
	"cmp"
	"slices"
	"strings"
)

// termIndex holds the names of every structure as folded words with a blank before each, so that " flex" finds a
// word's beginning and "lex" its middle. A linear walk over 8,000 structures takes a few milliseconds.
type termIndex struct{ entries []indexEntry }

type indexEntry struct {
	name  string // the English name
	every string // all names, each closed by "|"
}

func newTermIndex(list []Term) termIndex {
	ix := termIndex{make([]indexEntry, len(list))}
	for i, x := range list {
		ix.entries[i] = indexEntry{name: haystack(x.Name), every: haystack(x.names()...)}
	}
	return ix
}

// names returns every name the structure answers to, the English one first.
func (x Term) names() []string {
	out := append(make([]string, 0, 2+len(x.Synonyms)+len(x.Abbreviations)), x.Name)
	if x.Latin != "" {
		out = append(out, x.Latin)
	}
	return append(append(out, x.Synonyms...), x.Abbreviations...)
}

// haystack writes names as " word word|". Where folding changes a word, the plain form stands there too, or half
// a word such as "peron" would no longer be a beginning of "peroneal".
func haystack(names ...string) string {
	var b strings.Builder
	for _, n := range names {
		folded, plain := words(n), strings.Fields(strings.ToLower(n))
		for _, w := range folded {
			b.WriteString(" " + strings.TrimSuffix(w, "."))
		}
		b.WriteByte('|')
		if p := strings.Join(plain, " "); p != strings.Join(folded, " ") {
			b.WriteString(" " + p + "|")
		}
	}
	return b.String()
}

// Find returns at most most structures for part-words typed in any order, best first: the exact name, then names that
// begin with what was typed, then names whose words begin with the part-words, then other names, then part-words
// inside words. Accents and British or American spelling do not matter.
func (t *Terms) Find(typed string, most int) []Term {
	parts := words(typed)
	if len(parts) == 0 || most <= 0 {
		return nil
	}
	for i := range parts {
		parts[i] = strings.TrimSuffix(parts[i], ".")
	}
	type hit struct{ at, rank, length int }
	var hits []hit
	for i := range t.index.entries {
		if r := t.index.entries[i].rank(parts); r >= 0 {
			hits = append(hits, hit{i, r, len(t.index.entries[i].name)})
		}
	}
	slices.SortFunc(hits, func(a, b hit) int {
		return cmp.Or(cmp.Compare(a.rank, b.rank), cmp.Compare(a.length, b.length), cmp.Compare(a.at, b.at))
	})
	out := make([]Term, 0, min(most, len(hits)))
	for _, h := range hits[:min(most, len(hits))] {
		out = append(out, t.list[h.at])
	}
	return out
}

// rank is 0 for the best match and -1 for none.
func (e *indexEntry) rank(parts []string) int {
	inside, beginnings, named := true, true, true
	for _, p := range parts {
		if !strings.Contains(e.every, p) {
			inside = false
			break
		}
		begins := " " + p
		beginnings = beginnings && strings.Contains(e.every, begins)
		named = named && strings.Contains(e.name, begins)
	}
	whole := " " + strings.Join(parts, " ")
	switch {
	case !inside:
		return -1
	case e.name == whole+"|":
		return 0
	case strings.Contains("|"+e.every, "|"+whole+"|"):
		return 1
	case strings.HasPrefix(e.name, whole):
		return 2
	case named:
		return 3
	case beginnings:
		return 4
	}
	return 5
}
