package bench

import (
	"image"
	"image/color"
	"math"
	"strconv"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/section"
)

// rect is a rectangle given along and across the ruler, in device pixels.
func (p *rulerPane) rect(u0, u1, v0, v1 float64) image.Rectangle {
	a, z := p.xy(math.Min(u0, u1), v0), p.xy(math.Max(u0, u1), v1)
	return image.Rect(round(a.X), round(a.Y), round(z.X), round(z.Y))
}

func round(x float64) int { return int(math.Round(math.Max(-1e6, math.Min(1e6, x)))) }

// quad is the same as a ring of points, not rounded to pixels.
func (p *rulerPane) quad(u0, u1, v0, v1 float64) []geom.Px {
	return []geom.Px{p.xy(u0, v0), p.xy(u1, v0), p.xy(u1, v1), p.xy(u0, v1)}
}

// line draws a line across the ruler.
func (p *rulerPane) line(r brush, u, v0, v1, width float64, c color.RGBA) {
	ink.Line(r.dst, p.xy(u, v0), p.xy(u, v1), width, c)
}

// paintScale draws the mm scale from the datum.
func (p *rulerPane) paintScale(r brush, c columns) {
	step := roundLength(r.u(9)/p.zoom) * 1
	if step*p.zoom < r.u(5) {
		step *= 2
	}
	labelled := step * 10
	for labelled/2*p.zoom > r.u(46) && labelled/2 >= step {
		labelled /= 2
	}
	if p.strip {
		step, labelled = 1, 10
	}
	long := p.b.Run().Extent()
	lo, hi := p.mmAt(0), p.mmAt(p.length())
	if lo > hi {
		lo, hi = hi, lo
	}
	base := c.scale
	if !p.strip {
		a, z := p.xy(p.place(0), base), p.xy(p.place(long), base)
		ink.Line(r.dst, a, z, r.u(1), r.pal.Line)
	}
	for i := math.Ceil(math.Max(lo, 0) / step); i*step <= math.Min(hi, long)+1e-9; i++ {
		mm := i * step
		u := p.place(mm)
		n := math.Abs(math.Remainder(mm, labelled))
		if n > 1e-6*labelled {
			p.line(r, u, base-r.u(4), base, r.u(1), r.pal.Line)
			continue
		}
		p.line(r, u, base-r.u(8), base, r.u(1.2), r.pal.Muted)
		s := strconv.FormatFloat(mm, 'f', -1, 64)
		switch at := p.xy(u, base-r.u(12)); {
		case p.strip:
		case p.upright():
			r.ending(r.font, at.X, at.Y, smallText, r.pal.Muted, s)
		default:
			r.centred(r.font, at.X, at.Y-r.u(4), smallText, r.pal.Muted, s)
		}
	}
}

// paintSlabs draws blocks, kerfs, numbers and marks.
func (p *rulerPane) paintSlabs(r brush, c columns) {
	run := p.b.Run()
	depth := 0.0
	for _, s := range run.Slabs[:len(run.Slabs)-1] { // a wedge may reach over its kerf, so blocks come after
		depth += s.Mean()
		p.paintKerf(r, c, s.Kerf, p.place(depth), p.place(depth+s.Kerf))
		depth += s.Kerf
	}
	suspect := p.b.Closure().Slab
	for at, s := range run.Places() {
		p.suspect = s.Number == suspect
		p.paintBlock(r, c, s, p.place(at), p.place(at+s.Mean()))
	}
	for _, e := range p.edges() {
		p.paintEdge(r, c, e)
	}
}

