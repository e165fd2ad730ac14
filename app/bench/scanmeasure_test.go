package bench

import (
	"bytes"
	"encoding/csv"
	"math"
	"strings"
	"testing"

	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// MS1 on the scan: a rectangle of 100 x 50 mm of the patient reads 5,000 mm² within 1 %, with the spread of placing in voxels
// of 5 mm; it says that the scan was measured, and turn and mirror change nothing.
func TestMS1OnTheScan(t *testing.T) {
	b, _, _, _, s := onPairing(t)
	b.Do("scan.measure")
	pose, _, _ := b.cutPose()
	m0, _ := pose.Project(b.pair.tied.Centre)
	corner := func(x, y float64) geom.LPS { return pose.At(geom.MM{X: m0.X + x, Y: m0.Y + y}) }
	ring := []geom.LPS{corner(-50, -25), corner(50, -25), corner(50, 25), corner(-50, 25)}
	measure := func() (out [3]string) {
		for i, k := range []MeasureKind{MeasureLength, MeasureAngle, MeasureArea} {
			b.SetScanMeasureKind(k)
			for _, p := range ring[:2+i] {
				scanClick(t, s, p)
			}
			b.Key("Return", Mods{})
			out[i] = b.ScanMeasureWords()
		}
		return out
	}
	want := measure()
	// 0.8 voxel of 5 mm is 4 mm: both ends of a length move by it (GUM, JCGM 100:2008, 5.1.2), 4 mm * sqrt 2 = 5.7.
	if !has(want[0], "100.0 mm ± 5.7") || !has(want[1], "90.0°") || !has(want[2], "5000 mm² ±", "perimeter 300.0 mm ±") {
		t.Fatalf("%q", want)
	}
	if len(b.ties()) != 0 || b.pair.half.scan != nil {
		t.Error("measuring set a landmark")
	}
	var file bytes.Buffer
	if err := b.WriteMeasures(&file); err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(file.String()))
	r.FieldsPerRecord = -1
	rows, err := r.ReadAll()
	if last := rows[len(rows)-2]; err != nil || last[0] != "area" || last[1] != "scan" || last[2] != "5000.00" || last[4] != "mm2" {
		t.Errorf("table %q, %v", rows, err)
	}
	for _, v := range []section.View{section.Scan, section.OtherSide} {
		b.SetView(v)
		if got := measure(); got != want {
			t.Errorf("view %v: %q, want %q", v, got, want)
		}
	}
	b.StepScan(1)
	if w := b.ScanMeasureWords(); w != "" {
		t.Errorf("on another cut the old measure stays: %q", w)
	}
	b.Back()
	b.Back()
	if b.ScanMeasuring() || b.screen != PairingScreen {
		t.Error("Esc does not put the measuring away one step at a time")
	}
}

// A shape that crosses itself has no area, and the words say why.
func TestScanAreaThatCrosses(t *testing.T) {
	b, _, _, _, s := onPairing(t)
	b.ToggleScanMeasure()
	b.SetScanMeasureKind(MeasureArea)
	pose, _, _ := b.cutPose()
	m0, _ := pose.Project(b.pair.tied.Centre)
	for _, p := range [][2]float64{{-40, -40}, {40, 40}, {40, -40}, {-40, 40}} {
		s.measurePoint(geom.MM{X: m0.X + p[0], Y: m0.Y + p[1]}, pose)
	}
	b.closeScanMeasure()
	if w := b.ScanMeasureWords(); !has(w, "crosses itself") {
		t.Errorf("%q", w)
	}
}

// The size of a voxel along a cut: 0.7 x 0.7 mm within slices 3 mm apart, worked by hand: straight 0.7; turned upright
// along a slice's row sqrt((0.7² + 3²) / 2) = 2.178.
func TestVoxelAcross(t *testing.T) {
	grid := geom.Affine{0.7, 0, 0, 0, 0, 0.7, 0, 0, 0, 0, 3, 0}
	for _, c := range []struct {
		y    geom.Vec
		want float64
	}{{geom.Vec{Y: 1}, 0.7}, {geom.Vec{Z: -1}, 2.1783}} {
		if got := voxelAcross(grid, geom.Pose{X: geom.Vec{X: 1}, Y: c.y, Scale: 1}); math.Abs(got-c.want) > 1e-3 {
			t.Errorf("along %v: %g, want %g", c.y, got, c.want)
		}
	}
}
