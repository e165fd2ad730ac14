package atlas

import (
	"context"
	"errors"
	"image"
	"io"
	"io/fs"
	"iter"
	"time"

	"sectionary/annotate"
	"sectionary/atlas/store"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

var errSoon = errors.New("atlas: not built yet")

// Library is an open library folder. Its methods may be used from any goroutine.
type Library struct{ db *store.DB }

// Create makes a new library folder at dir, which must be empty or absent, and opens it for writing.
func Create(dir string) (*Library, error) { return nil, errSoon }

// Open opens the library folder at dir.
func Open(dir string, m Mode) (*Library, error) { return nil, errSoon }

// Close lets go of the library: the catalogue is folded into one file and the lock is taken away.
func (l *Library) Close() error { return errSoon }

// Dir is the library's folder, absolute.
func (l *Library) Dir() string { return "" }

// Mode is how the library was opened.
func (l *Library) Mode() Mode { return ReadOnly }

// AddDonor adds a donor; its code must be new. Runs and Series of d are not looked at.
func (l *Library) AddDonor(d Donor) error { return errSoon }

// SaveDonor replaces the agreement of a known donor. Runs and Series of d are not looked at.
func (l *Library) SaveDonor(d Donor) error { return errSoon }

// Donor returns one donor with its runs and series.
func (l *Library) Donor(code string) (Donor, error) { return Donor{}, errSoon }

// Donors lists every donor by code.
func (l *Library) Donors() ([]Donor, error) { return nil, errSoon }

// SaveRun adds a run (an empty ID is given one) or replaces it, and returns it as kept.
func (l *Library) SaveRun(r section.Run) (section.Run, error) { return r, errSoon }

// Run returns one run.
func (l *Library) Run(id string) (section.Run, error) { return section.Run{}, errSoon }

// Runs lists every run, the oldest first.
func (l *Library) Runs() ([]section.Run, error) { return nil, errSoon }

// AddPhoto keeps a photograph's bytes unchanged and begins its plate. A zero face is the unplaced tray, for
// which donor must be given; else donor may be "". name is only looked at for its ending.
func (l *Library) AddPhoto(ctx context.Context, f section.Face, donor, name string, r io.Reader) (Plate, error) {
	return Plate{}, errSoon
}

// Place says which face an unplaced or misplaced photograph shows.
func (l *Library) Place(id string, f section.Face) (Plate, error) { return Plate{}, errSoon }

// Unplace lays a photograph back in the tray.
func (l *Library) Unplace(id string) (Plate, error) { return Plate{}, errSoon }

// Retire keeps a photograph as an earlier one, so that its face can get a new current one.
func (l *Library) Retire(id string) (Plate, error) { return Plate{}, errSoon }

// Plate reads one plate.
func (l *Library) Plate(id string) (Plate, error) { return Plate{}, errSoon }

// PlateOf reads the current plate of a face, or ErrNotFound.
func (l *Library) PlateOf(f section.Face) (Plate, error) { return Plate{}, errSoon }

// Save replaces a plate and returns it with Rev+1; ErrChanged if the disk moved on.
func (l *Library) Save(p Plate) (Plate, error) { return p, errSoon }

// Photo decodes the original of a plate, after checking its bytes against their hash.
func (l *Library) Photo(ctx context.Context, id string) (*photo.Image, error) { return nil, errSoon }

// Preview returns the upright photograph of a plate at no more than PreviewSize pixels.
func (l *Library) Preview(ctx context.Context, id string) (image.Image, error) { return nil, errSoon }

// PreviewSize is the longer side of a preview in pixels.
const PreviewSize = 1086

// Query narrows Find; empty fields ask for nothing.
type Query struct {
	Donor, Run string
	Term       annotate.TermID
	Retired    bool // earlier photographs too
}

// Entry is one line of a listing.
type Entry struct {
	Plate, Donor       string
	Face               section.Face // zero while unplaced
	Retired, Synthetic bool
	Rev                int
	Saved              time.Time
	Labels             []EntryLabel
}

// EntryLabel is what one label names.
type EntryLabel struct {
	ID   string
	Term annotate.TermID
	Side annotate.Side
	Sure annotate.Sureness
}

// Find lists plates in order along their runs, unplaced ones last, and opens none. An error ends the listing.
func (l *Library) Find(q Query) iter.Seq2[Entry, error] { return func(func(Entry, error) bool) {} }

// AddSeries brings in every series found in files: volumes in NIfTI, no header kept, UIDs replaced. Series
// already known are returned without being stored again. skip hears of files that could not be used.
func (l *Library) AddSeries(ctx context.Context, donor string, files fs.FS, skip func(path string, err error), done func(read, total int)) ([]scan.Series, error) {
	return nil, errSoon
}

// SeriesList lists the series of a donor, of all donors when donor is "".
func (l *Library) SeriesList(donor string) ([]scan.Series, error) { return nil, errSoon }

// Volume reads one series into memory, after checking its bytes against their hash.
func (l *Library) Volume(ctx context.Context, uid string) (*scan.Volume, error) { return nil, errSoon }

// LevelTies returns the tie levels of a run in a series, or ErrNotFound.
func (l *Library) LevelTies(run, series string) (LevelTies, error) { return LevelTies{}, errSoon }

// SaveLevelTies replaces the tie levels of a run in a series.
func (l *Library) SaveLevelTies(t LevelTies) error { return errSoon }

// Match is a place to look beside a plate. Plate or Series is set. Off is mm along the plate's outward
// normal, Tilt the angle between the faces in radians. Basis says how it is known: "pose" when both lie in
// one frame of reference, "level" when only levels along runs tell.
type Match struct {
	Plate, Series string
	Pose          geom.Pose
	Off, Tilt     float64
	Basis         string
}

// Match lists at most most plates and scan cuts near a plate, the nearest first.
func (l *Library) Match(id string, most int) ([]Match, error) { return nil, errSoon }

// Permits says whether a donor's agreement allows a purpose on a day. It fails with ErrNotPermitted and the
// sentence to show, and records nothing.
func (l *Library) Permits(donor string, p Purpose, today time.Time) error { return errSoon }

// Record writes one line into the record of hand-outs and refusals.
func (l *Library) Record(h HandOut) error { return errSoon }

// HandOuts lists what left and what was refused, oldest first.
func (l *Library) HandOuts() ([]HandOut, error) { return nil, errSoon }

// Verify checks the catalogue, every document, and every original and volume against its hash. Each fault
// goes to report; the error is for not being able to look.
func (l *Library) Verify(ctx context.Context, report func(error)) error { return errSoon }

// Backup writes a copy of the catalogue under backups/ and returns its path.
func (l *Library) Backup(ctx context.Context) (string, error) { return "", errSoon }

// ImportLabels adds the labels of an exchange file to a plate and saves it. Labels with a known ID are replaced.
func (l *Library) ImportLabels(id string, r io.Reader) (Plate, error) { return Plate{}, errSoon }

// ExportLabels writes the labels of a plate as an exchange file.
func (l *Library) ExportLabels(id string, w io.Writer) error { return errSoon }
