package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"sectionary/atlas"
	"sectionary/atlas/drill"
	"sectionary/atlas/exchange"
	"sectionary/atlas/quiz"
	"sectionary/slices/section"
)

// packVerb makes a study pack.
func packVerb(t *tool) *cobra.Command {
	var r quiz.PackRequest
	var purpose, view, run string
	var faces, asks []string
	c := &cobra.Command{
		Use: "pack LIB OUT", Short: "Make a study pack for students in the folder OUT: faces, names, scan cuts and the drill, no donor facts", Args: exactly("LIB", "OUT"),
		Long: `Make a study pack for students in the folder OUT, one read-only file that opens without the lab. It is searched before it is released and ends
with the donors' agreements. Only labels signed by a second person go in, unless -unsigned says otherwise.`,
		RunE: func(c *cobra.Command, args []string) error {
			v, err := section.ParseView(view)
			if err != nil {
				return misuse{err}
			}
			r.View, r.Purpose = v, atlas.Purpose(purpose)
			if r.Purpose.Words() == "" {
				return misused("-purpose: %q is not a purpose; there are %s", purpose, purposeList())
			}
			for _, a := range asks {
				r.Asks = append(r.Asks, drill.Ask(a))
			}
			terms, err := shippedTerms()
			if err != nil {
				return err
			}
			return with(args[0], atlas.ReadWrite, func(lib *atlas.Library) error {
				if r.Plates, err = platesOf(lib, run, faces); err != nil {
					return err
				}
				report, end := t.progress("making the study pack")
				slip, err := quiz.MakePack(c.Context(), lib, terms, r, args[1], report)
				end()
				return t.slip(slip, args[1], err)
			})
		},
	}
	c.Flags().StringVar(&purpose, "purpose", string(atlas.Teaching), "what for: "+purposeList())
	c.Flags().StringSliceVar(&faces, "faces", nil, "the faces; left out, all that a run has")
	c.Flags().StringVar(&run, "run", "", "the run whose faces all go in")
	c.Flags().StringVar(&r.Title, "title", "", "the pack's title")
	c.Flags().StringVar(&view, "view", "bench", "bench, scan or otherside")
	c.Flags().StringSliceVar(&asks, "ask", nil, "kinds of question: name, side, point, face, level, below, on-the-run; left out, all")
	c.Flags().BoolVar(&r.Unsigned, "unsigned", false, "labels that no second person has signed may go in")
	c.Flags().BoolVar(&r.NoCuts, "no-cuts", false, "leave scan cuts out")
	c.Flags().BoolVar(&r.NoTags, "no-tags", false, "your word that pictures without border and mask show no tag or writing")
	c.Flags().StringSliceVar(&r.Words, "words", nil, "further words that must not stand in the pack")
	return c
}

// platesOf finds the photographs named, or all of a run.
func platesOf(lib *atlas.Library, run string, faces []string) (ids []string, err error) {
	for _, text := range faces {
		p, err := findFace(lib, text)
		if err != nil {
			return nil, err
		}
		ids = append(ids, p.ID)
	}
	if run == "" {
		return ids, nil
	}
	r, err := findRun(lib, run)
	if err != nil {
		return nil, err
	}
	for e, err := range lib.Find(atlas.Query{Run: r.ID}) {
		if err != nil {
			return nil, err
		}
		ids = append(ids, e.Plate)
	}
	return ids, nil
}

// exportVerb hands a whole run to another lab.
func exportVerb(t *tool) *cobra.Command {
	var r exchange.Request
	var purpose string
	c := &cobra.Command{
		Use: "export LIB RUN OUT", Short: "Hand a whole run to another lab as an open folder or zip file, searched before it is released", Args: exactly("LIB", "RUN", "OUT"),
		RunE: func(c *cobra.Command, args []string) error {
			if r.Purpose = atlas.Purpose(purpose); r.Purpose.Words() == "" {
				return misused("-purpose: %q is not a purpose; there are %s", purpose, purposeList())
			}
			terms, err := shippedTerms()
			if err != nil {
				return err
			}
			return with(args[0], atlas.ReadWrite, func(lib *atlas.Library) error {
				run, err := findRun(lib, args[1])
				if err != nil {
					return err
				}
				r.Run = run.ID
				report, end := t.progress("writing the run")
				slip, err := exchange.Export(c.Context(), lib, terms, r, args[2], report)
				end()
				return t.slip(slip, args[2], err)
			})
		},
	}
	c.Flags().StringVar(&purpose, "purpose", string(atlas.OtherInstitution), "what for: "+purposeList())
	c.Flags().BoolVar(&r.Zip, "zip", false, "one zip file, not an open folder")
	c.Flags().BoolVar(&r.Scans, "scans", false, "the voxels of the scans too")
	c.Flags().BoolVar(&r.Earlier, "earlier", false, "earlier pictures of the faces too, with their outlines as they were")
	c.Flags().BoolVar(&r.WholePictures, "whole-pictures", false, "leave in what lies outside the faces' borders; the agreement must permit research")
	c.Flags().StringSliceVar(&r.Exams, "exams", nil, "exams to go along as QTI packages, by id")
	c.Flags().BoolVar(&r.NoTags, "no-tags", false, "your word that pictures without border and mask show no tag or writing")
	c.Flags().StringSliceVar(&r.Words, "words", nil, "further words that must not stand in any file")
	return c
}

// importVerb takes a run of another lab into a new library.
func importVerb(t *tool) *cobra.Command {
	var donor string
	c := &cobra.Command{
		Use: "import RUN LIB", Short: "Take a run handed over by another lab, folder or zip file, into a new library", Args: exactly("RUN", "LIB"),
		RunE: func(c *cobra.Command, args []string) error {
			terms, err := shippedTerms()
			if err != nil {
				return err
			}
			p, err := exchange.Open(args[0])
			if err != nil {
				return fmt.Errorf("%s: %w", filepath.Base(args[0]), err)
			}
			defer p.Close()
			report, end := t.progress("taking the run in")
			taken, err := exchange.TakeIn(c.Context(), p, args[1], donor, terms, report)
			end()
			if err != nil {
				return err
			}
			words := fmt.Sprintf("%s: run %s of %s, %d faces, %d scan series\n%s", args[1], taken.Run, taken.Donor, taken.Faces, taken.Series, strings.Join(taken.Notes, "\n"))
			return t.answer(taken, strings.TrimRight(words, "\n"))
		},
	}
	c.Flags().StringVar(&donor, "donor", "", "this lab's code for the donor; left out, the run's neutral one")
	return c
}
