package register

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// Sighting is what is known of where one face of a run lies in the scan.
type Sighting struct {
	Face   section.Face
	Points []geom.LPS // landmarks found on the face, at their places in the scan
	Level  *float64   // scan coordinate along the cut at the middle of the face, when tied or fitted; nil: none
}

// Spreads are the standard deviations a whole run is solved with, in mm and radians; 0 takes the usual one (common
// practice, no source).
type Spreads struct {
	Thickness float64 // of one slab; usual 0.5
	Kerf      float64 // of one cut; usual 0.15
	Point     float64 // of a landmark, per axis; usual 1
	Level     float64 // of a tied level; usual 2
	Tilt      float64 // of one cut's lean from the lean all share; usual 1 degree
	Partner   float64 // between the two faces of one cut; usual 0.2 degrees
	Stretch   float64 // of the scan against the run, as a share; usual 0.03
}

func (s Spreads) usual() Spreads {
	const degree = math.Pi / 180
	for _, p := range []struct {
		v     *float64
		usual float64
	}{{&s.Thickness, 0.5}, {&s.Kerf, 0.15}, {&s.Point, 1}, {&s.Level, 2}, {&s.Tilt, degree}, {&s.Partner, 0.2 * degree}, {&s.Stretch, 0.03}} {
		if !(*p.v > 0) {
			*p.v = p.usual
		}
	}
	return s
}

// Placed is one face as the whole run places it. Level is the scan coordinate along the cut (LPS mm) at the run's
// middle, SE its standard error; Normal points down the run, away from slab 1.
type Placed struct {
	Face   section.Face `json:"face"`
	Level  float64      `json:"level"`
	SE     float64      `json:"se"`
	Normal geom.Vec     `json:"normal"`
	Own    bool         `json:"own"` // seen itself, not only carried from its neighbours
}

// Whole is a run solved at once.
type Whole struct {
	Faces     []Placed `json:"faces"`   // in order along the run
	Middle    geom.LPS `json:"middle"`  // where levels are counted; its part along the cut is not used
	Stretch   float64  `json:"stretch"` // scan length over run length
	StretchSE float64  `json:"stretchSE"`
	Misfit    float64  `json:"misfit"` // sum of squared standardised residuals
	Freedom   int      `json:"freedom"`
	Doubts    []Doubt  `json:"doubts,omitempty"` // most likely first
}

// SolveRun places all faces of a run at once by weighted least squares: slabs and kerfs as measured, cuts that all lean
// nearly alike, landmarks and tied levels, each with its own spread. Faces without a sighting get a level and an error too. The slab most
// likely mistyped, or the two most likely exchanged, are named when that would explain what chance hardly can; where the data
// disagree as a whole, the errors are widened by as much.
//
// It fails with geom.ErrTooFewPoints when nothing is sighted, with section.ErrNoSuchFace for a face the run has not, and with
// ErrOutOfOrder when the faces do not come out in order along the body.
func SolveRun(run section.Run, seen []Sighting, spread Spreads) (Whole, error) {
	if err := run.Check(); err != nil {
		return Whole{}, fmt.Errorf("register: %w", err)
	}
	w, err := newWhole(run, seen, spread.usual())
	if err != nil {
		return Whole{}, err
	}
	s, err := w.solve()
	if err != nil {
		return Whole{}, err
	}
	out := w.result(s)
	out.Doubts = w.doubts(s)
	for i := 1; i < len(out.Faces); i++ {
		if (out.Faces[i].Level-out.Faces[i-1].Level)*w.direction <= 0 {
			return out, fmt.Errorf("%w: %s does not come after %s; check their landmarks", ErrOutOfOrder, out.Faces[i].Face.Name(), out.Faces[i-1].Face.Name())
		}
	}
	return out, nil
}

