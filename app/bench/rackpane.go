package bench

import (
	"image"

	"sectionary/atlas"
	"sectionary/slices/geom"
	"sectionary/slices/ink"
)

// rackPane shows the shelves with the containers standing on them, the pieces of the open container, what lies on no
// shelf, and who has what.
type rackPane struct {
	b     *Bench
	w, h  int
	scale float64

	spots  []spot // as last laid out, in reading order
	decks  []deck
	height int // of everything
	top    int // how far it is rolled up
	shown  string
	press  press
}

// spot is a container or a piece that can be chosen.
type spot struct {
	at        image.Rectangle
	code      string
	place     string // of a container: its code, or the words of the place
	name, sub string
	until     string // of a loan
	box       bool
	pieces    int
	urgent    urgency
	lent      bool
}

// deck is what the spots stand on: a heading, a board, the inside of a container.
type deck struct {
	at    image.Rectangle
	words string
	board bool
	rise  int // of the uprights over a board
	inner bool
}

// urgency tells what is due of a thing; it shows by pattern and word.
type urgency uint8

const (
	calm urgency = iota
	dueSoon
	overdue
)

// RackPane is the painted rack.
func (b *Bench) RackPane() Pane { return b.shelves }

// Resize tells the size in device pixels and how many of them make one unit.
func (p *rackPane) Resize(w, h int, scale float64) {
	if scale <= 0 {
		scale = 1
	}
	p.w, p.h, p.scale = w, h, scale
}

// Wants reports whether the rack must be painted again.
func (p *rackPane) Wants(c Change) bool { return c&(ScreenChanged|RackChanged|LabChanged) != 0 }

// urgencies are what is due, by code; a container has the worst of its pieces.
func (b *Bench) urgencies() map[string]urgency {
	out := map[string]urgency{}
	worse := func(key string, u urgency) {
		if key != "" && u > out[key] {
			out[key] = u
		}
	}
	for _, d := range b.rack.due {
		u := calm
		if d.Overdue() {
			u = overdue
		} else if d.Days <= atlas.Reminders[0] {
			u = dueSoon
		}
		worse(d.Code, u)
		if piece, ok := b.rack.custody.Piece(d.Code); ok {
			worse(piece.Place, u)
		}
	}
	return out
}

// layout places everything for a width in device pixels.
func (p *rackPane) layout(r brush) {
	l := &rackLayout{p: p, r: r, pad: r.n(20), gap: r.n(10), urgent: p.b.urgencies()}
	p.spots, p.decks = p.spots[:0], p.decks[:0]
	l.y = l.pad
	c := p.b.rack.custody
	for _, s := range c.Rack() {
		l.shelf(s)
	}
	for _, who := range c.Loans() {
		l.heading(Word("rack.with", who.Name))
		l.pieces(who.Pieces, true)
		l.y += l.gap
	}
	if lost := c.Missing(); len(lost) > 0 {
		l.heading(Word("rack.lost"))
		l.pieces(lost, false)
		l.y += l.gap
	}
	p.height = l.y + l.pad
}

type rackLayout struct {
	p        *rackPane
	r        brush
	pad, gap int
	y        int
	urgent   map[string]urgency
}

func (l *rackLayout) heading(words string) {
	h := int(l.r.lineHeight(bodyText))
	l.p.decks = append(l.p.decks, deck{at: image.Rect(l.pad, l.y, l.p.w-l.pad, l.y+h), words: words})
	l.y += h + l.gap/2
}

