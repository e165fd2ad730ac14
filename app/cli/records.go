package main

import (
	"cmp"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// listAnswer is what the verb list prints.
type listAnswer struct {
	Dir      string            `json:"dir"`
	Donors   []atlas.Donor     `json:"donors"`
	Runs     []section.Run     `json:"runs"`
	Faces    []listed          `json:"faces"` // photographs in order along their runs, unplaced ones last
	Series   []scan.Record     `json:"series"`
	Levels   []atlas.LevelTies `json:"levels"`
	HandOuts []atlas.HandOut   `json:"handOuts"`
}

type listed struct {
	atlas.Entry
	Name string `json:"name"`
}

func listVerb(t *tool) *cobra.Command {
	var q atlas.Query
	var term string
	c := &cobra.Command{
		Use: "list LIB", Short: "Donors, runs, photographs, series and hand-outs of a library", Args: exactly("LIB"),
		RunE: func(c *cobra.Command, args []string) error {
			q.Term = annotate.TermID(term)
			return with(args[0], atlas.ReadOnly, func(lib *atlas.Library) error {
				if q.Run != "" {
					r, err := findRun(lib, q.Run)
					if err != nil {
						return err
					}
					q.Run = r.ID
				}
				a, err := listOf(lib, q)
				if err != nil {
					return err
				}
				a.Dir = args[0]
				return t.answer(a, a.words())
			})
		},
	}
	c.Flags().StringVar(&q.Donor, "donor", "", "only this donor's")
	c.Flags().StringVar(&q.Run, "run", "", "only photographs of this run")
	c.Flags().StringVar(&term, "term", "", "only faces with a label of this structure, by id")
	c.Flags().BoolVar(&q.Retired, "retired", false, "earlier photographs too")
	return c
}

func listOf(lib *atlas.Library, q atlas.Query) (a listAnswer, err error) {
	a = listAnswer{Donors: []atlas.Donor{}, Runs: []section.Run{}, Faces: []listed{}, Series: []scan.Record{}, Levels: []atlas.LevelTies{}, HandOuts: []atlas.HandOut{}}
	donors, err := lib.Donors()
	if err != nil {
		return a, err
	}
	for _, d := range donors {
		if q.Donor == "" || d.Code == q.Donor {
			a.Donors, a.Runs = append(a.Donors, d), append(a.Runs, d.Runs...)
		}
	}
	if q.Donor != "" && len(a.Donors) == 0 {
		return a, fmt.Errorf("there is no donor %s", q.Donor)
	}
	for e, err := range lib.Find(q) {
		if err != nil {
			return a, err
		}
		a.Faces = append(a.Faces, listed{e, faceName(a.Runs, e.Face)})
	}
	series, err := lib.SeriesList(q.Donor)
	if err != nil {
		return a, err
	}
	for _, s := range series {
		a.Series = append(a.Series, s.Record())
		for _, r := range a.Runs {
			ties, err := lib.LevelTies(r.ID, s.UID)
			switch {
			case err == nil && len(ties.Levels) > 0:
				a.Levels = append(a.Levels, ties)
			case err != nil && !errors.Is(err, atlas.ErrNotFound):
				return a, err
			}
		}
	}
	outs, err := lib.HandOuts()
	for _, h := range outs {
		if q.Donor == "" || h.Donor == q.Donor {
			a.HandOuts = append(a.HandOuts, h)
		}
	}
	return a, err
}

// faceName says a face with its run, in the words of the run when it is among runs.
func faceName(runs []section.Run, f section.Face) string {
	if f == (section.Face{}) {
		return "in the tray"
	}
	for _, r := range runs {
		if r.ID == f.Run {
			return f.Run + ", " + r.Name(f)
		}
	}
	return f.Run + ", " + f.Name()
}

func (a listAnswer) words() string {
	var b strings.Builder
	for _, d := range a.Donors {
		b.WriteString(donorWords(d) + "\n")
	}
	for _, r := range a.Runs {
		fmt.Fprintf(&b, "run %s: %s, %s, %d slabs from the %s end\n", r.ID, r.PartWords(), r.Plane, len(r.Slabs), r.First)
	}
	for _, f := range a.Faces {
		fmt.Fprintf(&b, "%s  %s: %s up, %s, %d labels", f.Plate, f.Name, f.PhotoUp, f.Status, len(f.Labels))
		if f.Series != "" {
			b.WriteString(", in series " + shortUID(f.Series))
		}
		b.WriteByte('\n')
	}
	for _, s := range a.Series {
		fmt.Fprintf(&b, "series %s: %s\n", s.UID, seriesWords(s))
	}
	for _, h := range a.HandOuts {
		fmt.Fprintf(&b, "hand-out %s of %s for %s: ", h.ID, h.When.Format("2006-01-02 15:04"), h.Purpose)
		if h.Allowed {
			fmt.Fprintf(&b, "%d files\n", len(h.Files))
		} else {
			b.WriteString("refused. " + h.Reason + "\n")
		}
	}
	if b.Len() == 0 {
		b.WriteString("the library is empty\n")
	}
	return b.String()
}

// faceAnswer is what is told of one photograph by show and by every verb that changes one.
type faceAnswer struct {
	atlas.Plate
	Name     string              `json:"name"`
	Edges    edges               `json:"edges"`
	Depth    *float64            `json:"depth"` // mm from the datum of the run
	SE       *float64            `json:"se"`
	Partner  *section.Face       `json:"partner"`
	Pairs    []pair              `json:"pairs"`
	Near     []atlas.Match       `json:"near"`
	Seen     string              `json:"seenFrom"` // in the words of the run
	Measures []annotate.Measured `json:"measures"`
}

type edges struct {
	Photo     section.Edges `json:"photo"`
	Bench     section.Edges `json:"bench"`
	Scan      section.Edges `json:"scan"`
	OtherSide section.Edges `json:"otherside"`
}

// mostNear is how many neighbours show lists.
const mostNear = 12

func describe(lib *atlas.Library, p atlas.Plate) (a faceAnswer, err error) {
	a = faceAnswer{Plate: p, Name: faceName(nil, p.Face), Pairs: []pair{}, Near: []atlas.Match{}, Measures: []annotate.Measured{},
		Edges: edges{p.PhotoEdges(), p.Edges(section.Bench), p.Edges(section.Scan), p.Edges(section.OtherSide)}}
	a.Measures = append(a.Measures, p.Labels.Measure(p.Calibration)...)
	if p.Face == (section.Face{}) {
		return a, nil
	}
	r, err := lib.Run(p.Face.Run)
	if err != nil {
		return a, err
	}
	depth, se, err := r.Depth(p.Face)
	if err != nil {
		return a, err
	}
	a.Depth, a.SE = &depth, &se
	a.Name, a.Seen = faceName([]section.Run{r}, p.Face), r.SeenFrom(p.Face.Facing)
	if f, ok := r.Partner(p.Face); ok {
		a.Partner = &f
	}
	if a.Pairs, err = pairsOf(lib, p); err != nil {
		return a, err
	}
	near, err := lib.Match(p.ID, mostNear)
	a.Near = append(a.Near, near...)
	return a, err
}

func (a faceAnswer) words() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s  %s, donor %s, %dx%d pixels, revision %d\n", a.ID, a.Name, a.Donor, a.Photo.Size.X, a.Photo.Size.Y, a.Rev)
	if a.Depth != nil {
		fmt.Fprintf(&b, "%.1f mm from the datum (standard error %.1f mm), %s\n", *a.Depth, *a.SE, a.Seen)
	}
	e := a.Edges.Photo
	fmt.Fprintf(&b, "photograph: left %s, right %s, up %s, down %s\n", e.Left, e.Right, e.Up, e.Down)
	b.WriteString(scaleWords(a.Calibration.Report(a.Photo.Size)) + "\n")
	names := termNames()
	for _, m := range a.Measures {
		fmt.Fprintf(&b, "label %s: %s", m.ID, cmp.Or(names[m.Term], string(m.Term)))
		if m.Side == annotate.Left || m.Side == annotate.Right {
			fmt.Fprintf(&b, ", %s", m.Side)
		}
		if m.Area != nil {
			fmt.Fprintf(&b, ", %.0f ± %.0f mm2", *m.Area, *m.AreaSD)
		}
		b.WriteByte('\n')
	}
	if n := a.Labels.Len() - len(a.Measures); n > 0 {
		fmt.Fprintf(&b, "%d labels are not complete or not confirmed\n", n)
	}
	for _, x := range a.Pairs {
		b.WriteString(x.Sentence + "\n")
		for _, w := range x.Words {
			b.WriteString("  " + w + "\n")
		}
	}
	return b.String()
}

func showVerb(t *tool) *cobra.Command {
	return &cobra.Command{
		Use: "show LIB FACE", Short: "All that is known of one face, and where it lies in the scans", Args: exactly("LIB", "FACE"),
		RunE: func(c *cobra.Command, args []string) error {
			return with(args[0], atlas.ReadOnly, func(lib *atlas.Library) error {
				p, err := findFace(lib, args[1])
				if err != nil {
					return err
				}
				return t.tell(lib, p)
			})
		},
	}
}

// tell answers with all that is known of p.
func (t *tool) tell(lib *atlas.Library, p atlas.Plate) error {
	a, err := describe(lib, p)
	if err != nil {
		return err
	}
	return t.answer(a, a.words())
}
