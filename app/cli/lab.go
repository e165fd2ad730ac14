package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"sectionary/atlas"
	"sectionary/atlas/practice"
	"sectionary/slices/section"
)

// practiceSeed makes the practice lab that the window opens.
const practiceSeed = 7

func practiceVerb(t *tool) *cobra.Command {
	var seed uint64
	var lab bool
	c := &cobra.Command{
		Use: "practice DIR", Short: "Make the practice lab in a new folder: invented scan, photographs, ties, outlines and truth.json", Args: exactly("DIR"),
		Long: `Make the practice lab in a new folder, all of it invented and said so on every picture: scan (DICOM), photos, scale,
ties, outlines, runs and truth.json; the same seed gives the same bytes. With -lab the folder becomes a library with
that material taken in, ready for list, show and handout.`,
		RunE: func(c *cobra.Command, args []string) error {
			report, end := t.progress("making the practice lab")
			defer end()
			answer := map[string]any{"dir": args[0], "seed": seed, "donor": practice.Donor, "library": lab}
			if lab {
				if err := practice.Build(c.Context(), args[0], seed, report); err != nil {
					return err
				}
				end()
				return t.answer(answer, "The practice lab is ready: sectionary list "+args[0])
			}
			truth, err := makePractice(c, args[0], seed, report)
			if err != nil {
				return err
			}
			end()
			answer["faces"], answer["runs"], answer["truth"] = len(truth.Faces), len(truth.Runs), filepath.Join(args[0], "truth.json")
			return t.answer(answer, fmt.Sprintf("%s: a scan of %d slices and %d faces in %d runs; truth.json tells what is really so.",
				args[0], truth.Scan.Size[2], len(truth.Faces), len(truth.Runs)))
		},
	}
	c.Flags().Uint64Var(&seed, "seed", practiceSeed, "the number that everything is made from")
	c.Flags().BoolVar(&lab, "lab", false, "make a library of it")
	return c
}

// makePractice writes the material beside dir and moves it there when whole.
func makePractice(c *cobra.Command, dir string, seed uint64, report func(done, total int)) (truth *practice.Truth, err error) {
	err = intoFolder(dir, func(part string) error {
		truth, err = practice.Write(c.Context(), part, seed, report)
		return err
	})
	return truth, err
}

