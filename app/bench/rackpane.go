package bench

import (
	"cmp"
	"image"

	"sectionary/atlas"
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
	inside := map[string][]atlas.Piece{}
	for _, x := range s.Boxes {
		place := cmp.Or(x.Code, x.Name)
		inside[place] = x.Pieces
		row = append(row, spot{code: x.Code, place: place, name: x.Name, sub: boxWords(len(x.Pieces)), box: true, pieces: len(x.Pieces), urgent: l.urgent[place]})
	}
	for _, x := range s.Loose {
		row = append(row, l.piece(x, false))
	}
	from := len(l.p.decks)
	l.row(row, l.r.n(150), l.r.n(74), l.pad, true, inside)
	if s.Code == "" { // a table, not a shelf
		for i := range l.p.decks[from:] {
			l.p.decks[from+i].rise = 0
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
