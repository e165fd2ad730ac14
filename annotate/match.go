package annotate

import (
	"fmt"
	"slices"
	"strings"
)

// Verdict is the outcome of matching a typed answer, with the reason in words for the marker.
type Verdict struct {
	Accepted bool   `json:"accepted"`
	Reason   string `json:"reason"`
	Side     Side   `json:"side"` // the side named in the answer, NoSide when none
}

// matcher holds what judging answers needs: the names of each structure as words, and every word in use.
type matcher struct {
	variants [][]variant
	words    map[string]bool
	twins    Twins
}

// variant is one name of a structure, without words that say nothing, folded and as written.
type variant struct{ words, plain []string }

func newMatcher(list []Term, twins Twins) matcher {
	m := matcher{variants: make([][]variant, len(list)), words: map[string]bool{}, twins: twins}
	for i, x := range list {
		for k, n := range x.names() {
			var v variant
			plain := plainWords(n)
			for at, w := range words(n) {
				m.words[w] = true
				// The kind word may be left off the name itself, where the rest still names the thing; in a synonym
				// such as "temporal muscle" the rest would be a mere adjective.
				if w = kindWord(w); !fillers[w] && !(k == 0 && w == optionalWord(x)) {
					v.words, v.plain = append(v.words, w), append(v.plain, plain[at])
				}
			}
			if len(v.words) > 0 && len(v.words) <= maxAnswer {
				m.variants[i] = append(m.variants[i], v)
			}
		}
	}
	return m
}

// over returns a matcher for another list with the same near-twins.
func (m matcher) over(list []Term) matcher { return newMatcher(list, m.twins) }

// maxAnswer bounds the words of an answer; longer ones are refused rather than searched.
const maxAnswer = 12

var fillers = map[string]bool{"the": true, "of": true, "an": true, "and": true, "in": true, "s": true}

// kindWords bring the Latin and short words for what a thing is to the English one.
var kindWords = map[string]string{"arteria": "artery", "arterie": "artery", "arteries": "artery", "vena": "vein", "vene": "vein", "veins": "vein", "nervus": "nerve", "nervi": "nerve",
	"nerves": "nerve", "musculus": "muscle", "musculi": "muscle", "muscles": "muscle", "ligamentum": "ligament", "ligaments": "ligament", "ramus": "ramus", "glandula": "gland", "glands": "gland",
	"truncus": "trunk", "vertebre": "vertebra"}

func kindWord(w string) string {
	if k, ok := kindWords[w]; ok {
		return k
	}
	return w
}

// optionalWord is the word for the structure's kind that may stand or be left off: a muscle is known by its name
// alone, an artery is not.
func optionalWord(x Term) string {
	switch x.Kind {
	case Muscle:
		return "muscle"
	case Bone:
		if !strings.HasSuffix(x.Name, " bone") || len(strings.Fields(x.Name)) > 2 {
			return "bone"
		}
	case Organ:
		return "gland"
	}
	return ""
}

// qualifiers are Latin words an answer may mix with a Latin kind word, and their English.
var qualifiers = map[string]string{"externa": "external", "externus": "external", "externum": "external", "interna": "internal", "internus": "internal", "internum": "internal",
	"communis": "common", "commune": "common", "profunda": "deep", "profundus": "deep", "profundum": "deep", "media": "middle", "medius": "middle", "medium": "middle", "mediana": "median",
	"dextra": "right", "dexter": "right", "dextrum": "right", "sinistra": "left", "sinister": "left", "sinistrum": "left", "magna": "great", "carotis": "carotid", "medialis": "medial", "mediale": "medial", "lateralis": "lateral", "laterale": "lateral"}

// latinKinds are the words that show an answer to be Latin, so that its endings may be read as English ones.
var latinKinds = map[string]bool{"arteria": true, "a": true, "vena": true, "v": true, "nervus": true, "n": true, "ligamentum": true, "lig": true, "truncus": true, "plexus": true, "ramus": true, "os": true, "ductus": true}

