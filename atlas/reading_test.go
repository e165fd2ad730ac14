package atlas

import (
	"testing"
	"time"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// A second reading is kept with its face and found by nothing: neither by structure nor among the labels.
func TestSecondReadingIsKeptApart(t *testing.T) {
	l, r := lab(t)
	p := add(t, l, section.Face{Run: r.ID, Slab: 1, Facing: section.Superior}, 90)
	box := annotate.Polygon{Outer: []geom.Px{{X: 2, Y: 2}, {X: 12, Y: 2}, {X: 12, Y: 12}, {X: 2, Y: 12}}}
	second, err := annotate.Labels{}.Add(annotate.Label{ID: "s", Term: "UBERON:0002107", Sure: annotate.Certain, Author: "CD", Changed: time.Unix(1e9, 0), Regions: []annotate.Polygon{box}})
	if err != nil {
		t.Fatal(err)
	}
	before := p.Labels.Len()
	p.Second = &Reading{Reader: "CD", Begun: time.Unix(1e9, 0).UTC(), Labels: second}
	if _, err := l.Save(p); err != nil {
		t.Fatal(err)
	}
	got, err := l.Plate(p.ID)
	if err != nil || got.Second == nil || got.Second.Reader != "CD" || got.Second.Labels.Len() != 1 || !got.Second.Ended.IsZero() || got.Labels.Len() != before {
		t.Fatalf("kept %+v, %v", got.Second, err)
	}
	for e, err := range l.Find(Query{Term: "UBERON:0002107"}) {
		t.Errorf("found by what only a second reading names: %+v, %v", e, err)
	}
}
