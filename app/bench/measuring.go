package bench

import "sectionary/slices/geom"

// measurePoint sets the next point of a measure.
func (f *facePane) measurePoint(px geom.Px) {
	b := f.b
	if len(b.draw.measure) >= 2 {
		b.draw.measure = nil
	}
	b.draw.measure = append(b.draw.measure[:len(b.draw.measure):len(b.draw.measure)], px)
	b.changed(SelectionChanged)
}
