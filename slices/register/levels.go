package register

import (
	"fmt"
	"math"
	"slices"

	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// Levels carries a place along the run to a place along the scan and back: straight lines from one tie
// level to the next, carried on beyond the first and the last at the slope of the stretch beside them.
// One tie alone has slope one. The zero value knows no level; Known tells.
type Levels struct {
	ties      []Level // rising along the run
	direction float64
}

// Stretch is the way between two neighbouring tie levels. Percent is how much longer the scan is than the
// run there: 100*(scan length/run length - 1).
type Stretch struct {
	From    Level   `json:"from"`
	To      Level   `json:"to"`
	Percent float64 `json:"percent"`
}

// Direction tells how the scan coordinate along the cut (LPS) moves as one goes down a run whose slab 1
// lies at the end first: +1 rising, -1 falling, 0 when first is not known.
func Direction(first section.Facing) float64 {
	a := first.Axis()
	return -(a.X + a.Y + a.Z)
}

// Along is the part of p along the axis of the cut, in LPS mm: Z for transverse, Y for frontal, X for sagittal runs.
func Along(p section.Plane, at geom.LPS) float64 {
	a := axisOf(p)
	return at.X*a.X + at.Y*a.Y + at.Z*a.Z
}

// axisOf is the positive LPS axis at right angles to the plane, zero for an unknown plane.
func axisOf(p section.Plane) geom.Vec {
	switch p {
	case section.Transverse:
		return geom.Vec{Z: 1}
	case section.Frontal:
		return geom.Vec{Y: 1}
	case section.Sagittal:
		return geom.Vec{X: 1}
	}
	return geom.Vec{}
}

// NewLevels orders the ties along the run. direction comes from Direction; with 0 it is read off the ties,
// of which there must then be two. It fails with ErrOutOfOrder, naming the pair, where the scan does not move
// steadily in that direction or two ties share a place, and with geom.ErrTooFewPoints when nothing is tied.
func NewLevels(ties []Level, direction float64) (Levels, error) {
	if len(ties) == 0 || (len(ties) == 1 && direction == 0) {
		return Levels{}, fmt.Errorf("register: no tie level to go by; tie a face to a slice first: %w", geom.ErrTooFewPoints)
	}
	sorted := slices.Clone(ties)
	slices.SortFunc(sorted, func(a, b Level) int {
		switch {
		case a.Run < b.Run:
			return -1
		case a.Run > b.Run:
			return 1
		}
		return 0
	})
	for _, t := range sorted {
		if math.IsNaN(t.Run-t.Scan) || math.IsInf(t.Run-t.Scan, 0) {
			return Levels{}, fmt.Errorf("register: tie level %s holds a number that cannot be used", t)
		}
	}
	if direction == 0 {
		direction = sorted[len(sorted)-1].Scan - sorted[0].Scan
	}
	direction = math.Copysign(1, direction)
	for i, t := range sorted[1:] {
		p := sorted[i]
		if t.Run == p.Run || (t.Scan-p.Scan)*direction <= 0 {
			return Levels{}, fmt.Errorf("%w: %s and %s cannot both hold; check which of them is mistaken, and which end slab 1 lies at", ErrOutOfOrder, p, t)
		}
	}
	return Levels{sorted, direction}, nil
}

// String writes a tie level as "62.4 mm = 812.0".
func (l Level) String() string { return fmt.Sprintf("%.1f mm = %.1f", l.Run, l.Scan) }

// Known reports whether l can place anything.
func (l Levels) Known() bool { return len(l.ties) > 0 }

// Ties returns the tie levels in order along the run.
func (l Levels) Ties() []Level { return slices.Clone(l.ties) }

// Scan returns the scan coordinate (LPS mm along the cut's axis) of a place run mm from the datum.
// extrapolated is set outside the ties; the zero Levels gives NaN.
func (l Levels) Scan(run float64) (mm float64, extrapolated bool) {
	return l.carry(run, func(t Level) (float64, float64) { return t.Run, t.Scan }, 1)
}

// Run returns the place along the run, in mm from the datum, of a scan coordinate; the inverse of Scan.
func (l Levels) Run(scan float64) (mm float64, extrapolated bool) {
	return l.carry(scan, func(t Level) (float64, float64) { return t.Scan, t.Run }, l.direction)
}

// carry follows the straight lines from the first to the second of the numbers pick gives; order tells
// whether the first ones rise (+1) or fall (-1) along the run.
func (l Levels) carry(at float64, pick func(Level) (from, to float64), order float64) (float64, bool) {
	if len(l.ties) == 0 {
		return math.NaN(), true
	}
	first, _ := pick(l.ties[0])
	last, _ := pick(l.ties[len(l.ties)-1])
	extrapolated := (at-first)*order < 0 || (at-last)*order > 0
	if len(l.ties) == 1 {
		_, to := pick(l.ties[0])
		return to + (at-first)*l.direction, extrapolated
	}
	i := 0
	for i < len(l.ties)-2 {
		if next, _ := pick(l.ties[i+1]); (at-next)*order <= 0 {
			break
		}
		i++
	}
	f0, t0 := pick(l.ties[i])
	f1, t1 := pick(l.ties[i+1])
	if at == f1 {
		return t1, extrapolated
	}
	return t0 + (at-f0)*(t1-t0)/(f1-f0), extrapolated
}

// Stretches lists the ways between neighbouring ties, in order along the run.
func (l Levels) Stretches() []Stretch {
	out := []Stretch{}
	for i := 1; i < len(l.ties); i++ {
		a, b := l.ties[i-1], l.ties[i]
		out = append(out, Stretch{a, b, 100 * (math.Abs(b.Scan-a.Scan)/(b.Run-a.Run) - 1)})
	}
	return out
}

// Nearest returns which of the positions lies nearest to at and how far at lies beyond it (signed), all in
// mm along one axis. It returns -1 and NaN when there are none.
func Nearest(positions []float64, at float64) (index int, gap float64) {
	index, gap = -1, math.NaN()
	for i, p := range positions {
		if d := at - p; index < 0 || math.Abs(d) < math.Abs(gap) {
			index, gap = i, d
		}
	}
	return index, gap
}

// FromLevel places a face by its level alone: square to the declared axes, at the level its depth in the
// run has in the scan, and so that middle, a point of the face in mm, meets centre; the part of centre along
// the cut is not used. Tilt, turn and the place in the plane are then assumed, not measured. It fails with the
// errors of section.Axes and Run.Depth, and with geom.ErrTooFewPoints when no level is tied.
func FromLevel(series string, l Levels, run section.Run, f section.Face, photoUp section.Facing, middle geom.MM, centre geom.LPS) (Registration, error) {
	if !l.Known() {
		return Registration{}, fmt.Errorf("register: no tie level to place %s by: %w", f.Name(), geom.ErrTooFewPoints)
	}
	depth, _, err := run.Depth(f)
	if err != nil {
		return Registration{}, fmt.Errorf("register: %w", err)
	}
	pose, err := section.SquarePose(f.Facing, photoUp, centre)
	if err != nil {
		return Registration{}, fmt.Errorf("register: %s: %w", f.Name(), err)
	}
	at, beyond := l.Scan(depth)
	axis := axisOf(run.Plane)
	pose = pose.Shift(axis.Mul(at - Along(run.Plane, centre))).Shift(pose.X.Mul(-middle.X)).Shift(pose.Y.Mul(-middle.Y))
	status := "placed between two tie levels"
	if beyond {
		status = "placed beyond the tie levels"
	}
	return Registration{Series: series, Pose: pose, Method: ByLevel, Status: status}, nil
}
