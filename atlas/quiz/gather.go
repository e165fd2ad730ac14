package quiz

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/section"
)

// gather reads the plates and refuses what may not or cannot be handed out.
func (j *job) gather(ctx context.Context) error {
	plates, err := j.admit()
	if err != nil {
		return err
	}
	for _, p := range plates {
		if err := ctx.Err(); err != nil {
			return err
		}
		s, err := j.sheet(ctx, p)
		if err != nil {
			return err
		}
		j.sheets = append(j.sheets, s)
	}
	return nil
}

// admit reads what is known of the plates and their donors, and refuses what the agreements do not permit.
func (j *job) admit() ([]atlas.Plate, error) {
	if err := j.r.check(); err != nil {
		return nil, err
	}
	var plates []atlas.Plate
	for _, id := range j.r.Plates {
		p, err := j.lib.Plate(id)
		if errors.Is(err, atlas.ErrNotFound) {
			return nil, refusal("There is no face " + id + " in this lab.")
		}
		if err != nil {
			return nil, err
		}
		plates = append(plates, p)
		if _, known := j.donors[p.Donor]; !known {
			if j.donors[p.Donor], err = j.lib.Donor(p.Donor); err != nil {
				return nil, err
			}
		}
	}
	for _, d := range j.donors {
		if err := d.Agreement.Permits(j.r.Purpose, j.today); err != nil {
			return nil, err
		}
		if j.r.Kind == Exam { // an exam under another name is still an exam
			if err := d.Agreement.Permits(atlas.Exam, j.today); err != nil {
				return nil, err
			}
		}
	}
	return plates, nil
}

func (r Request) check() error {
	switch {
	case r.Kind != Study && r.Kind != Exam:
		return refusal(fmt.Sprintf("%q is neither a study picture nor an exam.", r.Kind))
	case r.Purpose.Words() == "":
		return refusal(fmt.Sprintf("%q is not a purpose that an agreement can name.", r.Purpose))
	case r.paper() != A4 && r.paper() != Letter:
		return refusal(fmt.Sprintf("There is no paper %q; choose A4 or Letter.", r.Paper))
	case len(r.Plates) == 0:
		return refusal("No face was chosen.")
	}
	seen := map[string]bool{}
	for _, id := range r.Plates {
		if seen[id] {
			return refusal("Face " + id + " was chosen twice.")
		}
		seen[id] = true
	}
	for _, l := range r.Languages {
		if l != English && l != Latin {
			return refusal(fmt.Sprintf("There are no names in language %q; choose en or la.", l))
		}
	}
	if _, err := needlesOf(r.Words); err != nil {
		return refusal("A word to search for is too short; chance would find it everywhere.")
	}
	return nil
}

// sheet prepares one plate, or refuses it.
func (j *job) sheet(ctx context.Context, p atlas.Plate) (*sheet, error) {
	if err := showable(p, j.r.NoTags); err != nil {
		return nil, err
	}
	run, err := j.lib.Run(p.Face.Run)
	if err != nil {
		return nil, err
	}
	marks := j.choose(p)
	if len(marks) == 0 {
		return nil, refusal(capital(run.Name(p.Face)) + ": no label can be used. " + j.why(p.ID))
	}
	m, err := j.lib.Photo(ctx, p.ID)
	if err != nil {
		return nil, err
	}
	f, err := newFaceView(p, m, j.r.View)
	if err != nil {
		return nil, err
	}
	s := &sheet{face: f, run: run, marks: marks}
	if j.r.Kind == Exam {
		all := slices.Collect(p.Labels.All())
		for i := range s.marks {
			s.look(&s.marks[i], all)
		}
	}
	return s, nil
}

// showable refuses a plate whose picture may not leave. noTags is a person's word that no tag or writing shows.
func showable(p atlas.Plate, noTags bool) error {
	name := capital(p.Face.Name())
	switch {
	case p.Face == (section.Face{}):
		return refusal("Photograph " + p.ID + " is not placed on a face yet.")
	case p.Retired:
		return refusal(name + ": this is an earlier photograph. Choose the current one.")
	case p.Photo.Mirrored && p.Mirrored == atlas.Unanswered:
		return refusal(name + ": the camera's tag says mirrored. Answer whether it is, first.")
	case p.LettersUnknown():
		return refusal(name + ": which way the picture lies is not known, so left and right cannot be told. Set the edge letters first.")
	case p.Doubtful(atlas.OnMask) && !noTags:
		return refusal(name + ": its tag mask came over from an earlier photograph. Look whether it covers the tag, and say that it is right.")
	case p.Doubtful(atlas.OnBorder) && !noTags:
		return refusal(name + ": its border came over from an earlier photograph. Look whether it is right, and say so.")
	case len(p.Border) == 0 && len(p.Mask) == 0 && !noTags:
		return refusal(name + ": a tag or writing may show. Draw the face's border or cover the tag, or look and say that there is none.")
	}
	return nil
}

// why tells the first reason for which a label of a plate was left out.
func (j *job) why(plate string) string {
	for _, x := range j.slip.LeftOut {
		if x.Plate == plate {
			return capital(x.Name) + ": " + x.Reason + "."
		}
	}
	return "Name a structure on it first."
}

// choose picks the labels of a plate that may be used and notes why others may not.
func (j *job) choose(p atlas.Plate) (marks []mark) {
	wanted, some := j.r.Labels[p.ID]
	want := map[string]bool{}
	for _, id := range wanted {
		want[id] = true
	}
	all := slices.Collect(p.Labels.All())
	for _, x := range all {
		if some && !want[x.ID] {
			continue
		}
		m := mark{label: x, term: annotate.Term{ID: x.Term, Name: string(x.Term)}}
		known := false
		if j.terms != nil {
			var t annotate.Term
			if t, known = j.terms.ByID(x.Term); known {
				m.term = t
			}
		}
		if reason := j.unusable(x, known); reason != "" {
			j.leave(p.ID, m, reason)
			continue
		}
		m.deep = tipOf(x, all)
		marks = append(marks, m)
	}
	return marks
}

func (j *job) leave(plate string, m mark, reason string) {
	name := "a label without a name"
	if m.label.Term != "" {
		name = m.name(English)
	}
	j.slip.LeftOut = append(j.slip.LeftOut, LeftOut{Plate: plate, Label: m.label.ID, Name: name, Reason: reason})
}

// unusable says why a label cannot stand on a hand-out, "" when it can.
func (j *job) unusable(x annotate.Label, known bool) string {
	missing := x.Missing()
	switch {
	case x.Carried:
		return "carried over, not yet checked by a person"
	case len(missing) > 0:
		return "not complete: " + strings.Join(missing, ", ") + " missing"
	case !known:
		return "its structure is not in the list of terms"
	case j.r.SignedOnly && x.Signed == nil:
		return "not signed by a second person"
	case j.r.Kind == Exam && !x.Examinable():
		return "only certain labels go into an exam; this one is " + x.Sure.String()
	case x.Sure == annotate.Discuss:
		return "readers disagree about it"
	}
	return ""
}
