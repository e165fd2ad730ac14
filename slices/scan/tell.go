package scan

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"sectionary/slices/geom"
)

const (
	tiltTold     = 0.1 * math.Pi / 180 // radians: less comes from rounded positions
	sidewaysTold = 0.5                 // mm
)

// tell adds the warnings that the whole stack and its header call for: one plain sentence each.
func (k *stack) tell(s *Series) {
	first := k.shots[0]
	add := func(format string, args ...any) { s.Warnings = append(s.Warnings, fmt.Sprintf(format, args...)) }
	switch {
	case s.Localizer:
		add("This is an overview picture (localizer), not a stack to cut.")
	case s.Unoriented:
		add("The file does not say how the body lies in the picture: sides are unknown and edge letters read ?.")
	case len(s.Slices) == 1:
		add("This series has a single slice; nothing can be cut through it.")
	default:
		tellSpacing(s, add)
		if t := s.Tilt(); t > tiltTold {
			add("The slices are stacked at a slant of %.1f degrees (tilted gantry); cuts allow for it.", t*180/math.Pi)
		}
		tellSideways(s, add)
	}
	if !first.sized {
		add("The file gives no pixel spacing; 1 mm is taken, so lengths mean nothing.")
	}
	if first.layout.samples == 3 {
		add("Colour pictures are shown as grey.")
	}
	if first.mosaic {
		add("Each picture is a mosaic of many slices; places within it are not those of the body.")
	}
	if slices.ContainsFunc(k.shots, func(x shot) bool { return x.burned }) {
		add("Writing may be burned into the pictures: look for a name before anything leaves the lab.")
	}
	if first.face && !s.Localizer && len(s.Slices) >= 20 {
		add("A scan of the head may show a recognisable face.")
	}
}

// tellSpacing speaks of missing slices and of spacing that varies by more than 0.1 mm or 5 %.
func tellSpacing(s *Series, add func(string, ...any)) {
	usual := usualStep(s.Positions)
	least, most := math.Inf(1), 0.0
	told, missing := 0, 0
	for i, gap := range s.Gaps {
		width := s.Positions[i+1] - s.Positions[i]
		if !gap {
			least, most = math.Min(least, width), math.Max(most, width)
			continue
		}
		count := max(1, int(math.Round(math.Min(width/usual, 1e6)))-1)
		missing += count
		if told++; told <= maxTold {
			add("%s missing between slice %d and slice %d, which lie %.2f mm apart instead of %.2f mm; that stretch stays empty.",
				plural(count, "slice is", "slices are"), i+1, i+2, width, usual)
		}
	}
	if told > maxTold {
		add("There are %d such gaps; about %d slices are missing in all.", told, missing)
	}
	if most-least > math.Min(0.1, 0.05*usual) && most > 0 {
		add("The spacing of the slices is uneven, %.2f to %.2f mm; cuts use the true position of each slice.", least, most)
	}
}

// maxTold bounds the sentences of one kind.
const maxTold = 5

// tellSideways speaks of slices that do not lie straight behind one another: the table moved.
func tellSideways(s *Series, add func(string, ...any)) {
	_, jumps := sideways(s.Origins, s.Normal())
	for n, i := range slices.Sorted(maps.Keys(jumps)) {
		if n == maxTold {
			add("The table moved sideways %d times in all.", len(jumps))
			break
		}
		add("The table moved sideways by %.1f mm between slice %d and slice %d; each slice keeps its own place.", jumps[i], i+1, i+2)
	}
}

// medianVec is the median of each coordinate.
func medianVec(list []geom.Vec) geom.Vec {
	pick := func(of func(geom.Vec) float64) float64 {
		xs := make([]float64, len(list))
		for i, v := range list {
			xs[i] = of(v)
		}
		slices.Sort(xs)
		return xs[len(xs)/2]
	}
	if len(list) == 0 {
		return geom.Vec{}
	}
	return geom.Vec{
		X: pick(func(v geom.Vec) float64 { return v.X }),
		Y: pick(func(v geom.Vec) float64 { return v.Y }),
		Z: pick(func(v geom.Vec) float64 { return v.Z }),
	}
}
