package annotate

import "sectionary/slices/geom"

// NameBox is one name to be set beside a face: the size of its text box and the point its leader must reach,
// in the units of the picture being made.
type NameBox struct {
	ID   string
	W, H float64
	At   geom.Px // inside the outline: Label.Inside
}

// Placed is where a name went. Leader runs from the box to the point named; it is empty when the name stands
// inside its own outline.
type Placed struct {
	ID     string
	Box    Box
	Leader []geom.Px
}

// Place sets names round a face: clear of face and of each other, with leaders that never cross.
// Names that do not fit inside frame are left out and returned as the second value.
func Place(names []NameBox, face []Polygon, frame Box) (placed []Placed, left []string) {
	return nil, nil
}
