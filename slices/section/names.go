package section

import (
	"encoding"
	"fmt"
	"strings"
)

// Limb says which limb a part belongs to. The zero value is no limb.
type Limb uint8

// The limbs, by the donor's own side.
const (
	NoLimb Limb = iota
	RightUpper
	LeftUpper
	RightLower
	LeftLower
)

var limbNames = []string{"", "right-upper", "left-upper", "right-lower", "left-lower"}

// Limbs lists the four limbs.
func Limbs() []Limb { return []Limb{RightUpper, LeftUpper, RightLower, LeftLower} }

// String is the limb in lower case, as right-upper; "" for none.
func (l Limb) String() string { return nameOf(limbNames, int(l)) }

// Words is the limb as a lab says it: "right upper limb"; "" for none.
func (l Limb) Words() string {
	if l == NoLimb || int(l) >= len(limbNames) {
		return ""
	}
	return strings.ReplaceAll(l.String(), "-", " ") + " limb"
}

// Side is the side of the body the limb is on, UnknownFacing for none.
func (l Limb) Side() Facing {
	switch l {
	case RightUpper, RightLower:
		return Right
	case LeftUpper, LeftLower:
		return Left
	}
	return UnknownFacing
}

// ParseLimb reads a limb as String writes it; "" is none.
func ParseLimb(s string) (Limb, error) {
	i, err := parse(limbNames, s, "a limb (right-upper, left-upper, right-lower or left-lower)")
	return Limb(i), err
}

// A limb stands in JSON as String writes it.

func (l Limb) MarshalText() ([]byte, error)        { return []byte(l.String()), nil }
func (l *Limb) UnmarshalText(b []byte) (err error) { *l, err = ParseLimb(string(b)); return }

var _ encoding.TextUnmarshaler = (*Limb)(nil)

// limbWords are parts that lie in a limb, each with which pair of limbs it is of.
var limbWords = map[string]string{"arm": "upper", "forearm": "upper", "upperarm": "upper", "elbow": "upper", "wrist": "upper", "hand": "upper",
	"finger": "upper", "thumb": "upper", "thigh": "lower", "leg": "lower", "knee": "lower", "calf": "lower", "shin": "lower", "ankle": "lower",
	"foot": "lower", "feet": "lower", "toe": "lower", "limb": ""}

// NamesLimb reports whether the name of a part says that it is of a limb, so that one must ask which; of tells which, when
// the name says that too ("left arm").
func NamesLimb(part string) (names bool, of Limb) {
	pair, side := "", ""
	for _, w := range strings.FieldsFunc(strings.ToLower(part), func(r rune) bool { return r < 'a' || r > 'z' }) {
		switch w {
		case "left", "right":
			side = w
		case "upper", "lower":
			if pair == "" {
				pair = w
			}
		default:
			p, is := limbWords[strings.TrimSuffix(w, "s")]
			names = names || is
			if p != "" {
				pair = p // the upper or lower part of a leg is of the lower limb
			}
		}
	}
	if names && pair != "" && side != "" {
		of, _ = ParseLimb(side + "-" + pair)
	}
	return names, of
}

func (r Run) checkPiece() error {
	switch {
	case r.Limb > LeftLower:
		return fmt.Errorf("section: the run is of an unknown limb; choose right-upper, left-upper, right-lower, left-lower or none")
	case r.Half != UnknownFacing && r.Half != Left && r.Half != Right:
		return fmt.Errorf("section: a half is the left or the right one, not %s", r.Half)
	case r.Half != UnknownFacing && r.Limb != NoLimb:
		return fmt.Errorf("section: a run is of a limb or of a half, not of both")
	}
	return nil
}

// side is the side of the body on which the whole run lies, UnknownFacing when it lies on both.
func (r Run) side() Facing {
	if r.Limb != NoLimb {
		return r.Limb.Side()
	}
	return r.Half
}

// PartWords is the part with what is known of its side: "thigh (right lower limb)", "head (left half)".
func (r Run) PartWords() string {
	more := r.Limb.Words()
	if r.Half != UnknownFacing {
		more = r.Half.String() + " half"
	}
	if more == "" || strings.EqualFold(more, r.Part) {
		return r.Part
	}
	return r.Part + " (" + more + ")"
}

// DirectionWord is the word that stands beside an edge letter in this run: proximal and distal on a limb, medial and
// lateral on a limb or a half, "" where the letter says all. Proximal is superior and distal inferior in the anatomical
// position; on the right side of the body right is lateral, on the left side left is.
func (r Run) DirectionWord(f Facing) string {
	side := r.side()
	switch {
	case r.Limb != NoLimb && f == Superior:
		return "proximal"
	case r.Limb != NoLimb && f == Inferior:
		return "distal"
	case side == UnknownFacing || (f != Left && f != Right):
		return ""
	case f == side:
		return "lateral"
	}
	return "medial"
}

// Median is the face that the cut in the midline made: of a right half the left face of its innermost slab, of a left
// half the right one. ok is false for other runs, and for halves cut in another plane.
func (r Run) Median() (f Face, ok bool) {
	if r.Half == UnknownFacing || r.Plane != Sagittal || len(r.Slabs) == 0 {
		return Face{}, false
	}
	inward := r.Half.Opposite()
	inner := r.Slabs[0]
	if r.First != inward {
		inner = r.Slabs[len(r.Slabs)-1]
	}
	return Face{r.ID, inner.Number, inward}, true
}

// FaceWords says a way to look the way a lab does in this run: "upper face", on a limb "proximal face".
func (r Run) FaceWords(f Facing) string {
	if w := r.DirectionWord(f); w != "" {
		return w + " face"
	}
	return Face{Facing: f}.facingName()
}

// Name says a face of the run the way a lab does: "slab 9, upper face", "slab 2, proximal face", "slab 1, median face".
func (r Run) Name(f Face) string {
	words := r.FaceWords(f.Facing)
	if m, ok := r.Median(); ok && m.Slab == f.Slab && m.Facing == f.Facing {
		words = "median face"
	}
	return fmt.Sprintf("slab %d, %s", f.Slab, words)
}

// SeenFrom says where the viewer of a face of this run stands: "seen from below", on a limb "seen from the distal end".
func (r Run) SeenFrom(f Facing) string {
	switch w := r.DirectionWord(f); {
	case w == "":
		return f.SeenFrom()
	case f == Superior || f == Inferior:
		return "seen from the " + w + " end"
	default:
		return "seen from the " + w + " side"
	}
}

// Name says a face the way a lab does: "slab 9, upper face".
func (f Face) Name() string { return fmt.Sprintf("slab %d, %s", f.Slab, f.facingName()) }

func (f Face) facingName() string {
	word := map[Facing]string{Superior: "upper face", Inferior: "lower face", Anterior: "front face",
		Posterior: "back face", Left: "left face", Right: "right face"}[f.Facing]
	if word == "" {
		word = "face not known"
	}
	return word
}

// SeenFrom says where the viewer of a face stands: "seen from below".
func (f Facing) SeenFrom() string {
	return map[Facing]string{Superior: "seen from above", Inferior: "seen from below", Anterior: "seen from the front",
		Posterior: "seen from behind", Left: "seen from the left", Right: "seen from the right"}[f]
}
