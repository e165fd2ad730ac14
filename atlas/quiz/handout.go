package quiz

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/section"
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
	j := &job{lib: lib, terms: terms, r: r, today: time.Now(), donors: map[string]atlas.Donor{}}
	j.slip = Slip{Code: r.code(), Files: []File{}, LeftOut: []LeftOut{}, Notes: []string{}, LeakScan: Scan{Leaks: []Leak{}}}
	err := j.run(ctx, outDir)
	var no refusal
	var denied *atlas.Refusal
	switch {
	case errors.As(err, &no):
		j.slip.Reason = string(no)
	case errors.As(err, &denied):
		j.slip.Reason = denied.Sentence
	case errors.Is(err, ErrLeak):
		j.slip.Reason = leakSentence(j.slip.LeakScan)
	case err != nil:
		return j.slip, err
	}
	return j.slip, nil
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

func (j *job) run(ctx context.Context, outDir string) error {
	err := j.gather(ctx)
	if err == nil {
		err = j.make(ctx, outDir)
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	var no refusal
	var denied *atlas.Refusal
	if errors.As(err, &no) || errors.As(err, &denied) || errors.Is(err, ErrLeak) {
		return errors.Join(err, j.record(err))
	}
	return err
}

// gather reads the plates and refuses what may not or cannot be handed out.
func (j *job) gather(ctx context.Context) error {
	if err := j.r.check(); err != nil {
		return err
	}
	var plates []atlas.Plate
	for _, id := range j.r.Plates {
		p, err := j.lib.Plate(id)
		if errors.Is(err, atlas.ErrNotFound) {
			return refusal("There is no face " + id + " in this library.")
		}
		if err != nil {
			return err
		}
		plates = append(plates, p)
		if _, known := j.donors[p.Donor]; !known {
			if j.donors[p.Donor], err = j.lib.Donor(p.Donor); err != nil {
				return err
			}
		}
	}
	for _, d := range j.donors {
		if err := d.Agreement.Permits(j.r.Purpose, j.today); err != nil {
			return err
		}
		if j.r.Kind == Exam { // an exam under another name is still an exam
			if err := d.Agreement.Permits(atlas.Exam, j.today); err != nil {
				return err
			}
		}
	}
	for _, p := range plates {
		if err := ctx.Err(); err != nil {
			return err
		}
		s, err := j.sheet(ctx, p)
		if err != nil {
			return err
		}
		j.sheets = append(j.sheets, s)
	}
	return nil
}

func (r Request) check() error {
	switch {
	case r.Kind != Study && r.Kind != Exam:
		return refusal(fmt.Sprintf("%q is neither a study picture nor an exam.", r.Kind))
	case r.Purpose.Words() == "":
		return refusal(fmt.Sprintf("%q is not a purpose that an agreement can name.", r.Purpose))
	case r.paper() != A4 && r.paper() != Letter:
		return refusal(fmt.Sprintf("There is no paper %q; choose A4 or Letter.", r.Paper))
	case len(r.Plates) == 0:
		return refusal("No face was chosen.")
	}
	seen := map[string]bool{}
	for _, id := range r.Plates {
		if seen[id] {
			return refusal("Face " + id + " was chosen twice.")
		}
		seen[id] = true
	}
	for _, l := range r.Languages {
		if l != English && l != Latin {
			return refusal(fmt.Sprintf("There are no names in language %q; choose en or la.", l))
		}
	}
	if _, err := needlesOf(r.Words); err != nil {
		return refusal("A word to search for is too short; chance would find it everywhere.")
	}
	return nil
}

// sheet prepares one plate, or refuses it.
func (j *job) sheet(ctx context.Context, p atlas.Plate) (*sheet, error) {
	name := capital(p.Face.Name())
	switch {
	case p.Face == (section.Face{}):
		return nil, refusal("Photograph " + p.ID + " is not placed on a face yet.")
	case p.Retired:
		return nil, refusal(name + ": this is an earlier photograph. Choose the current one.")
	case p.Photo.Mirrored && p.Mirrored == atlas.Unanswered:
		return nil, refusal(name + ": the camera's tag says mirrored. Answer whether it is, first.")
	case p.LettersUnknown():
		return nil, refusal(name + ": which way the picture lies is not known, so left and right cannot be told. Set the edge letters first.")
	case len(p.Border) == 0 && len(p.Mask) == 0 && !j.r.NoTags:
		return nil, refusal(name + ": a tag or writing may show. Draw the face's border or cover the tag, or look and say that there is none.")
	}
	run, err := j.lib.Run(p.Face.Run)
	if err != nil {
		return nil, err
	}
	marks := j.choose(p)
	if len(marks) == 0 {
		return nil, refusal(name + ": no label can be used. " + j.why(p.ID))
	}
	m, err := j.lib.Photo(ctx, p.ID)
	if err != nil {
		return nil, err
	}
	f, err := newFaceView(p, m, j.r.View)
	if err != nil {
		return nil, err
	}
	s := &sheet{face: f, run: run, marks: marks}
	if j.r.Kind == Exam {
		var all []annotate.Label
		for x := range p.Labels.All() {
			all = append(all, x)
		}
		for i := range s.marks {
			s.look(&s.marks[i], all)
		}
	}
	return s, nil
}

// why tells the first reason for which a label of a plate was left out.
func (j *job) why(plate string) string {
	for _, x := range j.slip.LeftOut {
		if x.Plate == plate {
			return capital(x.Name) + ": " + x.Reason + "."
		}
	}
	return "Name a structure on it first."
}

// choose picks the labels of a plate that may be used and notes why others may not.
func (j *job) choose(p atlas.Plate) (marks []mark) {
	wanted, some := j.r.Labels[p.ID]
	want := map[string]bool{}
	for _, id := range wanted {
		want[id] = true
	}
	for x := range p.Labels.All() {
		if some && !want[x.ID] {
			continue
		}
		m := mark{label: x, term: annotate.Term{ID: x.Term, Name: string(x.Term)}}
		known := false
		if j.terms != nil {
			var t annotate.Term
			if t, known = j.terms.ByID(x.Term); known {
				m.term = t
			}
		}
		if reason := j.unusable(x, known); reason != "" {
			j.leave(p.ID, m, reason)
			continue
		}
		m.deep = x.Inside()
		marks = append(marks, m)
	}
	return marks
}

func (j *job) leave(plate string, m mark, reason string) {
	name := "a label without a name"
	if m.label.Term != "" {
		name = m.name(English)
	}
	j.slip.LeftOut = append(j.slip.LeftOut, LeftOut{Plate: plate, Label: m.label.ID, Name: name, Reason: reason})
}

// unusable says why a label cannot stand on a hand-out, "" when it can.
func (j *job) unusable(x annotate.Label, known bool) string {
	missing := x.Missing()
	switch {
	case x.Carried:
		return "carried over, not yet checked by a person"
	case len(missing) > 0:
		return "not complete: " + strings.Join(missing, ", ") + " missing"
	case !known:
		return "its structure is not in the list of terms"
	case j.r.SignedOnly && x.Signed == nil:
		return "not signed by a second person"
	case j.r.Kind == Exam && !x.Examinable():
		return "only certain labels go into an exam; this one is " + x.Sure.String()
	case x.Sure == annotate.Discuss:
		return "readers disagree about it"
	}
	return ""
}

// record writes one line for each donor concerned.
func (j *job) record(refused error) error {
	var lines []atlas.HandOut
	var codes []string
	for c := range j.donors {
		codes = append(codes, c)
	}
	sort.Strings(codes)
	if len(codes) == 0 {
		codes = []string{""}
	}
	for _, c := range codes {
		h := atlas.HandOut{ID: j.slip.Code, When: j.today, Purpose: j.r.Purpose, Donor: c, Plates: j.r.Plates, Allowed: refused == nil}
		var denied *atlas.Refusal
		switch {
		case errors.As(refused, &denied):
			h.Reason = denied.Sentence
		case errors.Is(refused, ErrLeak):
			h.Reason = leakSentence(j.slip.LeakScan)
		case refused != nil:
			h.Reason = strings.TrimPrefix(refused.Error(), "quiz: ")
		}
		for _, f := range j.slip.Files {
			h.Files = append(h.Files, f.Name+" "+f.SHA256)
		}
		lines = append(lines, h)
	}
	return j.lib.Record(lines...)
}

// draft is a file to be made: neutral name, what it is, how to write it.
type draft struct {
	name, what string
	write      func(io.Writer) error
}

// make lays out the pages, writes them where nobody looks, searches them, and only then releases them.
func (j *job) make(ctx context.Context, outDir string) error {
	drafts, err := j.layOut()
	if err != nil {
		return err
	}
	if err := os.MkdirAll(outDir, 0o755); err != nil {
		return fmt.Errorf("quiz: %w", err)
	}
	hidden, err := os.MkdirTemp(outDir, ".unreleased-")
	if err != nil {
		return fmt.Errorf("quiz: %w", err)
	}
	defer os.RemoveAll(hidden)
	var paths []string
	for _, d := range drafts {
		if err := ctx.Err(); err != nil {
			return err
		}
		path := filepath.Join(hidden, d.name)
		sum, err := writeFile(path, d.write)
		if err != nil {
			return err
		}
		paths = append(paths, path)
		j.slip.Files = append(j.slip.Files, File{Name: d.name, SHA256: sum, What: d.what})
	}
	files := j.slip.Files
	j.slip.Files = []File{}
	words := append([]string{}, j.r.Words...)
	for c := range j.donors {
		words = append(words, c)
	}
	sort.Strings(words)
	if j.slip.LeakScan, err = ScanFiles(paths, words); err != nil {
		return err
	}
	if err := j.slip.LeakScan.Err(); err != nil {
		return err
	}
	// The record comes first: a file that left unrecorded would be worse than a line without its file.
	j.slip.Files = files
	if err := j.record(nil); err != nil {
		return err
	}
	if err := release(paths, outDir); err != nil {
		return err
	}
	j.slip.Allowed = true
	return nil
}

// release moves files to where people look for them, all or none.
func release(paths []string, outDir string) error {
	var out []string
	for _, path := range paths {
		to := filepath.Join(outDir, filepath.Base(path))
		if err := os.Rename(path, to); err != nil {
			for _, done := range out {
				os.Remove(done)
			}
			return fmt.Errorf("quiz: %w", err)
		}
		out = append(out, to)
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
	var pages []*page
	var err error
	if j.r.Kind == Exam {
		pages, err = j.examPages(d)
	} else {
		for _, s := range j.sheets {
			pages = append(pages, d.studyPages(*s, s.practiceMaterial(j.donors))...)
		}
	}
	if err != nil {
		return nil, err
	}
	drafts := files(j.slip.Code, "picture", "pages", pages)
	if j.r.Kind == Exam {
		drafts = append(drafts, files(j.slip.Code+"-key", "answer key", "answer key", d.keyPages(j.sheets, j.synthetic()))...)
	}
	return drafts, nil
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
			return nil, refusal(capital(s.face.plate.Face.Name()) + ": there is no room for a marker.")
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
