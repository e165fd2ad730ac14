package main

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// tray is the FACE of photographs not yet placed.
const tray = "tray"

func addPhotoVerb(t *tool) *cobra.Command {
	var donor, up string
	c := &cobra.Command{
		Use: "add-photo LIB FACE FILE", Short: "Take in the photograph of a face, or into the tray", Args: exactly("LIB", "FACE", "FILE"),
		Long: "Take in the photograph of a face; its bytes are kept unchanged. The FACE tray, with -donor, is for one that is not yet placed.",
		RunE: func(c *cobra.Command, args []string) error {
			facing, err := section.ParseFacing(up)
			if err != nil {
				return misuse{err}
			}
			if args[1] == tray && donor == "" {
				return misused("a photograph for the tray needs -donor: whose it is")
			}
			return with(args[0], atlas.ReadWrite, func(lib *atlas.Library) error {
				p, err := takePhoto(c.Context(), lib, args[1], donor, args[2])
				if err != nil {
					return err
				}
				if p.Photo.Mirrored {
					t.note("The camera's tag says mirrored; letters read ? until orient -mirrored answers whether it is so.")
				}
				if facing != section.UnknownFacing {
					if p, err = orient(lib, p, facing, atlas.Unanswered); err != nil {
						return fmt.Errorf("%s was taken in as %s, but %w", args[2], p.ID, err)
					}
				}
				return t.tell(lib, p)
			})
		},
	}
	c.Flags().StringVar(&donor, "donor", "", "the donor's code; needed for the tray only")
	c.Flags().StringVar(&up, "up", "unknown", "the direction at the top of the upright photograph, if known")
	return c
}

func takePhoto(ctx context.Context, lib *atlas.Library, where, donor, file string) (atlas.Plate, error) {
	var f section.Face
	if where != tray {
		var ok bool
		var err error
		if f, ok, err = parseFace(lib, where); err != nil {
			return atlas.Plate{}, err
		} else if !ok {
			return atlas.Plate{}, misused("%q is no face; name it as run:slab:facing, or tray", where)
		}
	}
	in, err := os.Open(file)
	if err != nil {
		return atlas.Plate{}, err
	}
	defer in.Close()
	p, err := lib.AddPhoto(ctx, f, donor, file, in)
	var known *atlas.KnownPhoto
	switch {
	case errors.As(err, &known):
		return p, fmt.Errorf("%s is in the library already, as %s", file, known.Plate)
	case errors.Is(err, atlas.ErrFaceTaken):
		return p, fmt.Errorf("%s has a photograph already; lay %s into the tray, or place the other one elsewhere first", f.Name(), file)
	}
	return p, err
}

func placeVerb(t *tool) *cobra.Command {
	return &cobra.Command{
		Use: "place LIB PHOTO FACE", Short: "Say which face a photograph shows; FACE tray lays it back", Args: exactly("LIB", "PHOTO", "FACE"),
		RunE: func(c *cobra.Command, args []string) error {
			return t.edit(args[0], args[1], func(lib *atlas.Library, p atlas.Plate) (atlas.Plate, error) {
				if args[2] == tray {
					return lib.Unplace(p.ID)
				}
				f, ok, err := parseFace(lib, args[2])
				if err == nil && !ok {
					err = misused("%q is no face; name it as run:slab:facing, or tray", args[2])
				}
				if err != nil {
					return p, err
				}
				return lib.Place(p.ID, f)
			})
		},
	}
}

// edit lets do change one photograph and save it, and tells what became of it.
func (t *tool) edit(dir, face string, do func(lib *atlas.Library, p atlas.Plate) (atlas.Plate, error)) error {
	return with(dir, atlas.ReadWrite, func(lib *atlas.Library) error {
		p, err := findFace(lib, face)
		if err != nil {
			return err
		}
		if p, err = do(lib, p); err != nil {
			return err
		}
		return t.tell(lib, p)
	})
}

// orient records photo-up and the answer to the mirror question, and lays the face anew on its landmarks.
func orient(lib *atlas.Library, p atlas.Plate, up section.Facing, mirrored atlas.Answer) (atlas.Plate, error) {
	if up != section.UnknownFacing {
		if _, _, err := section.Axes(p.Face.Facing.Plane(), p.Face.Facing, up); err != nil && !errors.Is(err, section.ErrUnknown) {
			return p, err
		}
		p.PhotoUp = up
	}
	if mirrored != atlas.Unanswered {
		p.Mirrored = mirrored
	}
	next, err := p.Relaid()
	if err != nil {
		return p, err
	}
	return lib.Save(next)
}

