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
	way := map[section.Plane]string{section.Transverse: "head to foot", section.Frontal: "front to back", section.Sagittal: "side to side"}[section.FacingOf(along).Plane()]
	r.Words = append(r.Words, fmt.Sprintf("this face is %s %s than the scan", longer(-p.Value, p.SE), way))
}

// longer words a difference; one that its own error could make (two standard errors) is none.
func longer(percent, se float64) string {
	switch {
	case math.Abs(percent) < math.Max(2*se, 0.05):
		return "no longer or shorter, as far as can be told,"
	case percent > 0:
		return fmt.Sprintf("%.1f %% longer", percent)
	}
	return fmt.Sprintf("%.1f %% shorter", -percent)
}
