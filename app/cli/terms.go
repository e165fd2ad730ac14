package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"sectionary/annotate"
)

func termsVerb(t *tool) *cobra.Command {
	c := &cobra.Command{
		Use: "terms", Short: "The list of structures: find one, or judge an answer",
		RunE: func(c *cobra.Command, args []string) error {
			return misused("terms takes find TEXT or match TERM ANSWER")
		},
	}
	c.AddCommand(findVerb(t), matchVerb(t))
	return c
}

// hit is one line that "terms find" prints.
type hit struct {
	Rank int `json:"rank"`
	annotate.Term
}

func findVerb(t *tool) *cobra.Command {
	var most int
	c := &cobra.Command{
		Use: "find TEXT", Short: "Structures for part-words in any order, best first", Args: cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, args []string) error {
			text := strings.TrimSpace(strings.Join(args, " "))
			if text == "" {
				return misused("terms find takes the words to look for")
			}
			terms, err := shippedTerms()
			if err != nil {
				return err
			}
			hits := []hit{}
			var b strings.Builder
			for i, x := range terms.Find(text, most) {
				if x.Synonyms == nil {
					x.Synonyms = []string{}
				}
				hits = append(hits, hit{i + 1, x})
				fmt.Fprintf(&b, "%s\t%s\t%s\n", x.ID, x.Name, x.Latin)
			}
			if len(hits) == 0 {
				t.note("Nothing in the list is called %q.", text)
			}
			return t.answer(map[string]any{"terms": hits}, b.String())
		},
	}
	c.Flags().IntVar(&most, "most", 20, "the most to print")
	return c
}

func matchVerb(t *tool) *cobra.Command {
	return &cobra.Command{
		Use: "match TERM ANSWER", Short: "Whether a typed answer names a structure, and why", Args: exactly("TERM", "ANSWER"),
		RunE: func(c *cobra.Command, args []string) error {
			terms, err := shippedTerms()
			if err != nil {
				return err
			}
			id := annotate.TermID(args[0])
			if _, known := terms.ByID(id); !known {
				return fmt.Errorf(`no structure of the list has the id %q; "terms find" prints ids`, args[0])
			}
			v := terms.Match(id, args[1])
			return t.answer(v, v.Reason)
		},
	}
}
