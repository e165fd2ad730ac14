package quiz

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
)

// Parcel is a set of files made elsewhere that leaves as one hand-out.
type Parcel struct {
	Purpose atlas.Purpose
	Plates  []string // what it shows, plate IDs
	Words   []string // that must stand in no file, besides the donor codes
	// Make makes the files below a folder that nobody looks at, under the parcel's random code, once the agreements were found to
	// permit it. A file's name is its path below that folder, with slashes.
	Make func(ctx context.Context, dir, code string) ([]ParcelFile, error)
	// Pack packs the finished folder into one file, "" for an open folder.
	Pack func(dir string, files []ParcelFile, w io.Writer) error
	Name string // of that one file
}

// ParcelFile is one file of a parcel and what it is, as on a slip.
type ParcelFile struct{ Name, What string }

// Refuse is an error that a slip answers with a sentence, an ErrRefused.
func Refuse(sentence string) error { return refusal(sentence) }

// Send makes, searches, notes and releases a parcel. A refusal is no error: the slip says why. Files appear in outDir only after every
// one was searched and found clean. Errors are failures to make, read, write or record, and atlas.ErrReadOnly.
func Send(ctx context.Context, lib *atlas.Library, p Parcel, outDir string) (Slip, error) {
	if lib.Mode() == atlas.ReadOnly {
		return Slip{}, atlas.ErrReadOnly
	}
	j := newJob(lib, nil, Request{Purpose: p.Purpose, Plates: p.Plates, Kind: Study, Words: p.Words})
	err := j.parcel(ctx, p, outDir)
	if reason := j.reason(err); reason != "" {
		j.slip.Reason, j.slip.Files = reason, []File{}
		return j.slip, j.record(false)
	}
	return j.slip, err
}

func (j *job) parcel(ctx context.Context, p Parcel, outDir string) error {
	if _, err := j.admit(); err != nil {
		return err
	}
	if err := os.MkdirAll(outDir, 0o755); err != nil {
		return fmt.Errorf("quiz: %w", err)
	}
	hidden, err := os.MkdirTemp(outDir, hiddenPrefix)
	if err != nil {
		return fmt.Errorf("quiz: %w", err)
	}
	defer os.RemoveAll(hidden)
	files, err := p.Make(ctx, hidden, j.slip.Code)
	if err != nil {
		return err
	}
	var drafts []draft
	if p.Pack != nil {
		drafts = []draft{{p.Name, "interchange", func(w io.Writer) error { return p.Pack(hidden, files, w) }}}
	} else {
		for _, f := range files {
			drafts = append(drafts, draft{f.Name, f.What, func(w io.Writer) error { return copyFile(w, filepath.Join(hidden, filepath.FromSlash(f.Name))) }})
		}
	}
	shown, err := j.shows()
	if err != nil {
		return err
	}
	return j.send(ctx, outDir, drafts, shown)
}

// shows is every label of the plates that leave, for the record of what was shown. What cannot be recorded does not leave.
func (j *job) shows() (out []atlas.Shown, err error) {
	for _, id := range j.r.Plates {
		p, err := j.lib.Plate(id)
		if err != nil {
			return nil, refusal("Face " + id + " cannot be read any more, so the record could not say what was shown of it. Have the lab verified.")
		}
		for x := range p.Labels.All() {
			out = append(out, atlas.Shown{Out: j.slip.Code, At: j.today, Kind: string(FacePicture), Plate: id, Label: x.ID, Term: x.Term, Side: x.Side})
		}
	}
	return out, nil
}

func copyFile(w io.Writer, path string) error {
	f, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("quiz: %w", err)
	}
	_, err = io.Copy(w, f)
	if err = errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("quiz: %w", err)
	}
	return nil
}

// WritePages writes the study pages of a request as PDF under a code, without releasing or recording anything: for a parcel that
// holds them. A face that cannot be shown is left out and comes back with the reason.
func WritePages(ctx context.Context, lib *atlas.Library, terms *annotate.Terms, r Request, code string, w io.Writer) (left []LeftOut, err error) {
	r.Kind = Study
	j := newJob(lib, terms, r)
	j.slip.Code, j.today = code, time.Now()
	plates, err := j.admit()
	if err != nil {
		return nil, err
	}
	d := newDesk(r, code)
	var pages []*page
	for _, p := range plates {
		s, err := j.sheet(ctx, p)
		if reason := Sentence(err); reason != "" {
			left = append(left, LeftOut{Plate: p.ID, Name: p.Face.Name(), Reason: reason})
			continue
		}
		if err != nil {
			return left, err
		}
		j.sheets = append(j.sheets, s)
		pages = append(pages, d.studyPages(*s, s.practiceMaterial(j.donors))...)
	}
	if len(pages) == 0 {
		return left, refusal("No face of the run can be shown.")
	}
	numberPages(pages)
	return left, writePDF(w, pages)
}