// shelf lays one shelf: containers first, then what lies on the board itself.
func (l *rackLayout) shelf(s atlas.ShelfOf) {
	words := Word("rack.noshelf")
	if s.Code != "" {
		if words = s.Name; s.On != "" {
			words += ", " + s.On
		}
		h := int(l.r.lineHeight(bodyText))
		l.p.spots = append(l.p.spots, spot{at: image.Rect(l.pad, l.y, l.p.w-l.pad, l.y+h), code: s.Code, place: s.Code, name: words})
		l.y += h + l.gap/2
	} else {
		l.heading(words)
	}
	var row []spot
	for _, x := range s.Boxes {
		place := x.Code
		if place == "" {
			place = x.Name
		}
		row = append(row, spot{code: x.Code, place: place, name: x.Name, sub: boxWords(len(x.Pieces)), box: true, pieces: len(x.Pieces), urgent: l.urgent[place]})
	}
	inside := map[string][]atlas.Piece{}
	for _, x := range s.Boxes {
		if x.Code != "" {
			inside[x.Code] = x.Pieces
		} else {
			inside[x.Name] = x.Pieces
		}
	}
	for _, x := range s.Loose {
		row = append(row, l.piece(x, false))
	}
	from := len(l.p.decks)
	l.row(row, l.r.n(150), l.r.n(74), l.pad, true, inside)
	for i := range l.p.decks[from:] {
		if s.Code == "" {
			l.p.decks[from+i].rise = 0 // a table, not a shelf
		}
	}
	l.y += l.gap
}

func boxWords(n int) string {
	if n == 0 {
		return Word("rack.box.none")
	}
	return count("rack.box", n)
}

func (l *rackLayout) piece(x atlas.Piece, lent bool) spot {
	s := spot{code: x.Code, name: x.Name, sub: x.Code, urgent: l.urgent[x.Code], lent: lent}
	if lent {
		s.until = Word("rack.until", x.Due.Format("2 Jan 2006"))
	}
	return s
}

func (l *rackLayout) pieces(list []atlas.Piece, lent bool) {
	var row []spot
	for _, x := range list {
		row = append(row, l.piece(x, lent))
	}
	l.row(row, l.r.n(205), l.r.n(66), l.pad, false, nil)
}

// row lays spots side by side on boards, as many as fit; the open container lays its pieces out below its own board.
func (l *rackLayout) row(row []spot, wish, high, left int, board bool, inside map[string][]atlas.Piece) {
	room := l.p.w - 2*left
	n := max(1, (room+l.gap)/(wish+l.gap))
	w := min(wish+wish/3, (room-l.gap*(n-1))/n)
	for len(row) > 0 || board {
		k := min(n, len(row))
		var open *spot
		for i := range row[:k] {
			s := row[i]
			x, h := left+i*(w+l.gap), high
			if !s.box {
				h = min(high, l.r.n(66))
			}
			s.at = image.Rect(x, l.y+high-h, x+w, l.y+high)
			l.p.spots = append(l.p.spots, s)
			if s.box && s.place == l.p.b.rack.open {
				open = &s
			}
		}
		if k > 0 {
			l.y += high
		} else {
			l.y += l.r.n(20)
		}
		if board {
			l.p.decks = append(l.p.decks, deck{at: image.Rect(left-l.r.n(12), l.y, l.p.w-left+l.r.n(12), l.y+l.r.n(6)), board: true, rise: high + l.r.n(6)})
			l.y += l.r.n(6) + l.gap
		} else {
			l.y += l.gap
		}
		if open != nil {
			l.opened(*open, inside[open.place])
		}
		if row = row[k:]; len(row) == 0 {
			return
		}
	}
}

// opened lays the pieces of the open container on a sheet below it.
func (l *rackLayout) opened(s spot, pieces []atlas.Piece) {
	from, at := l.y, len(l.p.decks)
	l.p.decks = append(l.p.decks, deck{inner: true})
	l.y += l.gap
	if len(pieces) == 0 {
		l.y += int(l.r.lineHeight(bodyText))
		l.p.decks[at].words = Word("rack.box.empty")
	}
	var row []spot
	for _, x := range pieces {
		row = append(row, l.piece(x, false))
	}
	if len(row) > 0 {
		l.row(row, l.r.n(170), l.r.n(66), l.pad+l.gap, false, nil)
	}
	l.p.decks[at].at = image.Rect(l.pad, from, l.p.w-l.pad, l.y)
	l.y += l.gap
}

