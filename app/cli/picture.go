package main

import (
	"context"
	"fmt"
	"image"
	"io"
	"math"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// scaling holds the flags that give a photograph its scale.
type scaling struct{ photo, ties, height, lens, sheet string }

func (s *scaling) flags(c *cobra.Command) {
	c.Flags().StringVar(&s.ties, "ties", "", "a CSV of lines px,py,x_mm,y_mm: two ticks of the scale, or four and more points of it")
	c.Flags().StringVar(&s.height, "height", "", "D,H: mm that the scale lies below the face (negative above), and mm from camera to face; or unknown, which widens the spread")
	c.Flags().StringVar(&s.lens, "lens", "", "the lens that the picture was taken through, in JSON as the verb lens prints it")
}

// read makes the calibration of a picture of that size in pixels.
func (s scaling) read(size image.Point) (photo.Calibration, error) {
	ties, err := reading(s.ties, photo.ReadTies)
	if err != nil {
		return photo.Calibration{}, err
	}
	for i, tie := range ties {
		if !inside(tie.Px, size) {
			return photo.Calibration{}, fmt.Errorf("%s: tie %d at pixel %g,%g lies outside the picture of %dx%d pixels", s.ties, i+1, tie.Px.X, tie.Px.Y, size.X, size.Y)
		}
	}
	return s.of(ties, size)
}

// of makes the calibration of ties in a picture of that size.
func (s scaling) of(ties []photo.Tie, size image.Point) (c photo.Calibration, err error) {
	var lens *photo.Lens
	if s.lens != "" {
		if lens, err = readLens(s.lens); err != nil {
			return c, err
		}
		if err = lens.Fits(size); err != nil {
			return c, fmt.Errorf("%s: %w", s.lens, err)
		}
	}
	c, err = photo.Through(lens, ties, photo.FromTies)
	switch {
	case err != nil:
	case s.height == "unknown":
		c = c.Doubted(photo.Doubt{Why: photo.HeightUnknown, Share: photo.HeightShare(0, 0)})
	case s.height != "":
		var n []float64
		if n, err = numbers("height", s.height, 2); err != nil {
			return c, err
		}
		if n[1] <= 0 { // 0,0 would pass for a scale in the plane of the face
			return c, misused("-height %s: the camera must stand above the face", s.height)
		}
		c, err = c.WithHeight(photo.ScaleHeight{Drop: n[0], Camera: n[1]})
	}
	if err == nil {
		err = c.Check(size)
	}
	if err != nil {
		return c, fmt.Errorf("%s: %w", s.ties+s.sheet, err)
	}
	return c, nil
}

func inside(p geom.Px, size image.Point) bool {
	return p.X >= -0.5 && p.Y >= -0.5 && p.X <= float64(size.X)-0.5 && p.Y <= float64(size.Y)-0.5
}

func probe(path string) (photo.Info, error) {
	f, err := os.Open(path)
	if err != nil {
		return photo.Info{}, err
	}
	defer f.Close()
	info, err := photo.Probe(f)
	if err != nil {
		return info, fmt.Errorf("%s: %w", path, err)
	}
	return info, nil
}

// openPhoto decodes a photograph.
func openPhoto(ctx context.Context, path string) (*photo.Image, error) {
	return reading(path, func(r io.Reader) (*photo.Image, error) { return photo.Open(ctx, r, photo.Limit{}) })
}

func scaleWords(r photo.ScaleReport) string {
	if r.Status == photo.Nominal {
		return "no scale, so no lengths"
	}
	w := fmt.Sprintf("%s: %.4f mm per pixel at the centre", r.Status, r.MMPerPixel.Centre)
	if r.Status == photo.Rectified {
		w += fmt.Sprintf(", ties fit to %.3f mm RMS, %.3f mm at the worst", r.RMS, r.Max)
	} else {
		w += "; one length is blind to a tilt of the camera"
	}
	if r.Lens != nil {
		w += "; the bend of the lens is taken out"
	}
	for _, d := range r.Doubts {
		switch {
		case d.Why == photo.HeightUnknown:
			w += fmt.Sprintf("; how far the scale lay off the face is not known, spread widened by %.1f%%", 100*d.Share)
		case d.Why == photo.ByTies:
			w += fmt.Sprintf("; taken over from an earlier picture by ties, spread widened by %.1f%%", 100*d.Share)
		case d.Why == photo.CarriedOver:
			w += fmt.Sprintf("; carried over from %s, spread widened by %.1f%%", d.From, 100*d.Share)
		}
	}
	if r.Spread > 0 {
		w += fmt.Sprintf("; lengths are good to %.2f%%, clicks aside", 100*r.Spread)
	}
	if r.Factor != 1 {
		w += fmt.Sprintf("; lengths multiplied by %.5f for the scale's height", r.Factor)
	}
	return w
}

func scaleVerb(t *tool) *cobra.Command {
	var s scaling
	var ruler bool
	var step float64
	c := &cobra.Command{
		Use: "scale", Short: "The map from pixels of a photograph to mm on the face, or with -ruler the ticks found in it", Args: exactly(),
		RunE: func(c *cobra.Command, _ []string) error {
			switch {
			case ruler && s.ties != "":
				return misused("-ruler looks for ticks, -ties gives them: use one of the two")
			case ruler && !(step >= 0 && step < 1e4):
				return misused("-step %g: how many mm one step is, above 0", step)
			case ruler:
				return findRuler(c.Context(), t, s.photo, step)
			case s.sheet != "" && s.ties != "":
				return misused("-sheet looks for a chequer sheet, -ties gives points: use one of the two")
			case s.ties == "" && s.sheet == "":
				return misused("scale needs -ties, or -ruler or -sheet to look for one")
			}
			info, err := probe(s.photo)
			if err != nil {
				return err
			}
			var cal photo.Calibration
			if s.sheet != "" {
				cal, err = s.fromSheet(c.Context())
			} else {
				cal, err = s.read(info.Size)
			}
			if err != nil {
				return err
			}
			r := cal.Report(info.Size)
			return t.answer(r, scaleWords(r))
		},
	}
	c.Flags().StringVar(&s.photo, "photo", "", "the photograph")
	s.flags(c)
	c.Flags().StringVar(&s.sheet, "sheet", "", "look for a chequer sheet lying in the photograph: inner corners along a row x rows, and mm to a square, as 8x6,20")
	c.Flags().BoolVar(&ruler, "ruler", false, "look for a ruler in the photograph and print its ticks as a suggestion")
	c.Flags().Float64Var(&step, "step", 0, "with -ruler: how many mm one step is")
	return needs(c, "photo")
}

// measure is what the verb measure prints.
type measured struct {
	Value  number `json:"value"`
	Spread number `json:"spread"` // standard uncertainty
	Unit   string `json:"unit"`
}

func measureVerb(t *tool) *cobra.Command {
	var s scaling
	var points, as string
	c := &cobra.Command{
		Use: "measure", Short: "A length, angle or area on a face, with its spread", Args: exactly(),
		RunE: func(c *cobra.Command, _ []string) error {
			info, err := probe(s.photo)
			if err != nil {
				return err
			}
			cal, err := s.read(info.Size)
			if err != nil {
				return err
			}
			p, err := reading(points, readPixels)
			if err != nil {
				return err
			}
			for i, q := range p {
				if !inside(q, info.Size) {
					return fmt.Errorf("%s: point %d at pixel %g,%g lies outside the picture of %dx%d pixels", points, i+1, q.X, q.Y, info.Size.X, info.Size.Y)
				}
			}
			m, err := measure(cal, p, as)
			if err != nil {
				return fmt.Errorf("%s: %w", points, err)
			}
			return t.answer(m, fmt.Sprintf("%.2f ± %.2f %s", float64(m.Value), float64(m.Spread), m.Unit))
		},
	}
	c.Flags().StringVar(&s.photo, "photo", "", "the photograph")
	s.flags(c)
	c.Flags().StringVar(&points, "points", "", "a CSV of lines px,py: two for a length, three for an angle with its corner second, a ring for an area")
	c.Flags().StringVar(&as, "as", "length", "length, angle or area")
	return needs(c, "photo", "ties", "points")
}

func measure(c photo.Calibration, p []geom.Px, as string) (measured, error) {
	wants := map[string]int{"length": 2, "angle": 3, "area": 3}[as]
	switch {
	case wants == 0:
		return measured{}, misused("-as takes length, angle or area, not %q", as)
	case len(p) < wants || as != "area" && len(p) != wants:
		return measured{}, fmt.Errorf("%d points are there; a length takes 2, an angle 3 and an area 3 or more", len(p))
	}
	switch as {
	case "length":
		mm, sd, err := c.Length(p[0], p[1])
		return measured{number(mm), number(sd), "mm"}, err
	case "angle":
		rad, sd := annotate.Angle(c, p[0], p[1], p[2])
		if p[0] == p[1] || p[1] == p[2] {
			return measured{}, fmt.Errorf("an arm of the angle has no length")
		}
		return measured{number(rad * 180 / math.Pi), number(sd * 180 / math.Pi), "degrees"}, nil
	}
	ring := annotate.Polygon{Outer: p}
	if err := ring.Check(); err != nil {
		return measured{}, err
	}
	mm2, sd := ring.Area(c)
	return measured{number(mm2), number(sd), "mm2"}, nil
}

func outlineVerb(t *tool) *cobra.Command {
	var file string
	c := &cobra.Command{
		Use: "outline", Short: "Check and measure outlines in pixels", Args: exactly(),
		RunE: func(c *cobra.Command, _ []string) error {
			reports, err := reading(file, func(r io.Reader) ([]annotate.OutlineReport, error) {
				b, err := io.ReadAll(io.LimitReader(r, mostJSON))
				if err != nil {
					return nil, err
				}
				return annotate.ReportOutlines(b)
			})
			if err != nil {
				return err
			}
			bad := 0
			var b strings.Builder
			for i, r := range reports {
				if !r.OK {
					bad++
					fmt.Fprintf(&b, "outline %d: %s\n", i+1, sentence(fmt.Errorf("%s", r.Error)))
					continue
				}
				fmt.Fprintf(&b, "outline %d: area %.1f px, perimeter %.1f px, centroid %.1f,%.1f, deepest at %.1f,%.1f\n",
					i+1, *r.Area, *r.Perimeter, r.Centroid[0], r.Centroid[1], r.Inside[0], r.Inside[1])
			}
			if err := t.answer(map[string]any{"outlines": reports}, b.String()); err != nil {
				return err
			}
			if bad > 0 {
				return found("%s: %d of %d outlines are not sound", file, bad, len(reports))
			}
			return nil
		},
	}
	c.Flags().StringVar(&file, "in", "", `a JSON file {"outlines":[{"outer":[[x,y],...],"holes":[...]}]} in pixels`)
	return needs(c, "in")
}
