package bench

import (
	"image"
	"math"
	"slices"

	"sectionary/slices/geom"
	"sectionary/slices/section"
)

// receivingPane is the receiving table: the ruler of the run at one side, and beside it the prints, in order, in rows. A
// print is dragged from the table to an edge, or from an edge back to the table.
type receivingPane struct {
	b     *Bench
	w, h  int
	scale float64

	ruler   *rulerPane
	rulerAt image.Rectangle
	tableAt image.Rectangle
	buf     *image.RGBA // the ruler's own picture

	top    int // how far the prints are rolled up, px
	thumbs map[string]scaled
	hold   tableHold
	over   string // print under the pointer
}

// tableHold is what the hand holds.
type tableHold struct {
	what   held
	print  string       // key
	edge   section.Face // whose picture is held
	button Button
	from   geom.Px
	at     geom.Px
	moved  bool
	m      Mods
}

type held uint8

const (
	nothing held = iota
	heldPrint
	heldEdge
	heldRuler
	heldGround
)

func newReceivingPane(b *Bench) *receivingPane {
	p := &receivingPane{b: b, thumbs: map[string]scaled{}}
	p.ruler = &rulerPane{b: b, edge: &b.table.edge}
	return p
}

// ReceivingPane is the receiving table.
func (b *Bench) ReceivingPane() Pane { return b.receiving }

// Resize tells the size in device pixels and how many of them make one unit.
func (p *receivingPane) Resize(w, h int, scale float64) {
	if scale <= 0 {
		scale = 1
	}
	p.w, p.h, p.scale = w, h, scale
	if p.ruler.upright() {
		at := int(math.Min(0.36*float64(w), 300*scale))
		p.rulerAt, p.tableAt = image.Rect(0, 0, at, h), image.Rect(at, 0, w, h)
	} else {
		at := int(math.Min(0.36*float64(h), 190*scale))
		p.rulerAt, p.tableAt = image.Rect(0, 0, w, at), image.Rect(0, at, w, h)
	}
	size := p.rulerAt.Size()
	fits := math.Min(float64(size.X)/290, float64(size.Y)/300)
	if !p.ruler.upright() {
		fits = math.Min(float64(size.X)/600, float64(size.Y)/170)
	}
	p.ruler.Resize(size.X, size.Y, math.Max(1, math.Min(scale, fits)))
}

// Wants reports whether the table must be painted again.
func (p *receivingPane) Wants(c Change) bool {
	return c&(ScreenChanged|RunChanged|LabChanged|ViewChanged|SelectionChanged) != 0
}

// grid is how the prints lie in rows.
type grid struct {
	cols, n       int
	pad           int
	cell, picture image.Point
	height        int // of all rows
}

// Units of a print and of the room round it.
const (
	printWidth = 112
	largePrint = 280
	printPad   = 12
	printEdge  = 5 // of paper round the picture
)

// grid lays n prints in rows, a few of them larger, so that they fill the table.
func (p *receivingPane) grid(n int) grid {
	for width := float64(largePrint); width > printWidth; width *= 0.85 {
		if g := p.gridOf(n, width); g.height <= p.tableAt.Dy() {
			return g
		}
	}
	return p.gridOf(n, printWidth)
}

func (p *receivingPane) gridOf(n int, width float64) grid {
	s := p.scale
	g := grid{n: n, pad: int(printPad * s)}
	room := p.tableAt.Dx() - g.pad
	g.cols = max(1, room/(int(width*s)+g.pad))
	g.cell.X = max(1, room/g.cols-g.pad)
	edge := int(printEdge * s)
	g.picture = image.Pt(max(1, g.cell.X-2*edge), max(1, (g.cell.X-2*edge)*2/3))
	g.cell.Y = edge + g.picture.Y + edge/2 + 2*int(math.Ceil(smallText*s*1.36)) + edge
	g.height = g.pad + (n+g.cols-1)/g.cols*(g.cell.Y+g.pad)
	return g
}

// at is where print i lies, in pixels of the pane.
func (p *receivingPane) at(g grid, i int) image.Rectangle {
	x := p.tableAt.Min.X + g.pad + i%g.cols*(g.cell.X+g.pad)
	y := p.tableAt.Min.Y + g.pad + i/g.cols*(g.cell.Y+g.pad) - p.top
	return image.Rectangle{image.Pt(x, y), image.Pt(x, y).Add(g.cell)}
}

