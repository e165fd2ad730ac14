package annotate

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// words splits text into folded words: those of plainWords with British and American spelling alike, ae and oe and
// ligatures as e, and ordinals in letters.
func words(text string) []string {
	out := plainWords(text)
	for i, w := range out {
		if !strings.HasSuffix(w, ".") {
			out[i] = foldSpelling(w)
		}
	}
	return out
}

// plainWords splits text into words in lower case without accents. Everything but letters and digits parts words, except
// a full stop after a known abbreviation, which stays ("a. renalis" gives "a." and "renalis").
func plainWords(text string) []string {
	var out []string
	var w strings.Builder
	close := func(stop bool) {
		if w.Len() == 0 {
			return
		}
		s := w.String()
		if stop && abbreviations[s] != "" {
			s += "."
		}
		out = append(out, s)
		w.Reset()
	}
	runes := []rune(norm.NFKD.String(text))
	for i, r := range runes {
		switch {
		case r == '.' && initials(runes, i):
		case unicode.Is(unicode.Mn, r) || r == '\'' || r == '\u2019':
		case r == 'æ' || r == 'Æ' || r == 'œ' || r == 'Œ':
			w.WriteByte('e')
		case unicode.IsLetter(r) || unicode.IsDigit(r):
			w.WriteRune(unicode.ToLower(r))
		default:
			close(r == '.')
		}
	}
	close(false)
	return out
}

// initials reports whether the stop at i joins two single letters, as in I.V.C.
func initials(r []rune, i int) bool {
	single := func(at int) bool {
		if at < 0 || at >= len(r) || !unicode.IsLetter(r[at]) {
			return false
		}
		return (at == 0 || !unicode.IsLetter(r[at-1])) && (at+1 == len(r) || !unicode.IsLetter(r[at+1]))
	}
	return single(i-1) && single(i+1)
}

// ordinals are how a rib or a vertebra is counted in figures.
var ordinals = map[string]string{"1st": "first", "2nd": "second", "3rd": "third", "4th": "fourth", "5th": "fifth", "6th": "sixth", "7th": "seventh", "8th": "eighth",
	"9th": "ninth", "10th": "tenth", "11th": "eleventh", "12th": "twelfth"}

// spellings turn the British form into the American, and other doublets into one. Both sides of every comparison
// go through them, so they need not be good English, only the same.
var spellings = strings.NewReplacer("ae", "e", "oe", "e", "our", "or", "grey", "gray", "disc", "disk", "fibre", "fiber", "centre", "center", "isation", "ization",
	"peroneal", "fibular", "peroneus", "fibularis", "suprarenal", "adrenal", "azygous", "azygos", "zygapophyseal", "zygapophysial", "anular", "annular", "anulus", "annulus")

func foldSpelling(w string) string {
	if o, ok := ordinals[w]; ok {
		return o
	}
	return spellings.Replace(w)
}

// abbreviations are the common short forms and what they stand for.
var abbreviations = map[string]string{
	"a": "artery", "aa": "artery", "art": "artery", "v": "vein", "vv": "vein", "n": "nerve", "nn": "nerve", "m": "muscle", "mm": "muscle", "musc": "muscle",
	"lig": "ligament", "ligg": "ligament", "r": "branch", "rr": "branch", "br": "branch", "gl": "gland", "gll": "gland", "ggl": "ganglion", "proc": "process",
	"ext": "external", "int": "internal", "ant": "anterior", "post": "posterior", "sup": "superior", "inf": "inferior", "lat": "lateral", "med": "medial", "vert": "vertebra", "for": "foramen",
	"lt": "left", "rt": "right",
}