// intoFolder lets make fill a folder that takes its name dir only when it is whole. dir must be empty or absent.
func intoFolder(dir string, make func(part string) error) error {
	there, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	if len(there) > 0 {
		return fmt.Errorf("%s is not empty; name a new folder", dir)
	}
	parent := filepath.Dir(filepath.Clean(dir))
	if err := os.MkdirAll(parent, 0o755); err != nil {
		return err
	}
	tmp, err := os.MkdirTemp(parent, ".part-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(tmp)
	part := filepath.Join(tmp, "whole")
	if err := make(part); err != nil {
		return err
	}
	if err := os.Remove(dir); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return os.Rename(part, dir)
}

// agreement holds the flags that say what a donor's agreement permits.
type agreement struct {
	permit                   []string
	ends, reference, changed string
	after, who               string
}

func (a *agreement) flags(c *cobra.Command) {
	c.Flags().StringSliceVar(&a.permit, "permit", nil, "purposes that the agreement permits, parted by commas: "+purposeList()+"; none for none")
	c.Flags().StringVar(&a.ends, "ends", "", "the last day of the agreement, as 2030-01-01")
	c.Flags().StringVar(&a.reference, "reference", "", "the lab's reference of the agreement")
	c.Flags().StringVar(&a.after, "after-return", "", "what becomes of pictures once the donor went back: keep or withdraw")
	c.Flags().StringVar(&a.who, "who", "", "who enters this: initials or a role")
	c.Flags().StringVar(&a.changed, "changed-by", "", "who alone may change the agreement, as the lab says it")
}

func purposeList() string {
	words := make([]string, len(atlas.Purposes))
	for i, p := range atlas.Purposes {
		words[i] = string(p)
	}
	return strings.Join(words, ", ")
}

// onto returns old with what the flags of c say put in.
func (a agreement) onto(c *cobra.Command, old atlas.Agreement) (atlas.Agreement, error) {
	if c.Flags().Changed("permit") {
		old.Permitted = map[atlas.Purpose]bool{}
		for _, word := range a.permit {
			p := atlas.Purpose(strings.TrimSpace(word))
			switch {
			case p == "none" && len(a.permit) == 1:
			case p.Words() == "":
				return old, misused("-permit: %q is not a purpose; there are %s", word, purposeList())
			default:
				old.Permitted[p] = true
			}
		}
	}
	if c.Flags().Changed("ends") {
		day, err := time.Parse(time.DateOnly, a.ends)
		if err != nil {
			return old, misused("-ends takes a day as 2030-01-01, not %q", a.ends)
		}
		old.Ends = day
	}
	if c.Flags().Changed("after-return") {
		if a.after != string(atlas.KeepPictures) && a.after != string(atlas.WithdrawPictures) {
			return old, misused("-after-return takes keep or withdraw, not %q", a.after)
		}
		old.AfterReturn = atlas.AfterReturn(a.after)
	}
	if c.Flags().Changed("reference") {
		old.Reference = a.reference
	}
	if c.Flags().Changed("changed-by") {
		old.ChangedBy = a.changed
	}
	return old, nil
}

// cutRun holds the flags that describe a run.
type cutRun struct {
	file, id, part, plane, first string
	limb, half                   string
	slabs                        int
	thickness, kerf, length      float64
	planned                      bool
}

func (r *cutRun) flags(c *cobra.Command) {
	c.Flags().StringVar(&r.part, "part", "", "the body part that was cut, as trunk")
	c.Flags().StringVar(&r.limb, "limb", "", "which limb the part is of: right-upper, left-upper, right-lower or left-lower")
	c.Flags().StringVar(&r.half, "half", "", "which half of what was cut in the midline: left or right")
	c.Flags().BoolVar(&r.planned, "planned", false, "the slabs are not sawn yet: ghosts with a planned thickness")
	c.Flags().StringVar(&r.plane, "plane", "", "transverse, frontal or sagittal")
	c.Flags().StringVar(&r.first, "first", "", "the end at which slab 1 lies; left out, the upper, front or left one")
	c.Flags().IntVar(&r.slabs, "slabs", 0, "how many slabs")
	c.Flags().Float64Var(&r.thickness, "thickness", 0, "mm of each slab")
	c.Flags().Float64Var(&r.kerf, "kerf", 1.5, "mm lost to each cut")
	c.Flags().Float64Var(&r.length, "length", 0, "mm before cutting, when measured")
	c.Flags().StringVar(&r.id, "run", "", "a short name for the run; left out, made from the part")
	c.Flags().StringVar(&r.file, "in", "", "a JSON file that describes the run, in place of these flags")
}

const mostSlabs = 500

// read makes the run of a donor.
func (r cutRun) read(donor string) (run section.Run, err error) {
	if r.file != "" {
		if run, err = reading(r.file, readRun); err != nil {
			return run, err
		}
		if run.Donor != "" && run.Donor != donor {
			return run, fmt.Errorf("%s is a run of donor %s, not %s", r.file, run.Donor, donor)
		}
	} else if run, err = r.fromFlags(); err != nil {
		return run, err
	}
	run.Donor = donor
	if r.id != "" {
		run.ID = r.id
	}
	if run.ID == "" {
		run.ID = strings.ToLower(strings.Join(strings.Fields(run.Part), "-"))
	}
	if strings.ContainsAny(run.ID, ":/ ") || run.ID == "" {
		return run, misused("-run: %q cannot name a run; use letters, digits, - and _", run.ID)
	}
	return run, run.Check()
}

func (r cutRun) fromFlags() (section.Run, error) {
	run := section.Run{Part: strings.TrimSpace(r.part), Length: r.length}
	var err error
	if run.Plane, err = section.ParsePlane(r.plane); err != nil || run.Plane == section.UnknownPlane {
		return run, misused("-plane takes transverse, frontal or sagittal, not %q", r.plane)
	}
	run.First = run.Plane.Faces()[0]
	if r.first != "" {
		if run.First, err = section.ParseFacing(r.first); err != nil || run.First.Plane() != run.Plane {
			return run, misused("-first: slab 1 of a %s run lies at the %s or the %s end, not %q", run.Plane, run.Plane.Faces()[0], run.Plane.Faces()[1], r.first)
		}
	}
	if run.Limb, err = section.ParseLimb(r.limb); err != nil {
		return run, misuse{err}
	}
	if r.half != "" {
		if run.Half, err = section.ParseFacing(r.half); err != nil || run.Half.Plane() != section.Sagittal {
			return run, misused("-half takes left or right, not %q", r.half)
		}
	}
	names, limb := section.NamesLimb(run.Part)
	if r.limb == "" {
		run.Limb = limb
	}
	switch {
	case names && run.Limb == section.NoLimb:
		return run, misused("%q is of a limb: say which one with -limb", run.Part)
	case run.Part == "":
		return run, misused("-part is missing: which body part was cut")
	case r.slabs < 1 || r.slabs > mostSlabs:
		return run, misused("-slabs takes 1 to %d, not %d", mostSlabs, r.slabs)
	case !(r.thickness > 0 && r.thickness < 1000):
		return run, misused("-thickness must be more than 0 mm, got %g", r.thickness)
	case !(r.kerf >= 0 && r.kerf < 100):
		return run, misused("-kerf must be 0 mm or more, got %g", r.kerf)
	case !(r.length >= 0 && r.length < 1e5):
		return run, misused("-length must be 0 mm or more, got %g", r.length)
	}
	for i := range r.slabs {
		run.Slabs = append(run.Slabs, section.Slab{Number: i + 1, Thickness: [3]float64{r.thickness}, Kerf: r.kerf, Planned: r.planned})
	}
	return run, nil
}

func newVerb(t *tool) *cobra.Command {
	var donor string
	var invented bool
	var a agreement
	var r cutRun
	c := &cobra.Command{
		Use: "new LIB", Short: "Make a library, and with it a donor and a run when they are described", Args: exactly("LIB"),
		RunE: func(c *cobra.Command, args []string) error {
			d := atlas.Donor{Code: donor, Synthetic: invented}
			var run *section.Run
			var err error
			if d.Agreement, err = a.onto(c, atlas.Agreement{}); err != nil {
				return err
			}
			if donor != "" {
				if err := atlas.CheckCode(donor); err != nil {
					return misuse{err}
				}
			} else if c.Flags().Changed("permit") || r.part != "" || r.file != "" {
				return misused("new needs -donor: whose agreement and run these are")
			}
			if r.part != "" || r.plane != "" || r.file != "" {
				made, err := r.read(donor)
				if err != nil {
					return err
				}
				run = &made
			}
			if err := makeLibrary(args[0], d, run); err != nil {
				return err
			}
			words := "Made the library " + args[0] + "."
			if donor != "" && len(d.Agreement.Permitted) == 0 {
				words += " Nothing may leave it until the agreement of " + donor + " records a purpose: sectionary agree."
			}
			return t.answer(map[string]any{"dir": args[0], "donor": donor, "agreement": d.Agreement, "run": run}, words)
		},
	}
	c.Flags().StringVar(&donor, "donor", "", "the lab code of the donor, never a name")
	c.Flags().BoolVar(&invented, "practice", false, "the donor is invented, as that of the practice lab; every picture says so")
	a.flags(c)
	r.flags(c)
	return c
}

func makeLibrary(dir string, d atlas.Donor, run *section.Run) error {
	return intoFolder(dir, func(part string) (err error) {
		lib, err := atlas.Create(part)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, lib.Close()) }()
		if d.Code == "" {
			return nil
		}
		if err := lib.AddDonor(d); err != nil || run == nil {
			return err
		}
		_, err = lib.SaveRun(*run)
		return err
	})
}