// inSight are the numbers of the first print in sight and of the one after the last.
func (p *receivingPane) inSight(g grid) (first, end int) {
	row := g.cell.Y + g.pad
	first = max(0, (p.top-g.pad)/row) * g.cols
	end = min(g.n, ((p.top+p.tableAt.Dy())/row+1)*g.cols)
	return min(first, end), end
}

// roll moves the prints, never so far that none is in sight.
func (p *receivingPane) roll(to int, g grid) {
	p.top = min(max(0, to), max(0, g.height-p.tableAt.Dy()))
}

// show rolls a print into sight.
func (p *receivingPane) show(i int) {
	g := p.grid(len(p.b.Prints()))
	r := p.at(g, i)
	if r.Min.Y < p.tableAt.Min.Y {
		p.roll(p.top+r.Min.Y-p.tableAt.Min.Y-g.pad, g)
	} else if r.Max.Y > p.tableAt.Max.Y {
		p.roll(p.top+r.Max.Y-p.tableAt.Max.Y+g.pad, g)
	}
}

// printAt is the print under a place of the pane.
func (p *receivingPane) printAt(at geom.Px) (TrayPhoto, bool) {
	q := image.Pt(int(at.X), int(at.Y))
	if !q.In(p.tableAt) {
		return TrayPhoto{}, false
	}
	prints := p.b.Prints()
	g := p.grid(len(prints))
	first, end := p.inSight(g)
	for i := first; i < end; i++ {
		if q.In(p.at(g, i)) {
			return prints[i], true
		}
	}
	return TrayPhoto{}, false
}

// edgeAt is the edge of the ruler under a place of the pane.
func (p *receivingPane) edgeAt(at geom.Px) (section.Face, bool) {
	if !(image.Point{int(at.X), int(at.Y)}).In(p.rulerAt) || p.b.Run().ID == "" {
		return section.Face{}, false
	}
	p.ruler.lay()
	return p.ruler.hit(p.inRuler(at))
}

func (p *receivingPane) inRuler(at geom.Px) geom.Px {
	return geom.Px{X: at.X - float64(p.rulerAt.Min.X), Y: at.Y - float64(p.rulerAt.Min.Y)}
}

// Down begins a press.
func (p *receivingPane) Down(at geom.Px, button Button, m Mods) {
	p.hold = tableHold{button: button, from: at, at: at, m: m}
	if p.b.blank || p.b.Run().ID == "" {
		return
	}
	if p.b.table.large != nil && (image.Point{int(at.X), int(at.Y)}).In(p.tableAt) {
		p.b.LookLarge() // a click puts it back
		return
	}
	if x, ok := p.printAt(at); ok {
		p.hold.what, p.hold.print = heldPrint, x.key
		return
	}
	p.hold.what = heldGround
	if (image.Point{int(at.X), int(at.Y)}).In(p.rulerAt) {
		p.hold.what = heldRuler
		if f, ok := p.edgeAt(at); ok && !p.b.empty(f) {
			p.hold.what, p.hold.edge = heldEdge, f
		}
	}
}

// Drag carries what is held.
func (p *receivingPane) Drag(at geom.Px) {
	h := &p.hold
	if h.what == nothing || h.button != Primary || (!h.moved && at.Dist(h.from) < p.scale*tremor) {
		return
	}
	by := geom.Px{X: at.X - h.at.X, Y: at.Y - h.at.Y}
	if !h.moved && h.what == heldPrint && !p.b.table.chosen[h.print] {
		p.b.choosePrint(h.print, false, false)
	}
	h.moved, h.at = true, at
	switch h.what {
	case heldRuler:
		if u, _ := p.ruler.uv(by); p.ruler.moved { // a ruler that is whole in sight stays where it is
			p.ruler.slide(u)
		}
	case heldGround:
		p.roll(p.top-int(by.Y), p.grid(len(p.b.Prints())))
	}
	p.b.changed(ViewChanged)
}

// Up lets go.
func (p *receivingPane) Up(at geom.Px) {
	h := p.hold
	p.hold = tableHold{}
	switch {
	case h.what == nothing || h.button != Primary || p.b.blank:
	case h.moved:
		p.drop(h, at)
	case h.what == heldPrint && h.m.Clicks == 2:
		p.b.choosePrint(h.print, false, false)
		p.b.LookLarge()
	case h.what == heldPrint:
		p.b.choosePrint(h.print, h.m.Ctrl, h.m.Shift)
	case h.what == heldEdge, h.what == heldRuler:
		if f, ok := p.edgeAt(at); ok {
			p.b.ChooseEdge(f)
		}
	case h.what == heldGround && !h.m.Ctrl && !h.m.Shift:
		p.b.table.chosen = map[string]bool{}
		p.b.tableChanged()
	}
	p.b.changed(ViewChanged)
}

