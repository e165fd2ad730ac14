package bench

import (
	"image"
	"image/color"
	"math"
	"strconv"
	"strings"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
	"sectionary/slices/photo"
	"sectionary/slices/section"
)

// Paint fills dst.
func (p *receivingPane) Paint(dst *image.RGBA) {
	p.Resize(dst.Rect.Dx(), dst.Rect.Dy(), p.scale) // always: the run may lie the other way now
	b := p.b
	ink.FillRect(dst, dst.Rect, b.pal.Paper)
	if b.blank || b.Run().ID == "" {
		return
	}
	prints := b.Prints()
	b.tidyTable(prints)
	on, _ := b.proposal()
	p.paintRuler(dst, prints, on)
	r := b.brush(dst.SubImage(p.tableAt).(*image.RGBA), p.scale)
	if b.table.large != nil {
		p.paintLarge(r)
	} else {
		p.paintPrints(r, prints, on)
	}
	p.paintSaid(r)
	p.paintCarried(b.brush(dst, p.scale), prints)
}

// paintSaid writes what was just done or refused at the foot of the table.
func (p *receivingPane) paintSaid(r brush) {
	words, warn := p.b.Hint()
	if words == "" || p.b.table.large != nil {
		return
	}
	lines := r.wrap(r.font, bodyText, float64(p.tableAt.Dx())-r.u(44), words)
	h := r.lineHeight(bodyText)
	box := image.Rect(p.tableAt.Min.X+r.n(8), p.tableAt.Max.Y-r.n(20)-int(h*float64(len(lines))), p.tableAt.Max.X-r.n(14), p.tableAt.Max.Y-r.n(8))
	ink.RoundRect(r.dst, box, r.u(4), r.pal.Paper)
	edge := r.pal.Chosen
	if warn {
		edge = r.pal.Warn
	}
	ink.Rect(r.dst, box, r.n(2), edge)
	for i, l := range lines {
		r.text(r.font, float64(box.Min.X)+r.u(10), float64(box.Min.Y)+r.u(6)+h*(float64(i)+0.5), bodyText, r.pal.Ink, l)
	}
}

// paintRuler paints the ruler in its own picture and lays that into dst: it counts its places from its own corner.
func (p *receivingPane) paintRuler(dst *image.RGBA, prints []TrayPhoto, on map[string]section.Face) {
	size := p.rulerAt.Size()
	if size.X <= 0 || size.Y <= 0 {
		return
	}
	if p.buf == nil || p.buf.Rect.Size() != size {
		p.buf = image.NewRGBA(image.Rectangle{Max: size})
	}
	p.ruler.Paint(p.buf)
	if len(p.b.Run().Slabs) > 0 {
		r := p.b.brush(p.buf, p.ruler.scale)
		p.paintEdgeChosen(r)
		p.paintProposed(r, prints, on)
		p.paintTarget(r)
	}
	ink.Blit(dst, p.buf, p.rulerAt.Min)
	line := image.Rect(p.rulerAt.Max.X-1, 0, p.rulerAt.Max.X, p.rulerAt.Max.Y)
	if !p.ruler.upright() {
		line = image.Rect(0, p.rulerAt.Max.Y-1, p.rulerAt.Max.X, p.rulerAt.Max.Y)
	}
	ink.FillRect(dst, line, p.b.pal.Line)
}

// edgeOf finds a face among the edges.
func edgeOf(edges []edge, f section.Face) (edge, bool) {
	for _, e := range edges {
		if e.face == f {
			return e, true
		}
	}
	return edge{}, false
}

// paintEdgeChosen marks the edge that prints are laid on from with a pointer at its end, beside the ruler's own thick line.
func (p *receivingPane) paintEdgeChosen(r brush) {
	e, ok := edgeOf(p.ruler.edges(), p.b.table.edge)
	if !ok {
		return
	}
	c := p.ruler.columns()
	d := r.u(7)
	ring := []geom.Px{p.ruler.xy(e.at, c.from-r.u(1)), p.ruler.xy(e.at-d, c.from-d*1.5), p.ruler.xy(e.at+d, c.from-d*1.5)}
	ink.Fill(r.dst, [][]geom.Px{ring}, r.pal.Chosen)
}

