package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"sectionary/atlas"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// laidPhoto is where one photograph of a sequence went. Face is empty and Reason says why when it did not.
type laidPhoto struct {
	File   string `json:"file"`
	Plate  string `json:"plate,omitempty"`
	Face   string `json:"face,omitempty"`
	Reason string `json:"reason,omitempty"`
}

// laySequence holds the flags of a whole sequence laid on a run in one move.
type laySequence struct {
	pattern, first, up, by string
	farEnd, look           bool
}

var patterns = map[string]section.Pattern{"two-per-cut": section.TwoPerCut, "slab-by-slab": section.SlabBySlab, "one-per-slab": section.OnePerSlab}

func layVerb(t *tool) *cobra.Command {
	var s laySequence
	c := &cobra.Command{
		Use: "lay LIB RUN FILE...", Short: "Take photographs in and lay them on the faces of a run, a whole sequence in one move",
		Args: cobra.MinimumNArgs(3),
		Long: `Take photographs in and lay them on the empty faces of a run, a whole sequence in one move. They are taken in the order
in which the camera took them; with -by given in the order in which the files are named. With -look nothing is changed:
the answer says where each would go.`,
		RunE: func(c *cobra.Command, args []string) error {
			q, up, err := s.read()
			if err != nil {
				return err
			}
			files, err := s.ordered(args[2:])
			if err != nil {
				return err
			}
			mode := atlas.ReadWrite
			if s.look {
				mode = atlas.ReadOnly
			}
			return with(args[0], mode, func(lib *atlas.Library) error {
				run, err := findRun(lib, args[1])
				if err != nil {
					return err
				}
				laid, err := layFiles(c.Context(), t, lib, run, q, up, files, s.look)
				if err != nil {
					return err
				}
				n, words := 0, ""
				for _, x := range laid {
					if x.Face != "" {
						n++
						words += x.File + ": " + x.Face + "\n"
					} else {
						words += x.File + ": " + x.Reason + "\n"
					}
				}
				return t.answer(map[string]any{"run": run.ID, "laid": n, "left": len(laid) - n, "photographs": laid}, words)
			})
		},
	}
	c.Flags().StringVar(&s.pattern, "pattern", "two-per-cut", "two-per-cut, slab-by-slab or one-per-slab")
	c.Flags().StringVar(&s.first, "first", "", "the way the first of two faces looks, or with one-per-slab the only one; left out, so that they follow the run")
	c.Flags().BoolVar(&s.farEnd, "far-end", false, "the far end of the run was photographed first")
	c.Flags().StringVar(&s.up, "up", "unknown", "the direction at the top of every upright photograph, if known")
	c.Flags().StringVar(&s.by, "by", "time", "the order: time, when the camera took them, or given, as they are named here")
	c.Flags().BoolVar(&s.look, "look", false, "say where each would go and change nothing")
	return c
}

func (s laySequence) read() (q section.Sequence, up section.Facing, err error) {
	p, known := patterns[s.pattern]
	if !known {
		return q, up, misused("-pattern takes two-per-cut, slab-by-slab or one-per-slab, not %q", s.pattern)
	}
	if s.by != "time" && s.by != "given" {
		return q, up, misused("-by takes time or given, not %q", s.by)
	}
	q = section.Sequence{Pattern: p, FarEnd: s.farEnd}
	if s.first != "" {
		if q.First, err = section.ParseFacing(s.first); err != nil {
			return q, up, misuse{err}
		}
	}
	if up, err = section.ParseFacing(s.up); err != nil {
		err = misuse{err}
	}
	return q, up, err
}

// ordered puts files in the order the camera took them, those of one time by name. A file that does not tell when it was
// taken is refused: its place would be a guess.
func (s laySequence) ordered(files []string) ([]string, error) {
	if s.by == "given" {
		return files, nil
	}
	taken := map[string]time.Time{}
	for _, file := range files {
		info, err := probe(file)
		if err != nil {
			return nil, err
		}
		if info.Taken.IsZero() {
			return nil, fmt.Errorf("%s does not tell when it was taken; -by given lays the files in the order they are named", file)
		}
		taken[file] = info.Taken
	}
	files = slices.Clone(files)
	slices.SortStableFunc(files, func(a, z string) int { return cmp.Or(taken[a].Compare(taken[z]), cmp.Compare(a, z)) })
	return files, nil
}

// layFiles takes files in one after another on the empty faces of the sequence. One that cannot be taken leaves its face
// empty, so that all after it still lie right.
func layFiles(ctx context.Context, t *tool, lib *atlas.Library, run section.Run, q section.Sequence, up section.Facing, files []string, look bool) ([]laidPhoto, error) {
	faces, err := emptyFaces(lib, run, q)
	if err != nil {
		return nil, err
	}
	if len(faces) > 0 && up != section.UnknownFacing {
		if _, _, err := section.Axes(run.Plane, faces[0].Facing, up); err != nil {
			return nil, misuse{err}
		}
	}
	report, end := t.progress("laying photographs")
	defer end()
	out := make([]laidPhoto, 0, len(files))
	for i, file := range files {
		x := laidPhoto{File: file}
		switch {
		case i >= len(faces):
			x.Reason = "no empty face is left for it"
		case look:
			x.Face = run.Name(faces[i])
		default:
			x.Plate, x.Face, x.Reason, err = layFile(ctx, lib, run, faces[i], up, file)
			if err != nil {
				return nil, err
			}
		}
		out = append(out, x)
		report(i+1, len(files))
	}
	return out, nil
}

func layFile(ctx context.Context, lib *atlas.Library, run section.Run, f section.Face, up section.Facing, file string) (plate, face, reason string, err error) {
	in, err := os.Open(file)
	if err != nil {
		return "", "", "", err
	}
	defer in.Close()
	p, err := lib.AddPhoto(ctx, f, run.Donor, file, in)
	var known *atlas.KnownPhoto
	switch {
	case errors.As(err, &known):
		return known.Plate, "", "it is in the library already, as " + known.Plate, nil
	case errors.Is(err, photo.ErrFormat) || errors.Is(err, photo.ErrDamaged) || errors.Is(err, photo.ErrTooLarge):
		return "", "", err.Error(), nil
	case err != nil:
		return "", "", "", fmt.Errorf("%s: %w", file, err)
	}
	if up != section.UnknownFacing {
		if p, err = orient(lib, p, up, atlas.Unanswered); err != nil {
			return p.ID, "", "", fmt.Errorf("%s was taken in as %s, but %w", file, p.ID, err)
		}
	}
	return p.ID, run.Name(f), "", nil
}

// emptyFaces are the faces of a sequence that have no photograph yet.
func emptyFaces(lib *atlas.Library, run section.Run, q section.Sequence) ([]section.Face, error) {
	taken := map[section.Face]bool{}
	for e, err := range lib.Find(atlas.Query{Donor: run.Donor}) {
		if err != nil {
			return nil, err
		}
		taken[e.Face] = true
	}
	return slices.DeleteFunc(q.Faces(run), func(f section.Face) bool { return taken[f] }), nil
}
