package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/atlas/quiz"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// lookLine is one thing to be looked at since the face was photographed anew.
type lookLine struct {
	Face  string          `json:"face"`
	Plate string          `json:"plate"`
	Part  atlas.DoubtPart `json:"part"`
	Label string          `json:"label,omitempty"`
	Name  string          `json:"name,omitempty"`
	Off   number          `json:"off"` // mm, null where it cannot be told
}

// againAnswer is what rephotograph prints. Errors are in mm, null where nothing can be told.
type againAnswer struct {
	Plate     string         `json:"plate"`
	Earlier   string         `json:"earlier"`
	Face      section.Face   `json:"face"`
	Kept      bool           `json:"kept"` // false for a trial
	Labels    int            `json:"labels"`
	Ties      []againTie     `json:"ties"`
	LookAgain []lookLine     `json:"lookAgain"`
	Lost      []string       `json:"lost"`     // labels that have no place on the new picture
	Unsigned  int            `json:"unsigned"` // labels to be signed again
	Scale     photo.Status   `json:"scale"`
	Spread    number         `json:"spread"` // relative, of lengths in the middle of the face
	PhotoUp   section.Facing `json:"photoUp"`
	Exams     []quiz.Use     `json:"exams"`
}

type againTie struct {
	N       int    `json:"n"`
	Error   number `json:"error"`
	Px      number `json:"px"`
	LeftOut bool   `json:"leftOut"`
}

func rephotographVerb(t *tool) *cobra.Command {
	var file, by string
	var try bool
	c := &cobra.Command{
		Use: "rephotograph LIB FACE FILE", Short: "Give a face a new picture; outlines and scale come over by ties", Args: exactly("LIB", "FACE", "FILE"),
		Long: `Give a face that has a photograph a new one. FILE is a photograph, or the code of one in the tray. -ties names a CSV file of lines
old_x,old_y,new_x,new_y: the same points of the face on both upright pictures, four or more. The old picture is kept as an earlier one with
its outlines; what a tie near it misses by more than 2 mm waits to be looked at again. -try shows what would come over and changes nothing.`,
		RunE: func(c *cobra.Command, args []string) error {
			ties, err := reading(file, pictureTies)
			if err != nil {
				return err
			}
			return t.onBoard(args[0], atlas.ReadWrite, func(b quiz.Board) error {
				old, err := findFace(b.Lib, args[1])
				if err != nil {
					return err
				}
				s, err := layAgain(c.Context(), b.Lib, old, args[2], ties, annotate.Stamp{Author: by, At: now()}, try)
				if err != nil {
					return err
				}
				a, err := answerAgain(b, s)
				if err != nil {
					return err
				}
				a.Kept = !try
				return t.answer(a, strings.Join(a.words(), "\n"))
			})
		},
	}
	c.Flags().StringVar(&file, "ties", "", "a CSV file of old_x,old_y,new_x,new_y")
	c.Flags().StringVar(&by, "by", "", "who does it")
	c.Flags().BoolVar(&try, "try", false, "show what would come over, and keep nothing of it")
	return needs(c, "ties")
}

// layAgain gives a face a new picture, from a file or from the tray; a refusal and a trial change nothing.
func layAgain(ctx context.Context, lib *atlas.Library, old atlas.Plate, name string, ties []annotate.PictureTie, by annotate.Stamp, try bool) (s atlas.Succession, err error) {
	next, err := lib.Plate(name)
	inLab := err == nil
	if errors.Is(err, atlas.ErrNotFound) {
		var f *os.File
		if f, err = os.Open(name); err != nil {
			return s, fmt.Errorf("%q is neither a file nor the code of a photograph: %w", name, err)
		}
		defer f.Close()
		_, next, _, err = atlas.ReadPicture(ctx, old.Donor, f)
	}
	if err != nil {
		return s, fmt.Errorf("%s: %w", name, err)
	}
	if id, known := lib.KnownPhoto(next.Photo.SHA256); known && !inLab {
		if next, err = lib.Plate(id); err != nil {
			return s, err
		}
		if inLab = true; next.Face != (section.Face{}) {
			return s, fmt.Errorf("%s is in the library already, as %s of %s", name, id, next.Face.Name())
		}
	}
	if s, err = old.Succeed(next, ties, by); err != nil || try {
		return s, err
	}
	if !inLab {
		if next, err = takePhoto(ctx, lib, tray, old.Donor, name); err != nil {
			return s, err
		}
		if s, err = old.Succeed(next, ties, by); err != nil {
			return s, err
		}
	}
	return lib.Keep(s)
}