// paintProposed writes the number of every print on the edge where it would lie.
func (p *receivingPane) paintProposed(r brush, prints []TrayPhoto, on map[string]section.Face) {
	if len(on) == 0 {
		return
	}
	numbers := map[section.Face]int{}
	for i, x := range prints {
		if f, ok := on[x.key]; ok {
			numbers[f] = i + 1
		}
	}
	c := p.ruler.columns()
	wide := r.width(r.bold, smallText, strconv.Itoa(len(prints))) + r.u(10)
	for i, e := range p.ruler.edges() {
		n, ok := numbers[e.face]
		if !ok {
			continue
		}
		ink.Stroke(r.dst, []geom.Px{p.ruler.xy(e.at, c.from), p.ruler.xy(e.at, c.to)}, false, r.u(2.4), r.pal.Chosen, []float64{r.u(6), r.u(3)})
		p.paintNumber(r, e, i%2, wide, strconv.Itoa(n))
	}
}

// paintNumber writes a number on a slip of paper beside an edge, on its own slab's side, those of the first and the second
// face of a slab beside each other; where slabs are too thin a thick tick stands for it.
func (p *receivingPane) paintNumber(r brush, e edge, second int, wide float64, words string) {
	c := p.ruler.columns()
	inward := 1.0
	if e.in < e.at {
		inward = -1
	}
	high := r.lineHeight(smallText)
	along, over := high, wide
	if !p.ruler.upright() {
		along, over = wide, high
	}
	across := c.to + r.u(6) + over/2 + float64(second)*(over+r.u(3))
	if across+over/2 > c.rail { // no room beside the slabs
		across = c.to - r.u(6) - over/2 - float64(1-second)*(over+r.u(3))
	}
	if math.Abs(e.in-e.at) < along {
		p.ruler.line(r, e.at, across-r.u(6), across+r.u(6), r.u(3), r.pal.Chosen)
		return
	}
	at := p.ruler.xy(e.at+inward*along/2, across)
	w, h := over, along
	if !p.ruler.upright() {
		w, h = along, over
	}
	box := image.Rect(round(at.X-w/2), round(at.Y-h/2), round(at.X+w/2), round(at.Y+h/2))
	ink.RoundRect(r.dst, box, r.u(3), r.pal.Paper)
	ink.Rect(r.dst, box, r.n(1), r.pal.Chosen)
	r.centred(r.bold, at.X, at.Y, smallText, r.pal.Chosen, words)
}

// paintTarget shows the edge on which what is carried would fall: a band, hatched where a picture lies already.
func (p *receivingPane) paintTarget(r brush) {
	if !p.carrying() {
		return
	}
	f, ok := p.edgeAt(p.hold.at)
	if !ok {
		return
	}
	box, ok := p.ruler.edgeRect(f)
	if !ok {
		return
	}
	ring := [][]geom.Px{corners(box)}
	c := r.pal.Chosen
	if !p.b.empty(f) && f != p.hold.edge {
		c = r.pal.Warn
		ink.Hatch(r.dst, ring, ink.Rising, r.u(6), ink.Fade(c, 0.8))
	} else {
		ink.Fill(r.dst, ring, ink.Fade(c, 0.22))
	}
	if e, ok := edgeOf(p.ruler.edges(), f); ok {
		k := p.ruler.columns()
		ink.Line(r.dst, p.ruler.xy(e.at, k.from), p.ruler.xy(e.at, k.to), r.u(5), c)
	}
}

// paintPrints lays the prints in sight on the table.
func (p *receivingPane) paintPrints(r brush, prints []TrayPhoto, on map[string]section.Face) {
	ink.FillRect(r.dst, p.tableAt, r.pal.Line)
	if len(prints) == 0 {
		words := Word("table.empty")
		if len(p.b.rule.facts) > 0 {
			words = Word("table.empty.laid")
		}
		r.block(r.font, p.tableAt, 15, r.pal.Ink, words)
		return
	}
	g := p.grid(len(prints))
	p.roll(p.top, g)
	first, end := p.inSight(g)
	if len(p.thumbs) > 400 {
		clear(p.thumbs) // of prints that were long rolled by
	}
	for i := first; i < end; i++ {
		p.paintPrint(r, g, p.at(g, i), i, prints[i], on)
	}
	if room := p.tableAt.Dy(); g.height > room { // how far it is rolled
		h := max(r.n(24), room*room/g.height)
		y := p.tableAt.Min.Y + p.top*(room-h)/max(1, g.height-room)
		ink.RoundRect(r.dst, image.Rect(p.tableAt.Max.X-r.n(7), y, p.tableAt.Max.X-r.n(2), y+h), r.u(2), ink.Fade(r.pal.Ink, 0.35))
	}
}

