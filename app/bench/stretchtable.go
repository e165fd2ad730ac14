package bench

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sectionary/atlas"
	"sectionary/atlas/quiz"
	"sectionary/slices/geom"
	"sectionary/slices/register"
	"sectionary/slices/section"
)

// StretchTable is how the slabs of the run differ from the scan, ready to be shown.
type StretchTable struct {
	Ways  [2]string // the two directions across the cut
	Rows  []StretchLine
	Empty string // what is missing, when there are no rows
}

// StretchLine is one slab.
type StretchLine struct {
	Slab   int
	Along  string
	Across [2]string
	Words  string
}

// stretchRoom is the report last made.
type stretchRoom struct {
	run  section.Run
	rows []register.SlabStretch
}

func needSeries(b *Bench) string {
	if why := needRun(b); why != "" {
		return why
	}
	return when(b.pair.series == "", "pair.noscan")
}

// MeasureStretch compares the slabs of the run with the scan, as a job, and calls done with the table.
func (b *Bench) MeasureStretch(done func(StretchTable)) {
	if why := needSeries(b); why != "" {
		b.hint(why, true)
		return
	}
	run, series, lib, levels := b.Run(), b.pair.series, b.lab.lib, b.pair.levels
	known, unread := b.platesOfRun()
	b.start(Word("job.stretch"), func(ctx context.Context, tell func(done, total int)) (func(), error) {
		for i, id := range unread {
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			if p, err := lib.Plate(id); err == nil {
				known[id] = p
			}
			tell(i, len(unread)+1)
		}
		faces, middles := map[section.Face]register.Registration{}, map[section.Face]geom.MM{}
		for _, p := range known {
			r := p.Registration
			h, ok := p.FaceMM()
			if r == nil || !ok || r.Series != series || !laidTruly(r, p.Face) {
				continue
			}
			// over the middle of the photograph, which is near that of the face
			faces[p.Face], middles[p.Face] = *r, h.MM(p.MiddlePx())
		}
		rows := register.StretchBySlab(run, levels, faces, middles)
		return func() {
			b.shrink = stretchRoom{run, rows}
			done(tableOf(rows))
		}, nil
	})
}

// platesOfRun are the plates of the run that are open, by id, and the ids of the others.
func (b *Bench) platesOfRun() (known map[string]atlas.Plate, unread []string) {
	known = map[string]atlas.Plate{}
	for _, x := range b.rule.facts {
		if d := b.docs[x.plate]; d != nil {
			known[x.plate] = d.plate()
		} else {
			unread = append(unread, x.plate)
		}
	}
	return known, unread
}

func tableOf(rows []register.SlabStretch) StretchTable {
	t := StretchTable{}
	if len(rows) == 0 {
		t.Empty = Word("stretch.empty")
	}
	for _, r := range rows {
		line := StretchLine{Slab: r.Slab, Along: quiz.StretchCell(r.Along)}
		for i, a := range r.Across {
			line.Across[i] = quiz.StretchCell(nil)
			if a != nil {
				t.Ways[i], line.Across[i] = a.Way, quiz.StretchCell(&a.Percent)
			}
		}
		line.Words = Word("stretch.none")
		told := slices.DeleteFunc(slices.Clone(r.Words), func(s string) bool { return strings.Contains(s, "as far as can be told") })
		if len(told) > 0 {
			line.Words = upperFirst(strings.Join(told, "; ")) + "."
		}
		t.Rows = append(t.Rows, line)
	}
	return t
}

// papersDir is where pages for use inside the lab stand, within the lab's own folder.
const papersDir = "papers"

// PrintStretch writes the report last made as a page of the given paper ("A4", "Letter") into the lab's own folder and returns
// where; it is never written elsewhere, for it names the donor's code.
func (b *Bench) PrintStretch(paper string) (path string, err error) {
	if b.lab.lib == nil || b.shrink.run.ID == "" {
		return "", ErrNoLab
	}
	var page bytes.Buffer
	now := b.o.Now()
	if err := quiz.WriteStretch(&page, b.shrink.run, b.shrink.rows, now, quiz.Paper(paper)); err != nil {
		return "", err
	}
	dir := filepath.Join(b.lab.lib.Dir(), papersDir)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", err
	}
	path = filepath.Join(dir, "stretch-"+fileWord(b.shrink.run.Donor+"-"+b.shrink.run.Part)+"-"+now.Format("2006-01-02-150405")+".pdf")
	if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
		return path, nil // printed this very second
	}
	return path, os.WriteFile(path, page.Bytes(), 0o600)
}

// fileWord leaves of words what may stand in the name of a file.
func fileWord(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9', r == '-':
			return r
		case r >= 'A' && r <= 'Z':
			return r
		}
		return '-'
	}, s)
}
