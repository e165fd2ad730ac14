package main

import (
	"context"
	"fmt"

	"sectionary/atlas"
	"sectionary/slices/section"
)

// unlike is a face whose border or greys are unlike both its neighbours'.
type unlike struct {
	Slab   int            `json:"slab"`
	Facing section.Facing `json:"facing"`
	By     []string       `json:"by"` // border, greys
	Words  string         `json:"words"`
}

// checkedRun checks a run of a file, or a run of a library with its photographs.
func checkedRun(ctx context.Context, t *tool, name, library string) (a runAnswer, err error) {
	if library == "" {
		r, err := reading(name, readRun)
		if err != nil {
			return a, err
		}
		if a, err = checkRun(r); err != nil {
			return a, fmt.Errorf("%s: %w", name, err)
		}
		return a, nil
	}
	err = with(library, atlas.ReadOnly, func(lib *atlas.Library) error {
		r, err := findRun(lib, name)
		if err != nil {
			return err
		}
		if a, err = checkRun(r); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		report, end := t.progress("comparing faces")
		defer end()
		return a.compare(ctx, lib, r, report)
	})
	return a, err
}

// compare holds the photographed faces of a run against their neighbours.
func (a *runAnswer) compare(ctx context.Context, lib *atlas.Library, r section.Run, report func(done, total int)) error {
	all, err := atlas.Likenesses(ctx, lib, r, report)
	if err != nil {
		return err
	}
	a.Compared = len(all)
	for _, u := range atlas.UnlikeNeighbours(r, all) {
		x := unlike{Slab: u.Face.Slab, Facing: u.Face.Facing, By: []string{}, Words: u.Words(r.Name(u.Face))}
		if u.ByBorder {
			x.By = append(x.By, "border")
		}
		if u.ByGrey {
			x.By = append(x.By, "greys")
		}
		a.Unlike = append(a.Unlike, x)
	}
	return nil
}