// paintPrint lays one print: the picture, below it number and time, and one line of what matters most.
func (p *receivingPane) paintPrint(r brush, g grid, at image.Rectangle, i int, x TrayPhoto, on map[string]section.Face) {
	t := &p.b.table
	chosen := t.chosen[x.key]
	ink.FillRect(r.dst, at.Add(image.Pt(r.n(2), r.n(2))), ink.Fade(color.RGBA{0, 0, 0, 255}, 0.16))
	ink.FillRect(r.dst, at, r.pal.Paper)
	edge := int(printEdge * p.scale)
	frame := image.Rectangle{at.Min.Add(image.Pt(edge, edge)), at.Min.Add(image.Pt(edge, edge)).Add(g.picture)}
	ink.FillRect(r.dst, frame, r.pal.Surround)
	if m := p.thumb(x, g.picture); m != nil {
		ink.Blit(r.dst, m, frame.Min.Add(g.picture.Sub(m.Rect.Size()).Div(2)))
	}
	out := t.proposal != nil && t.proposal.out[x.key]
	if out || (x.ID == "" && !x.Sharp) {
		ink.FillRect(r.dst, frame, ink.Fade(r.pal.Paper, 0.45))
	}
	if x.Advice != "" || x.Mirrored {
		r.caution(geom.Px{X: float64(frame.Max.X) - r.u(12), Y: float64(frame.Min.Y) + r.u(12)}, r.u(9))
	}
	left, room := float64(at.Min.X)+r.u(7), float64(g.cell.X)-r.u(14)
	h := r.lineHeight(smallText)
	y := float64(frame.Max.Y) + r.u(printEdge)/2 + h/2
	number := strconv.Itoa(i + 1)
	r.text(r.bold, left, y, smallText, r.pal.Ink, number)
	w := r.width(r.bold, smallText, number) + r.u(8)
	r.text(r.font, left+w, y, smallText, r.pal.Muted, r.shortened(r.font, smallText, room-w, clockWords(x)))
	words, c := p.lineOf(r, x, on)
	r.text(r.font, left, y+h, smallText, c, r.shortened(r.font, smallText, room, words))
	switch {
	case chosen:
		ink.Rect(r.dst, at.Inset(-r.n(2)), r.n(3), r.pal.Chosen)
		r.tick(geom.Px{X: float64(frame.Min.X) + r.u(12), Y: float64(frame.Min.Y) + r.u(12)}, r.u(10))
	case x.key == p.over:
		ink.Rect(r.dst, at.Inset(-r.n(1)), r.n(1), r.pal.Muted)
	}
	if x.key == t.at && !chosen {
		ink.Rect(r.dst, at.Inset(-r.n(2)), r.n(1), r.pal.Chosen)
	}
}

// clockWords is the time of day of a print.
func clockWords(x TrayPhoto) string {
	if x.Taken.IsZero() {
		return Word("table.notime")
	}
	return x.Taken.Format("15:04:05.99")
}

// lineOf is the second line under a print: where it would lie, else what must be known of it.
func (p *receivingPane) lineOf(r brush, x TrayPhoto, on map[string]section.Face) (words string, c color.RGBA) {
	if q := p.b.table.proposal; q != nil {
		f, ok := on[x.key]
		switch {
		case ok:
			return upperFirst(p.b.shortFace(f)), r.pal.Chosen
		case q.out[x.key]:
			return Word("table.out"), r.pal.Warn
		}
		return Word("table.stays"), r.pal.Muted
	}
	switch {
	case x.ID == "":
		return Word("table.coming.short"), r.pal.Muted
	case x.Mirrored:
		return Word("table.mirrored.short"), r.pal.Warn
	case x.Same > 0:
		return Word("table.same.short", x.Same), r.pal.Warn
	case x.Advice != "":
		first, _, _ := strings.Cut(x.Advice, ".")
		return first, r.pal.Warn
	}
	return "", r.pal.Muted
}

