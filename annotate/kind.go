package annotate

import "fmt"

// Kind says what a structure is made of; it picks the letter and hatch that tell outlines apart without colour.
type Kind uint8

// The kinds. Nerve takes in brain and cord, Bone takes in cartilage, Tissue skin, fat, fascia and linings.
const (
	Other Kind = iota
	Vessel
	Nerve
	Muscle
	Bone
	Organ
	Space
	Joint
	Ligament
	Tissue
	Lymph
	Part
)

var kinds = [...]struct {
	name, letter string
	hatch        int
}{
	Other: {"other", "x", 0}, Vessel: {"vessel", "v", 1}, Nerve: {"nerve", "n", 6}, Muscle: {"muscle", "m", 2},
	Bone: {"bone", "b", 5}, Organ: {"organ", "o", 4}, Space: {"space", "s", 11}, Joint: {"joint", "j", 7},
	Ligament: {"ligament", "l", 8}, Tissue: {"tissue", "t", 9}, Lymph: {"lymph", "y", 10}, Part: {"region", "r", 3},
}

// Kinds returns every kind, for key tables.
func Kinds() []Kind {
	out := make([]Kind, len(kinds))
	for i := range out {
		out[i] = Kind(i)
	}
	return out
}

func (k Kind) known() Kind {
	if int(k) < len(kinds) {
		return k
	}
	return Other
}

// Letter returns the kind's letter, drawn beside names so that kinds are told apart without colour.
func (k Kind) Letter() string { return kinds[k.known()].letter }

// String returns the kind's name.
func (k Kind) String() string { return kinds[k.known()].name }

// Hatch returns the number of the kind's hatch pattern, the same for all time: 0 none, 1 lines rising to the right,
// 2 lines falling, 3 upright lines, 4 level lines, 5 both diagonals, 6 dots, 7 squares; the same set twice as wide: 8 rising,
// 9 falling, 10 squares, 11 dots.
func (k Kind) Hatch() int { return kinds[k.known()].hatch }

// ParseKind reads a kind's name.
func ParseKind(text string) (Kind, error) {
	for i, k := range kinds {
		if k.name == text {
			return Kind(i), nil
		}
	}
	return Other, fmt.Errorf("%q is not a kind of structure", text)
}

// MarshalText writes the kind's name.
func (k Kind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// UnmarshalText reads a kind's name.
func (k *Kind) UnmarshalText(b []byte) (err error) { *k, err = ParseKind(string(b)); return err }
