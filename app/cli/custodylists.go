package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"sectionary/atlas"
	"sectionary/atlas/quiz"
)

// state is what lists of custody are made from.
type state struct {
	lib     *atlas.Library
	custody atlas.Custody
	donors  []atlas.Donor
	rules   atlas.CustodyRules
	today   time.Time
}

// look opens a library for reading and hands on what its ledger says.
func look(c *cobra.Command, dir string, do func(state) error) error {
	return with(dir, atlas.ReadOnly, func(lib *atlas.Library) (err error) {
		s := state{lib: lib}
		if s.custody, err = lib.Custody(c.Context()); err != nil {
			return err
		}
		if s.donors, err = lib.Donors(); err != nil {
			return err
		}
		if s.rules, err = lib.CustodyRules(); err != nil {
			return err
		}
		s.today, _ = s.custody.Today(time.Now())
		return do(s)
	})
}

func rackVerb(t *tool) *cobra.Command {
	return &cobra.Command{
		Use: "rack LIB", Short: "Shelves, containers and what lies in them, who has what, and what is due", Args: exactly("LIB"),
		RunE: func(c *cobra.Command, args []string) error {
			return look(c, args[0], func(s state) error {
				due := s.custody.Due(s.today, s.donors, s.rules)
				var b strings.Builder
				for _, d := range due {
					b.WriteString(d.Words + "\n")
				}
				for _, shelf := range s.custody.Rack() {
					name := shelf.Name
					if shelf.Code == "" {
						name = "on no shelf"
					}
					fmt.Fprintf(&b, "%s %s\n", name, shelf.Code)
					for _, p := range shelf.Loose {
						fmt.Fprintf(&b, "  %s\n", pieceLine(p))
					}
					for _, box := range shelf.Boxes {
						fmt.Fprintf(&b, "  %s %s\n", box.Name, box.Code)
						for _, p := range box.Pieces {
							fmt.Fprintf(&b, "    %s\n", pieceLine(p))
						}
					}
				}
				for _, who := range s.custody.Loans() {
					fmt.Fprintf(&b, "on loan to %s\n", who.Name)
					for _, p := range who.Pieces {
						fmt.Fprintf(&b, "    %s, due %s\n", pieceLine(p), p.Due.Format("2 January 2006"))
					}
				}
				for _, p := range s.custody.Missing() {
					fmt.Fprintf(&b, "missing: %s\n", pieceLine(p))
				}
				return t.answer(map[string]any{"shelves": some(s.custody.Rack()), "loans": some(s.custody.Loans()), "missing": some(s.custody.Missing()), "due": some(due)}, b.String())
			})
		},
	}
}

// some is v, and an empty list in place of none.
func some[T any](v []T) []T { return append([]T{}, v...) }

func pieceLine(p atlas.Piece) string {
	mass := "no mass"
	if p.Mass > 0 {
		mass = fmt.Sprintf("%g g", p.Mass)
	}
	return fmt.Sprintf("%s  %s, %s of %s, %s", p.Code, p.Name, p.Kind, p.Donor, mass)
}

func dueVerb(t *tool) *cobra.Command {
	var on string
	c := &cobra.Command{
		Use: "due LIB", Short: "What is overdue or due soon; exit status 3 when something is overdue", Args: exactly("LIB"),
		RunE: func(c *cobra.Command, args []string) error {
			return look(c, args[0], func(s state) error {
				if on != "" {
					day, err := time.Parse(time.DateOnly, on)
					if err != nil {
						return misused("-on takes a day as 2030-01-01, not %q", on)
					}
					s.today = day
				} else if _, back := s.custody.Today(time.Now()); back {
					t.note("The clock stands before the last line of the ledger; its day is reckoned with. Check the clock.")
				}
				due, over := s.custody.Due(s.today, s.donors, s.rules), 0
				words := []string{}
				for _, d := range due {
					words = append(words, d.Words)
					if d.Overdue() {
						over++
					}
				}
				if len(due) == 0 {
					words = []string{"nothing is due"}
				}
				if err := t.answer(map[string]any{"today": s.today.Format(time.DateOnly), "due": some(due), "overdue": over}, strings.Join(words, "\n")); err != nil {
					return err
				}
				if over > 0 {
					return found("%d overdue", over)
				}
				return nil
			})
		},
	}
	c.Flags().StringVar(&on, "on", "", "as it will be on this day")
	return c
}

