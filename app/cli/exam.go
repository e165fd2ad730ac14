package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"sectionary/annotate"
	"sectionary/assets"
	"sectionary/atlas"
	"sectionary/atlas/quiz"
	"sectionary/slices/section"
)

func examVerb(t *tool) *cobra.Command {
	c := &cobra.Command{
		Use: "exam", Short: "Draft practical exams from signed labels, check them, and make their files",
		RunE: func(c *cobra.Command, args []string) error {
			return misused("exam takes draft LIB, list LIB, show LIB EXAM, check LIB EXAM, render LIB EXAM OUT or remove LIB EXAM")
		},
	}
	c.AddCommand(examDraftVerb(t), examListVerb(t), examShowVerb(t), examCheckVerb(t), examRenderVerb(t), examRemoveVerb(t))
	return c
}

// examFlags are the words of a plan.
type examFlags struct {
	title, blueprint, marker, from, view, paper string
	faces, labels, pictures, forms, words       []string
	items, perStation, seconds                  int
	second, bare, noTags                        bool
	seed                                        uint64
}

func examDraftVerb(t *tool) *cobra.Command {
	var f examFlags
	c := &cobra.Command{
		Use: "draft LIB", Short: "Choose stations from signed, certain labels, and keep them as an exam", Args: exactly("LIB"),
		Long: `Choose stations from signed, certain labels, and keep them as an exam under the code that is printed. The same flags over
the same labels give the same exam. A blueprint is CSV with the header region,system,plane,picture,count; an empty cell
takes all. Systems: ` + systemList() + `. Lines that cannot be met are named as gaps.`,
		RunE: func(c *cobra.Command, args []string) error {
			return t.onBoard(args[0], atlas.ReadWrite, func(b quiz.Board) error { return t.draftExam(c, b, f) })
		},
	}
	c.Flags().StringVar(&f.title, "title", "", "printed on every page")
	c.Flags().StringSliceVar(&f.faces, "faces", nil, "only labels of these faces")
	c.Flags().StringSliceVar(&f.labels, "labels", nil, "just these labels, as FACE#LABEL, in order")
	c.Flags().StringVar(&f.blueprint, "blueprint", "", "a CSV file of wanted numbers")
	c.Flags().IntVar(&f.items, "items", 0, "marked places without labels and blueprint; 20 when left out")
	c.Flags().IntVar(&f.perStation, "per-station", 1, "marked places on one picture at most")
	c.Flags().StringSliceVar(&f.pictures, "pictures", nil, "face, scan or both; left out, both where they can be")
	c.Flags().StringSliceVar(&f.forms, "forms", []string{"text"}, "text, choice and hotspot, by turns")
	c.Flags().BoolVar(&f.second, "second", false, "a second question at every marker, to reason from")
	c.Flags().StringVar(&f.marker, "marker", "pin", "pin, arrow, ring or outline")
	c.Flags().StringVar(&f.from, "from", "", "the side markers come from: left, right, above or below; left out, the nearest")
	c.Flags().IntVar(&f.seconds, "seconds", 90, "of a station")
	c.Flags().StringVar(&f.view, "view", "bench", "of faces: bench, scan or otherside; scan cuts stand in scan view")
	c.Flags().BoolVar(&f.bare, "no-letters", false, "leave out the edge letters")
	c.Flags().Uint64Var(&f.seed, "seed", 0, "fixes the choice and all codes")
	c.Flags().StringVar(&f.paper, "paper", "A4", "A4 or Letter")
	c.Flags().StringSliceVar(&f.words, "words", nil, "further words that must not stand in any file")
	c.Flags().BoolVar(&f.noTags, "no-tags", false, "your word that pictures without border and mask show no tag or writing")
	return c
}

func systemList() string {
	var out []string
	for _, s := range quiz.Systems {
		out = append(out, string(s))
	}
	return strings.Join(out, "; ")
}

// onBoard opens a library with the shipped lists.
func (t *tool) onBoard(dir string, m atlas.Mode, do func(quiz.Board) error) error {
	terms, err := shippedTerms()
	if err != nil {
		return err
	}
	usual, err := annotate.LoadOneSided(assets.OneSided())
	if err != nil {
		return err
	}
	return with(dir, m, func(lib *atlas.Library) error { return do(quiz.Board{Lib: lib, Terms: terms, Usual: usual}) })
}

