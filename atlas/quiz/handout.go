package quiz

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
)

// codeLength is that of a hand-out code: 8 of 32 letters, a million million of them.
const codeLength = 8

// HandOut makes the files of a request in outDir. A refusal is no error: the slip says why. Both what left and
// what was refused stand in the library's record afterwards. Files appear in outDir only after every one of
// them was searched and found clean. Errors are failures to read, write or record, and atlas.ErrReadOnly.
func HandOut(ctx context.Context, lib *atlas.Library, terms *annotate.Terms, r Request, outDir string) (Slip, error) {
	if lib.Mode() == atlas.ReadOnly {
		return Slip{}, atlas.ErrReadOnly
	}
	j := newJob(lib, terms, r)
	err := j.gather(ctx)
	if err == nil {
		err = j.make(ctx, outDir)
	}
	if reason := j.reason(err); reason != "" {
		j.slip.Reason = reason
		return j.slip, j.record(false)
	}
	return j.slip, err
}

// reason is the sentence for an error that is a refusal, "" for all others.
func (j *job) reason(err error) string {
	return reasonOf(err, j.slip.LeakScan)
}

// reasonOf is the sentence for an error that is a refusal, "" for all others.
func reasonOf(err error, found Scan) string {
	if errors.Is(err, ErrLeak) {
		return leakSentence(found)
	}
	return Sentence(err)
}

// leakSentence says what was found without repeating it.
func leakSentence(s Scan) string {
	words := strings.TrimPrefix(s.Err().Error(), ErrLeak.Error()+": ")
	return "Found in the finished files: " + words + ". Nothing was released. Look at titles and names, and try again."
}

// code is random, or for a seed always the same for the same request.
func (r Request) code() string {
	if r.Seed == 0 {
		return atlas.RandomCode(codeLength)
	}
	h := sha256.New()
	fmt.Fprintf(h, "%d %s %s %s %s %q", r.Seed, r.Kind, r.Purpose, r.View, r.paper(), r.Plates)
	return atlas.CodeOf(h.Sum(nil), codeLength)
}

func (r Request) paper() Paper {
	if r.Paper == "" {
		return A4
	}
	return r.Paper
}

// job is one hand-out being made.
type job struct {
	lib    *atlas.Library
	terms  *annotate.Terms
	r      Request
	today  time.Time
	slip   Slip
	donors map[string]atlas.Donor
	sheets []*sheet
}

func newJob(lib *atlas.Library, terms *annotate.Terms, r Request) *job {
	return &job{lib: lib, terms: terms, r: r, today: time.Now(), donors: map[string]atlas.Donor{},
		slip: Slip{Code: r.code(), Files: []File{}, LeftOut: []LeftOut{}, Notes: []string{}, LeakScan: Scan{Leaks: []Leak{}}}}
}

// record writes one line for each donor concerned.
func (j *job) record(allowed bool) error {
	codes := slices.Sorted(maps.Keys(j.donors))
	if len(codes) == 0 {
		codes = []string{""}
	}
	if allowed {
		if err := j.lib.AddShown(j.shown()...); err != nil {
			return err
		}
	}
	var lines []atlas.HandOut
	for _, c := range codes {
		h := atlas.HandOut{ID: j.slip.Code, When: j.today, Purpose: j.r.Purpose, Donor: c, Plates: j.r.Plates, Allowed: allowed, Reason: j.slip.Reason}
		for _, f := range j.slip.Files {
			h.Files = append(h.Files, f.Name+" "+f.SHA256)
		}
		lines = append(lines, h)
	}
	return j.lib.Record(lines...)
}

// shown is what the pictures of a hand-out mark or name, for the guard against pictures seen before.
func (j *job) shown() (lines []atlas.Shown) {
	for _, s := range j.sheets {
		for _, m := range s.marks {
			lines = append(lines, atlas.Shown{Out: j.slip.Code, At: j.today, Kind: string(FacePicture), Plate: s.face.plate.ID,
				Label: m.label.ID, Term: m.label.Term, Side: m.label.Side})
		}
	}
	return lines
}