// Paint fills dst.
func (p *rackPane) Paint(dst *image.RGBA) {
	if p.w != dst.Rect.Dx() || p.h != dst.Rect.Dy() {
		p.Resize(dst.Rect.Dx(), dst.Rect.Dy(), p.scale)
	}
	b := p.b
	ink.FillRect(dst, dst.Rect, b.pal.Paper)
	if b.blank {
		return
	}
	r := b.brush(dst, p.scale)
	if b.rack.broken != "" {
		r.block(r.font, dst.Rect, bodyText, b.pal.Warn, Word("rack.broken")+"\n"+b.rack.broken)
		return
	}
	p.layout(r)
	if len(p.spots) == 0 {
		r.block(r.font, dst.Rect, bodyText, b.pal.Ink, Word("rack.pane.empty"))
		return
	}
	p.reveal()
	p.top = min(max(p.top, 0), max(0, p.height-p.h))
	for _, d := range p.decks {
		p.paintDeck(r, d)
	}
	for _, s := range p.spots {
		if at := s.at.Sub(image.Pt(0, p.top)); at.Overlaps(dst.Rect) {
			p.paintSpot(r, s, at)
		}
	}
	if p.height > p.h { // how far the page is rolled
		w, long := r.n(4), max(r.n(24), p.h*p.h/p.height)
		y := (p.h - long) * p.top / (p.height - p.h)
		ink.FillRect(dst, image.Rect(p.w-w-r.n(2), y, p.w-r.n(2), y+long), b.pal.Muted)
	}
}

// reveal rolls to what was chosen, once.
func (p *rackPane) reveal() {
	key := p.b.rack.chosen
	if key == p.shown {
		return
	}
	p.shown = key
	for _, s := range p.spots {
		if key != "" && s.code == key {
			if s.at.Min.Y < p.top {
				p.top = s.at.Min.Y - int(12*p.scale)
			} else if s.at.Max.Y > p.top+p.h {
				p.top = s.at.Max.Y - p.h + int(12*p.scale)
			}
		}
	}
}

func (p *rackPane) paintDeck(r brush, d deck) {
	at := d.at.Sub(image.Pt(0, p.top))
	switch {
	case d.board:
		ink.FillRect(r.dst, at, r.pal.SlabEdge)
		for _, x := range []int{at.Min.X, at.Max.X - r.n(5)} {
			if d.rise == 0 {
				break
			} // the uprights that carry it
			ink.FillRect(r.dst, image.Rect(x, at.Min.Y-d.rise, x+r.n(5), at.Max.Y+r.n(8)), r.pal.SlabEdge)
		}
	case d.inner:
		ink.FillRect(r.dst, at, ink.Fade(r.pal.Slab, 0.5))
		ink.Rect(r.dst, at, r.n(1), r.pal.Chosen)
		if d.words != "" {
			r.text(r.font, float64(at.Min.X)+r.u(12), float64(at.Min.Y+at.Max.Y)/2, bodyText, r.pal.Muted, d.words)
		}
	default:
		r.text(r.bold, float64(at.Min.X), float64(at.Min.Y+at.Max.Y)/2, bodyText, r.pal.Ink, d.words)
	}
}

