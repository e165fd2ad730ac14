package atlas

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"sectionary/slices/photo"
)

// ErrStand says that the settings of a stand cannot be kept.
var ErrStand = errors.New("atlas: the settings of this stand cannot be kept")

// Stand is a camera stand of the lab with what was measured on it once and holds while the camera stays. Lengths are mm.
type Stand struct {
	Name string      `json:"name"`
	Lens *photo.Lens `json:"lens,omitempty"` // nil: not measured
	// Height is how the scale lies below the face and the camera above it, zero where both lie in one plane or nobody knows.
	Height photo.ScaleHeight `json:"height"`
	// Length is that between the ticks of the ruler in use, Width and Tall are the sides of the scale plate; 0: none.
	Length float64           `json:"length,omitempty"`
	Width  float64           `json:"width,omitempty"`
	Tall   float64           `json:"tall,omitempty"`
	Colour *photo.Correction `json:"colour,omitempty"` // by its grey patch or card under its lamps
	Set    time.Time         `json:"set"`
}

const (
	standsKey  = "stands" // note in the catalogue: the stands as JSON, in order of their names
	mostStands = 100
	mostName   = 24 // characters
)

// check refuses what cannot be measured on a stand.
func (s Stand) check() error {
	switch n := len([]rune(s.Name)); {
	case n == 0 || n > mostName || s.Name != strings.TrimSpace(s.Name):
		return fmt.Errorf("%w: give it a name of 1 to %d letters", ErrStand, mostName)
	case !(s.Length >= 0 && s.Width >= 0 && s.Tall >= 0 && s.Length < 1e5 && s.Width < 1e5 && s.Tall < 1e5):
		return fmt.Errorf("%w: the lengths of its scale cannot be", ErrStand)
	}
	if err := s.Height.Check(); err != nil {
		return fmt.Errorf("%w: %w", ErrStand, err)
	}
	if s.Lens != nil {
		if err := s.Lens.Fits(s.Lens.Size); err != nil {
			return fmt.Errorf("%w: %w", ErrStand, err)
		}
	}
	return nil
}

// Stands are the stands of the lab in order of their names.
func (l *Library) Stands() ([]Stand, error) {
	text, err := l.db.Meta(standsKey)
	if errors.Is(err, ErrNotFound) || err == nil && text == "" {
		return nil, nil
	}
	var all []Stand
	if err == nil {
		err = json.Unmarshal([]byte(text), &all)
	}
	if err != nil {
		return nil, fmt.Errorf("atlas: the stands of this lab: %w", err)
	}
	return all, nil
}

// SaveStand keeps a stand, in place of one of its name. It fails with ErrStand.
func (l *Library) SaveStand(s Stand) error {
	if err := s.check(); err != nil {
		return err
	}
	return l.changeStands(s.Name, func(all []Stand) ([]Stand, error) {
		if len(all) >= mostStands {
			return nil, fmt.Errorf("%w: there are %d already; take away what is no longer in use", ErrStand, len(all))
		}
		all = append(all, s)
		slices.SortFunc(all, func(a, b Stand) int { return strings.Compare(a.Name, b.Name) })
		return all, nil
	})
}

// RemoveStand takes a stand away. Faces scaled with it keep their scale. It fails with ErrNotFound.
func (l *Library) RemoveStand(name string) error {
	return l.changeStands(name, func(all []Stand) ([]Stand, error) { return all, nil })
}

// changeStands hands the stands but the one of that name to change and keeps what comes back.
func (l *Library) changeStands(name string, change func([]Stand) ([]Stand, error)) error {
	if err := l.writable(); err != nil {
		return err
	}
	all, err := l.Stands()
	if err != nil {
		return err
	}
	was := len(all)
	all = slices.DeleteFunc(all, func(x Stand) bool { return x.Name == name })
	rest := len(all)
	if all, err = change(all); err != nil {
		return err
	}
	if len(all) == rest && rest == was {
		return fmt.Errorf("%w: stand %s", ErrNotFound, name)
	}
	text, err := json.Marshal(all)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrStand, err)
	}
	return l.db.SetMeta(standsKey, string(text))
}