func runVerb(t *tool) *cobra.Command {
	var r cutRun
	var replace bool
	c := &cobra.Command{
		Use: "run LIB DONOR", Short: "Add a run of slabs to a donor", Args: exactly("LIB", "DONOR"),
		RunE: func(c *cobra.Command, args []string) error {
			run, err := r.read(args[1])
			if err != nil {
				return err
			}
			return with(args[0], atlas.ReadWrite, func(lib *atlas.Library) error {
				if _, err := lib.Run(run.ID); err == nil && !replace {
					return fmt.Errorf("there is a run %s already; -replace changes it, -run gives the new one another name", run.ID)
				}
				if run, err = lib.SaveRun(run); err != nil {
					return err
				}
				return t.answer(run, fmt.Sprintf("run %s: %d slabs of %s, %s", run.ID, len(run.Slabs), run.PartWords(), run.Plane))
			})
		},
	}
	r.flags(c)
	c.Flags().BoolVar(&replace, "replace", false, "change the run of that name")
	return c
}

func agreeVerb(t *tool) *cobra.Command {
	var a agreement
	var add bool
	c := &cobra.Command{
		Use: "agree LIB DONOR", Short: "Record what a donor's agreement permits", Args: exactly("LIB", "DONOR"),
		RunE: func(c *cobra.Command, args []string) error {
			if _, err := a.onto(c, atlas.Agreement{}); err != nil { // misuse is found before anything is opened
				return err
			}
			return with(args[0], atlas.ReadWrite, func(lib *atlas.Library) error {
				d, err := lib.Donor(args[1])
				save := func(d atlas.Donor) error { return lib.Agree(a.who, d) }
				switch {
				case errors.Is(err, atlas.ErrNotFound) && add:
					d, save = atlas.Donor{Code: args[1]}, lib.AddDonor
				case errors.Is(err, atlas.ErrNotFound):
					return fmt.Errorf("there is no donor %s; -new adds one", args[1])
				case err != nil:
					return err
				}
				if d.Agreement, err = a.onto(c, d.Agreement); err != nil {
					return err
				}
				if err := save(d); err != nil {
					return err
				}
				return t.answer(d, donorWords(d))
			})
		},
	}
	a.flags(c)
	c.Flags().BoolVar(&add, "new", false, "add the donor when the library has none of that code")
	return c
}

