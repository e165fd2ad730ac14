package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"sectionary/slices/geom"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// declared holds the flags that say what a face is.
type declared struct{ plane, face, up string }

func (d *declared) flags(c *cobra.Command) {
	c.Flags().StringVar(&d.plane, "plane", "", "transverse, frontal or sagittal")
	c.Flags().StringVar(&d.face, "face", "unknown", "the way the face looks out of its slab: superior, inferior, anterior, posterior, left or right")
	c.Flags().StringVar(&d.up, "up", "unknown", "the direction at the top of the upright photograph: R, L, A, P, S, I or unknown")
}

// read checks that plane, face and photo-up go together; unknown ones are let through.
func (d declared) read() (face, up section.Facing, err error) {
	plane := section.UnknownPlane
	if d.plane != "" {
		if plane, err = section.ParsePlane(d.plane); err != nil {
			return 0, 0, misuse{err}
		}
	}
	if face, err = section.ParseFacing(d.face); err != nil {
		return 0, 0, misuse{err}
	}
	if up, err = section.ParseFacing(d.up); err != nil {
		return 0, 0, misuse{err}
	}
	if plane == section.UnknownPlane {
		plane = face.Plane()
	}
	if face != section.UnknownFacing && face.Plane() != plane {
		return 0, 0, misused("a %s cut has no %s face; its faces are %s and %s", plane, face, plane.Faces()[0], plane.Faces()[1])
	}
	if up != section.UnknownFacing && plane != section.UnknownPlane && up.Plane() == plane {
		return 0, 0, misused("%s cannot be at the top of a face of a %s cut", up, plane)
	}
	return face, up, nil
}

// Letters is what the verb letters prints.
type letters struct {
	section.Edges
	QuarterTurns int  `json:"quarterTurns"`
	Mirror       bool `json:"mirror"`
}

func (l letters) words() string {
	w := fmt.Sprintf("left %s, right %s, up %s, down %s", l.Left, l.Right, l.Up, l.Down)
	if l.Edges == section.UnknownEdges {
		return w
	}
	w += fmt.Sprintf("; turn the upright photograph %d degrees clockwise", 90*l.QuarterTurns)
	if l.Mirror {
		w += ", then mirror it left to right"
	}
	return w
}

func lettersVerb(t *tool) *cobra.Command {
	var d declared
	var view string
	c := &cobra.Command{
		Use: "letters", Short: "Edge letters of a face in a view, and how its photograph is turned into it", Args: exactly(),
		RunE: func(c *cobra.Command, _ []string) error {
			face, up, err := d.read()
			if err != nil {
				return err
			}
			v, err := section.ParseView(view)
			if err != nil {
				return misuse{err}
			}
			l := letters{Edges: section.EdgeLetters(face, up, v)}
			if l.QuarterTurns, l.Mirror, err = section.Turn(face, up, v); err != nil {
				t.note("Face or photo-up is not known, so no letter may be shown.")
			}
			return t.answer(l, l.words())
		},
	}
	d.flags(c)
	c.Flags().StringVar(&view, "view", "bench", "bench, scan or otherside")
	return needs(c, "plane", "face", "up")
}

// poseAnswer is what the verb pose prints.
type poseAnswer struct {
	register.PoseReport
	LevelAt register.Distances `json:"levelAt"` // along the declared axis, for each -at; empty when no face is declared
}

