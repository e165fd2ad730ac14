package bench

import (
	"bytes"
	"encoding/binary"
	"math"
	"strings"
	"testing"

	"sectionary/annotate"
	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/scan"
	"sectionary/slices/section"
)

// labelsOnBody is a label volume on the grid of the sample's scan (5 mm voxels, first slice at z = -40) with each number in a few slices.
func labelsOnBody(t *testing.T, slices map[int][2]int) *scan.Volume {
	t.Helper()
	const nx, ny, nz, mm = 80, 60, 50, 5.0
	h := make([]byte, 352, 352+2*nx*ny*nz)
	le := binary.LittleEndian
	le.PutUint32(h[0:], 348)
	for i, n := range []uint16{3, nx, ny, nz, 1, 1, 1, 1} {
		le.PutUint16(h[40+2*i:], n)
	}
	le.PutUint16(h[70:], 4)
	le.PutUint16(h[72:], 16)
	for i, p := range []float32{1, mm, mm, mm} {
		le.PutUint32(h[76+4*i:], math.Float32bits(p))
	}
	le.PutUint32(h[108:], math.Float32bits(352))
	h[123] = 2
	le.PutUint16(h[254:], 1)
	for i, r := range [3][4]float32{{mm, 0, 0, -(nx - 1) * mm / 2}, {0, mm, 0, -(ny - 1) * mm / 2}, {0, 0, mm, -40}} {
		for k, v := range r {
			le.PutUint32(h[280+16*i+4*k:], math.Float32bits(v))
		}
	}
	copy(h[344:], "n+1\x00")
	h = h[:cap(h)]
	for n, s := range slices {
		for k := s[0]; k <= s[1]; k++ {
			for j := 28; j < 32; j++ {
				le.PutUint16(h[352+2*((k*ny+j)*nx+36+n):], uint16(n))
			}
		}
	}
	v, err := scan.ReadNIfTI(bytes.NewReader(h))
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// CP4 on the pairing: level 0 of the run is z = 120 and 80 mm are z = 40, so slice k (z = 5k - 40) is depth 160 - 5k. Slab 2 reaches from 21.2
// to 41.2 mm: slices 25 and 26 (35 and 30 mm) lie inside it; slices 24 to 27 come to 40 and 25 mm, within half a slice of a face at one end only.
func TestCP4HiddenByThickness(t *testing.T) {
	b, _, _, _, s := onPairing(t)
	if _, _, why := b.Unseen(); !has(why, "labels made on this scan") {
		t.Fatalf("without labels: %q", why)
	}
	v := labelsOnBody(t, map[int][2]int{1: {25, 26}, 2: {24, 27}, 3: {10, 40}, 4: {22, 22}})
	keys := []atlas.VolumeKey{{Number: 1, Term: "one"}, {Number: 2, Term: "two"}, {Number: 3, Term: "three"}, {Number: 4, Term: "four"}, {Number: 9, Term: "absent"}}
	pose, _, _ := b.basePose()
	spans, err := spansOf(t.Context(), v, keys, func(k atlas.VolumeKey) string { return string(k.Term) }, section.Transverse, pose, b.pair.tied.Centre)
	if err != nil {
		t.Fatal(err)
	}
	spans.series = b.pair.series
	b.pair.spans = spans
	hidden, lost, why := b.Unseen()
	var names []string
	for _, x := range hidden {
		names = append(names, strings.ToLower(x.Words))
	}
	// slab 3 reaches from 42.4 to 62.4: slice 22 is depth 50
	if why != "" || len(lost) != 0 || len(hidden) != 2 || !has(names[0], "one: only inside slab 2") || !has(names[1], "four: only inside slab 3") {
		t.Fatalf("%q, lost %v, %q", names, lost, why)
	}
	b.StepScan(-2) // depth 41.2 - 10 = 31.2 mm, inside slab 2
	hidden, _, _ = b.Unseen()
	if !hidden[0].Here || hidden[1].Here || !has(b.unseenHere(), "one") || has(b.unseenHere(), "four") {
		t.Errorf("%+v, %q", hidden, b.unseenHere())
	}
	painted(s, 640, 560, 1)
	// a structure outlined on a face is not hidden, whatever the levels say
	f := b.rule.facts[b.Face()]
	for _, c := range []struct {
		drawn  structure
		hidden int
	}{{structure{"one", annotate.NoSide}, 1}, {structure{"one", annotate.Right}, 1}, {structure{"other", annotate.NoSide}, 2}} {
		f.drawn = []structure{c.drawn}
		b.rule.facts[b.Face()] = f
		if hidden, _, _ := b.Unseen(); len(hidden) != c.hidden {
			t.Errorf("with %v drawn %d are hidden, want %d", c.drawn, len(hidden), c.hidden)
		}
	}
	kept := annotate.Label{ID: "k", Term: "one", Side: annotate.Left, Regions: []annotate.Polygon{square(200, 200, 9)}}
	carried := kept
	carried.ID, carried.Term, carried.Carried = "c", "four", true
	var p atlas.Plate
	p.Labels, _ = p.Labels.AddAll([]annotate.Label{kept, carried})
	if got := drawnOn(p); len(got) != 1 || got[0] != (structure{"one", annotate.Left}) {
		t.Errorf("drawn: %v", got)
	}
	// a leaning cut: of the same slices those to the donor's left count deeper where the cut leans that way
	lean := geom.Pose{X: geom.Vec{X: math.Cos(0.2), Z: math.Sin(0.2)}, Y: geom.Vec{Y: 1}, Scale: 1}
	tilted, err := spansOf(t.Context(), labelsOnBody(t, map[int][2]int{1: {25, 25}, 2: {25, 25}}), keys[:2], func(k atlas.VolumeKey) string { return "" }, section.Transverse, lean, geom.LPS{})
	if err != nil || len(tilted.spans) != 2 {
		t.Fatal(tilted, err)
	}
	// the numbers stand one voxel (5 mm to the right, RAS) apart: their planes meet the axis 5 tan(0.2) mm apart
	if got := math.Abs(tilted.spans[0][0] - tilted.spans[1][0]); math.Abs(got-5*math.Tan(0.2)) > 1e-3 {
		t.Errorf("a leaning cut parts them by %.3f mm, want %.3f", got, 5*math.Tan(0.2))
	}
}
