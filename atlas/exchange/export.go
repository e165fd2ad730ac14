package exchange

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/atlas/quiz"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// Request is a wish to hand a run to another lab.
type Request struct {
	Run     string
	Purpose atlas.Purpose // atlas.OtherInstitution, or atlas.Teaching within the house
	Zip     bool          // one zip file, not an open folder
	// WholePictures leaves what lies outside the faces' borders in the pictures; tags are covered all the same. Only where the agreement
	// permits research, the widest use of pictures it can name. Files as they came from the camera never leave.
	WholePictures bool
	Scans         bool     // the voxels of the scans the run is laid in
	Exams         []string // exams to go along, by id; the agreement must permit exams
	Earlier       bool     // earlier pictures of the faces too, with their outlines as they were
	NoTags        bool     // a person's word that pictures without border and tag mask show no tag or writing
	Words         []string // further words that must stand in no file
}

const pictureQuality = 93

// Export writes a run into outDir, as a folder or as one zip file. As with every hand-out a refusal is no error: the slip says why; what
// left or was refused is noted; and files appear only after all were searched and found clean. done (may be nil) hears how far it has come.
func Export(ctx context.Context, lib *atlas.Library, terms *annotate.Terms, r Request, outDir string, done func(done, total int)) (quiz.Slip, error) {
	if done == nil {
		done = func(int, int) {}
	}
	run, err := lib.Run(r.Run)
	if err != nil {
		return quiz.Slip{}, err
	}
	x := &export{lib: lib, terms: terms, r: r, done: done, run: run}
	p := quiz.Parcel{Purpose: r.Purpose, Words: r.Words, Make: x.make}
	for e, err := range lib.Find(atlas.Query{Run: run.ID}) {
		if err != nil {
			return quiz.Slip{}, err
		}
		p.Plates = append(p.Plates, e.Plate)
	}
	x.plates = p.Plates
	if r.Zip {
		p.Pack, p.Name = pack, "run.zip"
	}
	return quiz.Send(ctx, lib, p, outDir)
}

// export is one run being written.
type export struct {
	lib    *atlas.Library
	terms  *annotate.Terms
	r      Request
	done   func(done, total int)
	run    section.Run
	plates []string

	dir   string
	m     Manifest
	files []quiz.ParcelFile
	onto  map[string][]atlas.FaceOnScan // faces laid in each series
	past  []string                      // earlier pictures that go along, the first taken off its face first
	names map[string]string             // of those, by plate
}

func (x *export) make(ctx context.Context, dir, code string) ([]quiz.ParcelFile, error) {
	x.dir = dir
	d, err := x.lib.Donor(x.run.Donor)
	if err != nil {
		return nil, err
	}
	now := time.Now()
	if x.r.WholePictures {
		if err := d.Agreement.Permits(atlas.Research, now); err != nil {
			return nil, err
		}
	}
	x.m = Manifest{Format: Format, Version: Version, Code: code, Statement: quiz.NotForDiagnosis, Made: now.Format(day), Purpose: x.r.Purpose, Synthetic: d.Synthetic,
		Units: units, Run: x.run, Plates: []Plate{}, Series: []Series{}, Levels: []atlas.LevelTies{}, Labels: []LabelVolume{}, Exams: []string{}, Files: map[string]Content{}}
	x.m.Run.Donor = "X-" + code
	if !d.Agreement.Ends.IsZero() {
		x.m.Expires = d.Agreement.Ends.Format(day)
	}
	x.onto = map[string][]atlas.FaceOnScan{}
	steps := []func(context.Context) error{x.findEarlier, x.faces, x.earlier, x.scans, x.tables, x.pages, x.exams}
	for _, step := range steps {
		if err := step(ctx); err != nil {
			return nil, err
		}
	}
	return x.files, x.finish()
}