// Pose places face f as the whole run does: at its level, leaning with its cut, turned so that photoUp stands up, and so that
// middle, a point of the face in mm, meets centre across the cut. It returns the standard error of the level in mm, and fails
// with section.ErrNoSuchFace or as section.Axes.
func (w Whole) Pose(f section.Face, photoUp section.Facing, middle geom.MM, centre geom.LPS) (pose geom.Pose, se float64, err error) {
	for _, p := range w.Faces {
		if p.Face.Slab != f.Slab || p.Face.Facing != f.Facing {
			continue
		}
		pose, err := section.SquarePose(f.Facing, photoUp, centre)
		if err != nil {
			return geom.Pose{}, 0, fmt.Errorf("register: %s: %w", f.Name(), err)
		}
		axis := axisOf(f.Facing.Plane())
		n := p.Normal
		// the plane through the level at the run's middle, followed to centre
		across := centre.Sub(w.Middle)
		across = across.Sub(axis.Mul(across.Dot(axis)))
		at := p.Level - n.Dot(across)/n.Dot(axis)
		pose.Origin = pose.Origin.Add(axis.Mul(at - centre.Sub(geom.LPS{}).Dot(axis)))
		// lean both axes onto the plane
		pose.X = pose.X.Sub(n.Mul(pose.X.Dot(n))).Unit()
		pose.Y = pose.Y.Sub(n.Mul(pose.Y.Dot(n))).Unit()
		pose = pose.Squared()
		return pose.Shift(pose.X.Mul(-middle.X)).Shift(pose.Y.Mul(-middle.Y)), p.SE, nil
	}
	return geom.Pose{}, 0, fmt.Errorf("register: %s: %w", f.Name(), section.ErrNoSuchFace)
}

// whole holds the equations. Unknowns: the stretch, the two slopes all cuts share, then level and two slopes of each face.
// Levels are counted along the run from a level near all of them, so that they stay small.
type whole struct {
	run       section.Run
	seen      []Sighting
	spread    Spreads
	direction float64
	middle    geom.LPS
	zero      float64
	u, v      geom.Vec // the axes across the cut
	rows      []row
	slab      []int // the row of each slab's thickness
}

// row is one equation: the unknowns at, times by, should be value, within sd.
type row struct {
	at    []int
	by    []float64
	value float64
	sd    float64
}

const firstFace = 3

func newWhole(run section.Run, seen []Sighting, spread Spreads) (*whole, error) {
	w := &whole{run: run, seen: seen, spread: spread, direction: Direction(run.First)}
	switch run.Plane {
	case section.Transverse:
		w.u, w.v = geom.Vec{X: 1}, geom.Vec{Y: 1}
	case section.Frontal:
		w.u, w.v = geom.Vec{X: 1}, geom.Vec{Z: 1}
	default:
		w.u, w.v = geom.Vec{Y: 1}, geom.Vec{Z: 1}
	}
	var n, levels, sum float64
	for _, s := range seen {
		if _, err := w.index(s.Face); err != nil {
			return nil, err
		}
		for _, p := range s.Points {
			if !(geom.Vec(p)).Finite() {
				return nil, fmt.Errorf("register: a landmark of %s is not a place", s.Face.Name())
			}
			w.middle.X, w.middle.Y, w.middle.Z = w.middle.X+p.X, w.middle.Y+p.Y, w.middle.Z+p.Z
			n++
			levels, sum = levels+1, sum+Along(run.Plane, p)
		}
		if s.Level != nil {
			levels, sum = levels+1, sum+*s.Level
		}
	}
	if levels == 0 || math.IsNaN(sum) {
		return nil, fmt.Errorf("register: no face of the run is tied to the scan: %w", geom.ErrTooFewPoints)
	}
	if n > 0 {
		w.middle = geom.LPS{X: w.middle.X / n, Y: w.middle.Y / n, Z: w.middle.Z / n}
	}
	w.zero = sum / levels
	w.write()
	return w, nil
}

// index is the place of a face among all faces of the run.
func (w *whole) index(f section.Face) (int, error) {
	for i, g := range w.run.Faces() {
		if g.Slab == f.Slab && g.Facing == f.Facing {
			return i, nil
		}
	}
	return 0, fmt.Errorf("register: %s: %w", f.Name(), section.ErrNoSuchFace)
}

func (w *whole) add(value, sd float64, at []int, by ...float64) {
	w.rows = append(w.rows, row{at, by, value, sd})
}

