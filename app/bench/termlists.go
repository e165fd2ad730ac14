package bench

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/assets"
)

// TermNode is one structure in the tree of parts.
type TermNode struct {
	TermRow
	Parts  int // how many structures are part of it
	Local  bool
	Source string
}

func (b *Bench) node(t annotate.Term) TermNode {
	return TermNode{TermRow: b.termRow(t), Parts: len(b.terms.Children(t.ID)), Local: t.Local, Source: t.Source}
}

// TermParts lists the structures that are part of id; of "" those that are part of nothing else, the ones with parts first.
func (b *Bench) TermParts(id annotate.TermID) []TermNode {
	if b.terms == nil {
		return nil
	}
	list := b.terms.Children(id)
	if id == "" {
		list = nil
		for _, t := range b.terms.All() {
			if _, ok := b.terms.ByID(t.PartOf); !ok {
				list = append(list, t)
			}
		}
	}
	out := make([]TermNode, len(list))
	for i, t := range list {
		out[i] = b.node(t)
	}
	slices.SortStableFunc(out, func(x, y TermNode) int {
		if (x.Parts > 0) != (y.Parts > 0) {
			if x.Parts > 0 {
				return -1
			}
			return 1
		}
		return strings.Compare(x.Name, y.Name)
	})
	return out
}

// TermPath is the way from the whole down to id, both included. A ring in a list that was brought in ends it.
func (b *Bench) TermPath(id annotate.TermID) []TermNode {
	var out []TermNode
	for seen := map[annotate.TermID]bool{}; !seen[id] && len(out) < 100; {
		t, ok := b.term(id)
		if !ok {
			break
		}
		seen[id] = true
		out = append(out, b.node(t))
		id = t.PartOf
	}
	slices.Reverse(out)
	return out
}

// termRow is a structure as the lists show it, with the side the chosen outline suggests.
func (b *Bench) termRow(t annotate.Term) TermRow {
	r := TermRow{ID: t.ID, Name: t.Name, Latin: t.Latin, Letter: t.Kind.Letter(), Kind: t.Kind.String(), Paired: t.Paired}
	if !t.Paired {
		r.Sides = []annotate.Side{annotate.NoSide, annotate.Midline}
		return r
	}
	r.Sides = []annotate.Side{annotate.Left, annotate.Right}
	if p, x, err := b.chosenLabel(); err == nil {
		r.Suggested, _ = sideOf(p, x)
	}
	return r
}

// TermLists tells of every list in use: how many structures, where they come from, version and licence as far as known.
func (b *Bench) TermLists() []string {
	if b.shipped == nil {
		return nil
	}
	out := append([]string{Word("terms.shipped", b.shipped.Len(), sources(b.shipped))}, shippedSources()...)
	own := 0
	for _, t := range b.terms.All() {
		if t.Local {
			own++
		}
	}
	out = append(out, Word("terms.local", own))
	for _, l := range b.lab.lists {
		out = append(out, broughtWords(l))
	}
	return out
}

// broughtWords is what a list that was brought in says of itself: source, version and licence, each "not said" where it is silent.
func broughtWords(l termList) string {
	a := l.terms.About()
	said := func(parts ...string) string {
		parts = slices.DeleteFunc(parts, func(s string) bool { return s == "" })
		if len(parts) == 0 {
			return Word("terms.nosource")
		}
		return strings.Join(parts, ", ")
	}
	return Word("terms.brought", l.name, l.terms.Len(), said(a.Title, a.Source), said(a.Version, a.Date), said(a.Licence))
}

// shippedSources are the rows of the attribution that concern the list of structures: source, version, licence.
func shippedSources() (out []string) {
	link := regexp.MustCompile(`\[([^\]]*)\]\([^)]*\)`)
	for line := range strings.Lines(assets.Attribution) {
		cells := strings.Split(strings.Trim(strings.TrimSpace(line), "|"), "|")
		if len(cells) != 4 || strings.HasPrefix(cells[0], "---") || strings.Contains(cells[0], "levels.tsv") || strings.TrimSpace(cells[0]) == "what" {
			continue
		}
		for i := range cells {
			cells[i] = strings.TrimSpace(strings.ReplaceAll(link.ReplaceAllString(cells[i], "$1"), "`", ""))
		}
		out = append(out, Word("terms.source", cells[0], cells[1], cells[2], cells[3]))
	}
	return out
}