// add writes one file of the parcel.
func (x *export) add(name, what string, write func(io.Writer) error) error {
	path := filepath.Join(x.dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return fmt.Errorf("exchange: %w", err)
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return fmt.Errorf("exchange: %w", err)
	}
	sum := sha256.New()
	n := counter{w: io.MultiWriter(f, sum)}
	if err := errors.Join(write(&n), f.Close()); err != nil {
		return fmt.Errorf("exchange: %s: %w", name, err)
	}
	x.files = append(x.files, quiz.ParcelFile{Name: name, What: what})
	x.m.Files[name] = Content{hex.EncodeToString(sum.Sum(nil)), n.n, what}
	return nil
}

type counter struct {
	w io.Writer
	n int64
}

func (c *counter) Write(b []byte) (int, error) {
	n, err := c.w.Write(b)
	c.n += int64(n)
	return n, err
}

func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	return e.Encode(v)
}

// scans writes the series the run refers to, with its tie levels, and the labels on their grids.
func (x *export) scans(ctx context.Context) error {
	all, err := x.lib.SeriesList(x.run.Donor)
	if err != nil {
		return err
	}
	for n, s := range all {
		ties, err := x.lib.LevelTies(x.run.ID, s.UID)
		tied := err == nil
		if err != nil && !errors.Is(err, atlas.ErrNotFound) {
			return err
		}
		laid := slices.ContainsFunc(x.m.Plates, func(p Plate) bool { return p.Registration != nil && p.Registration.Series == s.UID })
		if !tied && !laid {
			continue
		}
		if tied {
			x.m.Levels = append(x.m.Levels, ties)
		}
		v, err := x.lib.Volume(ctx, s.UID)
		if err != nil {
			return err
		}
		if err := x.series(ctx, fmt.Sprintf("series-%d", n+1), v); err != nil {
			return err
		}
	}
	return nil
}

func (x *export) series(ctx context.Context, stem string, v *scan.Volume) error {
	s := Series{UID: v.UID, Modality: v.Modality, Size: v.Size, ToLPS: v.ToLPS}
	if x.r.Scans {
		s.File, s.Side = "scans/"+stem+".nii", "scans/"+stem+".json"
		if err := x.add(s.File, "scan", v.WriteNIfTI); err != nil {
			return err
		}
		if err := x.add(s.Side, "scan facts", v.WriteSide); err != nil {
			return err
		}
	}
	x.m.Series = append(x.m.Series, s)
	if len(x.onto[v.UID]) == 0 {
		return nil
	}
	labels, keys, err := atlas.LabelVolume(ctx, v, x.onto[v.UID], nil)
	if errors.Is(err, atlas.ErrLabelGrid) {
		return nil
	}
	if err != nil {
		return err
	}
	l := LabelVolume{Series: v.UID, File: "labels/" + stem + ".nii", Key: "labels/" + stem + ".csv"}
	x.m.Labels = append(x.m.Labels, l)
	if err := x.add(l.File, "label volume", labels.WriteNIfTI); err != nil {
		return err
	}
	return x.add(l.Key, "key of the label volume", func(w io.Writer) error {
		return atlas.WriteKey(w, keys, x.terms.NameOf)
	})
}

// tables writes the table of slabs.
func (x *export) tables(context.Context) error {
	return x.add("tables/slabs.csv", "table", func(w io.Writer) error {
		c := csv.NewWriter(w)
		c.UseCRLF = true
		rows := [][]string{{"slab", "top_mm", "bottom_mm", "thickness_mm", "measured_1_mm", "measured_2_mm", "measured_3_mm", "kerf_after_mm"}}
		num := func(v float64) string { return strconv.FormatFloat(math.Round(v*1e6)/1e6, 'f', -1, 64) }
		for at, s := range x.run.Places() {
			rows = append(rows, []string{strconv.Itoa(s.Number), num(at), num(at + s.Mean()), num(s.Mean()), num(s.Thickness[0]), num(s.Thickness[1]), num(s.Thickness[2]), num(s.Kerf)})
		}
		return c.WriteAll(rows)
	})
}