func poseVerb(t *tool) *cobra.Command {
	var d declared
	var ties string
	var at []string
	var free bool
	c := &cobra.Command{
		Use: "pose", Short: "Where a face lies in a scan, from landmarks found on both, and how far off it may be", Args: exactly(),
		RunE: func(c *cobra.Command, _ []string) error {
			face, up, err := d.read()
			if err != nil {
				return err
			}
			var places []geom.MM
			for _, text := range at {
				n, err := numbers("at", text, 2)
				if err != nil {
					return err
				}
				places = append(places, geom.MM{X: n[0], Y: n[1]})
			}
			marks, err := reading(ties, register.ReadPlacedTies)
			if err != nil {
				return err
			}
			r, over := register.FromTies("", register.Unity, marks, face, free)
			if over != nil && !errors.Is(over, register.ErrTurnedOver) {
				return fmt.Errorf("%s: %w", ties, over)
			}
			a := poseAnswer{LevelAt: register.Distances{}}
			if a.PoseReport, err = r.Report(face, up, places); err != nil {
				return err
			}
			for _, p := range places {
				if face != section.UnknownFacing {
					a.LevelAt = append(a.LevelAt, register.Along(face.Plane(), r.Pose.At(p)))
				}
			}
			if err := t.answer(a, poseWords(r, a.PoseReport)); err != nil {
				return err
			}
			if over != nil {
				return faults{fmt.Errorf("%s: %w", ties, over)}
			}
			return nil
		},
	}
	d.flags(c)
	c.Flags().StringVar(&ties, "ties", "", "a CSV of lines x_mm,y_mm,X,Y,Z: face mm and the same point of the scan")
	c.Flags().StringArrayVar(&at, "at", nil, "a face point x,y in mm at which to tell the expected error; may be repeated")
	c.Flags().BoolVar(&free, "scale", false, "let the face have shrunk or swelled")
	return needs(c, "ties")
}

func poseWords(r register.Registration, p register.PoseReport) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d landmarks, residual RMS %.2f mm, worst is number %d\n", len(r.Ties), p.RMS, p.Worst+1)
	if p.Tilt != nil {
		fmt.Fprintf(&b, "tilt: pitch %.2f, roll %.2f, turn %.2f degrees\n", p.Tilt.Pitch, p.Tilt.Roll, p.Tilt.Turn)
	}
	for _, e := range p.ErrorAt {
		if math.IsNaN(e) {
			b.WriteString("expected error: cannot be told\n")
		} else {
			fmt.Fprintf(&b, "expected error: %.2f mm\n", e)
		}
	}
	for _, w := range p.Words {
		b.WriteString(w + "\n")
	}
	return b.String()
}

func levelsVerb(t *tool) *cobra.Command {
	var ties, at, first string
	c := &cobra.Command{
		Use: "levels", Short: "Places along a run carried to the scan by tie levels", Args: exactly(),
		RunE: func(c *cobra.Command, _ []string) error {
			places, err := numbers("at", at, 0)
			if err != nil {
				return err
			}
			end, err := section.ParseFacing(first)
			if err != nil {
				return misuse{err}
			}
			list, err := reading(ties, register.ReadLevels)
			if err != nil {
				return err
			}
			l, err := register.NewLevels(list, register.Direction(end))
			if err != nil {
				return fmt.Errorf("%s: %w", ties, err)
			}
			r := l.Report(places)
			return t.answer(r, levelWords(r))
		},
	}
	c.Flags().StringVar(&ties, "ties", "", "a CSV of lines run_mm,scan_mm: the same place along run and scan")
	c.Flags().StringVar(&at, "at", "", "places along the run in mm, parted by commas")
	c.Flags().StringVar(&first, "first", "unknown", "the end at which slab 1 lies, when only one level is tied")
	return needs(c, "ties", "at")
}

func levelWords(r register.LevelsReport) string {
	var b strings.Builder
	for i, at := range r.At {
		fmt.Fprintf(&b, "%.1f mm of the run = %.1f mm of the scan", at, r.Scan[i])
		if r.Extrapolated[i] {
			b.WriteString(" (beyond the tie levels)")
		}
		b.WriteByte('\n')
	}
	for _, s := range r.Stretch {
		fmt.Fprintf(&b, "from %s to %s: the scan is %+.1f %% longer\n", s.From, s.To, s.Percent)
	}
	return b.String()
}

// runAnswer is what the verb runcheck prints.
type runAnswer struct {
	Positions   []position `json:"positions"`
	Misclosure  float64    `json:"misclosure"`
	Limit       float64    `json:"limit"`
	Worst       int        `json:"worst"` // number of the slab most likely mistyped, 0 when all is within the limit
	ClosingKerf float64    `json:"closingKerf"`
	Suspects    []suspect  `json:"suspects"` // when beyond the limit, the likeliest first
	Unlike      []unlike   `json:"unlike"`   // photographed faces unlike both their neighbours; of a library only
	Compared    int        `json:"compared"` // photographed faces that could be compared
	Faults      []string   `json:"faults"`
}

// suspect is a thickness that may be mistyped; likely is what it may have been, 0 when no common slip explains it.
type suspect struct {
	Slab    int     `json:"slab"`
	Measure int     `json:"measure"` // from 1
	Written float64 `json:"written"`
	Likely  float64 `json:"likely"`
}

