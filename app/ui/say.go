package ui

import (
	"fmt"
	"strings"
	"sync"

	"sectionary/assets"
)

var screenWords = sync.OnceValue(func() map[string]string { return readWords(assets.ScreenWords) })

// readWords reads a table of words: key, tab, text; # begins a remark, \n in a text is a new line.
func readWords(tsv string) map[string]string {
	m := map[string]string{}
	for line := range strings.Lines(tsv) {
		line = strings.TrimRight(line, "\r\n")
		key, text, ok := strings.Cut(line, "\t")
		if !ok || strings.HasPrefix(line, "#") {
			continue
		}
		m[key] = strings.ReplaceAll(text, `\n`, "\n")
	}
	return m
}

// say returns the words for a key of the screens' table, with its gaps filled as fmt does. An unknown key is
// shown as it is; a test finds those.
func say(key string, gaps ...any) string {
	text, ok := screenWords()[key]
	if !ok {
		return key
	}
	if len(gaps) > 0 {
		return fmt.Sprintf(text, gaps...)
	}
	return text
}