// draft is a file to be made: neutral name, what it is, how to write it.
type draft struct {
	name, what string
	write      func(io.Writer) error
}

// make lays out the pages and releases them.
func (j *job) make(ctx context.Context, outDir string) error {
	drafts, err := j.layOut()
	if err != nil {
		return err
	}
	return j.send(ctx, outDir, drafts, nil)
}

// send publishes drafts and notes them on the slip, in the record and, if they show structures, among what was shown.
func (j *job) send(ctx context.Context, outDir string, drafts []draft, shown []atlas.Shown) (err error) {
	words := append(slices.Sorted(maps.Keys(j.donors)), j.r.Words...)
	p := publication{dir: outDir, today: j.today, drafts: drafts, words: words, record: func(files []File) error {
		j.slip.Files = files
		if err := j.record(true); err != nil || len(shown) == 0 {
			return err
		}
		return j.lib.AddShown(shown...)
	}}
	j.slip.LeakScan, err = p.publish(ctx)
	j.slip.Allowed = err == nil
	if errors.Is(err, ErrLeak) {
		j.slip.Files = []File{}
	}
	return err
}

// publication is a set of files on its way out.
type publication struct {
	dir    string
	today  time.Time
	drafts []draft
	words  []string             // that must stand in none of them
	search func([]string) error // another look at the finished files, by their paths; nil for none
	record func([]File) error   // notes what leaves
}

// publish writes the files where nobody looks, searches them, and only then records and releases them.
func (p publication) publish(ctx context.Context) (found Scan, err error) {
	found = Scan{Leaks: []Leak{}}
	if err := os.MkdirAll(p.dir, 0o755); err != nil {
		return found, fmt.Errorf("quiz: %w", err)
	}
	if err := sweep(p.dir, p.today); err != nil {
		return found, err
	}
	hidden, err := os.MkdirTemp(p.dir, hiddenPrefix)
	if err != nil {
		return found, fmt.Errorf("quiz: %w", err)
	}
	defer os.RemoveAll(hidden)
	var files []File
	var paths []string
	for _, d := range p.drafts {
		if err := ctx.Err(); err != nil {
			return found, err
		}
		path := filepath.Join(hidden, filepath.FromSlash(d.name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return found, fmt.Errorf("quiz: %w", err)
		}
		sum, err := writeFile(path, d.write)
		if err != nil {
			return found, err
		}
		paths = append(paths, path)
		files = append(files, File{Name: d.name, SHA256: sum, What: d.what})
	}
	if found, err = ScanFiles(paths, p.words); err != nil {
		return found, err
	}
	if err := found.Err(); err != nil {
		return found, err
	}
	if p.search != nil {
		if err := p.search(paths); err != nil {
			return found, err
		}
	}
	// The record comes first: a file that left unrecorded would be worse than a line without its file.
	if err := p.record(files); err != nil {
		return found, err
	}
	return found, release(hidden, p.drafts, p.dir)
}

// hiddenPrefix begins the names of folders with files that were not searched yet.
const hiddenPrefix = ".unreleased-"

// sweep takes away what a killed hand-out left unreleased. Another may be at work, so only old folders go.
func sweep(dir string, now time.Time) error {
	there, err := os.ReadDir(dir)
	if err != nil {
		return fmt.Errorf("quiz: %w", err)
	}
	for _, e := range there {
		info, err := e.Info()
		if err == nil && e.IsDir() && strings.HasPrefix(e.Name(), hiddenPrefix) && now.Sub(info.ModTime()) > time.Hour {
			if err := os.RemoveAll(filepath.Join(dir, e.Name())); err != nil {
				return fmt.Errorf("quiz: %w", err)
			}
		}
	}
	return nil
}

// release moves files to where people look for them, all or none.
func release(hidden string, drafts []draft, outDir string) error {
	var out []string
	move := func(name string) error {
		name = filepath.FromSlash(name)
		to := filepath.Join(outDir, name)
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			return err
		}
		if err := os.Rename(filepath.Join(hidden, name), to); err != nil {
			return err
		}
		out = append(out, to)
		if folder := filepath.Dir(to); folder != filepath.Clean(outDir) {
			return os.Chtimes(folder, Neutral, Neutral)
		}
		return nil
	}
	for _, d := range drafts {
		if err := move(d.name); err != nil {
			for _, done := range out {
				os.Remove(done)
			}
			return fmt.Errorf("quiz: %w", err)
		}
	}
	return nil
}

