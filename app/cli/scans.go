package main

import (
	"bufio"
	"cmp"
	"context"
	"encoding/binary"
	"fmt"
	"image"
	"io"
	"math"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/scan"
)

// skipped is a file that could not be used, and why.
type skipped struct {
	File   string `json:"file"`
	Reason string `json:"reason"`
}

// left collects skipped files; never nil, so that JSON has a list.
type left []skipped

func (l *left) add(path string, err error) { *l = append(*l, skipped{path, sentence(err)}) }

// surveyAnswer is what the verbs survey and add-series print.
type surveyAnswer struct {
	Series  []scan.Record `json:"series"`
	Skipped left          `json:"skipped"`
}

// seriesWords says kind, description, size and spacing of a series in a line.
func seriesWords(r scan.Record) string {
	return fmt.Sprintf("%s, %dx%dx%d, spacing %.3f x %.3f x %.3f mm", strings.TrimSpace(cmp.Or(r.Modality, "kind of scan not said")+" "+r.Description),
		r.Size[0], r.Size[1], r.Size[2], r.Spacing[0], r.Spacing[1], r.Spacing[2])
}

func surveyed(series []scan.Series, skipped left) (a surveyAnswer, words string) {
	a = surveyAnswer{[]scan.Record{}, skipped}
	var b strings.Builder
	for _, s := range series {
		r := s.Record()
		a.Series = append(a.Series, r)
		fmt.Fprintf(&b, "%s\n  %s\n", r.UID, seriesWords(r))
		for _, w := range r.Warnings {
			fmt.Fprintf(&b, "  %s\n", w)
		}
	}
	if len(series) == 0 {
		b.WriteString("no series found\n")
	}
	for _, s := range skipped {
		fmt.Fprintf(&b, "left out: %s: %s\n", s.File, s.Reason)
	}
	return a, b.String()
}

func surveyVerb(t *tool) *cobra.Command {
	return &cobra.Command{
		Use: "survey DIR", Short: "Which CT and MR series lie in a folder or zip archive, in true order, with warnings", Args: exactly("DIR"),
		RunE: func(c *cobra.Command, args []string) error {
			files, done, err := scan.Open(args[0])
			if err != nil {
				return err
			}
			defer done()
			report, end := t.progress("looking at files")
			defer end()
			skip := left{}
			series, err := scan.SurveyProgress(c.Context(), files, skip.add, report)
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			end()
			a, words := surveyed(series, skip)
			return t.answer(a, words)
		},
	}
}

// load reads one series below a folder; uid may be its beginning, or "" when there is only one.
func (t *tool) load(ctx context.Context, dir, uid string) (*scan.Volume, error) {
	files, done, err := scan.Open(dir)
	if err != nil {
		return nil, err
	}
	defer done()
	all, err := scan.Survey(ctx, files, nil)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", dir, err)
	}
	s, err := oneSeries(all, uid)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", dir, err)
	}
	report, end := t.progress("reading slices")
	defer end()
	v, err := scan.Load(ctx, files, s, report)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", dir, err)
	}
	return v, nil
}

// oneSeries picks a series by its UID or the beginning of it.
func oneSeries(all []scan.Series, uid string) (scan.Series, error) {
	var hits []scan.Series
	for _, s := range all {
		if s.UID == uid {
			return s, nil
		}
		if strings.HasPrefix(s.UID, uid) {
			hits = append(hits, s)
		}
	}
	switch {
	case len(hits) == 1:
		return hits[0], nil
	case len(all) == 0:
		return scan.Series{}, fmt.Errorf("no series is there")
	case len(hits) == 0:
		return scan.Series{}, fmt.Errorf("no series has the UID %q; there are %s", uid, uidsOf(all))
	}
	return scan.Series{}, fmt.Errorf("%q does not tell one series from another; name one of %s", uid, uidsOf(hits))
}

func uidsOf(list []scan.Series) string {
	words := make([]string, len(list))
	for i, s := range list {
		words[i] = s.UID
	}
	return strings.Join(words, ", ")
}

