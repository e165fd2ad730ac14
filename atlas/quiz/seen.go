package quiz

import (
	"encoding/json"
	"fmt"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
)

// warnSeen is the share of marks from released pictures above which an exam is warned of.
const warnSeen = 0.20

// shownDoc is what the record keeps of a picture besides its columns.
type shownDoc struct {
	Crop *Crop      `json:"crop,omitempty"`
	Pose *geom.Pose `json:"pose,omitempty"`
	Tip  *geom.Px   `json:"tip,omitempty"` // pixels of the upright photograph
}

// record is what left the lab before, by picture.
type record map[string][]releasedLine

type releasedLine struct {
	atlas.Shown
	doc shownDoc
}

// released reads the record. The releases of one exam itself are left out. Hand-outs from before what was shown was
// recorded count by their faces.
func (b Board) released(exam string) (record, error) {
	lines, err := b.Lib.Shown()
	if err != nil {
		return nil, err
	}
	out := record{}
	recorded := map[string]bool{}
	for _, s := range lines {
		recorded[s.Out] = true
		if exam != "" && s.Exam == exam {
			continue
		}
		x := releasedLine{Shown: s}
		if err := json.Unmarshal(s.Doc, &x.doc); err != nil {
			return nil, fmt.Errorf("%w: the record of what was shown: %w", atlas.ErrDamaged, err)
		}
		key := pictureKey(PictureKind(s.Kind), s.Plate, s.Series)
		out[key] = append(out[key], x)
	}
	old, err := b.Lib.HandOuts()
	if err != nil {
		return nil, err
	}
	for _, h := range old {
		if !h.Allowed || recorded[h.ID] {
			continue
		}
		for _, plate := range h.Plates {
			key := pictureKey(FacePicture, plate, "")
			out[key] = append(out[key], releasedLine{Shown: atlas.Shown{Out: h.ID, At: h.When, Kind: string(FacePicture), Plate: plate}})
		}
	}
	return out, nil
}

func pictureKey(k PictureKind, plate, series string) string {
	if k == FacePicture {
		series = ""
	}
	return string(k) + " " + plate + " " + series
}

// of lists the releases of a picture, one for each hand-out. Parts that do not overlap are different pictures, as are
// cuts in different planes.
func (r record) of(p Picture, label string) (out []Sighting) {
	at := map[string]int{}
	for _, x := range r[pictureKey(p.Kind, p.Plate, p.Series)] {
		if !overlap(x.doc.Crop, p.Crop) || !samePose(x.doc.Pose, p.Pose) {
			continue
		}
		i, known := at[x.Out]
		if !known {
			i = len(out)
			at[x.Out] = i
			out = append(out, Sighting{Out: x.Out, At: x.At})
		}
		out[i].Crop = out[i].Crop || sameCrop(x.doc.Crop, p.Crop)
		out[i].Marked = out[i].Marked || (x.Label != "" && x.Label == label)
	}
	return out
}

// overlap reports whether two parts of a picture share anything; nil is the whole.
func overlap(a, b *Crop) bool {
	return a == nil || b == nil || (a.Min.X < b.Max.X && b.Min.X < a.Max.X && a.Min.Y < b.Max.Y && b.Min.Y < a.Max.Y)
}

func sameCrop(a, b *Crop) bool {
	if a == nil || b == nil {
		return a == b
	}
	return *a == *b
}

func samePose(a, b *geom.Pose) bool {
	if a == nil || b == nil {
		return a == b
	}
	const near = 5 // mm and about 3 degrees: nobody would call these two pictures
	return a.Origin.Dist(b.Origin) < near && a.Outward().Dot(b.Outward()) > 0.9986
}

// shownLines are the lines that the record gets for an exam.
func shownLines(x Spotter, out string, look func(Ask) (annotate.Label, bool)) (lines []atlas.Shown, err error) {
	for _, s := range x.Stations {
		for _, a := range s.Asks {
			doc := shownDoc{Crop: s.Picture.Crop, Pose: s.Picture.Pose}
			line := atlas.Shown{Out: out, Exam: x.ID, Kind: string(s.Picture.Kind), Plate: s.Picture.Plate, Series: s.Picture.Series, Label: a.Label}
			if l, ok := look(a); ok {
				line.Term, line.Side = l.Term, l.Side
				tip := l.Inside()
				doc.Tip = &tip
			}
			if line.Doc, err = json.Marshal(doc); err != nil {
				return nil, fmt.Errorf("quiz: %w", err)
			}
			lines = append(lines, line)
		}
	}
	return lines, nil
}