// writeFile writes one file, gives it the neutral time and returns its SHA-256.
func writeFile(path string, write func(io.Writer) error) (string, error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return "", fmt.Errorf("quiz: %w", err)
	}
	sum := sha256.New()
	err = errors.Join(write(io.MultiWriter(f, sum)), f.Sync(), f.Close())
	if err == nil {
		err = os.Chtimes(path, Neutral, Neutral)
	}
	if err != nil {
		return "", fmt.Errorf("quiz: %w", err)
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// layOut makes the pages and names the files they go into.
func (j *job) layOut() ([]draft, error) {
	d := newDesk(j.r, j.slip.Code)
	pages, err := j.pages(d)
	if err != nil {
		return nil, err
	}
	drafts := files(j.slip.Code, "picture", "pages", pages)
	if j.r.Kind == Exam {
		drafts = append(drafts, files(j.slip.Code+"-key", "answer key", "answer key", d.keyPages(j.sheets, j.synthetic()))...)
	}
	return drafts, nil
}

// pages lays out all pages but the answer key.
func (j *job) pages(d desk) (pages []*page, err error) {
	if j.r.Kind == Exam {
		return j.examPages(d)
	}
	for _, s := range j.sheets {
		pages = append(pages, d.studyPages(*s, s.practiceMaterial(j.donors))...)
	}
	return pages, nil
}

func (j *job) synthetic() bool {
	for _, s := range j.sheets {
		if s.practiceMaterial(j.donors) {
			return true
		}
	}
	return false
}

// examPages lays out the exam, its markers numbered through.
func (j *job) examPages(d desk) (pages []*page, err error) {
	seed := j.r.Seed
	if seed == 0 {
		sum := sha256.Sum256([]byte(j.slip.Code))
		seed = binary.BigEndian.Uint64(sum[:])
	}
	next := 1
	for i, s := range j.sheets {
		p, left := d.examPage(s, next, seed>>(uint(i)%64)&1 == 1, s.practiceMaterial(j.donors))
		for _, m := range left {
			j.leave(s.face.plate.ID, m, "no room for its marker")
		}
		if len(s.marks) == 0 {
			return nil, refusal(capital(s.run.Name(s.face.plate.Face)) + ": there is no room for a marker.")
		}
		next += len(s.marks)
		pages = append(pages, p)
		for _, m := range s.marks {
			for _, n := range m.notes {
				j.slip.Notes = append(j.slip.Notes, fmt.Sprintf("Marker %d, %s: %s.", m.n, m.name(English), n))
			}
		}
	}
	if note := unsignedNote(j.sheets); note != "" {
		j.slip.Notes = append(j.slip.Notes, note)
	}
	for _, p := range pages {
		for _, s := range j.sheets {
			if answer := cue(p, s.marks); answer != "" {
				return nil, refusal("The words on the page give an answer away: " + answer + ". Change the title.")
			}
		}
	}
	return pages, nil
}

// files names the files of a set of pages: one PDF and a PNG for each page.
func files(stem, picture, whole string, pages []*page) []draft {
	numberPages(pages)
	out := []draft{{stem + ".pdf", whole, func(w io.Writer) error { return writePDF(w, pages) }}}
	for i, p := range pages {
		out = append(out, draft{fmt.Sprintf("%s-%d.png", stem, i+1), picture, p.writePNG})
	}
	return out
}
