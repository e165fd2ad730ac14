package quiz

import (
	"maps"
	"slices"
	"strings"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// System is the part of a blueprint that a structure's kind decides. Grouping by what a structure is made of is common
// practice, no source.
type System string

// The systems.
const (
	Vessels  System = "vessels"
	Nerves   System = "nerves and brain"
	Muscles  System = "muscles"
	Skeleton System = "bones and joints"
	Organs   System = "organs and spaces"
	Tissues  System = "skin, fat and lymph"
)

// Systems lists them in the order shown to people.
var Systems = []System{Organs, Vessels, Nerves, Muscles, Skeleton, Tissues}

// SystemOf is the system of a kind of structure.
func SystemOf(k annotate.Kind) System {
	switch k {
	case annotate.Vessel:
		return Vessels
	case annotate.Nerve:
		return Nerves
	case annotate.Muscle:
		return Muscles
	case annotate.Bone, annotate.Joint, annotate.Ligament:
		return Skeleton
	case annotate.Organ, annotate.Space:
		return Organs
	}
	return Tissues
}

// Candidate is a label that may be asked on one kind of picture.
type Candidate struct {
	Picture Picture
	Label   string // its id on Picture.Plate
	Donor   string
	Face    section.Face
	Plane   section.Plane
	Term    annotate.Term
	Side    annotate.Side
	Sights  []Sighting // where the picture was released before, the oldest first
	Marked  int        // how many of Sights marked or named this very label
}

// Sighting is one earlier release of the same picture.
type Sighting struct {
	Out    string    `json:"out"` // the hand-out code
	At     time.Time `json:"at"`
	Marked bool      `json:"marked"` // this very label was marked or named
	Crop   bool      `json:"crop"`   // the same part of the picture was shown
}

// Name is what the structure is called in English, with its side.
func (c Candidate) Name() string {
	return mark{label: annotate.Label{Side: c.Side}, term: c.Term}.name(English)
}

// System is the system of its structure.
func (c Candidate) System() System { return SystemOf(c.Term.Kind) }

// Seen reports whether its picture left the lab before.
func (c Candidate) Seen() bool { return len(c.Sights) > 0 }

// What names the structure regardless of the picture.
func (c Candidate) what() string { return string(c.Term.ID) + " " + c.Side.String() }

// Pool lists every label that may go into an exam, once for each kind of picture it can be asked on, in the order of
// donors, runs and faces; and the labels that may not, with the reason. For a scan cut the face must be laid in the scan
// by landmarks. exam names an exam whose own earlier releases do not count as seen, "" for none.
func (b Board) Pool(exam string) (pool []Candidate, left []LeftOut, err error) {
	seen, err := b.released(exam)
	if err != nil {
		return nil, nil, err
	}
	donors := map[string]atlas.Donor{}
	for e, err := range b.Lib.Find(atlas.Query{}) {
		if err != nil {
			return nil, nil, err
		}
		if len(e.Labels) == 0 {
			continue
		}
		p, err := b.Lib.Plate(e.Plate)
		if err != nil {
			return nil, nil, err
		}
		d, known := donors[p.Donor]
		if !known {
			if d, err = b.Lib.Donor(p.Donor); err != nil {
				return nil, nil, err
			}
			donors[p.Donor] = d
		}
		some, out := b.candidates(p, d, seen)
		pool, left = append(pool, some...), append(left, out...)
	}
	return pool, left, nil
}

// candidates are the labels of one plate.
func (b Board) candidates(p atlas.Plate, d atlas.Donor, seen record) (pool []Candidate, left []LeftOut) {
	leave := func(x annotate.Label, reason string) {
		left = append(left, LeftOut{Plate: p.ID, Label: x.ID, Name: b.nameOf(x), Reason: reason})
	}
	var plate string // why the whole face cannot be used
	if err := d.Agreement.Permits(atlas.Exam, b.now()); err != nil {
		plate = Sentence(err)
	} else if err := showable(p, true); err != nil {
		plate = Sentence(err)
	}
	for x := range p.Labels.All() {
		t, known := b.Terms.ByID(x.Term)
		reason := plate
		if reason == "" {
			reason = notAsked(x, known)
		}
		if reason != "" {
			leave(x, reason)
			continue
		}
		for _, pic := range pictures(p) {
			c := Candidate{Picture: pic, Label: x.ID, Donor: p.Donor, Face: p.Face, Plane: p.Face.Facing.Plane(), Term: t, Side: x.Side}
			c.Sights = seen.of(pic, x.ID)
			for _, s := range c.Sights {
				if s.Marked {
					c.Marked++
				}
			}
			pool = append(pool, c)
		}
	}
	return pool, left
}

// notAsked says why a label cannot be asked in an exam, "" when it can: only certain, signed labels of known structures.
func notAsked(x annotate.Label, known bool) string {
	missing := x.Missing()
	switch {
	case x.Carried:
		return "carried over, not yet checked by a person"
	case len(missing) > 0:
		return "not complete: " + strings.Join(missing, ", ") + " missing"
	case !known:
		return "its structure is not in the list of terms"
	case !x.Examinable():
		return "only certain labels go into an exam; this one is " + x.Sure.String()
	case x.Signed == nil:
		return "not signed by a second person"
	}
	return ""
}

// pictures are the ways a plate can be shown.
func pictures(p atlas.Plate) []Picture {
	out := []Picture{{Kind: FacePicture, Plate: p.ID, View: section.Bench}}
	if r := p.Registration; r != nil && r.Method != register.ByLevel && p.Calibration.Status != 0 {
		out = append(out, Picture{Kind: ScanPicture, Plate: p.ID, View: section.Scan, Series: r.Series})
	}
	return out
}

func (b Board) nameOf(x annotate.Label) string {
	if x.Term == "" {
		return "a label without a name"
	}
	t, known := b.Terms.ByID(x.Term)
	if !known {
		t = annotate.Term{Name: string(x.Term)}
	}
	return mark{label: x, term: t}.name(English)
}

// Want is one line of a blueprint: how many marked places of a kind an exam should have. Empty fields take all.
type Want struct {
	Region  string        `json:"region,omitempty"`
	System  System        `json:"system,omitempty"`
	Plane   section.Plane `json:"plane,omitempty"`
	Picture PictureKind   `json:"picture,omitempty"`
	Count   int           `json:"count"`
}

// fits reports whether a candidate belongs to a line.
func (w Want) fits(c Candidate) bool {
	plane := c.Plane
	if c.Picture.Pose != nil {
		plane = c.Picture.Facing.Plane()
	}
	return (w.Region == "" || w.Region == c.Term.Region) && (w.System == "" || w.System == c.System()) &&
		(w.Plane == section.UnknownPlane || w.Plane == plane) && (w.Picture == "" || w.Picture == c.Picture.Kind)
}

// Words names a line: "thorax, vessels, transverse plane, scan".
func (w Want) Words() string {
	var parts []string
	for _, s := range []string{w.Region, string(w.System)} {
		if s != "" {
			parts = append(parts, s)
		}
	}
	if w.Plane != section.UnknownPlane {
		parts = append(parts, w.Plane.String()+" plane")
	}
	if w.Picture != "" {
		parts = append(parts, string(w.Picture))
	}
	if len(parts) == 0 {
		return "any"
	}
	return strings.Join(parts, ", ")
}

// Cell is one line of the blueprint's table: what was wanted, what the exam has, and how many labels the lab has for it.
type Cell struct {
	Want
	Have int `json:"have"`
	Can  int `json:"can"`
}

// Gap is how many are missing, 0 when none.
func (c Cell) Gap() int { return max(0, c.Count-c.Have) }

// Cells lists every combination that the lab has labels for, as lines of a blueprint with nothing wanted yet.
func Cells(pool []Candidate) []Cell {
	can := map[Want]int{}
	for _, c := range pool {
		can[Want{Region: c.Term.Region, System: c.System(), Plane: c.Plane, Picture: c.Picture.Kind}]++
	}
	keys := slices.SortedFunc(maps.Keys(can), func(a, b Want) int { return strings.Compare(a.Words(), b.Words()) })
	out := make([]Cell, len(keys))
	for i, k := range keys {
		out[i] = Cell{Want: k, Can: can[k]}
	}
	return out
}
