// Package drill is the student's side: the study pack, one read-only file that opens without the lab's data, and the
// drill on it: recall before reveal, spaced by an openly published rule, progress kept on the student's machine
// alone. A pack knows no donor, no ledger and no exam. FORMAT.md beside this file tells what is in a pack.
package drill

import (
	"errors"
	"image"
	"strings"
	"time"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// Errors that a caller acts on.
var (
	// ErrNotAPack says that a file is no study pack at all.
	ErrNotAPack = errors.New("drill: this is not a study pack")
	// ErrNewerPack says that a later version of the program made the pack.
	ErrNewerPack = errors.New("drill: a newer version of the program made this study pack")
	// ErrDamaged says that a pack is broken; ask the lab for it again.
	ErrDamaged = errors.New("drill: the study pack is damaged; ask the lab for it again")
	// ErrExpired says that the agreement behind the pictures has ended.
	ErrExpired = errors.New("drill: this study pack has ended")
	// ErrTooLarge says that a pack claims more than any real one holds.
	ErrTooLarge = errors.New("drill: the study pack claims to be larger than any can be")
)

const (
	// Format and Version stand in every manifest.
	Format  = "sectionary study pack"
	Version = 1
	// NotForDiagnosis stands in every pack and on every picture of it.
	NotForDiagnosis = "For teaching. Not for diagnosis."
	// Day is how days are written in a pack.
	Day = "2006-01-02"
)

// Manifest is what a pack says of itself, manifest.json in the file.
type Manifest struct {
	Format    string `json:"format"`
	Version   int    `json:"version"`
	Code      string `json:"code"` // random, of this pack
	Title     string `json:"title"`
	Statement string `json:"statement"` // NotForDiagnosis
	Respect   string `json:"respect"`
	Made      string `json:"made"`    // day
	Expires   string `json:"expires"` // the last day it opens, "" when the agreements name none
	Synthetic bool   `json:"synthetic,omitempty"`
	Units     Units  `json:"units"`
	Runs      []Run  `json:"runs"`
	Faces     []Face `json:"faces"`
	// Terms are the structures named in the pack, as their list has them.
	Terms []annotate.Term `json:"terms"`
	// Asks are the kinds of question the lab chose; none means all.
	Asks []Ask `json:"asks,omitempty"`
	// Files lists every picture with its SHA-256 in hex.
	Files map[string]string `json:"files"`
}

// Units says what numbers mean, for people who read the file without the program.
type Units struct {
	Length  string `json:"length"`
	Picture string `json:"picture"`
	Depth   string `json:"depth"`
}

// PackUnits are the units of every pack.
var PackUnits = Units{Length: "mm", Picture: "px; the centre of the first pixel is 0,0; x right, y down",
	Depth: "mm from the first face of the run's first slab"}

// Run is a run's ruler: where its slabs lie, in mm from its first face. Code is neutral ("A").
type Run struct {
	Code  string         `json:"code"`
	Plane section.Plane  `json:"plane"`
	First section.Facing `json:"first"` // the end where slab 1 lies
	// Limb and Half say of which limb or half the run is; they name its faces.
	Limb   section.Limb   `json:"limb,omitempty"`
	Half   section.Facing `json:"half,omitempty"`
	Extent float64        `json:"extent"`
	Slabs  []Slab         `json:"slabs"`
	// Marks are vertebrae seen on faces of the run, for scoring by vertebral step.
	Marks []Mark `json:"marks,omitempty"`
}

// Slab is a slab's place on the ruler, mm.
type Slab struct {
	Number int     `json:"number"`
	Top    float64 `json:"top"`
	Bottom float64 `json:"bottom"`
}

// Mark says at which depth (mm) a vertebra is seen.
type Mark struct {
	Vertebra string  `json:"vertebra"` // "C1" to "S5"
	Depth    float64 `json:"depth"`
}

// Face is one cut face: an upright picture with its tags covered, and what is named on it.
type Face struct {
	Code   string         `json:"code"` // neutral, the same in every pack of the lab
	Run    string         `json:"run"`  // code
	Slab   int            `json:"slab"`
	Facing section.Facing `json:"facing"`
	Depth  float64        `json:"depth"` // mm
	// Picture names the file; Width and Height are its pixels; PerPixel is mm of face for one pixel, 0 without a scale.
	Picture    string        `json:"picture"`
	Width      int           `json:"width"`
	Height     int           `json:"height"`
	PerPixel   float64       `json:"mmPerPixel"`
	View       string        `json:"view"` // bench, scan or otherside
	Edges      section.Edges `json:"edges"`
	Vertebra   string        `json:"vertebra,omitempty"` // named on the face or read off the ruler, "" when not known
	Structures []Structure   `json:"structures"`
	Cuts       []Cut         `json:"cuts,omitempty"`
	Corrected  bool          `json:"colourCorrected,omitempty"` // by a grey patch or a colour card; tissue keeps its fixed colour
	Synthetic  bool          `json:"synthetic,omitempty"`
}

// NameOf says a face the way a lab does, in the words of its run: "slab 9, upper face", on a limb "slab 2, proximal face".
func (m Manifest) NameOf(f Face) string {
	return m.words(f.Run).Name(section.Face{Slab: f.Slab, Facing: f.Facing})
}

// SeenFrom says where the viewer of a face of that run stands who looks at facing: "seen from below".
func (m Manifest) SeenFrom(run string, facing section.Facing) string {
	return m.words(run).SeenFrom(facing)
}

// words is what names the faces of a run.
func (m Manifest) words(run string) section.Run {
	for _, r := range m.Runs {
		if r.Code == run {
			return r.words()
		}
	}
	return section.Run{}
}

func (r Run) words() section.Run {
	out := section.Run{Part: "part", Limb: r.Limb, Half: r.Half, Plane: r.Plane, First: r.First}
	for _, s := range r.Slabs {
		out.Slabs = append(out.Slabs, section.Slab{Number: s.Number})
	}
	return out
}

// Structure is one named outline on a face. Regions are pixels of the face's picture, Rings the same in mm.
type Structure struct {
	Code    string             `json:"code"`
	Term    annotate.TermID    `json:"term"`
	Side    annotate.Side      `json:"side"`
	Regions []annotate.Polygon `json:"regions"`
	Rings   [][][2]float64     `json:"mm,omitempty"` // every ring of every region, outer rings and holes in order
	Tip     geom.Px            `json:"tip"`          // the deepest place, where a marker goes
	Signed  bool               `json:"signed"`
	// Below is the code of the structure that lies at the tip's place on the next face down the run that looks the same
	// way, "" where faces are not laid in one scan or nothing is named there.
	Below string `json:"below,omitempty"`
}

// Cut is a scan cut at a face: the same grid as the face's picture, so outlines fit.
type Cut struct {
	Picture  string `json:"picture"`
	Modality string `json:"modality"` // CT, MR
	Note     string `json:"note"`     // how it was placed
}

// Expired reports whether the pack's last day has passed on a day.
func (m Manifest) Expired(today time.Time) bool {
	return m.Expires != "" && today.Format(Day) > m.Expires
}

// Run finds a run by its code.
func (m Manifest) Run(code string) (Run, bool) {
	for _, r := range m.Runs {
		if r.Code == code {
			return r, true
		}
	}
	return Run{}, false
}

// Face finds a face by its code.
func (m Manifest) Face(code string) (Face, bool) {
	for _, f := range m.Faces {
		if f.Code == code {
			return f, true
		}
	}
	return Face{}, false
}

// Term finds a structure's term; one that is not in the pack has its id for a name.
func (m Manifest) Term(id annotate.TermID) annotate.Term {
	for _, t := range m.Terms {
		if t.ID == id {
			return t
		}
	}
	return annotate.Term{ID: id, Name: string(id)}
}

// Find finds a structure of the face by its code.
func (f Face) Find(code string) (Structure, bool) {
	for _, s := range f.Structures {
		if s.Code == code {
			return s, true
		}
	}
	return Structure{}, false
}

// Words names a structure with its side: "left kidney".
func (m Manifest) Words(s Structure) string {
	name := m.Term(s.Term).Name
	if s.Side == annotate.Left || s.Side == annotate.Right {
		return s.Side.String() + " " + name
	}
	return name
}

// Matcher is what judges typed answers: the program's list of terms, with near-twins, and the pack's own behind it.
// base may be nil.
func (m Manifest) Matcher(base *annotate.Terms) (*annotate.Terms, error) {
	var b strings.Builder
	b.WriteString("id\tname\tlatin\tsynonyms\tabbreviations\tkind\tregion\tpaired\tpart_of\tfma\tsource\n")
	cell := func(s string) string { return strings.NewReplacer("\t", " ", "\n", " ", "\r", " ").Replace(s) }
	for _, t := range m.Terms {
		paired := "no"
		if t.Paired {
			paired = "yes"
		}
		cells := []string{string(t.ID), t.Name, t.Latin, strings.Join(t.Synonyms, "|"), strings.Join(t.Abbreviations, "|"), t.Kind.String(),
			t.Region, paired, string(t.PartOf), t.FMA, t.Source}
		for i := range cells {
			cells[i] = cell(cells[i])
		}
		b.WriteString(strings.Join(cells, "\t") + "\n")
	}
	own, err := annotate.LoadTerms(strings.NewReader(b.String()))
	if err != nil || base == nil {
		return own, err
	}
	return base.Join(own)
}

// Pictures hands out a pack's pictures by file name.
type Pictures interface {
	Picture(name string) (image.Image, error)
}