var latinEndings = [...][2]string{{"alis", "al"}, {"ale", "al"}, {"aris", "ar"}, {"are", "ar"}, {"icus", "ic"}, {"ica", "ic"}, {"icum", "ic"}, {"acus", "ac"}, {"aca", "ac"}, {"acum", "ac"}}

// token is one word of an answer with everything it may stand for. Loose ones may be left over.
type token struct {
	word   string // folded
	plain  string // as typed
	senses []string
	loose  bool
	side   Side
}

// answerTokens reads an answer as words, each with its senses for a structure of this kind.
func answerTokens(answer string, x Term) []token {
	var out []token
	plain := plainWords(answer)
	latin := slices.ContainsFunc(plain, func(w string) bool { return latinKinds[strings.TrimSuffix(w, ".")] })
	for i, w := range words(answer) {
		bare := strings.TrimSuffix(w, ".")
		if fillers[bare] {
			continue
		}
		k := kindWord(bare)
		t := token{word: bare, plain: plain[i], senses: []string{k}, loose: k == optionalWord(x) && k != ""}
		if long := abbreviations[bare]; long != "" {
			t.senses = append(t.senses, long)
			t.loose = t.loose || long == optionalWord(x) && long != "" || bare == "a" && w == "a"
		}
		switch bare {
		case "r", "rt", "right", "dexter", "dextra":
			t.side, t.senses = Right, append(t.senses, "right")
		case "l", "lt", "left", "sinister", "sinistra":
			t.side, t.senses = Left, append(t.senses, "left")
		}
		if x.Kind != Muscle {
			if q := qualifiers[bare]; q != "" {
				t.senses = append(t.senses, q)
			}
			for _, e := range latinEndings {
				if s, ok := strings.CutSuffix(bare, e[0]); ok && latin && len(s) > 1 {
					t.senses = append(t.senses, s+e[1])
				}
			}
		}
		if s, ok := strings.CutSuffix(bare, "s"); ok && len(s) > 3 {
			t.senses = append(t.senses, s)
		}
		out = append(out, t)
	}
	return out
}

// fit tells whether the answer's words are those of the name in any order, with at most slips letters slipped. Words
// left over must be loose; a left-over side word is returned.
func (m matcher) fit(v variant, answer []token, slips int) (side Side, ok bool) {
	if len(v.words) > len(answer) {
		return NoSide, false
	}
	used := make([]bool, len(answer))
	var place func(i, slips int) bool
	place = func(i, slips int) bool {
		if i == len(v.words) {
			side, ok = leftOver(answer, used)
			return ok
		}
		for pass := 0; pass <= min(slips, 1); pass++ { // exact words first
			for k := range answer {
				if used[k] || pass == 0 && !slices.Contains(answer[k].senses, v.words[i]) || pass == 1 && !m.slipped(answer[k], v, i) {
					continue
				}
				used[k] = true
				if place(i+1, slips-pass) {
					return true
				}
				used[k] = false
			}
		}
		return false
	}
	return side, place(0, slips)
}

func leftOver(answer []token, used []bool) (Side, bool) {
	side := NoSide
	for k, t := range answer {
		switch {
		case used[k] || t.loose:
		case t.side != NoSide && (side == NoSide || side == t.side):
			side = t.side
		default:
			return NoSide, false
		}
	}
	return side, true
}

// slipped reports whether typed is word with one letter wrong, missing, extra or exchanged with its neighbour: only in
// words of six letters or more, never when typed is itself a word of the trade, and never when it lies as near to a
// near-twin of word.
func (m matcher) slipped(typed token, v variant, i int) bool {
	word := v.words[i]
	if len(v.plain[i]) < 6 || typed.word == word || m.words[typed.word] || m.twins.has(typed.word) || !oneSlip(typed.word, word) && !oneSlip(typed.plain, v.plain[i]) {
		return false
	}
	for _, twin := range m.twins[word] {
		if oneSlip(typed.word, twin) {
			return false
		}
	}
	return true
}

