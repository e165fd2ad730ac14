package main

import (
	"context"
	"fmt"

	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// rulerFound is what scale -ruler prints: pixels as [x, y]. MMPerPixel is 0 without -step.
type rulerFound struct {
	First      [2]float64   `json:"first"`
	Last       [2]float64   `json:"last"`
	Steps      int          `json:"steps"`
	Seen       int          `json:"seen"`
	Spacing    number       `json:"spacing"` // px
	Spread     number       `json:"spread"`  // standard uncertainty of spacing, px
	Direction  number       `json:"direction"`
	Drift      number       `json:"drift"`
	Field      bool         `json:"fields"`
	Ticks      [][2]float64 `json:"ticks"`
	Step       number       `json:"step,omitempty"` // mm, as told
	MMPerPixel number       `json:"mmPerPixel,omitempty"`
}

// findRuler looks for a ruler in a photograph and prints it as a suggestion; step is what one step is in mm, 0 when not told.
func findRuler(ctx context.Context, t *tool, path string, step float64) error {
	m, err := openPhoto(ctx, path)
	if err != nil {
		return err
	}
	r, err := photo.FindRuler(ctx, m)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	xy := func(p geom.Px) [2]float64 { return [2]float64{p.X, p.Y} }
	out := rulerFound{First: xy(r.First), Last: xy(r.Last), Steps: r.Steps, Seen: r.Seen, Spacing: number(r.Spacing), Spread: number(r.SD),
		Direction: number(r.Direction), Drift: number(r.Drift), Field: r.Field, Step: number(step)}
	for _, p := range r.Ticks {
		out.Ticks = append(out.Ticks, xy(p))
	}
	words := fmt.Sprintf("%d ticks seen, %d steps of %.3f px (spread %.3f) from %.1f,%.1f to %.1f,%.1f", r.Seen, r.Steps, r.Spacing, r.SD,
		r.First.X, r.First.Y, r.Last.X, r.Last.Y)
	if step > 0 {
		out.MMPerPixel = number(step / r.Spacing)
		words += fmt.Sprintf("; with %g mm to a step, %.4f mm per pixel", step, step/r.Spacing)
	}
	return t.answer(out, words+"; a suggestion: look at it before you use it")
}