// paintBlock draws one slab; a wedge shows as the slanted far edge of its block.
func (p *rulerPane) paintBlock(r brush, c columns, s section.Slab, near, far float64) {
	ghost := p.b.Ghost(s)
	ring := p.quad(near, far, c.from, c.to)
	if w := s.Wedge(); w > 0 && s.Thickness[0] > 0 && s.Thickness[2] > 0 {
		slant := (s.Thickness[2] - s.Thickness[0]) / 2 * p.zoom
		if far < near {
			slant = -slant
		}
		ring[1], ring[2] = p.xy(far-slant, c.from), p.xy(far+slant, c.to)
	}
	if ghost {
		p.paintGhost(r, c, near, far)
	} else {
		ink.Fill(r.dst, [][]geom.Px{ring}, r.pal.Slab)
		ink.Stroke(r.dst, ring, true, r.u(1), ink.Fade(r.pal.SlabEdge, 0.55), nil)
	}
	high := math.Abs(far - near)
	mid := p.xy((near+far)/2, (c.from+c.to)/2)
	number := strconv.Itoa(s.Number)
	room := high
	if !p.upright() {
		room = math.Min(high, (c.to - c.from))
		if high < r.width(r.bold, bodyText, number)+r.u(6) {
			return
		}
	}
	if room < r.lineHeight(bodyText) {
		return
	}
	thick := Word("mm.fine", s.Mean())
	if s.Mean() == 0 {
		thick = Word("slab.notmeasured")
	} else if s.Planned {
		thick = Word("slab.planned", s.Mean())
	}
	if p.upright() {
		r.text(r.bold, c.from+r.u(12), mid.Y, bodyText, r.pal.Ink, number)
		if p.suspect {
			r.mark(markLook, geom.Px{X: c.from + r.u(24) + r.width(r.bold, bodyText, number), Y: mid.Y}, r.u(6), r.pal.Warn)
		}
		if c.to-c.from > r.u(120) {
			r.ending(r.font, c.to-r.u(10), mid.Y, smallText, r.pal.Muted, thick)
		}
		return
	}
	r.centred(r.bold, mid.X, mid.Y-r.u(2), bodyText, r.pal.Ink, number)
	if y := mid.Y - r.lineHeight(bodyText); p.suspect && y > c.from+r.u(8) {
		r.mark(markLook, geom.Px{X: mid.X, Y: y}, r.u(6), r.pal.Warn)
	}
	if high > r.width(r.font, smallText, thick)+r.u(10) && c.to-c.from > r.u(60) {
		r.centred(r.font, mid.X, mid.Y+r.lineHeight(bodyText), smallText, r.pal.Muted, thick)
	}
}

// paintKerf draws the tissue the blade turned to dust as a hatched gap.
func (p *rulerPane) paintKerf(r brush, c columns, kerf, from, to float64) {
	rings := [][]geom.Px{p.quad(from, to, c.from, c.to)}
	ink.Hatch(r.dst, rings, ink.Rising, r.u(5), ink.Fade(r.pal.Kerf, 0.9))
	if math.Abs(to-from) > r.lineHeight(smallText)*1.2 {
		at := p.xy((from+to)/2, (c.from+c.to)/2)
		words := Word("kerf", kerf)
		w := r.width(r.font, smallText, words)
		if p.upright() || w < math.Abs(to-from)-r.u(6) {
			h := r.lineHeight(smallText)
			ink.FillRect(r.dst, image.Rect(round(at.X-w/2-r.u(5)), round(at.Y-h/2), round(at.X+w/2+r.u(5)), round(at.Y+h/2)), r.pal.Paper)
			r.centred(r.font, at.X, at.Y, smallText, r.pal.Muted, words)
		}
	}
}

// paintEdge draws one face: a full edge with a photograph, a dotted one without, and its marks.
func (p *rulerPane) paintEdge(r brush, c columns, e edge) {
	chosen := e.face == p.face()
	x, there := p.b.rule.facts[e.face]
	colour, width := r.pal.SlabEdge, 1.6
	if e.face == p.hover || chosen {
		colour, width = r.pal.Chosen, 2.2
	}
	if chosen {
		width = 3.6
	}
	dash := []float64(nil)
	if !there {
		dash = []float64{r.u(2), r.u(4)}
	}
	ink.Stroke(r.dst, []geom.Px{p.xy(e.at, c.from), p.xy(e.at, c.to)}, false, r.u(width), colour, dash)
	if !c.marked || !there {
		return
	}
	inward := 1.0 // the marks of a face stand on its own slab's side of the edge
	if e.in < e.at {
		inward = -1
	}
	high := math.Abs(e.in - e.at)
	if high < r.u(10) {
		return
	}
	size := math.Min(r.u(9), high/2-r.u(1))
	marks := []int{markPhoto}
	if x.scale {
		marks = append(marks, markScale)
	}
	if x.labels > 0 {
		marks = append(marks, markNames)
	}
	if x.paired {
		marks = append(marks, markPaired)
	}
	if _, odd := p.b.unlikeAt(e.face); odd {
		marks = append(marks, markLook)
	}
	for i, m := range marks {
		step := r.u(17)
		if p.upright() {
			r.mark(m, geom.Px{X: c.marks + r.u(8) + float64(i)*step, Y: e.at + inward*size*0.75}, size/2, r.pal.Ink)
		} else {
			r.mark(m, geom.Px{X: e.at + inward*size*0.75, Y: c.marks + r.u(6) + float64(i)*step*0.8}, size/2, r.pal.Ink)
		}
	}
}