// scaled is a print's picture at a size in pixels, kept until either changes.
type scaled struct {
	of   *image.RGBA
	size image.Point
	m    *image.RGBA
}

// thumb is the picture of a print to fit a size, made once.
func (p *receivingPane) thumb(x TrayPhoto, size image.Point) *image.RGBA {
	if x.Preview == nil {
		return nil
	}
	if s, ok := p.thumbs[x.key]; ok && s.of == x.Preview && s.size == size {
		return s.m
	}
	b := x.Preview.Rect.Size()
	k := math.Min(float64(size.X)/float64(b.X), float64(size.Y)/float64(b.Y))
	m := reduced(x.Preview, max(1, int(k*float64(b.X))), max(1, int(k*float64(b.Y))))
	p.thumbs[x.key] = scaled{x.Preview, size, m}
	return m
}

// reduced averages src down to w x h, in this goroutine: while photographs are decoded on all cores, whoever waits for
// others to help waits longer than the work takes. What is to grow is left to the photograph's own drawing.
func reduced(src *image.RGBA, w, h int) *image.RGBA {
	sw, sh := src.Rect.Dx(), src.Rect.Dy()
	if w >= sw || h >= sh {
		dst := image.NewRGBA(image.Rect(0, 0, w, h))
		drawFitted(dst, photo.NewImage(src), dst.Rect)
		return dst
	}
	dst := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		y0, y1 := y*sh/h, (y+1)*sh/h
		for x := range w {
			x0, x1 := x*sw/w, (x+1)*sw/w
			var sum [4]int
			for v := y0; v < y1; v++ {
				for row := src.Pix[v*src.Stride+4*x0 : v*src.Stride+4*x1]; len(row) > 0; row = row[4:] {
					for c := range sum {
						sum[c] += int(row[c])
					}
				}
			}
			n := (y1 - y0) * (x1 - x0)
			for c := range sum {
				dst.Pix[y*dst.Stride+4*x+c] = uint8((sum[c] + n/2) / n)
			}
		}
	}
	return dst
}

// tick is the mark of what is chosen: a disc with a tick, told by its shape too.
func (r brush) tick(at geom.Px, radius float64) {
	ink.Disc(r.dst, at, radius+r.u(1.5), r.pal.Paper)
	ink.Disc(r.dst, at, radius, r.pal.Chosen)
	s := radius * 0.5
	ink.Stroke(r.dst, []geom.Px{{X: at.X - s, Y: at.Y}, {X: at.X - s*0.2, Y: at.Y + s*0.8}, {X: at.X + s, Y: at.Y - s*0.8}}, false, r.u(2.2), r.pal.Paper, nil)
}

// caution is the mark of what wants a look: a triangle with a stroke and a dot.
func (r brush) caution(at geom.Px, s float64) {
	ring := []geom.Px{{X: at.X, Y: at.Y - s}, {X: at.X + s, Y: at.Y + s*0.8}, {X: at.X - s, Y: at.Y + s*0.8}}
	ink.Fill(r.dst, [][]geom.Px{ring}, rgb(0xffe14d))
	ink.Stroke(r.dst, ring, true, r.u(1.2), color.RGBA{0, 0, 0, 255}, nil)
	ink.Line(r.dst, geom.Px{X: at.X, Y: at.Y - s*0.35}, geom.Px{X: at.X, Y: at.Y + s*0.25}, r.u(1.8), color.RGBA{0, 0, 0, 255})
	ink.Disc(r.dst, geom.Px{X: at.X, Y: at.Y + s*0.52}, r.u(1.1), color.RGBA{0, 0, 0, 255})
}

