package annotate

import (
	"encoding/json"
	"fmt"

	"sectionary/slices/geom"
)

// OutlineReport is what the prompt prints for one outline; the numbers are there only when it is sound.
type OutlineReport struct {
	OK        bool        `json:"ok"`
	Error     string      `json:"error"`
	Area      *float64    `json:"area_px"`
	Perimeter *float64    `json:"perimeter_px"`
	Centroid  *[2]float64 `json:"centroid"`
	Inside    *[2]float64 `json:"inside"`
}

// Report checks and measures p in pixels.
func (p Polygon) Report() OutlineReport {
	if err := p.Check(); err != nil {
		return OutlineReport{Error: err.Error()}
	}
	area, perimeter, c, in := p.AreaPx(), p.PerimeterPx(), p.Centroid(), p.Inside()
	return OutlineReport{OK: true, Area: &area, Perimeter: &perimeter, Centroid: &[2]float64{c.X, c.Y}, Inside: &[2]float64{in.X, in.Y}}
}

// ReadOutlines reads {"outlines":[{"outer":[[x,y],...],"holes":[...]}]} in pixels. It does not Check.
func ReadOutlines(b []byte) ([]Polygon, error) {
	var in struct {
		Outlines []Polygon `json:"outlines"`
	}
	if err := json.Unmarshal(b, &in); err != nil {
		return nil, fmt.Errorf("annotate: outlines: %w", err)
	}
	return in.Outlines, nil
}

// ReportOutlines reads outlines as ReadOutlines does and reports on each, in order.
func ReportOutlines(b []byte) ([]OutlineReport, error) {
	ps, err := ReadOutlines(b)
	if err != nil {
		return nil, err
	}
	out := make([]OutlineReport, len(ps))
	for i, p := range ps {
		out[i] = p.Report()
	}
	return out, nil
}

// RingsMM returns the rings of p carried to the face, the outer one first, each repeating its first point at the end
// as other programs expect of a closed ring.
func (p Polygon) RingsMM(toMM func(geom.Px) geom.MM) [][][2]float64 {
	out := make([][][2]float64, p.Rings())
	for n := range out {
		r := p.Ring(n)
		for i := range len(r) + 1 {
			q := toMM(r[i%len(r)])
			out[n] = append(out[n], [2]float64{q.X, q.Y})
		}
	}
	return out
}