// oneSlip reports whether a and b are one edit apart: one letter put in, left out, changed, or two neighbours
// exchanged (Damerau 1964).
func oneSlip(a, b string) bool {
	x, y := []rune(a), []rune(b)
	if len(x) > len(y) {
		x, y = y, x
	}
	if len(y)-len(x) > 1 {
		return false
	}
	i := 0
	for i < len(x) && x[i] == y[i] {
		i++
	}
	if len(x) < len(y) {
		return slices.Equal(x[i:], y[i+1:])
	}
	if i == len(x) {
		return true
	}
	if slices.Equal(x[i+1:], y[i+1:]) {
		return true
	}
	return i+1 < len(x) && x[i] == y[i+1] && x[i+1] == y[i] && slices.Equal(x[i+2:], y[i+2:])
}

// names tells whether the answer names structure i.
func (m matcher) names(i int, answer []token, slips int) (Side, bool) {
	for _, v := range m.variants[i] {
		if side, ok := m.fit(v, answer, slips); ok {
			return side, true
		}
	}
	return NoSide, false
}

// Match judges a typed answer against a structure: synonyms, abbreviations, word order, a side named anywhere, and one slip
// in a word of six letters or more count as right; a near-twin never does. The side is returned, not judged, but
// a side named for a structure the body has once makes the answer wrong.
func (t *Terms) Match(id TermID, answer string) Verdict {
	i, ok := t.byID[id]
	if !ok {
		return Verdict{Reason: fmt.Sprintf("the list has no structure %s", id)}
	}
	x := t.list[i]
	tokens := answerTokens(answer, x)
	if len(tokens) == 0 || len(tokens) > maxAnswer {
		return Verdict{Reason: "nothing that can be read as a name"}
	}
	if side, ok := t.matcher.names(i, tokens, 0); ok {
		return x.accept(side, "the name")
	}
	if other, ok := t.other(i, answer, 0); ok {
		return Verdict{Reason: t.refusal(x, tokens, fmt.Sprintf("that is the %s", other.Name))}
	}
	if side, ok := t.matcher.names(i, tokens, 1); ok {
		if other, ok := t.other(i, answer, 1); ok {
			return Verdict{Reason: fmt.Sprintf("the slip could as well be the %s", other.Name)}
		}
		return x.accept(side, "one slip of the pen")
	}
	return Verdict{Reason: t.refusal(x, tokens, "no name of the "+x.Name)}
}

// Accepts reports whether a typed answer names the structure.
func (t *Terms) Accepts(id TermID, answer string) bool { return t.Match(id, answer).Accepted }

func (x Term) accept(side Side, how string) Verdict {
	if side != NoSide && !x.Paired {
		return Verdict{Reason: fmt.Sprintf("there is one %s, so it is neither left nor right", x.Name), Side: side}
	}
	return Verdict{Accepted: true, Reason: how, Side: side}
}

// other finds a structure other than i that the answer names.
func (t *Terms) other(i int, answer string, slips int) (Term, bool) {
	type reading struct {
		optional string
		muscle   bool
	}
	read := map[reading][]token{} // an answer reads differently for a muscle and an artery, but not for two muscles
	for k, x := range t.list {
		if k == i {
			continue
		}
		r := reading{optionalWord(x), x.Kind == Muscle}
		tokens, ok := read[r]
		if !ok {
			tokens = answerTokens(answer, x)
			read[r] = tokens
		}
		side, ok := t.matcher.names(k, tokens, slips)
		if ok && (side == NoSide || x.Paired) {
			return x, true
		}
	}
	return Term{}, false
}

// refusal names the near-twin that was typed, if one was, and falls back on the plain reason.
func (t *Terms) refusal(x Term, tokens []token, plain string) string {
	for _, v := range t.matcher.variants[t.byID[x.ID]] {
		for _, w := range v.words {
			for _, tok := range tokens {
				if slices.Contains(t.matcher.twins[w], tok.word) {
					return fmt.Sprintf("near-twin: %q and %q are different", tok.word, w)
				}
			}
		}
	}
	return plain
}
