package section

import "testing"

// CP4: structures by hand-worked intervals. Slabs 20 mm with kerfs of 1.2: faces at 0, 20, 21.2, 41.2, 42.4 and 62.4 mm.
func TestCP4Unseen(t *testing.T) {
	run := Run{Plane: Transverse, First: Superior, Slabs: []Slab{
		{Number: 1, Thickness: [3]float64{20}, Kerf: 1.2}, {Number: 2, Thickness: [3]float64{20}, Kerf: 1.2}, {Number: 3, Thickness: [3]float64{20}, Kerf: 1.2}}}
	for _, c := range []struct {
		name     string
		from, to float64
		rounding float64
		hidden   int // number of the slab, 0 for none
		lost     int
	}{
		{"well inside slab 2", 25, 33, 0, 2, 0},
		{"reaches the lower face of slab 2", 25, 41.2, 0, 0, 0},
		{"just short of that face", 25, 41.1, 0, 2, 0},
		{"just short, but spans were measured by slices of 1 mm", 25, 41.1, 0.5, 0, 0},
		{"across the kerf", 19, 22, 0, 0, 0},
		{"only in the first kerf", 20.2, 21.0, 0, 0, 1},
		{"fills the second kerf", 41.2, 42.4, 0, 0, 2},
		{"the kerf and a little of slab 3", 41.3, 42.5, 0, 0, 0},
		{"through three slabs", 5, 60, 0, 0, 0},
		{"before the run", -9, -2, 0, 0, 0},
		{"half before the run", -1, 5, 0, 0, 0},
		{"inside the last slab", 50, 62, 0, 3, 0},
		{"beyond the last slab", 62.5, 63, 0, 0, 0},
		{"turned round", 33, 25, 0, 0, 0},
		{"one slice thick", 30, 30, 0.5, 2, 0},
	} {
		hidden, lost := run.Unseen([]Span{{c.name, c.from, c.to}}, c.rounding)
		slab := func(h []Hiding) int {
			if len(h) == 0 {
				return 0
			}
			return h[0].Slab
		}
		if slab(hidden) != c.hidden || slab(lost) != c.lost {
			t.Errorf("%s: hidden %+v, lost %+v", c.name, hidden, lost)
		}
	}
	hidden, _ := run.Unseen([]Span{{"spleen", 44, 50}, {"gallbladder", 25, 33}}, 0)
	if len(hidden) != 2 || hidden[0].Words != "gallbladder: only inside slab 2, 3.8 to 11.8 mm from its first face" {
		t.Errorf("%+v", hidden)
	}
}
