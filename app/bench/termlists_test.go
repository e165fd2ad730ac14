package bench

import (
	"os"
	"path/filepath"
	"testing"

	"sectionary/annotate"
)

// Whoever begins at the whole and goes down through the parts meets every structure of the list once.
func TestTreeOfPartsHoldsEveryStructure(t *testing.T) {
	b, _, _ := sample(t)
	seen := map[annotate.TermID]int{}
	var down func(id annotate.TermID, depth int)
	down = func(id annotate.TermID, depth int) {
		if depth > 60 {
			t.Fatalf("%s is part of itself", id)
		}
		for _, n := range b.TermParts(id) {
			seen[n.ID]++
			if path := b.TermPath(n.ID); path[len(path)-1].ID != n.ID || len(path) != depth+1 {
				t.Errorf("%s: way %d long at depth %d", n.ID, len(path), depth)
			}
			if n.Parts > 0 {
				down(n.ID, depth+1)
			}
		}
	}
	down("", 0)
	for _, x := range b.terms.All() {
		if seen[x.ID] != 1 {
			t.Errorf("%s (%s) is met %d times", x.ID, x.Name, seen[x.ID])
		}
	}
}

// A list in OBO format stands beside the shipped one, is searched with it, and is there again when the lab is opened anew.
func TestBroughtListIsKeptWithTheLab(t *testing.T) {
	b, q, m := sample(t)
	m.dir = t.TempDir()
	path := filepath.Join(t.TempDir(), "own-part.obo")
	text := "format-version: 1.4\ndata-version: releases/2026-01-01\nontology: own\nproperty_value: dcterms-license https://creativecommons.org/licenses/by/4.0/\n\n[Term]\nid: XX:1\nname: zzyx organ\n\n[Term]\nid: XX:2\nname: zzyx cortex\nrelationship: part_of XX:1\n"
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	before := b.terms.Len()
	b.AddTermList(path)
	q.run()
	if b.terms.Len() != before+2 || len(b.FindTerms("zzyx")) != 2 || len(b.TermParts("XX:1")) != 1 {
		t.Fatalf("%d structures more", b.terms.Len()-before)
	}
	lists := b.TermLists()
	if last := lists[len(lists)-1]; !has(last, "own-part.obo", "2026-01-01", "2", "Source: own", "Licence: https://creativecommons.org/licenses/by/4.0/") {
		t.Errorf("told as %q", last)
	}
	if err := b.openLibrary(m); err != nil {
		t.Fatal(err)
	}
	q.run()
	if len(b.FindTerms("zzyx cort")) != 1 {
		t.Error("the list did not come back with the lab")
	}
	b.AddTermList(path) // twice
	q.run()
	if b.Message() == nil || b.terms.Len() != before+2 {
		t.Error("a list of the same name was taken again")
	}
}

func TestLanguageOfNames(t *testing.T) {
	b, _, _ := sample(t)
	latin := annotate.Term{Name: "deep fascia", Latin: "fascia profunda"}
	for l, want := range []string{"deep fascia", "fascia profunda", "deep fascia / fascia profunda"} {
		b.SetNameLanguage(NameLanguage(l))
		if got := b.shownName(latin); got != want {
			t.Errorf("language %d: %q", l, got)
		}
		if got := b.shownName(annotate.Term{Name: "cheek"}); got != "cheek" {
			t.Errorf("without Latin: %q", got)
		}
	}
}