// pictureTies reads the format of scale ties: two pixels for a pixel and mm.
func pictureTies(r io.Reader) ([]annotate.PictureTie, error) {
	read, err := photo.ReadTies(r)
	out := make([]annotate.PictureTie, len(read))
	for i, x := range read {
		out[i] = annotate.PictureTie{Old: x.Px, New: geom.Px(x.MM)}
	}
	return out, err
}

func answerAgain(b quiz.Board, s atlas.Succession) (a againAnswer, err error) {
	a = againAnswer{Plate: s.New.ID, Earlier: s.Old.ID, Face: s.New.Face, Labels: s.New.Labels.Len(), Ties: []againTie{}, LookAgain: lookLines(b, s.New),
		Lost: append([]string{}, s.Lost...), Unsigned: s.Unsigned, Scale: s.New.Calibration.Status, PhotoUp: s.New.PhotoUp,
		Spread: number(s.New.Calibration.ScaleSpread(s.New.MiddlePx())), Exams: []quiz.Use{}}
	for i, off := range s.Fit.Error {
		a.Ties = append(a.Ties, againTie{i + 1, number(off), number(s.Fit.Fit.Each[i]), s.Fit.LeftOut[i]})
	}
	uses, err := b.UsesOf(s.Old.ID)
	a.Exams = append(a.Exams, uses...)
	return a, err
}

func lookLines(b quiz.Board, p atlas.Plate) []lookLine {
	out := []lookLine{}
	for _, x := range p.LookAgain() {
		l := lookLine{Face: p.Face.Name(), Plate: p.ID, Part: x.Part, Label: x.Label, Off: number(math.NaN())}
		if x.Off > 0 {
			l.Off = number(x.Off)
		}
		if label, there := p.Labels.Find(x.Label); there {
			l.Name = b.Terms.NameOf(label.Term)
		}
		out = append(out, l)
	}
	return out
}

func (l lookLine) words() string {
	what := string(l.Part)
	if l.Part == atlas.OnLabel {
		what += " " + l.Label + " (" + l.Name + ")"
	}
	why := "how far off cannot be told"
	switch off := float64(l.Off); {
	case l.Part == atlas.OnMask:
		why = "the tag may lie elsewhere"
	case !math.IsNaN(off):
		why = fmt.Sprintf("%.1f mm off", off)
	}
	return l.Face + ": look again at the " + what + ": " + why
}

func (a againAnswer) words() []string {
	verb := "has the new picture"
	if !a.Kept {
		verb = "would have the new picture"
	}
	out := []string{fmt.Sprintf("%s %s %s; %s is an earlier one. %d outlines came over.", a.Face.Name(), verb, a.Plate, a.Earlier, a.Labels)}
	for _, x := range a.Ties {
		line := fmt.Sprintf("tie %d: %.1f mm off", x.N, float64(x.Error))
		if math.IsNaN(float64(x.Error)) {
			line = fmt.Sprintf("tie %d: %.1f px off", x.N, float64(x.Px))
		}
		if x.LeftOut {
			line += ", left out: the others agree without it"
		}
		out = append(out, line)
	}
	for _, l := range a.LookAgain {
		out = append(out, l.words())
	}
	if a.Unsigned > 0 {
		out = append(out, fmt.Sprintf("%d labels must be signed again", a.Unsigned))
	}
	if len(a.Lost) > 0 {
		out = append(out, "no place on the new picture: "+strings.Join(a.Lost, ", "))
	}
	for _, u := range a.Exams {
		out = append(out, "made from the earlier picture: "+u.Words())
	}
	return out
}