func historyVerb(t *tool) *cobra.Command {
	var pdf, paper string
	c := &cobra.Command{
		Use: "history LIB CODE", Short: "Every line that speaks of a piece, container or shelf", Args: exactly("LIB", "CODE"),
		RunE: func(c *cobra.Command, args []string) error {
			return look(c, args[0], func(s state) error {
				code, err := s.custody.Find(args[1])
				if err != nil {
					return err
				}
				past := s.custody.History(code)
				words := []string{code + ": " + s.custody.What(code)}
				for _, e := range past {
					words = append(words, lineWords(s.custody, e))
				}
				if pdf != "" {
					err := writeWhole(pdf, func(w io.Writer) error { return quiz.WriteHistory(w, s.custody, code, s.today, quiz.Paper(paper)) })
					if err != nil {
						return err
					}
				}
				return t.answer(map[string]any{"code": code, "what": s.custody.What(code), "lines": past}, strings.Join(words, "\n"))
			})
		},
	}
	c.Flags().StringVar(&pdf, "pdf", "", "print it into this file, too")
	c.Flags().StringVar(&paper, "paper", "A4", "A4 or Letter")
	return c
}

func ledgerVerb(t *tool) *cobra.Command {
	return &cobra.Command{
		Use: "ledger LIB", Short: "Every line of the ledger; a line that was altered is named", Args: exactly("LIB"),
		RunE: func(c *cobra.Command, args []string) error {
			return look(c, args[0], func(s state) error {
				lines, words := s.custody.Entries(), []string{}
				for _, e := range lines {
					words = append(words, lineWords(s.custody, atlas.Past{LedgerEntry: e, Undone: s.custody.Undone(e.Number)}))
				}
				return t.answer(map[string]any{"lines": some(lines)}, strings.Join(words, "\n"))
			})
		},
	}
}

func reconcileVerb(t *tool) *cobra.Command {
	var pdf, paper string
	c := &cobra.Command{
		Use: "reconcile LIB DONOR", Short: "What came in against what is here; exit status 3 while something blocks the return", Args: exactly("LIB", "DONOR"),
		RunE: func(c *cobra.Command, args []string) error {
			return look(c, args[0], func(s state) error {
				d, err := s.lib.Donor(args[1])
				if err != nil {
					return err
				}
				r := s.custody.Reconcile(d.Code, d.Runs)
				if pdf != "" {
					err := writeWhole(pdf, func(w io.Writer) error { return quiz.WriteReturnList(w, r, s.today, quiz.Paper(paper)) })
					if err != nil {
						return err
					}
				}
				words := fmt.Sprintf("%g g came in, %g g are here or returned, %g g lost, %.1f g unaccounted for", r.In, r.Out, r.Lost, r.Gap())
				if err := t.answer(r, words); err != nil {
					return err
				}
				if !r.Ready {
					return found("cannot mark ready to return: %s", r.Sentence())
				}
				return nil
			})
		},
	}
	c.Flags().StringVar(&pdf, "pdf", "", "print the return list into this file, by container with lines to sign")
	c.Flags().StringVar(&paper, "paper", "A4", "A4 or Letter")
	return c
}

func countVerb(t *tool) *cobra.Command {
	return &cobra.Command{
		Use: "count LIB DONOR CODE...", Short: "Compare scanned codes with what should be here; exit status 3 when they differ",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) < 2 {
				return misused("%s takes LIB DONOR CODE...", c.CommandPath())
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			return look(c, args[0], func(s state) error {
				if _, err := s.lib.Donor(args[1]); err != nil {
					return err
				}
				var codes []string
				for _, text := range args[2:] {
					code, err := atlas.ReadItemCode(text, s.custody.Known)
					if err != nil {
						return err
					}
					codes = append(codes, code)
				}
				got := s.custody.Count(args[1], codes)
				words := []string{}
				for _, p := range got.Missing {
					words = append(words, "not scanned: "+pieceLine(p)+", "+s.custody.Whereabouts(p))
				}
				for _, x := range got.Strange {
					words = append(words, x.Words)
				}
				if len(words) == 0 {
					words = []string{"all is here"}
				}
				if err := t.answer(map[string]any{"missing": some(got.Missing), "strange": some(got.Strange)}, strings.Join(words, "\n")); err != nil {
					return err
				}
				if n := len(got.Missing) + len(got.Strange); n > 0 {
					return found("%d differ from the ledger", n)
				}
				return nil
			})
		},
	}
}