// The marks of a face: told apart by shape alone.
const (
	markPhoto = iota
	markScale
	markNames
	markPaired
	markLook // at what is unlike its neighbours
)

// mark draws one mark of half size s.
func (r brush) mark(m int, at geom.Px, s float64, c color.RGBA) {
	line := math.Max(1, s/3.4)
	box := []geom.Px{{X: at.X - s, Y: at.Y - s}, {X: at.X + s, Y: at.Y - s}, {X: at.X + s, Y: at.Y + s}, {X: at.X - s, Y: at.Y + s}}
	switch m {
	case markPhoto: // a print
		ink.Stroke(r.dst, box, true, line, c, nil)
		ink.Disc(r.dst, at, s*0.42, c)
	case markScale: // a bar with ticks
		ink.Line(r.dst, geom.Px{X: at.X - s, Y: at.Y + s*0.6}, geom.Px{X: at.X + s, Y: at.Y + s*0.6}, line, c)
		for _, k := range [3]float64{-0.9, 0, 0.9} {
			ink.Line(r.dst, geom.Px{X: at.X + k*s, Y: at.Y - s*0.5}, geom.Px{X: at.X + k*s, Y: at.Y + s*0.6}, line, c)
		}
	case markNames: // lines of writing
		for _, k := range [3]float64{-0.75, 0, 0.75} {
			end := s
			if k > 0 {
				end = s * 0.2
			}
			ink.Line(r.dst, geom.Px{X: at.X - s, Y: at.Y + k*s}, geom.Px{X: at.X + end, Y: at.Y + k*s}, line, c)
		}
	case markLook: // a warning triangle
		ink.Stroke(r.dst, []geom.Px{{X: at.X, Y: at.Y - s}, {X: at.X + s, Y: at.Y + s*0.8}, {X: at.X - s, Y: at.Y + s*0.8}}, true, line, r.pal.Warn, nil)
		ink.Line(r.dst, geom.Px{X: at.X, Y: at.Y - s*0.3}, geom.Px{X: at.X, Y: at.Y + s*0.4}, line, r.pal.Warn)
	case markPaired: // two that meet
		ink.Ring(r.dst, geom.Px{X: at.X - s*0.4, Y: at.Y}, s*0.6, line, c)
		ink.Ring(r.dst, geom.Px{X: at.X + s*0.4, Y: at.Y}, s*0.6, line, c)
	}
}

// paintRail draws the scan's slices as ticks along the run: long where one meets a face, short inside slabs.
func (p *rulerPane) paintRail(r brush, c columns) {
	b := p.b
	if b.pair.series == "" || !b.pair.levels.Known() {
		return
	}
	s, _ := b.series()
	run := b.Run()
	long := run.Extent()
	a, z := p.xy(p.place(0), c.rail), p.xy(p.place(long), c.rail)
	ink.Line(r.dst, a, z, r.u(1), r.pal.Line)
	half := b.sliceStep() / 2
	dense := b.sliceStep()*p.zoom < r.u(2.5)
	edges := p.edges()
	slices := s.Size[2]
	if math.Abs(s.Normal().Dot(run.First.Axis())) < 0.7 {
		slices = 0 // its slices run along the slabs, not across: none has a place on the rail
	}
	for k := range slices {
		mm, _ := b.pair.levels.Run(alongOf(run.Plane, s, k))
		if !(mm >= -half && mm <= long+half) {
			continue
		}
		u := p.place(mm)
		if u < -4 || u > p.length()+4 {
			continue
		}
		meets := false
		for _, e := range edges {
			meets = meets || math.Abs(e.at-u) <= half*p.zoom
		}
		switch {
		case meets:
			p.line(r, u, c.rail, c.rail+r.u(16), r.u(1.3), r.pal.Muted)
		case !dense:
			p.line(r, u, c.rail, c.rail+r.u(6), r.u(1), r.pal.Line)
		}
	}
	for _, t := range b.pair.levels.Ties() {
		at := p.xy(p.place(t.Run), c.rail)
		d := r.u(6)
		ring := []geom.Px{{X: at.X, Y: at.Y - d}, {X: at.X + d, Y: at.Y}, {X: at.X, Y: at.Y + d}, {X: at.X - d, Y: at.Y}}
		ink.Fill(r.dst, [][]geom.Px{ring}, r.pal.Paper)
		ink.Stroke(r.dst, ring, true, r.u(1.6), r.pal.Chosen, nil)
	}
}

