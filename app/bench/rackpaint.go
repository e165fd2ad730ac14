package bench

import (
	"image"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
)

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
		if d.rise == 0 {
			return
		}
		for _, x := range []int{at.Min.X, at.Max.X - r.n(5)} { // the uprights that carry it
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
	if !s.box && s.place != "" {
		paintShelfName(r, s, at, chosen)
		return
	}
	fill := r.pal.Paper
	if s.box {
		fill = r.pal.Slab
	}
	ink.FillRect(r.dst, at, fill)
	edge, thick := ink.Fade(r.pal.SlabEdge, 0.7), r.n(1)
	if s.box && s.place == p.b.rack.open {
		edge = r.pal.Chosen
	}
	if chosen {
		edge, thick = r.pal.Chosen, r.n(3)
	}
	if s.box { // a lid
		ink.FillRect(r.dst, image.Rect(at.Min.X, at.Min.Y, at.Max.X, at.Min.Y+r.n(5)), ink.Fade(r.pal.SlabEdge, 0.7))
	}
	if s.urgent != calm {
		paintUrgency(r, s, at)
	}
	if s.lent {
		ink.Stroke(r.dst, corners(at), true, r.u(1.5), r.pal.SlabEdge, []float64{r.u(5), r.u(3)}) // not here: an empty place
	}
	if !s.lent || chosen {
		ink.Rect(r.dst, at, thick, edge)
	}
	paintSpotWords(r, s, at)
	if s.box {
		paintTicks(r, s, at)
	}
}

// paintShelfName writes the name of a shelf over its board.
func paintShelfName(r brush, s spot, at image.Rectangle, chosen bool) {
	c := r.pal.Ink
	if chosen {
		c = r.pal.Chosen
		ink.Rect(r.dst, at.Inset(-r.n(3)), r.n(2), c)
	}
	r.text(r.bold, float64(at.Min.X), float64(at.Min.Y+at.Max.Y)/2, bodyText, c, r.shortened(r.bold, bodyText, float64(at.Dx()), s.name))
}

// paintSpotWords writes the name, what stands below it, and what is due. A container has two lines, so what is due
// stands before what it holds; a piece has a third line for it.
func paintSpotWords(r brush, s spot, at image.Rectangle) {
	x, room := float64(at.Min.X)+r.u(8), float64(at.Dx())-2*r.u(8)
	line := r.lineHeight(bodyText)
	y := float64(at.Min.Y) + r.u(5) + line/2
	if s.box {
		y += r.u(5) // the lid
	}
	mark, sub, markInk, subInk := s.until, s.sub, r.pal.Muted, r.pal.Muted
	if s.urgent != calm {
		room -= r.u(12)
		mark, markInk = Word([]string{"", "rack.mark.soon", "rack.mark.over"}[s.urgent]), r.pal.Warn
		if s.until != "" {
			mark += "  ·  " + s.until
		}
	}
	if s.box && mark != "" {
		sub, subInk, mark = mark+"  ·  "+sub, markInk, ""
	}
	r.text(r.bold, x, y, bodyText, r.pal.Ink, r.shortened(r.bold, bodyText, room, s.name))
	r.text(r.font, x, y+line, smallText, subInk, r.shortened(r.font, smallText, room, sub))
	if mark != "" {
		r.text(r.font, x, y+line+r.lineHeight(smallText), smallText, markInk, r.shortened(r.font, smallText, room, mark))
	}
}

// paintTicks draws one small upright block for every piece in a container, up to what has room.
func paintTicks(r brush, s spot, at image.Rectangle) {
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
func paintUrgency(r brush, s spot, at image.Rectangle) {
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
