package quiz

import (
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// Board is what examiners work with: the lab, the list of terms, the list of usually one-sided structures (may be nil)
// and the clock (nil is the wall clock).
type Board struct {
	Lib   *atlas.Library
	Terms *annotate.Terms
	Usual annotate.OneSided
	Now   func() time.Time
}

func (b Board) now() time.Time {
	if b.Now == nil {
		return time.Now()
	}
	return b.Now()
}

// PictureKind is what a station shows: a photograph of a face, or a cut of the scan.
type PictureKind string

// The kinds of picture.
const (
	FacePicture PictureKind = "face"
	ScanPicture PictureKind = "scan"
)

// Style is how a place is marked.
type Style string

// The styles of marker.
const (
	Pin     Style = "pin"     // a line with a round head outside the picture and a dot at its tip
	Arrow   Style = "arrow"   // a line with an arrow head at its tip
	Ring    Style = "ring"    // a circle about the tip, with a line to its letter
	Outline Style = "outline" // the outline itself, with a line to its letter
)

// Styles lists them in the order shown to people.
var Styles = []Style{Pin, Arrow, Ring, Outline}

// Approach is the side of the picture from which a marker comes.
type Approach string

// The approaches; FromAnywhere takes the nearest that keeps markers clear of each other.
const (
	FromAnywhere Approach = ""
	FromLeft     Approach = "left"
	FromRight    Approach = "right"
	FromAbove    Approach = "above"
	FromBelow    Approach = "below"
)

// Approaches lists them in the order shown to people.
var Approaches = []Approach{FromAnywhere, FromLeft, FromRight, FromAbove, FromBelow}

// Marker is how one place is marked.
type Marker struct {
	Style Style    `json:"style"`
	From  Approach `json:"from,omitempty"`
}

// Form is how a question is answered.
type Form string

// The forms.
const (
	Typed   Form = "text"    // by writing
	Choice  Form = "choice"  // by choosing one of several
	Pointed Form = "hotspot" // by pointing on the picture, which then bears no marker
)

// Forms lists them in the order shown to people.
var Forms = []Form{Typed, Choice, Pointed}

// Question is one question at a marker. Order 1 asks for the name; 2 asks to reason from it.
type Question struct {
	Order   int      `json:"order"`
	About   string   `json:"about"` // name, side, whole, neighbour, seen, own: see questionKinds
	Form    Form     `json:"form"`
	Text    string   `json:"text"`
	Answer  string   `json:"answer"`            // as the key says it
	Accept  []string `json:"accept,omitempty"`  // what else is right, when typed
	Half    []string `json:"half,omitempty"`    // what earns half the marks, when typed: the structure without its side
	Options []string `json:"options,omitempty"` // of Choice, in the order shown, the answer among them
	Marks   float64  `json:"marks"`
}

// Ask is one marked place of a station and what is asked of it. Letter is "A", "B" and so on. Plate and Label name the
// label that is the key, also when the picture is a scan cut along that face.
type Ask struct {
	Letter    string     `json:"letter"`
	Plate     string     `json:"plate"`
	Label     string     `json:"label"`
	Marker    Marker     `json:"marker"`
	Questions []Question `json:"questions"`
}

// markLetters name the marked places of a station in order: never a letter that also stands at the edge of a picture
// (A, P, S, I, L, R), or "the structure at A" could be read as the one at the front; nor O, which is read as nought.
const markLetters = "XYZTUVWBCDEFGHJKMNQ"

// markLetter is the letter of the n-th marked place of a station, n from 0.
func markLetter(n int) string { return string(markLetters[n%len(markLetters)]) }

// Marks are those of all its questions.
func (a Ask) Marks() (sum float64) {
	for _, q := range a.Questions {
		sum += q.Marks
	}
	return sum
}

// Picture says what a station shows.
type Picture struct {
	Kind  PictureKind  `json:"kind"`
	Plate string       `json:"plate"`           // the face, or the face along which the scan is cut
	View  section.View `json:"view"`            // how it is turned
	Crop  *Crop        `json:"crop,omitempty"`  // the part shown; nil shows the whole face
	Bare  bool         `json:"bare,omitempty"`  // no edge letters
	NoBar bool         `json:"noBar,omitempty"` // no scale bar
	// Of a scan cut:
	Series string       `json:"series,omitempty"`
	Window *scan.Window `json:"window,omitempty"` // nil is the window to start with
	// Pose and Facing are set when the cut does not follow the face but crosses it in another plane: the cut looks out
	// toward Facing.
	Pose   *geom.Pose     `json:"pose,omitempty"`
	Facing section.Facing `json:"facing,omitempty"`
}

// Crop is an upright part of a picture: pixels of the upright photograph, corner to corner.
type Crop struct {
	Min, Max geom.Px
}

// Station is one stop: one picture, and what is asked of it. Code is random and names its files.
type Station struct {
	Code    string  `json:"code"`
	Picture Picture `json:"picture"`
	Asks    []Ask   `json:"asks"`
	Seconds int     `json:"seconds"`
	Look    *Look   `json:"look,omitempty"` // the fresh-eyes step
}

// Marks are those of all its questions.
func (s Station) Marks() (sum float64) {
	for _, a := range s.Asks {
		sum += a.Marks()
	}
	return sum
}

// Look says that a person looked at the finished picture before release. Picture is the SHA-256 of what was looked at:
// a station that changed since was not looked at.
type Look struct {
	By      string    `json:"by"`
	At      time.Time `json:"at"`
	Picture string    `json:"picture"`
}

// Spotter is a practical exam: stations in order, with all that is needed to make the same files again.
type Spotter struct {
	ID        string     `json:"id"`
	Title     string     `json:"title"`
	Seed      uint64     `json:"seed"`
	Made      time.Time  `json:"made"`
	Paper     Paper      `json:"paper,omitempty"`
	Languages []Language `json:"languages,omitempty"`
	Blueprint []Want     `json:"blueprint,omitempty"`
	Stations  []Station  `json:"stations"`
	NoTags    bool       `json:"noTags,omitempty"`  // a person's word that pictures without border and mask show no tag
	Words     []string   `json:"words,omitempty"`   // that must not stand in any file, besides the donor codes
	Respect   string     `json:"respect,omitempty"` // the lab's own line at the foot
	Rev       int        `json:"-"`
}

// Marks are those of all stations.
func (x Spotter) Marks() (sum float64) {
	for _, s := range x.Stations {
		sum += s.Marks()
	}
	return sum
}

// ErrExam says that a stored exam cannot be read.
var ErrExam = errors.New("quiz: the exam cannot be read")

// Save keeps an exam in the library and returns it with its new revision; atlas.ErrChanged when the kept one moved on.
func (b Board) Save(x Spotter) (Spotter, error) {
	doc, err := json.Marshal(x)
	if err != nil {
		return x, fmt.Errorf("quiz: exam %s holds a number that cannot be kept: %w", x.ID, err)
	}
	kept, err := b.Lib.SaveExam(atlas.ExamDoc{ID: x.ID, Rev: x.Rev, Title: x.Title, Doc: doc})
	if err != nil {
		return x, err
	}
	x.Rev = kept.Rev
	return x, nil
}

// Load reads an exam of the library: atlas.ErrNotFound, ErrExam.
func (b Board) Load(id string) (Spotter, error) {
	kept, err := b.Lib.Exam(id)
	if err != nil {
		return Spotter{}, err
	}
	return readExam(kept)
}

// List reads all exams of the library, the last saved first.
func (b Board) List() ([]Spotter, error) {
	kept, err := b.Lib.Exams()
	if err != nil {
		return nil, err
	}
	out := make([]Spotter, len(kept))
	for i, k := range kept {
		if out[i], err = readExam(k); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// readExam reads an exam's document and refuses what cannot be an exam.
func readExam(k atlas.ExamDoc) (Spotter, error) {
	var x Spotter
	if err := json.Unmarshal(k.Doc, &x); err != nil {
		return x, fmt.Errorf("%w: %s: %w", ErrExam, k.ID, err)
	}
	if x.ID != k.ID || len(x.Stations) > mostStations {
		return x, fmt.Errorf("%w: %s", ErrExam, k.ID)
	}
	x.Rev = k.Rev
	return x, nil
}

const (
	mostStations = 200
	mostAsks     = 6 // markers on one picture
)