// paintChosen draws the eye at the side from which the chosen face is seen, the long tick of its place in the scan, and
// where the cut of the scan now stands.
func (p *rulerPane) paintChosen(r brush, c columns) {
	b := p.b
	f := p.face()
	for _, e := range p.edges() {
		if e.face != f {
			continue
		}
		out := -1.0
		if e.in < e.at {
			out = 1
		}
		at := p.xy(e.at+out*r.u(15), c.from+r.u(26))
		ground := r.u(10)
		ink.Disc(r.dst, at, ground+r.u(3), r.pal.Paper)
		ink.Ring(r.dst, at, ground+r.u(3), r.u(1), r.pal.Chosen)
		r.eye(at, r.u(8.5), r.pal.Chosen)
		if b.pair.levels.Known() {
			p.line(r, e.at, c.rail-r.u(4), c.rail+r.u(24), r.u(2.4), r.pal.Chosen)
		}
	}
	if b.screen != PairingScreen || b.pair.step == 0 {
		return
	}
	depth, _, err := b.Run().Depth(f)
	if err != nil {
		return
	}
	u := p.place(depth + b.ScanStep())
	ink.Stroke(r.dst, []geom.Px{p.xy(u, c.from-r.u(4)), p.xy(u, c.rail+r.u(16))}, false, r.u(1.8), r.pal.Warn, []float64{r.u(5), r.u(3)})
}

// paintEnds writes which end of the body is where.
func (p *rulerPane) paintEnds(r brush, c columns) {
	begin, end := ends(p.b.Run())
	v := (c.from + c.to) / 2
	m := p.margin() / 2
	if p.strip {
		a, z := p.xy(r.u(12), v), p.xy(p.length()-r.u(12), v)
		for _, x := range []struct {
			at geom.Px
			s  string
		}{{a, begin.Letter()}, {z, end.Letter()}} {
			ink.Disc(r.dst, x.at, r.u(10), r.pal.Paper)
			r.centred(r.bold, x.at.X, x.at.Y, 13, r.pal.Ink, x.s)
		}
		return
	}
	run := p.b.Run()
	lo, hi := p.place(0), p.place(run.Extent())
	if lo > hi {
		lo, hi = hi, lo
	}
	for _, x := range []struct {
		u float64
		f section.Facing
	}{{math.Max(lo-m, m), begin}, {math.Min(hi+m, p.length()-m), end}} {
		if (x.f == begin && lo < m) || (x.f == end && hi > p.length()-m) {
			continue // that end is not in sight
		}
		at := p.xy(x.u, v)
		if p.eyeBeyond(x.f) {
			at = p.xy(x.u, v+r.u(80))
		}
		words := x.f.Letter()
		if p.upright() {
			words += "   " + endWords(run, x.f)
		}
		r.centred(r.bold, at.X, at.Y, bodyText, r.pal.Muted, words)
	}
}

// eyeBeyond reports whether the eye stands beyond the end of the run that f names, where the end's name is written.
func (p *rulerPane) eyeBeyond(f section.Facing) bool {
	face, slabs := p.face(), p.b.Run().Slabs
	if face.Facing != f || len(slabs) == 0 {
		return false
	}
	last := slabs[len(slabs)-1]
	if f == p.b.Run().First {
		last = slabs[0]
	}
	return face.Slab == last.Number
}