// pages writes the PDF hand-out of the run, where any face can be shown with names.
func (x *export) pages(ctx context.Context) error {
	x.done(len(x.plates)+2, len(x.plates)+4)
	var pdf bytes.Buffer
	r := quiz.Request{Purpose: x.r.Purpose, Plates: x.plates, NoTags: x.r.NoTags, Words: x.r.Words}
	if len(x.plates) == 0 {
		return nil
	}
	_, err := quiz.WritePages(ctx, x.lib, x.terms, r, x.m.Code, &pdf)
	if errors.Is(err, quiz.ErrRefused) {
		return nil // a run without names has no such pages
	}
	if err != nil {
		return err
	}
	return x.add("handout.pdf", "pages", func(w io.Writer) error { _, err := pdf.WriteTo(w); return err })
}

// exams renders exams as QTI packages beside the rest; each is a hand-out of its own in the record.
func (x *export) exams(ctx context.Context) error {
	board := quiz.Board{Lib: x.lib, Terms: x.terms}
	for i, id := range x.r.Exams {
		if err := x.exam(ctx, board, i+1, id); err != nil {
			return err
		}
	}
	return nil
}

// exam renders the n-th exam.
func (x *export) exam(ctx context.Context, board quiz.Board, n int, id string) error {
	e, err := board.Load(id)
	if err != nil {
		return err
	}
	tmp, err := os.MkdirTemp("", "exam-")
	if err != nil {
		return fmt.Errorf("exchange: %w", err)
	}
	defer os.RemoveAll(tmp)
	slip, err := board.Render(ctx, e, quiz.Release{NoCards: true, NoKey: true, NoFolder: true}, tmp)
	if err != nil {
		return err
	}
	if !slip.Allowed {
		return quiz.Refuse("Exam " + strconv.Itoa(n) + ": " + slip.Reason)
	}
	for k, f := range slip.Files {
		name := fmt.Sprintf("exams/exam-%d-%d%s", n, k+1, filepath.Ext(f.Name))
		if err := x.add(name, "exam items", func(w io.Writer) error { return pour(w, tmp, f.Name) }); err != nil {
			return err
		}
		x.m.Exams = append(x.m.Exams, name)
	}
	return nil
}

// pour writes what a file of a finished folder holds; its name is its path below that folder, with slashes.
func pour(w io.Writer, dir, name string) error {
	in, err := os.Open(filepath.Join(dir, filepath.FromSlash(name)))
	if err != nil {
		return err
	}
	_, err = io.Copy(w, in)
	return errors.Join(err, in.Close())
}

// finish writes what speaks of all other files.
func (x *export) finish() error {
	if err := x.add(readMeName, "read me", func(w io.Writer) error { _, err := io.WriteString(w, readMe); return err }); err != nil {
		return err
	}
	m := x.m // what is added from here on is not in its own list
	m.Files = maps.Clone(x.m.Files)
	if err := x.add(manifestName, "manifest", func(w io.Writer) error { return writeJSON(w, m) }); err != nil {
		return err
	}
	return x.add(sumsName, "sums", func(w io.Writer) error {
		for _, name := range slices.Sorted(maps.Keys(x.m.Files)) {
			if _, err := fmt.Fprintf(w, "%s  %s\n", x.m.Files[name].SHA256, name); err != nil {
				return err
			}
		}
		return nil
	})
}

// pack packs a finished folder into one zip file under the neutral time.
func pack(dir string, files []quiz.ParcelFile, w io.Writer) error {
	z := zip.NewWriter(w)
	for _, f := range files {
		method := zip.Deflate
		if strings.HasSuffix(f.Name, ".jpg") || strings.HasSuffix(f.Name, ".zip") {
			method = zip.Store
		}
		to, err := z.CreateHeader(&zip.FileHeader{Name: f.Name, Method: method, Modified: quiz.Neutral})
		if err != nil {
			return fmt.Errorf("exchange: %w", err)
		}
		if err := pour(to, dir, f.Name); err != nil {
			return fmt.Errorf("exchange: %s: %w", f.Name, err)
		}
	}
	if err := z.Close(); err != nil {
		return fmt.Errorf("exchange: %w", err)
	}
	return nil
}