// drop lays what was carried where it was let go.
func (p *receivingPane) drop(h tableHold, at geom.Px) {
	f, onEdge := p.edgeAt(at)
	onTable := (image.Point{int(at.X), int(at.Y)}).In(p.tableAt)
	switch {
	case h.what == heldPrint && onEdge && p.b.table.proposal != nil:
		p.b.proposeOn(h.print, f)
	case h.what == heldPrint && onEdge && !p.b.empty(f):
		p.b.layOnTaken(f, p.b.chosenPrints())
	case h.what == heldPrint && onEdge:
		p.b.mend(p.b.LayOn(f, p.b.chosenPrints()))
	case h.what == heldEdge && onEdge:
		p.b.moveEdge(h.edge, f)
	case h.what == heldEdge && onTable:
		p.b.takeOff(h.edge)
	}
}

// dropHold forgets what the hand holds, as Escape does; false when it held nothing.
func (p *receivingPane) dropHold() bool {
	if !p.carrying() {
		return false
	}
	p.hold = tableHold{}
	p.b.changed(ViewChanged)
	return true
}

// carrying reports whether prints are on their way.
func (p *receivingPane) carrying() bool {
	return p.hold.moved && (p.hold.what == heldPrint || p.hold.what == heldEdge)
}

// Hover shows what a press would take.
func (p *receivingPane) Hover(at geom.Px) {
	if p.b.blank || p.b.Run().ID == "" {
		return
	}
	f, _ := p.edgeAt(at)
	x, _ := p.printAt(at)
	if f != p.ruler.hover || x.key != p.over {
		p.ruler.hover, p.over = f, x.key
		p.b.changed(ViewChanged)
	}
}

// Leave follows the pointer out.
func (p *receivingPane) Leave() {
	if p.over != "" || p.ruler.hover != (section.Face{}) {
		p.over, p.ruler.hover = "", section.Face{}
		p.b.changed(ViewChanged)
	}
}

// Wheel rolls the prints, or comes nearer to the ruler.
func (p *receivingPane) Wheel(at geom.Px, notches float64, m Mods) {
	if (image.Point{int(at.X), int(at.Y)}).In(p.rulerAt) {
		p.ruler.Wheel(p.inRuler(at), notches, m)
		return
	}
	g := p.grid(len(p.b.Prints()))
	p.roll(p.top-int(notches*float64(g.cell.Y+g.pad)/2), g)
	p.b.changed(ViewChanged)
}

// Cursor is the shape of the pointer.
func (p *receivingPane) Cursor() Cursor {
	switch {
	case p.hold.moved:
		return Grab
	case p.over != "" || p.ruler.hover != (section.Face{}):
		return Hand
	}
	return Default
}

// Pointer is none.
func (p *receivingPane) Pointer() (at geom.Px, radius float64, ok bool) { return }

// tableKey walks along the prints with the arrows, choosing as it goes, and along the edges with the page keys.
func (b *Bench) tableKey(name string, m Mods) bool {
	if b.screen != ReceivingScreen || m.Ctrl || m.Alt {
		return false
	}
	prints := b.Prints()
	g := b.receiving.grid(len(prints))
	i := slices.IndexFunc(prints, func(p TrayPhoto) bool { return p.key == b.table.at })
	to := i
	switch name {
	case "Page Up":
		b.StepEdge(-1)
		return true
	case "Page Down":
		b.StepEdge(1)
		return true
	case "Left":
		to = i - 1
	case "Right":
		to = i + 1
	case "Up":
		to = i - g.cols
	case "Down":
		to = i + g.cols
	case "Home":
		to = 0
	case "End":
		to = len(prints) - 1
	default:
		return false
	}
	if len(prints) == 0 {
		return true
	}
	if i < 0 {
		to = 0
	}
	if to < 0 || to >= len(prints) {
		if to = min(max(to, 0), len(prints)-1); name == "Up" || name == "Down" {
			to = i // stays in its column
		}
	}
	b.choosePrint(prints[to].key, false, m.Shift)
	b.receiving.show(to)
	if l := b.table.large; l != nil && l.key != prints[to].key {
		b.table.large = &largeLook{key: prints[to].key}
		b.wantLarge()
	}
	return true
}
