package bench

import (
	"strings"

	"sectionary/slices/section"
)

// TableInfo is what the receiving table shows beside its picture.
type TableInfo struct {
	Prints, Chosen int
	Words          string // what lies on the table, and what is chosen
	Print          string // of the one print chosen: number, time and all remarks
	Edge           string // the chosen edge and what lies there, "" when none is chosen
	EdgeTaken      bool
	Sequence       Sequence
	Sides          [2]section.Facing // that may come first
	Order          string            // the first faces of the sequence, in words
	Proposed       bool
	Proposal       string // how many would lie and how many would stay
	Left           bool   // the chosen print is left out of the proposal
	Mirrored       int    // prints whose mirror nobody has answered for
	Large          bool
}

// Table tells what the receiving table shows beside its picture.
func (b *Bench) Table() TableInfo {
	prints, chosen := b.Prints(), b.chosenPrints()
	s, r := b.sequence(), b.Run()
	i := TableInfo{Prints: len(prints), Chosen: len(chosen), Sequence: s, Large: b.table.large != nil}
	i.Words = Word("table.none")
	if n := len(prints); n > 0 {
		i.Words = count("table.prints", n)
	}
	if n := len(chosen); n > 1 {
		i.Words += " " + Word("table.chosen", n)
	}
	if len(chosen) == 1 {
		i.Print = b.printWords(chosen[0])
	}
	i.Sides = [2]section.Facing{s.UsualFirst(r), s.UsualFirst(r).Opposite()}
	if e := b.table.edge; e != (section.Face{}) {
		i.EdgeTaken = !b.empty(e)
		i.Edge = upperFirst(b.Run().Name(e))
		if i.EdgeTaken {
			i.Edge = Word("table.edge.taken", i.Edge)
		}
	}
	i.Order = b.orderWords()
	for _, p := range prints {
		if p.Mirrored {
			i.Mirrored++
		}
	}
	if p := b.table.proposal; p != nil {
		on, left := b.proposal()
		i.Proposed = true
		i.Proposal = Word("table.proposal", len(on), left+len(prints)-len(p.keys))
		i.Left = len(chosen) > 0 && p.out[chosen[0].key]
	}
	return i
}

// orderWords are the first faces that the sequence comes by.
func (b *Bench) orderWords() string {
	faces := from(b.sequence().Faces(b.Run()), b.table.edge)
	var names []string
	for _, f := range faces[:min(len(faces), 4)] {
		names = append(names, b.shortFace(f))
	}
	words := strings.Join(names, ", ")
	if len(faces) > 4 {
		words += ", …"
	}
	return words
}

// shortFace names a face in few words: "slab 3, upper".
func (b *Bench) shortFace(f section.Face) string { return strings.TrimSuffix(b.Run().Name(f), " face") }

// printWords is all there is to say of one print.
func (b *Bench) printWords(p TrayPhoto) string {
	lines := []string{p.Words}
	add := func(yes bool, words string) {
		if yes {
			lines = append(lines, words)
		}
	}
	add(p.ID == "", Word("table.coming.one"))
	add(p.Same > 0, Word("table.same", p.Same))
	add(p.Mirrored, Word("mirrored.ask"))
	add(p.Advice != "", p.Advice)
	return strings.Join(lines, "\n")
}
