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
	on   bool // a click on the scan sets a place of the measure, not a landmark
	kind MeasureKind
	pose geom.Pose // of the cut
	at   []geom.MM
	done bool
}

func (m scanMeasure) open() bool { return m.on && len(m.at) > 0 && !m.done }

// ToggleScanMeasure begins measuring on the scan, or puts it away.
func (b *Bench) ToggleScanMeasure() {
	m := &b.pair.measure
	*m = scanMeasure{on: !m.on, kind: m.kind}
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
	b.pair.measure.at, b.pair.measure.done = nil, false
	b.changed(ScanChanged)
}

// ScanMeasuring reports whether clicks on the scan measure.
func (b *Bench) ScanMeasuring() bool { return b.pair.measure.on }

// ScanMeasureKind is what is measured on the scan.
func (b *Bench) ScanMeasureKind() MeasureKind { return b.pair.measure.kind }

// SetScanMeasureKind chooses what is measured on the scan. What was measured is dropped.
func (b *Bench) SetScanMeasureKind(k MeasureKind) {
	if k <= MeasureArea && k != b.pair.measure.kind {
		b.pair.measure = scanMeasure{on: b.pair.measure.on, kind: k}
		b.changed(ScanChanged)
	}
}

// measurePoint sets the next place of a measure; a measure that is whole, or of another cut, is begun anew.
func (s *scanPane) measurePoint(at geom.MM, pose geom.Pose) {
	m := &s.b.pair.measure
	if m.done || m.pose != pose || len(m.at) >= mostMeasured {
		m.at, m.done = nil, false
	}
	m.pose = pose
	n := len(m.at)
	if v, _ := s.viewport(pose); n > 2 && m.kind == MeasureArea && onDevice(v, m.at[0]).Dist(onDevice(v, at)) < s.scale*reach*0.6 {
		m.done = true
	} else {
		m.at = append(m.at[:n:n], at)
		m.done = (m.kind == MeasureLength && n == 1) || (m.kind == MeasureAngle && n == 2)
	}
	s.b.changed(ScanChanged)
}

// closeScanMeasure ends the shape being measured on the scan.
func (b *Bench) closeScanMeasure() {
	if m := &b.pair.measure; m.open() && m.kind == MeasureArea && len(m.at) > 2 {
		m.done = true
		b.changed(ScanChanged)
	}
}

func onDevice(v Viewport, m geom.MM) geom.Px { return v.Device(geom.Px{X: m.X, Y: m.Y}) }

// paintMeasure draws the measure on the cut it was taken on.
func (s *scanPane) paintMeasure(r brush, pose geom.Pose, v Viewport) {
	m := s.b.pair.measure
	if !m.on || len(m.at) == 0 || m.pose != pose {
		return
	}
	at := make([]geom.Px, len(m.at))
	for i, q := range m.at {
		at[i] = onDevice(v, q)
	}
	var hand *geom.Px
	if w := s.b.pair.where; w != nil && s.b.pair.fromScan {
		p := onDevice(v, *w)
		hand = &p
	}
	r.measure(at, hand, m.done, m.kind, s.b.ScanMeasureWords())
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

// scanMeasured is the measure on the scan in rows: what, value, spread, unit. The spread is that of placing, in voxels along
// the cut as on a photograph in pixels; the scan's own scale is taken as its maker wrote it.
func (b *Bench) scanMeasured() (rows []measuredValue) {
	m, s := b.pair.measure, b.pair.volume
	pose, _, ok := b.cutPose()
	if !ok || s == nil || !m.done || m.pose != pose {
		return nil
	}
	click := photo.ClickSpread * voxelAcross(s.ToLPS, pose)
	at := make([]geom.MM, len(m.at))
	for i, p := range m.at {
		at[i] = geom.MM{X: p.X * pose.Scale, Y: p.Y * pose.Scale}
	}
	switch m.kind {
	case MeasureAngle:
		a, sd := annotate.AngleAt(at[0], at[1], at[2], click, click, click)
		return []measuredValue{{"angle", a * 180 / math.Pi, sd * 180 / math.Pi, "degrees"}}
	case MeasureArea:
		if ring := (annotate.Polygon{Outer: asPixels(at)}); ring.Check() != nil {
			return nil // its border crosses itself: it has no area
		}
		a, asd, l, lsd := annotate.AreaAt(at, click)
		return []measuredValue{{"area", a, asd, "mm2"}, {"perimeter", l, lsd, "mm"}}
	}
	l, sd := annotate.LengthAt(at[0], at[1], click)
	return []measuredValue{{"length", l, sd, "mm"}}
}

func scanMeasureHint(k MeasureKind) string {
	if k == MeasureLength {
		return Word("hint.measure.scan") // here a drag moves the picture
	}
	return measureHint(k)
}

func asPixels(mm []geom.MM) []geom.Px {
	out := make([]geom.Px, len(mm))
	for i, m := range mm {
		out[i] = geom.Px{X: m.X, Y: m.Y}
	}
	return out
}

// measuredValue is one measure with its spread.
type measuredValue struct {
	what      string
	value, sd float64
	unit      string
}

// ScanMeasureWords is what was measured on the scan with its spread, "" while there is nothing.
func (b *Bench) ScanMeasureWords() (words string) {
	rows := b.scanMeasured()
	pose, _, _ := b.cutPose()
	if m := b.pair.measure; m.done && m.kind == MeasureArea && rows == nil && m.pose == pose {
		return Word("measure.crosses")
	}
	if len(rows) > 0 && math.IsNaN(rows[0].value) {
		return ""
	}
	for _, r := range rows {
		if words != "" {
			words += "\n"
		}
		words += Word("measure."+r.what, r.value, r.sd)
	}
	return words
}
