package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"sectionary/atlas"
	"sectionary/atlas/quiz"
	"sectionary/slices/section"
)

// slipFlags are the words of a hand-out request.
type slipFlags struct {
	purpose, kind, title, view, paper string
	faces, languages, words           []string
	seed                              uint64
	noTags, signed                    bool
}

func handoutVerb(t *tool) *cobra.Command {
	var f slipFlags
	c := &cobra.Command{
		Use: "handout LIB OUT", Short: "Make the pictures of a hand-out, searched for traces of the donor before they are released",
		Long: `Make the pictures of a hand-out in the folder OUT. Nothing appears there before every finished file was searched and
found clean. A purpose that the donor's agreement does not record is refused, with exit status 3 and the reason.
Faces may follow -faces one by one before OUT, or be parted by commas.`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) < 2 {
				return misused("handout takes LIB and OUT, got %d arguments", len(args))
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			lib, out := args[0], args[len(args)-1]
			f.faces = append(f.faces, args[1:len(args)-1]...)
			r, err := f.request()
			if err != nil {
				return err
			}
			return t.handOut(c, lib, out, f.faces, r)
		},
	}
	c.Flags().StringVar(&f.purpose, "purpose", "", "what for: "+purposeList())
	c.Flags().StringSliceVar(&f.faces, "faces", nil, "the faces, one page each, in order")
	c.Flags().StringVar(&f.kind, "kind", "", "study (names) or exam (numbers and an answer key); left out, by the purpose")
	c.Flags().StringSliceVar(&f.languages, "lang", []string{"en"}, "languages of the names: en, la or both")
	c.Flags().StringVar(&f.title, "title", "", "printed on every page")
	c.Flags().StringVar(&f.view, "view", "bench", "bench, scan or otherside")
	c.Flags().StringVar(&f.paper, "paper", "A4", "A4 or Letter")
	c.Flags().StringSliceVar(&f.words, "words", nil, "further words that must not stand in any file: names on tags, file names")
	c.Flags().Uint64Var(&f.seed, "seed", 0, "fixes the numbering of an exam and the code")
	c.Flags().BoolVar(&f.noTags, "no-tags", false, "your word that pictures without border and mask show no tag or writing")
	c.Flags().BoolVar(&f.signed, "signed-only", false, "leave out labels that no second person has signed")
	return needs(c, "purpose", "faces")
}

func (f slipFlags) request() (quiz.Request, error) {
	view, err := section.ParseView(f.view)
	if err != nil {
		return quiz.Request{}, misuse{err}
	}
	r := quiz.Request{Purpose: atlas.Purpose(f.purpose), Kind: quiz.Kind(f.kind), Title: f.title, View: view, Seed: f.seed,
		Paper: quiz.Paper(f.paper), NoTags: f.noTags, SignedOnly: f.signed, Words: f.words}
	for _, l := range f.languages {
		r.Languages = append(r.Languages, quiz.Language(l))
	}
	switch {
	case r.Purpose.Words() == "":
		return r, misused("-purpose: %q is not a purpose; there are %s", f.purpose, purposeList())
	case r.Kind == "" && r.Purpose == atlas.Exam:
		r.Kind = quiz.Exam
	case r.Kind == "":
		r.Kind = quiz.Study
	case r.Kind != quiz.Study && r.Kind != quiz.Exam:
		return r, misused("-kind takes study or exam, not %q", f.kind)
	}
	return r, nil
}

func (t *tool) handOut(c *cobra.Command, dir, out string, faces []string, r quiz.Request) error {
	terms, err := shippedTerms()
	if err != nil {
		return err
	}
	return with(dir, atlas.ReadWrite, func(lib *atlas.Library) error {
		if r.Plates, err = platesOf(lib, "", faces); err != nil {
			return err
		}
		slip, err := quiz.HandOut(c.Context(), lib, terms, r, out)
		return t.slip(slip, out, err)
	})
}

// slip answers with a slip; a refusal is a fault found.
func (t *tool) slip(s quiz.Slip, out string, err error) error {
	if err != nil {
		return fmt.Errorf("%s: %w", out, err)
	}
	if err := t.answer(s, slipWords(s, out)); err != nil {
		return err
	}
	if !s.Allowed {
		return found("%s", s.Reason)
	}
	return nil
}

func slipWords(s quiz.Slip, out string) string {
	var b strings.Builder
	if !s.Allowed {
		return "refused"
	}
	fmt.Fprintf(&b, "hand-out %s, searched and found clean:\n", s.Code)
	for _, f := range s.Files {
		fmt.Fprintf(&b, "  %s (%s)\n", filepath.Join(out, f.Name), f.What)
	}
	for _, x := range s.LeftOut {
		fmt.Fprintf(&b, "left out: %s: %s\n", x.Name, x.Reason)
	}
	for _, n := range s.Notes {
		b.WriteString(n + "\n")
	}
	return b.String()
}
