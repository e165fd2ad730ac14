// Sectionary at a prompt: the same library and the same rules as the window, for labs that script their work.
// The verbs and what each prints are listed by "sectionary help"; exit status 0 is done, 1 failed, 2 misused and
// 3 done but with faults found.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"regexp"
	"strings"
	"syscall"

	"github.com/spf13/cobra"
)

// Exit statuses.
const (
	statusDone = iota
	statusFailed
	statusMisused
	statusFaults
)

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

// run does one verb and returns the exit status. An interrupt ends it cleanly; a second one at once.
func run(args []string, out, notes io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop)
	root := newRoot(&tool{out: out, notes: notes})
	root.SetArgs(longFlags(args))
	root.SetOut(out)
	root.SetErr(notes)
	err := root.ExecuteContext(ctx)
	if err != nil {
		fmt.Fprintln(notes, "sectionary: "+sentence(err))
	}
	return statusOf(err)
}

func newRoot(t *tool) *cobra.Command {
	root := &cobra.Command{
		Use:   "sectionary VERB",
		Short: "Sectional anatomy at a prompt: faces, scale, scans, levels, labels and hand-outs",
		Long: `Sectional anatomy at a prompt: faces, scale, scans, levels, labels and hand-outs.

Lengths are mm, angles degrees, patient axes LPS. Pixel 0,0 is the centre of the first pixel of the upright photograph.
A FACE is the code of a photograph, or run:slab:facing as in trunk:9:superior (also trunk/9/superior, "trunk 9 superior");
the run may be named by its part. A SERIES is its UID or the beginning of it, if only one series begins so.
-json prints exactly one JSON document. Exit status: 0 done, 1 failed, 2 misused, 3 faults found.`,
		SilenceErrors: true, SilenceUsage: true,
		Args: cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return misused(`name a verb; "sectionary help" lists them`)
			}
			return misused(`there is no verb %q; "sectionary help" lists them`, args[0])
		},
	}
	root.CompletionOptions.DisableDefaultCmd = true
	root.PersistentFlags().BoolVar(&t.json, "json", false, "print one JSON document")
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return misused(`%w; "%s -help" shows what it takes`, err, c.CommandPath())
	})
	root.AddCommand(
		practiceVerb(t), lettersVerb(t), surveyVerb(t), cutVerb(t), scaleVerb(t), lensVerb(t), standVerb(t), measureVerb(t), poseVerb(t), levelsVerb(t),
		refineVerb(t), runcheckVerb(t), outlineVerb(t), termsVerb(t),
		newVerb(t), runVerb(t), agreeVerb(t), listVerb(t), showVerb(t), verifyVerb(t),
		addPhotoVerb(t), rephotographVerb(t), lookAgainVerb(t), earlierVerb(t), layVerb(t), placeVerb(t), orientVerb(t), calibrateVerb(t), borderVerb(t), maskVerb(t), labelVerb(t),
		addSeriesVerb(t), levelVerb(t), tieVerb(t), examVerb(t), handoutVerb(t),
		packVerb(t), exportVerb(t), importVerb(t), custodyVerb(t), backupVerb(t), restoreVerb(t),
	)
	return root
}

// longFlags lets flags of more than one letter be given with one dash, as the verbs are documented.
func longFlags(args []string) []string {
	out := make([]string, len(args))
	for i, a := range args {
		if a == "--" {
			return append(out[:i], args[i:]...)
		}
		if len(a) > 2 && a[0] == '-' && (a[1]|0x20 >= 'a' && a[1]|0x20 <= 'z') {
			a = "-" + a
		}
		out[i] = a
	}
	return out
}

// misuse is an error in how a verb was called.
type misuse struct{ error }

func (m misuse) Unwrap() error { return m.error }

func misused(format string, args ...any) error { return misuse{fmt.Errorf(format, args...)} }

// faults is an answer that was given in full and found something wrong.
type faults struct{ error }

func (f faults) Unwrap() error { return f.error }

func found(format string, args ...any) error { return faults{fmt.Errorf(format, args...)} }

func statusOf(err error) int {
	var m misuse
	var f faults
	switch {
	case err == nil:
		return statusDone
	case errors.As(err, &m):
		return statusMisused
	case errors.As(err, &f):
		return statusFaults
	}
	return statusFailed
}

// ourPackages begin errors inside the program; people at the prompt need not see them.
var ourPackages = regexp.MustCompile(`(^|[:;] |\n)(?:(?:geom|section|photo|scan|register|annotate|atlas|store|quiz|practice): )+`)

// sentence is an error on one line.
func sentence(err error) string {
	if errors.Is(err, context.Canceled) {
		return "stopped; nothing was left half written"
	}
	return strings.ReplaceAll(ourPackages.ReplaceAllString(err.Error(), "$1"), "\n", "; ")
}

// exactly asks for the arguments named, one each.
func exactly(names ...string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) == len(names) {
			return nil
		}
		if len(names) == 0 {
			return misused("%s takes flags only, not %q", c.CommandPath(), args[0])
		}
		return misused("%s takes %s, got %d arguments", c.CommandPath(), strings.Join(names, " "), len(args))
	}
}

// needs marks flags that must be given.
func needs(c *cobra.Command, flags ...string) *cobra.Command {
	do := c.RunE
	c.RunE = func(c *cobra.Command, args []string) error {
		for _, f := range flags {
			if !c.Flags().Changed(f) {
				return misused("%s needs -%s: %s", c.CommandPath(), f, c.Flags().Lookup(f).Usage)
			}
		}
		return do(c, args)
	}
	return c
}