func orientVerb(t *tool) *cobra.Command {
	var up, mirrored string
	c := &cobra.Command{
		Use: "orient LIB FACE", Short: "Say which direction is at the top of a photograph, and whether it is mirrored", Args: exactly("LIB", "FACE"),
		RunE: func(c *cobra.Command, args []string) error {
			facing, err := section.ParseFacing(up)
			if err != nil {
				return misuse{err}
			}
			answer, known := map[string]atlas.Answer{"": atlas.Unanswered, "yes": atlas.Yes, "no": atlas.No}[mirrored]
			if !known {
				return misused("-mirrored takes yes or no, not %q", mirrored)
			}
			if facing == section.UnknownFacing && answer == atlas.Unanswered {
				return misused("orient needs -up or -mirrored")
			}
			return t.edit(args[0], args[1], func(lib *atlas.Library, p atlas.Plate) (atlas.Plate, error) {
				return orient(lib, p, facing, answer)
			})
		},
	}
	c.Flags().StringVar(&up, "up", "unknown", "the direction at the top of the upright photograph: R, L, A, P, S or I")
	c.Flags().StringVar(&mirrored, "mirrored", "", "yes or no: whether the picture shows the face mirrored")
	return c
}

func calibrateVerb(t *tool) *cobra.Command {
	var s scaling
	c := &cobra.Command{
		Use: "calibrate LIB FACE", Short: "Give a photograph its scale", Args: exactly("LIB", "FACE"),
		RunE: func(c *cobra.Command, args []string) error {
			return t.edit(args[0], args[1], func(lib *atlas.Library, p atlas.Plate) (atlas.Plate, error) {
				cal, err := s.read(p.Photo.Size)
				if err != nil {
					return p, err
				}
				if cal.Status == photo.Scaled { // the way a ruler happens to lie says nothing of the face
					cal = cal.Squared(p.MiddlePx())
				}
				cal.Set = now()
				p.Calibration = cal
				if p, err = p.Relaid(); err != nil {
					return p, err
				}
				return lib.Save(p)
			})
		},
	}
	s.flags(c)
	return needs(c, "ties")
}

func borderVerb(t *tool) *cobra.Command {
	var find bool
	var file string
	c := &cobra.Command{
		Use: "border LIB FACE", Short: "The face's own outer border: hand-outs show nothing outside it", Args: exactly("LIB", "FACE"),
		RunE: func(c *cobra.Command, args []string) error {
			if find == (file != "") {
				return misused("border takes -find or -in, one of them")
			}
			return t.edit(args[0], args[1], func(lib *atlas.Library, p atlas.Plate) (atlas.Plate, error) {
				var err error
				if find {
					p.Border, err = findBorder(c.Context(), lib, p.ID)
				} else {
					p.Border, err = outlinesIn(file, p.Photo.Size)
				}
				if err != nil {
					return p, err
				}
				return lib.Save(p.Looked(atlas.OnBorder))
			})
		},
	}
	c.Flags().BoolVar(&find, "find", false, "find it by the warmth of tissue against the tray; look at the result")
	c.Flags().StringVar(&file, "in", "", `a JSON file {"outlines":[...]} in pixels`)
	return c
}

// findBorder proposes the border of a photograph, thinned to what a hand could mend.
func findBorder(ctx context.Context, lib *atlas.Library, id string) ([]annotate.Polygon, error) {
	m, err := lib.Photo(ctx, id)
	if err != nil {
		return nil, err
	}
	b, err := photo.FaceBorder(m)
	if err != nil {
		return nil, fmt.Errorf("%w; draw it and give it by -in", err)
	}
	var out []annotate.Polygon
	for _, ring := range b.Rings {
		p := annotate.Polygon{Outer: ring}.Simplify(1)
		if p.Check() == nil {
			out = append(out, p)
		}
	}
	if len(out) == 0 {
		return nil, photo.ErrNoFace
	}
	return out, nil
}

// outlinesIn reads sound outlines that lie within a picture of that size.
func outlinesIn(file string, size image.Point) ([]annotate.Polygon, error) {
	return reading(file, func(r io.Reader) ([]annotate.Polygon, error) {
		b, err := io.ReadAll(io.LimitReader(r, mostJSON))
		if err != nil {
			return nil, err
		}
		list, err := annotate.ReadOutlines(b)
		for i, p := range list {
			if err := p.Check(); err != nil {
				return nil, fmt.Errorf("outline %d: %w", i+1, err)
			}
			if box := p.Bounds(); !inside(box.Min, size) || !inside(box.Max, size) {
				return nil, fmt.Errorf("outline %d leaves the picture of %dx%d pixels", i+1, size.X, size.Y)
			}
		}
		return list, err
	})
}

func maskVerb(t *tool) *cobra.Command {
	var boxes []string
	c := &cobra.Command{
		Use: "mask LIB FACE", Short: "Cover tags and writing in every hand-out; -box replaces the boxes there were", Args: exactly("LIB", "FACE"),
		RunE: func(c *cobra.Command, args []string) error {
			var mask []annotate.Polygon
			for _, text := range boxes {
				n, err := numbers("box", text, 4)
				if err != nil {
					return err
				}
				p := annotate.Polygon{Outer: []geom.Px{{X: n[0], Y: n[1]}, {X: n[2], Y: n[1]}, {X: n[2], Y: n[3]}, {X: n[0], Y: n[3]}}}
				if err := p.Check(); err != nil {
					return misused("-box %s: %w", text, err)
				}
				mask = append(mask, p)
			}
			return t.edit(args[0], args[1], func(lib *atlas.Library, p atlas.Plate) (atlas.Plate, error) {
				p.Mask = mask
				return lib.Save(p.Looked(atlas.OnMask))
			})
		},
	}
	c.Flags().StringArrayVar(&boxes, "box", nil, "x0,y0,x1,y1 in pixels; may be repeated")
	return needs(c, "box")
}

