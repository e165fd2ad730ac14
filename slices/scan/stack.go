package scan

import (
	"math"
	"slices"
	"strings"

	"sectionary/slices/geom"
)

// series turns an ordered stack into a Series with its warnings.
func (k *stack) series() Series {
	first := k.shots[0]
	s := Series{
		UID: first.series, Modality: first.modality, Description: first.description, Frame: first.frame,
		Size:       [3]int{first.layout.columns, first.layout.rows, len(k.shots)},
		Unoriented: !first.oriented(), Localizer: first.localizer,
		Windows: slices.Clone(first.windows), Warnings: k.warnings,
	}
	s.Localizer = s.Localizer || len(k.shots) < fewSlices && namesOverview(s.Description)
	if s.UID == "" {
		s.UID = madeUID(first.path)
	}
	for _, shot := range k.shots {
		if n := len(s.Files); n == 0 || s.Files[n-1] != shot.path {
			if i := slices.Index(s.Files, shot.path); i >= 0 {
				s.Slices = append(s.Slices, SliceRef{File: i, Frame: shot.number})
				continue
			}
			s.Files = append(s.Files, shot.path)
		}
		s.Slices = append(s.Slices, SliceRef{File: len(s.Files) - 1, Frame: shot.number})
	}
	k.place(&s)
	k.tell(&s)
	s.plan = planOf(k.shots)
	return s
}

// fewSlices is how many slices a series has at least that is a stack whatever it is called.
const fewSlices = 10

// namesOverview reports whether a description calls the series an overview; many MR scanners say it nowhere else.
func namesOverview(description string) bool {
	words := strings.ToUpper(description)
	for _, w := range []string{"LOCALIZER", "LOCALISER", "SCOUT", "TOPOGRAM", "SURVIEW", "PILOT"} {
		if strings.Contains(words, w) {
			return true
		}
	}
	return false
}

// place sets the geometry of s: origins as stored, the gaps, and the affine with the usual step.
func (k *stack) place(s *Series) {
	first := k.shots[0]
	if s.Unoriented {
		step := first.thickness
		if step <= 0 {
			step = 1
		}
		s.ToLPS = geom.NewAffine(geom.Vec{X: first.spacing[0]}, geom.Vec{Y: first.spacing[1]}, geom.Vec{Z: step}, geom.LPS{})
		for i := range k.shots {
			s.Origins = append(s.Origins, geom.LPS{Z: step * float64(i)})
			s.Positions = append(s.Positions, step*float64(i))
		}
		s.Gaps = make([]bool, max(0, len(k.shots)-1))
		return
	}
	for _, shot := range k.shots {
		s.Origins, s.Positions = append(s.Origins, shot.origin), append(s.Positions, shot.position)
	}
	usual := usualStep(s.Positions)
	s.Gaps = findGaps(s.Positions, usual, k.thickness)
	step := first.row.Cross(first.col).Unit()
	if len(s.Origins) > 1 {
		step = k.step(s, usual)
	} else if first.thickness > 0 {
		step = step.Mul(first.thickness)
	}
	s.ToLPS = geom.NewAffine(first.row.Mul(first.spacing[0]), first.col.Mul(first.spacing[1]), step, first.origin)
}

// step is the way from a slice to the next that is usual in the stack: from end to end, or, where the table moved
// sideways in between, as most slices go.
func (k *stack) step(s *Series, usual float64) geom.Vec {
	last := len(s.Origins) - 1
	steps := float64(last)
	if slices.Contains(s.Gaps, true) {
		steps = 0
		for i := range last {
			steps += math.Max(1, math.Round((s.Positions[i+1]-s.Positions[i])/usual))
		}
	}
	whole := s.Origins[last].Sub(s.Origins[0]).Mul(1 / steps)
	n := k.shots[0].row.Cross(k.shots[0].col).Unit()
	slant, jumps := sideways(s.Origins, n)
	if len(jumps) == 0 {
		return whole
	}
	return n.Add(slant).Mul(whole.Dot(n))
}

// sideways returns how far slices usually shift across the normal per mm along it, and by how many mm each of them
// that departs from it does so, by the slice before it.
func sideways(origins []geom.LPS, n geom.Vec) (usual geom.Vec, jumps map[int]float64) {
	slants := make([]geom.Vec, 0, len(origins))
	for i := 1; i < len(origins); i++ {
		d := origins[i].Sub(origins[i-1])
		slants = append(slants, d.Sub(n.Mul(d.Dot(n))).Mul(1/d.Dot(n)))
	}
	usual, jumps = medianVec(slants), map[int]float64{}
	for i, slant := range slants {
		along := origins[i+1].Sub(origins[i]).Dot(n)
		if off := slant.Sub(usual).Mul(along).Len(); off > sidewaysTold {
			jumps[i] = off
		}
	}
	return usual, jumps
}

// thickness is the slice thickness told on both sides of the space after slice i, or 0.
func (k *stack) thickness(i int) float64 {
	return math.Min(k.shots[i].thickness, k.shots[i+1].thickness)
}

// usualStep is the lower median distance from slice to slice in mm; 0 for a single slice.
func usualStep(positions []float64) float64 {
	var steps []float64
	for i := 1; i < len(positions); i++ {
		steps = append(steps, positions[i]-positions[i-1])
	}
	if len(steps) == 0 {
		return 0
	}
	slices.Sort(steps)
	return steps[(len(steps)-1)/2]
}

// findGaps marks the spaces where slices are missing: at least half as wide again as usual. A stretch of three or more
// equal wide spaces whose slices are as thick as the space is a change of protocol and no gap.
func findGaps(positions []float64, usual float64, thickness func(int) float64) []bool {
	gaps := make([]bool, max(0, len(positions)-1))
	width := func(i int) float64 { return positions[i+1] - positions[i] }
	for i := range gaps {
		gaps[i] = width(i) >= 1.5*usual
	}
	for from := 0; from < len(gaps); {
		to := from + 1
		for to < len(gaps) && math.Abs(width(to)-width(from)) < 0.05*width(from) {
			to++
		}
		if to-from >= 3 {
			for i := from; i < to; i++ {
				if t := thickness(i); t > 0 && t >= 0.9*width(i) {
					gaps[i] = false
				}
			}
		}
		from = to
	}
	return gaps
}
