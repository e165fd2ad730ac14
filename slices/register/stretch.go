package register

import (
	"fmt"
	"math"

	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// Percent is a difference of length, how much longer the scan is than the face in per cent, with its standard error.
type Percent struct {
	Value float64 `json:"value"`
	SE    float64 `json:"se"`
}

// String writes p with its error: "3.0 % ± 0.4".
func (p Percent) String() string { return fmt.Sprintf("%.1f %% ± %.1f", p.Value, p.SE) }

// Across measures how much longer the scan is than the face along picture right and down, from the landmarks: the best
// linear map from face to patient within the plane, taken apart (the turn is the pose's). It fails with geom.ErrTooFewPoints
// below four landmarks and with geom.ErrDegenerate when they lie on one line.
func (r Registration) Across() (right, down Percent, err error) {
	n := len(r.Places)
	if n < 4 || len(r.Ties) != n {
		return right, down, fmt.Errorf("register: stretch across needs 4 landmarks, got %d: %w", n, geom.ErrTooFewPoints)
	}
	var cx, cy, tu, tv float64
	for i, p := range r.Places {
		d := r.Ties[i].Scan.Sub(r.Pose.Origin)
		cx, cy = cx+p.X/float64(n), cy+p.Y/float64(n)
		tu, tv = tu+d.Dot(r.Pose.X)/float64(n), tv+d.Dot(r.Pose.Y)/float64(n)
	}
	var xx, xy, yy, ux, uy, vx, vy float64
	for i, p := range r.Places {
		x, y := p.X-cx, p.Y-cy
		d := r.Ties[i].Scan.Sub(r.Pose.Origin)
		u, v := d.Dot(r.Pose.X)-tu, d.Dot(r.Pose.Y)-tv
		xx, xy, yy = xx+x*x, xy+x*y, yy+y*y
		ux, uy, vx, vy = ux+u*x, uy+u*y, vx+v*x, vy+v*y
	}
	det := xx*yy - xy*xy
	if !(det > 1e-9*xx*yy) {
		return right, down, fmt.Errorf("register: stretch across: %w", geom.ErrDegenerate)
	}
	m := [4]float64{(ux*yy - uy*xy) / det, (uy*xx - ux*xy) / det, (vx*yy - vy*xy) / det, (vy*xx - vx*xy) / det}
	var rest float64
	for i, p := range r.Places {
		x, y := p.X-cx, p.Y-cy
		d := r.Ties[i].Scan.Sub(r.Pose.Origin)
		eu, ev := d.Dot(r.Pose.X)-tu-m[0]*x-m[1]*y, d.Dot(r.Pose.Y)-tv-m[2]*x-m[3]*y
		rest += eu*eu + ev*ev
	}
	variance := rest / float64(2*n-6)
	right = Percent{100 * (math.Hypot(m[0], m[2]) - 1), 100 * math.Sqrt(variance*yy/det)}
	down = Percent{100 * (math.Hypot(m[1], m[3]) - 1), 100 * math.Sqrt(variance*xx/det)}
	return right, down, nil
}

// StretchRow is one face of the report on stretch and shrink.
type StretchRow struct {
	Face  section.Face `json:"face"`
	Right *Percent     `json:"right"` // along picture right; nil when not measured
	Down  *Percent     `json:"down"`
	Along *float64     `json:"along"` // per cent along the run, of the stretch the face lies in; nil outside the tie levels
	Words []string     `json:"words"`
}

// StretchReport tells for every registered face of a run how the scan's lengths differ from the slab's, across and along.
// Faces without a registration that can tell, and outside the tie levels, have nothing in that column.
func StretchReport(run section.Run, l Levels, faces map[section.Face]Registration) []StretchRow {
	var out []StretchRow
	for _, f := range run.Faces() {
		row := StretchRow{Face: f, Words: []string{}}
		if r, ok := faces[f]; ok {
			if right, down, err := r.Across(); err == nil {
				row.Right, row.Down = &right, &down
				row.say(right, r.Pose.X)
				row.say(down, r.Pose.Y)
			}
		}
		if depth, _, err := run.Depth(f); err == nil {
			for _, s := range l.Stretches() {
				if depth >= s.From.Run && depth <= s.To.Run {
					row.Along = &s.Percent
					row.Words = append(row.Words, fmt.Sprintf("the run is %s along the cut than the scan", longer(-s.Percent, 0)))
					break
				}
			}
		}
		if row.Right != nil || row.Along != nil {
			out = append(out, row)
		}
	}
	return out
}

func (r *StretchRow) say(p Percent, along geom.Vec) {
	way := wayOf(along)
	r.Words = append(r.Words, fmt.Sprintf("this face is %s %s than the scan", longer(-p.Value, p.SE), way))
}

// longer words a difference; one that its own error could make (two standard errors) is none.
func longer(percent, se float64) string {
	switch {
	case math.IsNaN(se) && math.Abs(percent) >= 0.05: // nobody measured its error
	case math.IsNaN(se), math.Abs(percent) < math.Max(2*se, 0.05):
		return "no longer or shorter, as far as can be told,"
	}
	if percent > 0 {
		return fmt.Sprintf("%.1f %% longer", percent)
	}
	return fmt.Sprintf("%.1f %% shorter", -percent)
}

// SlabStretch is how the lengths of one slab differ from the scan's, in per cent of the scan's length (negative: the slab is
// shorter), along the cut and in the two directions of the body across it, with standard errors.
type SlabStretch struct {
	Slab   int               `json:"slab"`
	Along  *Percent          `json:"along"`  // nil where it cannot be told
	Across [2]*StretchAcross `json:"across"` // by the name of the direction; nil where it cannot be told
	Words  []string          `json:"words"`
}

// StretchAcross is a difference in one direction of the body.
type StretchAcross struct {
	Way string `json:"way"` // "side to side"
	Percent
}

// thicknessSE is the usual standard error of a slab's measured thickness, mm (common practice, no source).
const thicknessSE = 0.4

// StretchBySlab tells for every slab how its lengths differ from the scan's: across from the landmarks of its faces (both, weighed by
// their errors), along from the levels its two faces lie at, else from the tie levels it lies between. middles are places of the faces in mm
// at which their level counts.
func StretchBySlab(run section.Run, l Levels, faces map[section.Face]Registration, middles map[section.Face]geom.MM) []SlabStretch {
	var out []SlabStretch
	ways := waysAcross(run.Plane)
	for _, s := range run.Slabs {
		row := SlabStretch{Slab: s.Number, Words: []string{}}
		near := section.Face{Run: run.ID, Slab: s.Number, Facing: run.First}
		far := section.Face{Run: run.ID, Slab: s.Number, Facing: run.First.Opposite()}
		row.Along = alongOf(run, s, l, faces, middles, near, far)
		for i, way := range ways {
			var told []Percent
			for _, f := range []section.Face{near, far} {
				r, ok := faces[f]
				if !ok {
					continue
				}
				right, down, err := r.Across()
				if err != nil {
					continue
				}
				if wayOf(r.Pose.X) == way {
					told = append(told, ofScan(right))
				} else if wayOf(r.Pose.Y) == way {
					told = append(told, ofScan(down))
				}
			}
			if p, ok := weighed(told); ok {
				row.Across[i] = &StretchAcross{way, p}
			}
		}
		if row.say(); len(row.Words) > 0 {
			out = append(out, row)
		}
	}
	return out
}

func (r *SlabStretch) say() {
	if r.Along != nil {
		r.Words = append(r.Words, fmt.Sprintf("this slab is %s along the cut than the scan", longer(r.Along.Value, r.Along.SE)))
	}
	for _, a := range r.Across {
		if a != nil {
			r.Words = append(r.Words, fmt.Sprintf("this slab is %s %s than the scan", longer(a.Value, a.SE), a.Way))
		}
	}
}

// alongOf compares a slab's thickness with the way between its faces in the scan. Without both faces the tie levels' stretch is taken,
// whose own error nobody measured: NaN.
func alongOf(run section.Run, s section.Slab, l Levels, faces map[section.Face]Registration, middles map[section.Face]geom.MM, near, far section.Face) *Percent {
	a, okA := faces[near]
	z, okZ := faces[far]
	thick := s.Mean()
	if okA && okZ && thick > 0 {
		ma, mz := middles[near], middles[far]
		// the way from face to face, along the run's own axis at the middle of each
		long := math.Abs(Along(run.Plane, z.At(mz)) - Along(run.Plane, a.At(ma)))
		se := math.Hypot(a.levelSE(ma), z.levelSE(mz))
		if long > 0 && !math.IsNaN(se) {
			return &Percent{100 * (thick/long - 1), 100 * math.Hypot(thicknessSE/long, thick*se/(long*long))}
		}
	}
	depth, _, err := run.Depth(near)
	for _, x := range l.Stretches() {
		if err == nil && depth >= x.From.Run-1e-6 && depth+thick <= x.To.Run+1e-6 {
			p := ofScan(Percent{Value: x.Percent})
			p.SE = math.NaN()
			return &p
		}
	}
	return nil
}

// levelSE is the standard error of the level at p, mm: of a plane fitted to the landmarks' places along the cut. NaN below four.
func (r Registration) levelSE(p geom.MM) float64 {
	n := float64(len(r.Places))
	if n < 4 || len(r.Ties) != len(r.Places) {
		return math.NaN()
	}
	var c geom.MM
	var rest, around float64
	for i, q := range r.Places {
		c.X, c.Y = c.X+q.X/n, c.Y+q.Y/n
		_, off := r.Pose.Project(r.Ties[i].Scan)
		rest += off * off
	}
	for _, q := range r.Places {
		around += q.Dist(c) * q.Dist(c)
	}
	return math.Sqrt(rest / (n - 3) * (1/n + 2*p.Dist(c)*p.Dist(c)/math.Max(around, 1e-9)))
}

// ofScan turns how much longer the scan is than the face into how much longer the face is than the scan.
func ofScan(p Percent) Percent {
	k := 1 + p.Value/100
	return Percent{100 * (1/k - 1), p.SE / (k * k)}
}

// weighed is the mean of measures, each counted by one over the square of its error.
func weighed(ps []Percent) (Percent, bool) {
	var sum, w float64
	for _, p := range ps {
		if !(p.SE > 0) {
			p.SE = 1e-3 // an exact fit
		}
		k := 1 / (p.SE * p.SE)
		sum, w = sum+k*p.Value, w+k
	}
	if w == 0 {
		return Percent{}, false
	}
	return Percent{sum / w, 1 / math.Sqrt(w)}, true
}

var wayNames = map[section.Plane]string{section.Transverse: "head to foot", section.Frontal: "front to back", section.Sagittal: "side to side"}

// wayOf names the direction of the body a vector runs along.
func wayOf(v geom.Vec) string { return wayNames[section.FacingOf(v).Plane()] }

// waysAcross names the two directions of the body that span a plane.
func waysAcross(p section.Plane) [2]string {
	switch p {
	case section.Frontal:
		return [2]string{"side to side", "head to foot"}
	case section.Sagittal:
		return [2]string{"front to back", "head to foot"}
	}
	return [2]string{"side to side", "front to back"}
}
