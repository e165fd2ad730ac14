package bench

import (
	_ "embed"
	"fmt"
	"strings"
)

// The table of words is one line for each key: key, tab, words as fmt takes them. Another language is another table.
//
//go:embed words.en.tsv
var wordTable string

var words = readWords(wordTable)

func readWords(table string) map[string]string {
	m := map[string]string{}
	for line := range strings.Lines(table) {
		key, text, ok := strings.Cut(strings.TrimRight(line, "\r\n"), "\t")
		if ok && key != "" && key[0] != '#' {
			m[key] = strings.ReplaceAll(text, `\n`, "\n")
		}
	}
	return m
}

// Word returns the words for a key of the table, with its gaps filled as fmt does. An unknown key comes back in
// brackets, so that it is seen.
func Word(key string, gaps ...any) string {
	text, ok := words[key]
	if !ok {
		return "[" + key + "]"
	}
	if len(gaps) == 0 {
		return text
	}
	return fmt.Sprintf(text, gaps...)
}

// count is Word for a number of things: one thing has words of its own, "KEY.one".
func count(key string, n int, gaps ...any) string {
	if text, ok := words[key+".one"]; ok && n == 1 {
		if !strings.Contains(text, "%") {
			return text
		}
		key += ".one"
	}
	return Word(key, append([]any{n}, gaps...)...)
}

// upperFirst begins a sentence.
func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
