package bench

import (
	"image"
	"math"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/section"
)

// rulerPane is the run laid out again on a long table: slabs at true thickness along the true direction of the cut,
// kerfs between them, both edges of each slab to choose. As a strip it shows 60 mm round the chosen face, lying.
type rulerPane struct {
	b     *Bench
	strip bool
	edge  *section.Face // chosen on the receiving table, which has one of its own
	w, h  int
	scale float64

	fitted fitKey  // what it was fitted to
	zoom   float64 // device pixels for each mm
	start  float64 // device pixel, along the ruler, of the end of the run that lies at the top or left
	moved  bool
	press  press
	hover  section.Face

	suspect bool // the slab being painted is the likeliest mistake of the closure
}

type fitKey struct {
	w, h  int
	scale float64
	run   string
	long  float64
}

// RulerPane is the run as a body-long ruler.
func (b *Bench) RulerPane() Pane { return b.ruler }

// StripPane is 60 mm of the ruler round the face, with kerf and slab inside, below the pairing.
func (b *Bench) StripPane() Pane { return b.strip }

const stripMM = 60

// Resize tells the size in device pixels and how many of them make one unit.
func (p *rulerPane) Resize(w, h int, scale float64) {
	if scale <= 0 {
		scale = 1
	}
	p.w, p.h, p.scale = w, h, scale
}

// Wants reports whether the ruler must be painted again.
func (p *rulerPane) Wants(c Change) bool {
	return c&(ScreenChanged|RunChanged|LabChanged|PlateChanged|ScanChanged) != 0
}

// face is the chosen one.
func (p *rulerPane) face() section.Face {
	if p.edge != nil {
		return *p.edge
	}
	return p.b.Face()
}

// upright reports whether the ruler runs from top to bottom.
func (p *rulerPane) upright() bool { return !p.strip && p.b.Run().Plane == section.Transverse }

// reversed reports whether slab 1 lies at the far end: the ruler always runs from the top, the front or the donor's
// right.
func reversed(r section.Run) bool {
	faces := r.Plane.Faces()
	begin := faces[0]
	if r.Plane == section.Sagittal {
		begin = faces[1]
	}
	return r.First != begin
}

// ends are the directions of the body at the beginning and the end of the ruler.
func ends(r section.Run) (begin, end section.Facing) {
	faces := r.Plane.Faces()
	if r.Plane == section.Sagittal {
		return faces[1], faces[0]
	}
	return faces[0], faces[1]
}

// length is the size of the pane along the ruler, in device pixels; margin is what is kept free at its ends.
func (p *rulerPane) length() float64 {
	if p.upright() {
		return float64(p.h)
	}
	return float64(p.w)
}

func (p *rulerPane) margin() float64 { return 34 * p.scale }

// lay fits the run into the pane until a person moves it.
func (p *rulerPane) lay() {
	run := p.b.Run()
	long := math.Max(run.Extent(), 1)
	if p.strip {
		p.zoom = math.Max(1e-6, p.length()/stripMM)
		depth, _, err := run.Depth(p.face())
		if err != nil {
			depth = long / 2
		}
		if reversed(run) {
			depth = long - depth
		}
		p.start = p.length()/2 - depth*p.zoom
		return
	}
	key := fitKey{p.w, p.h, p.scale, run.ID, long}
	whole := math.Max(1e-6, (p.length()-2*p.margin())/long)
	if key.run != p.fitted.run {
		p.moved = false
	}
	if !p.moved && key != p.fitted {
		p.zoom, p.start = whole, p.margin()
	}
	p.fitted = key
}

// place is the device coordinate along the ruler of a place mm from the datum.
func (p *rulerPane) place(mm float64) float64 {
	run := p.b.Run()
	if reversed(run) {
		mm = run.Extent() - mm
	}
	return p.start + p.zoom*mm
}

// mmAt is the place, in mm from the datum, under a device coordinate along the ruler; the inverse of place.
func (p *rulerPane) mmAt(u float64) float64 {
	mm := (u - p.start) / p.zoom
	if run := p.b.Run(); reversed(run) {
		mm = run.Extent() - mm
	}
	return mm
}

// columns are where the parts of an upright ruler stand side by side (those of a lying one above each other), in device
// pixels across it: the end of the scale, the blocks from and to, the marks of the faces, and the rail of the scan. When
// there is little room the marks go first.
type columns struct {
	scale, from, to, marks, rail float64
	marked                       bool
}

func (p *rulerPane) columns() columns {
	s := p.scale
	size, scale, marks, rail := float64(p.w), 54*s, 80*s, 56*s
	if !p.upright() {
		size, scale, marks, rail = float64(p.h), 34*s, 72*s, 44*s
	}
	if p.strip {
		scale, marks, rail = 8*s, 0, 30*s
	}
	if !p.b.pair.levels.Known() && !p.strip {
		rail = 12 * s
	}
	if size-scale-10*s-marks-rail < 60*s {
		marks = 0
	}
	c := columns{scale: scale, from: scale + 10*s, rail: size - rail, marks: size - rail - marks, marked: marks > 0}
	c.to = math.Max(c.from+24*s, c.marks-8*s)
	return c
}

