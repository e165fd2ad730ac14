package bench

import (
	"image"

	"sectionary/slices/geom"
	"sectionary/slices/ink"
)

// ledgerPane is the running page of the ledger: the date in the margin, one line below the other.
type ledgerPane struct {
	b      *Bench
	w, h   int
	scale  float64
	first  int  // row at the top of the page
	reveal bool // the chosen line is to be on the page
	lines  []lineSpot
	press  press
}

// lineSpot is where a line stands on the page.
type lineSpot struct {
	at   image.Rectangle
	line int
}

// LedgerPane is the page of the ledger.
func (b *Bench) LedgerPane() Pane { return b.running }

// Resize tells the size in device pixels and how many of them make one unit.
func (p *ledgerPane) Resize(w, h int, scale float64) {
	if scale <= 0 {
		scale = 1
	}
	p.w, p.h, p.scale = w, h, scale
}

// Wants reports whether the page must be painted again.
func (p *ledgerPane) Wants(c Change) bool { return c&(ScreenChanged|RackChanged) != 0 }

// ledgerPaper are the measures of the page in device pixels.
type ledgerPaper struct {
	r            brush
	margin, text int     // where the date ends and the words begin
	room         float64 // for words
	line         float64
}

func (p *ledgerPane) paper(r brush) ledgerPaper {
	margin := r.n(14) + int(r.width(r.font, smallText, "30 Sept 2026")) + r.n(10)
	text := margin + r.n(12) + int(r.width(r.font, smallText, "20000")) + r.n(10)
	return ledgerPaper{r: r, margin: margin, text: text, room: float64(p.w - text - r.n(16)), line: r.lineHeight(bodyText)}
}

// words of a row, wrapped: what was done, then why.
func (s ledgerPaper) words(row LedgerRow) (deed, why []string) {
	deed = s.r.wrap(s.r.font, bodyText, s.room, row.Words)
	if row.Why != "" {
		why = s.r.wrap(s.r.font, smallText, s.room, row.Why)
	}
	return deed, why
}

func (s ledgerPaper) height(row LedgerRow) int {
	deed, why := s.words(row)
	return int(s.line*float64(len(deed))+s.r.lineHeight(smallText)*float64(len(why))) + s.r.n(10)
}

// Paint fills dst.
func (p *ledgerPane) Paint(dst *image.RGBA) {
	if p.w != dst.Rect.Dx() || p.h != dst.Rect.Dy() {
		p.Resize(dst.Rect.Dx(), dst.Rect.Dy(), p.scale)
	}
	b := p.b
	ink.FillRect(dst, dst.Rect, b.pal.Paper)
	p.lines = p.lines[:0]
	if b.blank {
		return
	}
	r := b.brush(dst, p.scale)
	if b.rack.broken != "" {
		r.block(r.font, dst.Rect, bodyText, b.pal.Warn, Word("rack.broken")+"\n"+b.rack.broken)
		return
	}
	rows := b.ledgerRows()
	if len(rows) == 0 {
		r.block(r.font, dst.Rect, bodyText, b.pal.Ink, Word("ledger.none"))
		return
	}
	s := p.paper(r)
	p.settle(s, rows)
	ink.FillRect(dst, image.Rect(s.margin, 0, s.margin+r.n(1), p.h), b.pal.Line)
	y := r.n(10)
	for i := p.first; i < len(rows) && y < p.h; i++ {
		h := s.height(rows[i])
		at := image.Rect(0, y, p.w, y+h)
		p.lines = append(p.lines, lineSpot{at, rows[i].Line})
		p.paintRow(s, rows, i, at)
		y += h
	}
}

// settle keeps the top of the page within the ledger and brings the chosen line onto it when that is asked.
func (p *ledgerPane) settle(s ledgerPaper, rows []LedgerRow) {
	p.first = min(max(p.first, 0), p.lastFirst(s, rows, len(rows)-1))
	if !p.reveal {
		return
	}
	p.reveal = false
	for i, row := range rows {
		if row.Line != p.b.rack.ledger.line {
			continue
		}
		if i < p.first {
			p.first = i
		} else if least := p.lastFirst(s, rows, i); p.first < least {
			p.first = least
		}
	}
}

// lastFirst is the first row of the page that ends with row n.
func (p *ledgerPane) lastFirst(s ledgerPaper, rows []LedgerRow, n int) int {
	room := p.h - s.r.n(16)
	for i := n; i >= 0; i-- {
		if room -= s.height(rows[i]); room < 0 {
			return min(i+1, n)
		}
	}
	return 0
}

func (p *ledgerPane) paintRow(s ledgerPaper, rows []LedgerRow, i int, at image.Rectangle) {
	r, row := s.r, rows[i]
	if row.Line == p.b.rack.ledger.line {
		ink.FillRect(r.dst, at, ink.Fade(r.pal.Chosen, 0.12))
		ink.FillRect(r.dst, image.Rect(0, at.Min.Y, r.n(4), at.Max.Y), r.pal.Chosen)
	}
	y := float64(at.Min.Y) + r.u(5) + s.line/2
	day := row.Day
	if day == "" && i == p.first { // the page says its day at its head, too
		for k := i; k >= 0 && day == ""; k-- {
			day = rows[k].Day
		}
	}
	r.ending(r.font, float64(s.margin)-r.u(10), y, smallText, r.pal.Ink, day)
	r.ending(r.font, float64(s.text)-r.u(10), y, smallText, r.pal.Muted, Word("ledger.number", row.Line))
	deed, why := s.words(row)
	c := r.pal.Ink
	if row.Undone {
		c = r.pal.Muted
	}
	for _, words := range deed {
		r.text(r.font, float64(s.text), y, bodyText, c, words)
		if row.Undone {
			ink.Line(r.dst, geom.Px{X: float64(s.text), Y: y}, geom.Px{X: float64(s.text) + r.width(r.font, bodyText, words), Y: y}, r.u(1), r.pal.Muted)
		}
		y += s.line
	}
	y += (r.lineHeight(smallText) - s.line) / 2
	for _, words := range why {
		r.text(r.font, float64(s.text), y, smallText, r.pal.Muted, words)
		y += r.lineHeight(smallText)
	}
}

// Down begins a click.
func (p *ledgerPane) Down(at geom.Px, b Button, m Mods) {
	p.press = press{down: true, from: at, last: at}
}

// Drag has nothing to move.
func (p *ledgerPane) Drag(at geom.Px) {}

// Up chooses the line that was clicked.
func (p *ledgerPane) Up(at geom.Px) {
	if p.press.down {
		for _, l := range p.lines {
			if (image.Point{int(at.X), int(at.Y)}).In(l.at) {
				p.b.ChooseLine(l.line)
			}
		}
	}
	p.press = press{}
}

// Hover and Leave have nothing to show.
func (p *ledgerPane) Hover(at geom.Px) {}

// Leave has nothing to take away.
func (p *ledgerPane) Leave() {}

// Wheel turns the page.
func (p *ledgerPane) Wheel(at geom.Px, notches float64, m Mods) {
	p.first = max(0, p.first-int(notches*3))
	p.b.changed(RackChanged)
}

// Cursor is the shape of the pointer.
func (p *ledgerPane) Cursor() Cursor { return Default }

// Pointer is none.
func (p *ledgerPane) Pointer() (at geom.Px, radius float64, ok bool) { return }
