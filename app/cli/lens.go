package main

import (
	"context"
	"encoding/json"
	"fmt"
	"image"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"sectionary/atlas"
	"sectionary/slices/photo"
)

// sheet is a chequer sheet as -sheet tells it: inner corners along a row and down a column, and the side of a square in mm.
type sheet struct {
	columns, rows int
	side          float64
}

var sheetShape = regexp.MustCompile(`^(\d{1,3})x(\d{1,3}),([0-9.]+)$`)

func parseSheet(text string) (sheet, error) {
	m := sheetShape.FindStringSubmatch(text)
	if m == nil {
		return sheet{}, misused("-sheet takes corners along a row x rows, and mm to a square, as 8x6,20, not %q", text)
	}
	var s sheet
	s.columns, _ = strconv.Atoi(m[1])
	s.rows, _ = strconv.Atoi(m[2])
	s.side, _ = strconv.ParseFloat(m[3], 64)
	if s.columns < 3 || s.rows < 3 || !(s.side > 0) {
		return s, misused("-sheet %s: a sheet has 3 x 3 inner corners or more and squares of some size", text)
	}
	return s, nil
}

// find looks for the sheet in a photograph.
func (s sheet) find(ctx context.Context, path string) ([]photo.Tie, image.Point, error) {
	m, err := openPhoto(ctx, path)
	if err != nil {
		return nil, image.Point{}, err
	}
	ties, err := photo.FindChequer(ctx, m, s.columns, s.rows, s.side)
	if err != nil {
		return nil, m.Size(), fmt.Errorf("%s: %w", path, err)
	}
	return ties, m.Size(), nil
}

// fromSheet makes the calibration of a photograph by the sheet found in it.
func (s scaling) fromSheet(ctx context.Context) (photo.Calibration, error) {
	shape, err := parseSheet(s.sheet)
	if err != nil {
		return photo.Calibration{}, err
	}
	ties, size, err := shape.find(ctx, s.photo)
	if err != nil {
		return photo.Calibration{}, err
	}
	return s.of(ties, size)
}

// readLens reads a lens as the verb lens prints it.
func readLens(path string) (*photo.Lens, error) {
	return reading(path, func(r io.Reader) (*photo.Lens, error) {
		var l photo.Lens
		err := json.NewDecoder(io.LimitReader(r, mostJSON)).Decode(&l)
		return &l, err
	})
}

func lensWords(l photo.Lens) string {
	n := fmt.Sprintf("%d pictures", l.Views)
	if l.Views == 1 {
		n = "one picture"
	}
	w := fmt.Sprintf("Measured on %s of the sheet: corners fit to %.3f px RMS; they reached %.0f%% of the way to the corners of the picture", n, l.RMS, 100*l.Reach)
	if l.Reach < 0.85 {
		w += ", and beyond nothing was measured"
	}
	return w
}

func lensVerb(t *tool) *cobra.Command {
	var shape string
	c := &cobra.Command{
		Use: "lens PHOTO...", Short: "Measure the bend of a stand's lens from pictures of a chequer sheet", Args: cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			s, err := parseSheet(shape)
			if err != nil {
				return err
			}
			var views [][]photo.Tie
			var size image.Point
			for _, path := range args {
				ties, z, err := s.find(c.Context(), path)
				if err != nil {
					return err
				}
				if size != (image.Point{}) && z != size {
					return fmt.Errorf("%s: it has %dx%d pixels, the others %dx%d; a lens is measured on pictures of one size", path, z.X, z.Y, size.X, size.Y)
				}
				views, size = append(views, ties), z
			}
			l, err := photo.MeasureLens(views, size)
			if err != nil {
				return err
			}
			l.Set = now()
			return t.answer(l, lensWords(l))
		},
	}
	c.Flags().StringVar(&shape, "sheet", "", "inner corners along a row x rows, and mm to a square, as 8x6,20: corners are where four squares meet")
	return needs(c, "sheet")
}

// standing is a stand in a list.
type standing struct {
	atlas.Stand
	Words string `json:"words"`
}

func standVerb(t *tool) *cobra.Command {
	var lens, height, plate string
	var length float64
	var drop bool
	c := &cobra.Command{
		Use: "stand LIB [NAME]", Short: "The camera stands of a lab, or what is kept for one of them", Args: cobra.RangeArgs(1, 2),
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 1 {
				return with(args[0], atlas.ReadOnly, t.listStands)
			}
			return with(args[0], atlas.ReadWrite, func(lib *atlas.Library) error {
				if drop {
					if err := lib.RemoveStand(args[1]); err != nil {
						return err
					}
					return t.listStands(lib)
				}
				all, err := lib.Stands()
				if err != nil {
					return err
				}
				s := atlas.Stand{Name: args[1]}
				if i := slices.IndexFunc(all, func(x atlas.Stand) bool { return x.Name == s.Name }); i >= 0 {
					s = all[i]
				}
				s.Set = now()
				if err := changeStand(&s, lens, height, plate, length); err != nil {
					return err
				}
				if err := lib.SaveStand(s); err != nil {
					return err
				}
				return t.listStands(lib)
			})
		},
	}
	c.Flags().StringVar(&lens, "lens", "", "the lens, in JSON as the verb lens prints it")
	c.Flags().StringVar(&height, "height", "", "D,H: mm that the scale lies below the face (negative above), and mm from camera to face")
	c.Flags().StringVar(&plate, "plate", "", "W,H: the sides of the scale plate in mm")
	c.Flags().Float64Var(&length, "length", 0, "mm between the two ticks in use")
	c.Flags().BoolVar(&drop, "remove", false, "take the stand away; faces scaled with it keep their scale")
	return c
}

// changeStand changes what the flags give and leaves the rest.
func changeStand(s *atlas.Stand, lens, height, plate string, length float64) (err error) {
	if lens != "" {
		if s.Lens, err = readLens(lens); err != nil {
			return err
		}
	}
	if height != "" {
		n, err := numbers("height", height, 2)
		if err != nil {
			return err
		}
		s.Height = photo.ScaleHeight{Drop: n[0], Camera: n[1]}
	}
	if plate != "" {
		n, err := numbers("plate", plate, 2)
		if err != nil {
			return err
		}
		s.Width, s.Tall = n[0], n[1]
	}
	if length != 0 { // one below 0 is refused where stands are kept
		s.Length = length
	}
	return nil
}

func (t *tool) listStands(lib *atlas.Library) error {
	all, err := lib.Stands()
	if err != nil {
		return err
	}
	out := make([]standing, len(all))
	var b strings.Builder
	for i, s := range all {
		w := s.Name + ", kept " + s.Set.Format(time.DateOnly) + ":"
		if s.Lens != nil {
			w += " " + lensWords(*s.Lens) + "."
		} else {
			w += " lens not measured."
		}
		if s.Height.Camera > 0 {
			w += fmt.Sprintf(" Camera %g mm above the face, scale %g mm below it.", s.Height.Camera, s.Height.Drop)
		}
		out[i] = standing{s, w}
		fmt.Fprintln(&b, w)
	}
	if len(all) == 0 {
		b.WriteString("No stand is kept in this lab.")
	}
	return t.answer(map[string]any{"stands": out}, strings.TrimSpace(b.String()))
}
