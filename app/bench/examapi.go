package bench

import "sectionary/slices/section"

// StationRow is one station of the exam being built.
type StationRow struct {
	ID     string
	N      int
	Name   string // what is asked, with its side
	Words  string // where it lies and what became of it, one line
	Look   bool   // a check speaks against it, or it was sent back
	Chosen bool
}

// StationForm is the chosen station: how it is shown, what is asked, what counts as right.
type StationForm struct {
	Name             string // the structure that is marked
	ID               string
	N                int
	Where            string   // the face and how it is seen
	Checks           []string // what speaks against it, in words
	Places           []string // the marked places of the picture, by letter
	Place            int
	Questions, Asked int  // questions of the place, and which of them
	Marker           int  // pin, arrow, ring, outline
	Approach         int  // any side, left, right, above, below
	Second           bool // a second-order question
	Form             int  // by writing, choosing, pointing
	Question         string
	Answer           string
	Options          string // offered to choose from, apart by "; "
	Accepts          string // other forms that count, apart by "; "
}

// ExamInfo is what concerns the whole exam.
type ExamInfo struct {
	Title, Paper    string
	Seed            uint64
	NoTags          bool     // a person's word that pictures without a tag mask show no tag or writing
	Notes, Warnings []string // in words
}

// ExamRow is one exam of the lab.
type ExamRow struct {
	ID, Words string
	Chosen    bool
}

// AskRow is one label of the run's faces.
type AskRow struct {
	ID                        string // of the label with its face
	Name, Where, Kind, Region string
	Ready                     bool
	Why                       string // it cannot be asked
	On                        bool   // it is in the exam
}

// BlueprintRow is one kind of station: how many can be asked, are wanted and are in the exam.
type BlueprintRow struct {
	Region, System, Plane, Picture string
	There, Wanted, Actual          int
}

// FreshInfo is the finished picture looked at with fresh eyes.
type FreshInfo struct {
	N, Of    int
	Words    string // what to do, or what became of it
	Ready    bool   // the picture is there
	SentBack bool
}

// PackDraft is a study pack being prepared.
type PackDraft struct {
	Title              string
	Cuts               bool
	Asks               []string // kinds of question
	SignedOnly, NoTags bool
	Faces              []section.Face
}

// StudyInfo is the study pack that is open.
type StudyInfo struct {
	Lead              string   // title and until when, one line
	Faces             []string // in order
	At                int
	Where, Facts      string
	Names, Compare    bool
	HasScan, HasDrill bool
	Stacked           bool   // the cut of the scan stands below the face rather than beside it
	Spread            string // how the class placed the face, \"\" when nothing was read
	Known             string // the structures named on the face, one a line
}

// DrillKind is how a question is answered.
type DrillKind uint8

// The kinds: by typing, by a point on the picture, by a place on the ruler, by one of a few words.
const (
	DrillTyped DrillKind = iota
	DrillPoint
	DrillPlace
	DrillChoice
)

// DrillInfo is the question asked now.
type DrillInfo struct {
	Turn            int // counts questions of this sitting
	Lead            string
	Kind            DrillKind
	Question, Hint  string
	Choices         []string
	Placed          bool // a point or a place is set
	HasHint         bool
	Answered, Right bool
	Result, Reveal  string
	Spread          string // how the class placed it, for teachers
	Nothing         bool   // nothing is due
	HasUnseen       bool
}