func (p *rackPane) paintSpot(r brush, s spot, at image.Rectangle) {
	chosen := s.code != "" && s.code == p.b.rack.chosen
	if !s.box && s.place != "" { // a shelf: its name stands over its board
		c := r.pal.Ink
		if chosen {
			c = r.pal.Chosen
			ink.Rect(r.dst, at.Inset(-r.n(3)), r.n(2), c)
		}
		r.text(r.bold, float64(at.Min.X), float64(at.Min.Y+at.Max.Y)/2, bodyText, c, r.shortened(r.bold, bodyText, float64(at.Dx()), s.name))
		return
	}
	fill := r.pal.Paper
	if s.box {
		fill = r.pal.Slab
	}
	ink.FillRect(r.dst, at, fill)
	edge, thick := ink.Fade(r.pal.SlabEdge, 0.7), r.n(1)
	if s.box && s.place == p.b.rack.open {
		edge, thick = r.pal.Chosen, r.n(1)
	}
	if chosen {
		edge, thick = r.pal.Chosen, r.n(3)
	}
	pad := r.u(8)
	x, room := float64(at.Min.X)+pad, float64(at.Dx())-2*pad
	line := r.lineHeight(bodyText)
	y := float64(at.Min.Y) + r.u(5) + line/2
	if s.box { // a lid
		ink.FillRect(r.dst, image.Rect(at.Min.X, at.Min.Y, at.Max.X, at.Min.Y+r.n(5)), ink.Fade(r.pal.SlabEdge, 0.7))
		y += r.u(5)
	}
	if s.urgent != calm {
		p.paintUrgency(r, s, at)
		room -= r.u(12)
	}
	if s.lent {
		ink.Stroke(r.dst, corners(at), true, r.u(1.5), r.pal.SlabEdge, []float64{r.u(5), r.u(3)}) // not here: an empty place
	} else {
		ink.Rect(r.dst, at, thick, edge)
	}
	if chosen {
		ink.Rect(r.dst, at, thick, edge)
	}
	r.text(r.bold, x, y, bodyText, r.pal.Ink, r.shortened(r.bold, bodyText, room, s.name))
	mark, c := s.until, r.pal.Ink
	if s.urgent != calm {
		mark, c = Word([]string{"", "rack.mark.soon", "rack.mark.over"}[s.urgent]), r.pal.Warn
		if s.until != "" {
			mark += "  ·  " + s.until
		}
	}
	sub := s.sub
	if s.box && mark != "" {
		sub, mark = mark+"  ·  "+sub, ""
	} else {
		c = r.pal.Muted
	}
	r.text(r.font, x, y+line, smallText, c, r.shortened(r.font, smallText, room, sub))
	if mark != "" {
		if s.urgent != calm {
			c = r.pal.Warn
		}
		r.text(r.font, x, y+line+r.lineHeight(smallText), smallText, c, r.shortened(r.font, smallText, room, mark))
	}
	if s.box {
		p.paintTicks(r, s, at)
	}
}

// paintTicks draws one small upright block for every piece in a container, up to what has room.
func (p *rackPane) paintTicks(r brush, s spot, at image.Rectangle) {
	w, gap, h := r.n(4), r.n(3), r.n(9)
	for i := range s.pieces {
		x := at.Min.X + r.n(8) + i*(w+gap)
		if x+w > at.Max.X-r.n(18) {
			return
		}
		ink.FillRect(r.dst, image.Rect(x, at.Max.Y-r.n(5)-h, x+w, at.Max.Y-r.n(5)), ink.Fade(r.pal.SlabEdge, 0.8))
	}
}

// paintUrgency hatches the right edge: closely crossed when overdue, wide when due soon.
func (p *rackPane) paintUrgency(r brush, s spot, at image.Rectangle) {
	band := image.Rect(at.Max.X-r.n(12), at.Min.Y, at.Max.X, at.Max.Y)
	pattern, spacing := ink.Rising, r.u(6)
	if s.urgent == overdue {
		pattern, spacing = ink.Diamond, r.u(4)
	}
	ink.Hatch(r.dst, [][]geom.Px{corners(band)}, pattern, spacing, r.pal.Warn)
}

