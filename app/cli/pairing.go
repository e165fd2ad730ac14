package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/scan"
)

func now() time.Time { return time.Now().UTC().Truncate(time.Millisecond) }

func addSeriesVerb(t *tool) *cobra.Command {
	return &cobra.Command{
		Use: "add-series LIB DONOR DIR", Short: "Take in every CT and MR series of a folder; names, dates and free text stay behind", Args: exactly("LIB", "DONOR", "DIR"),
		RunE: func(c *cobra.Command, args []string) error {
			files, done, err := scan.Open(args[2])
			if err != nil {
				return err
			}
			defer done()
			return with(args[0], atlas.ReadWrite, func(lib *atlas.Library) error {
				report, end := t.progress("taking in the scan")
				defer end()
				skip := left{}
				series, err := lib.AddSeries(c.Context(), args[1], files, skip.add, report)
				if err != nil {
					return fmt.Errorf("%s: %w", args[2], err)
				}
				end()
				if len(series) == 0 {
					return fmt.Errorf("%s holds no series that can be taken in; survey tells why each file was left out", args[2])
				}
				a, words := surveyed(series, skip)
				return t.answer(a, words)
			})
		},
	}
}

func levelVerb(t *tool) *cobra.Command {
	var ties, centre string
	var otherBody bool
	c := &cobra.Command{
		Use: "level LIB RUN SERIES", Short: "Tie places of a run to places of a scan", Args: exactly("LIB", "RUN", "SERIES"),
		RunE: func(c *cobra.Command, args []string) error {
			list, err := reading(ties, register.ReadLevels)
			if err != nil {
				return err
			}
			return with(args[0], atlas.ReadWrite, func(lib *atlas.Library) error {
				r, err := findRun(lib, args[1])
				if err != nil {
					return err
				}
				s, donor, err := findSeries(lib, args[2])
				if err != nil {
					return err
				}
				tied := atlas.LevelTies{Run: r.ID, Series: s.UID, Levels: list, SameBody: donor == r.Donor && !otherBody, Centre: middleOf(s)}
				if centre != "" {
					n, err := numbers("centre", centre, 3)
					if err != nil {
						return err
					}
					tied.Centre = geom.LPS{X: n[0], Y: n[1], Z: n[2]}
				}
				if err := lib.SaveLevelTies(tied); err != nil {
					return fmt.Errorf("%s: %w", ties, err)
				}
				words := fmt.Sprintf("%d levels of run %s are tied to series %s.", len(list), r.ID, shortUID(s.UID))
				if !tied.SameBody {
					words += " They are of different bodies, so faces are paired by level only."
				}
				return t.answer(tied, words)
			})
		},
	}
	c.Flags().StringVar(&ties, "ties", "", "a CSV of lines run_mm,scan_mm: mm from the datum, and LPS mm along the axis of the cut")
	c.Flags().StringVar(&centre, "centre", "", "X,Y,Z in LPS mm where the middle of the faces lies across the scan; left out, the middle of the scan")
	c.Flags().BoolVar(&otherBody, "other-body", false, "the scan is of another person than the slabs")
	return needs(c, "ties")
}

// middleOf is the middle of the box of voxels.
func middleOf(s scan.Series) geom.LPS {
	return s.ToLPS.LPS(geom.IJK{I: float64(s.Size[0]-1) / 2, J: float64(s.Size[1]-1) / 2, K: float64(s.Size[2]-1) / 2})
}

func tieVerb(t *tool) *cobra.Command {
	var ties string
	var mm, free bool
	c := &cobra.Command{
		Use: "tie LIB FACE SERIES", Short: "Lay a face in a scan by landmarks found on both", Args: exactly("LIB", "FACE", "SERIES"),
		RunE: func(c *cobra.Command, args []string) error {
			return t.edit(args[0], args[1], func(lib *atlas.Library, p atlas.Plate) (atlas.Plate, error) {
				s, _, err := findSeries(lib, args[2])
				if err != nil {
					return p, err
				}
				marks, err := readLandmarks(ties, mm, p)
				if err != nil {
					return p, err
				}
				next, err := p.Lay(s.UID, marks, free)
				if err != nil {
					return p, fmt.Errorf("%s: %w", ties, err)
				}
				return lib.Save(next)
			})
		},
	}
	c.Flags().StringVar(&ties, "ties", "", "a CSV of lines px,py,X,Y,Z: a pixel of the upright photograph and the same point of the scan in LPS mm")
	c.Flags().BoolVar(&mm, "mm", false, "the first two numbers are face mm of the photograph's own scale, not pixels")
	c.Flags().BoolVar(&free, "scale", false, "let the face have shrunk or swelled")
	return needs(c, "ties")
}

// readLandmarks reads landmarks of a photograph; with mm their face points are carried to pixels by its scale.
func readLandmarks(file string, mm bool, p atlas.Plate) ([]register.Tie, error) {
	if mm && p.Calibration.Status == photo.Nominal {
		return nil, photo.ErrNoScale
	}
	marks, err := reading(file, func(r io.Reader) ([]register.Tie, error) {
		ties, err := register.ReadPlacedTies(r)
		if err != nil { // its words are for ties in mm
			return nil, fmt.Errorf("%s", strings.ReplaceAll(err.Error(), "x_mm,y_mm,X,Y,Z", "px,py,X,Y,Z"))
		}
		return ties, nil
	})
	if err != nil {
		return nil, err
	}
	for i := range marks {
		if mm {
			marks[i].Face = p.Calibration.Px(geom.MM(marks[i].Face))
		}
		if q := marks[i].Face; !inside(q, p.Photo.Size) {
			return nil, fmt.Errorf("%s: landmark %d at pixel %.1f,%.1f lies outside the photograph", file, i+1, q.X, q.Y)
		}
	}
	return marks, nil
}