// paintLarge shows one print as large as the table, with all there is to say of it.
func (p *receivingPane) paintLarge(r brush) {
	ink.FillRect(r.dst, p.tableAt, r.pal.Surround)
	x, ok := p.b.print(p.b.table.large.key)
	if !ok {
		return
	}
	p.b.wantLarge()
	pad := r.n(14)
	var lines []string
	for _, l := range strings.Split(p.b.printWords(x), "\n") {
		lines = append(lines, r.wrap(r.font, bodyText, float64(p.tableAt.Dx()-2*pad), l)...)
	}
	h := r.lineHeight(bodyText)
	room := p.tableAt.Inset(pad)
	room.Max.Y -= int(h*float64(len(lines))) + pad/2
	m := p.b.table.large.picture
	if m == nil && x.Preview != nil {
		m = photo.NewImage(x.Preview)
	}
	if m != nil && !room.Empty() {
		drawFitted(r.dst, m, room)
	}
	y := float64(room.Max.Y) + float64(pad)/2 + h/2
	for i, l := range lines {
		f, c := r.font, r.pal.OnDark
		if i == 0 {
			f = r.bold
		}
		r.text(f, float64(p.tableAt.Min.X+pad), y, bodyText, c, l)
		y += h
	}
}

// drawFitted draws the whole photograph as large as fits into room, in its middle.
func drawFitted(dst *image.RGBA, m *photo.Image, room image.Rectangle) {
	size := m.Size()
	k := math.Min(float64(room.Dx())/float64(size.X), float64(room.Dy())/float64(size.Y))
	w, h := float64(size.X)*k, float64(size.Y)*k
	x0, y0 := float64(room.Min.X)+(float64(room.Dx())-w)/2, float64(room.Min.Y)+(float64(room.Dy())-h)/2
	in := image.Rect(round(x0), round(y0), round(x0+w), round(y0+h)).Intersect(dst.Rect)
	part := dst.SubImage(in).(*image.RGBA)
	m.Draw(part, [6]float64{1 / k, 0, -x0/k + (1/k-1)/2, 0, 1 / k, -y0/k + (1/k-1)/2})
}

// paintCarried draws the prints on their way at the pointer, and says where they would fall.
func (p *receivingPane) paintCarried(r brush, prints []TrayPhoto) {
	if !p.carrying() {
		return
	}
	at := image.Pt(int(p.hold.at.X), int(p.hold.at.Y))
	n := 1
	if p.hold.what == heldPrint {
		n = len(p.b.chosenPrints())
	}
	size := image.Pt(r.n(84), r.n(56))
	for i := min(n, 3) - 1; i >= 0; i-- {
		box := image.Rectangle{Max: size}.Add(at).Add(image.Pt(i*r.n(5)+r.n(10), i*r.n(5)+r.n(10)))
		ink.FillRect(r.dst, box.Inset(-r.n(3)), r.pal.Paper)
		ink.Rect(r.dst, box.Inset(-r.n(3)), r.n(1), r.pal.Muted)
		ink.FillRect(r.dst, box, r.pal.Surround)
		if i == 0 && p.hold.what == heldPrint {
			for _, x := range prints {
				if x.key != p.hold.print {
					continue
				}
				x.key = "carried " + x.key
				if m := p.thumb(x, size); m != nil {
					ink.Blit(r.dst, m, box.Min.Add(size.Sub(m.Rect.Size()).Div(2)))
				}
			}
		}
	}
	words := p.carriedWords(n)
	if words == "" {
		return
	}
	w, h := r.plateSize(words)
	x := min(max(0, at.X+r.n(10)), max(0, p.w-w))
	y := min(at.Y+r.n(10)+size.Y+r.n(8), p.h-h)
	r.plate(x, y, r.pal.OnDark, dark(), words)
}

// carriedWords says what letting go here would do.
func (p *receivingPane) carriedWords(n int) string {
	f, onEdge := p.edgeAt(p.hold.at)
	onTable := (image.Point{int(p.hold.at.X), int(p.hold.at.Y)}).In(p.tableAt)
	switch {
	case onEdge && !p.b.empty(f) && f != p.hold.edge:
		return Word("table.drop.taken", upperFirst(p.b.Run().Name(f)))
	case onEdge && n > 1 && p.b.table.proposal == nil:
		return Word("table.drop.some", n, p.b.Run().Name(f))
	case onEdge:
		return upperFirst(p.b.Run().Name(f))
	case onTable && p.hold.what == heldEdge:
		return Word("table.drop.table")
	}
	return ""
}