// cutting holds the flags of the verb cut.
type cutting struct {
	scan, series, pose, lib, face string
	size, window, projection, out string
	spacing, slab                 float64
	cubic                         bool
}

// mostPixels bounds the picture that one cut may make.
const mostPixels = 1 << 26

func cutVerb(t *tool) *cobra.Command {
	var f cutting
	c := &cobra.Command{
		Use: "cut", Short: "A picture cut through a scan at a pose", Args: exactly(),
		Long: `A picture cut through a scan at a pose: pixel i,j is face mm i*S,j*S.
The scan is a folder (-scan, -series, -pose), or that of a placed face in a library (-lib, -face, -series), whose
middle is then the middle of the picture.
A name ending in .f32 takes raw little-endian float32 rows, NaN outside the scan; one ending in .png an 8-bit picture.`,
		RunE: func(c *cobra.Command, _ []string) error { return f.run(c.Context(), t) },
	}
	c.Flags().StringVar(&f.scan, "scan", "", "the folder, zip archive or file that holds the scan")
	c.Flags().StringVar(&f.series, "series", "", "UID of the series, or its beginning; may be left out when there is only one")
	c.Flags().StringVar(&f.pose, "pose", "", "a pose in JSON, or an answer of pose or show that holds one")
	c.Flags().StringVar(&f.lib, "lib", "", "a library, in place of -scan and -pose")
	c.Flags().StringVar(&f.face, "face", "", "a face of that library, placed by landmarks or level")
	c.Flags().StringVar(&f.size, "size", "", "WxH in pixels")
	c.Flags().Float64Var(&f.spacing, "spacing", 1, "mm of face per pixel")
	c.Flags().Float64Var(&f.slab, "slab", 0, "mm of patient across which values are brought together, centred on the face")
	c.Flags().StringVar(&f.projection, "projection", "mean", "what values across -slab become: mean, max or min")
	c.Flags().BoolVar(&f.cubic, "cubic", false, "cubic in place of linear interpolation")
	c.Flags().StringVar(&f.window, "window", "", "C,W: window level and width of a .png; left out, the scan's own")
	c.Flags().StringVarP(&f.out, "o", "o", "", "the file to write, .f32 or .png")
	return needs(c, "size", "o")
}

// cutAnswer is what the verb cut prints.
type cutAnswer struct {
	Min    number    `json:"min"`
	Max    number    `json:"max"`
	Inside float64   `json:"inside"` // share of the pixels
	Pose   geom.Pose `json:"pose"`
}

func (f cutting) run(ctx context.Context, t *tool) error {
	w, h, o, err := f.check()
	if err != nil {
		return err
	}
	v, pose, err := f.source(ctx, t, w, h)
	if err != nil {
		return err
	}
	dst := make([]float32, w*h)
	v.Cut(dst, w, h, pose, f.spacing, o)
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := f.write(v, dst, w, h); err != nil {
		return err
	}
	a := cutAnswer{Min: number(math.NaN()), Max: number(math.NaN()), Pose: pose}
	for _, x := range dst {
		y := number(x)
		if y != y {
			continue
		}
		a.Inside++
		if !(a.Min <= y) {
			a.Min = y
		}
		if !(a.Max >= y) {
			a.Max = y
		}
	}
	a.Inside /= float64(len(dst))
	return t.answer(a, fmt.Sprintf("%s: values %.1f to %.1f, %.1f %% of the picture lies inside the scan. For teaching. Not for diagnosis.",
		f.out, float64(a.Min), float64(a.Max), 100*a.Inside))
}

