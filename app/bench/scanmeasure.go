package bench

import (
	"math"

	"sectionary/annotate"
	"sectionary/slices/geom"
	"sectionary/slices/photo"
)

// scanMeasure is what is measured on the cut of the scan: places in mm along the cut it was begun on. It is told in
// the patient's own mm, so the stretch of a slab does not enter it.
type scanMeasure struct {
	measureDraft
	on   bool      // a click on the scan sets a place of the measure, not a landmark
	pose geom.Pose // of the cut
}

// ToggleScanMeasure begins measuring on the scan, or puts it away.
func (b *Bench) ToggleScanMeasure() {
	m := &b.pair.measure
	m.on = !m.on
	m.drop()
	b.pair.half = halfTie{}
	b.hint("", false)
	b.changed(ScanChanged | SelectionChanged)
}

// backFromScanMeasure drops the places set, or puts the measuring away when there are none.
func (b *Bench) backFromScanMeasure() {
	if len(b.pair.measure.at) == 0 {
		b.ToggleScanMeasure()
		return
	}
	b.pair.measure.drop()
	b.changed(ScanChanged)
}

// ScanMeasuring reports whether clicks on the scan measure.
func (b *Bench) ScanMeasuring() bool { return b.pair.measure.on }

// ScanMeasureKind is what is measured on the scan.
func (b *Bench) ScanMeasureKind() MeasureKind { return b.pair.measure.kind }

// SetScanMeasureKind chooses what is measured on the scan. What was measured is dropped.
func (b *Bench) SetScanMeasureKind(k MeasureKind) {
	if b.pair.measure.take(k) {
		b.changed(ScanChanged)
	}
}

// measurePoint sets the next place of a measure; one of another cut is begun anew.
func (s *scanPane) measurePoint(at geom.MM, pose geom.Pose) {
	m := &s.b.pair.measure
	if m.pose != pose {
		m.drop()
	}
	m.pose = pose
	v, _ := s.viewport(pose)
	p := geom.Px{X: at.X, Y: at.Y}
	m.add(p, func(first geom.Px) bool { return v.Device(first).Dist(v.Device(p)) < s.scale*reach*0.6 })
	s.b.changed(ScanChanged)
}

// closeScanMeasure ends the shape being measured on the scan.
func (b *Bench) closeScanMeasure() {
	if m := &b.pair.measure; m.on && m.shut() {
		b.changed(ScanChanged)
	}
}

// paintMeasure draws the measure on the cut it was taken on.
func (s *scanPane) paintMeasure(r brush, pose geom.Pose, v Viewport) {
	m := s.b.pair.measure
	if !m.on || m.pose != pose {
		return
	}
	var hand *geom.Px
	if w := s.b.pair.where; w != nil && s.b.pair.fromScan {
		p := v.Device(geom.Px{X: w.X, Y: w.Y})
		hand = &p
	}
	r.measure(m.measureDraft, v, hand, s.b.ScanMeasureWords())
}

// voxelAcross is how large a voxel is along the cut, in patient mm: the root of the mean square of both directions.
func voxelAcross(toLPS geom.Affine, pose geom.Pose) float64 {
	inverse, err := toLPS.Inverse()
	if err != nil {
		return math.NaN()
	}
	zero := inverse(pose.Origin)
	size := func(d geom.Vec) float64 { // mm for one step through the grid
		p := inverse(pose.Origin.Add(d))
		return 1 / math.Sqrt((p.I-zero.I)*(p.I-zero.I)+(p.J-zero.J)*(p.J-zero.J)+(p.K-zero.K)*(p.K-zero.K))
	}
	x, y := size(pose.X), size(pose.Y)
	return math.Sqrt((x*x + y*y) / 2)
}

// scanMeasuredHere is the measure on the cut shown; ok is false while there is none.
func (b *Bench) scanMeasuredHere() (m measureDraft, ok bool) {
	pose, _, placed := b.cutPose()
	own := b.pair.measure
	return own.measureDraft, placed && b.pair.volume != nil && own.whole && own.pose == pose
}

// scanMeasured is what was measured on the cut shown. The spread is that of placing, in voxels along
// the cut as on a photograph in pixels; the scan's own scale is taken as its maker wrote it.
func (b *Bench) scanMeasured() []measuredValue {
	m, ok := b.scanMeasuredHere()
	if !ok || m.crosses() {
		return nil
	}
	pose := b.pair.measure.pose
	click := photo.ClickSpread * voxelAcross(b.pair.volume.ToLPS, pose)
	at := make([]geom.MM, len(m.at))
	for i, p := range m.at {
		at[i] = geom.MM{X: p.X * pose.Scale, Y: p.Y * pose.Scale}
	}
	switch m.kind {
	case MeasureAngle:
		a, sd := annotate.AngleAt(at[0], at[1], at[2], click, click, click)
		return []measuredValue{{"angle", a * 180 / math.Pi, sd * 180 / math.Pi, "degrees"}}
	case MeasureArea:
		a, asd, l, lsd := annotate.AreaAt(at, click)
		return []measuredValue{{"area", a, asd, "mm2"}, {"perimeter", l, lsd, "mm"}}
	}
	l, sd := annotate.LengthAt(at[0], at[1], click)
	return []measuredValue{{"length", l, sd, "mm"}}
}

// ScanMeasureWords is what was measured on the scan with its spread, "" while there is nothing.
func (b *Bench) ScanMeasureWords() string {
	m, ok := b.scanMeasuredHere()
	if !ok {
		return ""
	}
	return measuredWords(m, b.scanMeasured())
}

func scanMeasureHint(k MeasureKind) string {
	if k == MeasureLength {
		return Word("hint.measure.scan") // here a drag moves the picture
	}
	return measureHint(k)
}