type position struct {
	Slab   int            `json:"slab"`
	Facing section.Facing `json:"facing"`
	Name   string         `json:"name"` // in the words of the run
	Depth  float64        `json:"depth"`
	SE     float64        `json:"se"`
}

func runcheckVerb(t *tool) *cobra.Command {
	var file, lib string
	c := &cobra.Command{
		Use: "runcheck", Short: "Positions of the faces of a run, and whether thickness and kerf add up to its length", Args: exactly(),
		RunE: func(c *cobra.Command, _ []string) error {
			a, err := checkedRun(c.Context(), t, file, lib)
			if err != nil {
				return err
			}
			var b strings.Builder
			for _, p := range a.Positions {
				fmt.Fprintf(&b, "%s: %.1f mm from the datum (standard error %.1f)\n", p.Name, p.Depth, p.SE)
			}
			for _, u := range a.Unlike {
				fmt.Fprintln(&b, u.Words)
			}
			fmt.Fprintf(&b, "closure: %+.1f mm left over, limit %.1f mm\n", a.Misclosure, a.Limit)
			if err := t.answer(a, b.String()); err != nil {
				return err
			}
			if len(a.Faults) > 0 {
				return found("%s: %s", file, strings.Join(a.Faults, "; "))
			}
			return nil
		},
	}
	c.Flags().StringVar(&file, "run", "", "a JSON file that describes the run; with -lib the run of that name")
	c.Flags().StringVar(&lib, "lib", "", "the library that holds the run: its photographs are compared along the run too")
	return needs(c, "run")
}

func checkRun(r section.Run) (runAnswer, error) {
	a := runAnswer{Positions: []position{}, Faults: []string{}, Suspects: []suspect{}, Unlike: []unlike{}}
	if err := r.Check(); err != nil {
		return a, err
	}
	for _, f := range r.Faces() {
		depth, se, err := r.Depth(f)
		if err != nil {
			return a, err
		}
		a.Positions = append(a.Positions, position{f.Slab, f.Facing, r.Name(f), depth, se})
	}
	a.Misclosure, a.Limit, a.Worst = r.Closure()
	a.ClosingKerf = r.ClosingKerf()
	for _, s := range r.Slabs {
		if s.Mean() == 0 {
			a.Faults = append(a.Faults, fmt.Sprintf("slab %d has no thickness, so positions beyond it are not to be trusted", s.Number))
		}
	}
	if a.Worst != 0 {
		for _, s := range r.Suspects() {
			a.Suspects = append(a.Suspects, suspect{s.Slab, s.Measure + 1, s.Written, s.Likely})
		}
		fault := fmt.Sprintf("thickness and kerf miss the length by %+.1f mm; slab %d is the likeliest to be mistyped", a.Misclosure, a.Worst)
		if s := a.Suspects[0]; s.Likely != 0 {
			fault += fmt.Sprintf(" (%g written, %g would fit)", s.Written, s.Likely)
		}
		a.Faults = append(a.Faults, fault)
	}
	return a, nil
}

// readRun reads the JSON of a run. Thickness holds one to three measures.
func readRun(r io.Reader) (section.Run, error) {
	var in struct {
		section.Run
		Slabs []struct {
			Number    int       `json:"number"`
			Thickness []float64 `json:"thickness"`
			Kerf      float64   `json:"kerf"`
			Planned   bool      `json:"planned"`
		} `json:"slabs"`
	}
	if err := json.NewDecoder(io.LimitReader(r, mostJSON)).Decode(&in); err != nil {
		return section.Run{}, fmt.Errorf("a run in JSON is wanted: %w", err)
	}
	out := in.Run
	for _, s := range in.Slabs {
		slab := section.Slab{Number: s.Number, Kerf: s.Kerf, Planned: s.Planned}
		if len(s.Thickness) > len(slab.Thickness) {
			return section.Run{}, fmt.Errorf("slab %d has %d thicknesses; three are the most", s.Number, len(s.Thickness))
		}
		copy(slab.Thickness[:], s.Thickness)
		out.Slabs = append(out.Slabs, slab)
	}
	return out, nil
}

// mostJSON bounds a JSON file read at the prompt, in bytes.
const mostJSON = 64 << 20