func donorWords(d atlas.Donor) string {
	var words []string
	for _, p := range atlas.Purposes {
		if d.Agreement.Permitted[p] {
			words = append(words, p.Words())
		}
	}
	w := "donor " + d.Code + ": "
	if len(words) == 0 {
		w += "no purpose is recorded, so nothing may leave"
	} else {
		w += "permitted are " + strings.Join(words, ", ")
	}
	if !d.Agreement.Ends.IsZero() {
		w += ", until " + d.Agreement.Ends.Format("2 January 2006")
	}
	if d.Synthetic {
		w += " (practice)"
	}
	return w
}

func verifyVerb(t *tool) *cobra.Command {
	return &cobra.Command{
		Use: "verify LIB", Short: "Check the catalogue, every original and every scan of a library", Args: exactly("LIB"),
		RunE: func(c *cobra.Command, args []string) error {
			list := []string{}
			err := with(args[0], atlas.ReadOnly, func(lib *atlas.Library) error {
				return lib.Verify(c.Context(), func(fault error) { list = append(list, sentence(fault)) })
			})
			if err != nil {
				return err
			}
			slices.Sort(list)
			words := args[0] + ": all is as it was written"
			if len(list) > 0 {
				words = strings.Join(list, "\n")
			}
			if err := t.answer(map[string]any{"ok": len(list) == 0, "faults": list}, words); err != nil {
				return err
			}
			if len(list) > 0 {
				return found("%s: %d faults; what else it holds can still be used", args[0], len(list))
			}
			return nil
		},
	}
}
