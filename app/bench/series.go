package bench

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"sectionary/slices/scan"
)

// survey is what was found at a path and waits for an answer.
type survey struct {
	path    string
	rows    []scan.Series
	left    []string // files that look like scans and cannot be opened, each with its reason
	foreign int      // how many other files lie there
}

// leave notes a file that was left out. Readme files and pictures are no news; a broken slice is.
func (s *survey) leave(path string, err error) {
	switch {
	case errors.Is(err, scan.ErrNotScan):
		s.foreign++
		return
	case errors.Is(err, scan.ErrSetAside): // copies and repeats: the series' own warnings count them
		return
	}
	reason := err.Error()
	if !strings.Contains(reason, path) {
		reason = path + ": " + reason
	}
	s.left = append(s.left, strings.TrimPrefix(reason, "scan: "))
}

// AddScan looks through a folder, archive or file for scan series, as a job. One usable series is taken at once, of
// several Survey asks.
func (b *Bench) AddScan(path string) {
	if err := b.writable(); err != nil {
		b.Report(err)
		return
	}
	if b.Run().ID == "" {
		b.say(Message{Title: Word("show.norun"), Hint: Word("show.norun.hint")})
		return
	}
	b.start(Word("job.survey"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		var why error
		at := survey{path: path}
		found, err := surveyAt(ctx, path, func(file string, err error) { why = err; at.leave(file, err) }, tell)
		if err != nil {
			return nil, err
		}
		return func() {
			at.rows = found
			b.lab.found = at
			usable := slices.DeleteFunc(slices.Clone(found), func(s scan.Series) bool { return s.Localizer })
			switch {
			case len(found) == 0:
				b.Report(errors.Join(fmt.Errorf("%w: nothing in %s", scan.ErrNotScan, filepath.Base(path)), why))
			case len(usable) == 1:
				b.TakeSeries(usable[0].UID)
			default:
				b.changed(LabChanged)
			}
		}, nil
	})
}

func surveyAt(ctx context.Context, path string, skip func(string, error), tell func(done, total int)) ([]scan.Series, error) {
	files, done, err := scan.Open(path)
	if err != nil {
		return nil, err
	}
	found, err := scan.SurveyProgress(ctx, files, skip, tell)
	return found, errors.Join(err, done())
}

// Survey lists the series found and waiting for an answer.
func (b *Bench) Survey() []SurveyRow {
	var out []SurveyRow
	for _, s := range b.lab.found.rows {
		out = append(out, SurveyRow{UID: s.UID, Words: seriesWords(s), Warnings: s.Warnings, Usable: !s.Localizer})
	}
	return out
}

// SurveyLeft lists the files of the survey that cannot be opened, each with its reason, and counts those that are
// no scans at all.
func (b *Bench) SurveyLeft() (left []string, foreign int) {
	return b.lab.found.left, b.lab.found.foreign
}

func seriesWords(s scan.Series) string {
	sp := s.Spacing()
	what := strings.TrimSpace(s.Modality + " " + s.Description)
	if what == "" {
		what = Word("series.unnamed")
	}
	return Word("series.line", what, s.Size[2], s.Size[0], s.Size[1], sp[2], sp[0])
}

// ForgetSurvey leaves them all.
func (b *Bench) ForgetSurvey() { b.lab.found = survey{}; b.changed(LabChanged) }

// TakeSeries takes one series of the survey in, as a job.
func (b *Bench) TakeSeries(uid string) {
	i := slices.IndexFunc(b.lab.found.rows, func(s scan.Series) bool { return s.UID == uid })
	if i < 0 || b.writable() != nil {
		return
	}
	want, from, donor, lib := b.lab.found.rows[i], b.lab.found.path, b.Run().Donor, b.lab.lib
	var left []string
	if len(b.lab.found.rows) == 1 { // of several, the survey has shown them already
		left = b.lab.found.left
	}
	b.lab.found = survey{}
	b.start(Word("job.scan"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		files, done, err := scan.Open(from)
		if err != nil {
			return nil, err
		}
		var why error
		taken := survey{}
		got, err := lib.AddSeries(ctx, donor, only(files, want.Files), func(file string, err error) { why = err; taken.leave(file, err) }, tell)
		if err = errors.Join(err, done()); err == nil && len(got) == 0 {
			err = errors.Join(fmt.Errorf("%w: %s", scan.ErrNotScan, filepath.Base(from)), why)
		}
		if err != nil {
			return nil, err
		}
		return func() { b.seriesCame(got[0].UID, append(left, taken.left...)) }, nil
	})
	b.changed(LabChanged)
}