func (f examFlags) plan(lib *atlas.Library) (p quiz.Plan, err error) {
	view, err := section.ParseView(f.view)
	if err != nil {
		return p, misuse{err}
	}
	p = quiz.Plan{Title: f.title, Items: f.items, PerStation: f.perStation, Second: f.second, Seconds: f.seconds, FaceView: view, Bare: f.bare,
		Marker: quiz.Marker{Style: quiz.Style(f.marker), From: quiz.Approach(f.from)}, Seed: f.seed, Paper: quiz.Paper(f.paper), Words: f.words, NoTags: f.noTags}
	for _, k := range f.pictures {
		p.Pictures = append(p.Pictures, quiz.PictureKind(k))
	}
	for _, k := range f.forms {
		p.Forms = append(p.Forms, quiz.Form(k))
	}
	if p.Plates, err = platesOf(lib, "", f.faces); err != nil {
		return p, err
	}
	for _, text := range f.labels {
		face, label, ok := strings.Cut(text, "#")
		if !ok {
			return p, misused("-labels takes FACE#LABEL, not %q", text)
		}
		plate, err := findFace(lib, face)
		if err != nil {
			return p, err
		}
		p.Labels = append(p.Labels, quiz.LabelRef{Plate: plate.ID, Label: label})
	}
	if f.blueprint != "" {
		p.Blueprint, err = reading(f.blueprint, readBlueprint)
	}
	return p, err
}

var blueprintColumns = []string{"region", "system", "plane", "picture", "count"}

// readBlueprint reads the wanted numbers of an exam.
func readBlueprint(r io.Reader) (out []quiz.Want, err error) {
	in := csv.NewReader(r)
	in.Comment, in.TrimLeadingSpace, in.FieldsPerRecord = '#', true, len(blueprintColumns)
	for n := 0; n <= mostRows; n++ {
		row, err := in.Read()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		if err != nil {
			return nil, err
		}
		if n == 0 {
			if !slices.Equal(row, blueprintColumns) {
				return nil, fmt.Errorf("the first line must be %s", strings.Join(blueprintColumns, ","))
			}
			continue
		}
		w := quiz.Want{Region: row[0], System: quiz.System(row[1]), Picture: quiz.PictureKind(row[3])}
		line, _ := in.FieldPos(0)
		if row[2] != "" {
			if w.Plane, err = section.ParsePlane(row[2]); err != nil {
				return nil, fmt.Errorf("line %d: %w", line, err)
			}
		}
		switch w.Count, err = strconv.Atoi(row[4]); {
		case err != nil || w.Count < 0:
			return nil, fmt.Errorf("line %d: %q is not a number of places", line, row[4])
		case w.System != "" && !slices.Contains(quiz.Systems, w.System):
			return nil, fmt.Errorf("line %d: there is no system %q; there are %s", line, row[1], systemList())
		case w.Picture != "" && w.Picture != quiz.FacePicture && w.Picture != quiz.ScanPicture:
			return nil, fmt.Errorf("line %d: there is no kind of picture %q; there are face and scan", line, row[3])
		}
		out = append(out, w)
	}
	return nil, fmt.Errorf("more than %d lines", mostRows)
}

// examAnswer is what the exam verbs print.
type examAnswer struct {
	Exam     string         `json:"exam"`
	Title    string         `json:"title"`
	Seed     uint64         `json:"seed"`
	Stations []quiz.Station `json:"stations"`
	Report   quiz.Report    `json:"report"`
	LeftOut  []quiz.LeftOut `json:"leftOut"`
}

func (t *tool) draftExam(c *cobra.Command, b quiz.Board, f examFlags) error {
	plan, err := f.plan(b.Lib)
	if err != nil {
		return err
	}
	x, left, err := b.Draft(c.Context(), plan)
	if reason := quiz.Sentence(err); reason != "" {
		if err := t.answer(examAnswer{Title: f.title, Seed: f.seed, Stations: []quiz.Station{}, LeftOut: append([]quiz.LeftOut{}, left...)}, "refused"); err != nil {
			return err
		}
		return found("%s", reason)
	}
	if err != nil {
		return err
	}
	if x, err = b.Save(x); err != nil {
		return err
	}
	report, err := b.Check(c.Context(), x)
	if err != nil {
		return err
	}
	return t.answer(examAnswer{x.ID, x.Title, x.Seed, x.Stations, report, append([]quiz.LeftOut{}, left...)}, examWords(x, report))
}

func examWords(x quiz.Spotter, r quiz.Report) string {
	var b strings.Builder
	fmt.Fprintf(&b, "exam %s, %d stations, %g marks, seed %d\n", x.ID, len(x.Stations), r.Marks, x.Seed)
	for i, s := range x.Stations {
		for _, a := range s.Asks {
			for _, q := range a.Questions {
				fmt.Fprintf(&b, "%3d %s %s  %s  [%s]\n", i+1, s.Code, a.Letter, q.Text, q.Answer)
			}
		}
	}
	for _, f := range r.Findings {
		if f.Fault != quiz.NotLooked {
			fmt.Fprintf(&b, "station %d%s: %s\n", f.Station, f.Letter, f.Words)
		}
	}
	for _, w := range append(r.Gaps, r.Warnings...) {
		b.WriteString(w + "\n")
	}
	return b.String()
}