func lookAgainVerb(t *tool) *cobra.Command {
	var right, by string
	c := &cobra.Command{
		Use: "look-again LIB [FACE]", Short: "What came over from an earlier picture and waits for a person to look at it",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) < 1 || len(args) > 2 {
				return misused("look-again takes LIB and perhaps FACE")
			}
			return nil
		},
		Long: `List what came over from an earlier picture and waits. -right says of one thing of FACE that a person, -by, looked at it and that it is
right as it is: the id of a label, or border or mask.`,
		RunE: func(c *cobra.Command, args []string) error {
			if right != "" && (len(args) < 2 || by == "") {
				return misused("-right needs FACE, and -by: who looked")
			}
			mode := atlas.ReadOnly
			if right != "" {
				mode = atlas.ReadWrite
			}
			return t.onBoard(args[0], mode, func(b quiz.Board) error {
				if right != "" {
					if err := lookedRight(b.Lib, args[1], right, by); err != nil {
						return err
					}
				}
				lines, err := waiting(b, args[1:])
				if err != nil {
					return err
				}
				words := make([]string, len(lines))
				for i, l := range lines {
					words[i] = l.words()
				}
				if len(lines) == 0 {
					words = []string{"nothing waits to be looked at again"}
				}
				return t.answer(map[string]any{"lookAgain": lines}, strings.Join(words, "\n"))
			})
		},
	}
	c.Flags().StringVar(&right, "right", "", "what is right as it is: the id of a label, border or mask")
	c.Flags().StringVar(&by, "by", "", "who looked")
	return c
}

// waiting lists what is to be looked at on a face, or with none on all faces of the library.
func waiting(b quiz.Board, face []string) ([]lookLine, error) {
	if len(face) > 0 {
		p, err := findFace(b.Lib, face[0])
		return lookLines(b, p), err
	}
	lines := []lookLine{}
	for e, err := range b.Lib.Find(atlas.Query{}) {
		if err != nil {
			return nil, err
		}
		if e.Again == 0 {
			continue
		}
		p, err := b.Lib.Plate(e.Plate)
		if err != nil {
			return nil, err
		}
		lines = append(lines, lookLines(b, p)...)
	}
	return lines, nil
}

// lookedRight takes one thing off the list of a face.
func lookedRight(lib *atlas.Library, face, what, by string) error {
	p, err := findFace(lib, face)
	if err != nil {
		return err
	}
	for _, x := range p.LookAgain() {
		switch {
		case x.Part == atlas.OnLabel && x.Label == what:
			if p.Labels, err = p.Labels.Confirm(what, annotate.Stamp{Author: by, At: now()}); err != nil {
				return err
			}
		case x.Part != atlas.OnLabel && string(x.Part) == what:
			p = p.Looked(x.Part)
		default:
			continue
		}
		_, err = lib.Save(p)
		return err
	}
	return fmt.Errorf("%s: nothing called %q waits to be looked at again", p.Face.Name(), what)
}

func earlierVerb(t *tool) *cobra.Command {
	var current string
	c := &cobra.Command{
		Use: "earlier LIB FACE", Short: "The earlier pictures of a face; -current makes one the current picture again", Args: exactly("LIB", "FACE"),
		RunE: func(c *cobra.Command, args []string) error {
			mode := atlas.ReadOnly
			if current != "" {
				mode = atlas.ReadWrite
			}
			return with(args[0], mode, func(lib *atlas.Library) error {
				f, ok, err := parseFace(lib, args[1])
				if err == nil && !ok {
					err = misused("%q is no face; name it as run:slab:facing", args[1])
				}
				if err != nil {
					return err
				}
				list, err := lib.EarlierPhotos(f)
				if err != nil {
					return err
				}
				if current != "" {
					return exchangePictures(t, lib, list, current)
				}
				words := []string{f.Name() + " has no earlier picture"}
				for i, e := range list {
					if i == 0 {
						words = nil
					}
					words = append(words, fmt.Sprintf("%s  replaced %s, %d outlines", e.Plate, e.Saved.Format("2006-01-02"), len(e.Labels)))
				}
				if list == nil {
					list = []atlas.Entry{}
				}
				return t.answer(map[string]any{"earlier": list}, strings.Join(words, "\n"))
			})
		},
	}
	c.Flags().StringVar(&current, "current", "", "the code of an earlier picture that becomes the current one again")
	return c
}

func exchangePictures(t *tool, lib *atlas.Library, list []atlas.Entry, id string) error {
	for _, e := range list {
		if e.Plate == id {
			p, err := lib.MakeCurrent(id)
			if err != nil {
				return err
			}
			return t.tell(lib, p)
		}
	}
	return fmt.Errorf("%q is no earlier picture of this face", id)
}
