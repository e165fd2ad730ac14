// Package exchange writes a whole run as an open folder or zip file that other programs and other labs can read, and takes such a
// run into an empty lab again. FORMAT.md beside this file, and README.txt in every parcel, tell what is in it.
package exchange

import (
	"errors"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// Errors that a caller acts on.
var (
	// ErrNotOurs says that a file or folder is no run of another lab.
	ErrNotOurs = errors.New("exchange: this is not a run from another lab")
	// ErrNewer says that a later version of the program wrote it.
	ErrNewer = errors.New("exchange: a newer version of the program wrote this run")
	// ErrDamaged says that a file is missing or is not as it was written; the message names it. Nothing was taken in.
	ErrDamaged = errors.New("exchange: the run is damaged")
	// ErrTooLarge says that it claims more than any real one holds.
	ErrTooLarge = errors.New("exchange: the run claims to be larger than any can be")
)

const (
	// Format and Version stand in every manifest.
	Format  = "sectionary run"
	Version = 1
	day     = "2006-01-02"

	manifestName = "manifest.json"
	readMeName   = "README.txt"
	sumsName     = "SHA256SUMS"
)

// Manifest is manifest.json: all that is known of the run.
type Manifest struct {
	Format    string            `json:"format"`
	Version   int               `json:"version"`
	Code      string            `json:"code"` // random, of this parcel
	Statement string            `json:"statement"`
	Made      string            `json:"made"`              // day
	Expires   string            `json:"expires,omitempty"` // the last day the pictures may be used
	Purpose   atlas.Purpose     `json:"purpose"`
	Synthetic bool              `json:"synthetic,omitempty"`
	Units     map[string]string `json:"units"`
	Run       section.Run       `json:"run"` // its donor is a neutral code
	Plates    []Plate           `json:"plates"`
	// Earlier are earlier pictures of these faces, the first taken off its face first; a reader that does not know of them leaves them out.
	Earlier []Plate `json:"earlier,omitempty"`
	// LeftOut says, a sentence each, what was wished for and is not here.
	LeftOut []string           `json:"leftOut,omitempty"`
	Series  []Series           `json:"series"`
	Levels  []atlas.LevelTies  `json:"levels"`
	Terms   []annotate.Term    `json:"terms"` // those that labels name
	Labels  []LabelVolume      `json:"labelVolumes"`
	Exams   []string           `json:"exams"` // QTI packages
	Files   map[string]Content `json:"files"`
}

// Content is one file of the parcel.
type Content struct {
	SHA256 string `json:"sha256"`
	Bytes  int64  `json:"bytes"`
	What   string `json:"what"`
}

// Plate is one face with all that is known of it, but for its history and its donor.
type Plate struct {
	Name         string                 `json:"name"` // the stem of its files: "slab-009-superior"
	Face         section.Face           `json:"face"`
	Picture      string                 `json:"picture"` // upright, tags covered, nothing but pixels
	Size         [2]int                 `json:"size"`    // px
	Calibration  photo.Calibration      `json:"calibration"`
	PhotoUp      section.Facing         `json:"photoUp"`
	Mirrored     atlas.Answer           `json:"mirrored"`
	Border       []annotate.Polygon     `json:"border,omitempty"`
	Mask         []annotate.Polygon     `json:"mask,omitempty"`
	Labels       annotate.Labels        `json:"labels"` // px
	MM           []Outline              `json:"mm,omitempty"`
	Registration *register.Registration `json:"registration,omitempty"`
	Picks        *atlas.Picks           `json:"picks,omitempty"`
	Composed     *atlas.Composed        `json:"composed,omitempty"` // what the picture was made of, by the hashes of originals that stay behind
	Synthetic    bool                   `json:"synthetic,omitempty"`
	// Again is what came over from an earlier picture and waits for a person to look at it; Before is the name of that picture, where
	// it is part of the parcel, and Ties the points that both show.
	Again  []atlas.Doubt         `json:"again,omitempty"`
	Before string                `json:"before,omitempty"`
	Ties   []annotate.PictureTie `json:"ties,omitempty"`
}

// Outline is a label's outlines in mm of the face: every ring of every region, outer rings and holes in order.
type Outline struct {
	Label string         `json:"label"`
	Rings [][][2]float64 `json:"rings"`
}

// Series is a scan series: what the run's registrations and level ties refer to. File and Side are "" where the scan is left out.
type Series struct {
	UID      string      `json:"uid"`
	Modality string      `json:"modality"`
	Size     [3]int      `json:"size"`  // columns, rows, slices
	ToLPS    geom.Affine `json:"toLPS"` // column, row, slice to patient mm
	File     string      `json:"file,omitempty"`
	Side     string      `json:"side,omitempty"`
}

// LabelVolume is the labels on a scan's grid as NIfTI, and the table of its numbers.
type LabelVolume struct {
	Series string `json:"series"`
	File   string `json:"file"`
	Key    string `json:"key"`
}

var units = map[string]string{
	"length":  "mm",
	"picture": "px of the upright picture; the centre of the first pixel is 0,0; x right, y down",
	"face":    "mm on the cut face, by calibration.toMM (row-major 3x3) from px; x right, y down as the picture is viewed",
	"patient": "mm, LPS: +x to the patient's left, +y to the back, +z to the head (DICOM PS3.3 C.7.6.2.1.1)",
	"pose":    "face mm (a, b) lies at origin + scale*(a*x + b*y); x and y are unit vectors in LPS",
	"slabs":   "in order from the end named by run.first; thickness and the kerf after each in mm, 0 where not measured",
	"sides":   "left and right are the donor's",
	"nifti":   "NIfTI-1, RAS+ as the format has it",
	"times":   "UTC",
}

const readMe = `A RUN OF SLABS

For teaching. Not for diagnosis.

Every picture here shows a person who chose to give their body, or is synthetic where manifest.json says so. Keep to the purpose
and to the day that manifest.json names ("purpose", "expires").

README.txt        this text
manifest.json     all that is known, JSON in UTF-8: units and axes ("units"); the run with thickness and kerf of every slab
                  ("run"); every face with its picture, scale, outlines and place in the scan ("plates"); scan series ("series");
                  tie levels ("levels"); the structures named ("terms"); and every file with its SHA-256 and size ("files")
SHA256SUMS        the same sums, one file a line, as sha256sum -c reads them
pictures/         one upright picture a face, tags covered, nothing but pixels
outlines/         outlines of each face as GeoJSON-like JSON: px and mm rings with structure and side
tables/           slabs.csv: slabs, places and kerfs; labels-*.csv: areas and lengths of each face (RFC 4180)
handout.pdf       the faces with their names
scans/            scan series as NIfTI-1, with a JSON file of what NIfTI cannot say, where they are part of the parcel
labels/           the labels on a scan's grid as NIfTI-1, with a CSV file of what the numbers mean
exams/            exam items as IMS QTI 3.0 packages, where they are part of the parcel

Names of structures follow "terms". A label's "sure" is how sure its author was; "signed" that a second person checked it.
`
