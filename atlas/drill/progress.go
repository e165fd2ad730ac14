package drill

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"time"
)

// ProgressFile is the file in the student's own folder that progress is kept in.
const ProgressFile = "drill-progress.json"

const (
	progressFormat  = "sectionary drill progress"
	progressVersion = 1
	maxProgress     = 16 << 20
	maxPlacings     = 2000
)

// ErrNewerProgress says that a later version of the program wrote the progress; it is left as it is.
var ErrNewerProgress = errors.New("drill: a newer version of the program wrote this progress")

// ErrSetAside says that the progress could not be read, was set aside under another name, and begins anew.
var ErrSetAside = errors.New("drill: your progress could not be read and was set aside; it begins anew")

// Progress is what a student has answered, over all packs: what is known of a structure is kept by its term, so new packs take it over.
// It holds no name and leaves the machine only when the student hands it over.
type Progress struct {
	Format   string          `json:"format"`
	Version  int             `json:"version"`
	Latest   string          `json:"latest"` // the last day the drill was used
	Cards    map[string]Seen `json:"cards"`
	Placings []Placing       `json:"placings,omitempty"` // the latest ones on the run
}

// NewProgress is that of a student who has answered nothing.
func NewProgress() Progress {
	return Progress{Format: progressFormat, Version: progressVersion, Cards: map[string]Seen{}}
}

// LatestDay is the last day the drill was used, zero when never; Open takes it.
func (p Progress) LatestDay() time.Time {
	t, err := time.Parse(Day, p.Latest)
	if err != nil {
		return time.Time{}
	}
	return t
}

func (p Progress) clone() Progress {
	p.Cards, p.Placings = maps.Clone(p.Cards), slices.Clone(p.Placings)
	if p.Cards == nil {
		p.Cards = map[string]Seen{}
	}
	p.Format, p.Version = progressFormat, progressVersion
	return p
}

func (p *Progress) see(today time.Time) {
	if d := today.Format(Day); d > p.Latest {
		p.Latest = d
	}
}

func (p *Progress) note(key string, right bool, today time.Time) {
	p.Cards[key] = p.Cards[key].after(right, today)
}

func (p *Progress) place(x Placing) {
	p.Placings = append(p.Placings, x)
	if over := len(p.Placings) - maxPlacings; over > 0 {
		p.Placings = slices.Delete(p.Placings, 0, over)
	}
}

// LoadProgress reads the progress in a folder; none there is a new one. A damaged file is set aside beside it and a new
// progress returned with ErrSetAside. Errors besides: ErrNewerProgress, and failures to read.
func LoadProgress(dir string) (Progress, error) {
	path := filepath.Join(dir, ProgressFile)
	f, err := os.Open(path)
	if errors.Is(err, os.ErrNotExist) {
		return NewProgress(), nil
	}
	if err != nil {
		return NewProgress(), fmt.Errorf("drill: %w", err)
	}
	p, err := ReadProgress(f)
	f.Close()
	if err == nil || errors.Is(err, ErrNewerProgress) {
		return p, err
	}
	for n := 1; ; n++ {
		aside := filepath.Join(dir, fmt.Sprintf("drill-progress-damaged-%d.json", n))
		if _, there := os.Lstat(aside); there == nil {
			continue
		}
		if moved := os.Rename(path, aside); moved != nil {
			return NewProgress(), fmt.Errorf("drill: %w", moved)
		}
		return NewProgress(), fmt.Errorf("%w (%s): %w", ErrSetAside, filepath.Base(aside), err)
	}
}

// ReadProgress reads a progress. Errors: ErrNewerProgress, or what is wrong with it.
func ReadProgress(r io.Reader) (Progress, error) {
	b, err := io.ReadAll(io.LimitReader(r, maxProgress+1))
	if err != nil {
		return NewProgress(), fmt.Errorf("drill: %w", err)
	}
	var p Progress
	switch err := json.Unmarshal(b, &p); {
	case len(b) > maxProgress:
		return NewProgress(), errors.New("drill: progress: too large")
	case err != nil:
		return NewProgress(), fmt.Errorf("drill: progress: %w", err)
	case p.Format != progressFormat:
		return NewProgress(), errors.New("drill: progress: it is something else")
	case p.Version > progressVersion:
		return NewProgress(), ErrNewerProgress
	}
	for key, s := range p.Cards {
		if _, err := time.Parse(Day, s.Last); err != nil || s.Box < 1 || s.Box > len(Boxes) || s.Right < 0 || s.Wrong < 0 || s.Streak < 0 {
			return NewProgress(), fmt.Errorf("drill: progress: question %q cannot be so", key)
		}
	}
	for _, x := range p.Placings {
		if !within(x.MM, -maxExtent, maxExtent) || !within(x.Score, 0, 1) {
			return NewProgress(), errors.New("drill: progress: a placing cannot be so")
		}
	}
	return p.clone(), nil
}

// Save writes the progress into a folder: the old file or the new one stays, never half of one.
func (p Progress) Save(dir string) error {
	b, err := json.MarshalIndent(p.clone(), "", " ")
	if err != nil {
		return fmt.Errorf("drill: progress: %w", err)
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("drill: %w", err)
	}
	f, err := os.CreateTemp(dir, ".drill-progress-*")
	if err != nil {
		return fmt.Errorf("drill: %w", err)
	}
	defer os.Remove(f.Name())
	_, err = f.Write(b)
	if err = errors.Join(err, f.Sync(), f.Close()); err == nil {
		err = os.Rename(f.Name(), filepath.Join(dir, ProgressFile))
	}
	if err != nil {
		return fmt.Errorf("drill: %w", err)
	}
	return nil
}