func tagsVerb(t *tool) *cobra.Command {
	var paper string
	c := &cobra.Command{
		Use: "tags LIB FILE CODE...", Short: "Print tags into a PDF: item code, QR code, plane and face arrow, no name; all that is in use when no code is given",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) < 2 {
				return misused("%s takes LIB FILE CODE...", c.CommandPath())
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			return look(c, args[0], func(s state) error {
				var codes []string
				for _, text := range args[2:] {
					code, err := s.custody.Find(text)
					if err != nil {
						return err
					}
					codes = append(codes, code)
				}
				if len(args) == 2 {
					for _, h := range s.custody.Holders() {
						codes = append(codes, h.Code)
					}
					for _, p := range s.custody.Pieces("") {
						if p.Here() {
							codes = append(codes, p.Code)
						}
					}
				}
				runs, err := s.lib.Runs()
				if err != nil {
					return err
				}
				tags, err := quiz.MakeTags(s.custody, runs, codes)
				if err != nil {
					return err
				}
				err = writeWhole(args[1], func(w io.Writer) error { return quiz.WriteTags(w, tags, quiz.Paper(paper)) })
				if err != nil {
					return err
				}
				return t.answer(map[string]any{"file": args[1], "codes": some(codes)}, fmt.Sprintf("%s: %d tags", args[1], len(tags)))
			})
		},
	}
	c.Flags().StringVar(&paper, "paper", "A4", "A4 or Letter")
	return c
}

func calendarVerb(t *tool) *cobra.Command {
	return &cobra.Command{
		Use: "calendar LIB FILE", Short: "Write the due days as an iCalendar file", Args: exactly("LIB", "FILE"),
		RunE: func(c *cobra.Command, args []string) error {
			return look(c, args[0], func(s state) error {
				err := writeWhole(args[1], func(w io.Writer) error { return s.lib.WriteCalendar(c.Context(), w, time.Now()) })
				if err != nil {
					return err
				}
				return t.answer(map[string]any{"file": args[1]}, args[1])
			})
		},
	}
}

func looksVerb(t *tool) *cobra.Command {
	var every [3]int
	var codes bool
	var rule string
	c := &cobra.Command{
		Use: "rules LIB", Short: "Show or set what the lab sets: days between looks, its own rule, codes in calendars", Args: exactly("LIB"),
		RunE: func(c *cobra.Command, args []string) error {
			set, mode := false, atlas.ReadOnly
			for _, f := range []string{"wetting", "wrap", "mould", "calendar-codes", "rule"} {
				if c.Flags().Changed(f) {
					set, mode = true, atlas.ReadWrite
				}
			}
			return with(args[0], mode, func(lib *atlas.Library) error {
				r, err := lib.CustodyRules()
				if err != nil {
					return err
				}
				for _, a := range atlas.Aspects {
					if c.Flags().Changed(a.String()) {
						r.LookDays[a] = every[a]
					}
				}
				if c.Flags().Changed("calendar-codes") {
					r.CalendarCodes = codes
				}
				if c.Flags().Changed("rule") {
					r.Rule = rule
				}
				if set {
					if err := lib.SetCustodyRules(r); err != nil {
						return err
					}
				}
				var words []string
				for _, a := range atlas.Aspects {
					if r.LookDays[a] > 0 {
						words = append(words, fmt.Sprintf("look at the %s every %d days", a, r.LookDays[a]))
					}
				}
				if len(words) == 0 {
					words = []string{"no condition looks are set"}
				}
				return t.answer(r, strings.Join(words, "\n"))
			})
		},
	}
	for _, a := range atlas.Aspects {
		c.Flags().IntVar(&every[a], a.String(), 0, "days until the next look at it, 0 for none")
	}
	c.Flags().BoolVar(&codes, "calendar-codes", false, "name donors by their lab codes in calendar files")
	c.Flags().StringVar(&rule, "rule", "", "the lab's own rule for keeping and returning, in its words")
	return c
}
