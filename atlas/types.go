// Package atlas is the library folder of one lab: donors and their agreements, runs, plates (one face with
// all that is known of it), scan series, and what was handed out. It keeps originals unchanged, saves plates
// whole, refuses stale writes and can verify itself. The folder is described in FORMAT.md beside this file.
package atlas

import (
	"errors"
	"fmt"
	"time"

	"sectionary/annotate"
	"sectionary/atlas/store"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// Errors that a caller acts on. Those of the catalogue are package store's own.
var (
	// ErrLocked says that another program holds the library for writing; it can still be opened ReadOnly.
	ErrLocked = errors.New("atlas: the lab is open elsewhere")
	// ErrShare says that a folder lies on a network share, where a library cannot be kept.
	ErrShare = errors.New("atlas: a lab must lie on a local disk")
	// ErrReadOnly says that a library opened for reading was asked to change.
	ErrReadOnly = errors.New("atlas: the lab is open for reading only")
	// ErrKnownPhoto says that the same bytes are already in the library; a *KnownPhoto tells where.
	ErrKnownPhoto = errors.New("atlas: this photograph is already in the lab")
	// ErrUnplaced says that a photograph must first be placed on a face.
	ErrUnplaced = errors.New("atlas: this photograph is not placed on a face yet")
	// ErrNotPermitted says that the donor's agreement does not record the purpose, or has ended; a *Refusal
	// carries the sentence.
	ErrNotPermitted = errors.New("atlas: not permitted by the donor's agreement")
	// ErrDamaged says that stored bytes do not match their hash, or cannot be read.
	ErrDamaged = errors.New("atlas: a stored file is damaged")
	// ErrLabels says that a file of labels cannot be taken in.
	ErrLabels = errors.New("atlas: these labels cannot be taken in")

	// ErrNotFound says that the library holds no such donor, run, face, photograph or series.
	ErrNotFound = store.ErrNotFound
	// ErrChanged says that the plate on disk has moved on since this copy was read.
	ErrChanged = store.ErrChanged
	// ErrFaceTaken says that a face already has a current photograph.
	ErrFaceTaken = store.ErrFaceTaken
	// ErrExists says that the name is taken already.
	ErrExists = store.ErrExists
	// ErrInUse says that something is still referred to, or refers to what is not there.
	ErrInUse = store.ErrInUse
	// ErrLost says that another program has taken the library over; nothing more can be written here.
	ErrLost = store.ErrLost
	// ErrSameAgreement says that an agreement was to last longer without a new reference.
	ErrSameAgreement = store.ErrSameAgreement
	// ErrFull says that the disk is full; nothing was changed.
	ErrFull = store.ErrFull
	// ErrDisk says that the disk failed or cannot be written; nothing was changed.
	ErrDisk = store.ErrDisk
	// ErrNewer says that a later version of the program made the library.
	ErrNewer = store.ErrNewer
	// ErrNotOurs says that the catalogue is not one of ours, or is damaged.
	ErrNotOurs = store.ErrNotOurs
)

// Mode is how a library is opened.
type Mode uint8

// The modes. A student's study pack is opened ReadOnly.
const (
	ReadWrite Mode = iota
	ReadOnly
)

// Answer is a person's answer to a question that may still be open.
type Answer uint8

// The answers.
const (
	Unanswered Answer = iota
	Yes
	No
)

var answerNames = []string{"unanswered", "yes", "no"}

func (a Answer) String() string {
	if int(a) < len(answerNames) {
		return answerNames[a]
	}
	return answerNames[Unanswered]
}

// MarshalText writes the word.
func (a Answer) MarshalText() ([]byte, error) { return []byte(a.String()), nil }

// UnmarshalText reads the word.
func (a *Answer) UnmarshalText(text []byte) error {
	for i, n := range answerNames {
		if n == string(text) {
			*a = Answer(i)
			return nil
		}
	}
	return fmt.Errorf("atlas: %q is not unanswered, yes or no", text)
}

// Plate is one face with all that is known of it: one document, saved whole. ID is the library's own.
type Plate struct {
	ID          string            `json:"id"`
	Donor       string            `json:"donor"`
	Face        section.Face      `json:"face"` // zero while the photograph is unplaced
	Photo       photo.Info        `json:"photo"`
	Calibration photo.Calibration `json:"calibration"`
	// PhotoUp is the patient direction at the top of the upright photograph.
	PhotoUp section.Facing `json:"photoUp"`
	// Mirrored is asked when the camera's tag holds a mirror; while Unanswered then, edge letters read "?".
	// Yes means that the upright picture shows the face mirrored and is un-mirrored wherever it is used.
	Mirrored Answer             `json:"mirrored"`
	Border   []annotate.Polygon `json:"border,omitempty"` // the face's own outer border
	Mask     []annotate.Polygon `json:"mask,omitempty"`   // boxes over tags, filled in every hand-out
	// Colour is the change that makes its colours those of the grey patch or card, nil when none was measured. The
	// original keeps its own.
	Colour       *photo.Correction      `json:"colour,omitempty"`
	Labels       annotate.Labels        `json:"labels"`
	History      []annotate.Change      `json:"history,omitempty"` // of the labels, the oldest first; stays in the lab
	Second       *Reading               `json:"second,omitempty"`  // by a second reader; counts nowhere and stays in the lab
	Registration *register.Registration `json:"registration,omitempty"`
	// Picks are landmarks that do not lay the face yet: fewer than three, and no level tied.
	Picks     *Picks    `json:"picks,omitempty"`
	Again     []Doubt   `json:"again,omitempty"`     // came over from an earlier photograph; see LookAgain for what still waits
	Earlier   *Earlier  `json:"earlier,omitempty"`   // the photograph of this face that came before, and the ties between both
	Composed  *Composed `json:"composed,omitempty"`  // of which pictures this one was made, nil for one that was taken
	Retired   bool      `json:"retired,omitempty"`   // kept, but no longer the face's current picture
	Synthetic bool      `json:"synthetic,omitempty"` // practice material, said on every picture
	Rev       int       `json:"rev"`
	Saved     time.Time `json:"saved"`
}

// Reading is what a second reader outlined on a face without seeing the first reader's outlines. None of it is a label of the
// face: lists, hand-outs, exams and exchange files know nothing of it.
type Reading struct {
	Reader  string            `json:"reader"`
	Begun   time.Time         `json:"begun"`
	Ended   time.Time         `json:"ended,omitzero"` // zero while it is being drawn
	Labels  annotate.Labels   `json:"labels"`
	History []annotate.Change `json:"history,omitempty"`
}

// Picks are landmarks found on a face and in one scan series.
type Picks struct {
	Series string         `json:"series"`
	Ties   []register.Tie `json:"ties"`
}

// Donor is known by a lab code and little else.
type Donor struct {
	Code      string        `json:"code"`
	Agreement Agreement     `json:"agreement"`
	Runs      []section.Run `json:"runs"`
	Series    []string      `json:"series"` // UIDs
	Synthetic bool          `json:"synthetic,omitempty"`
}

// Purpose is a use that an agreement may permit.
type Purpose string

// The purposes, one by one; not recorded means no.
const (
	Teaching         Purpose = "teaching"
	Exam             Purpose = "exam"
	OtherInstitution Purpose = "other-institution"
	Research         Purpose = "research"
	Publication      Purpose = "publication"
	PublicWeb        Purpose = "public-web"
	SocialMedia      Purpose = "social-media"
	Display          Purpose = "display"
	Commercial       Purpose = "commercial"
)

// Purposes lists every purpose in the order shown to people.
var Purposes = []Purpose{Teaching, Exam, OtherInstitution, Research, Publication, PublicWeb, SocialMedia, Display, Commercial}

// Agreement is what the donor agreed to. Ends is the day by which everything goes back, zero if not recorded.
type Agreement struct {
	Reference string           `json:"reference"`
	Ends      time.Time        `json:"ends"`
	Permitted map[Purpose]bool `json:"permitted"`
	ChangedBy string           `json:"changedBy"` // who may change it, as the lab says it
	// AfterReturn says what becomes of pictures once the donor went back.
	AfterReturn AfterReturn `json:"afterReturn,omitempty"`
	// Returned is the day the last piece went back, zero while anything is here. It follows from the ledger.
	Returned time.Time `json:"returned,omitzero"`
}

// AfterReturn is what an agreement says of pictures once everything of the donor went back.
type AfterReturn string

// What an agreement may say; nothing recorded withdraws them from hand-outs.
const (
	NotRecorded      AfterReturn = ""
	KeepPictures     AfterReturn = "keep"
	WithdrawPictures AfterReturn = "withdraw"
)

// LevelTies are the tie levels of one run in one series: places of the run declared the same as places of
// the scan. SameBody is false when scan and slabs come from different people, so that pairing is by level only.
type LevelTies struct {
	Run      string           `json:"run"`
	Series   string           `json:"series"`
	Levels   []register.Level `json:"levels"`
	SameBody bool             `json:"sameBody"`
	// Centre is where the middle of the faces lies across the scan, LPS mm (the part along the run is not used).
	Centre geom.LPS `json:"centre"`
	// Spine is the donor's vertebral column as counted on this series; nil while nothing is marked.
	Spine *register.Spine `json:"spine,omitempty"`
}

// HandOut is one line of the record of what left the lab, or was refused.
type HandOut struct {
	ID      string    `json:"id"` // random code printed on the hand-out
	When    time.Time `json:"when"`
	Purpose Purpose   `json:"purpose"`
	Donor   string    `json:"donor"`
	Plates  []string  `json:"plates"`
	Allowed bool      `json:"allowed"`
	Reason  string    `json:"reason,omitempty"`
	Files   []string  `json:"files,omitempty"` // base name and SHA-256
}
