package main

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"time"

	"github.com/spf13/cobra"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
)

// refineAnswer is what the verb refine prints.
type refineAnswer struct {
	Pose       geom.Pose      `json:"pose"`
	Score      float64        `json:"score"`
	Status     string         `json:"status"`
	Iterations int            `json:"iterations"`
	Seconds    float64        `json:"seconds"`
	Warp       *register.Warp `json:"warp"`
}

func refineVerb(t *tool) *cobra.Command {
	var s scaling
	var dir, series, from string
	var bend bool
	c := &cobra.Command{
		Use: "refine", Short: "Fit a face to a scan by what both show, from a rough pose", Args: exactly(),
		RunE: func(c *cobra.Command, _ []string) error {
			ctx := c.Context()
			m, err := openPhoto(ctx, s.photo)
			if err != nil {
				return err
			}
			cal, err := s.read(m.Size())
			if err != nil {
				return err
			}
			start, err := reading(from, register.ReadPose)
			if err != nil {
				return err
			}
			v, err := t.load(ctx, dir, series)
			if err != nil {
				return err
			}
			face, body, corner, err := flatFace(m, cal)
			if err != nil {
				return fmt.Errorf("%s: %w", s.photo, err)
			}
			report, end := t.progress("fitting")
			defer end()
			began := time.Now()
			r, err := register.Refine(ctx, register.Registration{Series: v.UID, Pose: start}, face, flatStep, v, register.Options{
				Corner: corner, Inside: body, Bend: bend, Advance: func(share float64, _ string) { report(int(1000*share), 1000) }})
			if err != nil {
				return fmt.Errorf("%s: %w", s.photo, err)
			}
			end()
			a := refineAnswer{r.Pose, r.Score, r.Status, r.Steps, time.Since(began).Seconds(), r.Warp}
			return t.answer(a, fmt.Sprintf("%s; moved by %.1f mm at the corner of the face. Look at both pictures before you trust it.",
				a.Status, r.Pose.At(corner).Dist(start.At(corner))))
		},
	}
	c.Flags().StringVar(&s.photo, "photo", "", "the photograph")
	s.flags(c)
	c.Flags().StringVar(&dir, "scan", "", "the folder, zip archive or file that holds the scan")
	c.Flags().StringVar(&series, "series", "", "UID of the series, or its beginning; may be left out when there is only one")
	c.Flags().StringVar(&from, "from", "", "the pose to begin from, in JSON")
	c.Flags().BoolVar(&bend, "bend", false, "also undo sag and stretch within the face")
	return needs(c, "photo", "ties", "scan", "from")
}

const (
	flatStep = 0.5  // mm per pixel of the face laid flat for fitting
	mostFlat = 4096 // pixels along a side
)

// flatFace lays the face of a photograph flat at flatStep mm per pixel: its lightness, which pixels show the body (nil when no
// border is found: all), and the face mm of the centre of the first pixel.
func flatFace(m *photo.Image, c photo.Calibration) (face *image.Gray, body *image.Alpha, corner geom.MM, err error) {
	size := m.Size()
	rings := [][]geom.Px{{{X: 0, Y: 0}, {X: float64(size.X - 1)}, {X: float64(size.X - 1), Y: float64(size.Y - 1)}, {Y: float64(size.Y - 1)}}}
	border, noBorder := photo.FaceBorder(m)
	if noBorder == nil {
		rings = border.Rings
	}
	lo, hi := geom.MM{X: math.Inf(1), Y: math.Inf(1)}, geom.MM{X: math.Inf(-1), Y: math.Inf(-1)}
	var shapes []annotate.Polygon
	for _, ring := range rings {
		p := annotate.Polygon{Outer: ring}
		shapes = append(shapes, p)
		for _, q := range ring {
			mm := c.MM(q)
			lo, hi = geom.MM{X: math.Min(lo.X, mm.X), Y: math.Min(lo.Y, mm.Y)}, geom.MM{X: math.Max(hi.X, mm.X), Y: math.Max(hi.Y, mm.Y)}
		}
	}
	w, h := (hi.X-lo.X)/flatStep+1, (hi.Y-lo.Y)/flatStep+1
	if !(w <= mostFlat && h <= mostFlat) {
		return nil, nil, lo, fmt.Errorf("by its scale the face is %.0f x %.0f mm; check the scale", w*flatStep, h*flatStep)
	}
	r := image.Rect(0, 0, int(w), int(h))
	face = image.NewGray(r)
	if noBorder == nil {
		body = image.NewAlpha(r)
		for i := range shapes {
			shapes[i] = shapes[i].Map(func(p geom.Px) geom.Px {
				q := c.MM(p)
				return geom.Px{X: (q.X - lo.X) / flatStep, Y: (q.Y - lo.Y) / flatStep}
			})
		}
		mask := annotate.Rasterise(shapes, r)
		for i, in := range mask.In {
			if in {
				body.Pix[i] = 255
			}
		}
	}
	for y := range r.Dy() {
		for x := range r.Dx() {
			face.SetGray(x, y, lightness(m, c, geom.MM{X: lo.X + float64(x)*flatStep, Y: lo.Y + float64(y)*flatStep}))
		}
	}
	return face, body, lo, nil
}

// lightness is the mean of nine places of one flat pixel.
func lightness(m *photo.Image, c photo.Calibration, at geom.MM) color.Gray {
	sum := 0
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			p := m.At(c.Px(geom.MM{X: at.X + float64(dx)*flatStep/3, Y: at.Y + float64(dy)*flatStep/3}))
			sum += int(color.GrayModel.Convert(p).(color.Gray).Y)
		}
	}
	return color.Gray{Y: uint8((sum + 4) / 9)}
}