// write makes the equations.
func (w *whole) write() {
	w.rows, w.slab = nil, nil
	s := w.spread
	w.add(1, s.Stretch, []int{0}, 1)
	w.add(0, 0.2, []int{1}, 1) // no cut leans more than a good ten degrees
	w.add(0, 0.2, []int{2}, 1)
	usual := usualThickness(w.run)
	for i, slab := range w.run.Slabs {
		near, far := firstFace+6*i, firstFace+6*i+3
		t, sd := slab.Mean(), s.Thickness
		if t == 0 {
			t, sd = usual, math.Max(2, usual/4)
		}
		w.slab = append(w.slab, len(w.rows))
		w.add(0, sd, []int{far, near, 0}, 1, -1, -t)
		for k := range 2 {
			w.add(0, math.Tan(s.Tilt), []int{far + 1 + k, 1 + k}, 1, -1)
			if i > 0 { // one pass of the saw made this face and the one before
				w.add(0, math.Tan(s.Partner), []int{near + 1 + k, near - 2 + k}, 1, -1)
			} else {
				w.add(0, math.Tan(s.Tilt), []int{near + 1 + k, 1 + k}, 1, -1)
			}
		}
		if i > 0 {
			w.add(0, s.Kerf, []int{near, near - 3, 0}, 1, -1, -w.run.Slabs[i-1].Kerf)
		}
	}
	for _, g := range w.seen {
		i, err := w.index(g.Face)
		if err != nil {
			continue // checked before
		}
		f := firstFace + 3*i
		if g.Level != nil {
			w.add(w.direction*(*g.Level-w.zero), s.Level, []int{f}, 1)
		}
		for _, p := range g.Points {
			d := p.Sub(w.middle)
			w.add(w.direction*(Along(w.run.Plane, p)-w.zero), s.Point, []int{f, f + 1, f + 2}, 1, d.Dot(w.u), d.Dot(w.v))
		}
	}
}

func usualThickness(r section.Run) float64 {
	var all []float64
	for _, s := range r.Slabs {
		if m := s.Mean(); m > 0 {
			all = append(all, m)
		}
	}
	if len(all) == 0 {
		return 20
	}
	return median(all)
}

// solution is the least-squares answer with the covariance of the unknowns.
type solution struct {
	x       []float64
	cov     mat.SymDense
	misfit  float64
	freedom int
}

func (w *whole) solve() (*solution, error) {
	n := firstFace + 6*len(w.run.Slabs)
	normal, right := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for _, r := range w.rows {
		weight := 1 / (r.sd * r.sd)
		for i, p := range r.at {
			right.SetVec(p, right.AtVec(p)+weight*r.by[i]*r.value)
			for j, q := range r.at {
				if q >= p {
					normal.SetSym(p, q, normal.At(p, q)+weight*r.by[i]*r.by[j])
				}
			}
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(normal) {
		return nil, fmt.Errorf("register: the run cannot be solved: %w", geom.ErrDegenerate)
	}
	s := &solution{freedom: len(w.rows) - n}
	var x mat.VecDense
	if err := chol.SolveVecTo(&x, right); err != nil {
		return nil, fmt.Errorf("register: the run cannot be solved: %w", geom.ErrDegenerate)
	}
	if err := chol.InverseTo(&s.cov); err != nil {
		return nil, fmt.Errorf("register: the run cannot be solved: %w", geom.ErrDegenerate)
	}
	s.x = x.RawVector().Data
	for _, r := range w.rows {
		v := r.off(s.x) / r.sd
		s.misfit += v * v
	}
	return s, nil
}

// off is how far an equation is missed.
func (r row) off(x []float64) float64 {
	sum := -r.value
	for i, p := range r.at {
		sum += r.by[i] * x[p]
	}
	return sum
}

// disagrees reports whether the misfit is beyond what chance gives once in a thousand (Wilson and Hilferty's normal
// approximation to chi squared, PNAS 17:684, 1931).
func (s *solution) disagrees() bool {
	if s.freedom <= 0 {
		return false
	}
	k := 2 / (9 * float64(s.freedom))
	return math.Cbrt(s.misfit/float64(s.freedom)) > 1-k+3.09*math.Sqrt(k)
}

func (w *whole) result(s *solution) Whole {
	widen := 1.0
	if s.disagrees() {
		widen = math.Sqrt(s.misfit / float64(s.freedom))
	}
	out := Whole{Middle: w.middle, Stretch: s.x[0], StretchSE: widen * math.Sqrt(s.cov.At(0, 0)), Misfit: s.misfit, Freedom: s.freedom}
	own := map[section.Face]bool{}
	for _, g := range w.seen {
		own[section.Face{Slab: g.Face.Slab, Facing: g.Face.Facing}] = true
	}
	axis := axisOf(w.run.Plane).Mul(w.direction)
	for i, f := range w.run.Faces() {
		k := firstFace + 3*i
		out.Faces = append(out.Faces, Placed{
			Face: f, Level: w.zero + w.direction*s.x[k], SE: widen * math.Sqrt(s.cov.At(k, k)),
			Normal: axis.Sub(w.u.Mul(s.x[k+1])).Sub(w.v.Mul(s.x[k+2])).Unit(),
			Own:    own[section.Face{Slab: f.Slab, Facing: f.Facing}],
		})
	}
	return out
}