func examListVerb(t *tool) *cobra.Command {
	return &cobra.Command{Use: "list LIB", Short: "List the exams that are kept", Args: exactly("LIB"),
		RunE: func(c *cobra.Command, args []string) error {
			return t.onBoard(args[0], atlas.ReadOnly, func(b quiz.Board) error {
				all, err := b.List()
				if err != nil {
					return err
				}
				type line struct {
					Exam     string  `json:"exam"`
					Title    string  `json:"title"`
					Stations int     `json:"stations"`
					Marks    float64 `json:"marks"`
				}
				lines, words := []line{}, ""
				for _, x := range all {
					lines = append(lines, line{x.ID, x.Title, len(x.Stations), x.Marks()})
					words += fmt.Sprintf("%s  %d stations, %g marks  %s\n", x.ID, len(x.Stations), x.Marks(), x.Title)
				}
				return t.answer(map[string]any{"exams": lines}, words)
			})
		}}
}

// findExam finds an exam by its code, or by its title if only one bears it.
func findExam(b quiz.Board, text string) (x quiz.Spotter, err error) {
	all, err := b.List()
	if err != nil {
		return x, err
	}
	n := 0
	for _, y := range all {
		if y.ID == text {
			return y, nil
		}
		if y.Title == text {
			x, n = y, n+1
		}
	}
	switch n {
	case 1:
		return x, nil
	case 0:
		return x, fmt.Errorf("there is no exam %q; exam list names them", text)
	}
	return x, fmt.Errorf("%d exams are called %q; name one by its code, which exam list prints", n, text)
}

// exam loads an exam and checks it.
func (t *tool) exam(c *cobra.Command, args []string, do func(quiz.Board, quiz.Spotter, quiz.Report) error) error {
	return t.onBoard(args[0], atlas.ReadOnly, func(b quiz.Board) error {
		x, err := findExam(b, args[1])
		if err != nil {
			return err
		}
		r, err := b.Check(c.Context(), x)
		if err != nil {
			return err
		}
		return do(b, x, r)
	})
}

func examShowVerb(t *tool) *cobra.Command {
	return &cobra.Command{Use: "show LIB EXAM", Short: "Show the stations of an exam and what was found about them", Args: exactly("LIB", "EXAM"),
		RunE: func(c *cobra.Command, args []string) error {
			return t.exam(c, args, func(b quiz.Board, x quiz.Spotter, r quiz.Report) error {
				return t.answer(examAnswer{x.ID, x.Title, x.Seed, x.Stations, r, []quiz.LeftOut{}}, examWords(x, r))
			})
		}}
}

func examCheckVerb(t *tool) *cobra.Command {
	return &cobra.Command{Use: "check LIB EXAM", Short: "Check an exam: exit status 3 when something keeps it from being released", Args: exactly("LIB", "EXAM"),
		RunE: func(c *cobra.Command, args []string) error {
			return t.exam(c, args, func(b quiz.Board, x quiz.Spotter, r quiz.Report) error {
				if err := t.answer(r, examWords(x, r)); err != nil {
					return err
				}
				if n := len(r.Stops()); n > 0 {
					return found("%d things keep this exam from being released; the first: station %d: %s", n, r.Stops()[0].Station, r.Stops()[0].Words)
				}
				return nil
			})
		}}
}

func examRenderVerb(t *tool) *cobra.Command {
	var r quiz.Release
	c := &cobra.Command{
		Use: "render LIB EXAM OUT", Short: "Make the files of an exam, searched for traces of the donor before they are released", Args: exactly("LIB", "EXAM", "OUT"),
		Long: `Make the files of an exam in the folder OUT: station cards and key as PDF, the pictures as PNG, the key as CSV, and a QTI 3.0
package. Nothing appears there before every finished file was searched and found clean. What may not leave is refused,
with exit status 3 and the reason.`,
		RunE: func(c *cobra.Command, args []string) error {
			return t.onBoard(args[0], atlas.ReadWrite, func(b quiz.Board) error {
				x, err := findExam(b, args[1])
				if err != nil {
					return err
				}
				slip, err := b.Render(c.Context(), x, r, args[2])
				return t.slip(slip, args[2], err)
			})
		},
	}
	c.Flags().BoolVar(&r.NeedLooks, "need-looks", false, "refuse pictures that nobody let pass in the window's fresh-eyes step")
	c.Flags().BoolVar(&r.NoCards, "no-cards", false, "leave out the station cards")
	c.Flags().BoolVar(&r.NoKey, "no-key", false, "leave out the answer key")
	c.Flags().BoolVar(&r.NoFolder, "no-pictures", false, "leave out the folder of pictures")
	c.Flags().BoolVar(&r.NoQTI, "no-qti", false, "leave out the QTI package")
	return c
}

func examRemoveVerb(t *tool) *cobra.Command {
	return &cobra.Command{Use: "remove LIB EXAM", Short: "Take an exam away; what it showed stays on record", Args: exactly("LIB", "EXAM"),
		RunE: func(c *cobra.Command, args []string) error {
			return t.onBoard(args[0], atlas.ReadWrite, func(b quiz.Board) error {
				x, err := findExam(b, args[1])
				if err != nil {
					return err
				}
				if err := b.Lib.RemoveExam(x.ID); err != nil {
					return err
				}
				return t.answer(map[string]any{"removed": x.ID}, "removed "+x.ID)
			})
		}}
}