func corners(r image.Rectangle) []geom.Px {
	x0, y0, x1, y1 := float64(r.Min.X), float64(r.Min.Y), float64(r.Max.X), float64(r.Max.Y)
	return []geom.Px{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

// shortened cuts words that have no room and says so by an ellipsis.
func (r brush) shortened(f *ink.Font, size, room float64, s string) string {
	if r.width(f, size, s) <= room {
		return s
	}
	runes := []rune(s)
	for n := len(runes) - 1; n > 0; n-- {
		if cut := string(runes[:n]) + "…"; r.width(f, size, cut) <= room {
			return cut
		}
	}
	return "…"
}

// Down begins a click or a roll.
func (p *rackPane) Down(at geom.Px, b Button, m Mods) {
	p.press = press{down: true, from: at, last: at}
}

// Drag rolls the page.
func (p *rackPane) Drag(at geom.Px) {
	if !p.press.down || (!p.press.moved && at.Dist(p.press.from) < p.scale*tremor) {
		return
	}
	p.top -= int(at.Y - p.press.last.Y)
	p.press.moved, p.press.last = true, at
	p.b.changed(RackChanged)
}

// Up chooses what was clicked.
func (p *rackPane) Up(at geom.Px) {
	clicked := p.press.down && !p.press.moved
	if p.press = (press{}); !clicked {
		return
	}
	for _, s := range p.spots {
		if (image.Point{int(at.X), int(at.Y) + p.top}).In(s.at) {
			p.b.pickSpot(s)
			return
		}
	}
	if p.b.rack.form == nil {
		p.b.ChooseItem("")
	}
}

// pickSpot is a click on a thing: a container opens, and closes when clicked again.
func (b *Bench) pickSpot(s spot) {
	if f := b.rack.form; f != nil {
		if s.place != "" && f.setPlace(b.placeName(s.place)) {
			b.changed(RackChanged)
		}
		return
	}
	again := s.code != "" && s.code == b.rack.chosen
	if s.code != "" {
		b.ChooseItem(s.code)
	}
	if s.box {
		if again || s.code == "" {
			b.OpenBox(s.place)
		} else {
			b.rack.open = s.place
			b.changed(RackChanged)
		}
	}
}

// Hover and Leave have nothing to show.
func (p *rackPane) Hover(at geom.Px) {}

// Leave has nothing to take away.
func (p *rackPane) Leave() {}

// Wheel rolls the page.
func (p *rackPane) Wheel(at geom.Px, notches float64, m Mods) {
	p.top = min(max(0, p.top-int(notches*60*p.scale)), max(0, p.height-p.h))
	p.b.changed(RackChanged)
}

// Cursor is the shape of the pointer.
func (p *rackPane) Cursor() Cursor { return Default }

// Pointer is none.
func (p *rackPane) Pointer() (at geom.Px, radius float64, ok bool) { return }

// rackKey walks along the rack with the arrows and opens with Return; on the page of the ledger it walks along the lines.
func (b *Bench) rackKey(name string, m Mods) bool {
	if m.Ctrl || m.Alt {
		return false
	}
	steps := map[string]int{"Up": -1, "Down": 1, "Page Up": -10, "Page Down": 10}
	if b.screen == LedgerScreen {
		if n, ok := steps[name]; ok {
			b.StepLine(n)
			return true
		}
		return false
	}
	if b.screen != RackScreen || b.rack.form != nil {
		return false
	}
	switch name {
	case "Left":
		return b.walkRack(-1, false)
	case "Right":
		return b.walkRack(1, false)
	case "Up", "Page Up":
		return b.walkRack(-1, true)
	case "Down", "Page Down":
		return b.walkRack(1, true)
	case "Return":
		if h, ok := b.rack.custody.Holder(b.rack.chosen); ok && h.Kind == atlas.BoxKind {
			b.OpenBox(h.Code)
			return true
		}
	}
	return false
}

// walkRack chooses the next thing: in reading order, or the nearest in the row above or below.
func (b *Bench) walkRack(by int, rows bool) bool {
	var all []spot
	at := -1
	for _, s := range b.shelves.spots {
		if s.code == "" {
			continue
		}
		if s.code == b.rack.chosen {
			at = len(all)
		}
		all = append(all, s)
	}
	if len(all) == 0 {
		return true
	}
	next := at + by
	if at < 0 {
		next = 0
	} else if rows {
		next = nearestRow(all, at, by)
	}
	if next >= 0 && next < len(all) {
		b.ChooseItem(all[next].code)
	}
	return true
}

// nearestRow is the spot of the next row whose middle is nearest in x; at itself when there is none.
func nearestRow(all []spot, at, by int) int {
	mid := func(s spot) int { return (s.at.Min.X + s.at.Max.X) / 2 }
	best, row := at, 0
	for i := at + by; i >= 0 && i < len(all); i += by {
		y := all[i].at.Max.Y
		if y == all[at].at.Max.Y {
			continue
		}
		if best == at {
			row = y
		}
		if y != row {
			break
		}
		if best == at || apart(mid(all[i]), mid(all[at])) < apart(mid(all[best]), mid(all[at])) {
			best = i
		}
	}
	return best
}

func apart(a, b int) int { return max(a-b, b-a) }