// sources are the sources of a list and, with a list in OBO format, its version.
func sources(t *annotate.Terms) string {
	var all []string
	for _, x := range t.All() {
		for s := range strings.SplitSeq(x.Source, "+") {
			if s != "" && !slices.Contains(all, s) && len(all) < 12 {
				all = append(all, s)
			}
		}
	}
	if len(all) == 0 {
		return Word("terms.nosource")
	}
	return strings.Join(all, ", ")
}

// termList is a list of structures that was brought in.
type termList struct {
	name  string
	terms *annotate.Terms
}

// termListDir holds, beside the lab's catalogue, the lists that were brought in.
const termListDir = "term-lists"

// mostTermList bounds a list that is brought in, in bytes.
const mostTermList = 512 << 20

// AddTermList brings in a list in OBO format as one more list, kept with the lab. Structures whose id is there already stay
// as they are.
func (b *Bench) AddTermList(path string) {
	if err := b.writable(); err != nil {
		b.Report(err)
		return
	}
	dir := filepath.Join(b.lab.lib.Dir(), termListDir)
	b.start(Word("job.terms"), func(ctx context.Context, _ func(done, total int)) (func(), error) {
		l, err := readTermList(path)
		if err == nil {
			err = keepFile(path, filepath.Join(dir, l.name))
		}
		if err != nil {
			return nil, err
		}
		return func() {
			b.joinList(l)
			b.hint(Word("terms.came", l.terms.Len(), l.name), false)
		}, nil
	})
}

// joinList puts a list behind those in use.
func (b *Bench) joinList(l termList) {
	next, err := b.terms.Join(l.terms)
	if err != nil {
		b.Report(err)
		return
	}
	b.terms = next
	b.lab.lists = append(b.lab.lists, l)
	b.changed(PlateChanged)
}

// readTermLists brings back the lists of the open lab.
func (b *Bench) readTermLists() {
	paths, _ := filepath.Glob(filepath.Join(b.lab.lib.Dir(), termListDir, "*.obo"))
	for _, path := range paths {
		b.start(Word("job.terms"), func(context.Context, func(done, total int)) (func(), error) {
			l, err := readTermList(path)
			if err != nil {
				return nil, err
			}
			return func() { b.joinList(l) }, nil
		})
	}
}

func readTermList(path string) (termList, error) {
	f, err := os.Open(path)
	if err != nil {
		return termList{}, fmt.Errorf("bench: list of structures: %w", err)
	}
	defer f.Close()
	t, err := annotate.LoadOBO(io.LimitReader(f, mostTermList))
	if err != nil {
		return termList{}, fmt.Errorf("bench: %s: %w", filepath.Base(path), err)
	}
	name := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path)) + ".obo"
	return termList{name, t}, nil
}

// keepFile copies a file to a place where none is yet.
func keepFile(from, to string) (err error) {
	if err = os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
		return fmt.Errorf("bench: %w", err)
	}
	in, err := os.Open(from)
	if err != nil {
		return fmt.Errorf("bench: %w", err)
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return fmt.Errorf("bench: %w", err)
	}
	_, err = io.Copy(out, io.LimitReader(in, mostTermList))
	if err = errors.Join(err, out.Close()); err != nil {
		_ = os.Remove(to)
		return fmt.Errorf("bench: %w", err)
	}
	return nil
}

// NameLanguage is the language of names on the picture.
type NameLanguage uint8

// English, Latin where a source gives it, or both.
const (
	InEnglish NameLanguage = iota
	InLatin
	InBoth
)

// SetNameLanguage chooses the language of names on the picture.
func (b *Bench) SetNameLanguage(l NameLanguage) {
	if l <= InBoth && l != b.draw.language {
		b.draw.language = l
		b.changed(SelectionChanged)
	}
}

// NameLanguage is the language of names on the picture.
func (b *Bench) NameLanguage() NameLanguage { return b.draw.language }

// shownName is a structure's name in the chosen language. What has no Latin name keeps its English one.
func (b *Bench) shownName(t annotate.Term) string {
	switch {
	case t.Latin == "" || b.draw.language == InEnglish:
		return t.Name
	case b.draw.language == InLatin:
		return t.Latin
	}
	return t.Name + " / " + t.Latin
}
