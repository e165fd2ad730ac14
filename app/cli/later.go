package main

import (
	"errors"

	"github.com/spf13/cobra"
)

// anyFlag lets flags of later builds through, so that the answer is the sentence and not a complaint about a flag.
var anyFlag = cobra.FParseErrWhitelist{UnknownFlags: true}

func examVerb(t *tool) *cobra.Command {
	return &cobra.Command{
		Use: "exam", Short: "Exams: not in this build; use handout -kind exam", Args: cobra.ArbitraryArgs, FParseErrWhitelist: anyFlag,
		RunE: func(c *cobra.Command, _ []string) error {
			return errors.New(`this build cannot draft exams yet; "handout -kind exam" makes numbered pictures with an answer key`)
		},
	}
}
