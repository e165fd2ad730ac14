package annotate

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
)

func shippedTerms(t testing.TB) *Terms {
	t.Helper()
	terms, err := LoadTerms(bytes.NewReader(readFile(t, "../assets/terms.tsv")))
	if err != nil {
		t.Fatal(err)
	}
	twins, err := LoadTwins(bytes.NewReader(readFile(t, "../assets/near_twins.tsv")))
	if err != nil {
		t.Fatal(err)
	}
	return terms.WithTwins(twins)
}

func readFile(t testing.TB, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func byName(t testing.TB, terms *Terms, name string) Term {
	t.Helper()
	for _, x := range terms.All() {
		if x.Name == name {
			return x
		}
	}
	t.Fatalf("the list has no %q", name)
	return Term{}
}

// At least 1,200 structures, every part-of resolves, every region and kind is known, no name twice.
func TestShippedListIsWhole(t *testing.T) {
	terms := shippedTerms(t)
	if terms.Len() < 1200 {
		t.Errorf("only %d structures", terms.Len())
	}
	regions := "all head neck back thorax abdomen pelvis upper limb lower limb"
	names := map[string]TermID{}
	for _, x := range terms.All() {
		if _, ok := terms.ByID(x.PartOf); x.PartOf != "" && !ok {
			t.Errorf("%s is part of %s, which the list lacks", x.Name, x.PartOf)
		}
		for _, n := range x.Synonyms { // an exam prints them and counts them as right answers
			if strings.Contains(n, "@") {
				t.Errorf("%s: synonym %q still carries the mark of its language", x.Name, n)
			}
		}
		if !strings.Contains(regions, x.Region) || x.Region == "" || x.Source == "" || x.Local {
			t.Errorf("%s: region %q, source %q, local %v", x.Name, x.Region, x.Source, x.Local)
		}
		if other, twice := names[x.Name]; twice {
			t.Errorf("%q names %s and %s", x.Name, x.ID, other)
		}
		names[x.Name] = x.ID
	}
	for _, x := range terms.All() { // no ring: ten steps up always end
		up := x
		for range 12 {
			if up.PartOf == "" {
				break
			}
			up, _ = terms.ByID(up.PartOf)
		}
		if up.PartOf != "" {
			t.Errorf("part-of of %s has no end", x.Name)
		}
	}
}

// Every identifier of the shipped list is one that the tables it was composed from hold, or, where the source says "slim", one of
// testdata/gen/terms_extra.tsv; those of our own are marked "own". Source: the tables in ../shared/data/terms.
func TestEveryIDResolves(t *testing.T) {
	held := map[string]bool{}
	for _, name := range []string{"terms.tsv", "terms_extended.tsv"} {
		text, err := os.ReadFile("../../shared/data/terms/" + name)
		if err != nil {
			t.Skip("the tables of terms are not beside the module:", err)
		}
		for line := range strings.Lines(string(text)) {
			for _, c := range strings.Split(line, "\t") {
				if strings.HasPrefix(c, "UBERON:") || strings.HasPrefix(c, "FMA:") {
					held[strings.TrimSpace(c)] = true
				}
			}
		}
	}
	extra := map[string]bool{}
	for line := range strings.Lines(string(readFile(t, "../testdata/gen/terms_extra.tsv"))) {
		id, _, _ := strings.Cut(line, "\t")
		extra[id] = true
	}
	latin := 0
	for _, x := range shippedTerms(t).All() {
		slim := strings.Contains(x.Source, "slim") && extra[string(x.ID)]
		own := x.Source == "own" && strings.HasPrefix(string(x.ID), "SECT:")
		if !own && !slim && !held[string(x.ID)] {
			t.Errorf("%s (%s, %s) is in no table", x.ID, x.Name, x.Source)
		}
		if x.FMA != "" && !slim && !held[x.FMA] {
			t.Errorf("%s: %s is in no table", x.Name, x.FMA)
		}
		if x.Latin != "" {
			latin++
		}
	}
	if n := shippedTerms(t).Len(); 4*latin < n {
		t.Errorf("%d of %d structures have a Latin name", latin, n)
	}
}

// What the practice body shows must be there, with its side flag. Source for the flags: common practice, no source.
func TestPracticeBodyIsCovered(t *testing.T) {
	terms := shippedTerms(t)
	for name, paired := range map[string]bool{"skin": false, "subcutaneous fat": false, "skeletal muscle": false, "erector spinae": true, "psoas major": true, "atlas": false, "axis": false,
		"C3 vertebra": false, "T6 vertebra": false, "L5 vertebra": false, "sacrum": false, "coccyx": false, "first rib": true, "rib": true, "sternum": false, "lung": true, "heart": false,
		"left ventricle": false, "right atrium": false, "liver": false, "spleen": false, "kidney": true, "stomach": false, "aorta": false, "thoracic aorta": false, "abdominal aorta": false,
		"superior vena cava": false, "inferior vena cava": false, "trachea": false, "oesophagus": false, "spinal cord": false, "vertebral canal": false, "femur": true, "hip bone": true,
		"urinary bladder": false, "pancreas": false, "gallbladder": false, "colon": false, "small intestine": false, "thyroid gland": false, "common carotid artery": true,
		"internal jugular vein": true, "brain": false, "cerebellum": false, "clavicle": true, "scapula": true, "humerus": true, "femoral artery": true, "femoral vein": true} {
		if x := byName(t, terms, name); x.Paired != paired {
			t.Errorf("%s: paired %v", name, x.Paired)
		}
	}
}

func TestEverySynonymIsFound(t *testing.T) {
	terms := shippedTerms(t)
	for _, x := range terms.All() {
		for _, n := range x.names() {
			found := terms.Find(n, 12)
			ok := false
			for _, f := range found {
				ok = ok || f.ID == x.ID
			}
			if !ok {
				t.Errorf("%q does not find the %s", n, x.Name)
			}
		}
		if first := terms.Find(x.Name, 1); len(first) != 1 || first[0].ID != x.ID {
			t.Errorf("%q does not come first for its own name", x.Name)
		}
	}
}

func TestFindByPartWords(t *testing.T) {
	terms := shippedTerms(t)
	for typed, want := range map[string]string{"flex dig": "flexor digitorum longus", "dig flex prof": "flexor digitorum profundus", "oesoph": "oesophagus", "esoph": "oesophagus", "ŒSOPHAGUS": "oesophagus",
		"cecum": "caecum", "peroneal art": "fibular artery", "ivc": "inferior vena cava", "art ren": "renal artery", "vena cava inf": "inferior vena cava", "hépat duct comm": "common hepatic duct", "L3": "L3 vertebra",
		"celiac trunk": "coeliac trunk", "grey": "", "zzz": ""} {
		found := terms.Find(typed, 10)
		ok := want == ""
		for _, f := range found {
			ok = ok || f.Name == want
		}
		if !ok {
			t.Errorf("%q finds %d structures, not the %s", typed, len(found), want)
		}
	}
	if terms.Find("", 5) != nil || terms.Find("lung", 0) != nil || terms.Find("...", 5) != nil {
		t.Error("an empty question has answers")
	}
}

// Source: testdata/annotate/answers.tsv, written before the matcher.
func TestTM2Answers(t *testing.T) {
	terms := shippedTerms(t)
	n := 0
	lines := bufio.NewScanner(bytes.NewReader(readFile(t, "../testdata/annotate/answers.tsv")))
	for lines.Scan() {
		if strings.HasPrefix(lines.Text(), "#") {
			continue
		}
		c := strings.Split(lines.Text(), "\t")
		if len(c) != 4 {
			t.Fatalf("%q has %d cells", lines.Text(), len(c))
		}
		n++
		v := terms.Match(byName(t, terms, c[0]).ID, c[1])
		if v.Accepted != (c[2] == "yes") || v.Reason == "" {
			t.Errorf("%s answered %q (%s): %v, %s", c[0], c[1], c[3], v.Accepted, v.Reason)
		}
	}
	if n < 200 {
		t.Errorf("only %d cases", n)
	}
}

func TestAnswerSides(t *testing.T) {
	terms := shippedTerms(t)
	for answer, want := range map[string]Side{"kidney": NoSide, "left kidney": Left, "kidney, R": Right, "rt kidney": Right, "kidney (sinister)": Left} {
		if v := terms.Match(byName(t, terms, "kidney").ID, answer); !v.Accepted || v.Side != want {
			t.Errorf("%q: %+v", answer, v)
		}
	}
	if v := terms.Match(byName(t, terms, "kidney").ID, "left right kidney"); v.Accepted {
		t.Error("two sides at once pass")
	}
}

// No word of a near-twin pair is ever taken for the other by a slip, and no structure's name is taken for another's.
func TestTM2NearTwinsNeverCross(t *testing.T) {
	terms := shippedTerms(t)
	pairs := 0
	for w, partners := range terms.matcher.twins {
		for _, p := range partners {
			pairs++
			if terms.matcher.slipped(token{word: w, plain: w}, variant{[]string{p}, []string{p}}, 0) {
				t.Errorf("%s passes for %s", w, p)
			}
		}
	}
	if pairs < 2*60 {
		t.Errorf("only %d pairs", pairs/2)
	}
	for _, x := range terms.All() {
		for w, partners := range terms.matcher.twins {
			if !strings.Contains(" "+x.Name+" ", " "+w+" ") {
				continue
			}
			for _, p := range partners {
				swapped := strings.TrimSpace(strings.Replace(" "+x.Name+" ", " "+w+" ", " "+p+" ", 1))
				if v := terms.Match(x.ID, swapped); v.Accepted && !listed(x, swapped) {
					t.Errorf("%q passes for the %s: %s", swapped, x.Name, v.Reason)
				}
			}
		}
	}
}

// listed reports whether a source gives the swapped words as a name of the structure, as "femoral head" for "head of femur".
func listed(x Term, swapped string) bool {
	key := func(s string) string {
		w := slices.DeleteFunc(words(s), func(w string) bool { return fillers[w] })
		slices.Sort(w)
		return strings.Join(w, " ")
	}
	return slices.ContainsFunc(x.names(), func(n string) bool { return key(n) == key(swapped) })
}

// TM2: the pairs the row names, both ways, and what it accepts: synonym, abbreviation resolved by what follows, word order, one slip
// in a word of six letters or more, none in a shorter one, side words anywhere.
func TestTM2RowByRow(t *testing.T) {
	terms := shippedTerms(t)
	for _, p := range [][2]string{{"ileum", "ilium"}, {"malleus", "lateral malleolus"}, {"trapezius", "trapezium"}} {
		a, b := byName(t, terms, p[0]), byName(t, terms, p[1])
		if terms.Accepts(a.ID, b.Name) || terms.Accepts(b.ID, a.Name) {
			t.Errorf("%s and %s cross", a.Name, b.Name)
		}
	}
	if id := byName(t, terms, "fibular artery").ID; !terms.Accepts(id, "peroneal artery") || terms.Accepts(id, "perineal artery") {
		t.Error("peroneal and perineal")
	}
	for _, c := range []struct {
		name, answer string
		want         bool
	}{{"oesophagus", "gullet", true}, {"oesophagus", "esophagus", true}, {"femoral artery", "a. femoralis", true}, {"femoral artery", "femoral a.", true}, {"femoral vein", "femoral a.", false},
		{"femoral vein", "v. femoralis", true}, {"vagus nerve", "n. vagus", true}, {"psoas major", "m. psoas major", true}, {"renal artery", "artery renal", true},
		{"pancreas", "pancraes", true}, {"pancreas", "pankraes", false}, {"liver", "livre", false}, {"kidney", "kidney left", true}, {"renal artery", "artery, left renal", true}} {
		if v := terms.Match(byName(t, terms, c.name).ID, c.answer); v.Accepted != c.want {
			t.Errorf("%s answered %q: %v, %s", c.name, c.answer, v.Accepted, v.Reason)
		}
	}
}

func TestLocalStructures(t *testing.T) {
	terms := shippedTerms(t)
	next, err := terms.WithLocal(Term{Name: "mesenteric cyst", Kind: Organ})
	if err != nil || next.Len() != terms.Len()+1 {
		t.Fatal(err)
	}
	x := next.Find("mesenteric cyst", 1)[0]
	if !x.Local || x.ID != "LOCAL:1" {
		t.Errorf("%+v", x)
	}
	x.Name = "cyst of mesentery"
	renamed, err := next.WithLocal(x)
	if got, _ := renamed.ByID("LOCAL:1"); err != nil || got.Name != "cyst of mesentery" || renamed.Len() != next.Len() {
		t.Errorf("%v %+v", err, got)
	}
	if _, err := terms.WithLocal(Term{ID: "UBERON:0002107", Name: "liver"}); err == nil {
		t.Error("a published structure can be overwritten")
	}
	if !renamed.Accepts("LOCAL:1", "mesentery cyst") || renamed.Accepts(byName(t, terms, "ileum").ID, "ilium") {
		t.Error("matching is lost on a longer list")
	}
}

func TestSideFollowsThePair(t *testing.T) {
	terms := shippedTerms(t)
	liver, kidney := byName(t, terms, "liver").ID, byName(t, terms, "kidney").ID
	for _, c := range []struct {
		term TermID
		side Side
		want error
	}{{liver, Left, ErrSide}, {liver, Right, ErrSide}, {liver, NoSide, nil}, {liver, Midline, nil}, {kidney, Left, nil}, {kidney, Right, nil}, {kidney, NoSide, ErrSide}, {kidney, Midline, ErrSide}, {"", Left, nil}, {"X:1", Left, ErrNoTerm}} {
		if err := terms.Check(Label{Term: c.term, Side: c.side}); !errors.Is(err, c.want) {
			t.Errorf("%s %v: %v", c.term, c.side, err)
		}
	}
}

func TestLoadTermsRefuses(t *testing.T) {
	for name, text := range map[string]string{"empty": "", "no header": "a\tb\n", "paired": "id\tname\tkind\tpaired\nX:1\tliver\torgan\tperhaps\n", "kind": "id\tname\tkind\tpaired\nX:1\tliver\tsoup\tno\n",
		"twice": "id\tname\tkind\tpaired\nX:1\tliver\torgan\tno\nX:1\tspleen\torgan\tno\n", "no name": "id\tname\tkind\tpaired\nX:1\t.\torgan\tno\n", "no id": "id\tname\tkind\tpaired\n\tliver\torgan\tno\n"} {
		if _, err := LoadTerms(strings.NewReader(text)); !errors.Is(err, ErrTerms) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func FuzzLoadTerms(f *testing.F) {
	f.Add("id\tname\tkind\tpaired\nX:1\tliver\torgan\tno\n", "liver")
	f.Add("id\tname\tlatin\tsynonyms\tkind\tpaired\r\n#c\r\nX:1\tkidney\tren\trenal body|x\torgan\tyes\r\n", "left kidny")
	f.Fuzz(func(t *testing.T, text, typed string) {
		terms, err := LoadTerms(strings.NewReader(text))
		if err != nil {
			return
		}
		terms.Find(typed, 5)
		for _, x := range terms.All() {
			terms.Match(x.ID, typed)
			if len(words(x.Name)) <= maxAnswer && !terms.Accepts(x.ID, x.Name) && x.Paired {
				t.Logf("%q is not accepted for itself", x.Name)
			}
		}
	})
}

func BenchmarkFind8000(b *testing.B) {
	terms := shippedTerms(b)
	var list []Term
	for i := range 8000 {
		x := terms.All()[i%terms.Len()]
		x.ID = TermID(fmt.Sprintf("X:%d", i))
		list = append(list, x)
	}
	big, err := newTerms(list)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		big.Find("flex dig", 12)
		big.Find("art", 12)
	}
}

func BenchmarkMatchWrongAnswer(b *testing.B) {
	terms := shippedTerms(b)
	id := byName(b, terms, "superior mesenteric artery").ID
	for b.Loop() {
		terms.Match(id, "superior mesenterik vein")
	}
}

// A name is the list's own; what the list lacks, and every structure where there is no list, goes by its id.
func TestNameOf(t *testing.T) {
	terms, err := LoadTerms(strings.NewReader("id\tname\tkind\tpaired\nUBERON:0000948\theart\torgan\tno\n"))
	if err != nil {
		t.Fatal(err)
	}
	if got := terms.NameOf("UBERON:0000948"); got != "heart" {
		t.Errorf("known: %q", got)
	}
	if got := terms.NameOf("FMA:7088"); got != "FMA:7088" {
		t.Errorf("unknown: %q", got)
	}
	if got := (*Terms)(nil).NameOf("FMA:7088"); got != "FMA:7088" {
		t.Errorf("without a list: %q", got)
	}
}
