package bench

import (
	"image"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// LabInfo tells about the open lab.
type LabInfo struct {
	Open, ReadOnly, Synthetic bool
	Dir, Name                 string
	Runs, Unplaced            int
}

// NewRun is what beginning a run asks. Dir is the folder of the lab, used when no lab is open.
type NewRun struct {
	Dir, Donor, Part string
	Limb             section.Limb   // which limb the part is of
	Half             section.Facing // which half of what was cut in the midline
	Plane            section.Plane
	First            section.Facing // the end where slab 1 lies
	Thickness, Kerf  float64        // planned, mm
	Slabs            int            // ghost slabs to lay at once
	Permitted        []atlas.Purpose
}

// RunInfo is one run of the open lab.
type RunInfo struct {
	ID, Donor, Part string
	Plane           section.Plane
	Slabs, Photos   int
	Synthetic       bool
	Words           string // one line to show
}

// FaceInfo tells what is known of one face of the run.
type FaceInfo struct {
	Name      string  // "slab 9, upper face"
	Depth, SE float64 // mm from the datum, standard error
	PlateID   string  // "" without a photograph
	Photo     bool
	Scale     bool
	Letters   bool // side and top declared
	Paired    bool
	Labels    int
	Words     string // one line to show
	Unlike    string // in which way it is unlike both its neighbours, "" when it is not
}

// TrayPhoto is a photograph not yet laid on a face. Preview is nil until it is read. ID is "" while it is being taken in.
type TrayPhoto struct {
	ID, Words string
	Taken     time.Time // zero when not known
	Same      int       // number of the print taken at the very same time just before, 0 when none: the order is a guess
	Preview   *image.RGBA
	Sharp     bool   // Preview is of the photograph itself, not the small copy the camera laid in
	Mirrored  bool   // the camera's tag says mirrored, and nobody has answered yet
	Advice    string // what the picture check found and what to change at the stand, a line each; "" when nothing

	key    string      // names the print for this sitting, before it has an ID too
	at     int         // its place among prints of the same time
	size   image.Point // of the photograph
	marked bool        // the preview carries the marks of the check
}

// SeriesInfo is one scan series of the open lab.
type SeriesInfo struct {
	UID, Words string
	Warnings   []string
	Chosen     bool
	Unoriented bool
}

// SurveyRow is one series found in a folder that was added, to be taken or left.
type SurveyRow struct {
	UID, Words string
	Warnings   []string
	Usable     bool
}

// Tool is what a click on the face does.
type Tool uint8

// The tools of the side rail.
const (
	ToolPan Tool = iota
	ToolScale
	ToolAxes
	ToolOutline
	ToolName
	ToolMeasure
	ToolMask
	ToolColour
	ToolBorder
)

// SavedState tells whether all is on disk. Words is "Saved", "Saving…", "Not saved: …" or "".
type SavedState struct {
	Words  string
	Unsafe bool // there is something that is not on disk yet
	Failed bool
}

// ScaleMode is how a scale is laid.
type ScaleMode uint8

// Two ticks of a ruler, the four corners of a plate, or a chequer sheet found in the picture.
const (
	TwoTicks ScaleMode = iota
	FourCorners
	ChequerSheet
)

// ScaleDraft is a scale being laid. Lengths are mm.
type ScaleDraft struct {
	Mode          ScaleMode
	Points        []geom.Px // clicked so far
	Length        float64   // between the two ticks
	Width, Height float64   // of the plate, along the first and second side clicked
	Level         atlas.Answer
	Drop, Camera  float64     // plate below the face, camera above the face
	Ruler         *FoundRuler // a suggestion that lies on the picture, nil without one
	Sheet         []photo.Tie // corners of a chequer sheet found in the picture, to be looked over
	Needs         string      // what to do next, in words
	Fit           string      // mm per pixel and error once it can be told
	Problem       string      // why it cannot be accepted
	Ready         bool
}

// LabelRow is one label of the face.
type LabelRow struct {
	ID, Name, Latin, Letter, Kind string
	Side                          annotate.Side
	Sure                          annotate.Sureness
	Carried, Signed, Chosen       bool
	Area                          string // "12.4 cm²", or "no scale"
	Missing                       string // what it still needs, in words
	Warning                       string // the side sentinel's words
}

// TermRow is one structure found while typing.
type TermRow struct {
	ID                        annotate.TermID
	Name, Latin, Letter, Kind string
	Paired                    bool
	Sides                     []annotate.Side // that may be chosen
	Suggested                 annotate.Side   // from where the chosen outline lies
}

// TieRow is one landmark found on both, the worst first.
type TieRow struct {
	N           int     // its number in both pictures, from 1
	Residual    float64 // mm
	LeaveOneOut float64 // mm; NaN below four ties
	Suspect     bool
	Note        string // what was picked
	Words       string
}

// PresetRow is a window by tissue and the key that chooses it.
type PresetRow struct {
	Key, Name string
	Window    scan.Window
	Chosen    bool // the window shown now
}

// HandOutKind is what leaves the lab.
type HandOutKind uint8

// A study picture carries names; an exam picture carries numbers, its key is another file.
const (
	Study HandOutKind = iota
	Exam
)

// Draft is a hand-out being prepared.
type Draft struct {
	Purpose   atlas.Purpose
	Kind      HandOutKind
	Faces     []section.Face // of the chosen run, in order
	Languages []string       // of names: "English", "Latin"
	Title     string
	Paper     string // "A4" or "Letter"
	View      section.View
	// NoTags is the person's word that pictures without a tag mask show no tag or writing; SignedOnly leaves out
	// labels no second person has signed.
	NoTags, SignedOnly bool
}

// Slip tells what was handed out.
type Slip struct {
	Code  string
	Dir   string
	Files []string
	Words string
}

// Command is one thing the program can do: one table feeds menus, rail, keyboard and tips.
type Command struct {
	ID      string
	Label   string
	Key     string // as Key takes it: "S", "Ctrl+Z", "Shift+Up", "F9", "" for none
	Group   string // "run", "face", "tool", "view", "scan", "edit", "lab", "go"
	Enabled bool
	Why     string // why it is not, in words
	Run     func()
}
