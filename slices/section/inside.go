package section

import "fmt"

// Inside tells what a place in a run is, in mm from the datum: within a slab, or within the kerf after it.
type Inside struct {
	Slab  int     `json:"slab"`  // number of the slab, or of the one before the kerf
	Kerf  bool    `json:"kerf"`  // turned to dust by the saw
	Below float64 `json:"below"` // mm beyond the slab's first face, or beyond its last face for a kerf
	Above float64 `json:"above"` // mm still to go to its last face, or to the next slab for a kerf
}

// Inside returns where depth lies; ok is false before the first face and beyond the last.
func (r Run) Inside(depth float64) (in Inside, ok bool) {
	const rounding = 1e-6
	at := 0.0
	for i, s := range r.Slabs {
		if end := at + s.Mean(); depth >= at-rounding && depth <= end+rounding {
			return Inside{s.Number, false, depth - at, end - depth}, true
		}
		at += s.Mean()
		if end := at + s.Kerf; i < len(r.Slabs)-1 && depth > at && depth < end {
			return Inside{s.Number, true, depth - at, end - depth}, true
		}
		at += s.Kerf
	}
	return Inside{}, false
}

// Words says it as a person at the run would; first is the end where slab 1 lies.
func (in Inside) Words(first Facing) string {
	if in.Kerf {
		return fmt.Sprintf("in the cut after slab %d: lost to the saw", in.Slab)
	}
	way := map[Facing]string{Superior: "below", Inferior: "above", Anterior: "behind", Posterior: "in front of",
		Left: "right of", Right: "left of"}[first]
	if way == "" {
		way = "beyond"
	}
	name := Face{Slab: in.Slab, Facing: first}.facingName()
	return fmt.Sprintf("inside slab %d, %.1f mm %s its %s", in.Slab, in.Below, way, name)
}