// xy turns a place along and across the ruler into device pixels.
func (p *rulerPane) xy(along, across float64) geom.Px {
	if p.upright() {
		return geom.Px{X: across, Y: along}
	}
	return geom.Px{X: along, Y: across}
}

func (p *rulerPane) uv(at geom.Px) (along, across float64) {
	if p.upright() {
		return at.Y, at.X
	}
	return at.X, at.Y
}

// Down begins a press.
func (p *rulerPane) Down(at geom.Px, button Button, m Mods) {
	p.press = press{down: true, button: button, from: at, last: at}
	if p.b.blank || p.b.Run().ID == "" {
		return
	}
	p.lay()
	if button == Primary && m.Clicks == 2 {
		if f, ok := p.hit(at); ok && !p.strip {
			p.b.ChooseFace(f)
			p.b.Show(FaceScreen)
			p.press.down = false
		}
	}
}

// Drag moves the ruler.
func (p *rulerPane) Drag(at geom.Px) {
	if !p.press.down || p.strip || (!p.press.moved && at.Dist(p.press.from) < p.scale*tremor) {
		return
	}
	u, _ := p.uv(at)
	last, _ := p.uv(p.press.last)
	p.press.moved, p.press.last = true, at
	p.slide(u - last)
}

// slide moves the ruler by device pixels, never so far that it is lost.
func (p *rulerPane) slide(by float64) {
	p.moved = true
	long := p.b.Run().Extent() * p.zoom
	keep := math.Min(p.length()/2, long/2+p.margin())
	p.start = math.Max(keep-long, math.Min(p.start+by, p.length()-keep))
	p.b.changed(RunChanged)
}

// Up ends a press: one that did not move chooses a face.
func (p *rulerPane) Up(at geom.Px) {
	press0 := p.press
	p.press = press{}
	if !press0.down || press0.moved || press0.button != Primary || p.b.blank {
		return
	}
	if f, ok := p.hit(at); ok {
		p.b.ChooseFace(f)
	}
}

// Hover shows which edge a click would choose.
func (p *rulerPane) Hover(at geom.Px) {
	if p.b.blank || p.b.Run().ID == "" {
		return
	}
	p.lay()
	f, _ := p.hit(at)
	if f != p.hover {
		p.hover = f
		p.b.changed(RunChanged)
	}
}

// Leave follows the pointer out.
func (p *rulerPane) Leave() {
	if p.hover != (section.Face{}) {
		p.hover = section.Face{}
		p.b.changed(RunChanged)
	}
}

// Wheel comes nearer or goes further about the pointer; with Shift it moves along.
func (p *rulerPane) Wheel(at geom.Px, notches float64, m Mods) {
	if p.strip || p.b.blank || p.b.Run().ID == "" {
		return
	}
	p.lay()
	if m.Shift {
		p.slide(notches * 60 * p.scale)
		return
	}
	u, _ := p.uv(at)
	hold := (u - p.start) / p.zoom
	whole := math.Max(1e-6, (p.length()-2*p.margin())/math.Max(p.b.Run().Extent(), 1))
	p.zoom = math.Min(math.Max(p.zoom*math.Pow(1.25, notches), whole), 400*p.scale)
	p.start = u - hold*p.zoom
	p.moved = true
	p.slide(0)
	if p.zoom == whole {
		p.moved, p.fitted = false, fitKey{run: p.b.Run().ID}
	}
}

// Cursor is the shape of the pointer.
func (p *rulerPane) Cursor() Cursor {
	switch {
	case p.press.down && p.press.moved:
		return Grab
	case p.hover != (section.Face{}):
		return Hand
	}
	return Default
}

// Pointer is none: the ruler has no linked place.
func (p *rulerPane) Pointer() (at geom.Px, radius float64, ok bool) { return }

// Paint fills dst.
func (p *rulerPane) Paint(dst *image.RGBA) {
	if p.w != dst.Rect.Dx() || p.h != dst.Rect.Dy() {
		p.Resize(dst.Rect.Dx(), dst.Rect.Dy(), p.scale)
	}
	b := p.b
	ink.FillRect(dst, dst.Rect, b.pal.Paper)
	run := b.Run()
	if b.blank || run.ID == "" {
		return
	}
	r := b.brush(dst, p.scale)
	if len(run.Slabs) == 0 {
		r.block(r.font, dst.Rect, 15, b.pal.Muted, Word("run.noslabs"))
		return
	}
	p.lay()
	c := p.columns()
	p.paintScale(r, c)
	p.paintSlabs(r, c)
	p.paintRail(r, c)
	p.paintVertebrae(r, c)
	p.paintChosen(r, c)
	p.paintEnds(r, c)
}