// check reads the flags that need no file.
func (f cutting) check() (w, h int, o scan.CutOptions, err error) {
	if n, _ := fmt.Sscanf(f.size, "%dx%d", &w, &h); n != 2 || fmt.Sprintf("%dx%d", w, h) != f.size || w < 1 || h < 1 {
		return 0, 0, o, misused("-size takes WxH in pixels, as 512x384, not %q", f.size)
	}
	projection, known := map[string]scan.Projection{"mean": scan.Mean, "max": scan.Max, "min": scan.Min}[f.projection]
	switch ext := strings.ToLower(filepath.Ext(f.out)); {
	case w > mostPixels/h:
		return 0, 0, o, misused("-size %s is more than %d pixels", f.size, mostPixels)
	case !(f.spacing > 0) || math.IsInf(f.spacing, 0):
		return 0, 0, o, misused("-spacing must be more than 0 mm, got %g", f.spacing)
	case !(f.slab >= 0 && f.slab <= 1000):
		return 0, 0, o, misused("-slab must be 0 to 1000 mm, got %g", f.slab)
	case !known:
		return 0, 0, o, misused("-projection takes mean, max or min, not %q", f.projection)
	case ext != ".f32" && ext != ".png":
		return 0, 0, o, misused("-o takes a name ending in .f32 or .png, not %q", f.out)
	case (f.lib == "") != (f.face == "") || (f.lib == "") == (f.scan == "") || f.lib != "" && f.pose != "":
		return 0, 0, o, misused("name the scan by -scan with -pose, or by -lib with -face")
	case f.scan != "" && f.pose == "":
		return 0, 0, o, misused("-scan needs -pose: where to cut")
	}
	if f.window != "" {
		if _, err = f.grey(nil); err != nil {
			return 0, 0, o, err
		}
	}
	return w, h, scan.CutOptions{Thickness: f.slab, Projection: projection, Cubic: f.cubic}, nil
}

// grey is the window asked for, else that of the scan.
func (f cutting) grey(v *scan.Volume) (scan.Window, error) {
	if f.window == "" {
		return v.StartWindow(), nil
	}
	n, err := numbers("window", f.window, 2)
	if err != nil {
		return scan.Window{}, err
	}
	w := scan.Window{Centre: n[0], Width: n[1], Inverse: v != nil && v.Inverse}
	if err := w.Check(); err != nil {
		return w, misused("-window %s: %w", f.window, err)
	}
	return w, nil
}

// source reads the scan and the pose. A face of a library is cut so that its middle stands in the middle of the picture.
func (f cutting) source(ctx context.Context, t *tool, w, h int) (v *scan.Volume, pose geom.Pose, err error) {
	if f.lib == "" {
		if pose, err = reading(f.pose, register.ReadPose); err != nil {
			return nil, pose, err
		}
		v, err = t.load(ctx, f.scan, f.series)
		return v, pose, err
	}
	err = with(f.lib, atlas.ReadOnly, func(lib *atlas.Library) error {
		p, err := findFace(lib, f.face)
		if err != nil {
			return err
		}
		pairs, err := pairsOf(lib, p)
		if err != nil {
			return err
		}
		for _, x := range pairs {
			if strings.HasPrefix(x.Series, f.series) {
				corner := geom.MM{X: x.middle.X - f.spacing*float64(w-1)/2, Y: x.middle.Y - f.spacing*float64(h-1)/2}
				pose = x.Pose.Shift(x.Pose.At(corner).Sub(x.Pose.Origin))
				t.note("%s", x.Sentence)
				v, err = lib.Volume(ctx, x.Series)
				return err
			}
		}
		return fmt.Errorf("%s is not placed in that series; tie it by landmarks (tie) or by levels (level) first", p.Face.Name())
	})
	return v, pose, err
}

func (f cutting) write(v *scan.Volume, dst []float32, w, h int) error {
	if strings.EqualFold(filepath.Ext(f.out), ".f32") {
		return writeWhole(f.out, func(out io.Writer) error {
			b := bufio.NewWriterSize(out, 1<<20)
			if err := binary.Write(b, binary.LittleEndian, dst); err != nil {
				return err
			}
			return b.Flush()
		})
	}
	window, err := f.grey(v)
	if err != nil {
		return err
	}
	var picture image.Image = window.Gray(dst, w, h)
	return writeWhole(f.out, func(out io.Writer) error { return photo.EncodePNG(out, picture) })
}