// seriesCame takes up a series that has come in; left are the files that were left out of it.
func (b *Bench) seriesCame(uid string, left []string) {
	if err := b.readLab(); err != nil {
		b.Report(err)
	}
	b.ChooseSeries(uid)
	var know []string
	if s, ok := b.series(); ok {
		know = append(know, s.Warnings...)
	}
	const most = 12
	if n := len(left); n > most {
		left = append(left[:most:most], Word("series.more", n-most))
	}
	if know = append(know, left...); len(know) > 0 {
		b.say(Message{Title: Word("series.warned"), Hint: strings.Join(know, "\n")})
	}
	b.askSameBody()
	b.changed(LabChanged | ScanChanged | RunChanged)
}

// only shows of files nothing but those listed and the folders that lead to them.
func only(files fs.FS, names []string) fs.FS {
	keep := map[string]bool{}
	for _, n := range names {
		for n != "." && n != "/" && n != "" {
			keep[n] = true
			n = path.Dir(n)
		}
	}
	return onlyFS{files, keep}
}

type onlyFS struct {
	fs.FS
	keep map[string]bool
}

func (o onlyFS) Open(name string) (fs.File, error) {
	if name != "." && !o.keep[name] {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return o.FS.Open(name)
}

func (o onlyFS) ReadDir(name string) ([]fs.DirEntry, error) {
	all, err := fs.ReadDir(o.FS, name)
	return slices.DeleteFunc(all, func(e fs.DirEntry) bool { return !o.keep[path.Join(name, e.Name())] }), err
}

// Series lists the scan series of the run's donor, then others of the lab.
func (b *Bench) Series() []SeriesInfo {
	var own, other []SeriesInfo
	for _, s := range b.lab.series {
		i := SeriesInfo{UID: s.UID, Words: seriesWords(s), Warnings: s.Warnings, Chosen: s.UID == b.pair.series, Unoriented: s.Unoriented}
		if b.ownSeries(s.UID) {
			own = append(own, i)
		} else {
			i.Words = Word("series.other", i.Words)
			other = append(other, i)
		}
	}
	return append(own, other...)
}

// ownSeries reports whether a series is kept with the donor of the run.
func (b *Bench) ownSeries(uid string) bool {
	return slices.Contains(b.lab.donors[b.Run().Donor].Series, uid)
}

func (b *Bench) series() (scan.Series, bool) {
	i := slices.IndexFunc(b.lab.series, func(s scan.Series) bool { return s.UID == b.pair.series })
	if i < 0 {
		return scan.Series{}, false
	}
	return b.lab.series[i], true
}

// DropPaths takes what was dropped on the window: a lab folder is opened, pictures are photographs, anything else is a
// scan, or a study pack where no lab is open.
func (b *Bench) DropPaths(paths []string) {
	var pictures, others []string
	for _, p := range paths {
		switch {
		case isPicture(p):
			pictures = append(pictures, p)
		case holdsPictures(p):
			pictures = append(pictures, picturesIn(p)...)
		default:
			others = append(others, p)
		}
	}
	if len(others) == 1 && len(pictures) == 0 {
		if _, err := os.Stat(filepath.Join(others[0], "catalogue.db")); err == nil {
			b.Report(b.OpenLab(others[0]))
			return
		}
		if info, err := os.Stat(others[0]); err == nil && info.Mode().IsRegular() && b.lab.lib == nil { // no lab for a scan to go to
			b.OpenStudy(others[0])
			return
		}
	}
	if len(pictures) > 0 {
		b.AddPhotos(pictures)
	}
	for _, p := range others {
		b.AddScan(p)
	}
}

// picturesIn lists the pictures of a folder; where it has none itself, those of its folders, as a camera's card has them.
func picturesIn(dir string) []string {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil
	}
	var out, below []string
	for _, e := range entries {
		path := filepath.Join(dir, e.Name())
		switch {
		case e.IsDir():
			below = append(below, path)
		case isPicture(path):
			out = append(out, path)
		}
	}
	if len(out) > 0 {
		return out
	}
	for _, d := range below {
		inside, err := os.ReadDir(d)
		if err != nil {
			continue
		}
		for _, e := range inside {
			if !e.IsDir() && isPicture(e.Name()) {
				out = append(out, filepath.Join(d, e.Name()))
			}
		}
	}
	return out
}

func holdsPictures(dir string) bool { return len(picturesIn(dir)) > 0 }