func labelVerb(t *tool) *cobra.Command {
	c := &cobra.Command{
		Use: "label", Short: "Take labels in from a file, or write them to one",
		RunE: func(c *cobra.Command, args []string) error {
			return misused("label takes import LIB FACE FILE, export LIB FACE FILE or sign LIB FACE")
		},
	}
	c.AddCommand(labelSignVerb(t), &cobra.Command{
		Use: "import LIB FACE FILE", Short: "Add the labels of a .json or .svg file; one with a known id replaces it", Args: exactly("LIB", "FACE", "FILE"),
		RunE: func(c *cobra.Command, args []string) error {
			return t.edit(args[0], args[1], func(lib *atlas.Library, p atlas.Plate) (atlas.Plate, error) {
				return importLabels(lib, p, args[2])
			})
		},
	}, &cobra.Command{
		Use: "export LIB FACE FILE", Short: "Write the labels as .json (all), .svg (a drawing) or .csv (a table of measures)", Args: exactly("LIB", "FACE", "FILE"),
		RunE: func(c *cobra.Command, args []string) error {
			return with(args[0], atlas.ReadOnly, func(lib *atlas.Library) error {
				p, err := findFace(lib, args[1])
				if err != nil {
					return err
				}
				if err := exportLabels(lib, p, args[2]); err != nil {
					return err
				}
				return t.answer(map[string]any{"file": args[2], "labels": p.Labels.Len()}, fmt.Sprintf("%s: %d labels", args[2], p.Labels.Len()))
			})
		},
	})
	return c
}

func labelSignVerb(t *tool) *cobra.Command {
	var by string
	var ids []string
	c := &cobra.Command{
		Use: "sign LIB FACE", Short: "Sign labels as a second person who checked them; only signed ones go into an exam", Args: exactly("LIB", "FACE"),
		RunE: func(c *cobra.Command, args []string) error {
			return t.edit(args[0], args[1], func(lib *atlas.Library, p atlas.Plate) (atlas.Plate, error) {
				p, err := signLabels(p, by, ids)
				if err != nil {
					return p, err
				}
				return lib.Save(p)
			})
		},
	}
	c.Flags().StringVar(&by, "by", "", "who checked them, not their author")
	c.Flags().StringSliceVar(&ids, "labels", nil, "which; left out, all that are complete and not signed")
	return needs(c, "by")
}

// signLabels signs the labels named, or all that can be signed.
func signLabels(p atlas.Plate, by string, ids []string) (atlas.Plate, error) {
	stamp := annotate.Stamp{Author: by, At: time.Now().UTC()}
	all := len(ids) == 0
	for x := range p.Labels.All() {
		if all && x.Signed == nil && x.Counts() {
			ids = append(ids, x.ID)
		}
	}
	next := p.Labels
	for _, id := range ids {
		var err error
		if next, err = next.Sign(id, stamp); err != nil {
			return p, fmt.Errorf("label %s: %w", id, err)
		}
	}
	p.History = append(p.History, annotate.Changes(p.Labels, next, stamp)...)
	p.Labels = next
	return p, nil
}

func importLabels(lib *atlas.Library, p atlas.Plate, file string) (atlas.Plate, error) {
	var size image.Point
	labels, err := reading(file, func(r io.Reader) (labels annotate.Labels, err error) {
		if strings.EqualFold(filepath.Ext(file), ".svg") {
			return annotate.ReadSVG(r)
		}
		labels, size, err = atlas.ReadLabels(r)
		return labels, err
	})
	if err != nil {
		return p, err
	}
	terms, err := shippedTerms()
	if err != nil {
		return p, err
	}
	for x := range labels.All() {
		if err := terms.Check(x); err != nil {
			return p, fmt.Errorf("%s: label %s: %w", file, x.ID, err)
		}
	}
	p, err = lib.AddLabels(p.ID, labels, size)
	if err != nil {
		return p, fmt.Errorf("%s: %w", file, err)
	}
	return p, nil
}

func exportLabels(lib *atlas.Library, p atlas.Plate, file string) error {
	terms, err := shippedTerms()
	if err != nil {
		return err
	}
	write := func(w io.Writer) error { return lib.ExportLabels(p.ID, w) }
	switch ext := strings.ToLower(filepath.Ext(file)); ext {
	case ".json":
	case ".svg":
		write = func(w io.Writer) error { return p.Labels.WriteSVG(w, p.Photo.Size.X, p.Photo.Size.Y, terms) }
	case ".csv":
		write = func(w io.Writer) error { return p.Labels.WriteCSV(w, p.Calibration, "photo", terms) }
	default:
		return misused("labels are written as .json, .svg or .csv, not %q", ext)
	}
	return writeWhole(file, write)
}
